//! What a layer switch costs, told apart from the cost of the items at its
//! two ends.
//!
//! ```text
//! ln ms = layer[l] + item[i] + switch[from → to] + motor[class] + error
//! ```
//!
//! Items are random, N(0, τ²); the switches are free; the motor classes have a
//! prior ([`Motor::prior`]); the error is N(0, σ²) in the middle and heavy in
//! its tails: Huber weights, k = 1.5. Variances are those of REML, found by
//! Schall's step, which has the fixed points of REML-EM and gets there sooner
//! (Fellner 1986, "Robust estimation of variance components", Technometrics
//! 28; Schall 1991, "Estimation in generalized linear models with random
//! effects", Biometrika 78).
//!
//! # What adds up
//! Two presses with the same item, layer before and motor class have the same
//! fit, so [`Statistics`] keep no presses, only sums for each such cell: Σw,
//! Σw², Σwy, Σwy², in bins of y one sixteenth wide. Sums of drills add up, and
//! fading multiplies them, so that a new drill costs as much after ten years
//! as on the first day. Within a bin one Huber weight holds, that of the bin's
//! mean: without Huber's loss the fit is exact, whatever the bins; with it,
//! weights are off by at most a sixteenth of a logarithm near the bound.
//!
//! # What can be told apart
//! A switch a → b and the layer b can be told apart only where some item of b
//! was struck both right after a and inside b. Otherwise there is only
//! [`Told::ArrivalOnly`]: how long an arrival takes, item included.

mod dense;
mod fit;
mod told;

pub use fit::{Fit, Options, SwitchError, fit};
pub use told::{Arrival, Cost, Told};

use super::Item;
use super::latency::weight;
use crate::keyboard::{Finger, Position};
use crate::layout::LayerId;
use crate::session::Keystroke;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How the hands move from one key to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Motor {
    /// Another hand: what the others are measured against.
    Alternate,
    /// Another finger of the same hand.
    SameHand,
    /// The same finger on another key, or on the same key of another layer.
    SameFinger,
    /// The same key of the same layer again.
    Repeat,
}

impl Motor {
    /// Every class, [`Motor::Alternate`] first.
    pub const ALL: [Self; 4] = [Self::Alternate, Self::SameHand, Self::SameFinger, Self::Repeat];

    /// From one key to the next, each with layer, position and finger.
    pub fn between(
        before: (LayerId, Position, Finger),
        after: (LayerId, Position, Finger),
    ) -> Self {
        if before.0 == after.0 && before.1 == after.1 {
            Self::Repeat
        } else if before.2 == after.2 {
            Self::SameFinger
        } else if before.2.hand == after.2.hand {
            Self::SameHand
        } else {
            Self::Alternate
        }
    }

    /// What it adds to ln ms before anything is measured, and how sure that
    /// is (standard deviation); none for [`Motor::Alternate`].
    ///
    /// Intervals in a large public corpus at 60 WPM and above: alternate hand
    /// 104 ms, same hand +13, repeat +41, same finger +69 (computed from the
    /// corpus). The standard deviation is our own estimate.
    pub fn prior(self) -> Option<(f64, f64)> {
        let more = match self {
            Self::Alternate => return None,
            Self::SameHand => 13.0,
            Self::SameFinger => 69.0,
            Self::Repeat => 41.0,
        };
        Some(((1.0_f64 + more / 104.0).ln(), 0.15))
    }

    /// The words for the person.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Alternate => "other hand",
            Self::SameHand => "same hand",
            Self::SameFinger => "same finger",
            Self::Repeat => "same key again",
        }
    }
}

/// One latency with what it depends on.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// The item struck.
    pub item: Item,
    /// The layer of the item before.
    pub from: LayerId,
    /// How the hands moved.
    pub motor: Motor,
    /// The natural logarithm of the latency in ms.
    pub ln_ms: f64,
}

impl Observation {
    /// Of two keystrokes in a row; none where the latency of the second does
    /// not count, where they don't belong together, or where a key is unknown.
    pub fn of(before: &Keystroke, after: &Keystroke) -> Option<Self> {
        let latency = after.timed()?;
        if before.prompt != after.prompt || before.seq.checked_add(1) != Some(after.seq) {
            return None;
        }
        let from = (before.layer, before.position?, before.finger?);
        let to = (after.layer, after.position?, after.finger?);
        Some(Self {
            item: Item::of(after),
            from: after.previous_layer,
            motor: Motor::between(from, to),
            ln_ms: latency.as_ms().ln(),
        })
    }
}

