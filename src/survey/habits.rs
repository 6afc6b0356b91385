//! What work needs besides text: moving, selecting, deleting, shortcuts.
//!
//! Text can't tell how often someone moves the cursor or strikes a shortcut,
//! and nothing is ever recorded in the background: it is assumed by the kind
//! of work until the person says otherwise. All figures here are our own
//! estimates, no source.

use super::{Work, WorkMix};
use crate::editor::Motion;
use crate::keyboard::{Chord, ChordKey, Modifiers, NamedKey, Output};

/// What somebody does in an hour of work. Only the ratios to `typed` count for
/// a page of text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habits {
    /// Characters typed, > 0.
    pub typed: f64,
    /// Keys that move the cursor.
    pub moves: f64,
    /// Keys that select.
    pub selections: f64,
    /// Keys that delete, Backspace left out, which comes with the text.
    pub deletions: f64,
    /// Shortcuts.
    pub shortcuts: f64,
    /// Hours of such work in a working day, > 0.
    pub hours: f64,
}

/// Hours at the keyboard in a working day, unless somebody says otherwise (our
/// own estimate, no source).
pub const HOURS: f64 = 4.0;

impl Habits {
    /// What is assumed of a kind of work: our own estimates, no source.
    pub const fn assumed(work: Work) -> Self {
        let [typed, moves, selections, deletions, shortcuts] = match work {
            Work::Prose => [4000.0, 200.0, 30.0, 40.0, 60.0],
            Work::Code => [2500.0, 500.0, 80.0, 80.0, 130.0],
            Work::Figures => [3000.0, 400.0, 40.0, 40.0, 80.0],
            Work::Editing => [1500.0, 700.0, 120.0, 120.0, 160.0],
        };
        Self { typed, moves, selections, deletions, shortcuts, hours: HOURS }
    }

    /// What is assumed of a mix of work: hours of it, by the strokes that each
    /// kind has.
    pub fn of(mix: &WorkMix) -> Self {
        let shares = mix.0.iter().filter(|(_, share)| **share > 0.0);
        let mut sum = Self {
            typed: 0.0,
            moves: 0.0,
            selections: 0.0,
            deletions: 0.0,
            shortcuts: 0.0,
            hours: HOURS,
        };
        let mut hours = 0.0;
        for (work, share) in shares {
            let one = Self::assumed(*work);
            let part = share / one.typed;
            hours += part;
            sum.typed += part * one.typed;
            sum.moves += part * one.moves;
            sum.selections += part * one.selections;
            sum.deletions += part * one.deletions;
            sum.shortcuts += part * one.shortcuts;
        }
        if hours <= 0.0 {
            return Self::assumed(Work::Prose);
        }
        let each = |times: f64| times / hours;
        Self {
            typed: each(sum.typed),
            moves: each(sum.moves),
            selections: each(sum.selections),
            deletions: each(sum.deletions),
            shortcuts: each(sum.shortcuts),
            hours: HOURS,
        }
    }

    /// How often `times` an hour come for one character typed.
    fn each(&self, times: f64) -> f64 {
        times / self.typed.max(1.0)
    }

    /// Every key of these habits with how often it comes for one character
    /// typed. The keys are those of the common desktop conventions
    /// (`drills/editing.toml`).
    pub fn keys(&self) -> Vec<(Output, f64)> {
        let mut keys = Vec::new();
        let selecting = |key: Output| match key {
            Output::Key(key) => chord(Modifiers::SHIFT, ChordKey::Named(key)),
            Output::Chord(struck) => chord(struck.modifiers | Modifiers::SHIFT, struck.key),
            Output::Text(_) => key,
        };
        for (motion, share) in MOTIONS {
            let key = moves(motion);
            keys.push((selecting(key.clone()), self.each(self.selections) * share));
            keys.push((key, self.each(self.moves) * share));
        }
        let control = |key| chord(Modifiers::CTRL, ChordKey::Named(key));
        keys.extend([
            (Output::Key(NamedKey::Delete), self.each(self.deletions) * 0.5),
            (control(NamedKey::Backspace), self.each(self.deletions) * 0.35),
            (control(NamedKey::Delete), self.each(self.deletions) * 0.15),
        ]);
        for (letter, shift, share) in SHORTCUTS {
            let with = if shift { Modifiers::SHIFT } else { Modifiers::empty() };
            let key = chord(Modifiers::CTRL | with, ChordKey::Char(letter));
            keys.push((key, self.each(self.shortcuts) * share));
        }
        keys
    }
}

