//! How hard a route is, before anything is measured.
//!
//! A prior: it orders routes until a person's own times are known. Unit 1 is
//! one strike of a resting index finger. The effort of a route is the sum
//! over its presses of
//!
//! ```text
//! reach × strength × change × stretch
//! ```
//!
//! - reach = 1 + log2(1 + d), d = distance of the key from the finger's rest in
//!   key units: Fitts' law in Shannon's form (MacKenzie 1992) with a target one
//!   key wide.
//! - strength: how much weaker the outer fingers are; common practice, no source.
//! - change: from one press to the next, other hand 1, same hand 1.25, same hand
//!   with a change of row 1.38, same finger 1.60: digraph time ratios of
//!   Burkard & Offermann 1977, ZOR 21:B121–132 (our reading of their pattern).
//!   A thumb on the same hand counts as same hand without a change of row.
//! - stretch = 1 + d / 4 while another finger of the same hand, no thumb, holds a
//!   key at distance d from its rest: the hand is pulled after it. Our own
//!   estimate, no source; it prefers the Shift of the other hand, as touch
//!   typing teaches.
//!
//! A held access key counts as a press of its own (keystroke-level model, Card,
//! Moran & Newell 1983), a latch too; a lock counts twice, since it has to be
//! pressed again to leave.

use super::{Access, AccessKind};
use crate::keyboard::{Board, Digit, Finger, Hand, Position, Site};

/// Digraph time ratio of alternate hands.
pub const OTHER_HAND: f32 = 1.0;
/// Digraph time ratio within one hand.
pub const SAME_HAND: f32 = 1.25;
/// Digraph time ratio within one hand, on another row.
pub const ROW_CHANGE: f32 = 1.38;
/// Digraph time ratio of one finger on two keys.
pub const SAME_FINGER: f32 = 1.60;

/// Weakness of a finger, index = 1 (common practice, no source).
pub const fn strength(digit: Digit) -> f32 {
    match digit {
        Digit::Thumb | Digit::Index | Digit::Middle => 1.0,
        Digit::Ring => 1.1,
        Digit::Little => 1.25,
    }
}

/// The effort of striking `site` from rest, ≥ 1.
pub fn strike(board: &Board, site: &Site) -> f32 {
    (1.0 + (1.0 + board.travel(site.finger, site)).log2()) * strength(site.finger.digit)
}

/// The ratio by which a press is harder for following another.
pub fn change(before: (Position, Finger), after: (Position, Finger)) -> f32 {
    let rows = match (before.0, after.0) {
        (Position::Main { row: one, .. }, Position::Main { row: other, .. }) => one != other,
        _ => false,
    };
    let thumb = before.1.digit == Digit::Thumb || after.1.digit == Digit::Thumb;
    if before.1 == after.1 {
        SAME_FINGER
    } else if before.1.hand != after.1.hand {
        OTHER_HAND
    } else if rows && !thumb {
        ROW_CHANGE
    } else {
        SAME_HAND
    }
}

/// How much a hand is hampered by each key unit that a held key lies off its
/// finger's rest.
pub const STRETCH: f32 = 0.25;

/// How much harder an access is that comes on top of another.
pub const NESTED: f32 = 2.0;

/// What each key of a board costs, worked out once. Keys are told by their
/// index in the board's sites.
#[derive(Debug, Clone)]
pub struct Costs<'a> {
    board: &'a Board,
    /// Effort of a strike from rest, and distance from rest in key units.
    keys: Vec<(f32, f32)>,
}

impl<'a> Costs<'a> {
    /// The costs of `board`.
    pub fn new(board: &'a Board) -> Self {
        let cost = |site: &Site| (strike(board, site), board.travel(site.finger, site));
        Self { board, keys: board.sites.iter().map(cost).collect() }
    }

