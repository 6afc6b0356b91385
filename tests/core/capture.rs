//! A keyboard that plays a layout, captured: what comes out is that layout.

use etude::capture::{self, Capture, Draft, Note, Outcome, Summary};
use etude::keyboard::{Chord, ChordKey, Modifiers, NamedKey, Output};
use etude::layout::walk::given;
use etude::layout::{Access, AccessKind, Assignment, Cluster, LayerId, Layout, Target, shipped};
use etude::session::{Event, EventKind, Granted, KeyEvent, KeyState, Level, Stroke, StrokeKey};
use etude::units::Micros;
use proptest::prelude::*;
use std::fmt::Write;

const BOARD: &str = "split-3x5-3";
const LAYERS: [(&str, Cluster); 3] = [
    ("symbols", Cluster::Symbols),
    ("navigation", Cluster::Navigation),
    ("shortcuts", Cluster::Shortcuts),
];

/// What a person does at a keyboard, with the layout in their head.
struct Person<'a> {
    layout: &'a Layout,
    now: Micros,
    capture: Capture,
    file: String,
    /// Strikes on the keyboard, those in lists included.
    strikes: usize,
}

impl<'a> Person<'a> {
    fn new(layout: &'a Layout, level: Level) -> Self {
        let mut draft = Draft::new("harbour", "Harbour", layout.board.clone()).unwrap();
        for layer in &layout.layers[1..] {
            draft.add_layer(&layer.name, layer.cluster).unwrap();
        }
        let mut person = Self {
            layout,
            now: Micros::ZERO,
            capture: Capture::begin(draft, level),
            file: String::new(),
            strikes: 0,
        };
        person.keep();
        person
    }

    fn keep(&mut self) {
        for note in self.capture.take_notes() {
            writeln!(self.file, "{}", note.line()).unwrap();
        }
    }

    fn event(&mut self, stroke: Stroke, state: KeyState) -> Outcome {
        let kind = EventKind::Key(KeyEvent { stroke, state, batched: false });
        self.capture.event(&Event { at: self.now, kind })
    }

    /// One strike, as a terminal with the whole protocol tells it.
    fn press(&mut self, output: &Output) -> Outcome {
        self.now = self.now + Micros::from_ms(700);
        self.strikes += 1;
        let stroke = match output {
            Output::Text(text) => {
                let mut outcome = Outcome::Nothing;
                for (n, c) in text.chars().enumerate() {
                    self.now = self.now + Micros::from_ms(u64::from(n > 0) * 4);
                    let stroke = Stroke { text: Some(c.to_string()), ..Stroke::char(c) };
                    outcome = self.event(stroke.clone(), KeyState::Press);
                    if let Outcome::Doubt(..) = outcome {
                        self.now = self.now + Micros::from_ms(700);
                        outcome = self.event(stroke, KeyState::Press);
                    }
                }
                return outcome;
            }
            Output::Key(key) => Stroke::named(*key, Modifiers::empty()),
            Output::Chord(chord) => {
                let key = match chord.key {
                    ChordKey::Char(c) => StrokeKey::Char(c),
                    ChordKey::Named(key) => StrokeKey::Named(key),
                };
                Stroke { key, modifiers: chord.modifiers, text: None, base: None }
            }
        };
        let modifier = matches!(output, Output::Key(key) if Modifiers::of_key(*key).is_some());
        let outcome = self.event(stroke.clone(), KeyState::Press);
        if modifier { self.event(stroke, KeyState::Release) } else { outcome }
    }

    fn strike(&mut self, output: &Output) {
        let mut outcome = self.press(output);
        if let Outcome::Doubt(..) = outcome {
            outcome = self.press(output);
        }
        if outcome == Outcome::Menu {
            self.strikes += 1;
            outcome = self.capture.escape();
        }
        if outcome == Outcome::Ask {
            let asked = self.capture.asked().unwrap();
            let number = asked.iter().position(|reading| reading == output).unwrap();
            self.capture.answer(number);
        }
    }

    fn beneath(&self, index: usize) -> Option<Output> {
        given(self.layout, &self.layout.layers[0].keys[index])
    }

