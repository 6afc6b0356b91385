//! Editing tasks through the real binary: by script, and in terminals of each
//! kind.

use crate::commands::etude;
use crate::practice::{Driven, kept};
use crate::screen::{Answers, Screen, Setup};
use etude::drill::{Drill, Prompt, Recollect, What};
use etude::editor::common;
use etude::keyboard::{ChordKey, Modifiers, NamedKey, Output};
use etude::layout::{Cluster, RouteTable, shipped};
use etude::practice::{self, Material, compose};
use etude::session::{Granted, Level};
use etude::units::Micros;
use std::sync::Arc;
use tempfile::TempDir;

/// The first drill of movement that a terminal of this kind gets.
fn first_drill(answers: Answers) -> Drill {
    let layout = Arc::new(shipped::load("tern-split").unwrap());
    let setup = practice::Setup {
        routes: Arc::new(RouteTable::build(&layout)),
        layout,
        material: Material::Rotation(vec![What::Cluster(Cluster::Navigation)]),
        drills_of: None,
        seed: 7,
        budget: Micros::from_secs(600),
        width: 72,
        level: match answers {
            Answers::Enhanced => Level::Enhanced(Granted::all()),
            _ => Level::Plain,
        },
        bindings: Arc::new(common().unwrap().clone()),
        checked: Arc::default(),
    };
    compose(&setup, 0, &Recollect::default()).unwrap().drill
}

/// What a terminal sends for `key`: cursor and editing keys as xterm has
/// always sent them, modifiers as 1 + Shift 1 + Alt 2 + Ctrl 4.
fn bytes(key: &Output, answers: Answers) -> Vec<u8> {
    let (named, modifiers) = match key {
        Output::Key(key) => (*key, Modifiers::empty()),
        Output::Chord(chord) => match chord.key {
            ChordKey::Named(key) => (key, chord.modifiers),
            ChordKey::Char(c) => {
                return match answers {
                    Answers::Enhanced => {
                        let code = modifier_code(chord.modifiers);
                        format!("\x1b[{};{code}u", u32::from(c)).into_bytes()
                    }
                    _ => vec![c as u8 & 0x1f],
                };
            }
        },
        Output::Text(text) => return text.as_bytes().to_vec(),
    };
    let code = modifier_code(modifiers);
    let letter = |letter: char| match code {
        1 => format!("\x1b[{letter}"),
        code => format!("\x1b[1;{code}{letter}"),
    };
    let number = |number: u8| match code {
        1 => format!("\x1b[{number}~"),
        code => format!("\x1b[{number};{code}~"),
    };
    match named {
        NamedKey::ArrowUp => letter('A'),
        NamedKey::ArrowDown => letter('B'),
        NamedKey::ArrowRight => letter('C'),
        NamedKey::ArrowLeft => letter('D'),
        NamedKey::Home => letter('H'),
        NamedKey::End => letter('F'),
        NamedKey::Delete => number(3),
        NamedKey::PageUp => number(5),
        NamedKey::PageDown => number(6),
        NamedKey::Backspace if answers == Answers::Enhanced => match code {
            1 => "\x1b[127u".to_owned(),
            code => format!("\x1b[127;{code}u"),
        },
        NamedKey::Backspace => "\x7f".to_owned(),
        other => panic!("no bytes for {other}"),
    }
    .into_bytes()
}

fn modifier_code(modifiers: Modifiers) -> u8 {
    let mut code = 1;
    for (modifier, weight) in [(Modifiers::SHIFT, 1), (Modifiers::ALT, 2), (Modifiers::CTRL, 4)] {
        if modifiers.contains(modifier) {
            code += weight;
        }
    }
    code
}

#[test]
fn a_drill_of_movement_in_every_kind_of_terminal() {
    for answers in [Answers::Enhanced, Answers::Plain] {
        let drill = first_drill(answers);
        let home = TempDir::new().unwrap();
        let args = ["practice", "navigation", "--seed", "7"];
        let mut screen = Screen::start(&home, &args, &Setup::answering(answers));
        screen.wait_for_text("numbness");
        screen.send(b"\r");
        screen.wait_for_text("shows the next key");
        screen.wait_for_text("go to the mark");
        let mut keys = Vec::new();
        for edit in drill.prompts.iter().filter_map(Prompt::edit) {
            for step in &edit.way.steps {
                screen.send(&bytes(&step.output, answers));
                keys.push(step.output.to_string());
            }
        }
        screen.wait_for_text("drill 1 done");
        screen.wait_for_text(&format!("tasks done with {} keys, par {}", keys.len(), keys.len()));
        screen.wait_for_text("next step");
        // A shortest way of the first task, step by step.
        screen.wait_for_text("step 1 of 1");
        screen.send(&bytes(&Output::Key(NamedKey::ArrowRight), answers));
        screen.wait_for_text("no way is quicker");
        screen.send(if answers == Answers::Enhanced { b"\x1b[27u" } else { b"\x1b" });
        assert_eq!(screen.wait_exit(), 0);
        screen.assert_left();
        let kept = kept(&home);
        let expected: Vec<&str> = kept.iter().map(|k| k["expected"].as_str().unwrap()).collect();
        assert_eq!(expected, keys, "{answers:?}");
        assert!(kept.iter().all(|k| k["verdict"] == "hit"), "{answers:?}");
    }
}

