//! What the invented person did on which day.

use crate::drill::{Offer, What};
use crate::layout::Cluster;
use crate::order::InOrder;
use crate::units::Micros;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Days between the first drills of one layer and of the next, as a share of
/// all days: the last one still has time to get better.
const BRINGING_IN: f64 = 0.62;

/// Days without the keyboard, as shares of all days.
const AWAY: std::ops::Range<f64> = 0.53..0.60;

/// So many drills of shortcuts are done on the old way where others are done
/// once: only what follows the first of each prompt is timed.
const SHORTCUTS_MEASURED: usize = 4;

/// A day on which something was practised.
#[derive(Debug, Clone, PartialEq)]
pub struct Day {
    /// Counted from the first, from 0.
    pub number: i32,
    /// When the session begins, minutes after local midnight.
    pub minute: i32,
    /// What is practised, in turn; places in the list of offers.
    pub offers: Vec<usize>,
    /// How long.
    pub active: Micros,
    /// What is measured on the old way afterwards.
    pub old_way: Vec<usize>,
}

/// The days, one after another.
#[derive(Debug)]
pub struct Plan {
    /// Places of the offers, in the order in which they are brought in.
    order: Vec<usize>,
    /// The place of the shortcuts.
    shortcuts: Option<usize>,
    has_old_way: bool,
    days: i32,
    next: i32,
    /// The next day on which the old way is due.
    old_way_at: i32,
    rng: ChaCha8Rng,
}

/// Thumb keys come first, since every layer hangs on them; then stops and
/// quotes, which prose needs most; then symbols, shortcuts, movement; figures
/// and letters last.
fn rank(offer: &Offer) -> usize {
    match offer.what {
        What::Thumbs => 0,
        What::Cluster(Cluster::Punctuation) => 1,
        What::Cluster(Cluster::Symbols) => 2,
        What::Cluster(Cluster::Shortcuts) => 3,
        What::Cluster(Cluster::Navigation) => 4,
        What::Cluster(Cluster::Numbers) => 5,
        _ => 6,
    }
}

impl Plan {
    /// `days` days of `offers`.
    pub fn new(offers: &[Offer], has_old_way: bool, days: i32, seed: u64) -> Self {
        let mut order: Vec<usize> = (0..offers.len()).collect();
        order.order_by_key(|&n| rank(&offers[n]));
        let rng = ChaCha8Rng::seed_from_u64(seed);
        let recalled = |offer: &Offer| offer.what == What::Cluster(Cluster::Shortcuts);
        let shortcuts = offers.iter().position(recalled);
        Self { order, shortcuts, has_old_way, days, next: 0, old_way_at: 1, rng }
    }

    /// How many of the offers have been brought in on day `number`.
    fn met(&self, number: i32) -> usize {
        let n = self.order.len();
        let step = f64::from(self.days) * BRINGING_IN / n.max(1) as f64;
        let met = (f64::from(number) / step.max(1.0)) as usize + 1;
        met.min(n)
    }

    fn chance(&mut self, of: f64) -> bool {
        self.rng.random::<f64>() < of
    }

    fn between(&mut self, low: i32, high: i32) -> i32 {
        self.rng.random_range(low..=high)
    }

    /// True where `number` is a day off. Drawn for every day, so that what
    /// comes later doesn't hang on it.
    fn off(&mut self, number: i32) -> bool {
        let weekend = number % 7 >= 5;
        let off = self.chance(if weekend { 0.45 } else { 0.16 });
        let share = f64::from(number) / f64::from(self.days.max(1));
        // The first and the last day are practised.
        (off || AWAY.contains(&share)) && number > 0 && number + 1 < self.days
    }
}

impl Iterator for Plan {
    type Item = Day;

    fn next(&mut self) -> Option<Day> {
        while self.next < self.days && !self.order.is_empty() {
            let number = self.next;
            self.next += 1;
            if self.off(number) {
                continue;
            }
            let met = self.met(number);
            let newest = self.order[met - 1];
            // The newest every other time, the others in turn between.
            let mut offers = Vec::new();
            let first = self.between(0, 11) as usize;
            for n in 0..met.max(2) - 1 {
                offers.push(newest);
                if met > 1 {
                    offers.push(self.order[(first + n) % (met - 1)]);
                }
            }
            let seconds = self.between(100, 290) + if self.chance(0.2) { 220 } else { 0 };
            let evening = self.chance(0.7);
            let minute = if evening { self.between(1080, 1260) } else { self.between(410, 470) };
            let old_way = if self.has_old_way && number >= self.old_way_at {
                // All of it in the first days; later what has been met.
                let early = number < 14;
                self.old_way_at = number + if early { 4 } else { self.between(17, 23) };
                let n = if early { self.order.len() } else { met };
                let times =
                    |n: usize| if Some(n) == self.shortcuts { SHORTCUTS_MEASURED } else { 1 };
                let each = self.order[..n].iter();
                each.flat_map(|&n| std::iter::repeat_n(n, times(n))).collect()
            } else {
                Vec::new()
            };
            let active = Micros::from_secs(u64::from(seconds.unsigned_abs()));
            return Some(Day { number, minute, offers, active, old_way });
        }
        None
    }
}
