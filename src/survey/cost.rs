//! What a layout costs on a person's work: presses, ways, fingers, time.
//!
//! Reckoned from characters and pairs alone. Of a pair the first character
//! goes by its preferred route and the second by the route after it; access
//! keys that both hold are pressed once. Where a pair begins is not known, so
//! that runs longer than two are taken as if their first key had been
//! preferred.

use super::{Counts, Habits, output_of};
use crate::keyboard::{Digit, Finger, Output, Position};
use crate::layout::{Access, AccessKind, Layout, Route, RouteTable};
use crate::model::hands::Findings;
use crate::order::InOrder;
use crate::plan::{Need, PAGE, Pace, PageTime};
use std::collections::BTreeMap;

/// One key unit, metres (industry convention; ISO 9241-4 asks 19 ± 1 mm).
pub const KEY_UNIT_M: f64 = 0.01905;

/// What the hands do for a text. All figures grow with the text.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Comfort {
    /// Strokes: outputs given.
    pub strokes: f64,
    /// Presses of keys, access keys included. A lock counts twice, since it is
    /// pressed again to leave.
    pub presses: f64,
    /// Strokes with three keys or more down at once.
    pub chords: f64,
    /// The way of the fingers, metres: for each press from where that finger
    /// rests to the key, or from the key before where the same finger struck
    /// that; the way back to rest is not counted.
    pub travel_m: f64,
    /// Presses outside the home block.
    pub off_home: f64,
    /// Presses by a little finger.
    pub little: f64,
    /// Presses by a thumb.
    pub thumb: f64,
    /// Presses by the finger of the press before, on another key.
    pub same_finger: f64,
    /// Strokes on another layer than the one before.
    pub switches: f64,
}

impl Comfort {
    /// A figure as a share of all presses, 0 to 1.
    pub fn of_presses(&self, figure: f64) -> f64 {
        if self.presses > 0.0 { figure / self.presses } else { 0.0 }
    }

    /// `times` strokes by `route`, right after `before`.
    fn stroke(&mut self, layout: &Layout, before: Option<&Route>, route: &Route, times: f64) {
        let kept = |position: Position, access: Access| {
            access.kind != AccessKind::Latch
                && before.is_some_and(|before| {
                    let mut steps = before.accesses.iter();
                    steps.any(|step| step.position == position && step.access == access)
                })
        };
        let mut last = before.map(|before| (before.position, before.finger));
        for step in route.accesses.iter().filter(|step| !kept(step.position, step.access)) {
            self.press(layout, last, (step.position, step.finger), times);
            if step.access.kind == AccessKind::Lock {
                self.press(layout, last, (step.position, step.finger), times);
            }
            last = Some((step.position, step.finger));
        }
        self.press(layout, last, (route.position, route.finger), times);
        let held = route.accesses.iter().filter(|step| step.access.kind == AccessKind::Hold);
        self.chords += if held.count() >= 2 { times } else { 0.0 };
        self.switches += match before {
            Some(before) if before.layer != route.layer => times,
            _ => 0.0,
        };
        self.strokes += times;
    }

    fn press(
        &mut self,
        layout: &Layout,
        last: Option<(Position, Finger)>,
        (position, finger): (Position, Finger),
        times: f64,
    ) {
        let board = &layout.board;
        let Some(site) = board.site(position) else { return };
        self.presses += times;
        self.off_home += if board.in_home_block(site) { 0.0 } else { times };
        self.little += if finger.digit == Digit::Little { times } else { 0.0 };
        self.thumb += if finger.digit == Digit::Thumb { times } else { 0.0 };
        let from = last.filter(|(_, before)| *before == finger);
        let units = match from.and_then(|(before, _)| board.site(before)) {
            Some(before) => {
                self.same_finger += if before.position == position { 0.0 } else { times };
                let ((ax, ay), (bx, by)) = (before.centre(), site.centre());
                (bx - ax).hypot(by - ay)
            }
            None => board.travel(finger, site),
        };
        self.travel_m += f64::from(units) * KEY_UNIT_M * times;
    }
}