    /// Tells the due key; false where all are told.
    fn tell(&mut self) -> bool {
        let Some(due) = self.capture.due() else { return false };
        let struck = self.strikes;
        match self.layout.layer(due.layer).keys[due.index].clone() {
            Assignment::Nothing => self.capture.nothing(),
            Assignment::FallThrough => match self.beneath(due.index) {
                Some(output) => self.strike(&output),
                None => self.capture.as_beneath(),
            },
            Assignment::Gives(output) => self.strike(&output),
            Assignment::Access(access) if due.tap => {
                assert_eq!(access.kind, AccessKind::Hold);
                self.capture.nothing();
            }
            Assignment::Access(Access { kind: AccessKind::Hold, target: Target::Modifier(m) }) => {
                self.strike(&Output::Key(m.key()));
            }
            Assignment::Access(access) => self.capture.opens(access),
            Assignment::Dual { tap, hold } => match (*tap, due.tap) {
                (Assignment::Gives(tap), true) => self.strike(&tap),
                (_, true) => panic!("no tap"),
                (_, false) => self.capture.opens(hold),
            },
            Assignment::Does(_) => panic!("no actions here"),
        }
        if self.strikes == struck {
            // Told in the list: Esc and a character, and how a layer opens.
            let opens = self.capture.due().is_some_and(|now| now.index == due.index && now.tap);
            self.strikes += if opens && !due.tap { 4 } else { 2 };
        }
        self.keep();
        true
    }

    /// Leaves, perhaps in the middle of a line, and goes on from the file.
    fn leave_and_resume(&mut self, level: Level) {
        self.keep();
        self.file.push_str("{\"note\":\"key\",\"lay");
        self.capture = capture::resume(&self.file, "harbour.capture", level)
            .unwrap_or_else(|error| panic!("{error}\n{}", self.file));
        let end = self.file.rfind('\n').unwrap() + 1;
        self.file.truncate(end);
    }
}

/// The truth, said as a capture says it: what falls through anyway falls
/// through, as does the key that is held.
fn as_captured(layout: &Layout) -> Vec<Vec<Assignment>> {
    let held = |layer: LayerId| {
        let target = Target::Layer(layer);
        layout.layers[0].keys.iter().position(|key| {
            let access = match key {
                Assignment::Access(access) => Some(*access),
                Assignment::Dual { hold, .. } => Some(*hold),
                _ => None,
            };
            access.is_some_and(|a| a.target == target && a.kind == AccessKind::Hold)
        })
    };
    layout
        .layers()
        .map(|(id, layer)| {
            let held = held(id).filter(|_| id != LayerId::BASE);
            layer
                .keys
                .iter()
                .enumerate()
                .map(|(index, key)| {
                    let base = &layout.layers[0].keys[index];
                    let same = match key {
                        Assignment::Gives(output) => given(layout, base).as_ref() == Some(output),
                        Assignment::Access(Access {
                            kind: AccessKind::Hold,
                            target: Target::Modifier(_),
                        }) => base == key,
                        _ => false,
                    };
                    if id != LayerId::BASE && (same || held == Some(index)) {
                        Assignment::FallThrough
                    } else {
                        key.clone()
                    }
                })
                .collect()
        })
        .collect()
}

fn output() -> impl Strategy<Value = Output> {
    prop_oneof![
        6 => prop::sample::select("abcdefghij0123.,;'{}[]~ßéж ".chars().collect::<Vec<_>>())
            .prop_map(Output::char),
        1 => Just(Output::Text("=>".into())),
        2 => prop::sample::select(vec![
            NamedKey::Enter, NamedKey::Tab, NamedKey::Escape, NamedKey::Backspace,
            NamedKey::ArrowLeft, NamedKey::F5, NamedKey::CapsLock,
        ])
        .prop_map(Output::Key),
        1 => prop::sample::select("cvx/".chars().collect::<Vec<_>>()).prop_map(|c| {
            let modifiers = Modifiers::CTRL | Modifiers::SHIFT;
            Output::Chord(Chord { modifiers, key: ChordKey::Char(c) })
        }),
    ]
}

