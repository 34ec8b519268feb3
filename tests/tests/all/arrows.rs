//! Who may use whom: levels inside the model, arrows inside the server, absences everywhere.
//!
//! The rules are read from `use` lines and paths in the code, so a new module has to be given its place here.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use toile_tests::{Source, root, sources_under};

/// Modules of the model by level. A level may use any level under it, never its own neighbours.
const LEVELS: [&[&str]; 8] = [
    &["numerics", "units", "money"],
    &["geometry", "uncertainty"],
    &["materials"],
    &["electrostatics", "conduction", "production", "lights", "heat"],
    &["touch", "electrode", "laid_wire"],
    &["verdict", "calibration"],
    &["estimate"],
    &["examples"],
];

/// Modules of the server and those that each may use.
const SERVER: [(&str, &[&str]); 19] = [
    ("config", &["keys"]),
    ("spool", &[]),
    ("sheet", &[]),
    ("picture", &[]),
    ("print", &[]),
    ("store", &[]),
    ("api", &[]),
    ("rates", &["api"]),
    ("keys", &["store"]),
    ("webhook", &["config", "store"]),
    ("usecase", &["store", "keys", "sheet", "picture", "print", "webhook"]),
    ("batch", &["config", "usecase"]),
    ("jobs", &["store", "usecase"]),
    ("gate", &[]),
    ("readiness", &["store"]),
    ("app", &["config", "gate", "keys", "readiness", "store"]),
    ("http", &["api", "usecase", "config", "spool", "app", "keys"]),
    ("command", &["config", "keys", "store", "usecase"]),
    ("main", &["batch", "command", "config", "http", "rates", "usecase", "sheet", "store", "jobs", "app", "webhook"]),
];

/// What the model does not know, as names of crates: a name is forbidden with everything that it begins.
const OUTSIDE_THE_MODEL: [&str; 24] = [
    "serde", "tokio", "hyper", "axum", "http", "tower", "reqwest", "log", "tracing", "chrono", "time", "jiff", "futures", "async", "sqlx",
    "rusqlite", "diesel", "tempfile", "walkdir", "clap", "metrics", "utoipa", "rand", "mio",
];

/// What the model does not do, as it would stand in the code.
const UNDONE_IN_THE_MODEL: [&str; 15] = [
    "std::fs",
    "std::net",
    "std::time",
    "std::env",
    "std::process",
    "std::thread",
    "SystemTime",
    "Instant",
    "println!",
    "eprintln!",
    "print!(",
    "dbg!",
    "thread_local!",
    "static mut",
    "std::io",
];

#[test]
fn the_model_reaches_no_crate_of_the_outside() {
    let tree = Command::new(env!("CARGO"))
        .current_dir(root())
        .args(["tree", "--offline", "-p", "toile-model", "-e", "normal,build", "--all-features", "--target", "all", "--prefix", "none"])
        .output()
        .expect("cargo runs");
    assert!(tree.status.success(), "{}", String::from_utf8_lossy(&tree.stderr));
    let text = String::from_utf8(tree.stdout).expect("cargo writes UTF-8");
    let reached: BTreeSet<&str> = text.lines().filter_map(|line| line.split_whitespace().next()).collect();
    assert!(reached.contains("toile-model"), "{text}");
    let outside = outside(&reached);
    assert!(outside.is_empty(), "toile-model reaches {outside:?}");
}

fn outside<'a>(reached: &BTreeSet<&'a str>) -> Vec<&'a str> {
    reached.iter().copied().filter(|name| OUTSIDE_THE_MODEL.iter().any(|o| name.starts_with(o))).collect()
}

