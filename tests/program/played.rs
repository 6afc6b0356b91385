//! Drills with played layers: by script, and in terminals with and without
//! releases.

use crate::commands::etude;
use crate::practice::{Driven, kept};
use crate::screen::{Answers, Screen, Setup};
use etude::keyboard::{NamedKey, Output, Position};
use etude::layout::{AccessStep, LayerId, Layout, Route, RouteTable, Target, shipped};
use etude::played::Host;
use serde_json::{Value, json};
use tempfile::TempDir;

const LAYOUT: &str = "tern-laptop";

/// What the hands do for one item on the plain keyboard: keys by name, down
/// (true) or up.
type Moves = Vec<(String, bool)>;

struct Plan {
    layout: Layout,
    table: RouteTable,
    host: Host,
}

impl Plan {
    fn new() -> Self {
        let layout = shipped::load(LAYOUT).unwrap();
        let table = RouteTable::build(&layout);
        Self { table, layout, host: Host::new(&shipped::load("plain-ansi").unwrap()) }
    }

    fn route(&self, item: &str) -> &Route {
        let output: Output = item.parse().unwrap();
        // The laptop has a Shift key of its own, which a layer spares.
        let routes = self.table.all(&output);
        routes.iter().find(|route| route.modifiers.is_empty()).unwrap_or(&routes[0])
    }

    fn name(&self, position: Position) -> String {
        self.host.name_of(position)
    }

    fn moves(&self, item: &str) -> Moves {
        let route = self.route(item);
        let mut moves = Vec::new();
        // A plain keyboard tells Shift by its name, whichever side it is.
        let access = |step: &AccessStep| match step.access.target {
            Target::Modifier(modifier) => modifier.key().name().to_owned(),
            Target::Layer(_) => self.name(step.position),
        };
        for step in &route.accesses {
            moves.push((access(step), true));
        }
        let key = self.name(route.position);
        moves.extend([(key.clone(), true), (key, false)]);
        for step in route.accesses.iter().rev() {
            moves.push((access(step), false));
        }
        moves
    }
}

fn items(prompt: &Value) -> Vec<String> {
    let items = prompt["items"].as_array().unwrap().iter();
    items.map(|item| item.as_str().unwrap().to_owned()).collect()
}

fn args(what: &'static str) -> [&'static str; 6] {
    [what, "--layout", LAYOUT, "--seed", "7", "--played"]
}

/// Plays the first drill by script; its lines.
fn first_drill(home: &TempDir, what: &'static str) -> Vec<Vec<String>> {
    let plan = Plan::new();
    let mut driven = Driven::start(home, &args(what));
    let hello = driven.until("hello");
    assert_eq!(hello["layout"], "tern-laptop.played");
    assert_eq!(hello["played"], true);
    let (mut lines, mut at) = (Vec::new(), 0_u64);
    let drill = driven.until("drill");
    for _ in 0..drill["prompts"].as_u64().unwrap() {
        let line = items(&driven.until("prompt"));
        for item in &line {
            for (key, down) in plan.moves(item) {
                at += 60_000;
                let state = if down { "press" } else { "release" };
                driven.send(&json!({ "at_us": at, "key": key, "state": state }).to_string());
            }
            let judged = driven.until("judgement");
            assert_eq!(judged["verdict"], "hit", "{judged}");
        }
        lines.push(line);
    }
    let result = driven.until("result");
    assert_eq!(result["complete"], true, "{result}");
    driven.end();
    lines
}

#[test]
fn a_drill_is_played_by_script_and_its_history_is_apart() {
    let home = TempDir::new().unwrap();
    let lines = first_drill(&home, "symbols");
    let kept = kept(&home);
    assert_eq!(kept.len(), lines.iter().map(Vec::len).sum::<usize>());
    assert!(kept.iter().all(|stroke| stroke["verdict"] == "hit"), "{kept:?}");
    // Layers were used, and the release of keys was told.
    assert!(kept.iter().any(|stroke| stroke["layer"] == "symbols"));
    let keys = |more: &[&str]| {
        let args = [&["progress", "--json", "--layout", LAYOUT], more].concat();
        let output = etude(&home).args(args).assert().success().get_output().stdout.clone();
        let progress: Value = serde_json::from_slice(&output).unwrap();
        progress["items"].as_array().unwrap().len()
    };
    assert!(keys(&["--played"]) > 20);
    assert_eq!(keys(&[]), 0, "the history of a keyboard that has the layers is untouched");
}

