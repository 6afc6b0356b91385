//! Drills of shortcuts through the real binary: in terminals of two kinds, and
//! over several sittings.

use crate::practice::{Driven, kept};
use crate::screen::{Answers, Screen, Setup};
use etude::drill::{Drill, Prompt, Recollect, Request, STROKES, What, generate, shortcuts};
use etude::keyboard::{Chord, ChordKey, Modifiers, NamedKey, Output};
use etude::layout::{Cluster, RouteTable, shipped};
use etude::model::recall::{NEW_A_DAY, Outcome};
use etude::session::{Checked, Finding, Granted, Level};
use etude::store::{Store, Terminals};
use std::collections::BTreeSet;
use tempfile::TempDir;

/// The first drill that a seed gives in a terminal of `level` of which so much
/// was `checked`.
fn first_drill(level: Level, checked: &Checked) -> Drill {
    let layout = shipped::load("tern-split").unwrap();
    let routes = RouteTable::build(&layout);
    let dues = shortcuts(&layout, &routes).unwrap().into_iter().map(|one| one.due);
    let absent = dues.filter(|due| !checked.arrives(level, due)).collect();
    generate(&Request {
        layout: &layout,
        routes: &routes,
        what: What::Cluster(Cluster::Shortcuts),
        seed: 7,
        ordinal: 0,
        strokes: STROKES,
        width: 72,
        weights: None,
        recollect: Some(&Recollect { absent, ..Recollect::default() }),
    })
    .unwrap()
}

/// What a terminal sends for a chord of the shipped layouts.
fn bytes(output: &Output, answers: Answers) -> Vec<u8> {
    let Output::Chord(Chord { modifiers, key }) = output else { panic!("{output}") };
    // Source: xterm's and the open protocol's number of modifiers.
    let mut number = 1;
    for (modifier, value) in [(Modifiers::SHIFT, 1), (Modifiers::ALT, 2), (Modifiers::CTRL, 4)] {
        number += if modifiers.contains(modifier) { value } else { 0 };
    }
    match key {
        ChordKey::Char(c) if answers == Answers::Enhanced => {
            format!("\x1b[{};{number}u\x1b[{};{number}:3u", *c as u32, *c as u32).into_bytes()
        }
        ChordKey::Char('/') => vec![0x1f],
        ChordKey::Char(c) => vec![*c as u8 - b'a' + 1],
        ChordKey::Named(key) => match key {
            NamedKey::PageUp => format!("\x1b[5;{number}~"),
            NamedKey::PageDown => format!("\x1b[6;{number}~"),
            NamedKey::ArrowUp => format!("\x1b[1;{number}A"),
            NamedKey::ArrowDown => format!("\x1b[1;{number}B"),
            NamedKey::ArrowRight => format!("\x1b[1;{number}C"),
            NamedKey::ArrowLeft => format!("\x1b[1;{number}D"),
            other => panic!("{other}"),
        }
        .into_bytes(),
    }
}

#[test]
fn a_whole_drill_of_shortcuts_in_both_kinds_of_terminal() {
    for answers in [Answers::Enhanced, Answers::Plain] {
        let level = match answers {
            Answers::Enhanced => Level::Enhanced(Granted::all()),
            _ => Level::Plain,
        };
        let drill = first_drill(level, &Checked::default());
        assert_eq!(drill.left_out.len(), if level == Level::Plain { 3 } else { 0 });
        let home = TempDir::new().unwrap();
        let args = ["practice", "shortcuts", "--seed", "7"];
        let mut screen = Screen::start(&home, &args, &Setup::answering(answers));
        screen.wait_for_text("numbness");
        screen.send(b"\r");
        screen.wait_for_text("? shows the answer");
        // Asking shows it, and is no answer.
        screen.send(b"?");
        screen.wait_for_text("strike ");
        screen.wait_for("the answer", |s| !s.contents().contains("? shows the answer"));
        let items: Vec<Output> = drill.prompts.iter().flat_map(Prompt::items).cloned().collect();
        for item in &items {
            screen.send(&bytes(item, answers));
        }
        screen.wait_for_text("drill 1 done");
        screen.wait_for_text("end the sitting");
        let told = screen.text();
        assert_eq!(
            told.contains("3 out of this terminal's reach"),
            level == Level::Plain,
            "{told}"
        );
        assert!(!told.contains("wpm"), "{told}");
        screen.send(b"\x1b");
        assert_eq!(screen.wait_exit(), 0);
        screen.assert_left();
        let kept = kept(&home);
        let expected: Vec<String> =
            kept.iter().map(|k| k["expected"].as_str().unwrap().to_owned()).collect();
        let due: Vec<String> = items.iter().map(Output::to_string).collect();
        assert_eq!(expected, due, "{answers:?}");
        assert!(kept.iter().all(|k| k["verdict"] == "hit"), "{answers:?}");
        let flags = |n: usize| kept[n]["flags"].to_string().to_lowercase();
        assert!(flags(0).contains("shown") && flags(0).contains("recalled"), "{}", flags(0));
        assert!(!flags(1).contains("shown") && flags(1).contains("recalled"), "{}", flags(1));
    }
}