#[test]
fn the_model_has_no_files_clock_or_output() {
    let mut found = Vec::new();
    for source in sources_under("model/src", "rs") {
        let code = code_of(&source.text);
        found.extend(UNDONE_IN_THE_MODEL.iter().filter(|needle| code.contains(*needle)).map(|needle| format!("{}: {needle}", source.path)));
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn a_level_of_the_model_uses_only_levels_under_it() {
    let allowed = LEVELS.iter().enumerate().flat_map(|(k, modules)| {
        let under: Vec<&str> = LEVELS[..k].iter().flat_map(|level| level.iter().copied()).collect();
        modules.iter().map(move |module| (*module, under.clone()))
    });
    let trespasses = trespasses(&sources_under("model/src", "rs"), "model/src/", &allowed.collect(), true);
    assert!(trespasses.is_empty(), "{}", trespasses.join("\n"));
}

#[test]
fn plain_physics_does_not_know_of_uncertainty() {
    for source in sources_under("model/src", "rs") {
        if ["electrostatics", "conduction", "production", "lights", "heat"].contains(&module_of(&source.path, "model/src/")) {
            let used = used_modules(&code_of(&source.text), depth_of(&source.path, "model/src/"));
            assert!(!used.contains("uncertainty"), "{} uses uncertainty", source.path);
        }
    }
}

#[test]
fn the_two_tiers_of_electrostatics_do_not_see_each_other() {
    for (here, there) in [("closed_form", "field"), ("field", "closed_form")] {
        for source in sources_under("model/src", "rs").iter().filter(|s| s.path.contains(&format!("/{here}"))) {
            assert!(!names_module(&code_of(&source.text), there), "{} names {there}", source.path);
        }
    }
}

#[test]
fn modules_of_the_server_use_only_those_they_may() {
    let allowed = SERVER.iter().map(|(module, may)| (*module, may.to_vec())).collect();
    let trespasses = trespasses(&sources_under("server/src", "rs"), "server/src/", &allowed, false);
    assert!(trespasses.is_empty(), "{}", trespasses.join("\n"));
}

#[test]
fn crates_stay_where_they_belong_in_the_server() {
    let forbidden: [(&str, &[&str]); 6] = [
        ("http", &["sqlx", "rusqlite", "SELECT ", "INSERT ", "DELETE FROM", "UPDATE "]),
        ("usecase", &["axum", "hyper", "tower", "sqlx", "SELECT ", "INSERT "]),
        ("sheet", &["axum", "tokio", "hyper", "tower", "sqlx"]),
        ("picture", &["axum", "tokio", "serde", "utoipa"]),
        ("api", &["sqlx", "tokio", "SELECT ", "INSERT "]),
        ("store", &["axum", "utoipa"]),
    ];
    let mut found = Vec::new();
    for source in sources_under("server/src", "rs") {
        let code = code_of(&source.text);
        for (_, needles) in forbidden.iter().filter(|(module, _)| *module == module_of(&source.path, "server/src/")) {
            found.extend(needles.iter().filter(|needle| code.contains(*needle)).map(|needle| format!("{}: {needle}", source.path)));
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn one_module_of_the_page_asks_the_server_and_no_other_server_is_asked() {
    let mut found = Vec::new();
    for source in sources_under("web", "js").into_iter().chain(sources_under("web", "html")).chain(sources_under("web", "css")) {
        let asks: &[&str] = if source.path == "web/js/api.js" { &[] } else { &["fetch("] };
        let never = ["XMLHttpRequest", "WebSocket", "EventSource", "sendBeacon", "importScripts", "https://", "eval("];
        found.extend(
            asks.iter().chain(&never).filter(|needle| source.text.contains(*needle)).map(|needle| format!("{}: {needle}", source.path)),
        );
        for address in source.text.match_indices("http://").map(|(at, _)| &source.text[at..]) {
            // The name of the drawing language looks like an address and is none.
            if !address.starts_with("http://www.w3.org/2000/svg") {
                found.push(format!("{}: {}", source.path, address.lines().next().unwrap_or_default()));
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn the_tests_ask_through_the_router_and_not_through_the_store() {
    for source in sources_under("tests", "rs").iter().filter(|s| !s.path.ends_with("/arrows.rs")) {
        for needle in ["toile::store", "toile::usecase", "toile::sheet"] {
            // The service inside the test process needs a store to start with, and asks it nothing.
            let starts = source.path == "tests/src/service.rs" && needle == "toile::store";
            // What is drawn by chance is put to the readers themselves: through the service it would take hours.
            let drawn = source.path.starts_with("tests/fuzz/src/");
            if starts || drawn {
                continue;
            }
            assert!(!source.text.contains(needle), "{}: {needle}", source.path);
        }
    }
}

/// Every use of a module that the using one may not use, and every module without a place in the table.
///
/// With `sealed`, a name that is no module may not be taken from the top of the crate: a re-export would hide the
/// arrow.
fn trespasses(sources: &[Source], top: &str, allowed: &BTreeMap<&str, Vec<&str>>, sealed: bool) -> Vec<String> {
    let mut found = Vec::new();
    for source in sources.iter().filter(|s| s.path != format!("{top}lib.rs")) {
        let module = module_of(&source.path, top);
        let Some(may) = allowed.get(module) else {
            found.push(format!("{}: the module {module} has no place in the table", source.path));
            continue;
        };
        for used in used_modules(&code_of(&source.text), depth_of(&source.path, top)) {
            let known = allowed.contains_key(used.as_str());
            let trespass = if known { used != module && !may.contains(&used.as_str()) } else { sealed };
            if trespass {
                found.push(format!("{}: {module} uses {used}", source.path));
            }
        }
    }
    found
}

/// The top module that a file belongs to.
fn module_of<'a>(path: &'a str, top: &str) -> &'a str {
    let inside = path.strip_prefix(top).unwrap_or(path);
    inside.split('/').next().unwrap_or_default().trim_end_matches(".rs")
}

/// How many modules lie above the items of a file: 1 for `units.rs` and `touch/mod.rs`, 2 for `touch/signal.rs`.
fn depth_of(path: &str, top: &str) -> usize {
    let inside = path.strip_prefix(top).unwrap_or(path);
    inside.split('/').filter(|part| *part != "mod.rs" && *part != "lib.rs").count()
}

/// The code without comments and without the tests at its end.
fn code_of(text: &str) -> String {
    let tested = text.find("\n#[cfg(test)]\nmod tests {").map_or(text, |at| &text[..at]);
    tested.lines().map(|line| line.split("//").next().unwrap_or_default()).collect::<Vec<_>>().join("\n")
}

/// Whatever is taken from the top of the crate: by `crate::`, by `toile::` in the binary, or by enough `super::`.
fn used_modules(code: &str, depth: usize) -> BTreeSet<String> {
    let up = "super::".repeat(depth);
    let mut used = BTreeSet::new();
    for anchor in ["crate::", "toile::", up.as_str()] {
        for (at, _) in code.match_indices(anchor) {
            let before = code[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':' || c == '"') {
                continue;
            }
            used.extend(first_names(&code[at + anchor.len()..]));
        }
    }
    used
}

/// The first name of a path, or of every path of a group in braces.
fn first_names(path: &str) -> Vec<String> {
    let name = |text: &str| text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let Some(group) = path.strip_prefix('{') else { return Vec::from_iter(Some(name(path)).filter(|n| !n.is_empty() && n != "super")) };
    let (mut depth, mut start, mut names) = (0, 0, Vec::new());
    for (at, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth > 0 => depth -= 1,
            ',' | '}' if depth == 0 => {
                names.push(name(&group[start..at]));
                start = at + 1;
                if c == '}' {
                    break;
                }
            }
            _ => {}
        }
    }
    names.retain(|n| !n.is_empty());
    names
}

/// Whether a path in the code goes through a module of this name.
fn names_module(code: &str, module: &str) -> bool {
    code.match_indices(module).any(|(at, _)| {
        let (before, after) = (&code[..at], &code[at + module.len()..]);
        let whole =
            !before.ends_with(|c: char| c.is_alphanumeric() || c == '_') && !after.starts_with(|c: char| c.is_alphanumeric() || c == '_');
        whole && (before.ends_with("::") || after.starts_with("::"))
    })
}

/// The checks above are only worth something if they see what is wrong; these are wrong on purpose.
mod the_checker {
    use super::*;

    fn names(list: &[&str]) -> BTreeSet<String> {
        list.iter().map(|n| (*n).to_owned()).collect()
    }

    fn source(path: &str, text: &str) -> Source {
        Source { path: path.into(), text: text.into() }
    }

    #[test]
    fn sees_every_way_to_take_a_module() {
        for (code, depth, expected) in [
            ("use crate::units;", 1, &["units"][..]),
            ("use crate::units::{self, Quantity};", 1, &["units"]),
            ("use crate::{\n    geometry::{self, Point},\n    units,\n};", 1, &["geometry", "units"]),
            ("let x = crate::verdict::judge(m);", 2, &["verdict"]),
            ("pub(crate) use super::super::materials::Library;", 2, &["materials"]),
            ("use super::materials::Library;", 1, &["materials"]),
            ("use super::pad::Chain;", 2, &[]),
            ("use toile::http::{App, router};", 1, &["http"]),
            ("use toile_model::units;", 1, &[]),
        ] {
            assert_eq!(used_modules(code, depth), names(expected), "{code}");
        }
    }

    #[test]
    fn leaves_comments_and_tests_alone() {
        let text = "//! See [`crate::estimate`].\nuse crate::units; // not crate::verdict\n\n#[cfg(test)]\nmod tests {\n    use crate::examples;\n}\n";
        assert_eq!(used_modules(&code_of(text), 1), names(&["units"]));
    }

    #[test]
    fn reports_neighbours_upward_arrows_strangers_and_hidden_arrows() {
        let allowed = BTreeMap::from([("units", vec![]), ("geometry", vec!["units"]), ("uncertainty", vec!["units"])]);
        let check = |path: &str, text: &str| trespasses(&[source(path, text)], "model/src/", &allowed, true);
        assert!(check("model/src/geometry.rs", "use crate::units;").is_empty());
        assert!(check("model/src/geometry/hull.rs", "use crate::geometry::Point; use super::Extent;").is_empty());
        assert_eq!(check("model/src/geometry.rs", "use crate::uncertainty::Linear;"), ["model/src/geometry.rs: geometry uses uncertainty"]);
        assert_eq!(check("model/src/units.rs", "fn f() { crate::geometry::g() }"), ["model/src/units.rs: units uses geometry"]);
        assert_eq!(check("model/src/units.rs", "use super::geometry;"), ["model/src/units.rs: units uses geometry"]);
        assert_eq!(check("model/src/weather.rs", ""), ["model/src/weather.rs: the module weather has no place in the table"]);
        assert_eq!(check("model/src/units.rs", "use crate::Measured;"), ["model/src/units.rs: units uses Measured"]);
    }

    #[test]
    fn tells_a_module_from_a_word() {
        assert!(names_module("use super::field::solve;", "field"));
        assert!(names_module("use crate::electrostatics::{field::mesh};", "field"));
        assert!(names_module("use super::field;", "field"));
        assert!(!names_module("let field = strength_of_field(x);", "field"));
        assert!(!names_module("struct S { field: f64 }", "field"));
        assert!(!names_module("use super::fields::x;", "field"));
    }

    #[test]
    fn refuses_crates_by_the_start_of_their_name() {
        let reached = BTreeSet::from(["nalgebra", "libm", "serde_core", "tokio-util", "httparse"]);
        assert_eq!(outside(&reached), ["httparse", "serde_core", "tokio-util"]);
    }

    #[test]
    fn knows_where_a_file_stands() {
        assert_eq!(
            (module_of("model/src/touch/signal.rs", "model/src/"), depth_of("model/src/touch/signal.rs", "model/src/")),
            ("touch", 2)
        );
        assert_eq!((module_of("model/src/touch/mod.rs", "model/src/"), depth_of("model/src/touch/mod.rs", "model/src/")), ("touch", 1));
        assert_eq!((module_of("model/src/units.rs", "model/src/"), depth_of("model/src/units.rs", "model/src/")), ("units", 1));
    }
}