/// Of a hundred keys that move the cursor so many go each way.
const MOTIONS: [(Motion, f64); 12] = [
    (Motion::Down, 0.21),
    (Motion::Up, 0.18),
    (Motion::Right, 0.16),
    (Motion::Left, 0.15),
    (Motion::WordRight, 0.07),
    (Motion::WordLeft, 0.06),
    (Motion::LineEnd, 0.06),
    (Motion::LineStart, 0.04),
    (Motion::PageDown, 0.03),
    (Motion::PageUp, 0.02),
    (Motion::DocumentEnd, 0.01),
    (Motion::DocumentStart, 0.01),
];

/// Of a hundred shortcuts with Ctrl, and Shift, so many are of each letter.
const SHORTCUTS: [(char, bool, f64); 14] = [
    ('v', false, 0.20),
    ('c', false, 0.16),
    ('s', false, 0.15),
    ('z', false, 0.12),
    ('f', false, 0.08),
    ('x', false, 0.07),
    ('t', false, 0.04),
    ('w', false, 0.04),
    ('v', true, 0.03),
    ('p', true, 0.03),
    ('z', true, 0.02),
    ('a', false, 0.02),
    ('g', false, 0.02),
    ('o', false, 0.02),
];

const fn chord(modifiers: Modifiers, key: ChordKey) -> Output {
    Output::Chord(Chord { modifiers, key })
}

/// The key of the common conventions that moves so.
const fn moves(motion: Motion) -> Output {
    let key = match motion {
        Motion::Left | Motion::WordLeft => NamedKey::ArrowLeft,
        Motion::Right | Motion::WordRight => NamedKey::ArrowRight,
        Motion::Up | Motion::ParagraphUp => NamedKey::ArrowUp,
        Motion::Down | Motion::ParagraphDown => NamedKey::ArrowDown,
        Motion::LineStart | Motion::DocumentStart => NamedKey::Home,
        Motion::LineEnd | Motion::DocumentEnd => NamedKey::End,
        Motion::PageUp => NamedKey::PageUp,
        Motion::PageDown => NamedKey::PageDown,
    };
    match motion {
        Motion::WordLeft
        | Motion::WordRight
        | Motion::ParagraphUp
        | Motion::ParagraphDown
        | Motion::DocumentStart
        | Motion::DocumentEnd => chord(Modifiers::CTRL, ChordKey::Named(key)),
        _ => Output::Key(key),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::{Action, common};

    #[test]
    fn shares_make_wholes() {
        let of = |shares: &[f64]| shares.iter().sum::<f64>();
        assert!((of(&MOTIONS.map(|(_, share)| share)) - 1.0).abs() < 1e-12);
        assert!((of(&SHORTCUTS.map(|(_, _, share)| share)) - 1.0).abs() < 1e-12);
        for work in Work::ALL {
            let habits = Habits::assumed(work);
            let each: f64 = habits.keys().iter().map(|(_, times)| times).sum();
            let Habits { typed, moves, selections, deletions, shortcuts, .. } = habits;
            let all = (moves + selections + deletions + shortcuts) / typed;
            assert!((each - all).abs() < 1e-12, "{work:?}");
        }
    }

    /// By hand: 8000 strokes of prose are 2 hours, 5000 of code 2 hours more.
    #[test]
    fn a_mix_counts_by_hours() {
        let mix = WorkMix([(Work::Prose, 8000.0), (Work::Code, 5000.0)].into());
        let habits = Habits::of(&mix);
        assert!((habits.typed - 3250.0).abs() < 1e-9 && (habits.moves - 350.0).abs() < 1e-9);
        let all_code = Habits::of(&WorkMix::only(Work::Code));
        assert_eq!(all_code, Habits::assumed(Work::Code));
    }

    #[test]
    fn keys_do_in_the_editor_what_they_are_counted_for() {
        let bindings = common().unwrap();
        let does = |key: &Output| bindings.iter().find(|(k, _)| *k == key).map(|(_, a)| a);
        for (motion, _) in MOTIONS {
            assert_eq!(does(&moves(motion)), Some(Action::Move(motion)), "{motion:?}");
        }
        let keys = Habits::assumed(Work::Code).keys();
        let selects = keys.iter().filter(|(k, _)| matches!(does(k), Some(Action::Select(_))));
        assert_eq!(selects.count(), MOTIONS.len());
        assert_eq!(
            keys.iter().filter(|(k, _)| matches!(does(k), Some(Action::Delete(_)))).count(),
            3
        );
    }
}