/// A plain terminal can't tell Ctrl+Backspace from Backspace: no task counts on
/// it there.
#[test]
fn no_task_counts_on_a_key_that_cannot_arrive() {
    let with = |answers| {
        first_drill(answers).prompts.iter().filter_map(Prompt::edit).any(|edit| {
            edit.tools.tools().iter().any(|tool| tool.output.to_string() == "Ctrl+Backspace")
        })
    };
    assert!(with(Answers::Enhanced));
    assert!(!with(Answers::Plain));
}

#[test]
fn a_script_edits_and_hears_what_each_key_came_to() {
    let home = TempDir::new().unwrap();
    let mut driven = Driven::start(&home, &["navigation", "--seed", "7"]);
    let drill = driven.until("drill");
    assert_eq!(drill["cluster"], "navigation");
    let prompt = driven.until("prompt");
    assert_eq!(prompt["kind"], "edit");
    assert!(prompt["task"]["text"].as_str().unwrap().contains('\n'));
    assert_eq!(prompt["task"]["par"], 1);
    driven.until("due");
    driven.strike("F5");
    assert_eq!(driven.until("judgement")["verdict"], "miss");
    assert_eq!(driven.until("editor")["told"], "unbound");
    let mut result = None;
    while result.is_none() {
        let line = driven.next().unwrap();
        match line["type"].as_str().unwrap() {
            "due" => driven.strike(line["output"].as_str().unwrap()),
            "judgement" => assert_eq!(line["verdict"], "hit"),
            "editor" => assert_eq!(line["told"], "nearer"),
            "result" => result = Some(line),
            _ => {}
        }
    }
    let result = result.unwrap();
    let edits = result["edits"].as_array().unwrap();
    assert_eq!(edits.len() as u64, drill["prompts"].as_u64().unwrap());
    for (n, edit) in edits.iter().enumerate() {
        let keys = edit["keys"].as_array().unwrap().len() as u64;
        assert_eq!(edit["done"], true);
        assert_eq!(keys, edit["par"].as_u64().unwrap() + u64::from(n == 0));
    }
    driven.end();
}

#[test]
fn a_plain_board_is_told_which_presses_left_the_home_block() {
    let home = TempDir::new().unwrap();
    let mut driven = Driven::start(&home, &["navigation", "--seed", "7", "--layout", "plain-ansi"]);
    driven.until("due");
    driven.strike("ArrowDown");
    driven.until("judgement");
    driven.send(r#"{"command":"leave"}"#);
    assert_eq!(driven.until("result")["edits"][0]["off_home"], 1);
    driven.end();
}

#[test]
fn text_of_ones_own_is_edited_and_not_kept() {
    let home = TempDir::new().unwrap();
    let text = home.path().join("notes.txt");
    let lines: Vec<String> = (0..9).map(|n| format!("Zwin sluice, reading {n}")).collect();
    std::fs::write(&text, lines.join("\n")).unwrap();
    let args = ["navigation", "--text", text.to_str().unwrap(), "--seed", "7"];
    let mut driven = Driven::start(&home, &args);
    let prompt = driven.until("prompt");
    assert!(prompt["task"]["text"].as_str().unwrap().contains("Zwin"));
    for _ in 0..5 {
        let due = driven.until("due");
        driven.strike(due["output"].as_str().unwrap());
    }
    driven.until("judgement");
    driven.end();
    let folder = home.path().join(".local/share/etude");
    for entry in std::fs::read_dir(folder).unwrap() {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        assert!(!crate::screen::contains(&bytes, b"Zwin"), "the text was kept");
    }
}

#[test]
fn keys_of_ones_own_are_taken_and_faults_told() {
    let home = TempDir::new().unwrap();
    let file = home.path().join("keys.toml");
    let run = |source: &str| {
        std::fs::write(&file, source).unwrap();
        let path = file.to_str().unwrap();
        etude(&home).args(["practice", "navigation", "--script", "--keys", path]).assert()
    };
    run("[keys]\ndown = [\"PageDown\"]\npage-down = []\n").success();
    let told = run("[keys]\ndwon = [\"PageDown\"]\n").code(1).get_output().stderr.clone();
    let told = String::from_utf8(told).unwrap();
    assert!(told.contains("keys.toml, line 2") && told.contains("'down'"), "{told}");
}
