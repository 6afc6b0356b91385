//! Which keys follow which, and which lie beside which.

use crate::keyboard::{Board, Chord, ChordKey, Finger, Modifiers, Output, Position};
use crate::layout::Route;
use crate::order::InOrder;
use crate::session::Stroke;

/// How one key follows another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Motor {
    /// By the other hand.
    Alternate,
    /// By the same hand, another finger.
    SameHand,
    /// The same key again.
    Repeat,
    /// The same finger on another key.
    SameFinger,
}

impl Motor {
    /// How a key with `after` follows one with `before`.
    pub fn of(before: (Position, Finger), after: (Position, Finger)) -> Self {
        if before.0 == after.0 {
            Self::Repeat
        } else if before.1 == after.1 {
            Self::SameFinger
        } else if before.1.hand == after.1.hand {
            Self::SameHand
        } else {
            Self::Alternate
        }
    }

    /// How `after` follows `before`.
    pub fn between(before: &Route, after: &Route) -> Self {
        Self::of((before.position, before.finger), (after.position, after.finger))
    }
}

/// Keys whose centres lie at most this far apart are neighbours, key units.
const NEXT_TO: f32 = 1.3;

/// The keys beside `position`, nearest first.
pub(super) fn neighbours(board: &Board, position: Position) -> Vec<Position> {
    let Some(site) = board.site(position) else { return Vec::new() };
    let (x, y) = site.centre();
    let mut found: Vec<(f32, Position)> = board
        .sites
        .iter()
        .filter(|other| other.position != position)
        .map(|other| {
            let (ox, oy) = other.centre();
            ((ox - x).hypot(oy - y), other.position)
        })
        .filter(|(distance, _)| *distance <= NEXT_TO)
        .collect();
    found.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    found.into_iter().map(|(_, position)| position).collect()
}

/// The strokes by which a terminal tells of `output`: one, or one a character
/// for a key that gives several.
pub fn strokes_of(output: &Output) -> Vec<Stroke> {
    match output {
        Output::Text(text) => text.chars().map(Stroke::char).collect(),
        Output::Key(key) => vec![Stroke::named(*key, Modifiers::empty())],
        Output::Chord(Chord { modifiers, key }) => vec![match key {
            ChordKey::Char(c) => Stroke { modifiers: *modifiers, ..Stroke::char(*c) },
            ChordKey::Named(key) => Stroke::named(*key, *modifiers),
        }],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;

    #[test]
    fn neighbours_are_the_keys_around() {
        let board = shipped::board("split-3x6-3").unwrap();
        let around = neighbours(&board, "C03".parse().unwrap());
        for name in ["C02", "C04", "D03", "B03"] {
            assert!(around.contains(&name.parse().unwrap()), "{name}: {around:?}");
        }
        assert!(around.len() <= 6, "{around:?}");
        assert!(!around.contains(&"C03".parse().unwrap()));
    }

    #[test]
    fn strokes_give_what_they_stand_for() {
        for text in ["a", "{", "Space", "Enter", "Ctrl+C", "ß", "A"] {
            let output: Output = text.parse().unwrap();
            let strokes = strokes_of(&output);
            assert_eq!(strokes.len(), 1);
            assert_eq!(strokes[0].output(), output, "{text}");
        }
        assert_eq!(strokes_of(&Output::Text("=>".to_owned())).len(), 2);
    }
}
