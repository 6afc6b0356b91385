//! Any lines and near-lines of a script: reading never panics, a bad line
//! changes nothing, time never goes back, no control character comes through,
//! and the session takes every event that was read.
//!
//! `cargo fuzz run --fuzz-dir tests/fuzz --sanitizer none script_line`
#![no_main]

use etude::drill::{self, Drill, STROKES, What};
use etude::input::script::{Request, Script};
use etude::layout::{Cluster, RouteTable, shipped};
use etude::session::{EventKind, Level, Session, Spec, StrokeKey};
use etude::units::Micros;
use libfuzzer_sys::fuzz_target;
use serde_json::json;
use std::sync::{Arc, LazyLock};

static SETTING: LazyLock<(Arc<RouteTable>, Drill)> = LazyLock::new(|| {
    let layout = shipped::load("tern-small").expect("a shipped layout");
    let routes = RouteTable::build(&layout);
    let drill = drill::generate(&drill::Request {
        layout: &layout,
        routes: &routes,
        what: What::Cluster(Cluster::Symbols),
        seed: 7,
        ordinal: 0,
        strokes: STROKES,
        width: 72,
        weights: None,
        recollect: None,
    })
    .expect("a drill");
    (Arc::new(routes), drill)
});

/// What a line is made of: which shape, time, and words.
type Line = (u8, u64, String, String, char);

fn line((shape, at_us, key, text, base): &Line) -> String {
    const NAMES: [&str; 8] =
        ["Enter", "Tab", "Backspace", "Escape", "Space", "Ctrl+C", "Shift+Tab", "Ctrl+Alt+Delete"];
    const EVENTS: [&str; 4] = ["focus-lost", "focus-gained", "interrupted", "tick"];
    const COMMANDS: [&str; 2] = ["next", "again"];
    const STATES: [&str; 3] = ["press", "repeat", "release"];
    let some = |words: &[&'static str]| words[key.len() % words.len()];
    match shape % 8 {
        0 => key.clone(),
        1 => json!({ "at_us": at_us, "key": some(&NAMES) }).to_string(),
        2 => json!({ "at_us": at_us, "event": some(&EVENTS) }).to_string(),
        3 => json!({ "command": some(&COMMANDS) }).to_string(),
        4 => json!({ "at_us": at_us, "key": base, "state": some(&STATES) }).to_string(),
        5 => json!({ "at_us": at_us, "key": base, "text": text, "base": base }).to_string(),
        6 => format!("{{\"at_us\":{at_us},\"key\":\"{key}\",{text}}}"),
        _ => json!({ "at_us": at_us, "key": key, "batched": text.is_empty() }).to_string(),
    }
}

fuzz_target!(|lines: Vec<Line>| {
    let (routes, drill) = &*SETTING;
    let mut script = Script::default();
    let spec = Spec { routes: Arc::clone(routes), level: Level::default() };
    let mut session = Session::new(spec);
    session.start(drill.clone());
    let mut before = Micros::ZERO;
    for parts in &lines {
        match script.read(&line(parts)) {
            Err(error) => {
                assert!(!error.to_string().is_empty());
                let same = format!("{{\"at_us\":{},\"event\":\"tick\"}}", before.0);
                assert!(script.read(&same).is_ok(), "a bad line changed the time");
            }
            Ok(Request::Event(event)) => {
                assert!(event.at >= before, "time went back");
                before = event.at;
                if let EventKind::Key(key) = &event.kind {
                    let text = key.stroke.text.as_deref().unwrap_or_default();
                    assert!(!text.contains(char::is_control), "{text:?}");
                    if let StrokeKey::Char(c) = key.stroke.key {
                        assert!(!c.is_control(), "{c:?}");
                    }
                }
                session.apply(&event);
            }
            Ok(Request::Next | Request::Again) => session.start(drill.clone()),
            Ok(Request::Leave) => {}
        }
    }
});
