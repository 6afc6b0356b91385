//! What one more repetition of each thing saves.

use super::belief::{Beliefs, Course};
use super::need::Need;
use crate::drill::{ItemKey, Pull, SwitchKey, Weights};
use crate::layout::LayerId;
use crate::order::Gather;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// A wrong key costs itself, a Backspace and the right key, each about as long
/// as the item (our own estimate).
pub(super) const ERROR_KEYS: f64 = 3.0;
/// Practice that makes slower is no practice: no exponent is taken for less.
const LEAST_EXPONENT: f64 = 0.005;

/// What things cost in a page of text.
#[derive(Debug, Clone, Default)]
pub(super) struct Costs {
    /// By item: log ms now, exponent, ms a page by its time, ms a page by its errors.
    pub items: BTreeMap<ItemKey, Cost>,
    /// By switch: log ratio now, exponent, ms a page of the keys right after it.
    pub switches: BTreeMap<SwitchKey, Cost>,
    /// Mean seconds of a stroke that is known.
    pub known_seconds: f64,
}

#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Cost {
    pub log: f64,
    pub exponent: f64,
    /// Times so far, plus one.
    pub times: f64,
    /// ms a page.
    pub by_time: f64,
    /// ms a page.
    pub by_errors: f64,
    /// How often it goes wrong, 0 to 1.
    pub error_rate: f64,
}

/// Two draws of the standard normal distribution (Box & Muller 1958).
pub(super) fn normals(rng: &mut ChaCha8Rng) -> [f64; 2] {
    let radius = (-2.0 * (1.0 - rng.random::<f64>()).ln()).sqrt();
    let angle = TAU * rng.random::<f64>();
    [radius * angle.cos(), radius * angle.sin()]
}

impl Costs {
    /// By the means of what is known, or by one draw from it (Thompson 1933):
    /// what is uncertain is tried now and then.
    pub fn new(beliefs: &Beliefs, need: &Need, mut rng: Option<&mut ChaCha8Rng>) -> Self {
        let mut draw = |course: &Course| match &mut rng {
            Some(rng) => course.drawn(normals(rng)),
            None => (course.log().0, course.c),
        };
        let mut costs = Self::default();
        for (key, belief) in &beliefs.items {
            let (log, exponent) = draw(&belief.course);
            let (error_rate, off) = (belief.error_rate(), draw(&error_course(belief.errors)).0);
            costs.items.insert(
                key.clone(),
                Cost {
                    log,
                    exponent: exponent.max(LEAST_EXPONENT),
                    times: belief.course.times + 1.0,
                    error_rate: (error_rate + off).clamp(0.0, 0.5),
                    ..Cost::default()
                },
            );
        }
        for (key, belief) in &beliefs.switches {
            let (log, exponent) = draw(&belief.course);
            costs.switches.insert(
                *key,
                Cost {
                    log: log.max(0.0),
                    exponent: exponent.max(LEAST_EXPONENT),
                    times: belief.course.times + 1.0,
                    ..Cost::default()
                },
            );
        }
        costs.spread_over(need);
        costs
    }

    /// Works out what a page takes.
    fn spread_over(&mut self, need: &Need) {
        let (mut known, mut strokes) = (0.0, 0.0);
        for (from, key, use_) in need.arrivals() {
            let Some(item) = self.items.get_mut(key) else { continue };
            let pair = from.filter(|from| *from != key.0).map(|from| (from, key.0));
            let switch = pair.and_then(|pair| self.switches.get_mut(&pair));
            let ratio = switch.as_ref().map_or(0.0, |switch| switch.log);
            let ms = use_ * (item.log + ratio).exp();
            item.by_time += ms;
            item.by_errors += use_ * item.error_rate * ERROR_KEYS * item.log.exp();
            if let Some(switch) = switch {
                switch.by_time += ms;
            } else if key.0 == LayerId::BASE {
                known += ms;
                strokes += use_;
            }
        }
        self.known_seconds = if strokes > 0.0 { known / strokes / 1000.0 } else { 0.2 };
    }

    /// As weights for a drill.
    pub fn weights(&self) -> Weights {
        let items = self.items.iter().map(|(key, cost)| (key.clone(), cost.pull()));
        let switches = self.switches.iter().map(|(key, cost)| {
            let seconds = self.known_seconds * (cost.log.exp() - 1.0);
            (*key, Pull { seconds, ..cost.pull() })
        });
        Weights {
            items: items.gather(),
            switches: switches.gather(),
            other_seconds: self.known_seconds,
            ..Weights::default()
        }
    }
}

impl Cost {
    /// What one more time is worth: ms a page, and what it takes.
    pub fn pull(&self) -> Pull {
        Pull {
            gain: self.exponent * (self.by_time + self.by_errors),
            times: self.times,
            seconds: self.log.exp() * (1.0 + self.error_rate * ERROR_KEYS) / 1000.0,
        }
    }
}

/// The spread of an error rate about its mean, as a course about zero (normal
/// approximation of the Beta posterior).
fn error_course((wrong, right): (f64, f64)) -> Course {
    let sum = (wrong + right).max(f64::MIN_POSITIVE);
    let variance = wrong * right / (sum * sum * (sum + 1.0));
    Course { b: 0.0, c: 0.0, covariance: [variance, 0.0, 0.0], times: 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Output;
    use crate::layout::{RouteTable, shipped};
    use crate::plan::belief::{ItemBelief, SwitchBelief};

    /// By hand: use × ms × c / (n + 1) for small steps, a switch's ms being the
    /// whole time of the key after it.
    #[test]
    fn a_repetition_is_worth_what_the_formula_says() {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let line: Vec<Output> = "a{".chars().map(Output::char).collect();
        let need = Need::of_lines(&routes, vec![(line.clone(), 10.0)]);
        let layer = routes.preferred(&line[1]).unwrap().layer;
        let key = (layer, line[1].clone());
        let course = |ms: f64, c, times| Course::standing_at((ms.ln(), 0.0), (c, 0.0), times);
        let mut beliefs = Beliefs::default();
        let item = ItemBelief { course: course(400.0, 0.1, 99.0), errors: (5.0, 95.0) };
        beliefs.items.insert(key.clone(), item);
        let switch = SwitchBelief { course: course(1.5, 0.05, 199.0) };
        beliefs.switches.insert((LayerId::BASE, layer), switch);
        let costs = Costs::new(&beliefs, &need, None);
        let weights = costs.weights();
        let own = weights.items[&key].worth(0.0);
        let by_hand = 10.0 * (400.0 * 1.5 + 0.05 * 3.0 * 400.0) * 0.1 / 100.0;
        assert!((own / by_hand - 1.0).abs() < 0.01, "{own} {by_hand}");
        let there = weights.switches[&(LayerId::BASE, layer)].worth(0.0);
        let by_hand = 10.0 * 600.0 * 0.05 / 200.0;
        assert!((there / by_hand - 1.0).abs() < 0.01, "{there} {by_hand}");
    }
}
