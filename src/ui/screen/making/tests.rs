//! The screens of making: glyphs and styles, and no size that panics.

use super::*;
use crate::keyboard::{Modifiers, NamedKey};
use crate::layout::{Cluster, shipped};
use crate::session::{Granted, KeyEvent, Stroke};
use crate::ui::tests::{ASCII, DARK, picture};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use std::cell::RefCell;
use std::rc::Rc;

#[derive(Default)]
struct Kept {
    notes: String,
    layout: Option<String>,
    full: bool,
}

struct Memory(Rc<RefCell<Kept>>);

impl Keep for Memory {
    fn file(&self) -> &'static str {
        "harbour.toml"
    }

    fn note(&mut self, lines: &str) -> Result<(), String> {
        let mut kept = self.0.borrow_mut();
        if kept.full {
            return Err("no room".to_owned());
        }
        kept.notes.push_str(lines);
        Ok(())
    }

    fn write(&mut self, text: &str) -> Result<(), String> {
        self.0.borrow_mut().layout = Some(text.to_owned());
        Ok(())
    }
}

struct Stage {
    making: Making,
    kept: Rc<RefCell<Kept>>,
    now: Micros,
    size: (u16, u16),
}

impl Stage {
    fn new(make: impl FnOnce(Box<dyn Keep>) -> Making, size: (u16, u16)) -> Self {
        let kept = Rc::new(RefCell::new(Kept::default()));
        let making = make(Box::new(Memory(Rc::clone(&kept))));
        Self { making, kept, now: Micros::ZERO, size }
    }

    fn describing(theme: Theme, size: (u16, u16)) -> Self {
        Self::new(|keep| Making::describe("harbour", false, keep, theme), size)
    }

    fn capturing(level: Level, theme: Theme, size: (u16, u16)) -> Self {
        let mut draft =
            Draft::new("harbour", "Harbour", shipped::board("split-3x5-3").unwrap()).unwrap();
        draft.add_layer("symbols", Cluster::Symbols).unwrap();
        draft.add_layer("moves", Cluster::Navigation).unwrap();
        let mut stage = Self::new(|keep| Making::capture(draft, keep, theme), size);
        stage.making.handle(News::Level(level));
        stage
    }

    fn stroke(&mut self, stroke: Stroke) {
        self.now = self.now + Micros::from_ms(800);
        let kind = EventKind::Key(KeyEvent::press(stroke));
        self.making.handle(News::Event(Event { at: self.now, kind }));
    }

    fn keys(&mut self, keys: &[NamedKey]) {
        for key in keys {
            self.stroke(Stroke::named(*key, Modifiers::empty()));
        }
    }

    fn types(&mut self, text: &str) {
        for c in text.chars() {
            self.stroke(Stroke::char(c));
        }
    }

    /// Chooses a row of the list that Esc opens.
    fn say(&mut self, key: char) {
        self.keys(&[NamedKey::Escape]);
        self.stroke(Stroke::char(key));
    }

    fn seen(&mut self) -> String {
        let backend = TestBackend::new(self.size.0, self.size.1);
        let mut terminal = Terminal::new(backend).unwrap();
        terminal.draw(|frame| self.making.draw(frame)).unwrap();
        picture(terminal.backend().buffer())
    }
}

const SIZE: (u16, u16) = (80, 24);

fn all() -> Level {
    Level::Enhanced(Granted::all())
}