fn key(base: bool) -> impl Strategy<Value = Assignment> {
    let hold = |modifier| {
        Assignment::Access(Access { kind: AccessKind::Hold, target: Target::Modifier(modifier) })
    };
    prop_oneof![
        8 => output().prop_map(Assignment::Gives),
        4 => Just(if base { Assignment::Nothing } else { Assignment::FallThrough }),
        1 => Just(Assignment::Nothing),
        1 => prop::sample::select(vec![Modifiers::SHIFT, Modifiers::CTRL]).prop_map(hold),
    ]
}

fn keyboards() -> impl Strategy<Value = Layout> {
    let keys = shipped::board(BOARD).unwrap().sites.len();
    let base = prop::collection::vec(key(true), keys);
    let above = prop::collection::vec(prop::collection::vec(key(false), keys), LAYERS.len());
    let kinds = prop::sample::select(vec![AccessKind::Hold, AccessKind::Latch, AccessKind::Lock]);
    let opened = prop::collection::vec((kinds, prop::option::of(output())), LAYERS.len());
    let places = Just((0..keys).collect::<Vec<_>>()).prop_shuffle();
    (base, above, opened, places).prop_map(|(base, above, opened, places)| {
        let mut draft = Draft::new("harbour", "Harbour", shipped::board(BOARD).unwrap()).unwrap();
        for (name, cluster) in LAYERS {
            draft.add_layer(name, cluster).unwrap();
        }
        let mut layout = draft.layout();
        layout.layers[0].keys = base;
        for (n, keys) in above.into_iter().enumerate() {
            layout.layers[n + 1].keys = keys;
        }
        for (n, ((kind, tap), place)) in opened.into_iter().zip(places).enumerate() {
            let access = Access { kind, target: Target::Layer(LayerId(n as u8 + 1)) };
            layout.layers[0].keys[place] = match tap {
                Some(tap) if kind == AccessKind::Hold => {
                    Assignment::Dual { tap: Box::new(Assignment::Gives(tap)), hold: access }
                }
                _ => Assignment::Access(access),
            };
        }
        layout
    })
}

fn all() -> Level {
    Level::Enhanced(Granted::all())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_keyboard_that_plays_a_layout_gives_that_layout(
        layout in keyboards(),
        leave_after in 0_usize..150,
    ) {
        let mut person = Person::new(&layout, all());
        let mut told = 0;
        while person.tell() {
            told += 1;
            prop_assert!(told < 1000);
            if told == leave_after {
                let due = person.capture.due();
                let draft = person.capture.draft().clone();
                person.leave_and_resume(all());
                prop_assert!(*person.capture.draft() == draft);
                prop_assert_eq!(person.capture.due(), due);
            }
        }
        let found: Vec<Vec<Assignment>> =
            person.capture.draft().layout().layers.into_iter().map(|layer| layer.keys).collect();
        for (n, (found, told)) in found.iter().zip(as_captured(&layout)).enumerate() {
            for (index, (found, told)) in found.iter().zip(&told).enumerate() {
                prop_assert_eq!(found, told, "layer {} key {}", n, index);
            }
        }
        // What was kept alone says the same.
        let kept = capture::resume(&person.file, "harbour.capture", all()).unwrap();
        prop_assert_eq!(kept.draft(), person.capture.draft());
        prop_assert_eq!(Summary::of(&kept).open, []);
    }

    #[test]
    fn back_undoes_whatever_was_told(layout in keyboards(), steps in 1_usize..60) {
        let mut person = Person::new(&layout, all());
        let before = person.capture.draft().clone();
        let due = person.capture.due();
        for _ in 0..steps {
            person.tell();
        }
        while person.capture.back() {
            person.keep();
        }
        person.keep();
        prop_assert!(*person.capture.draft() == before);
        let again = capture::resume(&person.file, "harbour.capture", all()).unwrap();
        prop_assert_eq!(again.due(), due);
    }

    #[test]
    fn no_progress_file_panics(
        lines in prop::collection::vec("[ -~]{0,60}", 0..6),
        cut in 0_usize..4000,
    ) {
        let _ = capture::resume(&lines.join("\n"), "x", all());
        let layout = shipped::load("tern-small").unwrap();
        let mut person = Person::new(&layout, all());
        for _ in 0..20 {
            person.capture.skip();
        }
        person.keep();
        let text = &person.file;
        let cut = (0..=cut.min(text.len())).rev().find(|&at| text.is_char_boundary(at)).unwrap();
        // A file cut anywhere reads, once its first two lines are there.
        let heads = text.lines().take(2).map(|line| line.len() + 1).sum::<usize>();
        let read = capture::resume(&text[..cut], "x", all());
        prop_assert_eq!(read.is_ok(), cut >= heads);
    }
}

