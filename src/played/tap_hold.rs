//! Struck or held? The decision for a key with two roles.
//!
//! The rules, in this order:
//!
//! 1. A key that was down for [`HOLD_AFTER`] is held.
//! 2. Another key that goes down and comes up while it is down makes it held:
//!    the other was struck within it.
//! 3. A key that comes up before either was struck; keys that went down
//!    meanwhile follow it, as in fast typing that overlaps.
//!
//! Until it is decided, other keys wait; nothing is lost and the order is
//! kept. Time enters only with events.

use crate::units::Micros;
use std::collections::VecDeque;

/// A key with two roles that is down so long is held (common practice, no
/// source).
pub const HOLD_AFTER: Micros = Micros::from_ms(200);

/// What was decided; `K` names keys.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Decided<K> {
    /// A key with one role went down.
    Down(K),
    /// A key with two roles was struck.
    Tap(K),
    /// A key with two roles is held.
    Hold(K),
    /// A key came up that had gone down or was held.
    Up(K),
}

/// Says whether a key has two roles, after what was decided so far.
pub type TwoRoles<'a, K> = dyn FnMut(&K, &[Decided<K>]) -> bool + 'a;

#[derive(Debug, Clone, PartialEq, Eq)]
struct Waiting<K> {
    key: K,
    at: Micros,
}

/// The decisions for a whole keyboard.
#[derive(Debug, Clone)]
pub struct TapHold<K> {
    /// The key with two roles that is down and undecided, since when.
    open: Option<(K, Micros)>,
    /// What went down after it.
    waiting: VecDeque<Waiting<K>>,
    /// What is down and decided as down or held.
    down: Vec<K>,
}

impl<K> Default for TapHold<K> {
    fn default() -> Self {
        Self { open: None, waiting: VecDeque::new(), down: Vec::new() }
    }
}

impl<K: Clone + PartialEq> TapHold<K> {
    /// When [`TapHold::tick`] is due, if nothing happens before.
    pub fn wake_at(&self) -> Option<Micros> {
        self.open.as_ref().map(|(_, since)| *since + HOLD_AFTER)
    }

    /// True while something is undecided.
    pub fn waits(&self) -> bool {
        self.open.is_some()
    }

    /// Key `key` went down. Whether it has two roles may depend on what was
    /// decided before, so `two_roles` is asked when its turn comes.
    pub fn press(
        &mut self,
        at: Micros,
        key: K,
        two_roles: &mut TwoRoles<'_, K>,
        out: &mut Vec<Decided<K>>,
    ) {
        self.tick(at, two_roles, out);
        self.waiting.push_back(Waiting { key, at });
        self.go_on(at, two_roles, out);
    }

    /// Key `key` came up.
    pub fn release(
        &mut self,
        at: Micros,
        key: &K,
        two_roles: &mut TwoRoles<'_, K>,
        out: &mut Vec<Decided<K>>,
    ) {
        self.tick(at, two_roles, out);
        loop {
            match &self.open {
                Some((open, _)) if open == key => {
                    out.push(Decided::Tap(key.clone()));
                    self.open = None;
                    self.go_on(at, two_roles, out);
                    return;
                }
                Some((open, _)) if self.waiting.iter().any(|waiting| waiting.key == *key) => {
                    // Struck within it. What waits may be undecided in turn.
                    let open = open.clone();
                    self.hold(open, out);
                    self.go_on(at, two_roles, out);
                }
                _ => break,
            }
        }
        if let Some(place) = self.down.iter().position(|down| down == key) {
            self.down.remove(place);
            out.push(Decided::Up(key.clone()));
        }
    }

    /// Time has come to `at`.
    pub fn tick(&mut self, at: Micros, two_roles: &mut TwoRoles<'_, K>, out: &mut Vec<Decided<K>>) {
        while let Some((key, since)) = self.open.clone() {
            if at.since(since) < HOLD_AFTER {
                return;
            }
            self.hold(key, out);
            self.go_on(at, two_roles, out);
        }
    }

