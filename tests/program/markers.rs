//! A layout with a marker, from the script's events to the history's figures.

use crate::commands::etude;
use crate::practice::Driven;
use etude::layout::{file, shipped};
use serde_json::{Value, json};
use std::fs;
use tempfile::TempDir;

const REACH_US: u64 = 150_000;
const STRIKE_US: u64 = 100_000;

fn stdout(home: &TempDir, args: &[&str]) -> String {
    let assert = etude(home).args(args).assert().success();
    String::from_utf8(assert.get_output().stdout.clone()).unwrap()
}

/// Types one drill of symbols, the marker down as long as their layer is
/// needed; the judgements, each with whether the marker went down before it.
fn type_one_drill(home: &TempDir, layout: &str) -> Vec<(Value, bool)> {
    let mut driven = Driven::start(home, &["symbols", "--layout", layout, "--seed", "1"]);
    let (mut at, mut down, mut pressed, mut judged) = (0, false, false, Vec::new());
    while let Some(line) = driven.next() {
        match line["type"].as_str().unwrap() {
            "due" => {
                let needed = line["layer"] == "symbols";
                pressed = needed && !down;
                if needed != down {
                    let state = if needed { "press" } else { "release" };
                    let marker = json!({ "at_us": at + REACH_US, "key": "F13", "state": state });
                    driven.send(&marker.to_string());
                }
                down = needed;
                at += REACH_US + STRIKE_US;
                driven.send(&json!({ "at_us": at, "key": line["output"] }).to_string());
            }
            "judgement" => judged.push((line, pressed)),
            "result" => break,
            "error" => panic!("{line}"),
            _ => {}
        }
    }
    driven.send(r#"{"command":"leave"}"#);
    assert_eq!(driven.end().0, 0);
    judged
}

#[test]
fn reach_and_strike_go_from_the_script_to_progress() {
    let home = TempDir::new().unwrap();
    let mut layout = shipped::load("tern-split").unwrap();
    layout.name = "marked".to_owned();
    let symbols = layout.layer_named("symbols").unwrap();
    layout.layers[symbols.index()].marker = "F13".parse().ok();
    let path = home.path().join("marked.toml");
    fs::write(&path, file::write(&layout)).unwrap();
    let path = path.to_str().unwrap();

    let judged = type_one_drill(&home, path);
    let mut n = 0;
    for (line, pressed) in &judged {
        assert_eq!(line["verdict"], "hit", "{line}");
        let told = *pressed && line["latency_us"].is_u64();
        let reach = if told { json!(REACH_US) } else { Value::Null };
        assert_eq!(line["reach_us"], reach, "{line}");
        n += u32::from(told);
    }
    assert!(n > 5, "{n} of {}", judged.len());
    let held = |line: &Value| line["flags"].as_array().unwrap().contains(&json!("layer-held"));
    assert!(judged.iter().all(|(line, _)| !held(line) || line["layer"] == "symbols"));
    assert!(judged.iter().any(|(line, _)| held(line)));

    let json = stdout(&home, &["progress", "--layout", path, "--json"]);
    let value: Value = serde_json::from_str(&json).unwrap();
    let switches = value["switches"].as_array().unwrap();
    let arrival = |from: &str, to: &str| {
        let found = switches.iter().find(|s| s["from"] == from && s["to"] == to);
        found.unwrap_or_else(|| panic!("no switch {from}, {to} in {json}"))
    };
    let parts = &arrival("base", "symbols")["parts"];
    assert_eq!(parts["reach"]["median_us"], REACH_US, "{parts}");
    assert_eq!(parts["strike"]["median_us"], STRIKE_US, "{parts}");
    assert_eq!(arrival("symbols", "base").get("parts"), None);
    let text = stdout(&home, &["progress", "--layout", path]);
    assert!(text.contains("Reach to the access key, strike from it"), "{text}");
    let csv = stdout(&home, &["data", "export", "keystrokes"]);
    assert!(csv.lines().next().unwrap().ends_with(",flags,reach_us"), "{csv}");
}
