//! Any bytes as a workbook, xlsx or ods, or as one part of it.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| toile_fuzz::workbooks::hold(data));
