//! FSRS-6: how a memory grows with each answer and fades between them.
//!
//! Source: the algorithm's open specification (open-spaced-repetition, "The
//! Algorithm", FSRS-6) with its default weights, written down from memory and
//! checked by the reference implementation's own vectors in the tests: they
//! fail if a formula or one of the weights that they touch were different.
//! Weights are not fitted to the person: a few dozen items give too few
//! answers for 21 numbers.

/// The 21 default weights, w0 to w20.
pub const WEIGHTS: [f64; 21] = [
    0.212, 1.2931, 2.3065, 8.2956, 6.4133, 0.8334, 3.0194, 0.001, 1.8722, 0.1666, 0.796, 1.4835,
    0.0614, 0.2629, 1.6483, 0.6014, 1.8729, 0.5425, 0.0912, 0.0658, 0.1542,
];

/// Stability is kept within these, days.
pub const STABILITY: (f64, f64) = (0.001, 36_500.0);
/// Difficulty is kept within these.
pub const DIFFICULTY: (f64, f64) = (1.0, 10.0);

/// How well something was remembered, the algorithm's four grades.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grade {
    /// Not at all.
    Again,
    /// With effort.
    Hard,
    /// Well.
    Good,
    /// At once.
    Easy,
}

impl Grade {
    /// Every grade, in order.
    pub const ALL: [Self; 4] = [Self::Again, Self::Hard, Self::Good, Self::Easy];

    /// 1 to 4.
    const fn number(self) -> f64 {
        match self {
            Self::Again => 1.0,
            Self::Hard => 2.0,
            Self::Good => 3.0,
            Self::Easy => 4.0,
        }
    }
}

/// The state of one memory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Memory {
    /// After so many days it is remembered nine times in ten.
    pub stability: f64,
    /// 1 (easy) to 10 (hard).
    pub difficulty: f64,
}

/// The chance that something of this `stability` (days) is remembered after
/// `days` without practice, 0 to 1: a power law through 0.9 at `days` =
/// `stability`.
pub fn retrievability(stability: f64, days: f64) -> f64 {
    (1.0 + factor() * days.max(0.0) / stability).powf(-WEIGHTS[20])
}

/// The days after which something of this `stability` is remembered with
/// chance `retention`: at least 1, rounded.
pub fn interval_days(stability: f64, retention: f64) -> f64 {
    let days = stability / factor() * (retention.powf(-1.0 / WEIGHTS[20]) - 1.0);
    days.round().max(1.0)
}

fn factor() -> f64 {
    0.9_f64.powf(-1.0 / WEIGHTS[20]) - 1.0
}

impl Memory {
    /// The memory after the first answer ever.
    pub fn first(grade: Grade) -> Self {
        let stability = match grade {
            Grade::Again => WEIGHTS[0],
            Grade::Hard => WEIGHTS[1],
            Grade::Good => WEIGHTS[2],
            Grade::Easy => WEIGHTS[3],
        };
        Self { stability, difficulty: bounded(first_difficulty(grade), DIFFICULTY) }
    }

    /// The memory after an answer `days` after the one before; 0 is the same
    /// day.
    #[must_use]
    pub fn after(self, grade: Grade, days: u32) -> Self {
        let stability = if days == 0 {
            self.same_day(grade)
        } else {
            let chance = retrievability(self.stability, f64::from(days));
            match grade {
                Grade::Again => self.forgotten(chance),
                _ => self.remembered(grade, chance),
            }
        };
        Self {
            stability: bounded(stability, STABILITY),
            difficulty: bounded(self.next_difficulty(grade), DIFFICULTY),
        }
    }

    fn same_day(self, grade: Grade) -> f64 {
        let w = WEIGHTS;
        let gain = (w[17] * (grade.number() - 3.0 + w[18])).exp() * self.stability.powf(-w[19]);
        // What was remembered never gets weaker by it.
        let gain = if grade >= Grade::Good { gain.max(1.0) } else { gain };
        self.stability * gain
    }

