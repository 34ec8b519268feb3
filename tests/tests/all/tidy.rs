//! House rules that need no compiler: module docs, white space, leftovers, what lies at the top.

use std::path::Path;

use toile_tests::{Source, files_under, read_text, root, sources_under};

/// What may lie at the top of the repository. Build output and data are kept out of it by `.gitignore`.
const AT_THE_TOP: [&str; 18] = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "model",
    "server",
    "tests",
    "web",
    "openapi",
    ".ci",
    ".config",
    ".gitignore",
    "rustfmt.toml",
    "clippy.toml",
    "deny.toml",
    ".git",
    "target",
    "toile-data",
];

/// Endings of hand-written text.
const WRITTEN: [&str; 11] = ["rs", "js", "mjs", "css", "html", "toml", "md", "json", "svg", "sh", "yml"];

#[test]
fn every_module_says_what_it_is_for() {
    let all = ["model", "server", "tests"].into_iter().flat_map(|folder| sources_under(folder, "rs"));
    let without: Vec<String> = all.filter(|s| !opens_with_docs(&s.text)).map(|s| s.path).collect();
    assert!(without.is_empty(), "no `//!` at the top of {without:?}");
}

#[test]
fn written_text_has_no_odd_white_space_and_no_leftovers() {
    let found: Vec<String> = written().iter().flat_map(blemishes).collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn nothing_lies_at_the_top_but_what_belongs_there() {
    let strange: Vec<String> = std::fs::read_dir(root())
        .expect("the top can be listed")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .filter(|name| !belongs_at_the_top(name))
        .collect();
    assert!(strange.is_empty(), "{strange:?}");
}

#[test]
fn no_text_names_a_place_on_somebodys_machine() {
    let mut found = Vec::new();
    // What the fuzzer bred is nobody's text: it writes all manner of things.
    for file in files_under("").into_iter().filter(|file| !file.starts_with("tests/fuzz/corpus")) {
        let Ok(text) = String::from_utf8(std::fs::read(root().join(&file)).expect("a file just listed")) else { continue };
        found.extend(machine_places(&text).into_iter().map(|line| format!("{}: {line}", file.display())));
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

fn written() -> Vec<Source> {
    let written = |file: &Path| file.extension().is_some_and(|e| WRITTEN.iter().any(|w| e == *w));
    files_under("")
        .into_iter()
        .filter(|file| written(file))
        .map(|file| Source { text: read_text(&root().join(&file)), path: file.to_string_lossy().into_owned() })
        .collect()
}

fn opens_with_docs(text: &str) -> bool {
    text.strip_prefix("//! ").is_some_and(|rest| rest.trim_start().len() > 10)
}

fn belongs_at_the_top(name: &str) -> bool {
    AT_THE_TOP.contains(&name) || name.starts_with("LICENSE")
}

/// Odd white space and marks of unfinished work, with their place.
fn blemishes(source: &Source) -> Vec<String> {
    // Put together here, so that this file does not hold what it looks for.
    let leftovers = [["TO", "DO"], ["FIX", "ME"], ["XX", "X"], ["unimple", "mented!"], ["to", "do!("]].map(|parts| parts.concat());
    let mut found = Vec::new();
    for (k, line) in source.text.lines().enumerate() {
        let mut say = |what: &str| found.push(format!("{}:{}: {what}", source.path, k + 1));
        if line.contains('\t') {
            say("a tab");
        }
        if line.ends_with([' ', '\r']) {
            say("a space at the end");
        }
        for leftover in leftovers.iter().filter(|l| line.contains(l.as_str())) {
            say(leftover);
        }
    }
    if !source.text.ends_with('\n') || source.text.ends_with("\n\n") {
        found.push(format!("{}: does not end in one line end", source.path));
    }
    found
}

fn machine_places(text: &str) -> Vec<&str> {
    let places = [["/wo", "rk/"], ["/tmp/", "toile"], ["/ro", "ot/"], ["/ho", "me/"]].map(|parts| parts.concat());
    text.lines().filter(|line| places.iter().any(|place| line.contains(place.as_str()))).collect()
}

#[test]
fn the_rules_see_what_is_wrong() {
    let blemished = |text: &str| blemishes(&Source { path: "a.rs".into(), text: text.into() });
    assert!(blemished("fn a() {}\n").is_empty());
    assert_eq!(blemished("\tfn a() {} \n"), ["a.rs:1: a tab", "a.rs:1: a space at the end"]);
    assert_eq!(blemished(&format!("// {}: later\n", ["TO", "DO"].concat())).len(), 1);
    assert_eq!(blemished("fn a() {}").len(), 1);
    assert!(!opens_with_docs("use std::fs;\n"));
    assert!(!opens_with_docs("//! x\n"));
    assert!(!belongs_at_the_top("notes.txt"));
    assert_eq!(machine_places(&["see /ro", "ot/a\nand b"].concat()).len(), 1);
}
