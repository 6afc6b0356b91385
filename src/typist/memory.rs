//! What a simulated typist remembers of shortcuts, and how it fades.
//!
//! ```text
//! chance to remember = 2^(−days / half-life)
//! ```
//!
//! The shape is that of half-life regression (Settles and Meeder, 2016, from
//! memory), and not that of the algorithm that schedules, which has to do
//! without knowing the truth. How a half-life grows is assumed, in keeping with
//! the spacing effect: much when something nearly forgotten is remembered,
//! hardly when it is repeated at once.

use crate::keyboard::Output;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;

/// The half-life of what was met once, days.
const FIRST: f64 = 0.9;
/// The gain of a half-life when something is remembered that had no chance.
const SPACED: f64 = 3.2;
/// The gain when something is repeated on the same day.
const MASSED: f64 = 0.04;
/// What is left of a half-life when something was forgotten.
const LEFT: f64 = 0.5;
/// The chance to remember what was met earlier on the same day.
const SAME_DAY: f64 = 0.97;

#[derive(Debug, Clone, Copy)]
struct Trace {
    half_life: f64,
    last_day: i32,
}

/// What one simulated person remembers.
#[derive(Debug, Clone)]
pub struct Memory {
    traces: BTreeMap<Output, Trace>,
    rng: ChaCha8Rng,
}

impl Memory {
    /// Nothing remembered; the same seed draws the same luck.
    pub fn new(seed: u64) -> Self {
        Self { traces: BTreeMap::new(), rng: ChaCha8Rng::seed_from_u64(seed) }
    }

    /// The true chance that `item` is remembered on `day`, 0 to 1.
    pub fn chance(&self, item: &Output, day: i32) -> f64 {
        self.traces.get(item).map_or(0.0, |trace| match day - trace.last_day {
            days if days > 0 => (-f64::from(days) / trace.half_life).exp2(),
            _ => SAME_DAY,
        })
    }

    /// Whether `item` comes to mind on `day`.
    pub fn remembers(&mut self, item: &Output, day: i32) -> bool {
        let chance = self.chance(item, day);
        self.rng.random_bool(chance)
    }

    /// Takes in that `item` was struck rightly on `day`; `remembered` tells
    /// whether by memory, or because it was shown.
    pub fn meet(&mut self, item: &Output, day: i32, remembered: bool) {
        let chance = self.chance(item, day);
        let trace =
            self.traces.entry(item.clone()).or_insert(Trace { half_life: FIRST, last_day: day });
        if trace.last_day < day {
            trace.half_life = if remembered {
                trace.half_life * (1.0 + SPACED * (1.0 - chance))
            } else {
                (trace.half_life * LEFT).max(FIRST)
            };
        } else {
            trace.half_life *= 1.0 + MASSED;
        }
        trace.last_day = day;
    }
}
