//! How often an item goes wrong, which key is struck instead, and how far it
//! is learnt.

use super::Item;
use super::latency::Latency;
use super::numeric::{Z90_ONE_SIDED, beta_quantile, wilson};
use super::slip::{Slip, Slips};
use crate::keyboard::Output;
use crate::order::{Gather, InOrder};
use crate::session::{Flags, Keystroke, Verdict};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is known of an error rate.
///
/// Errors are places missed at the first try, of all places that were due.
/// With a prior Beta(a, b) the rate is Beta(a + errors, b + hits); with a = b
/// = ½ that is Jeffreys' interval (Brown, Cai & DasGupta 2001, "Interval
/// estimation for a binomial proportion").
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ErrorRate {
    /// Places due.
    pub n: u64,
    /// Missed at the first try.
    pub errors: u64,
    /// a and b of the posterior.
    pub posterior: (f64, f64),
}

/// Jeffreys' prior.
pub const JEFFREYS: (f64, f64) = (0.5, 0.5);

/// For how many presses a layer's rate counts as the prior of its items.
const LAYER_COUNTS: f64 = 10.0;

/// The prior of an item on a layer with so many errors of `n`: the layer's
/// rate, worth ten presses (our own estimate).
pub fn layer_prior(errors: u64, n: u64) -> (f64, f64) {
    let rate = (errors as f64 + JEFFREYS.0) / (n as f64 + JEFFREYS.0 + JEFFREYS.1);
    (LAYER_COUNTS * rate, LAYER_COUNTS * (1.0 - rate))
}

impl ErrorRate {
    /// Of `errors` in `n` under `prior`; errors beyond `n` count as `n`.
    pub fn new(errors: u64, n: u64, prior: (f64, f64)) -> Self {
        let errors = errors.min(n);
        let posterior = (prior.0 + errors as f64, prior.1 + (n - errors) as f64);
        Self { n, errors, posterior }
    }

    /// The posterior mean, 0 to 1.
    pub fn mean(&self) -> f64 {
        self.posterior.0 / (self.posterior.0 + self.posterior.1)
    }

    /// The 90 % interval with equal tails, 0 to 1 each.
    pub fn interval(&self) -> (f64, f64) {
        let (a, b) = self.posterior;
        (beta_quantile(a, b, 0.05), beta_quantile(a, b, 0.95))
    }

    /// Wilson's upper bound at 90 % (one-sided), 0 to 1; 1 for none due.
    pub fn wilson_upper(&self) -> f64 {
        wilson(self.errors as f64, self.n as f64, Z90_ONE_SIDED).1
    }
}

/// What was struck instead of an item.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Confusion {
    /// How often, retries included.
    pub n: u64,
    /// By kind of slip.
    pub slips: BTreeMap<Slip, u64>,
}

/// What went wrong with an item.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct ItemErrors {
    /// Places due, each once.
    pub n: u64,
    /// Missed at the first try.
    pub errors: u64,
    /// By what was struck instead.
    pub instead: BTreeMap<Output, Confusion>,
}

impl ItemErrors {
    /// Wrong keys by kind, the most frequent first.
    pub fn slips(&self) -> Vec<(Slip, u64)> {
        let mut sums: BTreeMap<Slip, u64> = BTreeMap::new();
        for (slip, n) in self.instead.values().flat_map(|confusion| &confusion.slips) {
            *sums.entry(*slip).or_default() += n;
        }
        let mut slips: Vec<_> = sums.into_iter().collect();
        slips.order_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
        slips
    }

    /// What was struck instead, the most frequent first.
    pub fn confusions(&self) -> Vec<(&Output, &Confusion)> {
        let mut found: Vec<_> = self.instead.iter().collect();
        found.order_by(|a, b| b.1.n.cmp(&a.1.n).then(a.0.cmp(b.0)));
        found
    }
}

/// The errors of all items of a layout. Sums: those of drills add up.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Errors {
    /// By item.
    pub items: BTreeMap<Item, ItemErrors>,
}

impl Errors {
    /// Adds a drill's keystrokes, in order; repairs are no items due.
    pub fn add_keystrokes(&mut self, slips: &Slips, keystrokes: &[Keystroke]) {
        for (at, keystroke) in keystrokes.iter().enumerate() {
            if keystroke.verdict == Verdict::Repair {
                continue;
            }
            let item = self.items.entry(Item::of(keystroke)).or_default();
            let first_try = !keystroke.flags.contains(Flags::RETRY);
            item.n += u64::from(first_try);
            if keystroke.verdict == Verdict::Miss {
                item.errors += u64::from(first_try);
                let confusion = item.instead.entry(keystroke.got.clone()).or_default();
                confusion.n += 1;
                if let Some(slip) = slips.classify(keystrokes, at) {
                    *confusion.slips.entry(slip).or_default() += 1;
                }
            }
        }
    }

    /// Adds those of other drills.
    pub fn merge(&mut self, other: &Self) {
        for (item, theirs) in &other.items {
            let mine = self.items.entry(item.clone()).or_default();
            mine.n += theirs.n;
            mine.errors += theirs.errors;
            for (got, confusion) in &theirs.instead {
                let into = mine.instead.entry(got.clone()).or_default();
                into.n += confusion.n;
                for (slip, n) in &confusion.slips {
                    *into.slips.entry(*slip).or_default() += n;
                }
            }
        }
    }

