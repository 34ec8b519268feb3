//! What must hold of every answer, whatever comes in: the service says yes, or says no in words, and never falls over.
//!
//! One module for each kind of input, each with a `hold` that takes any bytes and panics where something does not hold.
//! The fuzz targets call them with bytes bred for the lines they reach; `tests/tests/all/chance.rs` calls them with what is
//! drawn blindly, and with the corpus that the fuzzer left.

pub mod addresses;
pub mod pieces;
pub mod sheets;
pub mod workbooks;