    /// The effort of pressing `accesses` in order and then `last`, > 0.
    /// Keys that the board lacks cost nothing.
    pub fn route(&self, accesses: &[(usize, Access)], last: usize) -> f32 {
        let mut before: Option<(Position, Finger)> = None;
        // How far each hand, left and right, is pulled from its rest.
        let mut pulled = [0.0_f32; 2];
        let mut sum = 0.0;
        let steps = accesses.iter().map(|(index, access)| (*index, Some(access.kind)));
        for (index, kind) in steps.chain([(last, None)]) {
            let (Some(site), Some(&(strike, travel))) =
                (self.board.sites.get(index), self.keys.get(index))
            else {
                continue;
            };
            let here = (site.position, site.finger);
            let hand = usize::from(site.finger.hand == Hand::Right);
            let press = strike
                * before.map_or(1.0, |before| change(before, here))
                * STRETCH.mul_add(pulled[hand], 1.0);
            let lock = if kind == Some(AccessKind::Lock) { 2.0 } else { 1.0 };
            let nested = if kind.is_some() && before.is_some() { NESTED } else { 1.0 };
            sum += press * lock * nested;
            if kind == Some(AccessKind::Hold) && site.finger.digit != Digit::Thumb {
                pulled[hand] = pulled[hand].max(travel);
            }
            before = Some(here);
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Modifiers;
    use crate::layout::{Target, shipped};

    fn at(board: &Board, name: &str) -> (Position, Finger) {
        let site = board.site(name.parse().unwrap()).unwrap();
        (site.position, site.finger)
    }

    fn step(board: &Board, name: &str, kind: AccessKind) -> (usize, Access) {
        let target = Target::Modifier(Modifiers::SHIFT);
        (board.index_of(name.parse().unwrap()).unwrap(), Access { kind, target })
    }

    fn route(board: &Board, accesses: &[(usize, Access)], last: (Position, Finger)) -> f32 {
        Costs::new(board).route(accesses, board.index_of(last.0).unwrap())
    }

    #[test]
    fn a_resting_index_finger_is_the_unit() {
        for name in shipped::board_names() {
            let board = shipped::board(name).unwrap();
            let last = at(&board, "C04");
            assert!((route(&board, &[], last) - 1.0).abs() < 1e-6, "{name}");
        }
    }

    #[test]
    fn farther_is_harder() {
        let board = shipped::board("full-ansi").unwrap();
        for rising in [["C07", "D07", "E07"], ["C10", "C11", "C13"], ["C08", "D08", "K08"]] {
            let efforts = rising.map(|name| route(&board, &[], at(&board, name)));
            assert!(efforts[0] < efforts[1] && efforts[1] < efforts[2], "{rising:?} {efforts:?}");
        }
    }

    #[test]
    fn one_finger_twice_is_hardest_and_the_other_hand_easiest() {
        let board = shipped::board("split-3x6-3").unwrap();
        for (name, ratio) in [
            ("RT2", SAME_HAND),
            ("C07", SAME_HAND),
            ("D08", SAME_FINGER),
            ("D07", ROW_CHANGE),
            ("C03", OTHER_HAND),
        ] {
            let found = change(at(&board, "C08"), at(&board, name));
            assert!((found - ratio).abs() < 1e-6, "{name}: {found}");
        }
        const { assert!(OTHER_HAND < SAME_HAND && SAME_HAND < ROW_CHANGE) };
        const { assert!(ROW_CHANGE < SAME_FINGER) };
    }

    #[test]
    fn every_access_adds_and_a_lock_adds_more() {
        let board = shipped::board("split-3x6-3").unwrap();
        let last = at(&board, "C08");
        let plain = route(&board, &[], last);
        let held = route(&board, &[step(&board, "LT2", AccessKind::Hold)], last);
        let locked = route(&board, &[step(&board, "LT2", AccessKind::Lock)], last);
        let two = [step(&board, "LT2", AccessKind::Hold), step(&board, "C01", AccessKind::Hold)];
        assert!(plain + 1.0 <= held && held < locked && held < route(&board, &two, last));
        let same_hand = route(&board, &[step(&board, "RT2", AccessKind::Hold)], last);
        assert!(held < same_hand);
    }

    #[test]
    fn a_held_key_off_home_hampers_its_own_hand_alone() {
        let board = shipped::board("full-ansi").unwrap();
        let hold = |name| [step(&board, name, AccessKind::Hold)];
        let key = |accesses: &[(usize, Access)]| {
            let first = &accesses[0];
            route(&board, accesses, at(&board, "C04")) - strike(&board, &board.sites[first.0])
        };
        let (near, far, other) = (key(&hold("C01")), key(&hold("C00")), key(&hold("B12")));
        assert!((near - SAME_HAND).abs() < 1e-5 && far > near && (other - OTHER_HAND).abs() < 1e-5);
        assert!(
            route(&board, &hold("B12"), at(&board, "C04"))
                < route(&board, &hold("B99"), at(&board, "C04"))
        );
        assert!(
            route(&board, &hold("B99"), at(&board, "C07"))
                < route(&board, &hold("B12"), at(&board, "C07"))
        );
    }

    #[test]
    fn weaker_fingers_cost_more() {
        let mut before = 0.0;
        for digit in [Digit::Index, Digit::Ring, Digit::Little] {
            assert!(strength(digit) > before);
            before = strength(digit);
        }
    }
}