/// What a check found swallowed or confused is not asked for, and what a
/// terminal leaks of what it keeps for itself is no error.
#[test]
fn what_does_not_arrive_is_left_out_and_what_leaks_is_no_error() {
    let home = TempDir::new().unwrap();
    let level = Level::Enhanced(Granted::all());
    let chord = |word: &str| word.parse::<Output>().unwrap();
    let mut checked = Checked::default();
    checked.note(&level.key(), chord("Ctrl+V"), Finding::Nothing);
    checked.note(&level.key(), chord("Ctrl+Shift+V"), Finding::Nothing);
    checked.note(&level.key(), chord("Ctrl+C"), Finding::Other(chord("Ctrl+X")));
    checked.note(&level.key(), chord("Ctrl+S"), Finding::Itself);
    let mut terminals = Terminals::default();
    terminals.set("xterm-256color", checked.clone());
    terminals.write(&home.path().join(".local/share/etude")).unwrap();

    let drill = first_drill(level, &checked);
    let items: Vec<Output> = drill.prompts.iter().flat_map(Prompt::items).cloned().collect();
    assert!(!items.iter().any(|item| *item == chord("Ctrl+V") || *item == chord("Ctrl+C")));
    let args = ["practice", "shortcuts", "--seed", "7"];
    let mut screen = Screen::start(&home, &args, &Setup::default());
    screen.wait_for_text("numbness");
    screen.send(b"\r");
    screen.wait_for_text("? shows the answer");
    for (n, item) in items.iter().enumerate() {
        if n % 5 == 1 {
            // The chord was kept: Ctrl and Shift came, then a release without
            // its press, as seen of terminals; the window was away meanwhile.
            screen.send(b"\x1b[57442;5u\x1b[57441;6u\x1b[O\x1b[I\x1b[118;6:3u\x1b[57442;1:3u");
        }
        screen.send(&bytes(item, Answers::Enhanced));
    }
    screen.wait_for_text("drill 1 done");
    screen.wait_for_text("end the sitting");
    let told = screen.text();
    assert!(told.contains("3 out of this terminal's reach"), "{told}");
    screen.send(b"\x1b");
    assert_eq!(screen.wait_exit(), 0);
    let kept = kept(&home);
    let due: Vec<String> = items.iter().map(Output::to_string).collect();
    let got: Vec<&str> = kept.iter().map(|k| k["got"].as_str().unwrap()).collect();
    assert_eq!(got, due);
    assert!(kept.iter().all(|k| k["verdict"] == "hit"));
}

/// The items of a drill by script, answered rightly; how many of its prompts
/// were told.
fn sitting(home: &TempDir) -> (BTreeSet<String>, usize) {
    let mut driven = Driven::start(home, &["shortcuts"]);
    let drill = driven.until("drill");
    let (mut items, mut told) = (BTreeSet::new(), 0);
    for _ in 0..drill["prompts"].as_u64().unwrap() {
        let prompt = driven.until("prompt");
        assert_eq!(prompt["kind"], "strike");
        told += usize::from(prompt["told"] == true);
        for item in prompt["items"].as_array().unwrap() {
            let item = item.as_str().unwrap();
            items.insert(item.to_owned());
            driven.strike(item);
        }
    }
    driven.until("result");
    assert_eq!(driven.end().0, 0);
    (items, told)
}

#[test]
fn a_few_are_new_each_day_and_what_was_learnt_is_kept() {
    let home = TempDir::new().unwrap();
    let (first, told) = sitting(&home);
    assert_eq!((first.len(), told), (NEW_A_DAY, NEW_A_DAY), "{first:?}");
    // The same day again: nothing new, nothing due, the same few.
    assert_eq!(sitting(&home), (first, 0));
    let data = home.path().join(".local/share/etude");
    let store = Store::open_to_read(&data).unwrap().unwrap();
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    let answers = store.answers("tern-split").unwrap();
    assert!(answers.len() > 20 && answers.iter().all(|a| a.outcome >= Outcome::Right));
}

#[test]
fn on_the_old_way_the_same_shortcuts_are_struck_by_hand() {
    let home = TempDir::new().unwrap();
    let mut driven = Driven::start(&home, &["shortcuts", "--old-way", "--seed", "7"]);
    assert_eq!(driven.until("hello")["layout"], "plain-ansi");
    let due = driven.until("due");
    let route = due["route"].to_string();
    assert!(route.contains("\"opens\":\"Ctrl\""), "{due}");
    driven.end();
}
