//! `etude survey` on real files.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use tempfile::TempDir;

fn etude(home: &TempDir) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_etude"));
    command.env_clear().env("HOME", home.path());
    command
}

fn said(command: &mut Command) -> String {
    String::from_utf8(command.assert().success().get_output().stdout.clone()).unwrap()
}

/// A folder of Tern Point: notes, code, a picture, what was built.
fn folder() -> TempDir {
    let home = TempDir::new().unwrap();
    let work = home.path().join("work");
    fs::create_dir_all(work.join("built")).unwrap();
    fs::write(work.join("log.md"), "# Log\n\n- fog; bell rung\n").unwrap();
    fs::write(work.join("gauge.rs"), "fn level() -> f64 {\r\n    read[3]\r\n}\r\n").unwrap();
    fs::write(work.join("chart.png"), b"\x89PNG\0\0").unwrap();
    fs::write(work.join("old.txt"), b"caf\xE9").unwrap();
    fs::write(work.join("packed.js"), "x".repeat(5000)).unwrap();
    fs::write(work.join("built/out.txt"), "@@@@@@@@").unwrap();
    fs::write(work.join(".ignore"), "built/\n").unwrap();
    home
}

#[test]
fn texts_are_counted_and_the_rest_is_named() {
    let home = folder();
    let work = home.path().join("work");
    let value: Value =
        serde_json::from_str(&said(etude(&home).arg("survey").arg(&work).arg("--json"))).unwrap();
    assert_eq!(value["schema"], "etude.survey/1");
    let times = |c: &str| {
        let all = value["characters"].as_array().unwrap();
        all.iter().find(|one| one["character"] == c).map_or(0, |one| one["n"].as_u64().unwrap())
    };
    // What the ignore file names is not read; a line end is one Enter.
    assert_eq!((times("@"), times("["), times("\n"), times("x")), (0, 1, 6, 0));
    let left = &value["left_out"];
    assert_eq!(
        (&left["binary"], &left["not_utf8"], &left["long_lines"]),
        (&1.into(), &1.into(), &1.into())
    );
    let pair = value["pairs"].as_array().unwrap().iter().find(|p| p["first"] == "{").unwrap();
    assert_eq!((&pair["second"], &pair["n"]), (&"\n".into(), &1.into()));
    let pays = &value["pays"];
    assert_eq!((&pays["layout"], &pays["old_way"]), (&"tern-split".into(), &"plain-ansi".into()));
    assert_eq!(pays["cost"]["measured_share"], 0.0);
    assert!(pays["cost"]["switches"].as_f64() > pays["cost_old_way"]["switches"].as_f64());
    assert!(pays["first"].as_array().is_some_and(|first| first.len() > 2));
    // Nothing was practised, and nothing is made.
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1);
}

#[test]
fn the_same_files_say_the_same_in_any_order() {
    let home = folder();
    let work = home.path().join("work");
    let files = [work.join("log.md"), work.join("gauge.rs")];
    let one = said(etude(&home).arg("survey").args(&files));
    let other = said(etude(&home).arg("survey").args(files.iter().rev()).arg(&files[0]));
    assert_eq!(one, other);
    for words in
        ["2 texts", "Rust", "Markdown", "What a page costs", "old way", "Which layer first"]
    {
        assert!(one.contains(words), "{words:?} in\n{one}");
    }
    assert!(one.lines().all(|line| line.chars().count() <= 100), "{one}");
}

#[test]
fn what_would_be_read_is_listed_and_nothing_else() {
    let home = folder();
    let listed = said(etude(&home).args(["survey", "--dry-run"]).arg(home.path().join("work")));
    let names: Vec<&str> = listed.lines().filter_map(|line| line.rsplit('/').next()).collect();
    assert_eq!(names, ["chart.png", "gauge.rs", "log.md", "old.txt", "packed.js"]);
}

#[test]
fn standard_input_is_a_text_and_faults_are_told() {
    let home = TempDir::new().unwrap();
    let told = said(etude(&home).args(["survey", "-"]).write_stdin("{}\n"));
    assert!(told.contains("1 texts, 3 characters in 1 lines"), "{told}");
    let refused = |command: &mut Command, code: i32| {
        let assert = command.assert().code(code);
        String::from_utf8(assert.get_output().stderr.clone()).unwrap()
    };
    let told = refused(etude(&home).args(["survey", "-"]).write_stdin("a\0"), 1);
    assert!(told.contains("nothing to count: 1 binary"), "{told}");
    let told = refused(etude(&home).args(["survey", "/nowhere/at/all"]), 2);
    assert!(told.contains("is not there: expected a file, a folder, or -"), "{told}");
}