/// What a terminal with the whole protocol sends for a key.
fn enhanced((key, down): &(String, bool)) -> Vec<u8> {
    let state = if *down { 1 } else { 3 };
    let (code, text) = match key.as_str() {
        "Space" => (32, Some(32)),
        "Enter" => (13, None),
        "Tab" => (9, None),
        "Escape" => (27, None),
        "Backspace" => (127, None),
        "CapsLock" => (57358, None),
        "Shift" => (57441, None),
        "AltGraph" => (57453, None),
        key => {
            let code = u32::from(key.chars().next().unwrap());
            (code, Some(code))
        }
    };
    match text.filter(|_| *down) {
        Some(text) => format!("\x1b[{code};1:{state};{text}u").into_bytes(),
        None => format!("\x1b[{code};1:{state}u").into_bytes(),
    }
}

#[test]
fn a_drill_with_held_layers_in_the_enhanced_protocol() {
    let plan = Plan::new();
    for what in ["symbols", "punctuation"] {
        let lines = first_drill(&TempDir::new().unwrap(), what);
        let home = TempDir::new().unwrap();
        let args = [&["practice"], args(what).as_slice()].concat();
        let mut screen = Screen::start(&home, &args, &Setup::answering(Answers::Enhanced));
        screen.wait_for_text("numbness");
        screen.wait_for_text("Layers played by Etude: hold");
        screen.send(b"\x1b[13u\x1b[13;1:3u");
        screen.wait_for_text("strike");
        let mut typed = 0;
        for item in lines.iter().flatten() {
            for step in plan.moves(item) {
                screen.send(&enhanced(&step));
            }
            typed += 1;
        }
        screen.wait_for_text("drill 1 done");
        screen.wait_for_text("end the sitting");
        screen.wait_for_text("Layers played by Etude: hold");
        screen.send(b"\x1b[27u");
        assert_eq!(screen.wait_exit(), 0);
        screen.assert_left();
        let kept = kept(&home);
        assert_eq!(kept.len(), typed, "{what}");
        assert!(kept.iter().all(|stroke| stroke["verdict"] == "hit"), "{what}");
    }
}

#[test]
fn a_plain_terminal_latches_and_locks_and_says_so() {
    let home = TempDir::new().unwrap();
    let args = ["practice", "symbols", "--seed", "7", "--played", "--stand-in", "symbols=F9"];
    let mut screen = Screen::start(&home, &args, &Setup::answering(Answers::Plain));
    screen.wait_for_text("numbness");
    screen.send(b"\r");
    screen.wait_for_text("strike");
    screen.wait_for_text("F9 S; twice locks".split(';').next().unwrap());
    screen.wait_for_text("twice locks");
    // F9 once, and twice.
    screen.send(b"\x1b[20~");
    screen.wait_for_text("F9 ¹S");
    screen.send(b"\x1b[20~");
    screen.wait_for_text("F9 ∞S");
    // j on the locked layer is a bracket, whatever is due.
    screen.send(b"\x01");
    screen.wait_for_text("struck Ctrl+$");
    screen.send(b"\x1b[20~");
    screen.wait_for_text("F9 S");
    screen.send(b"\x1b\x1b\x1b");
    screen.wait_for_text("end the sitting");
    screen.send(b"\x1b");
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
}

#[test]
fn a_wish_that_names_nothing_is_wrong_usage() {
    let home = TempDir::new().unwrap();
    for (args, told) in [
        (vec!["--played", "--stand-in", "symbls=F5"], "did you mean 'symbols'"),
        (vec!["--played", "--stand-in", "nonsense"], "names no stand-in"),
        (vec!["--stand-in", "LT2=CapsLock"], "--played"),
        (vec!["--played", "--old-way"], "cannot be used with"),
    ] {
        let refused = etude(&home).args(["practice", "--script"]).args(args).assert().code(2);
        let error = String::from_utf8(refused.get_output().stderr.clone()).unwrap();
        assert!(error.contains(told), "{error}");
    }
}

#[test]
fn what_the_plan_plays_is_on_the_layout() {
    let plan = Plan::new();
    let enter: NamedKey = "Enter".parse().unwrap();
    assert!(plan.table.preferred(&Output::Key(enter)).is_some());
    assert_eq!(plan.layout.layer(LayerId(2)).name, "symbols");
    assert_eq!(plan.moves("(")[0], ("CapsLock".to_owned(), true));
}
