//! `etude data` with and without a history.

use crate::commands::etude;
use crate::strokes::{drill, end, session, stroke};
use etude::drill::Source;
use etude::store::{Ended, Sitting, Store, wall_clock};
use etude::units::Micros;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// The folder of the history in `home`.
pub fn data(home: &TempDir) -> PathBuf {
    home.path().join(".local/share/etude")
}

/// Two sessions a day apart, one drill of `n` keystrokes each.
pub fn practised(dir: &Path, n: u32) {
    for (day, seed) in [(24, 7u64), (25, u64::MAX)] {
        let day = wall_clock::day_from_text(&format!("2026-11-{day}")).unwrap();
        let ms_utc = i64::from(day) * 86_400_000 + 8 * 3_600_000;
        let store = Store::open(dir).unwrap();
        let mut sitting = Sitting::begin(dir, Some(store), session(ms_utc, seed));
        sitting.begin_drill(&drill("lists, \"quoted\"", Source::Shipped));
        for seq in 0..n {
            sitting.keystroke(&stroke(seq));
        }
        sitting.end_drill(&end());
        assert_eq!(sitting.end(Ended::Done, Micros::from_secs(9)).trouble, None);
    }
}

fn stdout(assert: &assert_cmd::assert::Assert) -> String {
    String::from_utf8(assert.get_output().stdout.clone()).unwrap()
}

fn stderr(assert: &assert_cmd::assert::Assert) -> String {
    String::from_utf8(assert.get_output().stderr.clone()).unwrap()
}

#[test]
fn without_a_history_it_says_so_and_makes_nothing() {
    let home = TempDir::new().unwrap();
    let text = stdout(&etude(&home).arg("data").assert().success());
    assert!(text.contains("No practice history yet"), "{text}");
    assert!(text.contains(".local/share/etude/history.sqlite"), "{text}");
    let text = stdout(&etude(&home).args(["data", "--json"]).assert().success());
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["schema"], "etude.data/1");
    assert_eq!(value["exists"], false);
    let words = stderr(&etude(&home).args(["data", "export", "drills"]).assert().code(1));
    assert!(words.contains("nothing to export"), "{words}");
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
}

#[test]
fn it_shows_what_is_there() {
    let home = TempDir::new().unwrap();
    practised(&data(&home), 30);
    let text = stdout(&etude(&home).arg("data").assert().success());
    for line in [
        "Sessions     2\n",
        "Drills       2\n",
        "Keystrokes   60\n",
        "Days         2026-11-24 to 2026-11-25\n",
        "Journals     none waiting\n",
        "Integrity    sound\n",
    ] {
        assert!(text.contains(line), "{line:?} in\n{text}");
    }
    let text = stdout(&etude(&home).args(["data", "--json"]).assert().success());
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["keystrokes"], 60);
    assert_eq!(value["active_us"], 18_000_000);
    assert_eq!(value["sound"], true);
    assert_eq!(value["database_schema"], etude::store::SCHEMA);
}

#[test]
fn faults_show_in_the_exit_status() {
    let home = TempDir::new().unwrap();
    practised(&data(&home), 30);
    let path = data(&home).join("history.sqlite");
    let connection = rusqlite::Connection::open(path).unwrap();
    connection.execute("DELETE FROM keystrokes WHERE seq = 5", []).unwrap();
    let text = stdout(&etude(&home).arg("data").assert().code(1));
    assert!(text.contains("tells of 30 keystrokes, 29 are there"), "{text}");
}

