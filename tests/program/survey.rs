//! `etude survey` on real files.

use crate::progress_command::practised;
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

fn refused(command: &mut Command, code: i32) -> String {
    let output = command.assert().code(code).get_output().clone();
    String::from_utf8(output.stderr).unwrap()
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
    let value: Value = serde_json::from_str(&said(
        etude(&home).arg("survey").arg(&work).args(["--json", "--once"]),
    ))
    .unwrap();
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
    assert!(told.contains("1 text, 3 characters in 1 line;"), "{told}");
    let told = refused(etude(&home).args(["survey", "-"]).write_stdin("a\0"), 1);
    assert!(told.contains("nothing to count: 1 binary"), "{told}");
    let told = refused(etude(&home).args(["survey", "/nowhere/at/all"]), 2);
    assert!(told.contains("is not there: expected a file, a folder, or -"), "{told}");
}

#[test]
fn a_survey_is_kept_without_its_text_until_it_is_forgotten() {
    let home = folder();
    let work = home.path().join("work");
    let data = home.path().join("data");
    let told = |args: &[&str]| said(etude(&home).arg("--data").arg(&data).arg("survey").args(args));
    let first = told(&[work.to_str().unwrap(), "--json"]);
    let file = fs::read_to_string(data.join("survey.json")).unwrap();
    let kept: Value = serde_json::from_str(&file).unwrap();
    assert_eq!(kept["schema"], "etude.survey-kept/1");
    for word in ["fog", "bell", "level", "log.md", "gauge"] {
        assert!(!file.contains(word), "no text and no name is kept: {word}\n{file}");
    }
    // Shown again without the texts.
    fs::remove_dir_all(&work).unwrap();
    let (first, again): (Value, Value) =
        (serde_json::from_str(&first).unwrap(), serde_json::from_str(&told(&["--json"])).unwrap());
    for field in ["characters", "pairs", "kinds", "pays", "habits", "date"] {
        assert_eq!(first[field], again[field], "{field}");
    }
    assert!(told(&[]).contains("are kept, no text is"));
    assert!(told(&["--forget"]).contains("The survey is forgotten."));
    assert!(told(&["--forget"]).contains("No survey was kept."));
    let told = refused(etude(&home).arg("--data").arg(&data).arg("survey"), 2);
    assert!(told.contains("no survey is kept: name files or folders"), "{told}");
}

#[test]
fn advice_and_comparison_go_by_the_kept_survey_and_data_tells_of_it() {
    let home = folder();
    let data = home.path().join("data");
    let with = |args: &[&str]| {
        let mut command = etude(&home);
        command.arg("--data").arg(&data).args(args);
        command
    };
    let values = |args: &[&str]| -> Value { serde_json::from_str(&said(&mut with(args))).unwrap() };
    let compare = ["layout", "compare", "plain-ansi", "tern-split", "--json"];
    let often = |compared: &Value, output: &str| {
        let moved = compared["moved"].as_array().unwrap().clone();
        moved.into_iter().find(|one| one["output"] == output).unwrap()["times_a_page"].as_f64()
    };
    let shipped = values(&compare);
    assert_eq!(shipped["surveyed"], Value::Null);
    assert!(said(&mut with(&["data"])).contains("No practice history yet"));

    let at_signs = home.path().join("at.txt");
    fs::write(&at_signs, "a@b ".repeat(300)).unwrap();
    said(&mut with(&["survey", at_signs.to_str().unwrap()]));
    let own = values(&compare);
    assert!(own["surveyed"].is_string(), "{own}");
    assert!(often(&own, "@") > Some(100.0) && often(&shipped, "@") < Some(50.0));
    let told = said(&mut with(&["layout", "check", "tern-split"]));
    assert!(told.contains("by the survey of your texts of "), "{told}");
    assert_eq!(values(&["layout", "check", "--json"])["surveyed"], own["surveyed"]);
    let told = said(&mut with(&["data"]));
    assert!(told.contains("Survey: ") && told.contains("counts of 1 text;"), "{told}");
    assert_eq!(values(&["data", "--json"])["survey"]["texts"], 1);

    // One that can't be read costs nothing but itself.
    fs::write(data.join("survey.json"), "{").unwrap();
    let output = with(&compare).assert().success().get_output().clone();
    assert!(String::from_utf8(output.stderr).unwrap().contains("survey.json"));
    let after: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(after, shipped);
}

