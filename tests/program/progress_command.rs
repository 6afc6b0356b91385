//! `etude progress` with and without a history, and `--old-way`.

use crate::commands::etude;
#[cfg(unix)]
use crate::practice::Driven;
#[cfg(unix)]
use crate::screen::{Screen, Setup};
use crate::strokes::{drill, end, session, stroke};
use etude::drill::Source;
use etude::keyboard::Output;
use etude::layout::{file, shipped};
use etude::store::{Ended, LayoutRecord, SessionStart, Sitting, Store, wall_clock};
use etude::units::Micros;
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// A day that lies in the past wherever the clock stands.
const DAY: &str = "2026-03-02";

/// Two days of 30 keystrokes on tern-split, one day of 60 on its old way.
pub fn practised(home: &TempDir) {
    let dir = home.path().join(".local/share/etude");
    let first = wall_clock::day_from_text(DAY).unwrap();
    for (after, layout, n) in [(0, "tern-split", 30), (1, "plain-ansi", 60), (2, "tern-split", 30)]
    {
        sitting(&dir, first + after, layout, n);
    }
}

fn sitting(dir: &Path, day: i32, layout: &str, n: u32) {
    let layout = shipped::load(layout).unwrap();
    let start = SessionStart {
        layout: LayoutRecord::new(&layout, &file::write(&layout)),
        ..session(i64::from(day) * 86_400_000 + 8 * 3_600_000, 1)
    };
    let mut sitting = Sitting::begin(dir, Some(Store::open(dir).unwrap()), start);
    sitting.begin_drill(&drill("lists", Source::Shipped));
    for seq in 0..n {
        let mut stroke = stroke(seq);
        if layout.layers.len() == 1 {
            stroke.layer = etude::layout::LayerId::BASE;
            stroke.previous_layer = etude::layout::LayerId::BASE;
        } else if stroke.layer.0 == 1 {
            // The second layer with symbols.
            stroke.layer = layout.layer_named("symbols").unwrap();
        }
        sitting.keystroke(&stroke);
    }
    sitting.end_drill(&end());
    assert_eq!(sitting.end(Ended::Done, Micros::from_secs(9)).trouble, None);
}

fn run(home: &TempDir, args: &[&str]) -> String {
    let assert = etude(home).arg("progress").args(args).assert().success();
    String::from_utf8(assert.get_output().stdout.clone()).unwrap()
}

fn refused(home: &TempDir, args: &[&str], code: i32) -> String {
    let assert = etude(home).args(args).assert().code(code);
    String::from_utf8(assert.get_output().stderr.clone()).unwrap()
}

/// RFC 4180 by hand: records end in CRLF, quoted fields may hold anything.
fn records(text: &str) -> Vec<Vec<String>> {
    let (mut rows, mut row, mut field, mut quoted) = (Vec::new(), Vec::new(), String::new(), false);
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        match (c, quoted) {
            ('"', true) if chars.peek() == Some(&'"') => {
                chars.next();
                field.push('"');
            }
            ('"', _) => quoted = !quoted,
            (',', false) => row.push(std::mem::take(&mut field)),
            ('\r', false) => {
                assert_eq!(chars.next(), Some('\n'));
                row.push(std::mem::take(&mut field));
                rows.push(std::mem::take(&mut row));
            }
            (c, _) => field.push(c),
        }
    }
    assert!(field.is_empty() && row.is_empty(), "the last record ends in CRLF");
    rows
}

#[test]
fn without_a_history_it_says_so_and_makes_nothing() {
    let home = TempDir::new().unwrap();
    for args in [&[][..], &["--plain"], &["--layer", "symbols"]] {
        assert!(run(&home, args).contains("No practice history yet"), "{args:?}");
    }
    let value: Value = serde_json::from_str(&run(&home, &["--json"])).unwrap();
    assert_eq!((&value["schema"], &value["exists"]), (&"etude.progress/1".into(), &false.into()));
    assert_eq!(run(&home, &["--csv"]), "");
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
}

#[test]
fn plain_tables_tell_layers_switches_keys_and_weeks() {
    let home = TempDir::new().unwrap();
    practised(&home);
    let text = run(&home, &[]);
    for words in [
        "tern-split: ",
        "everything up to ",
        "Layers (medians in ms",
        "The last 14 days against those before",
        "Against the old way, plain-ansi",
        "Arrivals, and staying on a layer",
        "Practice by week",
        "2026-03-02",
        "too few to tell",
    ] {
        assert!(text.contains(words), "{words:?} in\n{text}");
    }
    assert!(text.is_ascii() && !text.contains('\u{1b}'), "{text}");
    assert!(text.lines().all(|line| line.len() <= 100), "{text}");
    let text = run(&home, &["--since", "2026-03-03", "--layer", "symbols"]);
    let layers = text.split("Arrivals").next().unwrap();
    assert!(layers.contains("2026-03-03 to ") && !layers.contains("  base  "), "{text}");
    let text = run(&home, &["--since", "2026-03-05"]);
    assert!(text.contains("Nothing of this layout was practised in this range"), "{text}");
}

