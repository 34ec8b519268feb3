//! Any bytes as a piece in JSON.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| toile_fuzz::pieces::hold(data));
