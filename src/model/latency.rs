//! How long each item takes.
//!
//! For item i of a group g (its layer), y = ln(latency in ms) of the presses
//! that count ([`Keystroke::timed`]), each with weight w = ½^(age / 14 days):
//!
//! 1. scale of single presses, pooled over the group: σ = weighted median of
//!    |successive difference within an item| / 0.9539 (√2 times the normal
//!    median absolute deviation). Differences shake off what changes slowly.
//! 2. raw estimate: mᵢ = Huber's location of y, k = 1.5, scale σ. Its variance
//!    vᵢ = σ² c / nᵢ, with Kish's effective number nᵢ = (Σw)² / Σw² and the
//!    group's tail factor c: for many E(ψ²) / E(ψ′)² (Huber 1964), for a
//!    single one E(r²).
//! 3. variance between items: τ² by Paule–Mandel, mixed with a prior of 0.2²
//!    that counts for two items.
//! 4. shrinkage (empirical Bayes): θᵢ = (mᵢ/vᵢ + μ/τ²) / (1/vᵢ + 1/τ²), with
//!    the group's mean μ; the variance holds the uncertainty of μ.
//!
//! Items shrink toward their layer and not toward their finger: a finger has
//! two or three items on a layer, too few to estimate its mean, and the
//! spread between items already holds what fingers differ by.

use super::numeric::{
    HUBER_K, huber_location, huber_weight, normal_cdf, paule_mandel, precision_mean,
    weighted_median,
};
use super::{Estimate, Item};
use crate::layout::LayerId;
use crate::session::Keystroke;
use crate::units::Micros;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// After so many days a latency counts half.
pub const HALF_LIFE_DAYS: f64 = 14.0;

/// Median of |difference of two| over the scale of one, for normal values.
const DIFFERENCE: f64 = 0.9539;
/// Median of |deviation| over the scale, for normal values.
const DEVIATION: f64 = 0.6745;
/// The scale of ln latency before anything is known, and how many
/// differences it counts for. Our own estimate, no source.
const SCALE_PRIOR: (f64, f64) = (0.3, 10.0);
/// The spread between items before anything is known, and how many items it
/// counts for. The seven plain letter pairs of a public corpus of 51 people
/// (Killourhy & Maxion 2009) have medians with a spread of 0.20 in logarithms.
const BETWEEN_PRIOR: (f64, f64) = (0.2, 2.0);
/// The tail factor of normal values at k = 1.5.
const NORMAL_TAILS: f64 = 1.037;
/// No scale is taken to be smaller: a clock of whole milliseconds, or a script
/// of equal intervals, would otherwise make estimates perfectly sure.
const LEAST_SCALE: f64 = 0.01;

/// The weight of something that is `age_days` old, 0 to 1; 1 for the future.
pub fn weight(age_days: f64) -> f64 {
    0.5_f64.powf(age_days.max(0.0) / HALF_LIFE_DAYS)
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Sample {
    day: i32,
    ln_ms: f64,
    count: f64,
    /// In the order of time; not so the latencies of a histogram.
    single: bool,
}

/// Latencies by group and key, in the order of time within a key. For items
/// the group is the layer; for arrivals in a layer the group is the layer
/// arrived in and the key the layer left.
#[derive(Debug, Clone, PartialEq)]
pub struct Latencies<G: Ord, K: Ord> {
    groups: BTreeMap<G, BTreeMap<K, Vec<Sample>>>,
}

impl<G: Ord, K: Ord> Default for Latencies<G, K> {
    fn default() -> Self {
        Self { groups: BTreeMap::new() }
    }
}

/// What is known of the latency of one key.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Latency {
    /// How many latencies, ≥ 1.
    pub n: u64,
    /// What they are worth after fading (Kish), 1 to `n`.
    pub n_effective: f64,
    /// The median with its 90 % interval, shrunk toward the group.
    pub median: Estimate,
    /// The median without shrinkage, ms.
    pub raw_ms: f64,
    /// The spread of single latencies in the group, in natural logarithms: two
    /// presses in three lie within a factor of e^sd.
    pub sd_ln: f64,
    /// The standard error of the logarithm of the median.
    pub error_ln: f64,
}

impl Latency {
    /// How sure it is that the median is at most `target_ms`, 0 to 1.
    pub fn at_most(&self, target_ms: f64) -> f64 {
        normal_cdf((target_ms.ln() - self.median.ms.ln()) / self.error_ln)
    }
}

/// What is known of a group.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct GroupLatency {
    /// The mean of its keys' medians (geometric), with its 90 % interval.
    pub mean: Estimate,
    /// What to expect of a key of the group that was never timed.
    pub unseen: Estimate,
    /// How many latencies, ≥ 1.
    pub n: u64,
    /// How many keys, ≥ 1.
    pub n_keys: usize,
    /// The spread of single latencies, in natural logarithms.
    pub sd_ln: f64,
    /// The spread between the medians of keys, in natural logarithms.
    pub between_sd_ln: f64,
}

