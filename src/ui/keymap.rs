//! Which key does what outside the line: one table, which is also the help.
//!
//! While a line is due every key belongs to the drill; only Esc, struck three
//! times within a second while it is not due, leaves. The commands below
//! hold on the other screens, and need neither a layer nor a Latin letter.

use crate::keyboard::{Modifiers, NamedKey};
use crate::session::{Stroke, StrokeKey};

/// Where a key is struck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The first start.
    Welcome,
    /// Choosing what to practise.
    Start,
    /// Typing a line.
    Practice,
    /// The result of a drill.
    Result,
    /// The result of a drill of editing tasks.
    Edited,
    /// The break that is offered.
    Break,
    /// Looking at progress.
    Progress(View),
    /// Looking at what the person's work needs.
    Work(Sight),
    /// The help.
    Help,
    /// Looking at a layout: what is typed is searched for.
    Look,
    /// Making a layout: describing it, or learning it from the keyboard.
    Making(Step),
}

/// What a key is for while a layout is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Choosing and describing the board.
    Board,
    /// Naming layers.
    Layers,
    /// Saying which keys open them.
    Accesses,
    /// Striking the marked key: every key but Esc is noted.
    Strike,
    /// Choosing from a list.
    List,
    /// Writing a word.
    Word,
    /// Pointing at a key of the board.
    Point,
}

/// The views of progress, in the order in which Tab goes through them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// By layer, with a chart over the days.
    Layers,
    /// The board as a heat map.
    Board,
    /// From which layer to which.
    Switches,
    /// Key by key.
    Items,
    /// Day by day.
    Calendar,
}

impl View {
    /// Every view, in order.
    pub const ALL: [Self; 5] =
        [Self::Layers, Self::Board, Self::Switches, Self::Items, Self::Calendar];

    /// Its name on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Layers => "layers",
            Self::Board => "board",
            Self::Switches => "switches",
            Self::Items => "keys",
            Self::Calendar => "days",
        }
    }

    /// The view so many further on, round and round.
    #[must_use]
    pub fn step(self, by: usize) -> Self {
        let at = Self::ALL.iter().position(|view| *view == self).unwrap_or(0);
        Self::ALL[(at + by) % Self::ALL.len()]
    }
}

/// The views of the person's work, in the order in which Tab goes through them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sight {
    /// What each layer and key is needed for.
    #[default]
    Need,
    /// What a page costs here and on the old way.
    Cost,
    /// Which layer first.
    First,
    /// What would lie better.
    Places,
    /// What was promised, and what came of it.
    Promised,
}

impl Sight {
    /// Every view, in order.
    pub const ALL: [Self; 5] = [Self::Need, Self::Cost, Self::First, Self::Places, Self::Promised];

    /// Its name on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Need => "need",
            Self::Cost => "cost",
            Self::First => "first",
            Self::Places => "places",
            Self::Promised => "promised",
        }
    }

    /// The view so many further on, round and round.
    #[must_use]
    pub fn step(self, by: usize) -> Self {
        let at = Self::ALL.iter().position(|sight| *sight == self).unwrap_or(0);
        Self::ALL[(at + by) % Self::ALL.len()]
    }
}

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

use Action as A;
use Key::{Char, Ctrl, Named};
use NamedKey as N;
use Place as P;

const SIGHTS: &[Place] = &[
    P::Work(Sight::Need),
    P::Work(Sight::Cost),
    P::Work(Sight::First),
    P::Work(Sight::Places),
    P::Work(Sight::Promised),
];

/// Views with a layer that is looked at.
const BY_LAYER: &[Place] = &[P::Work(Sight::Need), P::Work(Sight::Places)];

const VIEWS: &[Place] = &[
    P::Progress(View::Layers),
    P::Progress(View::Board),
    P::Progress(View::Switches),
    P::Progress(View::Items),
    P::Progress(View::Calendar),
];