    /// Forgets all; for when the keyboard was out of sight.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    fn hold(&mut self, key: K, out: &mut Vec<Decided<K>>) {
        self.down.push(key.clone());
        self.open = None;
        out.push(Decided::Hold(key));
    }

    /// Lets what waits go down, up to the next key that has two roles.
    fn go_on(&mut self, at: Micros, two_roles: &mut TwoRoles<'_, K>, out: &mut Vec<Decided<K>>) {
        while self.open.is_none() {
            let Some(next) = self.waiting.pop_front() else { return };
            if two_roles(&next.key, out) {
                if at.since(next.at) >= HOLD_AFTER {
                    self.hold(next.key, out);
                } else {
                    self.open = Some((next.key, next.at));
                }
            } else {
                self.down.push(next.key.clone());
                out.push(Decided::Down(next.key));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Plays a recorded sequence: `+a@100` goes down at 100 ms, `-a@150` comes
    /// up, `@400` is a tick. Capitals have two roles.
    fn played(sequence: &str) -> String {
        let mut keys = TapHold::default();
        let mut all = Vec::new();
        let mut two = |key: &char, _: &[Decided<char>]| key.is_uppercase();
        for word in sequence.split_whitespace() {
            let (what, at) = word.split_once('@').unwrap();
            let at = Micros::from_ms(at.parse().unwrap());
            let mut chars = what.chars();
            let mut out = Vec::new();
            match (chars.next(), chars.next()) {
                (Some('+'), Some(key)) => keys.press(at, key, &mut two, &mut out),
                (Some('-'), Some(key)) => keys.release(at, &key, &mut two, &mut out),
                _ => keys.tick(at, &mut two, &mut out),
            }
            all.extend(out);
        }
        let words = all.iter().map(|decided| match decided {
            Decided::Down(key) => format!("+{key}"),
            Decided::Tap(key) => format!("tap{key}"),
            Decided::Hold(key) => format!("hold{key}"),
            Decided::Up(key) => format!("-{key}"),
        });
        words.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn recorded_sequences_are_decided_as_documented() {
        for (sequence, decided) in [
            // Plain keys are never held back.
            ("+a@0 -a@50 +b@60 -b@90", "+a -a +b -b"),
            // Struck alone, shortly.
            ("+S@0 -S@120", "tapS"),
            // Held alone: decided by time, at a tick or at the next event.
            ("+S@0 @200 -S@500", "holdS -S"),
            ("+S@0 @199 -S@199", "tapS"),
            ("+S@0 -S@200", "holdS -S"),
            // Struck within it: held, however short.
            ("+S@0 +a@30 -a@60 -S@90", "holdS +a -a -S"),
            // Overlapping strokes of fast typing: struck, in order.
            ("+S@0 +a@50 -S@80 -a@120", "tapS +a -a"),
            ("+a@0 +S@40 -a@60 -S@90", "+a -a tapS"),
            // Down long enough while the other still is: held by time.
            ("+S@0 +a@150 @200 -S@260 -a@300", "holdS +a -S -a"),
            // Several within one hold.
            ("+S@0 +a@20 -a@50 +b@70 -b@90 -S@140", "holdS +a -a +b -b -S"),
            // Two with two roles: the inner is struck within the outer.
            ("+S@0 +T@30 -T@60 -S@90", "holdS tapT -S"),
            // The inner is held in turn, by a key within it.
            ("+S@0 +T@30 +a@50 -a@70 -T@90 -S@110", "holdS holdT +a -a -T -S"),
            // Rolled over one another.
            ("+S@0 +T@30 -S@60 -T@90", "tapS tapT"),
            ("+S@0 +T@30 +a@40 -S@60 -a@70 -T@90", "tapS holdT +a -a -T"),
            // A release without a press is nothing.
            ("-a@0 -S@10", ""),
        ] {
            assert_eq!(played(sequence), decided, "{sequence}");
        }
    }
}
