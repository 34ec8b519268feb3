//! Writes `ACCURACY.md`: how far both methods are from the tables of outside values, and how long they take.
//!
//! `cargo run --release -p toile-model --example accuracy`

#[path = "../tests/accuracy.rs"]
mod accuracy;
#[path = "../tests/outlines.rs"]
mod outlines;
// Of the helpers for tests, the reader of tables is all that is needed.
#[allow(dead_code)]
#[path = "../tests/reference.rs"]
mod reference;

fn main() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/ACCURACY.md");
    std::fs::write(path, accuracy::document(true)).expect("the document can be written");
}
