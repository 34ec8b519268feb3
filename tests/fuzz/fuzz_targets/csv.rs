//! Any bytes as a file of CSV.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| toile_fuzz::sheets::hold(data));