    /// The error rate of every item, with its layer's rate as the prior.
    pub fn rates(&self) -> BTreeMap<Item, ErrorRate> {
        let mut layers: BTreeMap<_, (u64, u64)> = BTreeMap::new();
        for (item, of_item) in &self.items {
            let layer = layers.entry(item.layer).or_default();
            layer.0 += of_item.errors;
            layer.1 += of_item.n;
        }
        let rate = |(item, of_item): (&Item, &ItemErrors)| {
            let (errors, n) = layers[&item.layer];
            let rate = ErrorRate::new(of_item.errors, of_item.n, layer_prior(errors, n));
            (item.clone(), rate)
        };
        self.items.iter().map(rate).gather()
    }
}

/// How far something is learnt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum State {
    /// Never struck.
    NotMet,
    /// On its way, or too little is known.
    Learning,
    /// A layer whose last weeks brought no gain above the noise.
    StandingStill,
    /// Fast enough and sure enough, as far as can be told.
    Mastered,
}

/// Mastery asks for so many places due …
pub const MASTERY_N: u64 = 20;
/// … on so many days …
pub const MASTERY_DAYS: usize = 2;
/// … with this certainty that the median is within the target …
pub const MASTERY_CERTAINTY: f64 = 0.9;
/// … and Wilson's upper bound of errors at most this.
pub const MASTERY_ERRORS: f64 = 0.05;

impl State {
    /// How far an item is learnt, practised on `days` days, against the target
    /// median `target_ms`.
    pub fn of_item(
        latency: Option<&Latency>,
        errors: &ErrorRate,
        days: usize,
        target_ms: f64,
    ) -> Self {
        if errors.n == 0 && latency.is_none() {
            return Self::NotMet;
        }
        let fast = latency.is_some_and(|l| l.at_most(target_ms) >= MASTERY_CERTAINTY);
        let sure = errors.wilson_upper() <= MASTERY_ERRORS;
        if fast && sure && errors.n >= MASTERY_N && days >= MASTERY_DAYS {
            Self::Mastered
        } else {
            Self::Learning
        }
    }

    /// The words for the person.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NotMet => "not met",
            Self::Learning => "learning",
            Self::StandingStill => "standing still",
            Self::Mastered => "mastered",
        }
    }

    /// What the words mean, for the person.
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::NotMet => "not struck yet",
            Self::Learning => "on its way, or too few presses to tell",
            Self::StandingStill => {
                "the last half of the days brought no gain that stands out from the noise; that \
                 can change with what is practised"
            }
            Self::Mastered => {
                "very probably as fast as the target and wrong less than once in twenty, on the \
                 days measured; it can fade without use"
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Estimate;

    fn latency(ms: f64, error_ln: f64) -> Latency {
        Latency {
            n: 60,
            n_effective: 50.0,
            median: Estimate::of_ln(ms.ln(), error_ln),
            raw_ms: ms,
            sd_ln: 0.3,
            error_ln,
        }
    }

    #[test]
    fn mastery_asks_for_all_of_it() {
        let sure = ErrorRate::new(0, 60, JEFFREYS);
        let fast = latency(180.0, 0.04);
        let state = |l: Option<&Latency>, e: &ErrorRate, days| State::of_item(l, e, days, 200.0);
        assert_eq!(state(Some(&fast), &sure, 2), State::Mastered);
        assert_eq!(state(Some(&fast), &sure, 1), State::Learning);
        assert_eq!(state(Some(&latency(198.0, 0.04)), &sure, 5), State::Learning);
        assert_eq!(state(Some(&fast), &ErrorRate::new(4, 60, JEFFREYS), 5), State::Learning);
        assert_eq!(state(Some(&fast), &ErrorRate::new(0, 19, JEFFREYS), 5), State::Learning);
        assert_eq!(state(None, &sure, 5), State::Learning);
        assert_eq!(state(None, &ErrorRate::new(0, 0, JEFFREYS), 0), State::NotMet);
    }

    /// By hand: z² / (n + z²) ≤ 0.05 at z = 1.2816 needs n ≥ 31.2.
    #[test]
    fn without_an_error_32_presses_bound_errors_at_a_twentieth() {
        assert!(ErrorRate::new(0, 31, JEFFREYS).wilson_upper() > MASTERY_ERRORS);
        assert!(ErrorRate::new(0, 32, JEFFREYS).wilson_upper() <= MASTERY_ERRORS);
    }

    #[test]
    fn a_rate_leans_on_its_layer() {
        let alone = ErrorRate::new(1, 2, JEFFREYS);
        let leaning = ErrorRate::new(1, 2, layer_prior(5, 500));
        assert!(leaning.mean() < 0.15 && alone.mean() > 0.4);
        let (low, high) = leaning.interval();
        assert!(low < leaning.mean() && leaning.mean() < high);
        // No counts can make it panic.
        assert_eq!(ErrorRate::new(9, 3, JEFFREYS).errors, 3);
        assert!((ErrorRate::new(0, 0, JEFFREYS).wilson_upper() - 1.0).abs() < 1e-12);
    }
}
