//! Which key does what outside the line: one table, which is also the help.
//!
//! While a line is due every key belongs to the drill; only Esc, struck three
//! times within a second while it is not due, leaves. The commands below
//! hold on the other screens, and need neither a layer nor a Latin letter.

mod place;
mod table;

pub use place::{Place, Sight, Step, View};
pub use table::BINDINGS;

use crate::keyboard::{Modifiers, NamedKey};
use crate::session::{Stroke, StrokeKey};
use Key::{Char, Ctrl, Named};

/// What a key does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// Go on: begin, next drill, close.
    Go,
    /// Back out, in the end leave.
    Back,
    /// One row up.
    Up,
    /// One row down.
    Down,
    /// A minute less, or the layer before.
    Less,
    /// A minute more, or the layer after.
    More,
    /// The same drill again.
    Again,
    /// Show the help.
    Help,
    /// Look at progress.
    Progress,
    /// Look at the layers of the layout.
    Layers,
    /// Look at what the person's work needs.
    Work,
    /// The next view.
    Next,
    /// The view before.
    Previous,
    /// The other figure, or the next order; the other way to open a layer.
    Turn,
    /// Pin what is chosen, leave it out, take it in again.
    Wish,
    /// One more layer.
    Add,
    /// One layer less.
    Remove,
    /// Another name for it.
    Rename,
    /// Leave the program at once.
    Quit,
}

/// One row of the table.
#[derive(Debug, Clone, Copy)]
pub struct Binding {
    /// Where it holds.
    pub places: &'static [Place],
    /// The keys, as strokes.
    pub keys: &'static [Key],
    /// The keys, as shown.
    pub shown: &'static str,
    /// What it does.
    pub action: Action,
    /// What it does, for people, in the footer and the help.
    pub label: &'static str,
}

/// A key of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// A named key without modifiers.
    Named(NamedKey),
    /// A character.
    Char(char),
    /// Ctrl and a letter.
    Ctrl(char),
}

/// The action that `stroke` means at `place`.
pub fn action(place: Place, stroke: &Stroke) -> Option<Action> {
    let matches = |key: &Key| match *key {
        Named(named) => stroke.plain_key() == Some(named),
        Ctrl(c) => stroke.modifiers == Modifiers::CTRL && stroke.key == StrokeKey::Char(c),
        Char(c) => {
            !stroke.modifiers.intersects(Modifiers::CTRL | Modifiers::ALT | Modifiers::META)
                && stroke.output().as_char() == Some(c)
        }
    };
    BINDINGS
        .iter()
        .find(|b| b.places.contains(&place) && b.keys.iter().any(matches))
        .map(|b| b.action)
}

/// The commands of `place`, as footer or help show them.
pub fn at(place: Place) -> impl Iterator<Item = &'static Binding> {
    BINDINGS.iter().filter(move |b| b.places.contains(&place))
}

#[cfg(test)]
mod tests {
    use super::Action as A;
    use super::Place as P;
    use super::*;
    use NamedKey as N;

    const MAKING: [Place; 8] = [
        P::Look,
        P::Making(Step::Board),
        P::Making(Step::Layers),
        P::Making(Step::Accesses),
        P::Making(Step::Strike),
        P::Making(Step::List),
        P::Making(Step::Word),
        P::Making(Step::Point),
    ];

    #[test]
    fn no_key_has_two_meanings_at_one_place() {
        let places = [P::Welcome, P::Start, P::Practice, P::Result, P::Edited, P::Break, P::Help];
        for place in places
            .into_iter()
            .chain(MAKING)
            .chain(View::ALL.map(P::Progress))
            .chain(Sight::ALL.map(P::Work))
        {
            let keys: Vec<Key> = at(place).flat_map(|b| b.keys.iter().copied()).collect();
            for (n, key) in keys.iter().enumerate() {
                assert!(!keys[..n].contains(key), "{key:?} at {place:?}");
            }
        }
    }

    #[test]
    fn no_command_holds_while_a_line_is_due() {
        assert_eq!(at(P::Practice).count(), 0);
    }

    #[test]
    fn every_other_place_has_a_way_back() {
        let places = [P::Welcome, P::Start, P::Result, P::Edited, P::Break, P::Help];
        for place in places
            .into_iter()
            .chain(MAKING)
            .chain(View::ALL.map(P::Progress))
            .chain(Sight::ALL.map(P::Work))
        {
            let escape = Stroke::named(N::Escape, Modifiers::empty());
            assert_eq!(action(place, &escape), Some(A::Back), "{place:?}");
        }
    }

    #[test]
    fn a_question_mark_by_shift_is_a_question_mark() {
        let plain = Stroke::char('?');
        let told = Stroke {
            key: StrokeKey::Char('/'),
            modifiers: Modifiers::SHIFT,
            text: Some("?".into()),
            base: None,
        };
        assert_eq!(action(P::Start, &plain), Some(A::Help));
        assert_eq!(action(P::Start, &told), Some(A::Help));
    }
}
