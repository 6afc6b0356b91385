//! Whole drills through the real binary: by script, and in terminals of each
//! kind; what is typed is what is kept.

use crate::commands::etude;
use crate::screen::{Answers, Screen, Setup};
use rustix::process::Signal;
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use tempfile::TempDir;

/// A practising program driven by JSON lines.
pub struct Driven {
    child: Child,
    stdin: Option<ChildStdin>,
    lines: std::io::Lines<BufReader<std::process::ChildStdout>>,
    now_us: u64,
}

impl Driven {
    /// Starts `etude practice ARGS --script` in `home`.
    pub fn start(home: &TempDir, args: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_etude"))
            .arg("practice")
            .args(args)
            .arg("--script")
            .env_clear()
            .env("HOME", home.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let stdin = child.stdin.take();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        Self { child, stdin, lines, now_us: 0 }
    }

    /// The next line, if there is one.
    pub fn next(&mut self) -> Option<Value> {
        let line = self.lines.next()?.unwrap();
        Some(serde_json::from_str(&line).unwrap_or_else(|e| panic!("{e}: {line}")))
    }

    /// Reads on to the next line of type `kind`.
    pub fn until(&mut self, kind: &str) -> Value {
        loop {
            let line = self.next().unwrap_or_else(|| panic!("no line '{kind}'"));
            if line["type"] == kind {
                return line;
            }
        }
    }

    /// Sends a line as it is.
    pub fn send(&mut self, line: &str) {
        let stdin = self.stdin.as_mut().unwrap();
        writeln!(stdin, "{line}").unwrap();
        stdin.flush().unwrap();
    }

    /// Strikes `key`, 200 ms after the key before.
    pub fn strike(&mut self, key: &str) {
        self.now_us += 200_000;
        let line = serde_json::json!({ "at_us": self.now_us, "key": key });
        self.send(&line.to_string());
    }

    /// Ends the script; the exit status and what was on standard error.
    pub fn end(mut self) -> (i32, String) {
        self.stdin = None;
        while self.next().is_some() {}
        let output = self.child.wait_with_output().unwrap();
        (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
    }

    /// Kills it; no word of farewell.
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

/// The raw keystrokes that the history of `home` holds.
pub fn kept(home: &TempDir) -> Vec<Value> {
    let output = etude(home)
        .args(["data", "export", "keystrokes", "--format", "jsonl"])
        .assert()
        .success()
        .get_output()
        .stdout
        .clone();
    String::from_utf8(output)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn lines_of_first_drill(what: &str) -> Vec<Vec<String>> {
    let home = TempDir::new().unwrap();
    let mut driven = Driven::start(&home, &[what, "--seed", "7"]);
    let mut lines = Vec::new();
    let drill = driven.until("drill");
    for _ in 0..drill["prompts"].as_u64().unwrap() {
        let prompt = driven.until("prompt");
        let items: Vec<String> = prompt["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|item| item.as_str().unwrap().to_owned())
            .collect();
        for item in &items {
            driven.strike(item);
        }
        lines.push(items);
    }
    driven.until("result");
    driven.end();
    lines
}

/// What a terminal sends for `item`.
fn bytes(item: &str, answers: Answers) -> Vec<u8> {
    let (code, text): (u32, Option<&str>) = match item {
        "Enter" => (13, None),
        "Tab" => (9, None),
        "Backspace" => (127, None),
        "Escape" => (27, None),
        "Space" => (32, Some(" ")),
        text => (u32::from(text.chars().next().unwrap()), Some(text)),
    };
    match (answers, text) {
        (Answers::Enhanced, Some(text)) => {
            let typed = u32::from(text.chars().next().unwrap());
            format!("\x1b[{code};1:1;{typed}u\x1b[{code};1:3u").into_bytes()
        }
        (Answers::Enhanced, None) => format!("\x1b[{code}u\x1b[{code};1:3u").into_bytes(),
        (_, Some(text)) => text.as_bytes().to_vec(),
        (_, None) => vec![code as u8],
    }
}

/// In a plain terminal Esc and a key right after it are Alt and the key, so a
/// person's next key comes later: when the caret has moved on.
fn strike_lone_escape(screen: &Screen) {
    let due = |text: &str| text.contains("⎋   strike");
    let caret = |text: &str| {
        text.lines().find_map(|line| line.find('▲').map(|at| line[..at].chars().count()))
    };
    screen.wait_for("Escape is due", |s| due(&s.contents()));
    let before = caret(&screen.text());
    screen.send(b"\x1b");
    screen.wait_for("the caret has moved on", |s| {
        let text = s.contents();
        !due(&text) || caret(&text) != before
    });
}

/// The program at the first line of a drill, past the cautions of the first
/// start.
fn practising(home: &TempDir, what: &str, setup: &Setup) -> Screen {
    let screen = Screen::start(home, &["practice", what, "--seed", "7"], setup);
    screen.wait_for_text("numbness");
    screen.send(b"\r");
    screen.wait_for_text("Esc Esc Esc");
    screen.wait_for_text("strike");
    screen
}

/// Types a whole drill in a terminal, and checks that the screen and the
/// history tell the same.
#[test]
fn a_whole_drill_in_every_kind_of_terminal() {
    for what in ["symbols", "thumbs", "punctuation"] {
        let lines = lines_of_first_drill(what);
        for answers in [Answers::Enhanced, Answers::Plain] {
            let home = TempDir::new().unwrap();
            let mut screen = practising(&home, what, &Setup::answering(answers));
            let mut typed = 0;
            for items in &lines {
                for item in items {
                    if item == "Escape" && answers == Answers::Plain {
                        strike_lone_escape(&screen);
                    } else {
                        screen.send(&bytes(item, answers));
                    }
                    typed += 1;
                }
            }
            screen.wait_for_text("drill 1 done");
            screen.wait_for_text("end the sitting");
            screen.send(&bytes("Escape", answers));
            assert_eq!(screen.wait_exit(), 0);
            screen.assert_left();
            let kept = kept(&home);
            assert_eq!(kept.len(), typed, "{what} {answers:?}");
            let expected: Vec<&str> =
                kept.iter().map(|k| k["expected"].as_str().unwrap()).collect();
            let due: Vec<&str> = lines.iter().flatten().map(String::as_str).collect();
            assert_eq!(expected, due, "{what} {answers:?}");
            assert!(kept.iter().all(|k| k["verdict"] == "hit"), "{what} {answers:?}");
            let sessions = etude(&home)
                .args(["data", "export", "sessions", "--format", "jsonl"])
                .assert()
                .success();
            let session: Value = serde_json::from_slice(&sessions.get_output().stdout).unwrap();
            let level = if answers == Answers::Enhanced { "enhanced" } else { "plain" };
            assert_eq!(session["terminal_level"], level);
        }
    }
}

#[test]
fn wrong_keys_are_shown_and_leaving_keeps_what_was_done() {
    let home = TempDir::new().unwrap();
    let setup = Setup::answering(Answers::Plain);
    let mut screen = practising(&home, "symbols", &setup);
    screen.send(b"\x01");
    screen.wait_for_text("struck Ctrl+A");
    screen.send(b"\x1b\x1b\x1b");
    screen.wait_for_text("cut short");
    screen.wait_for_text("end the sitting");
    screen.send(b"\x1b");
    assert_eq!(screen.wait_exit(), 0);
    let kept = kept(&home);
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0]["verdict"], "miss");
    assert_eq!(kept[0]["got"], "Ctrl+A");
}

#[test]
fn the_start_screen_leads_through_a_sitting_and_back() {
    let home = TempDir::new().unwrap();
    let setup = Setup::answering(Answers::Enhanced);
    let mut screen = Screen::start(&home, &[], &setup);
    // The first start shows the cautions.
    screen.wait_for_text("numbness");
    screen.send(b"\x1b[13u");
    screen.wait_for_text("today's plan");
    screen.send(b"?");
    screen.wait_for_text("Help");
    screen.send(b"\x1b[27u");
    screen.wait_for_text("not yet");
    screen.send(b"\x1b[B\x1b[13u");
    screen.wait_for_text("strike");
    screen.send(b"\x1b[97;5u");
    screen.wait_for_text("struck Ctrl+A");
    screen.send(b"\x1b[27u\x1b[27u\x1b[27u");
    screen.wait_for_text("cut short");
    screen.wait_for_text("end the sitting");
    screen.send(b"\x1b[27u");
    screen.wait_for_text("today");
    screen.send(b"\x1b[27u");
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
    // The second start goes straight to the start screen.
    let mut screen = Screen::start(&home, &[], &setup);
    screen.wait_for_text("today");
    screen.send(b"\x1b[27u");
    assert_eq!(screen.wait_exit(), 0);
}

#[test]
fn signals_in_the_middle_of_a_drill_keep_what_was_typed() {
    for (signal, status) in [(Signal::TERM, 143), (Signal::HUP, 129)] {
        let home = TempDir::new().unwrap();
        let setup = Setup::answering(Answers::Plain);
        let mut screen = practising(&home, "symbols", &setup);
        screen.send(b"\x01");
        screen.wait_for_text("struck Ctrl+A");
        screen.signal(signal);
        assert_eq!(screen.wait_exit(), status);
        screen.assert_left();
        assert_eq!(kept(&home).len(), 1, "{signal:?}");
    }
}

#[test]
fn any_size_draws_something_and_a_resize_is_taken_in() {
    let home = TempDir::new().unwrap();
    let setup = Setup::answering(Answers::Plain);
    let mut screen = practising(&home, "symbols", &setup);
    screen.resize(30, 8);
    screen.wait_for_text("Etude needs 40");
    screen.resize(120, 40);
    screen.wait_for_text("strike");
    screen.resize(1, 1);
    screen.resize(80, 24);
    screen.wait_for_text("strike");
    screen.send(b"\x1b\x1b\x1b");
    screen.wait_for_text("cut short");
    screen.wait_for_text("end the sitting");
    screen.send(b"\x1b");
    assert_eq!(screen.wait_exit(), 0);
}

#[test]
fn a_script_hears_of_its_bad_lines_and_goes_on() {
    let home = TempDir::new().unwrap();
    let mut driven = Driven::start(&home, &["numbers", "--seed", "7"]);
    let hello = driven.until("hello");
    assert_eq!(hello["protocol"], 1);
    let due = driven.until("due");
    driven.send("not json");
    let error = driven.until("error");
    assert_eq!(error["line"], 1);
    driven.send(r#"{"at_us":1000,"key":"Entr"}"#);
    assert_eq!(driven.until("error")["line"], 2);
    driven.send(&format!(r#"{{"at_us":5,"key":"{}"}}"#, "x".repeat(70_000)));
    assert!(driven.until("error")["message"].as_str().unwrap().contains("65536"));
    let key = due["output"].as_str().unwrap();
    driven.strike(key);
    assert_eq!(driven.until("judgement")["verdict"], "hit");
    driven.send(r#"{"at_us":100,"key":"a"}"#);
    assert!(driven.until("error")["message"].as_str().unwrap().contains("never go back"));
    driven.send(r#"{"command":"leave"}"#);
    assert_eq!(driven.until("result")["complete"], false);
    assert_eq!(driven.until("bye")["drills"], 1);
    assert_eq!(driven.end(), (0, String::new()));
    assert_eq!(kept(&home).len(), 1);
}

#[test]
fn the_same_seed_gives_the_same_drills() {
    assert_eq!(lines_of_first_drill("numbers"), lines_of_first_drill("numbers"));
}

#[test]
fn the_minutes_end_a_script() {
    let home = TempDir::new().unwrap();
    let mut driven = Driven::start(&home, &["thumbs", "--seed", "7", "--minutes", "1"]);
    let mut drills = 0;
    while let Some(line) = driven.next() {
        match line["type"].as_str().unwrap() {
            "due" => {
                let key = line["output"].as_str().unwrap().to_owned();
                driven.strike(&key);
            }
            "result" => drills += 1,
            "bye" => {
                assert!(line["active_us"].as_u64().unwrap() >= 60_000_000);
                assert_eq!(line["drills"], drills);
            }
            _ => {}
        }
    }
    assert!(drills >= 2);
    assert_eq!(driven.end().0, 0);
}

#[test]
fn nothing_of_a_text_of_ones_own_is_kept_but_counts() {
    let home = TempDir::new().unwrap();
    let text = home.path().join("letter.txt");
    std::fs::write(&text, "The sluice at Zwin is shut.\n\tCall 77!\n").unwrap();
    let mut driven = Driven::start(&home, &["--text", text.to_str().unwrap(), "--seed", "7"]);
    for _ in 0..12 {
        let due = driven.until("due");
        let key = due["output"].as_str().unwrap().to_owned();
        driven.strike(&key);
    }
    driven.until("judgement");
    driven.end();
    assert_eq!(kept(&home), Vec::<Value>::new());
    let folder = home.path().join(".local/share/etude");
    for entry in std::fs::read_dir(folder).unwrap() {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        for word in ["sluice", "Zwin"] {
            assert!(!crate::screen::contains(&bytes, word.as_bytes()), "{word} was kept");
        }
    }
    let told = etude(&home).args(["data", "--json"]).assert().success().get_output().stdout.clone();
    let told: Value = serde_json::from_slice(&told).unwrap();
    assert!(told.to_string().contains("12"), "{told}");
}

#[test]
fn a_text_that_is_not_utf_8_is_refused_with_its_place() {
    let home = TempDir::new().unwrap();
    let text = home.path().join("old.txt");
    std::fs::write(&text, b"fine\nnot \xff fine\n").unwrap();
    let output = etude(&home)
        .args(["practice", "--script", "--text", text.to_str().unwrap()])
        .assert()
        .code(1);
    let error = String::from_utf8(output.get_output().stderr.clone()).unwrap();
    assert!(error.contains("line 2") && error.contains("old.txt"), "{error}");
}
