//! Any bytes as path and query of a request.
#![no_main]

use std::sync::LazyLock;

use toile_fuzz::addresses::Addresses;

static SERVICE: LazyLock<Addresses> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a folder of its own");
    // It is needed until the process ends, which ends without being told.
    Addresses::in_folder(&folder.keep())
});

libfuzzer_sys::fuzz_target!(init: { let _ = LazyLock::force(&SERVICE); }, |data: &[u8]| SERVICE.hold(data));