#[test]
fn own_habits_come_from_a_file_or_from_answers() {
    let home = folder();
    let data = home.path().join("data");
    let survey = || {
        let mut command = etude(&home);
        command.arg("--data").arg(&data).arg("survey");
        command
    };
    let file = home.path().join("mine.toml");
    fs::write(&file, "moves = 250\nhours = 6\n").unwrap();
    let told = said(survey().arg(home.path().join("work")).arg("--habits").arg(&file));
    let line = |told: &str, figure: &str| {
        told.lines().find(|line| line.contains(figure)).unwrap_or_default().to_owned()
    };
    assert!(line(&told, "move the cursor").ends_with("250  yours"), "{told}");
    assert!(line(&told, "shortcuts an hour").ends_with("assumed"), "{told}");
    assert!(told.contains("6 hours of such work a day"), "{told}");
    // They stay, and answers change what was said.
    let told = said(survey().arg("--ask").write_stdin("\n\n\n\n90\n\n"));
    assert!(line(&told, "move the cursor").ends_with("250  yours"), "{told}");
    assert!(line(&told, "shortcuts an hour").ends_with("90  yours"), "{told}");
    fs::write(&file, "moves = 250\nmovs = 3\n").unwrap();
    let told = refused(survey().arg("--habits").arg(&file), 1);
    assert!(told.contains("mine.toml, line 2: 'movs' is no figure"), "{told}");
    let told = refused(survey().args(["-", "--ask"]).write_stdin("a"), 2);
    assert!(told.contains("--ask reads answers where - reads the text"), "{told}");
}

/// The promise stands with its practice undone; a second survey does not make it
/// anew, and the plan and the progress go by the survey.
#[test]
fn what_was_promised_is_held_to_account() {
    let home = folder();
    let told = |args: &[&str]| said(etude(&home).args(args));
    practised(&home);
    let page = |value: &Value| value["page"]["seconds"].as_f64().unwrap();
    let before: Value = serde_json::from_str(&told(&["progress", "--json"])).unwrap();
    assert_eq!(before["promises"], serde_json::json!([]));
    let work = home.path().join("work");
    told(&["survey", work.to_str().unwrap()]);
    told(&["survey"]);
    let after: Value = serde_json::from_str(&told(&["progress", "--json"])).unwrap();
    let promises = after["promises"].as_array().unwrap();
    assert!(promises.len() >= 2, "{promises:?}");
    let mut parts: Vec<&str> = promises.iter().map(|one| one["part"].as_str().unwrap()).collect();
    parts.sort_unstable();
    parts.dedup();
    assert_eq!(parts.len(), promises.len(), "each part is promised once");
    for one in promises {
        assert_eq!(one["standing"], "too early to tell");
        assert_eq!(one["minutes_since"].as_f64(), Some(0.0));
        assert!(one["promised"].as_f64() >= one["saved_then"].as_f64(), "{one}");
        // Nothing was practised since, so that it stands where it stood.
        let (then, now) = (one["saved_then"].as_f64().unwrap(), one["saved_now"].as_f64().unwrap());
        assert!((then - now).abs() < 1e-6 * then.abs().max(1.0), "{one}");
    }
    assert!((page(&before) - page(&after)).abs() > 1e-6, "the page is that of the survey");
    let text = told(&["progress", "--plain"]);
    assert!(text.contains("Promised by a survey") && text.contains("too early to tell"), "{text}");
}
