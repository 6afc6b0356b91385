//! What kind of slip a wrong key was.

use crate::keyboard::{Modifiers, Output, Position, Site};
use crate::layout::walk::given;
use crate::layout::{Assignment, LayerId, Layout, RouteTable};
use crate::session::{Flags, Keystroke, Verdict};
use serde::{Deserialize, Serialize};

/// The kind of a slip, judged from the keys struck around it and the layout.
/// Where several fit, the first of this list is taken, but for `Other`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Slip {
    /// Two keys in the wrong order.
    Swapped,
    /// The key before, struck a second time.
    Doubled,
    /// The right key, with the layer or Shift of the item before still held.
    HeldTooLate,
    /// The right key within a run, with its layer or Shift let go already; or
    /// anywhere, where the marker of the layer told that it was let go.
    LetGoTooEarly,
    /// The right key on another layer, or with or without Shift where the
    /// other was due.
    WrongLayer,
    /// A key beside the right one, on the right layer.
    Neighbour,
    /// None of these.
    Other,
}

impl Slip {
    /// Every kind.
    pub const ALL: [Self; 7] = [
        Self::Swapped,
        Self::Doubled,
        Self::HeldTooLate,
        Self::LetGoTooEarly,
        Self::WrongLayer,
        Self::Neighbour,
        Self::Other,
    ];

    /// The words for the person.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Swapped => "swapped with the next key",
            Self::Doubled => "key before struck twice",
            Self::HeldTooLate => "layer held too long",
            Self::LetGoTooEarly => "layer let go too early",
            Self::WrongLayer => "right key, wrong layer",
            Self::Neighbour => "key beside it",
            Self::Other => "another key",
        }
    }

    /// What it means, in a sentence for the person.
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::Swapped => "two keys came in the wrong order",
            Self::Doubled => "the key before came a second time",
            Self::HeldTooLate => {
                "the finger found the key, but the layer or Shift of the item before was still held"
            }
            Self::LetGoTooEarly => {
                "the finger found the key, but the layer or Shift of the run was let go before it"
            }
            Self::WrongLayer => "the finger found the key, but another layer was active",
            Self::Neighbour => "the right layer, one key off",
            Self::Other => "another key, for no reason that can be seen from here",
        }
    }
}

/// What is active at a strike, as far as the host can tell.
type Level = (LayerId, Modifiers);

const PLAIN: Level = (LayerId::BASE, Modifiers::empty());

/// Keys whose edges are at most so far apart, each way, are neighbours; key
/// units. Wide enough for the offset of rows and columns.
const GAP: f32 = 0.3;

/// Tells slips on one layout.
#[derive(Debug, Clone, Copy)]
pub struct Slips<'a> {
    layout: &'a Layout,
    routes: &'a RouteTable,
}

impl<'a> Slips<'a> {
    /// Those on `layout` with its `routes`.
    pub const fn new(layout: &'a Layout, routes: &'a RouteTable) -> Self {
        Self { layout, routes }
    }

    /// The kind of the miss at index `at` of a drill's keystrokes; none where
    /// that is no miss.
    pub fn classify(&self, keystrokes: &[Keystroke], at: usize) -> Option<Slip> {
        let miss = keystrokes.get(at).filter(|k| k.verdict == Verdict::Miss)?;
        let before = at
            .checked_sub(1)
            .and_then(|before| keystrokes.get(before))
            .filter(|before| before.prompt == miss.prompt);
        let later: Vec<&Keystroke> =
            keystrokes[at + 1..].iter().take_while(|k| k.prompt == miss.prompt).collect();
        let due = self.level_of(miss);
        let elsewhere = miss.position.is_some_and(|position| {
            self.levels().any(|level| level != due && self.gives(level, position, &miss.got))
        });
        // What the layer's marker told goes before what is guessed.
        if elsewhere && miss.flags.contains(Flags::LAYER_LET_GO) {
            return Some(Slip::LetGoTooEarly);
        }
        if swapped(before, miss, &later) {
            return Some(Slip::Swapped);
        }
        if before.is_some_and(|b| b.verdict == Verdict::Hit && b.got == miss.got) {
            return Some(Slip::Doubled);
        }
        let Some(position) = miss.position else { return Some(Slip::Other) };
        if elsewhere {
            let earlier = keystrokes[..at]
                .iter()
                .rev()
                .take_while(|k| k.prompt == miss.prompt)
                .find(|k| k.verdict == Verdict::Hit)
                .map(|k| self.level_of(k));
            let slip = self.level_slip(earlier, due, position, &miss.got);
            // With its marker down, a layer can't have been let go.
            if slip != Slip::LetGoTooEarly || !miss.flags.contains(Flags::LAYER_HELD) {
                return Some(slip);
            }
        }
        let beside = self.neighbours(position).any(|near| self.gives(due, near, &miss.got));
        Some(if beside { Slip::Neighbour } else { Slip::Other })
    }

