//! `etude arrange` on real files.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use tempfile::TempDir;

/// All symbols of the shipped layer but a few, so that a proof is short.
const PINS: &str = "()[]{}<>!\"'`~#$%^@\\?+";

fn etude(home: &TempDir) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_etude"));
    command.env_clear().env("HOME", home.path()).current_dir(home.path());
    command
}

fn arrange(home: &TempDir) -> Command {
    let mut command = etude(home);
    command.args(["arrange", "symbols", "--text", "gauge.c", "--starts", "2", "--pin", PINS]);
    command
}

fn home() -> TempDir {
    let home = TempDir::new().unwrap();
    let lines = "level = _mean / 2;\nrest = _low / _high - 1;\nok = a && b || c;\n".repeat(40);
    fs::write(home.path().join("gauge.c"), lines).unwrap();
    home
}

fn said(command: &mut Command) -> String {
    String::from_utf8(command.assert().success().get_output().stdout.clone()).unwrap()
}

fn refused(command: &mut Command, code: i32) -> String {
    let output = command.assert().code(code).get_output().clone();
    assert!(output.stdout.is_empty());
    String::from_utf8(output.stderr).unwrap()
}

#[test]
fn a_proposal_is_shown_and_written_as_a_layout_that_can_be_practised() {
    let home = home();
    let told = said(arrange(&home).args(["-o", "quay.toml"]));
    for words in [
        "symbols, today",
        "symbols, proposed",
        "What moves",
        "Proved: no placement of these symbols costs less",
        "assumed: nothing measured yet",
        "won back on working day",
        "Written to quay.toml",
    ] {
        assert!(told.contains(words), "{words}\n{told}");
    }
    assert!(told.lines().all(|line| line.chars().count() <= 100), "{told}");
    let file = fs::read_to_string(home.path().join("quay.toml")).unwrap();
    assert!(file.starts_with("# quay: tern-split with symbols rearranged"), "{file}");
    assert!(file.contains("name = \"quay\"") && file.contains("# tern-split: every layer hangs"));
    let checked = said(etude(&home).args(["layout", "check", "quay.toml", "--json"]));
    let checked: Value = serde_json::from_str(&checked).unwrap();
    let shipped = said(etude(&home).args(["layout", "check", "tern-split", "--json"]));
    let shipped: Value = serde_json::from_str(&shipped).unwrap();
    assert_eq!(checked["cannot_type"], shipped["cannot_type"]);
    // What is practised goes by the name, which nothing that ships has.
    let told = refused(arrange(&home).args(["-o", "tern-split.toml"]), 2);
    assert!(told.contains("a shipped layout is named 'tern-split'"), "{told}");
    // It is never overwritten.
    let told = refused(arrange(&home).args(["-o", "quay.toml"]), 2);
    assert!(told.contains("quay.toml is there already and is never overwritten"), "{told}");
    assert_eq!(fs::read_to_string(home.path().join("quay.toml")).unwrap(), file);
    let told = refused(arrange(&home).args(["-o", "my quay!.toml"]), 2);
    assert!(told.contains("can't be the name of a layout"), "{told}");
}

#[test]
fn the_same_seed_says_the_same() {
    let home = home();
    let one = said(arrange(&home).arg("--json"));
    assert_eq!(one, said(arrange(&home).arg("--json")));
    let value: Value = serde_json::from_str(&one).unwrap();
    assert_eq!(value["schema"], "etude.arrange/1");
    assert_eq!((&value["optimal"], &value["gap_share"]), (&true.into(), &0.0.into()));
    let number = |field: &str| value[field].as_i64().unwrap();
    assert!(number("cost_proposed_ms") < number("cost_ms"));
    assert_eq!(number("cost_least_ms"), number("cost_proposed_ms"));
    let moves = value["moves"].as_array().unwrap();
    assert!(!moves.is_empty());
    for one in moves {
        assert!(!PINS.contains(one["output"].as_str().unwrap()) && one["from"] != one["to"]);
    }
    let saved = &value["saved_a_day"];
    assert!(saved["low"].as_f64() < saved["high"].as_f64());
    assert!(value["file"].is_null(), "nothing was to be written");
    // Another seed finds the same optimum, whose cost is proved.
    let other: Value =
        serde_json::from_str(&said(arrange(&home).args(["--json", "--seed", "9"]))).unwrap();
    assert_eq!(other["cost_proposed_ms"], value["cost_proposed_ms"]);
}

/// Of somebody who has practised, only what pays within the days is proposed.
#[test]
fn what_is_known_well_moves_less_for_fewer_days() {
    let home = home();
    let moved = |days: &str| {
        let mut command = etude(&home);
        command.args(["--demo", "arrange", "symbols", "--text", "gauge.c"]);
        command.args(["--starts", "2", "--days", days, "--json"]);
        let value: Value = serde_json::from_str(&said(&mut command)).unwrap();
        assert!(value["new_key"]["measured_keys"].as_u64().unwrap() > 10, "{value}");
        if let Some(day) = value["paid_back_day"].as_u64().filter(|day| *day > 0) {
            assert!(day <= days.parse().unwrap(), "{value}");
        }
        value["moves"].as_array().unwrap().len()
    };
    let (in_one_day, in_many) = (moved("1"), moved("600"));
    assert!(in_one_day < in_many, "{in_one_day} {in_many}");
}

#[test]
fn what_can_not_be_done_is_said_plainly() {
    let home = home();
    let ask = |args: &[&str], code: i32| refused(etude(&home).arg("arrange").args(args), code);
    let told = ask(&["symbls", "--text", "gauge.c"], 2);
    assert!(told.contains("no layer 'symbls' in tern-split") && told.contains("symbols"), "{told}");
    let told = ask(&["symbols", "--text", "gauge.c", "--pin", "é"], 2);
    assert!(told.contains("é is not on symbols"), "{told}");
    let told = ask(&["symbols", "--text", "nowhere"], 2);
    assert!(told.contains("'nowhere' is not there"), "{told}");
    fs::write(home.path().join("log.txt"), "fog over the quay\n").unwrap();
    let told = ask(&["symbols", "--text", "log.txt"], 2);
    assert!(told.contains("the text needs nothing of symbols"), "{told}");
    let told = ask(&["navigation", "--text", "gauge.c"], 2);
    assert!(told.contains("no symbol of navigation may move"), "{told}");
}
