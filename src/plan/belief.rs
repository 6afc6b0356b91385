//! What is known of a person, as the plan needs it.

use crate::drill::{ItemKey, SwitchKey};
use std::collections::BTreeMap;

/// A power law of practice with its uncertainty: log = b − c·log(times + 1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// The mean of b: log ms for an item, log of a ratio for a switch.
    pub b: f64,
    /// The mean of c.
    pub c: f64,
    /// Variance of b, covariance of b and c, variance of c.
    pub covariance: [f64; 3],
    /// Repetitions so far, ≥ 0.
    pub times: f64,
}

impl Course {
    /// A course that stands at `log` ± `error` after `times`, and falls by the
    /// exponent `c` ± `c_error`, the two independent of each other.
    pub fn standing_at(log: (f64, f64), c: (f64, f64), times: f64) -> Self {
        let x = times.ln_1p();
        let (variance, c_variance) = (log.1 * log.1, c.1 * c.1);
        Self {
            b: log.0 + c.0 * x,
            c: c.0,
            covariance: [variance + x * x * c_variance, x * c_variance, c_variance],
            times,
        }
    }

    /// Where it stands now, and the standard error of that.
    pub fn log(&self) -> (f64, f64) {
        let x = self.times.ln_1p();
        let [bb, bc, cc] = self.covariance;
        (self.b - self.c * x, (bb - 2.0 * x * bc + x * x * cc).max(0.0).sqrt())
    }

    /// Takes in that log was `seen`, with `variance` about it: Bayesian linear
    /// regression, one observation at a time. An observation farther off than
    /// 1.5 standard deviations counts as if it were that far (Huber).
    pub fn observe(&mut self, seen: f64, variance: f64) {
        let x = self.times.ln_1p();
        let [bb, bc, cc] = self.covariance;
        let (gb, gc) = (bb - x * bc, bc - x * cc);
        let total = gb - x * gc + variance;
        if total.is_nan() || total <= 0.0 {
            return;
        }
        let limit = 1.5 * total.sqrt();
        let off = (seen - (self.b - self.c * x)).clamp(-limit, limit);
        self.b += gb / total * off;
        self.c += gc / total * off;
        self.covariance = [bb - gb * gb / total, bc - gb * gc / total, cc - gc * gc / total];
    }

    /// The course that two standard normal values draw from what is known:
    /// log now, and c.
    pub fn drawn(&self, normal: [f64; 2]) -> (f64, f64) {
        let x = self.times.ln_1p();
        let [_, bc, cc] = self.covariance;
        let (log, error) = self.log();
        // Of log now and c: c given log now.
        let with = bc - x * cc;
        let slope = if error > 0.0 { with / (error * error) } else { 0.0 };
        let rest = (cc - slope * with).max(0.0).sqrt();
        let off = error * normal[0];
        (log + off, self.c + slope * off + rest * normal[1])
    }
}

/// What is known of an item.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ItemBelief {
    /// Its time within its layer, without the cost of getting there: log ms.
    pub course: Course,
    /// Wrong and right first tries: the Beta posterior of going wrong.
    pub errors: (f64, f64),
}

impl ItemBelief {
    /// The expected share of wrong first tries, 0 to 1.
    pub fn error_rate(&self) -> f64 {
        let sum = self.errors.0 + self.errors.1;
        if sum > 0.0 { self.errors.0 / sum } else { 0.0 }
    }
}

/// What is known of a switch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwitchBelief {
    /// The log of the ratio by which the key right after it takes longer.
    pub course: Course,
}

/// What is known of everything that a layout can give.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Beliefs {
    /// By item.
    pub items: BTreeMap<ItemKey, ItemBelief>,
    /// By switch.
    pub switches: BTreeMap<SwitchKey, SwitchBelief>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of a normal prior with variance 1 and one observation with variance 1
    /// the posterior lies half way and has variance 1/2.
    #[test]
    fn an_observation_counts_by_its_variance() {
        let mut course = Course::standing_at((5.0, 1.0), (0.1, 0.0), 0.0);
        course.observe(6.0, 1.0);
        let (log, error) = course.log();
        assert!((log - 5.5).abs() < 1e-12 && (error - 0.5_f64.sqrt()).abs() < 1e-12);
        course.observe(f64::MAX, 1.0);
        assert!(course.log().0 < 6.2, "an outlier moves it a little only");
    }

    #[test]
    fn both_parts_of_a_course_are_learnt() {
        let mut course = Course::standing_at((6.5, 0.5), (0.11, 0.06), 0.0);
        for n in 0..3000 {
            course.times = f64::from(n);
            let log = 6.0 - 0.2 * course.times.ln_1p();
            course.observe(log, 0.01);
        }
        assert!((course.b - 6.0).abs() < 0.02 && (course.c - 0.2).abs() < 0.005, "{course:?}");
    }

    #[test]
    fn draws_have_the_spread_that_is_known() {
        let course = Course::standing_at((5.0, 0.3), (0.11, 0.06), 100.0);
        let (log, c) = course.drawn([0.0, 0.0]);
        assert!((log - 5.0).abs() < 1e-12 && (c - 0.11).abs() < 1e-12);
        let (log, c) = course.drawn([1.0, 1.0]);
        assert!((log - 5.3).abs() < 1e-9 && (c - 0.17).abs() < 1e-9);
    }
}