#[test]
fn wrong_sums_are_found_and_made_anew_after_a_copy() {
    let home = TempDir::new().unwrap();
    practised(&data(&home), 30);
    let check = |args: &[&str], code: i32| {
        let assert = etude(&home).args(["data", "check"]).args(args).assert().code(code);
        stdout(&assert)
    };
    assert!(check(&[], 0).contains("sound: the file, and its sums"));
    let path = data(&home).join("history.sqlite");
    let connection = rusqlite::Connection::open(&path).unwrap();
    let all = |sql: &str| -> Vec<(i64, Vec<u8>)> {
        let mut statement = connection.prepare(sql).unwrap();
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
        rows.map(Result::unwrap).collect()
    };
    let items = "SELECT n_hits, latency_sketch FROM item_days";
    let courses = "SELECT month_local, days_packed FROM item_courses";
    let before = (all(items), all(courses));
    connection
        .execute("UPDATE item_days SET n_hits = n_hits + 1, n_keystrokes = n_keystrokes + 1", [])
        .unwrap();
    connection.execute("DELETE FROM item_courses", []).unwrap();
    let text = check(&[], 1);
    assert!(text.contains("the sums of ") && text.contains("months of items differ"), "{text}");
    assert!(text.contains("data check --rebuild"), "{text}");
    let text = check(&["--rebuild"], 0);
    assert!(text.contains("made anew") && text.contains("before-rebuild-1.sqlite"), "{text}");
    assert!(text.contains("sound now"), "{text}");
    assert_eq!((all(items), all(courses)), before);
    // The copy is as it was before.
    let copy = rusqlite::Connection::open(data(&home).join("before-rebuild-1.sqlite")).unwrap();
    let n: i64 = copy.query_row("SELECT count(*) FROM item_courses", [], |r| r.get(0)).unwrap();
    assert_eq!(n, 0);
    // Nothing is done where nothing is wrong, and what can't be mended is told.
    assert!(!check(&["--rebuild"], 0).contains("anew"));
    connection.execute("DELETE FROM keystrokes WHERE seq = 5", []).unwrap();
    let value: serde_json::Value =
        serde_json::from_str(&check(&["--rebuild", "--json"], 1)).unwrap();
    assert_eq!((&value["rebuilt"], &value["sound"]), (&true.into(), &false.into()));
    assert!(value["left"].to_string().contains("29 are there"), "{value}");
}

#[test]
fn an_older_history_is_told_as_sound_before_it_is_brought_up_to_date() {
    let home = TempDir::new().unwrap();
    std::fs::create_dir_all(data(&home)).unwrap();
    let path = data(&home).join("history.sqlite");
    let fixture = include_str!("../fixtures/history-schema-1.sql");
    rusqlite::Connection::open(&path).unwrap().execute_batch(fixture).unwrap();
    let text = stdout(&etude(&home).arg("data").assert().success());
    assert!(text.contains("Schema       1") && text.contains("at the next start"), "{text}");
    let text = stdout(&etude(&home).args(["data", "check"]).assert().success());
    assert!(text.contains("sound"), "{text}");
    let text = stdout(&etude(&home).arg("data").assert().success());
    assert!(text.contains("Integrity    sound\n"), "{text}");
}

#[test]
fn a_newer_history_is_refused_by_name() {
    let home = TempDir::new().unwrap();
    practised(&data(&home), 3);
    let path = data(&home).join("history.sqlite");
    let connection = rusqlite::Connection::open(path).unwrap();
    let schema = etude::store::SCHEMA + 1;
    connection.pragma_update(None, "user_version", schema).unwrap();
    let words = stderr(&etude(&home).arg("data").assert().code(1));
    let newer = format!("newer etude (schema {schema}; this one knows up to {})", schema - 1);
    assert!(words.contains(&newer), "{words}");
}

#[test]
fn exports_read_back_as_csv_and_as_json_lines() {
    let home = TempDir::new().unwrap();
    practised(&data(&home), 12);
    for (what, rows) in [("sessions", 2), ("drills", 2), ("keystrokes", 24)] {
        let csv = stdout(&etude(&home).args(["data", "export", what]).assert().success());
        let records = read_csv(&csv);
        assert_eq!(records.len(), rows + 1, "{what}");
        let args = ["data", "export", what, "--format", "jsonl"];
        let text = stdout(&etude(&home).args(args).assert().success());
        let lines: Vec<serde_json::Map<String, serde_json::Value>> =
            text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        assert_eq!(lines.len(), rows);
        for (record, line) in records[1..].iter().zip(&lines) {
            assert_eq!(record.len(), records[0].len());
            for (name, field) in records[0].iter().zip(record) {
                let value = match &line[name] {
                    serde_json::Value::Null => String::new(),
                    serde_json::Value::String(text) => text.clone(),
                    other => other.to_string(),
                };
                assert_eq!(&value, field, "{what} {name}");
            }
        }
    }
    let csv = stdout(&etude(&home).args(["data", "export", "keystrokes"]).assert().success());
    let records = read_csv(&csv);
    let column = |name: &str| records[0].iter().position(|n| n == name).unwrap();
    let got: Vec<&str> = records[1..13].iter().map(|r| r[column("expected")].as_str()).collect();
    assert_eq!(got[..6], ["a", ",", "\"", "[", "Space", "="]);
    assert_eq!(records[5][column("verdict")], "miss");
    assert_eq!(records[5][column("layer")], "marks");
    assert_eq!(records[1][column("flags")], "first");
    assert_eq!(records[1][column("latency_us")], "");
    let csv = stdout(&etude(&home).args(["data", "export", "sessions"]).assert().success());
    assert!(csv.contains("18446744073709551615"), "{csv}");
}

