//! The terminal: what is asked, granted and shown, and every way of leaving.

use crate::screen::{Answers, Modes, Screen, Setup, contains};
use rustix::process::Signal;
use std::fs;
use tempfile::TempDir;

const KINDS: [Answers; 3] = [Answers::Enhanced, Answers::Plain, Answers::Silent];

/// The program at its watching screen, with its modes on.
fn watching(home: &TempDir, setup: &Setup) -> Screen {
    let screen = Screen::start(home, &["terminal", "--watch"], setup);
    screen.wait_for_text("leaves");
    screen
}

fn escape(answers: Answers) -> &'static [u8] {
    if answers == Answers::Enhanced { b"\x1b[27u" } else { b"\x1b" }
}

#[test]
fn entering_turns_modes_on_and_leaving_turns_them_off() {
    for answers in KINDS {
        let home = TempDir::new().unwrap();
        let mut screen = watching(&home, &Setup::answering(answers));
        if answers == Answers::Enhanced {
            screen.wait_for_text("enhanced keyboard protocol");
        } else {
            screen.wait_for_bytes(b"\x1b[>4;2m");
        }
        assert_ne!(screen.settings(), screen.settings_before(), "raw mode is on");
        let entered = Modes {
            alternate: true,
            paste: true,
            focus: true,
            cursor_hidden: true,
            other_keys: answers != Answers::Enhanced,
            pushed: [0, 1],
            updating: false,
        };
        screen.wait_for_bytes(b"\x1b[?2026l");
        assert_eq!(screen.modes(), entered);
        screen.send(&escape(answers).repeat(3));
        assert_eq!(screen.wait_exit(), 0);
        screen.assert_left();
    }
}

#[test]
fn signals_end_it_cleanly_with_their_status() {
    for (signal, status) in
        [(Signal::TERM, 143), (Signal::HUP, 129), (Signal::INT, 130), (Signal::QUIT, 131)]
    {
        for answers in [Answers::Enhanced, Answers::Plain] {
            let home = TempDir::new().unwrap();
            let mut screen = watching(&home, &Setup::answering(answers));
            screen.signal(signal);
            assert_eq!(screen.wait_exit(), status);
            screen.assert_left();
        }
    }
}

/// Leaving drops what was typed, perhaps just when the input thread was told
/// of it: that thread must not wait for a key that never comes.
#[test]
fn keys_struck_while_it_leaves_never_hold_it_back() {
    for _ in 0..8 {
        let home = TempDir::new().unwrap();
        let mut screen = watching(&home, &Setup::answering(Answers::Silent));
        screen.signal(Signal::TERM);
        for _ in 0..60 {
            screen.send(b"x");
        }
        assert_eq!(screen.wait_exit(), 143);
    }
}

#[test]
fn a_panic_of_the_screen_leaves_and_then_tells() {
    for answers in [Answers::Enhanced, Answers::Plain] {
        let home = TempDir::new().unwrap();
        let setup = Setup::answering(answers).with("ETUDE_TEST_PANIC", "ui");
        let mut screen = Screen::start(&home, &["terminal", "--watch"], &setup);
        assert_eq!(screen.wait_exit(), 101);
        screen.assert_left();
        let log = screen.log();
        let left = log.windows(8).rposition(|w| w == b"\x1b[?1049l").unwrap();
        assert!(contains(&log[left..], b"the screen panics, as the test asked"));
    }
}

#[test]
fn a_panic_of_the_input_thread_leaves_and_then_tells() {
    for answers in [Answers::Enhanced, Answers::Plain] {
        let home = TempDir::new().unwrap();
        let setup = Setup::answering(answers).with("ETUDE_TEST_PANIC", "input");
        let mut screen = watching(&home, &setup);
        screen.send(b"a");
        assert_eq!(screen.wait_exit(), 101);
        screen.assert_left();
        let log = screen.log();
        let left = log.windows(8).rposition(|w| w == b"\x1b[?1049l").unwrap();
        assert!(contains(&log[left..], b"the input thread panics, as the test asked"));
        assert!(!contains(&log[..left], b"panic"), "nothing is written over the screen");
    }
}

