//! Reads the reference tables that lie beside the integration tests, and sets up the property tests.

use std::path::PathBuf;

use proptest::test_runner::{Config as ProptestConfig, RngSeed};

/// A row of a table: looks cells up by column name.
pub struct Row {
    header: csv::StringRecord,
    cells: csv::StringRecord,
}

impl Row {
    /// The text of a cell; empty where the table leaves it empty.
    #[track_caller]
    pub fn text(&self, column: &str) -> &str {
        let at = self.header.iter().position(|h| h == column).unwrap_or_else(|| panic!("no column {column}"));
        &self.cells[at]
    }

    /// Whether the table has such a column.
    pub fn has(&self, column: &str) -> bool {
        self.header.iter().any(|h| h == column)
    }

    /// The number in a cell.
    #[track_caller]
    pub fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("{column}: `{text}` is no number"))
    }

    /// The number in a cell, if there is one.
    #[track_caller]
    pub fn optional(&self, column: &str) -> Option<f64> {
        (!self.text(column).is_empty()).then(|| self.number(column))
    }
}

/// All rows of `tests/reference/<path>`; at least `least` of them, so that an emptied table is noticed.
#[track_caller]
pub fn rows(path: &str, least: usize) -> Vec<Row> {
    let file = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../tests/reference").join(path);
    let mut reader = csv::Reader::from_path(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    let header = reader.headers().expect("a header").clone();
    let rows: Vec<Row> = reader.records().map(|cells| Row { header: header.clone(), cells: cells.expect("a row") }).collect();
    assert!(rows.len() >= least, "{path}: {} rows, {least} expected", rows.len());
    rows
}

/// Fails unless `value` agrees with `expected` within a relative tolerance.
#[track_caller]
pub fn close(what: &str, value: f64, expected: f64, tolerance: f64) {
    let error = if expected == 0.0 { value.abs() } else { (value / expected - 1.0).abs() };
    assert!(error <= tolerance, "{what}: {value} against {expected}, off by {error:.2e}, allowed {tolerance:.1e}");
}

/// Settings of the property tests: `cases` drawn from a fixed seed, so that a run repeats itself. Other draws:
/// `PROPTEST_RNG_SEED=1 cargo test -p toile-model`; a failure prints the case it found.
pub fn drawn(cases: u32) -> ProptestConfig {
    let asked = ProptestConfig::default();
    let rng_seed = if asked.rng_seed == RngSeed::Random { RngSeed::Fixed(20_261_125) } else { asked.rng_seed };
    ProptestConfig { cases, rng_seed, failure_persistence: None, ..asked }
}