/// All estimates of a day.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimates<G: Ord, K: Ord> {
    /// By group.
    pub groups: BTreeMap<G, GroupLatency>,
    /// By group and key.
    pub keys: BTreeMap<(G, K), Latency>,
}

impl Latencies<LayerId, Item> {
    /// Adds those of a drill's keystrokes that count, all struck on local day
    /// `day`. Arrivals count too: an item's median is that of its practised
    /// mix of arrivals and runs. [`super::switch`] tells the two apart.
    pub fn add_keystrokes(&mut self, day: i32, keystrokes: &[Keystroke]) {
        for keystroke in keystrokes {
            if let Some(latency) = keystroke.timed() {
                self.add(keystroke.layer, Item::of(keystroke), day, latency);
            }
        }
    }
}

impl Latencies<LayerId, LayerId> {
    /// Adds the arrivals among a drill's keystrokes: presses due on another
    /// layer than the one before, by the layer arrived in and the layer left.
    pub fn add_arrivals(&mut self, day: i32, keystrokes: &[Keystroke]) {
        for keystroke in keystrokes.iter().filter(|k| k.previous_layer != k.layer) {
            if let Some(latency) = keystroke.timed() {
                self.add(keystroke.layer, keystroke.previous_layer, day, latency);
            }
        }
    }
}

impl<G: Ord + Clone, K: Ord + Clone> Latencies<G, K> {
    /// Adds one latency that counts, > 0, later than those of `key` before it.
    pub fn add(&mut self, group: G, key: K, day: i32, latency: Micros) {
        self.put(group, key, Sample { day, ln_ms: latency.as_ms().ln(), count: 1.0, single: true });
    }

    /// Adds `count` latencies of about the same length, as a histogram or a
    /// sketch of a day has them. Where nothing but such is known of a group,
    /// its scale comes from deviations from the keys' medians.
    pub fn add_many(&mut self, group: G, key: K, day: i32, latency: Micros, count: u32) {
        self.add_ln(group, key, day, latency.as_ms().ln(), f64::from(count));
    }

    /// The same by the logarithm of a latency in ms.
    pub(super) fn add_ln(&mut self, group: G, key: K, day: i32, ln_ms: f64, count: f64) {
        self.put(group, key, Sample { day, ln_ms, count, single: false });
    }

    fn put(&mut self, group: G, key: K, sample: Sample) {
        if sample.ln_ms.is_finite() && sample.count > 0.0 {
            self.groups.entry(group).or_default().entry(key).or_default().push(sample);
        }
    }

    /// True where nothing was added.
    pub fn is_empty(&self) -> bool {
        self.groups.is_empty()
    }

    /// The estimates as of local day `today`.
    pub fn estimate(&self, today: i32) -> Estimates<G, K> {
        let faded: Vec<(&G, Vec<Faded<'_, K>>)> = self
            .groups
            .iter()
            .map(|(group, keys)| (group, keys.iter().map(|k| Faded::of(k, today)).collect()))
            .collect();
        let all = Scatter::of(faded.iter().flat_map(|(_, keys)| keys)).scale(SCALE_PRIOR);
        let mut estimates = Estimates { groups: BTreeMap::new(), keys: BTreeMap::new() };
        for (group, keys) in faded {
            let sd_ln = Scatter::of(&keys).scale((all, SCALE_PRIOR.1));
            let (found, latencies) = estimate_group(&keys, sd_ln);
            estimates.groups.insert(group.clone(), found);
            for (key, latency) in keys.iter().zip(latencies) {
                estimates.keys.insert((group.clone(), key.key.clone()), latency);
            }
        }
        estimates
    }
}

/// The samples of a key as they count today.
struct Faded<'a, K> {
    key: &'a K,
    samples: &'a [Sample],
    /// ln ms and weight, counts included.
    values: Vec<(f64, f64)>,
    median: f64,
    n: f64,
    n_effective: f64,
}

impl<'a, K> Faded<'a, K> {
    fn of((key, samples): (&'a K, &'a Vec<Sample>), today: i32) -> Self {
        // Relative to the newest, so that nothing vanishes by age alone.
        let newest = samples.iter().map(|s| s.day).max().unwrap_or(today).min(today);
        let weight = |day: i32| weight(f64::from(newest) - f64::from(day));
        let values: Vec<(f64, f64)> =
            samples.iter().map(|s| (s.ln_ms, weight(s.day) * s.count)).collect();
        let sum: f64 = values.iter().map(|v| v.1).sum();
        let squares: f64 = samples.iter().map(|s| weight(s.day).powi(2) * s.count).sum();
        Self {
            key,
            samples,
            median: weighted_median(&mut values.clone()).unwrap_or_default(),
            n: samples.iter().map(|s| s.count).sum(),
            n_effective: sum * sum / squares,
            values,
        }
    }
}

