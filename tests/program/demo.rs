//! `--demo`: an invented history that says so and leaves nothing behind.

use crate::commands::etude;
use serde_json::Value;
use std::path::Path;
use tempfile::TempDir;

fn entries(dir: &Path) -> usize {
    std::fs::read_dir(dir).unwrap().count()
}

#[test]
fn an_invented_history_says_so_and_is_thrown_away() {
    let (home, temporary) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let run = |args: &[&str]| {
        let mut command = etude(&home);
        // The folder of every day is left alone.
        command.env("TMPDIR", temporary.path()).env("ETUDE_DATA", home.path().join("every-day"));
        let output = command.arg("--demo").args(args).output().unwrap();
        let text = |bytes| String::from_utf8(bytes).unwrap();
        (output.status.code(), text(output.stdout), text(output.stderr))
    };
    let (status, out, err) = run(&["progress", "--json"]);
    assert_eq!((status, err.as_str()), (Some(0), ""));
    let value: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((&value["invented"], &value["layout"]), (&true.into(), &"tern-split".into()));
    assert!(value["calendar"].as_array().unwrap().len() > 60);
    let (status, out, err) = run(&["progress", "--layer", "numbers", "--plain"]);
    assert_eq!((status, err.as_str()), (Some(0), ""));
    assert!(out.starts_with("Invented history (--demo): a simulated typist"), "{out}");
    assert!(out.contains("Against the old way"), "{out}");
    // These look at no history, and make none.
    assert_eq!(run(&["layout", "list"]).0, Some(0));
    assert_eq!((entries(home.path()), entries(temporary.path())), (0, 0));
}

#[test]
fn a_folder_beside_demo_is_refused_in_plain_words() {
    let home = TempDir::new().unwrap();
    for args in [["--demo", "--data", "logs", "progress"], ["progress", "--data", "logs", "--demo"]]
    {
        let assert = etude(&home).current_dir(home.path()).args(args).assert().code(2);
        let words = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
        assert!(words.contains("leave out --data"), "{words}");
    }
    assert_eq!(entries(home.path()), 0);
}

#[cfg(unix)]
#[test]
fn every_screen_says_that_the_history_is_invented_and_a_signal_leaves_nothing() {
    use crate::screen::{Screen, Setup};
    use rustix::process::Signal;
    let (home, temporary) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let setup = Setup::default().with("TMPDIR", temporary.path().to_str().unwrap());
    let mut screen = Screen::start(&home, &["--demo"], &setup);
    let marked = |screen: &Screen, words: &str| {
        screen.wait_for(words, |seen| {
            let text = seen.contents();
            text.contains(words) && text.contains("invented history")
        });
    };
    marked(&screen, "yesterday");
    screen.send(b"p");
    marked(&screen, "old way");
    screen.send(b"?");
    marked(&screen, "middle half");
    screen.send(b"?");
    screen.send(b"\x1b[27u");
    marked(&screen, "yesterday");
    screen.send(b"\r");
    marked(&screen, "drill 1");
    assert_eq!(entries(temporary.path()), 1);
    screen.signal(Signal::TERM);
    assert_eq!(screen.wait_exit(), 143);
    assert_eq!(entries(temporary.path()), 0);
    assert!(!home.path().join(".local").exists());
}