#[test]
fn a_stop_gives_the_terminal_back_and_going_on_takes_it_again() {
    for answers in [Answers::Enhanced, Answers::Plain] {
        let home = TempDir::new().unwrap();
        let mut screen = watching(&home, &Setup::answering(answers));
        screen.send(b"q");
        screen.wait_for_text("1 presses");
        screen.signal(Signal::TSTP);
        screen.wait_stopped();
        // It is stopped, but its last bytes may still be on their way to us.
        screen.wait_for_bytes(b"\x1b[?1049l");
        screen.assert_left();
        screen.signal(Signal::CONT);
        screen.wait_for_text("stopped and continued");
        screen.wait_for_text("1 presses");
        assert!(screen.modes().alternate);
        assert_ne!(screen.settings(), screen.settings_before(), "raw mode is on again");
        screen.signal(Signal::TERM);
        assert_eq!(screen.wait_exit(), 143);
        screen.assert_left();
    }
}

#[test]
fn a_stop_by_force_ends_with_balanced_modes_too() {
    let home = TempDir::new().unwrap();
    let mut screen = watching(&home, &Setup::default());
    screen.wait_for_text("enhanced keyboard protocol");
    screen.signal(Signal::STOP);
    screen.wait_stopped();
    screen.signal(Signal::CONT);
    screen.wait_for_text("stopped and continued");
    assert_eq!(screen.modes().pushed, [0, 1]);
    screen.signal(Signal::TERM);
    assert_eq!(screen.wait_exit(), 143);
    screen.assert_left();
}

#[test]
fn a_hang_up_ends_it() {
    for answers in [Answers::Enhanced, Answers::Plain] {
        let home = TempDir::new().unwrap();
        let mut screen = watching(&home, &Setup::answering(answers));
        screen.hang_up();
        assert_eq!(screen.wait_exit(), 129);
    }
}

#[test]
fn an_answer_that_comes_late_never_reaches_the_shell() {
    let home = TempDir::new().unwrap();
    let mut screen = watching(&home, &Setup::default());
    screen.signal(Signal::TERM);
    assert_eq!(screen.wait_exit(), 143);
    let log = screen.log();
    let asked = log.windows(3).filter(|w| w == b"\x1b[c").count();
    assert_eq!(asked, 2, "once at the start, once at the end");
}

#[test]
fn keys_are_shown_as_they_arrive() {
    let home = TempDir::new().unwrap();
    let mut screen = watching(&home, &Setup::default());
    screen.wait_for_text("enhanced keyboard protocol");
    screen.send(b"\x1b[118:86:99;6u");
    screen.wait_for_text("Ctrl+Shift+V");
    screen.send(b"\x1b[118:86:99;6:3u");
    screen.wait_for_text("release");
    screen.send(b"\x1b[200~tide tables\x1b[201~");
    screen.wait_for_text("a paste of 11 characters");
    screen.send(b"\x1b[O");
    screen.wait_for_text("lost the keyboard");
    screen.resize(40, 10);
    screen.wait_for("the small screen", |s| s.contents().lines().count() <= 10);
    screen.send(b"\x1b[122;1;122u");
    screen.wait_for_text("z");
    screen.send(b"\x1b[27u\x1b[27u\x1b[27u");
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
}

#[test]
fn a_plain_terminal_counts_as_such_until_a_key_proves_more() {
    let home = TempDir::new().unwrap();
    let mut screen = watching(&home, &Setup::answering(Answers::Plain));
    screen.wait_for_bytes(b"\x1b[>4;2m");
    screen.send(b"a");
    screen.wait_for_text("1 presses");
    assert!(!screen.text().contains("modifyOtherKeys"));
    // In raw mode the keys that stop and interrupt are keys.
    screen.send(b"\x1a\x03");
    screen.wait_for_text("Ctrl+Z");
    screen.wait_for_text("Ctrl+C");
    screen.send(b"\x1b[27;5;105~");
    screen.wait_for_text("the terminal grants: modifyOtherKeys");
    screen.wait_for_text("Ctrl+I");
    screen.send(b"\x1b\x1b\x1b");
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
}

#[test]
fn the_log_holds_each_event_and_never_overwrites_a_file() {
    let home = TempDir::new().unwrap();
    let log = home.path().join("keys.jsonl");
    let args = ["terminal", "--watch", "--log", "keys.jsonl"];
    let mut screen = Screen::start(&home, &args, &Setup::default());
    screen.wait_for_text("leaves");
    screen.send(b"\x1b[97;1;97u");
    screen.wait_for_text("1 presses");
    screen.send(b"\x1b[98;1;98u");
    screen.wait_for_text("2 presses");
    screen.send(b"\x1b[27u\x1b[27u\x1b[27u");
    assert_eq!(screen.wait_exit(), 0);
    let lines: Vec<serde_json::Value> = fs::read_to_string(&log)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let texts: Vec<&str> = lines.iter().map(|l| l["output"].as_str().unwrap()).collect();
    assert_eq!(texts, ["a", "b", "Escape", "Escape", "Escape"]);
    let times: Vec<u64> = lines.iter().map(|l| l["at_us"].as_u64().unwrap()).collect();
    assert!(times.is_sorted());
    assert_eq!(lines[1]["since_press_us"].as_u64(), Some(times[1] - times[0]));
    assert_eq!(lines[3]["batched"], true);

    let mut again = Screen::start(&home, &args, &Setup::default());
    assert_eq!(again.wait_exit(), 1);
    assert!(again.text().contains("name a new file"), "{}", again.text());
}

