//! The check of a terminal, in terminals of two kinds, and what drills make of
//! it.

use crate::screen::{Answers, Screen, Setup};
use std::fs;
use tempfile::TempDir;

/// The program at its check of the shipped split layout.
fn checking(home: &TempDir, answers: Answers) -> Screen {
    let setup = Setup::answering(answers).with("TERM_PROGRAM", "harbour");
    let screen = Screen::start(home, &["terminal", "--check"], &setup);
    if answers == Answers::Enhanced {
        screen.wait_for_text("enhanced keyboard protocol");
    }
    screen.wait_for_text("Press   Ctrl+C");
    screen
}

fn kept(home: &TempDir) -> String {
    fs::read_to_string(home.path().join(".local/share/etude/terminals.toml")).unwrap()
}

#[test]
fn what_the_enhanced_protocol_lets_through_is_kept_and_heeded() {
    let home = TempDir::new().unwrap();
    let mut screen = checking(&home, Answers::Enhanced);
    // Ctrl down, then a press and its release; what has no press is no answer.
    screen.send(b"\x1b[57442;5u\x1b[118;5:3u\x1b[99;5u\x1b[99;5:3u");
    screen.wait_for_text("Press   Ctrl+V");
    screen.send(b"\r");
    screen.wait_for_text("Press   Ctrl+X");
    screen.send(b"\x1b[99;5u");
    screen.wait_for_text("Ctrl+C arrived");
    screen.send(b"\x1b[99;5u");
    screen.wait_for_text("Press   Ctrl+Z");
    screen.wait_for_text("arrive 1   as another 1   never 1");
    // What was found is on the disk before the end.
    let text = kept(&home);
    assert!(text.contains("name = \"xterm-256color harbour\""), "{text}");
    assert!(text.contains("level = \"enhanced 31\""), "{text}");
    assert!(text.contains("arrive = [\"Ctrl+C\"]"), "{text}");
    assert!(text.contains("nothing = [\"Ctrl+V\"]"), "{text}");
    assert!(
        text.contains("Ctrl+X = \"Ctrl+C\"") || text.contains("\"Ctrl+X\" = \"Ctrl+C\""),
        "{text}"
    );
    screen.send(b"\x1b[27u\x1b[27u\x1b[27u");
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
    screen.wait_for_text("Never arrive: Ctrl+V");

    // The summary says so.
    let tall = Setup { rows: 50, ..Setup::default() }.with("TERM_PROGRAM", "harbour");
    let mut screen = Screen::start(&home, &["terminal"], &tall);
    assert_eq!(screen.wait_exit(), 0);
    let text = screen.text();
    assert!(text.contains("Arrive as another: Ctrl+X (as Ctrl+C)"), "{text}");

    // In another terminal nothing was found.
    let other = Setup { rows: 50, ..Setup::default() };
    let mut screen = Screen::start(&home, &["terminal"], &other);
    assert_eq!(screen.wait_exit(), 0);
    assert!(screen.text().contains("etude terminal --check"), "{}", screen.text());
    assert!(!screen.text().contains("Never arrive"), "{}", screen.text());
}

#[test]
fn a_plain_terminal_is_asked_only_for_what_it_can_deliver() {
    let home = TempDir::new().unwrap();
    let mut screen = checking(&home, Answers::Plain);
    screen.send(b"\x03");
    screen.wait_for_text("Press   Ctrl+V");
    screen.send(b"\t");
    screen.wait_for_text("Press   Ctrl+X");
    // It tells Ctrl+Shift+Z from Ctrl+Z no more than Ctrl+H from Backspace.
    screen.send(b"\x18\x1a");
    screen.wait_for_text("Press   Ctrl+S");
    screen.send(b"\x1b\x1b\x1b");
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
    let text = kept(&home);
    assert!(text.contains("level = \"plain\""), "{text}");
    assert!(!text.contains("Ctrl+V") && text.contains("Ctrl+Z"), "{text}");
}

#[test]
fn a_closed_window_loses_nothing_of_what_was_found() {
    let home = TempDir::new().unwrap();
    let mut screen = checking(&home, Answers::Enhanced);
    screen.send(b"\x1b[99;5u");
    screen.wait_for_text("Press   Ctrl+V");
    screen.hang_up();
    assert_eq!(screen.wait_exit(), 129);
    assert!(kept(&home).contains("arrive = [\"Ctrl+C\"]"));
}

#[test]
fn a_file_that_cannot_be_read_is_told_by_line() {
    let home = TempDir::new().unwrap();
    let data = home.path().join(".local/share/etude");
    fs::create_dir_all(&data).unwrap();
    fs::write(data.join("terminals.toml"), "terminal = 3").unwrap();
    for args in [&["terminal"][..], &["terminal", "--check"]] {
        let mut screen = Screen::start(&home, args, &Setup::default());
        assert_eq!(screen.wait_exit(), 1);
        assert!(screen.text().contains("terminals.toml, line 1"), "{}", screen.text());
        screen.assert_left();
    }
}
