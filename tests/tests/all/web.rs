//! The page's own tests, which need no browser: `cargo test -- --ignored web`.

use std::process::Command;

use toile_tests::{files_under, root};

#[test]
#[ignore = "needs node"]
fn the_tests_of_the_pages_modules_pass() {
    let files: Vec<_> = files_under("tests/web").into_iter().filter(|f| f.to_string_lossy().ends_with(".test.mjs")).collect();
    assert!(files.len() >= 4, "{files:?}");
    let ran = Command::new("node").arg("--test").args(&files).current_dir(root()).output().expect("node is installed: see DEVELOPERS.md");
    let words = format!("{}{}", String::from_utf8_lossy(&ran.stdout), String::from_utf8_lossy(&ran.stderr));
    assert!(ran.status.success(), "{words}");
    // A run that finds no test succeeds, too.
    assert!(!words.contains("# tests 0") && words.contains("# fail 0"), "{words}");
}