/// The bill of a layout for a page of a person's work: [`PAGE`] characters of
/// their text and what comes with them.
#[derive(Debug, Clone, PartialEq)]
pub struct Bill {
    /// What the hands do.
    pub comfort: Comfort,
    /// Time, with its standard error: the errors of the keys and switches are
    /// taken as independent of each other, that of one key as the same each
    /// time it comes.
    pub time: PageTime,
    /// The share of the strokes whose key was measured, 0 to 1.
    pub measured: f64,
    /// Characters of the text that the layout can't give, with how often they
    /// come in the whole text, the most frequent first.
    pub missing: Vec<(char, u64)>,
    /// Keys of the habits that the layout can't give, with how often a page.
    pub missing_keys: Vec<(Output, f64)>,
}

/// How well somebody knows a layout where nothing is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// Touch-types its letters; its layers are new.
    Letters,
    /// Has typed everything on it for years.
    Everything,
}

impl Bill {
    /// Of `layout` on `counts` and `habits`, by what `findings` know of the
    /// hands on it and `known` where they know nothing. `routes` should have
    /// taken in the chords of the habits ([`RouteTable::add_chords`]).
    pub fn of(
        layout: &Layout,
        routes: &RouteTable,
        (counts, habits): (&Counts, &Habits),
        (findings, known): (&Findings, Known),
    ) -> Self {
        let each = PAGE / (counts.total() as f64).max(1.0);
        let mut comfort = Comfort::default();
        let mut alone: BTreeMap<char, u64> = counts.chars.clone();
        let route_of = |c: char| output_of(c).and_then(|output| routes.to(&output));
        for (&(a, b), &times) in &counts.pairs {
            let (Some(before), Some(output)) = (route_of(a), output_of(b)) else { continue };
            let Some(route) = routes.after(Some(before), &output, &[]) else { continue };
            comfort.stroke(layout, Some(before), route, times as f64 * each);
            alone.entry(b).and_modify(|left| *left = left.saturating_sub(times));
        }
        for (&c, &times) in alone.iter().filter(|(_, times)| **times > 0) {
            if let Some(route) = route_of(c) {
                comfort.stroke(layout, None, route, times as f64 * each);
            }
        }
        let mut missing_keys = Vec::new();
        for (output, times) in habits.keys() {
            match routes.to(&output) {
                Some(route) => comfort.stroke(layout, None, route, times * PAGE),
                None => missing_keys.push((output, times * PAGE)),
            }
        }
        let mut missing: Vec<(char, u64)> = counts
            .chars
            .iter()
            .filter(|(c, _)| route_of(**c).is_none())
            .map(|(c, times)| (*c, *times))
            .collect();
        missing.order_by_key(|(c, times)| (std::cmp::Reverse(*times), *c));
        let need = Need::of_counts(routes, counts, |_, _| true);
        let need = need.with_those(routes, habits, |_| true);
        let pace = match known {
            Known::Letters => Pace::new(layout, routes, &need, findings),
            Known::Everything => Pace::of_years(layout, routes, &need, findings),
        };
        Self { comfort, time: pace.now(), measured: pace.measured, missing, missing_keys }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;

    const STILL: Habits = Habits {
        typed: 1.0,
        moves: 0.0,
        selections: 0.0,
        deletions: 0.0,
        shortcuts: 0.0,
        hours: 1.0,
    };

    fn bill(name: &str, text: &str) -> Bill {
        let layout = shipped::load(name).unwrap();
        let routes = RouteTable::build(&layout);
        let known = (&Findings::default(), Known::Letters);
        Bill::of(&layout, &routes, (&Counts::of(text), &STILL), known)
    }

    /// By hand, four characters on a page of 1800: f and j rest; "fr" and "rf" are one
    /// finger over the distance from C04 to D04, which a full-size board's
    /// stagger of a quarter key makes √(1 + 1/16) units.
    #[test]
    fn presses_and_ways_by_hand() {
        let bill = bill("plain-ansi", "fjfr");
        let each = PAGE / 4.0;
        let Comfort { presses, travel_m, same_finger, little, off_home, .. } = bill.comfort;
        assert!((presses - 4.0 * each).abs() < 1e-6 && little == 0.0 && off_home == 0.0);
        assert!((same_finger - each).abs() < 1e-6);
        let way = (1.0_f64 + 1.0 / 16.0).sqrt() * KEY_UNIT_M * each;
        assert!((travel_m - way).abs() < 1e-4, "{travel_m} {way}");
        assert!(bill.missing.is_empty() && bill.measured == 0.0);
    }

    #[test]
    fn a_held_access_is_pressed_once_and_what_is_missing_is_said() {
        let run = bill("tern-split", "{{{{");
        let apart = bill("tern-split", "a{a{");
        assert!(run.comfort.switches == 0.0 && apart.comfort.switches > 0.0);
        // Three of the four find the layer held already.
        assert!((run.comfort.presses / run.comfort.strokes - 5.0 / 4.0).abs() < 1e-9);
        assert!((apart.comfort.presses / apart.comfort.strokes - 6.0 / 4.0).abs() < 1e-9);
        let missing = bill("tern-split", "a語語ø\u{7}").missing;
        assert_eq!(missing[0], ('語', 2));
        assert!(missing.contains(&('\u{7}', 1)));
    }

    #[test]
    fn nothing_costs_nothing() {
        let bill = bill("tern-split", "");
        assert_eq!(bill.comfort, Comfort::default());
        assert!(bill.time.seconds == 0.0 && bill.comfort.of_presses(0.0) == 0.0);
    }

    /// The digraph ratios of the prior are those of the typewriter instances of
    /// Burkard & Offermann 1977 (QAPLIB bur26a–d, first matrix: times of 53, 66,
    /// 73 and 85 and no others).
    #[test]
    fn digraph_ratios_are_those_of_the_typewriter_instances() {
        use crate::layout::effort::{OTHER_HAND, ROW_CHANGE, SAME_FINGER, SAME_HAND};
        let times = [53.0_f32, 66.0, 73.0, 85.0];
        for (ratio, time) in [OTHER_HAND, SAME_HAND, ROW_CHANGE, SAME_FINGER].iter().zip(times) {
            assert!((ratio - time / 53.0).abs() < 0.01, "{ratio} {}", time / 53.0);
        }
    }

    /// Shares of letters in English, percent: Norvig 2013 on Google Books; e, t,
    /// a and o from the source, the others from memory.
    const ENGLISH: &str = "e12.49 t9.28 a8.04 o7.64 i7.57 n7.23 s6.51 r6.28 h5.05 l4.07 d3.82 \
        c3.34 u2.73 m2.51 f2.40 p2.14 g1.87 w1.68 y1.66 b1.48 v1.05 k0.54 x0.23 j0.16 q0.12 z0.09";

    /// How far a letter lies from its finger's rest on a staggered board, by
    /// hand: the row above is a quarter of a key to the left, the row below half a
    /// key to the right.
    fn way_by_hand(c: char) -> f64 {
        match c {
            'a' | 's' | 'd' | 'f' | 'j' | 'k' | 'l' => 0.0,
            'g' | 'h' => 1.0,
            't' => 0.75_f64.hypot(1.0),
            'y' => 1.25_f64.hypot(1.0),
            'b' => 1.5_f64.hypot(1.0),
            'z' | 'x' | 'c' | 'v' | 'n' | 'm' => 0.5_f64.hypot(1.0),
            _ => 0.25_f64.hypot(1.0),
        }
    }

    #[test]
    fn english_letters_travel_as_by_hand() {
        let shares = ENGLISH.split_whitespace().map(|word| {
            let (letter, share) = word.split_at(1);
            let share: f64 = share.parse().unwrap();
            (letter.chars().next().unwrap(), (share * 100.0).round() as u64)
        });
        let counts = Counts { chars: shares.collect(), ..Counts::default() };
        let total = counts.total() as f64;
        let layout = shipped::load("plain-ansi").unwrap();
        let routes = RouteTable::build(&layout);
        let known = (&Findings::default(), Known::Letters);
        let Comfort { presses, travel_m, little, .. } =
            Bill::of(&layout, &routes, (&counts, &STILL), known).comfort;
        let of = |c: char, times: u64| way_by_hand(c) * times as f64 / total;
        let by_hand: f64 = counts.chars.iter().map(|(c, times)| of(*c, *times)).sum();
        let units = travel_m / KEY_UNIT_M / presses;
        assert!((units / by_hand - 1.0).abs() < 1e-4, "{units} {by_hand}");
        // a, p, q and z.
        let shares = (8.04 + 2.14 + 0.12 + 0.09) / (total / 100.0);
        assert!((little / presses - shares).abs() < 1e-9, "{}", little / presses);
    }
}