    fn remembered(self, grade: Grade, chance: f64) -> f64 {
        let w = WEIGHTS;
        let grade = match grade {
            Grade::Hard => w[15],
            Grade::Easy => w[16],
            Grade::Again | Grade::Good => 1.0,
        };
        let gain = w[8].exp()
            * (11.0 - self.difficulty)
            * self.stability.powf(-w[9])
            * ((w[10] * (1.0 - chance)).exp() - 1.0)
            * grade;
        self.stability * (1.0 + gain)
    }

    fn forgotten(self, chance: f64) -> f64 {
        let w = WEIGHTS;
        let left = w[11]
            * self.difficulty.powf(-w[12])
            * ((self.stability + 1.0).powf(w[13]) - 1.0)
            * (w[14] * (1.0 - chance)).exp();
        // What was forgotten never gets stronger by it.
        left.min(self.stability / (w[17] * w[18]).exp())
    }

    fn next_difficulty(self, grade: Grade) -> f64 {
        let w = WEIGHTS;
        let step = -w[6] * (grade.number() - 3.0);
        // Ever smaller steps toward the hard end, and a little way back to the
        // difficulty of what is easy from the start.
        let damped = self.difficulty + step * (10.0 - self.difficulty) / 9.0;
        w[7] * first_difficulty(Grade::Easy) + (1.0 - w[7]) * damped
    }
}

fn first_difficulty(grade: Grade) -> f64 {
    WEIGHTS[4] - (WEIGHTS[5] * (grade.number() - 1.0)).exp() + 1.0
}

fn bounded(value: f64, (least, most): (f64, f64)) -> f64 {
    value.clamp(least, most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Source: a test of the reference implementation (crate `fsrs`, 6.6):
    /// ratings 1, 3, 3, 3, 3, 3 at elapsed days 0, 0, 1, 3, 8, 21.
    #[test]
    fn a_history_ends_as_the_reference_says() {
        let mut memory = Memory::first(Grade::Again);
        for days in [0, 1, 3, 8, 21] {
            memory = memory.after(Grade::Good, days);
        }
        assert!((memory.stability - 53.62691).abs() < 1e-4, "{memory:?}");
        assert!((memory.difficulty - 6.357_486_7).abs() < 1e-6, "{memory:?}");
    }

    /// Source: as above; stability 1, retention 0.1 to 1 in tenths. The
    /// reference reckons in single precision: one part in a million.
    #[test]
    fn intervals_are_those_of_the_reference() {
        let found: Vec<f64> =
            (1..=10).map(|tenth| interval_days(1.0, f64::from(tenth) / 10.0)).collect();
        let told = [3_116_766.0, 34_793.0, 2508.0, 387.0, 90.0, 27.0, 9.0, 3.0, 1.0, 1.0];
        for (found, told) in found.into_iter().zip(told) {
            assert!((found - told).abs() <= 1e-6 * told, "{found}, not {told}");
        }
    }

    #[test]
    fn stability_is_the_time_to_nine_in_ten() {
        for stability in [0.2, 1.0, 7.5, 400.0] {
            assert!((retrievability(stability, stability) - 0.9).abs() < 1e-12);
            assert!((retrievability(stability, 0.0) - 1.0).abs() < 1e-12);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

        /// Whatever the answers: the state stays in its bounds, better grades
        /// never leave less, and remembering never weakens.
        #[test]
        fn memories_stay_in_their_bounds(answers in prop::collection::vec((0_usize..4, 0_u32..4000), 1..40)) {
            let mut memory = Memory::first(Grade::ALL[answers[0].0]);
            for (grade, days) in answers {
                let all = Grade::ALL.map(|grade| memory.after(grade, days));
                for pair in all.windows(2) {
                    prop_assert!(pair[0].stability <= pair[1].stability);
                    prop_assert!(pair[0].difficulty >= pair[1].difficulty);
                }
                prop_assert!(all[0].stability <= memory.stability);
                prop_assert!(all[2].stability >= memory.stability * (1.0 - 1e-12));
                memory = all[grade];
                prop_assert!((STABILITY.0..=STABILITY.1).contains(&memory.stability));
                prop_assert!((DIFFICULTY.0..=DIFFICULTY.1).contains(&memory.difficulty));
            }
        }
    }
}