/// Every command, in the order of the help.
pub const BINDINGS: &[Binding] = &[
    Binding {
        places: &[P::Welcome],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Go,
        label: "to the start",
    },
    Binding {
        places: &[P::Start],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Go,
        label: "begin",
    },
    Binding {
        places: &[P::Start],
        keys: &[Char(' ')],
        shown: "Space",
        action: A::Wish,
        label: "pin, skip",
    },
    Binding {
        places: &[P::Start],
        keys: &[Char('p'), Named(N::F2)],
        shown: "p",
        action: A::Progress,
        label: "progress",
    },
    Binding {
        places: &[P::Start],
        keys: &[Char('w'), Named(N::F4)],
        shown: "w",
        action: A::Work,
        label: "work",
    },
    Binding {
        places: &[P::Start],
        keys: &[Char('l'), Named(N::F3)],
        shown: "l",
        action: A::Layers,
        label: "layers",
    },
    Binding {
        places: &[P::Welcome, P::Start, P::Help],
        keys: &[Named(N::ArrowUp)],
        shown: "↑",
        action: A::Up,
        label: "up",
    },
    Binding {
        places: &[P::Welcome, P::Start, P::Help],
        keys: &[Named(N::ArrowDown), Named(N::Tab)],
        shown: "↓",
        action: A::Down,
        label: "down",
    },
    Binding {
        places: SIGHTS,
        keys: &[Named(N::Tab), Named(N::ArrowRight)],
        shown: "Tab",
        action: A::Next,
        label: "next view",
    },
    Binding {
        places: SIGHTS,
        keys: &[Named(N::ArrowLeft)],
        shown: "←",
        action: A::Previous,
        label: "view before",
    },
    Binding {
        places: BY_LAYER,
        keys: &[Named(N::ArrowUp)],
        shown: "↑",
        action: A::Up,
        label: "layer before",
    },
    Binding {
        places: BY_LAYER,
        keys: &[Named(N::ArrowDown)],
        shown: "↓",
        action: A::Down,
        label: "next layer",
    },
    Binding {
        places: SIGHTS,
        keys: &[Char('?'), Named(N::F1)],
        shown: "?",
        action: A::Help,
        label: "help",
    },
    Binding {
        places: SIGHTS,
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "back",
    },
    Binding {
        places: SIGHTS,
        keys: &[Ctrl('c')],
        shown: "Ctrl+C",
        action: A::Quit,
        label: "leave at once",
    },
    Binding {
        places: VIEWS,
        keys: &[Named(N::Tab), Named(N::ArrowRight)],
        shown: "Tab",
        action: A::Next,
        label: "next view",
    },
    Binding {
        places: VIEWS,
        keys: &[Named(N::ArrowLeft)],
        shown: "←",
        action: A::Previous,
        label: "view before",
    },
    Binding { places: VIEWS, keys: &[Named(N::ArrowUp)], shown: "↑", action: A::Up, label: "up" },
    Binding {
        places: VIEWS,
        keys: &[Named(N::ArrowDown)],
        shown: "↓",
        action: A::Down,
        label: "down",
    },
    Binding {
        places: &[P::Progress(View::Board)],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Turn,
        label: "latency or errors",
    },
    Binding {
        places: &[P::Progress(View::Items)],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Turn,
        label: "next order",
    },
    Binding {
        places: VIEWS,
        keys: &[Char('-'), Named(N::PageDown)],
        shown: "-",
        action: A::Less,
        label: "fewer days",
    },
    Binding {
        places: VIEWS,
        keys: &[Char('+'), Named(N::PageUp)],
        shown: "+",
        action: A::More,
        label: "more days",
    },
    Binding {
        places: &[P::Start],
        keys: &[Named(N::ArrowLeft)],
        shown: "←",
        action: A::Less,
        label: "a minute less",
    },
    Binding {
        places: &[P::Start],
        keys: &[Named(N::ArrowRight)],
        shown: "→",
        action: A::More,
        label: "a minute more",
    },
    Binding {
        places: &[P::Result, P::Edited],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Go,
        label: "next",
    },
    Binding {
        places: &[P::Edited],
        keys: &[Named(N::ArrowLeft)],
        shown: "←",
        action: A::Less,
        label: "step back",
    },
    Binding {
        places: &[P::Edited],
        keys: &[Named(N::ArrowRight), Char(' ')],
        shown: "→",
        action: A::More,
        label: "next step",
    },
    Binding {
        places: &[P::Edited],
        keys: &[Named(N::ArrowUp)],
        shown: "↑",
        action: A::Up,
        label: "task before",
    },
    Binding {
        places: &[P::Edited],
        keys: &[Named(N::ArrowDown), Named(N::Tab)],
        shown: "↓",
        action: A::Down,
        label: "next task",
    },
    Binding {
        places: &[P::Result, P::Edited],
        keys: &[Named(N::Backspace)],
        shown: "Backspace",
        action: A::Again,
        label: "again",
    },
    Binding {
        places: &[P::Break],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Go,
        label: "go on anyway",
    },
    Binding {
        places: &[P::Help],
        keys: &[Named(N::Enter), Char('?')],
        shown: "Enter",
        action: A::Go,
        label: "close",
    },
    Binding {
        places: VIEWS,
        keys: &[Char('?'), Named(N::F1)],
        shown: "?",
        action: A::Help,
        label: "help",
    },
    Binding {
        places: VIEWS,
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "back",
    },
    Binding {
        places: VIEWS,
        keys: &[Ctrl('c')],
        shown: "Ctrl+C",
        action: A::Quit,
        label: "leave at once",
    },
    Binding {
        places: &[P::Welcome, P::Start, P::Result, P::Edited, P::Break],
        keys: &[Char('?'), Named(N::F1)],
        shown: "? F1",
        action: A::Help,
        label: "help",
    },
    Binding {
        places: &[P::Welcome, P::Start],
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "leave",
    },
    Binding {
        places: &[P::Result, P::Edited, P::Break],
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "end the sitting",
    },
    Binding {
        places: &[P::Help],
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "close",
    },
    Binding {
        places: &[P::Welcome, P::Start, P::Result, P::Edited, P::Break, P::Help],
        keys: &[Ctrl('c')],
        shown: "Ctrl+C",
        action: A::Quit,
        label: "leave the program at once",
    },
    Binding {
        places: &[P::Look],
        keys: &[Named(N::ArrowUp), Named(N::PageUp)],
        shown: "↑",
        action: A::Up,
        label: "up",
    },
    Binding {
        places: &[P::Look],
        keys: &[Named(N::ArrowDown), Named(N::PageDown)],
        shown: "↓",
        action: A::Down,
        label: "down",
    },
    Binding {
        places: &[P::Look],
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "end the search, leave",
    },
    Binding {
        places: &[P::Look],
        keys: &[Ctrl('c')],
        shown: "Ctrl+C",
        action: A::Quit,
        label: "leave at once",
    },
    Binding {
        places: &[P::Making(Step::Board), P::Making(Step::Layers), P::Making(Step::Accesses)],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Go,
        label: "next step",
    },
    Binding {
        places: &[P::Making(Step::List)],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Go,
        label: "choose",
    },
    Binding {
        places: &[P::Making(Step::Point)],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Go,
        label: "this key",
    },
    Binding {
        places: &[P::Making(Step::Word)],
        keys: &[Named(N::Enter)],
        shown: "Enter",
        action: A::Go,
        label: "take it",
    },
    Binding {
        places: &[P::Making(Step::Board)],
        keys: &[Named(N::ArrowLeft), Char('-')],
        shown: "←",
        action: A::Less,
        label: "fewer",
    },
    Binding {
        places: &[P::Making(Step::Board)],
        keys: &[Named(N::ArrowRight), Char('+')],
        shown: "→",
        action: A::More,
        label: "more",
    },
    Binding {
        places: &[P::Making(Step::Layers)],
        keys: &[Named(N::ArrowRight)],
        shown: "→",
        action: A::More,
        label: "cluster",
    },
    Binding {
        places: &[P::Making(Step::Layers)],
        keys: &[Char('r'), Named(N::F2)],
        shown: "r",
        action: A::Rename,
        label: "rename",
    },
    Binding {
        places: &[P::Making(Step::Layers)],
        keys: &[Char('+'), Named(N::Insert)],
        shown: "+",
        action: A::Add,
        label: "add",
    },
    Binding {
        places: &[P::Making(Step::Layers)],
        keys: &[Char('-'), Named(N::Delete)],
        shown: "-",
        action: A::Remove,
        label: "leave out",
    },
    Binding {
        places: &[P::Making(Step::Accesses), P::Making(Step::Point)],
        keys: &[Named(N::ArrowRight)],
        shown: "→",
        action: A::More,
        label: "next key",
    },
    Binding {
        places: &[P::Making(Step::Accesses)],
        keys: &[Char(' '), Named(N::F2)],
        shown: "Space",
        action: A::Turn,
        label: "hold, latch, lock",
    },
    Binding {
        places: &[P::Making(Step::Layers)],
        keys: &[Named(N::ArrowLeft)],
        shown: "←",
        action: A::Less,
        label: "cluster",
    },
    Binding {
        places: &[P::Making(Step::Accesses), P::Making(Step::Point)],
        keys: &[Named(N::ArrowLeft)],
        shown: "←",
        action: A::Less,
        label: "key before",
    },
    Binding {
        places: MAKING_LISTS,
        keys: &[Named(N::ArrowUp)],
        shown: "↑",
        action: A::Up,
        label: "up",
    },
    Binding {
        places: MAKING_LISTS,
        keys: &[Named(N::ArrowDown), Named(N::Tab)],
        shown: "↓",
        action: A::Down,
        label: "down",
    },
    Binding {
        places: &[P::Making(Step::Board), P::Making(Step::Layers), P::Making(Step::Accesses)],
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "a step back",
    },
    Binding {
        places: &[P::Making(Step::List), P::Making(Step::Word), P::Making(Step::Point)],
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "close",
    },
    Binding {
        places: &[P::Making(Step::Strike)],
        keys: &[Named(N::Escape)],
        shown: "Esc",
        action: A::Back,
        label: "nothing here, opens a layer, skip, back, leave",
    },
];

/// Where a layout is made by going up and down.
const MAKING_LISTS: &[Place] = &[
    P::Making(Step::Board),
    P::Making(Step::Layers),
    P::Making(Step::Accesses),
    P::Making(Step::List),
];

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
    use super::*;

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
        for place in places.into_iter().chain(MAKING).chain(VIEWS.iter().copied()) {
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
        for place in places.into_iter().chain(MAKING).chain(VIEWS.iter().copied()) {
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
