//! A layout made on screen: learnt from a keyboard with a break in between,
//! and described.

use crate::commands::etude;
use crate::screen::{Answers, Screen, Setup};
use etude::capture::TEXT_GAP;
use etude::layout::{LayerId, Layout, file, token};
use rustix::process::Signal;
use std::cell::Cell;
use std::fs;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use tempfile::TempDir;

const KEYS: usize = 26;

fn bytes(key: &str, answers: Answers) -> Vec<u8> {
    let (code, text) = match key {
        "Enter" => (13, None),
        "Tab" => (9, None),
        "Escape" => (27, None),
        text => {
            let c = text.chars().next().unwrap();
            (u32::from(c.to_ascii_lowercase()), Some(u32::from(c)))
        }
    };
    match (answers, text) {
        (Answers::Enhanced, Some(text)) => {
            format!("\x1b[{code};1:1;{text}u\x1b[{code};1:3u").into_bytes()
        }
        (Answers::Enhanced, None) => format!("\x1b[{code}u\x1b[{code};1:3u").into_bytes(),
        (_, Some(_)) => key.as_bytes().to_vec(),
        (_, None) => vec![code as u8],
    }
}

struct Capturing {
    screen: Screen,
    answers: Answers,
    struck: Cell<Instant>,
}

#[expect(clippy::disallowed_methods, reason = "the pace of a hand is what is played here")]
fn now() -> Instant {
    Instant::now()
}

impl Capturing {
    fn start(home: &TempDir, file: &str, args: &[&str], answers: Answers) -> Self {
        let args = [&["layout", "capture", file], args].concat();
        let screen = Screen::start(home, &args, &Setup::answering(answers));
        Self { screen, answers, struck: Cell::new(now()) }
    }

    /// Sends `key` as a hand would: text that comes at once after other text
    /// would belong to the same key.
    fn send(&self, key: &str) {
        let gap = Duration::from_micros(2 * TEXT_GAP.0);
        while now().duration_since(self.struck.get()) < gap {
            std::thread::yield_now();
        }
        self.struck.set(now());
        self.screen.send(&bytes(key, self.answers));
    }

    /// Strikes `key`, which is due as number `number`, once that is shown.
    fn strike(&self, number: usize, key: &str) {
        self.screen.wait_for_text(&format!("key {number} of {KEYS}"));
        self.send(key);
    }

    /// Opens the list with Esc and chooses a row by its character.
    fn say(&self, key: &str) {
        self.send("Escape");
        self.screen.wait_for_text("leave; everything is kept");
        self.send(key);
    }
}

fn read(path: &PathBuf) -> Layout {
    let text = fs::read_to_string(path).unwrap();
    let reading = file::read(&text, "harbour.toml").unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(reading.warnings, []);
    reading.layout
}

fn tokens(layout: &Layout, layer: u8) -> Vec<String> {
    let names: Vec<String> = layout.layers.iter().map(|layer| layer.name.clone()).collect();
    let keys = &layout.layer(LayerId(layer)).keys;
    keys.iter().map(|key| token::write(key, &names)).collect()
}

