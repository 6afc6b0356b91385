//! How fast a person gets on a key that they have never struck for a symbol.

use crate::keyboard::Output;
use crate::layout::{LayerId, RouteTable};
use crate::model::hands::Findings;
use crate::plan::{Beliefs, Course, EFFORT_POWER, EXPONENT, UNMET};

/// Fewer repetitions say nothing of how a person learns.
const LEAST: f64 = 20.0;

/// A new key by a person's own keys so far: ln ms = b − c·ln(times + 1), b for a
/// key of mean effort.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Learner {
    /// b and its standard error.
    pub b: (f64, f64),
    /// c and its standard error.
    pub c: (f64, f64),
    /// The effort that b is for.
    pub effort: f64,
    /// How many of the person's keys it comes from; none where it is all
    /// assumed.
    pub keys: usize,
}

impl Learner {
    /// From the curves that were fitted to the keys of `layers`, each by its
    /// precision, and from what is assumed of everybody, which counts as one
    /// more. Keys of other effort are taken to have the mean one.
    pub fn of(routes: &RouteTable, layers: &[LayerId], findings: &Findings) -> Self {
        let effort_of = |layer: LayerId, output: &Output| {
            let mut all = routes.all(output).iter();
            all.find(|route| route.layer == layer).map(|route| f64::from(route.effort))
        };
        let efforts: Vec<f64> = routes
            .outputs()
            .flat_map(|(_, all)| all)
            .filter(|route| layers.contains(&route.layer))
            .map(|route| f64::from(route.effort).ln())
            .collect();
        let mean = efforts.iter().sum::<f64>() / (efforts.len() as f64).max(1.0);
        let (mut b, mut c) = (Mean::of(UNMET), Mean::of(EXPONENT));
        let mut keys = 0;
        for (item, finding) in &findings.items {
            let Some(curve) = &finding.curve else { continue };
            let Some(effort) = effort_of(item.layer, &item.output) else { continue };
            if item.layer == LayerId::BASE || curve.repetitions < LEAST {
                continue;
            }
            let [bb, cc, _] = curve.covariance;
            // Keys differ from each other by more than each is known to: the
            // spread that is assumed of a new key is added.
            b.take(curve.b - EFFORT_POWER * (effort.ln() - mean), bb + UNMET.1 * UNMET.1);
            c.take(curve.c, cc + EXPONENT.1 * EXPONENT.1);
            keys += 1;
        }
        Self { b: b.settled(), c: c.settled(), effort: mean.exp(), keys }
    }

    /// ln ms on a key of so much effort after so many repetitions.
    pub fn log(&self, effort: f64, times: f64) -> f64 {
        self.b.0 + EFFORT_POWER * (effort / self.effort).ln() - self.c.0 * times.ln_1p()
    }
}

/// A mean by precision.
struct Mean {
    sum: f64,
    weight: f64,
}

impl Mean {
    fn of((value, error): (f64, f64)) -> Self {
        let weight = 1.0 / (error * error);
        Self { sum: value * weight, weight }
    }

    fn take(&mut self, value: f64, variance: f64) {
        if variance > 0.0 && value.is_finite() {
            self.sum += value / variance;
            self.weight += 1.0 / variance;
        }
    }

    fn settled(&self) -> (f64, f64) {
        (self.sum / self.weight, self.weight.recip().sqrt())
    }
}

/// How long a symbol takes in the days of a forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Pace {
    /// Its key stays: by what is known of it.
    Stays(Course),
    /// A key to be learnt anew.
    New {
        /// Its effort.
        effort: f64,
        /// ln of how much slower than other symbols this one is, ≥ 0.
        slower: f64,
    },
}

impl Pace {
    /// What is known of `output` on `layer` where it lies, or that it is new.
    pub fn known(beliefs: &Beliefs, layer: LayerId, output: &Output, effort: f64) -> Self {
        match beliefs.items.get(&(layer, output.clone())) {
            Some(belief) if belief.course.times > 0.0 => Self::Stays(belief.course),
            _ => Self::New { effort, slower: 0.0 },
        }
    }

    /// The same symbol on a key of so much `effort` that it must be learnt on.
    /// Where it lies, on a key of effort `before`, it may be slower than the
    /// person's other keys with as much practice: then a new key is not taken to
    /// cure that. One that is faster is taken to lose it.
    pub fn anew(&self, learner: &Learner, before: f64, effort: f64) -> Self {
        let slower = match self {
            Self::Stays(course) => course.log().0 - learner.log(before, course.times),
            Self::New { slower, .. } => *slower,
        };
        Self::New { effort, slower: slower.max(0.0) }
    }

    /// ln ms after `times` more repetitions.
    pub fn log(&self, learner: &Learner, times: f64) -> f64 {
        match self {
            Self::Stays(course) => course.b - course.c * (course.times + times).ln_1p(),
            Self::New { effort, slower } => learner.log(*effort, times) + slower,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;

    /// With nothing measured it is what the plan assumes of a key never struck.
    #[test]
    fn somebody_unknown_learns_as_is_assumed() {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let layers = [layout.layer_named("symbols").unwrap()];
        let learner = Learner::of(&routes, &layers, &Findings::default());
        assert_eq!(learner.keys, 0);
        assert!((learner.log(learner.effort, 0.0) - UNMET.0).abs() < 1e-12);
        let halved = learner.log(learner.effort, 1.0) - learner.log(learner.effort, 3.0);
        assert!((halved - EXPONENT.0 * 2.0_f64.ln()).abs() < 1e-12, "7 % for each doubling");
        assert!(learner.log(2.0 * learner.effort, 9.0) > learner.log(learner.effort, 9.0));
    }

    #[test]
    fn a_new_key_cures_no_slow_symbol_and_costs_a_fast_one_what_it_gained() {
        let learner = Learner { b: (6.0, 0.1), c: (0.1, 0.02), effort: 2.0, keys: 9 };
        let usual = learner.log(2.0, 100.0);
        for (standing, moved) in [(usual + 0.3, 0.3), (usual - 0.3, 0.0)] {
            let course = Course::standing_at((standing, 0.1), (0.1, 0.02), 100.0);
            let new = Pace::Stays(course).anew(&learner, 2.0, 3.0);
            let above = new.log(&learner, 100.0) - learner.log(3.0, 100.0);
            assert!((above - moved).abs() < 1e-9, "{above} {moved}");
        }
    }

    #[test]
    fn a_mean_goes_by_precision() {
        let mut mean = Mean::of((1.0, 1.0));
        mean.take(4.0, 0.5);
        let (value, error) = mean.settled();
        assert!((value - 3.0).abs() < 1e-12 && (error - (1.0_f64 / 3.0).sqrt()).abs() < 1e-12);
    }
}