#[test]
fn the_summary_tells_what_each_kind_of_terminal_grants() {
    for (answers, level) in [
        (Answers::Enhanced, "enhanced keyboard protocol"),
        (Answers::Plain, "Tab and Ctrl+I"),
        (Answers::Silent, "answered nothing"),
    ] {
        let home = TempDir::new().unwrap();
        let setup = Setup { rows: 60, ..Setup::answering(answers) };
        let mut screen = Screen::start(&home, &["terminal"], &setup);
        assert_eq!(screen.wait_exit(), 0);
        let text = screen.text();
        assert!(text.contains(level), "{text}");
        assert!(text.contains("80 by 60"), "{text}");
        assert_eq!(
            text.contains("background") || text.contains("Background  dark"),
            answers == Answers::Enhanced,
            "{text}"
        );
        screen.assert_left();
        assert!(!contains(&screen.log(), b"\x1b[?1049h"), "no other screen is opened");
    }
}

#[test]
fn the_summary_speaks_json_into_a_file_too() {
    let home = TempDir::new().unwrap();
    let setup = Setup { redirect: Some(">found.json"), ..Setup::default() };
    let mut screen = Screen::start(&home, &["terminal", "--json"], &setup);
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
    let text = fs::read_to_string(home.path().join("found.json")).unwrap();
    let found: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(found["schema"], "etude.terminal/1");
    assert_eq!(found["level"], "enhanced");
    assert_eq!(found["flags"], 31);
    assert_eq!(found["grants"]["base_key"], true);
    assert_eq!(found["background"], "dark");
    assert_eq!((&found["columns"], &found["rows"]), (&80.into(), &24.into()));
}

#[test]
fn weight_and_reverse_stay_without_colour() {
    let home = TempDir::new().unwrap();
    let mut screen = watching(&home, &Setup::default().with("NO_COLOR", "1"));
    screen.wait_for("a bold heading", |s| {
        (0..80).any(|x| s.cell(0, x).is_some_and(vt100::Cell::bold))
    });
    screen.wait_for("no colour", |s| {
        (0..24).all(|y| {
            (0..80).all(|x| s.cell(y, x).is_none_or(|c| c.fgcolor() == vt100::Color::Default))
        })
    });
    screen.signal(Signal::TERM);
    assert_eq!(screen.wait_exit(), 143);
}

#[test]
fn without_a_terminal_it_says_so() {
    let home = TempDir::new().unwrap();
    for args in [&["terminal", "--watch"][..], &["terminal"]] {
        // A pipe for input and output, and no controlling terminal to fall back on.
        let output = crate::commands::etude(&home).args(args).write_stdin("").output().unwrap();
        if args.len() == 1 && output.status.success() {
            continue; // The test itself runs in a terminal.
        }
        assert_eq!(output.status.code(), Some(1));
        let text = String::from_utf8(output.stderr).unwrap();
        assert!(text.contains("terminal"), "{text}");
    }
}

#[test]
fn keys_come_from_the_terminal_where_standard_input_is_a_file() {
    let home = TempDir::new().unwrap();
    let setup = Setup { redirect: Some("</dev/null"), ..Setup::default() };
    let mut screen = watching(&home, &setup);
    screen.send(b"\x1b[118:86:99;6u");
    screen.wait_for_text("Ctrl+Shift+V");
    screen.send(b"\x1b[27u\x1b[27u\x1b[27u");
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
}

#[test]
fn a_signal_while_leaving_for_a_stop_is_not_lost() {
    let home = TempDir::new().unwrap();
    // A terminal that never answers keeps the leaving waiting.
    let mut screen = watching(&home, &Setup::answering(Answers::Silent));
    screen.signal(Signal::TSTP);
    screen.wait_for_bytes(b"\x1b[?1049l");
    screen.signal(Signal::TERM);
    screen.wait_stopped();
    screen.signal(Signal::CONT);
    assert_eq!(screen.wait_exit(), 143);
    screen.assert_left();
}