#[test]
fn json_and_csv_hold_the_same_sums() {
    let home = TempDir::new().unwrap();
    practised(&home);
    let value: Value = serde_json::from_str(&run(&home, &["--json"])).unwrap();
    assert_eq!(value["schema"], "etude.progress/1");
    assert_eq!((&value["layout"], &value["step"]), (&"tern-split".into(), &"day".into()));
    let sum = |list: &Value| -> u64 {
        list.as_array().unwrap().iter().map(|v| v["n_keystrokes"].as_u64().unwrap()).sum()
    };
    assert_eq!(sum(&value["layers"]), 60);
    assert_eq!(sum(&value["items"]), 60);
    assert_eq!(sum(&value["switches"]), 60);
    // The calendar is of every layout.
    assert_eq!(sum(&value["calendar"]), 120);
    let symbols = value["layers"].as_array().unwrap();
    let symbols = symbols.iter().find(|layer| layer["layer"] == "symbols").unwrap();
    assert_eq!(symbols["points"].as_array().unwrap().len(), 2);
    assert_eq!(symbols["points"][0]["day"], DAY);
    assert!(symbols["latency"]["median_us"].as_u64().unwrap() > 0);
    assert!(symbols["old_way"]["latency"]["n"].as_u64().unwrap() > 0);
    assert_eq!(symbols["outlook"]["n_items"], 24);
    assert!(symbols["outlook"]["n_learning"].as_u64().unwrap() > 0, "{symbols}");

    for (table, columns, n) in
        [("layers", 10, 60), ("items", 12, 60), ("switches", 9, 60), ("calendar", 4, 120)]
    {
        let text = run(&home, &["--csv", table]);
        let rows = records(&text);
        assert!(rows.iter().all(|row| row.len() == columns), "{table}: {text}");
        let at = rows[0].iter().position(|name| name == "n_keystrokes").unwrap();
        let sum: u64 = rows[1..].iter().map(|row| row[at].parse::<u64>().unwrap()).sum();
        assert_eq!(sum, n, "{table}: {text}");
    }
    let rows = records(&run(&home, &["--csv", "items"]));
    for output in ["\"", ",", "Space"] {
        let output: Output =
            if output == "Space" { Output::char(' ') } else { output.parse().unwrap() };
        assert!(rows.iter().any(|row| row[2] == output.to_string()), "{output}: {rows:?}");
    }
    assert_eq!(run(&home, &["--csv"]), run(&home, &["--csv", "layers"]));
}

#[test]
fn what_makes_no_sense_is_named() {
    let home = TempDir::new().unwrap();
    let words = refused(&home, &["progress", "--layer", "symbol"], 2);
    assert!(words.contains("no layer 'symbol'") && words.contains("symbols"), "{words}");
    let words = refused(&home, &["progress", "--since", "monday"], 2);
    assert!(words.contains("YYYY-MM-DD"), "{words}");
    refused(&home, &["progress", "--json", "--csv"], 2);
    let words = refused(&home, &["practice", "--old-way", "--layout", "plain-ansi", "--script"], 2);
    assert!(words.contains("names no old way"), "{words}");
}

#[cfg(unix)]
#[test]
fn the_old_way_practises_the_same_drills_under_its_own_name() {
    let home = TempDir::new().unwrap();
    let args = ["symbols", "--seed", "5"];
    let mut prompts = Vec::new();
    for more in [&[][..], &["--old-way"]] {
        let mut driven = Driven::start(&home, &[&args[..], more].concat());
        prompts.push(driven.until("prompt")["items"].clone());
        let due = driven.until("due");
        let strikes = due["route"].as_array().unwrap().len();
        driven.strike(due["output"].as_str().unwrap());
        let layer = driven.until("judgement")["layer"].clone();
        if !more.is_empty() {
            assert_eq!(layer, "base");
        }
        assert!(strikes > 0);
        assert_eq!(driven.end().0, 0);
    }
    assert_eq!(prompts[0], prompts[1]);
    let assert = etude(&home).args(["data", "export", "sessions"]).assert().success();
    let text = String::from_utf8(assert.get_output().stdout.clone()).unwrap();
    assert!(text.contains("tern-split") && text.contains("plain-ansi"), "{text}");
}

#[cfg(unix)]
#[test]
fn on_a_terminal_it_is_a_full_screen() {
    let home = TempDir::new().unwrap();
    practised(&home);
    let args = ["progress", "--since", DAY];
    let mut screen = Screen::start(&home, &args, &Setup::default());
    screen.wait_for_text("[layers]");
    screen.wait_for_text("since 2026-03-02");
    screen.send(b"\t");
    screen.wait_for_text("base latency");
    screen.send(b"?");
    screen.wait_for_text("capitals count with their key");
    screen.send(b"\x1b");
    screen.wait_for_text("[board]");
    screen.send(b"\x1b");
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
    // From the start screen by one key, and back.
    let mut screen = Screen::start(&home, &[], &Setup::default());
    screen.wait_for_text("practise");
    screen.send(b"p");
    screen.wait_for_text("[layers]");
    screen.send(b"\x1b");
    screen.wait_for_text("practise");
    screen.send(b"\x1b");
    assert_eq!(screen.wait_exit(), 0);
}