#[test]
fn the_steps_of_a_description() {
    let mut stage = Stage::describing(DARK, SIZE);
    insta::assert_snapshot!("board_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Enter]);
    insta::assert_snapshot!("layers_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Enter]);
    insta::assert_snapshot!("accesses_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Enter]);
    insta::assert_snapshot!("finish_80x24_dark", stage.seen());
    let mut plain = Stage::describing(ASCII, (60, 16));
    plain.keys(&[NamedKey::ArrowDown, NamedKey::ArrowRight]);
    insta::assert_snapshot!("board_60x16_ascii", plain.seen());
}

#[test]
fn a_capture_from_the_first_key_to_the_last_list() {
    let mut stage = Stage::capturing(all(), DARK, SIZE);
    stage.types("qw");
    insta::assert_snapshot!("strike_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Escape]);
    insta::assert_snapshot!("say_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Escape]);
    stage.types("ertyuiopasdfghjkl;zxcvbnm,./");
    // LT3 gives nothing; LT2 opens symbols; LT1 is a dead key; the rest later.
    stage.say('n');
    stage.say('o');
    stage.types("1h");
    insta::assert_snapshot!("tap_80x24_dark", stage.seen());
    stage.types(" ");
    stage.say('d');
    stage.types("^");
    stage.say('s');
    stage.say('s');
    stage.types("q");
    insta::assert_snapshot!("held_80x24_dark", {
        stage.types("{");
        stage.seen()
    });
    stage.say('r');
    insta::assert_snapshot!("point_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Escape]);
    stage.types("l");
    insta::assert_snapshot!("done_80x24_dark", stage.seen());
    stage.types("w");
    assert_eq!(stage.making.end(), End::Written);
    let kept = stage.kept.borrow();
    let text = kept.layout.as_ref().unwrap();
    let layout = crate::layout::file::read(text, "harbour.toml").unwrap().layout;
    assert!(layout.reasons.iter().any(|line| line.contains("Dead keys")), "{text}");
    assert!(layout.reasons.iter().any(|line| line.contains("base RT3")), "{text}");
}

#[test]
fn a_plain_terminal_is_asked_about_what_it_sends_alike() {
    let mut stage = Stage::capturing(Level::Plain, ASCII, SIZE);
    stage.types("q");
    stage.keys(&[NamedKey::Tab]);
    insta::assert_snapshot!("which_80x24_ascii", stage.seen());
    // Any other key changes nothing; the second row is Ctrl with the key.
    stage.types("x2");
    assert!(stage.seen().contains("Tab"), "{}", stage.seen());
    stage.types("aa");
    assert!(stage.seen().contains("a again"), "{}", stage.seen());
}

#[test]
fn what_can_not_be_kept_is_told_and_kept_later() {
    let mut stage = Stage::capturing(all(), DARK, SIZE);
    stage.kept.borrow_mut().full = true;
    stage.types("qw");
    assert!(stage.seen().contains("no room"));
    assert!(stage.making.last_word().is_some());
    stage.kept.borrow_mut().full = false;
    stage.types("e");
    assert!(!stage.seen().contains("no room"));
    assert_eq!(stage.making.last_word(), None);
    let notes = stage.kept.borrow().notes.clone();
    let again = crate::capture::resume(&notes, "x", all()).unwrap();
    let told = again.progress(crate::layout::LayerId::BASE).0;
    assert_eq!(told, 3);
}

#[test]
fn every_way_to_say_something_leads_back_to_the_key() {
    for row in ['n', 'e', 's', 'd', 'w', 'o', 'b'] {
        let mut stage = Stage::capturing(all(), DARK, SIZE);
        stage.types("q");
        stage.say(row);
        stage.keys(&[NamedKey::Escape]);
        stage.keys(&[NamedKey::Escape]);
        assert_eq!(stage.making.end, None, "{row}");
        let seen = stage.seen();
        assert!(seen.contains("Strike the marked") || seen.contains("pass it over"), "{seen}");
    }
}

#[test]
fn no_size_panics() {
    let mut stages = [
        Stage::describing(DARK, SIZE),
        Stage::capturing(all(), ASCII, SIZE),
        Stage::capturing(all(), DARK, SIZE),
    ];
    stages[2].types("q");
    stages[2].keys(&[NamedKey::Escape]);
    for stage in &mut stages {
        for width in (0..=130).step_by(9) {
            for height in (0..=30).step_by(2) {
                stage.size = (width.max(1), height.max(1));
                stage.seen();
            }
        }
    }
    for keys in 1..=3 {
        let mut stage = Stage::describing(DARK, SIZE);
        stage.keys(&vec![NamedKey::Enter; keys]);
        for (width, height) in [(1, 1), (40, 10), (39, 10), (50, 12), (80, 16), (200, 60)] {
            stage.size = (width, height);
            stage.seen();
        }
    }
}
