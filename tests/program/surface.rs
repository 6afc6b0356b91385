//! What the program shows at its edges: help, manual page, completions, words
//! of errors, exit statuses, colour, JSON, closed pipes.

use crate::commands::etude;
use crate::data_commands::{data, practised};
use serde_json::Value;
use std::fmt::Write as _;
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// Every command with commands or options of its own.
const COMMANDS: [&[&str]; 13] = [
    &[],
    &["practice"],
    &["progress"],
    &["layout"],
    &["layout", "list"],
    &["layout", "show"],
    &["layout", "check"],
    &["data"],
    &["data", "check"],
    &["data", "export"],
    &["terminal"],
    &["completions"],
    &["man"],
];

fn run(home: &TempDir, args: &[&str]) -> (i32, String, String) {
    let output = etude(home).args(args).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

/// Standard output of a command that succeeds without a word of complaint.
fn said(home: &TempDir, args: &[&str]) -> String {
    let (status, out, err) = run(home, args);
    assert_eq!((status, err.as_str()), (0, ""), "{args:?}");
    out
}

/// True where `text` sets a colour: a select-graphic-rendition sequence with
/// a parameter from 30 to 49 or 90 to 107 (ECMA-48 8.3.117 and its common
/// extension to bright colours).
fn has_colour(text: &str) -> bool {
    text.split("\x1b[").skip(1).filter_map(|rest| rest.split_once('m')).any(|(parameters, _)| {
        parameters
            .split(';')
            .filter_map(|p| p.parse::<u32>().ok())
            .any(|p| matches!(p, 30..=49 | 90..=107))
    })
}

#[test]
fn every_command_has_help_with_an_example() {
    let home = TempDir::new().unwrap();
    for command in COMMANDS {
        let long = said(&home, &[command, &["--help"]].concat());
        let short = said(&home, &[command, &["-h"]].concat());
        let name = [&["etude"], command].concat().join(" ");
        assert!(long.contains("Example"), "{name} --help");
        assert!(long.lines().chain(short.lines()).all(|l| l.chars().count() <= 100), "{name}");
        let short = if short == long { "(the same)\n".to_owned() } else { short };
        let text = format!("$ {name} --help\n{long}\n$ {name} -h\n{short}");
        insta::assert_snapshot!(format!("help of {name}").replace(' ', "_"), text);
    }
}

#[test]
fn the_manual_page_is_made_from_the_same_definitions() {
    let home = TempDir::new().unwrap();
    let page = said(&home, &["man"]);
    assert!(page.contains(".TH etude 1"), "{page}");
    insta::assert_snapshot!(page.replace(env!("CARGO_PKG_VERSION"), "VERSION"));
}

#[test]
fn completions_name_every_command() {
    let home = TempDir::new().unwrap();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = said(&home, &["completions", shell]);
        for word in COMMANDS.iter().flat_map(|command| command.iter()) {
            assert!(script.contains(word), "{shell}: {word}");
        }
        for option in ["break-after", "color", "seed", "since"] {
            assert!(script.contains(option), "{shell}: {option}");
        }
        if shell == "bash" {
            insta::assert_snapshot!(script);
        }
    }
}

#[test]
fn mistakes_are_told_with_what_to_do_instead() {
    let home = TempDir::new().unwrap();
    let mut told = String::new();
    for (args, status) in [
        (&["layout", "show", "tern-splitt"][..], 2),
        (&["layout", "show", "--layer", "symbol"], 2),
        (&["layout", "check", "nowhere.toml"], 1),
        (&["practice", "symbls"], 2),
        (&["practice", "symbols", "--layout", "tern-smal"], 2),
        (&["practice", "--text", "missing.txt"], 1),
        (&["practice", "--script", "--text", "-"], 2),
        (&["practice", "--minutes", "0"], 2),
        (&["practice", "--seed", "seven"], 2),
        (&["practice", "symbols"], 1),
        (&["--break-after", "90"], 2),
        (&["practise"], 2),
        (&["layout"], 2),
        (&["data", "export", "drills"], 1),
        (&["data", "export", "drill"], 2),
        (&["terminal", "--log", "keys.jsonl"], 2),
        (&["completions", "tcsh"], 2),
    ] {
        let (code, out, err) = run(&home, args);
        assert_eq!((code, out.as_str()), (status, ""), "{args:?}: {err}");
        let err = err.replace(home.path().to_str().unwrap(), "HOME");
        writeln!(told, "$ etude {}\n{err}[{code}]\n", args.join(" ")).unwrap();
    }
    insta::assert_snapshot!(told);
}

#[test]
fn without_a_terminal_it_says_what_to_do() {
    let home = TempDir::new().unwrap();
    for args in [&[][..], &["practice", "numbers"]] {
        let (status, out, err) = run(&home, args);
        assert_eq!((status, out.as_str()), (1, ""));
        assert!(err.contains("no terminal") && err.contains("etude practice --script"), "{err}");
        assert_eq!(err.lines().count(), 1, "{err}");
    }
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0, "nothing is made");
}