/// What tells the scale of single latencies.
struct Scatter {
    values: Vec<(f64, f64)>,
    /// What divides their median.
    by: f64,
    /// How many are independent.
    n: f64,
}

impl Scatter {
    fn of<'a, K: 'a>(keys: impl IntoIterator<Item = &'a Faded<'a, K>>) -> Self {
        let (mut differences, mut deviations) = (Vec::new(), Vec::new());
        let (mut n, mut n_keys) = (0.0, 0.0);
        for key in keys {
            for (pair, value) in key.samples.windows(2).zip(&key.values[1..]) {
                if pair.iter().all(|sample| sample.single) {
                    differences.push(((pair[1].ln_ms - pair[0].ln_ms).abs(), value.1));
                }
            }
            deviations.extend(key.values.iter().map(|v| ((v.0 - key.median).abs(), v.1)));
            n += key.n;
            n_keys += 1.0;
        }
        if differences.is_empty() {
            return Self { values: deviations, by: DEVIATION, n: n - n_keys };
        }
        Self { n: differences.len() as f64, values: differences, by: DIFFERENCE }
    }

    /// The scale, drawn toward `prior` (in logarithms) by as many as it counts for.
    fn scale(mut self, prior: (f64, f64)) -> f64 {
        let own = if self.n > 0.0 { weighted_median(&mut self.values) } else { None };
        let Some(own) = own else { return prior.0 };
        let own = (own / self.by).max(LEAST_SCALE).ln();
        ((self.n * own + prior.1 * prior.0.ln()) / (self.n + prior.1)).exp()
    }
}