    /// The right key on the wrong level: which way.
    fn level_slip(
        &self,
        before: Option<Level>,
        due: Level,
        position: Position,
        got: &Output,
    ) -> Slip {
        match before {
            Some(before)
                if before != due && before != PLAIN && self.gives(before, position, got) =>
            {
                Slip::HeldTooLate
            }
            Some(before) if before == due && due != PLAIN && self.gives(PLAIN, position, got) => {
                Slip::LetGoTooEarly
            }
            _ => Slip::WrongLayer,
        }
    }

    fn level_of(&self, keystroke: &Keystroke) -> Level {
        let all = self.routes.all(&keystroke.expected);
        let due = all
            .iter()
            .find(|r| r.layer == keystroke.layer && Some(r.position) == keystroke.position);
        let route = due.or(all.first());
        (keystroke.layer, route.map_or(Modifiers::empty(), |route| route.modifiers))
    }

    fn levels(&self) -> impl Iterator<Item = Level> + '_ {
        self.layout.layers().flat_map(|(id, _)| [(id, Modifiers::empty()), (id, Modifiers::SHIFT)])
    }

    /// True where striking `position` at `level` gives `output`. What falls
    /// through is asked of the base layer.
    fn gives(&self, level: Level, position: Position, output: &Output) -> bool {
        let Some(index) = self.layout.board.index_of(position) else { return false };
        let on = |layer: LayerId| self.layout.layers.get(layer.index())?.keys.get(index);
        let assignment = match on(level.0) {
            Some(Assignment::FallThrough) => on(LayerId::BASE),
            assignment => assignment,
        };
        assignment
            .and_then(|assignment| given(self.layout, assignment))
            .and_then(|plain| self.layout.with_modifiers(&plain, level.1))
            .is_some_and(|found| found == *output)
    }

    fn neighbours(&self, position: Position) -> impl Iterator<Item = Position> + '_ {
        let sites = &self.layout.board.sites;
        let own = self.layout.board.site(position);
        sites
            .iter()
            .filter(move |site| {
                site.position != position && own.is_some_and(|own| beside(own, site))
            })
            .map(|site| site.position)
    }
}

fn beside(a: &Site, b: &Site) -> bool {
    let apart = |a: f32, a_size: f32, b: f32, b_size: f32| (b - a - a_size).max(a - b - b_size);
    apart(a.x, a.width, b.x, b.width) <= GAP && apart(a.y, a.height, b.y, b.height) <= GAP
}