/// Bins of y in one unit of logarithm.
const BINS_PER_UNIT: f64 = 16.0;

/// What weighs less than this share of the weightiest bin is let go.
const LEAST_WEIGHT: f64 = 1e-9;

#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
struct Bin {
    count: u64,
    weight: f64,
    weight_squares: f64,
    sum: f64,
    squares: f64,
}

impl Bin {
    fn add(&mut self, other: &Self, by: f64) {
        self.count += other.count;
        self.weight += by * other.weight;
        self.weight_squares += by * by * other.weight_squares;
        self.sum += by * other.sum;
        self.squares += by * other.squares;
    }
}

type Cells = BTreeMap<(LayerId, Motor), BTreeMap<i16, Bin>>;

/// Sums over latencies that are all a fit needs; they add up over drills and
/// days.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Statistics {
    /// The local day on which a press would have weight 1.
    day: Option<i32>,
    items: BTreeMap<Item, Cells>,
}

impl Statistics {
    /// Those of a drill's keystrokes, struck on local day `day`.
    pub fn of_drill(day: i32, keystrokes: &[Keystroke]) -> Self {
        let pairs = keystrokes.windows(2);
        Self::of(day, pairs.filter_map(|pair| Observation::of(&pair[0], &pair[1])))
    }

    /// Those of `observations` on local day `day`.
    pub fn of(day: i32, observations: impl IntoIterator<Item = Observation>) -> Self {
        let mut statistics = Self { day: Some(day), items: BTreeMap::new() };
        for observation in observations {
            statistics.add(observation);
        }
        statistics
    }

    fn add(&mut self, observation: Observation) {
        let y = observation.ln_ms;
        let bin = (y * BINS_PER_UNIT).round() as i16;
        let cells = self.items.entry(observation.item).or_default();
        let bins = cells.entry((observation.from, observation.motor)).or_default();
        let one = Bin { count: 1, weight: 1.0, weight_squares: 1.0, sum: y, squares: y * y };
        bins.entry(bin).or_default().add(&one, 1.0);
    }

    /// Adds those of other drills. The older ones of the two fade to the day
    /// of the newer ones: ½ every 14 days.
    pub fn merge(&mut self, other: &Self) {
        let Some(other_day) = other.day else { return };
        let day = self.day.map_or(other_day, |day| day.max(other_day));
        let fade = |from: Option<i32>| weight(f64::from(day) - f64::from(from.unwrap_or(day)));
        let (mine, theirs) = (fade(self.day), fade(other.day));
        if mine < 1.0 {
            for bin in self.items.values_mut().flat_map(BTreeMap::values_mut).flatten() {
                let mut faded = Bin::default();
                faded.add(bin.1, mine);
                *bin.1 = faded;
            }
        }
        for (item, cells) in &other.items {
            let into = self.items.entry(item.clone()).or_default();
            for (key, bins) in cells {
                let into = into.entry(*key).or_default();
                for (place, bin) in bins {
                    into.entry(*place).or_default().add(bin, theirs);
                }
            }
        }
        if mine < 1.0 || theirs < 1.0 {
            self.forget();
        }
        self.day = Some(day);
    }

    /// Lets go of what weighs nothing beside the rest, before rounding makes
    /// nonsense of its means.
    fn forget(&mut self) {
        let most = self.bins().map(|bin| bin.weight).fold(0.0, f64::max);
        let counts = |bin: &Bin| bin.weight > most * LEAST_WEIGHT;
        for cells in self.items.values_mut() {
            for bins in cells.values_mut() {
                bins.retain(|_, bin| counts(bin));
            }
            cells.retain(|_, bins| !bins.is_empty());
        }
        self.items.retain(|_, cells| !cells.is_empty());
    }

    /// How many latencies. Those that have faded to nothing are let go, but for
    /// some that share a bin with later ones: what the rest is worth is told
    /// by [`Statistics::n_effective`].
    pub fn n(&self) -> u64 {
        self.bins().map(|bin| bin.count).sum()
    }

    /// What they are worth after fading: (Σw)² / Σw² (Kish).
    pub fn n_effective(&self) -> f64 {
        let (weight, squares) = self.weights();
        if squares > 0.0 { weight * weight / squares } else { 0.0 }
    }

    fn bins(&self) -> impl Iterator<Item = &Bin> {
        self.items.values().flat_map(BTreeMap::values).flat_map(BTreeMap::values)
    }

    fn weights(&self) -> (f64, f64) {
        self.bins().fold((0.0, 0.0), |sums, bin| (sums.0 + bin.weight, sums.1 + bin.weight_squares))
    }
}