/// A small reader of RFC 4180, to check the writer against.
fn read_csv(text: &str) -> Vec<Vec<String>> {
    let mut records = Vec::new();
    let (mut record, mut field, mut quoted) = (Vec::new(), String::new(), false);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                field.push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => record.push(std::mem::take(&mut field)),
            '\r' if !quoted => assert_eq!(chars.peek(), Some(&'\n')),
            '\n' if !quoted => {
                record.push(std::mem::take(&mut field));
                records.push(std::mem::take(&mut record));
            }
            c => field.push(c),
        }
    }
    assert!(record.is_empty() && field.is_empty() && !quoted);
    records
}

#[test]
fn since_leaves_out_what_came_before() {
    let home = TempDir::new().unwrap();
    practised(&data(&home), 5);
    for (day, rows) in [("2026-11-24", 2), ("2026-11-25", 1), ("2026-11-26", 0)] {
        let args = ["data", "export", "sessions", "--since", day];
        let csv = stdout(&etude(&home).args(args).assert().success());
        assert_eq!(read_csv(&csv).len(), rows + 1, "{day}");
    }
    for day in ["yesterday", "2026-02-30", "25.11.2026"] {
        let args = ["data", "export", "sessions", "--since", day];
        let words = stderr(&etude(&home).args(args).assert().code(2));
        assert!(words.contains(day) && words.contains("YYYY-MM-DD"), "{words}");
    }
}

#[test]
fn an_export_never_overwrites() {
    let home = TempDir::new().unwrap();
    practised(&data(&home), 5);
    let file = home.path().join("strokes.csv");
    let export = |home: &TempDir| {
        let mut command = etude(home);
        command.args(["data", "export", "keystrokes", "--output"]).arg(&file);
        command
    };
    assert_eq!(stdout(&export(&home).assert().success()), "");
    let written = fs::read_to_string(&file).unwrap();
    assert_eq!(read_csv(&written).len(), 11);
    fs::write(&file, "tide table").unwrap();
    let words = stderr(&export(&home).assert().code(1));
    assert!(words.contains("is not overwritten"), "{words}");
    assert_eq!(fs::read_to_string(&file).unwrap(), "tide table");
}

#[test]
fn a_reader_that_goes_away_wants_silence() {
    let home = TempDir::new().unwrap();
    // Far more than a pipe holds (64 KiB on Linux).
    practised(&data(&home), 2_000);
    let mut child = Command::new(env!("CARGO_BIN_EXE_etude"))
        .args(["data", "export", "keystrokes", "--data"])
        .arg(data(&home))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = [0; 16];
    child.stdout.take().unwrap().read_exact(&mut first).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
    assert!(output.status.success());
}

#[test]
fn a_folder_named_by_flag_or_variable_wins() {
    let home = TempDir::new().unwrap();
    let other = home.path().join("logs");
    practised(&other, 4);
    let text = stdout(&etude(&home).args(["data", "--data"]).arg(&other).assert().success());
    assert!(text.contains("Keystrokes   8\n"), "{text}");
    let text = stdout(&etude(&home).arg("data").env("ETUDE_DATA", &other).assert().success());
    assert!(text.contains("Keystrokes   8\n"), "{text}");
    let xdg = home.path().join("xdg");
    let command = &mut etude(&home);
    let text = stdout(&command.arg("data").env("XDG_DATA_HOME", &xdg).assert().success());
    assert!(text.contains(&format!("{}/etude/history", xdg.display())), "{text}");
    let command = &mut etude(&home);
    let text = stdout(&command.arg("data").env("XDG_DATA_HOME", "relative").assert().success());
    assert!(text.contains(".local/share/etude"), "{text}");
}