#[test]
fn a_reader_that_went_away_is_no_fault() {
    let home = TempDir::new().unwrap();
    practised(&data(&home), 60);
    for args in [
        &["layout", "list"][..],
        &["layout", "show"],
        &["layout", "show", "--json"],
        &["layout", "check"],
        &["data"],
        &["data", "export", "keystrokes"],
        &["data", "export", "keystrokes", "--format", "jsonl"],
        &["completions", "bash"],
        &["man"],
        &["practice", "symbols", "--script"],
        &["--help"],
        &["--version"],
    ] {
        // The reader is gone before the first byte: no race.
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = Command::new(env!("CARGO_BIN_EXE_etude"))
            .args(args)
            .env_clear()
            .env("HOME", home.path())
            .stdin(Stdio::null())
            .stdout(writer)
            .stderr(Stdio::piped())
            .spawn()
            .unwrap()
            .wait_with_output()
            .unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        assert_eq!((output.status.code(), err.as_str()), (Some(0), ""), "{args:?}");
    }
}

#[test]
fn every_reading_command_speaks_json_with_a_schema() {
    let home = TempDir::new().unwrap();
    let documented = include_str!("../../docs/json.md");
    let check = |args: &[&str], schema: &str| {
        let value: Value = serde_json::from_str(&said(&home, args)).unwrap();
        assert_eq!(value["schema"], schema, "{args:?}");
        assert!(documented.contains(schema), "docs/json.md names {schema}");
        for field in value.as_object().unwrap().keys() {
            let (_, section) = documented.split_once(schema).unwrap();
            let section = section.split("\n## ").next().unwrap();
            assert!(section.contains(&format!("`{field}`")), "docs/json.md: {schema}: {field}");
        }
    };
    check(&["layout", "list", "--json"], "etude.layout-list/1");
    check(&["layout", "show", "--json"], "etude.layout-show/1");
    check(&["layout", "check", "--json"], "etude.layout-check/1");
    check(&["layout", "compare", "plain-ansi", "tern-split", "--json"], "etude.layout-compare/1");
    check(&["survey", "Cargo.toml", "--json"], "etude.survey/1");
    check(
        &[
            "arrange",
            "symbols",
            "--text",
            "Cargo.toml",
            "--starts",
            "1",
            "--pin",
            "()[]{}<>!\"'`~#$%^@\\?+",
            "--json",
        ],
        "etude.arrange/1",
    );
    check(&["progress", "--json"], "etude.progress/1");
    check(&["data", "--json"], "etude.data/1");
    check(&["data", "check", "--json"], "etude.data-check/1");
    practised(&data(&home), 6);
    check(&["progress", "--json"], "etude.progress/1");
    check(&["data", "--json"], "etude.data/1");
    check(&["data", "check", "--json"], "etude.data-check/1");
    // `etude terminal --json` needs a terminal: see the tests of the terminal.
    assert!(documented.contains("etude.terminal/1"));
}

#[test]
fn colour_is_kept_from_pipes_and_from_who_wants_none() {
    let home = TempDir::new().unwrap();
    let show = |args: &[&str], no_color: Option<&str>| {
        let mut command = etude(&home);
        if let Some(value) = no_color {
            command.env("NO_COLOR", value);
        }
        let output = command.args(["layout", "show"]).args(args).output().unwrap();
        assert!(output.status.success());
        String::from_utf8(output.stdout).unwrap()
    };
    assert!(!show(&[], None).contains('\x1b'), "a pipe");
    assert!(!has_colour(&show(&[], Some("1"))));
    assert!(!has_colour(&show(&["--color", "never"], None)));
    assert!(has_colour(&show(&["--color", "always"], None)));
    assert!(has_colour(&show(&["--color", "always"], Some("1"))), "the option wins");
}

#[cfg(unix)]
#[test]
fn colour_is_for_terminals_unless_the_environment_says_no() {
    use crate::screen::{Screen, Setup};
    // Louder than a whole layout, and no longer than a screen.
    let args = ["layout", "show", "tern-split", "--layer", "symbols"];
    for (name, value, colour) in
        [("NO_COLOR", "", true), ("NO_COLOR", "1", false), ("TERM", "dumb", false)]
    {
        let home = TempDir::new().unwrap();
        let mut screen = Screen::start(&home, &args, &Setup::default().with(name, value));
        assert_eq!(screen.wait_exit(), 0);
        let log = String::from_utf8_lossy(&screen.log()).into_owned();
        assert!(log.contains("symbols"), "{log}");
        assert_eq!(has_colour(&log), colour, "{name}={value:?}");
    }
}
