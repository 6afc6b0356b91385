//! What typing a text costs on a layout: presses and the ways to them.

use super::Counts;
use crate::keyboard::{Board, Digit, Finger, NamedKey, Output, Position};
use crate::layout::{LayerId, Layout, Route, RouteTable};
use std::collections::BTreeMap;

/// A key unit, metres (19.05 mm, the usual distance of keys; common practice,
/// no source).
pub const UNIT_M: f64 = 0.019_05;

/// The bill of a text on a layout. Counts are of the whole text.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bill {
    /// Characters that the layout can give.
    pub typed: u64,
    /// Characters that it can't give, with how often they come.
    pub lacking: BTreeMap<char, u64>,
    /// Presses: each key struck, each access key or Shift that is not held
    /// from the key before.
    pub presses: u64,
    /// Characters for which three keys or more are down at once.
    pub chords: u64,
    /// How far fingers travel from their rest to the keys and back, key units.
    pub travel: f64,
    /// Presses outside the home block.
    pub off_home: u64,
    /// Presses by little fingers.
    pub little: u64,
    /// Presses by thumbs.
    pub thumb: u64,
    /// Keys struck by the finger that struck another key right before.
    pub same_finger: u64,
    /// Times that a layer is entered from another one.
    pub switches: u64,
    /// Characters by the layer that gives them.
    pub layers: BTreeMap<LayerId, u64>,
}

/// The output that is struck for a character of a text.
pub fn output_of(c: char) -> Output {
    match c {
        '\n' => Output::Key(NamedKey::Enter),
        '\t' => Output::Key(NamedKey::Tab),
        c => Output::char(c),
    }
}

impl Bill {
    /// The bill of the text with `counts` on `layout`. Each character is taken
    /// right after each that came before it; where it goes on from there is not
    /// known, so that a layer held over three characters counts as two pairs.
    pub fn of(counts: &Counts, layout: &Layout, routes: &RouteTable) -> Self {
        let mut bill = Self::default();
        for (&c, &times) in &counts.chars {
            match routes.preferred(&output_of(c)) {
                Some(_) => bill.typed += times,
                None => *bill.lacking.entry(c).or_default() += times,
            }
        }
        let mut begun = counts.chars.clone();
        for (&(before, c), &times) in &counts.pairs {
            if let Some(left) = begun.get_mut(&c) {
                *left = left.saturating_sub(times);
            }
            let before = routes.preferred(&output_of(before));
            bill.add(layout, routes, before, c, times);
        }
        for (&c, &times) in &begun {
            bill.add(layout, routes, None, c, times);
        }
        bill
    }

    fn add(
        &mut self,
        layout: &Layout,
        routes: &RouteTable,
        before: Option<&Route>,
        c: char,
        times: u64,
    ) {
        let Some(route) = routes.after(before, &output_of(c), &[]) else { return };
        let board = &layout.board;
        let held = before.map_or(&[][..], |before| before.accesses.as_slice());
        let accesses = route.accesses.iter().filter(|step| !held.contains(step));
        let accesses = accesses.map(|step| (step.position, step.finger));
        for (position, finger) in accesses.chain([(route.position, route.finger)]) {
            self.press(board, position, finger, times);
        }
        if route.accesses.len() >= 2 {
            self.chords += times;
        }
        if let Some(before) = before {
            let same = before.finger == route.finger && before.position != route.position;
            self.same_finger += if same { times } else { 0 };
            self.switches += if before.layer == route.layer { 0 } else { times };
        }
        *self.layers.entry(route.layer).or_default() += times;
    }

    fn press(&mut self, board: &Board, position: Position, finger: Finger, times: u64) {
        self.presses += times;
        match finger.digit {
            Digit::Little => self.little += times,
            Digit::Thumb => self.thumb += times,
            Digit::Index | Digit::Middle | Digit::Ring => {}
        }
        if let Some(site) = board.site(position) {
            self.travel += 2.0 * f64::from(board.travel(finger, site)) * times as f64;
            self.off_home += if board.in_home_block(site) { 0 } else { times };
        }
    }

    /// The travel, metres.
    pub fn travel_m(&self) -> f64 {
        self.travel * UNIT_M
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;

    fn bill(name: &str, text: &str) -> Bill {
        let layout = shipped::load(name).unwrap();
        Bill::of(&Counts::of(text), &layout, &RouteTable::build(&layout))
    }

    /// By hand: f and j rest; g is one unit beside f's finger; Enter and A
    /// (with the right Shift) lie under little fingers.
    #[test]
    fn a_text_costs_what_its_keys_cost() {
        let rest = bill("plain-ansi", "fjfj");
        assert_eq!((rest.typed, rest.presses, rest.off_home, rest.same_finger), (4, 4, 0, 0));
        assert!(rest.travel.abs() < 1e-9 && rest.lacking.is_empty());
        let beside = bill("plain-ansi", "fgfg");
        assert!((beside.travel - 4.0).abs() < 1e-6, "{beside:?}");
        assert_eq!(beside.same_finger, 3);
        assert!((beside.travel_m() - 4.0 * 0.019_05).abs() < 1e-9);
        let capital = bill("plain-ansi", "A\n");
        assert_eq!((capital.presses, capital.little), (3, 3));
        assert_eq!(bill("plain-ansi", "潮").lacking, BTreeMap::from([('潮', 1)]));
    }

    #[test]
    fn a_layer_that_is_held_is_pressed_once() {
        let layout = shipped::load("tern-split").unwrap();
        let one = bill("tern-split", "a(");
        assert_eq!((one.presses, one.thumb, one.switches), (3, 1, 1));
        let two = bill("tern-split", "a()");
        assert_eq!((two.presses, two.thumb, two.switches), (4, 1, 1));
        let symbols = layout.layer_named("symbols").unwrap();
        assert_eq!(two.layers.get(&symbols), Some(&2));
        let back = bill("tern-split", "(a");
        assert_eq!((back.presses, back.switches), (3, 1));
    }

    /// The old way has no layers to switch; the new one keeps the hands in the
    /// home block.
    #[test]
    fn layers_keep_hands_at_home() {
        let text = "if (level[3] >= 1.9) { ring(&bell); }\n";
        let (old, new) = (bill("plain-ansi", text), bill("tern-split", text));
        assert_eq!(old.switches, 0);
        assert!(new.switches > 5 && new.off_home < old.off_home && new.thumb > old.thumb);
    }
}
