//! The table of settings in README.md says what the binary takes: no more, no less, and the same defaults.

use clap::{Arg, CommandFactory};
use toile::config::Cli;
use toile_tests::{read_text, root};

const BEGIN: &str = "<!-- settings: written by `UPDATE_README=1 cargo test -p toile-tests -- settings` -->\n";
const END: &str = "<!-- end of settings -->\n";

#[test]
fn the_table_of_settings_is_in_step() {
    let path = root().join("README.md");
    let text = read_text(&path);
    let (before, rest) = text.split_once(BEGIN).expect("README has a table of settings");
    let (table, after) = rest.split_once(END).expect("the table ends");
    let wanted = settings();
    assert!(wanted.lines().count() > 12, "{wanted}");
    if std::env::var_os("UPDATE_README").is_some() {
        std::fs::write(&path, format!("{before}{BEGIN}{wanted}{END}{after}")).expect("README can be written");
    } else {
        assert_eq!(table, wanted, "write it anew with UPDATE_README=1");
    }
}

/// One line for each setting that the environment can give, in the order of the help.
fn settings() -> String {
    let cli = Cli::command();
    let mut arguments: Vec<(&str, &Arg)> = cli.get_arguments().map(|argument| ("serve", argument)).collect();
    for command in cli.get_subcommands() {
        arguments.extend(command.get_arguments().map(|argument| (command.get_name(), argument)));
        for inner in command.get_subcommands() {
            arguments.extend(inner.get_arguments().map(|argument| (command.get_name(), argument)));
        }
    }
    let mut table = String::from("| flag | environment | default | what |\n| --- | --- | --- | --- |\n");
    let mut told = Vec::new();
    for (command, argument) in arguments {
        let (Some(long), Some(env)) = (argument.get_long(), argument.get_env()) else { continue };
        if told.contains(&long) {
            continue;
        }
        told.push(long);
        let defaults: Vec<_> = argument.get_default_values().iter().map(|value| value.to_string_lossy()).collect();
        let default = if defaults.is_empty() { String::new() } else { format!("`{}`", defaults.join(",")) };
        let help = argument.get_help().map(ToString::to_string).unwrap_or_default();
        let only = if command == "serve" { String::new() } else { format!(" (`toile {command}`)") };
        let what = help.trim_end_matches('.').replace('|', "or");
        table.push_str(&format!("| `--{long}` | `{}` | {default} | {what}{only} |\n", env.to_string_lossy()));
    }
    table
}