#[test]
fn a_keyboard_is_learnt_with_a_break_and_the_file_is_what_it_plays() {
    for answers in [Answers::Enhanced, Answers::Plain] {
        let home = TempDir::new().unwrap();
        let path = home.path().join("harbour.toml");
        let file = path.to_str().unwrap();
        let letters: Vec<String> = "qwerуiopasdfjklßzxcvm,./".chars().map(String::from).collect();
        assert_eq!(letters.len(), 24);

        let mut capturing = Capturing::start(&home, file, &["--board", "split-3x4-1"], answers);
        for (n, letter) in letters[..10].iter().enumerate() {
            capturing.strike(n + 1, letter);
        }
        capturing.screen.wait_for_text(&format!("key 11 of {KEYS}"));
        capturing.screen.signal(Signal::TERM);
        assert_eq!(capturing.screen.wait_exit(), 143);
        capturing.screen.assert_left();
        assert!(!path.exists(), "no half layout is written");
        // The machine stopped in the middle of a line.
        let notes = home.path().join("harbour.toml.capture");
        let kept = fs::read_to_string(&notes).unwrap();
        assert!(kept.ends_with('\n'));
        fs::write(&notes, format!("{kept}{{\"note\":\"key\",\"la")).unwrap();

        let mut capturing = Capturing::start(&home, file, &[], answers);
        capturing.screen.wait_for_text("Gone on");
        // One that was noted wrongly.
        capturing.strike(11, "g");
        capturing.screen.wait_for_text(&format!("key 12 of {KEYS}"));
        capturing.say("b");
        for (n, letter) in letters.iter().enumerate().skip(10) {
            capturing.strike(n + 1, letter);
        }
        // The left thumb: a new layer while held, Space when struck.
        capturing.screen.wait_for_text("LT1, left thumb");
        capturing.say("o");
        capturing.screen.wait_for_text("a new layer");
        capturing.send("+");
        capturing.screen.wait_for_text("A name for the new layer");
        for letter in ["s", "y", "m"] {
            capturing.send(letter);
        }
        capturing.screen.wait_for_text("sym");
        capturing.send("Enter");
        capturing.screen.wait_for_text("What is the layer for?");
        capturing.send("2");
        capturing.screen.wait_for_text("while it is held down");
        capturing.send("h");
        capturing.screen.wait_for_text("Strike it shortly");
        capturing.send(" ");
        // The right thumb: Enter, which a plain terminal can't tell.
        capturing.screen.wait_for_text("RT1, right thumb");
        capturing.send("Enter");
        if answers == Answers::Plain {
            capturing.screen.wait_for_text("This terminal sends the same");
            capturing.send("1");
        }
        capturing.screen.wait_for_text("Hold LT1 down");
        capturing.strike(1, "{");
        capturing.strike(2, "w");
        capturing.strike(3, "}");
        capturing.screen.wait_for_text(&format!("key 4 of {KEYS}"));
        capturing.say("n");
        capturing.screen.wait_for_text(&format!("key 5 of {KEYS}"));
        capturing.say("r");
        capturing.screen.wait_for_text("Every key is told");
        capturing.send("w");
        assert_eq!(capturing.screen.wait_exit(), 0);
        capturing.screen.assert_left();

        let layout = read(&path);
        let mut base = letters.clone();
        base.extend(["Space/hold:sym".to_owned(), "Enter".to_owned()]);
        assert_eq!(tokens(&layout, 0), base, "{answers:?}");
        let above = tokens(&layout, 1);
        assert_eq!(above[..4], ["{", "..", "}", "--"], "{answers:?}");
        assert!(above[4..].iter().all(|token| token == ".."), "{above:?}");
        assert!(!notes.exists());
        let refused = etude(&home).args(["layout", "capture", file]).assert().code(2);
        let error = String::from_utf8(refused.get_output().stderr.clone()).unwrap();
        assert!(error.contains("is there already"), "{error}");
    }
}

#[test]
fn a_described_layout_is_written_and_practised_at_once() {
    let home = TempDir::new().unwrap();
    let path = home.path().join("quay.toml");
    let setup = Setup::answering(Answers::Enhanced);
    let args = ["layout", "new", path.to_str().unwrap()];
    let mut screen = Screen::start(&home, &args, &setup);
    let enter = bytes("Enter", Answers::Enhanced);
    screen.wait_for_text("step 1 of 4");
    // One row more, drawn at once.
    screen.send(b"\x1b[C");
    screen.wait_for_text("◂ 4 ▸");
    screen.send(&enter);
    screen.wait_for_text("step 2 of 4");
    screen.send(&bytes("-", Answers::Enhanced));
    screen.wait_for("punctuation is left out", |s| !s.contents().contains("punctuation"));
    screen.send(&enter);
    screen.wait_for_text("hold  LT2, left thumb");
    screen.send(b" ");
    screen.wait_for_text("latch LT2, left thumb");
    screen.send(&enter);
    screen.wait_for_text("What now?");
    screen.send(&bytes("p", Answers::Enhanced));
    screen.wait_for_text("numbness");
    screen.send(&enter);
    screen.wait_for_text("Esc Esc Esc");
    screen.send(&bytes("Escape", Answers::Enhanced).repeat(3));
    screen.wait_for_text("end the sitting");
    screen.send(&bytes("Escape", Answers::Enhanced));
    assert_eq!(screen.wait_exit(), 0);
    screen.assert_left();
    let layout = read(&path);
    assert_eq!(layout.board.name, "split-4x5-3");
    let names: Vec<&str> = layout.layers.iter().map(|layer| layer.name.as_str()).collect();
    assert_eq!(names, ["base", "symbols", "numbers", "navigation", "shortcuts"]);
    assert!(tokens(&layout, 0).contains(&"latch:symbols".to_owned()));
    assert!(fs::read_to_string(&path).unwrap().contains("# [actions.copy]"));
}

#[test]
fn what_can_not_be_begun_is_told_plainly() {
    let home = TempDir::new().unwrap();
    let at = |name: &str| home.path().join(name).to_str().unwrap().to_owned();
    fs::write(at("odd.toml.capture"), "name = 'x'\n").unwrap();
    let known = at("harbour.toml");
    for (args, told) in [
        (vec!["new", "a b.toml"], "gives no name for a layout"),
        (vec!["capture", &known, "--board", "split-3x5"], "no board 'split-3x5'"),
        (vec!["capture", &known, "--board", "split-3x5-3"], "terminal"),
        (vec!["capture", &at("odd.toml")], "no progress of a capture"),
    ] {
        let refused = etude(&home).arg("layout").args(args).assert().failure();
        let error = String::from_utf8(refused.get_output().stderr.clone()).unwrap();
        assert!(error.contains(told), "{error}");
    }
    assert!(!home.path().join("harbour.toml.capture").exists());
}