#[test]
fn a_plain_terminal_takes_no_held_key_for_two_and_asks_what_it_cannot_tell() {
    let layout = shipped::load("tern-small").unwrap();
    let mut person = Person::new(&layout, Level::Plain);
    let q = Output::char('q');
    let start = person.capture.due().unwrap();
    assert_eq!(person.press(&q), Outcome::Noted);
    // The repeats of a held key come every 30 ms or so.
    for _ in 0..20 {
        person.now = person.now + Micros::from_ms(30);
        let outcome = person.event(Stroke::char('q'), KeyState::Press);
        assert!(matches!(outcome, Outcome::Doubt(..)), "{outcome:?}");
    }
    assert_eq!(person.capture.due().unwrap().index, start.index + 1);
    // Struck once more on purpose it counts.
    assert_eq!(person.press(&q), Outcome::Noted);
    assert_eq!(person.capture.doubles((LayerId::BASE, 1)), [0]);
    assert_eq!(person.press(&Output::Key(NamedKey::Tab)), Outcome::Ask);
    let asked: Vec<String> =
        person.capture.asked().unwrap().iter().map(ToString::to_string).collect();
    assert!(asked.contains(&"Ctrl+I".to_owned()), "{asked:?}");
    person.capture.answer(0);
    assert_eq!(person.capture.answered(), 1);
}

#[test]
fn a_notes_line_that_is_wrong_is_told_with_its_number() {
    let layout = shipped::load("tern-small").unwrap();
    let mut person = Person::new(&layout, all());
    person.capture.nothing();
    person.keep();
    for (line, told) in [
        (
            "{\"note\":\"key\",\"layer\":\"base\",\"position\":\"Z9\",\"token\":\"a\"}\n",
            "makes no sense",
        ),
        ("{\"note\":\"kye\"}\n", "unknown variant"),
    ] {
        let number = person.file.lines().count() + 1;
        let error = capture::resume(&format!("{}{line}", person.file), "harbour.capture", all())
            .unwrap_err()
            .to_string();
        assert!(error.starts_with(&format!("harbour.capture:{number}: ")), "{error}");
        assert!(error.contains(told), "{error}");
    }
    let error = capture::resume("name = 'x'\n", "layout.toml", all()).unwrap_err();
    assert!(error.to_string().contains("no progress of a capture"), "{error}");
    assert!(matches!(capture::read_notes(&person.file, "x").unwrap()[0].1, Note::Begin { .. }));
}

/// 36 keys and four layers above the base: how much there is to strike. At two
/// strikes in three seconds (our estimate of an unhurried hand that reads the
/// mark) ten minutes hold 400.
#[test]
fn a_whole_board_with_four_layers_takes_few_strikes() {
    let mut layout = shipped::load("tern-small").unwrap();
    layout.layers.retain(|layer| layer.cluster != Cluster::Shortcuts);
    let gone = LayerId(layout.layers.len() as u8);
    let actions = layout.actions.clone();
    for key in layout.layers.iter_mut().flat_map(|layer| &mut layer.keys) {
        *key = match key.clone() {
            Assignment::Does(name) => Assignment::Gives(Output::Chord(actions[&name].chord)),
            Assignment::Dual { tap, hold } if hold.target == Target::Layer(gone) => *tap,
            key => key,
        };
    }
    assert_eq!((layout.board.sites.len(), layout.layers.len()), (36, 5));
    let mut person = Person::new(&layout, all());
    let mut steps = 0;
    while person.tell() {
        steps += 1;
    }
    assert_eq!(Summary::of(&person.capture).open, []);
    println!("{steps} steps, {} strikes", person.strikes);
    assert!(steps <= 36 * 5 + 12 && person.strikes <= 300, "{steps} {}", person.strikes);
}
