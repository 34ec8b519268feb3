//! The source tree, for tests about the project itself and for its reference tables.

use std::fs;
use std::path::{Path, PathBuf};

/// The top of the workspace.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("this crate lies in the workspace").to_owned()
}

/// A file that must be there and be text.
#[track_caller]
pub fn read_text(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Every file under a folder of the workspace, by path from the top, sorted; build output left out.
pub fn files_under(folder: &str) -> Vec<PathBuf> {
    fn walk(at: &Path, files: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(at).unwrap_or_else(|error| panic!("{}: {error}", at.display())) {
            let path = entry.expect("a folder that can be listed").path();
            let name = path.file_name().unwrap_or_default();
            if path.is_dir() {
                if name != "target" && name != ".git" && name != "node_modules" {
                    walk(&path, files);
                }
            } else {
                files.push(path);
            }
        }
    }
    let (top, mut files) = (root(), Vec::new());
    walk(&top.join(folder), &mut files);
    let mut files: Vec<PathBuf> = files.iter().map(|f| f.strip_prefix(&top).expect("found under the top").to_owned()).collect();
    files.sort();
    files
}

/// A source file: where it lies, from the top, and what it says.
#[derive(Debug)]
pub struct Source {
    /// Path from the top, with forward slashes.
    pub path: String,
    /// Text.
    pub text: String,
}

/// Every file with this ending under a folder.
pub fn sources_under(folder: &str, ending: &str) -> Vec<Source> {
    let top = root();
    files_under(folder)
        .into_iter()
        .filter(|f| f.extension().is_some_and(|e| e == ending))
        .map(|f| Source { text: read_text(&top.join(&f)), path: f.to_string_lossy().replace('\\', "/") })
        .collect()
}

/// The rows of a reference table under `tests/reference`, each as pairs of column name and cell.
#[track_caller]
pub fn reference_rows(table: &str) -> Vec<Vec<(String, String)>> {
    let path = root().join("tests/reference").join(table);
    let mut reader = csv::Reader::from_path(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let header = reader.headers().expect("a header row").clone();
    let pairs = |row: csv::StringRecord| header.iter().zip(row.iter()).map(|(name, cell)| (name.to_owned(), cell.to_owned())).collect();
    let rows: Vec<_> = reader.records().map(|row| pairs(row.expect("a row as wide as the header"))).collect();
    assert!(!rows.is_empty(), "{table} has no rows");
    rows
}