/// True where `miss` is one of two keys struck in each other's place.
fn swapped(before: Option<&Keystroke>, miss: &Keystroke, later: &[&Keystroke]) -> bool {
    // The first of the two. Where the caret waits, the second is a hit.
    let next_due = later
        .iter()
        .find(|k| k.verdict != Verdict::Repair && k.place == miss.place + 1)
        .map(|k| &k.expected);
    let first =
        next_due == Some(&miss.got) && later.first().is_some_and(|next| next.got == miss.expected);
    // The second of the two, where wrong keys stand.
    let second = before.is_some_and(|before| {
        before.verdict == Verdict::Miss
            && before.place + 1 == miss.place
            && before.got == miss.expected
            && before.expected == miss.got
    });
    miss.got != miss.expected && (first || second)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drill::{Drill, Flow, Prompt, Source};
    use crate::keyboard::NamedKey;
    use crate::layout::{Cluster, shipped};
    use crate::session::{
        Effect, Event, EventKind, KeyEvent, KeyState, Level as Grant, Session, Spec, Stroke,
    };
    use crate::units::Micros;
    use std::sync::Arc;

    fn drill(flow: Flow, due: &str) -> Drill {
        Drill {
            title: String::new(),
            cluster: Cluster::Base,
            layers: Vec::new(),
            flow,
            source: Source::Shipped,
            prompts: vec![Prompt::Text(due.chars().map(Output::char).collect())],
            left_out: Vec::new(),
        }
    }

    /// The slips of striking `struck` where `due` was asked, on tern-split,
    /// through the real engine.
    fn slips(flow: Flow, due: &str, struck: &str) -> Vec<Slip> {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let spec = Spec { routes: Arc::new(routes.clone()), level: Grant::default() };
        let mut session = Session::new(spec);
        session.start(drill(flow, due));
        let mut keystrokes = Vec::new();
        for (n, c) in struck.chars().enumerate() {
            let kind = EventKind::Key(KeyEvent::press(Stroke::char(c)));
            for effect in session.apply(&Event { at: Micros::from_ms(200 * n as u64), kind }) {
                if let Effect::Keystroke(keystroke) = effect {
                    keystrokes.push(*keystroke);
                }
            }
        }
        let slips = Slips::new(&layout, &routes);
        (0..keystrokes.len()).filter_map(|at| slips.classify(&keystrokes, at)).collect()
    }

    /// What `of` has on its key on the plain base layer.
    fn beneath(of: char) -> char {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let route = routes.preferred(&Output::char(of)).unwrap().clone();
        assert_ne!(route.layer, LayerId::BASE, "{of}");
        let index = layout.board.index_of(route.position).unwrap();
        given(&layout, &layout.layers[0].keys[index]).and_then(|o| o.as_char()).unwrap()
    }

    #[test]
    fn two_keys_in_the_wrong_order() {
        assert_eq!(slips(Flow::Repair, "tide", "tdie"), [Slip::Swapped, Slip::Swapped]);
        assert_eq!(slips(Flow::Stay, "tide", "tdide"), [Slip::Swapped]);
        // Not swapped where the first key does not follow.
        assert_ne!(slips(Flow::Repair, "tide", "tdde"), [Slip::Swapped]);
    }

    #[test]
    fn a_key_struck_twice() {
        assert_eq!(slips(Flow::Stay, "tide", "ttide"), [Slip::Doubled]);
        assert_eq!(slips(Flow::Stay, "tide", "tiide"), [Slip::Doubled]);
        assert_eq!(slips(Flow::Stay, "tide", "tzide"), [Slip::Other]);
    }

    #[test]
    fn a_key_beside_the_right_one() {
        assert_eq!(slips(Flow::Stay, "tide", "tods".get(..2).unwrap()), [Slip::Neighbour]);
        assert_eq!(slips(Flow::Stay, "fog", "dfog"), [Slip::Neighbour]);
        assert_eq!(slips(Flow::Stay, "fog", "lfog"), [Slip::Other]);
    }

    #[test]
    fn the_right_key_on_the_wrong_layer() {
        let plain = beneath('[');
        assert_eq!(slips(Flow::Stay, "a[", &format!("a{plain}[")), [Slip::WrongLayer]);
        // At the start nothing was held.
        assert_eq!(slips(Flow::Stay, "[", &plain.to_string()), [Slip::WrongLayer]);
        assert_eq!(slips(Flow::Stay, "aB", "abB"), [Slip::WrongLayer]);
    }

    #[test]
    fn a_layer_let_go_too_early() {
        let plain = beneath(']');
        assert_eq!(slips(Flow::Stay, "[]", &format!("[{plain}]")), [Slip::LetGoTooEarly]);
        assert_eq!(slips(Flow::Stay, "AB", "AbB"), [Slip::LetGoTooEarly]);
    }

    #[test]
    fn a_layer_held_too_late() {
        let plain = beneath(']');
        assert_eq!(slips(Flow::Stay, &format!("[{plain}"), "[]"), [Slip::HeldTooLate]);
        assert_eq!(slips(Flow::Stay, "Ab", "AB"), [Slip::HeldTooLate]);
    }

    /// The slips on tern-split with F13 as the marker of its symbols; the words
    /// are keys, F13, and ^ for F13 coming up.
    fn marked(due: &str, struck: &str) -> Vec<Slip> {
        let mut layout = shipped::load("tern-split").unwrap();
        let symbols = layout.layer_named("symbols").unwrap();
        layout.layers[symbols.index()].marker = "F13".parse().ok();
        let routes = RouteTable::build(&layout);
        let mut session =
            Session::new(Spec { routes: Arc::new(routes.clone()), level: Grant::default() });
        session.start(drill(Flow::Stay, due));
        let mut keystrokes = Vec::new();
        for (n, word) in struck.split(' ').enumerate() {
            let stroke = match word {
                "F13" | "^" => Stroke::named(NamedKey::F13, Modifiers::empty()),
                key => Stroke::char(key.chars().next().unwrap()),
            };
            let state = if word == "^" { KeyState::Release } else { KeyState::Press };
            let kind = EventKind::Key(KeyEvent { stroke, state, batched: false });
            for effect in session.apply(&Event { at: Micros::from_ms(200 * n as u64), kind }) {
                if let Effect::Keystroke(keystroke) = effect {
                    keystrokes.push(*keystroke);
                }
            }
        }
        let slips = Slips::new(&layout, &routes);
        (0..keystrokes.len()).filter_map(|at| slips.classify(&keystrokes, at)).collect()
    }

    #[test]
    fn a_marker_tells_for_sure_whether_the_layer_was_let_go() {
        let plain = beneath('[');
        // At the start of a run, where nothing but the marker tells.
        assert_eq!(marked("a[", &format!("a F13 ^ {plain} F13 [")), [Slip::LetGoTooEarly]);
        assert_eq!(marked("a[", &format!("a {plain} F13 [")), [Slip::WrongLayer]);
        // Long before is not too early.
        assert_eq!(marked("[a[", &format!("F13 [ ^ a {plain} F13 [")), [Slip::WrongLayer]);
        // Within a run, with the layer still held, it can't have been let go.
        let plain = beneath(']');
        let run = |between: &str| format!("F13 [ ^ F13 [ {between}{plain} ]");
        assert_eq!(marked("[[]", &run("")), [Slip::Other]);
        assert_eq!(marked("[[]", &run("^ ")), [Slip::LetGoTooEarly]);
        // A key that the layer beneath does not have there was not let go for.
        assert_eq!(marked("a[", "a F13 ^ z F13 ["), slips(Flow::Stay, "a[", "az["));
    }

    #[test]
    fn every_kind_has_words_of_its_own() {
        let words: std::collections::BTreeSet<_> = Slip::ALL.iter().map(|s| s.words()).collect();
        assert_eq!(words.len(), Slip::ALL.len());
    }
}
