//! How well something was remembered, from what was observed.

use super::Grade;
use crate::keyboard::Output;
use crate::session::{Flags, Keystroke, Verdict};
use crate::units::Micros;

/// Right within this is at once (bound of our own: a known chord takes well
/// under a second, reading its title some half a second more).
pub const FAST: Micros = Micros::from_ms(1500);
/// Right after more than this was searched for (bound of our own).
pub const SLOW: Micros = Micros::from_ms(3500);

/// What was observed when something had to be remembered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Outcome {
    /// The answer had to be shown.
    Shown,
    /// The first answer was wrong.
    Wrong,
    /// Right, but only after [`SLOW`].
    Slow,
    /// Right, in ordinary time or in a time that is not known.
    Right,
    /// Right within [`FAST`].
    AtOnce,
}

impl Outcome {
    /// Every outcome, worst first.
    pub const ALL: [Self; 5] = [Self::Shown, Self::Wrong, Self::Slow, Self::Right, Self::AtOnce];

    /// The word for people and exports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Shown => "shown",
            Self::Wrong => "wrong",
            Self::Slow => "slow",
            Self::Right => "right",
            Self::AtOnce => "at-once",
        }
    }

    /// The grade that follows.
    pub const fn grade(self) -> Grade {
        match self {
            Self::Shown | Self::Wrong => Grade::Again,
            Self::Slow => Grade::Hard,
            Self::Right => Grade::Good,
            Self::AtOnce => Grade::Easy,
        }
    }

    /// The outcome that a press tells; none where nothing had to be
    /// remembered, or an earlier press at the same place told it.
    pub fn of(verdict: Verdict, flags: Flags, latency: Option<Micros>) -> Option<Self> {
        if !flags.contains(Flags::RECALLED) || flags.contains(Flags::RETRY) {
            return None;
        }
        Some(match (verdict, latency) {
            _ if flags.contains(Flags::SHOWN) => Self::Shown,
            (Verdict::Miss | Verdict::Repair, _) => Self::Wrong,
            (Verdict::Hit, Some(latency)) if latency <= FAST => Self::AtOnce,
            (Verdict::Hit, Some(latency)) if latency > SLOW => Self::Slow,
            (Verdict::Hit, _) => Self::Right,
        })
    }
}

/// One answer: what was asked for, when, and what was observed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// What was asked for.
    pub item: Output,
    /// The local day.
    pub day: i32,
    /// What was observed.
    pub outcome: Outcome,
}

impl Answer {
    /// The answer that `keystroke` of `day` is, if it is one.
    pub fn of(keystroke: &Keystroke, day: i32) -> Option<Self> {
        let outcome = Outcome::of(keystroke.verdict, keystroke.flags, keystroke.latency)?;
        Some(Self { item: keystroke.expected.clone(), day, outcome })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outcomes_follow_from_what_was_observed() {
        let asked = Flags::FIRST | Flags::RECALLED;
        let ms = |ms| Some(Micros::from_ms(ms));
        for (verdict, flags, latency, outcome) in [
            (Verdict::Hit, asked, ms(900), Some(Outcome::AtOnce)),
            (Verdict::Hit, asked, ms(1501), Some(Outcome::Right)),
            (Verdict::Hit, asked, None, Some(Outcome::Right)),
            (Verdict::Hit, asked | Flags::PAUSE, ms(4000), Some(Outcome::Slow)),
            (Verdict::Miss, asked, ms(300), Some(Outcome::Wrong)),
            (Verdict::Hit, asked | Flags::RETRY, ms(300), None),
            (Verdict::Hit, asked | Flags::SHOWN, ms(300), Some(Outcome::Shown)),
            (Verdict::Miss, asked | Flags::SHOWN, ms(300), Some(Outcome::Shown)),
            (Verdict::Hit, Flags::FIRST, ms(300), None),
        ] {
            assert_eq!(Outcome::of(verdict, flags, latency), outcome, "{verdict:?} {flags:?}");
        }
    }
}