fn estimate_group<K>(keys: &[Faded<'_, K>], sd_ln: f64) -> (GroupLatency, Vec<Latency>) {
    let raw: Vec<f64> = keys
        .iter()
        .map(|key| huber_location(&key.values, sd_ln, HUBER_K).unwrap_or(key.median))
        .collect();
    let tails = Tails::of(keys, &raw, sd_ln);
    let found: Vec<(f64, f64)> = keys
        .iter()
        .zip(&raw)
        .map(|(key, raw)| (*raw, sd_ln * sd_ln * tails.at(key.n_effective) / key.n_effective))
        .collect();
    let freedom = found.len() as f64 - 1.0;
    let (between, counts) = BETWEEN_PRIOR;
    let tau2 = (counts * between * between + freedom * paule_mandel(&found)) / (counts + freedom);
    let (mean, mean_variance) = precision_mean(&found, tau2);
    let latencies = keys
        .iter()
        .zip(&found)
        .map(|(key, &(raw, variance))| {
            let toward_mean = variance / (variance + tau2);
            let ln = raw + toward_mean * (mean - raw);
            let error_ln = (toward_mean * tau2 + toward_mean * toward_mean * mean_variance).sqrt();
            Latency {
                n: key.n as u64,
                n_effective: key.n_effective,
                median: Estimate::of_ln(ln, error_ln),
                raw_ms: raw.exp(),
                sd_ln,
                error_ln,
            }
        })
        .collect();
    let group = GroupLatency {
        mean: Estimate::of_ln(mean, mean_variance.sqrt()),
        unseen: Estimate::of_ln(mean, (mean_variance + tau2).sqrt()),
        n: keys.iter().map(|key| key.n).sum::<f64>() as u64,
        n_keys: keys.len(),
        sd_ln,
        between_sd_ln: tau2.sqrt(),
    };
    (group, latencies)
}

/// What tails make of the variance of a location, in units of σ² / n.
struct Tails {
    /// Of Huber's location of many: E(ψ²) / E(ψ′)².
    of_many: f64,
    /// Of a single value, which no other can put in its place: E(r²).
    of_one: f64,
}

/// Residuals beyond so many σ count as if they lay there.
const FARTHEST: f64 = 6.0;

impl Tails {
    /// Between the two by 1 / n: exact at both ends, our own choice between.
    fn at(&self, n: f64) -> f64 {
        self.of_many + (self.of_one - self.of_many).max(0.0) / n.max(1.0)
    }

    /// Over the group, with the keys' own locations allowed for; those of
    /// normal values where there is too little to tell.
    fn of<K>(keys: &[Faded<'_, K>], raw: &[f64], sd_ln: f64) -> Self {
        let n: f64 = keys.iter().map(|key| key.n_effective).sum();
        let spare = n - keys.len() as f64;
        if spare < 20.0 {
            return Self { of_many: NORMAL_TAILS, of_one: 1.0 };
        }
        let (mut clipped, mut plain, mut slopes, mut total) = (0.0, 0.0, 0.0, 0.0);
        for (key, raw) in keys.iter().zip(raw) {
            for (value, weight) in &key.values {
                let r = (value - raw) / sd_ln;
                clipped += weight * (r * huber_weight(r, HUBER_K)).powi(2);
                plain += weight * r.powi(2).min(FARTHEST * FARTHEST);
                slopes += if r.abs() <= HUBER_K { *weight } else { 0.0 };
                total += weight;
            }
        }
        let slope = slopes / total;
        let of_mean = n / spare / total;
        Self {
            of_many: (clipped * of_mean / (slope * slope)).clamp(0.5, 4.0),
            of_one: (plain * of_mean).clamp(0.5, 8.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(groups: &[(&'static str, &[u64])]) -> Latencies<u8, &'static str> {
        let mut latencies = Latencies::default();
        for (key, samples) in groups {
            for ms in *samples {
                latencies.add(0, *key, 100, Micros::from_ms(*ms));
            }
        }
        latencies
    }

    #[test]
    fn the_scarce_item_leans_on_its_layer() {
        let many = [200, 210, 190, 205, 195, 203, 197, 208, 192, 200];
        let found = of(&[("a", &many), ("b", &many), ("c", &[400])]).estimate(100);
        let c = found.keys[&(0, "c")];
        let mean = found.groups[&0].mean.ms;
        assert!(c.median.ms < 400.0 && c.median.ms > mean, "{c:?} {mean}");
        assert!((c.raw_ms - 400.0).abs() < 1e-6);
        let a = found.keys[&(0, "a")];
        assert!((a.median.ms - 200.0).abs() < 3.0);
        assert!(a.median.high_ms / a.median.low_ms < c.median.high_ms / c.median.low_ms);
    }

    #[test]
    fn what_is_old_counts_less() {
        let mut latencies: Latencies<u8, u8> = Latencies::default();
        for n in 0..20 {
            latencies.add(0, 0, 0, Micros::from_ms(400 + n));
            latencies.add(0, 0, 56, Micros::from_ms(200 + n));
        }
        let found = latencies.estimate(56).keys[&(0, 0)];
        assert!(found.median.ms < 230.0, "{found:?}");
        assert_eq!(found.n, 40);
        assert!(found.n_effective > 20.0 && found.n_effective < 24.0);
        // Time alone makes it neither faster nor surer.
        assert_eq!(latencies.estimate(400).keys[&(0, 0)], found);
    }

    #[test]
    fn one_latency_and_none() {
        let found = of(&[("a", &[250])]).estimate(100);
        let a = found.keys[&(0, "a")];
        assert!((a.median.ms - 250.0).abs() < 1e-6 && a.median.low_ms < 200.0);
        assert!(found.groups[&0].unseen.high_ms > a.median.high_ms);
        assert!(Latencies::<u8, u8>::default().estimate(3).keys.is_empty());
        // Equal intervals, as a script has them, stay finite.
        let found = of(&[("a", &[250; 30]), ("b", &[250; 30])]).estimate(100);
        assert!(found.keys[&(0, "a")].error_ln > 0.0);
    }

    #[test]
    fn a_days_histogram_counts_like_its_latencies() {
        let (mut single, mut many) = (Latencies::default(), Latencies::default());
        let of_ms = |n: u64| (Micros::from_ms(180 + 3 * (n * n * 7 % 41)), 1 + (n % 3) as u32);
        for n in 0..40 {
            let (latency, count) = of_ms(n);
            many.add_many(0, 0, 5, latency, count);
        }
        for round in 0..3 {
            for (latency, _) in (0..40).map(of_ms).filter(|(_, count)| *count > round) {
                single.add(0, 0, 5, latency);
            }
        }
        let one = single.estimate(5).keys[&(0_u8, 0_u8)];
        let other = many.estimate(5).keys[&(0, 0)];
        assert_eq!(one.n, other.n);
        assert!((one.n_effective - other.n_effective).abs() < 1e-9);
        assert!((one.median.ms / other.median.ms).ln().abs() < 0.02, "{one:?} {other:?}");
        assert!((one.sd_ln / other.sd_ln).ln().abs() < 0.3, "{one:?} {other:?}");
    }

    #[test]
    fn how_sure_a_target_is_met() {
        let a = of(&[("a", &[200, 220, 180, 210, 190, 200])]).estimate(100).keys[&(0, "a")];
        assert!((a.at_most(a.median.ms) - 0.5).abs() < 1e-9);
        assert!((a.at_most(a.median.high_ms) - 0.95).abs() < 1e-6);
        assert!(a.at_most(100.0) < 0.01 && a.at_most(600.0) > 0.99);
    }
}
