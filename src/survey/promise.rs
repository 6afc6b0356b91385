//! What was forecast, held against what came of it.

use super::{Ranked, Saving};
use serde::{Deserialize, Serialize};

/// A saving that a survey forecast for a part of a layout.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Promise {
    /// The local day on which it was made, days from 1970-01-01.
    pub day: i32,
    /// The layout, by name.
    pub layout: String,
    /// The part, by its word.
    pub part: String,
    /// Minutes of practice of this part that it asks for, > 0.
    pub minutes: f64,
    /// Minutes of practice of this part before it was made, ≥ 0.
    pub minutes_before: f64,
    /// What was saved a working day when it was made, seconds; below zero for a
    /// loss.
    pub then: f64,
    /// What is to be saved after that practice: estimate, and lower and upper end
    /// of its 90 % interval, seconds a working day.
    pub saved: [f64; 3],
}

/// How a promise stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// The practice that it asks for isn't done.
    Early,
    /// Done, and the two intervals have something in common.
    Held,
    /// Done, and more is saved than was promised.
    More,
    /// Done, and less is saved than was promised.
    Less,
}

impl Standing {
    /// In cautious words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Early => "too early to tell",
            Self::Held => "as promised, as far as can be told",
            Self::More => "more than promised",
            Self::Less => "less than promised",
        }
    }
}

/// A promise with what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// What was promised.
    pub promise: Promise,
    /// Minutes of practice of the part since.
    pub minutes: f64,
    /// What is saved now, by today's hands on the same counts.
    pub now: Saving,
    /// How it stands.
    pub standing: Standing,
}

impl Promise {
    /// Of what a ranking says of a part on local day `day`, where `minutes` of
    /// practice are asked for and `minutes_before` are done.
    pub fn of(layout: &str, day: i32, one: &Ranked, (minutes, minutes_before): (f64, f64)) -> Self {
        Self {
            day,
            layout: layout.to_owned(),
            part: one.part.word().to_owned(),
            minutes,
            minutes_before,
            then: one.now.seconds,
            saved: [one.later.seconds, one.later.low, one.later.high],
        }
    }

    /// What it promises.
    pub const fn saving(&self) -> Saving {
        let [seconds, low, high] = self.saved;
        Saving { seconds, low, high }
    }

    /// True where `minutes` of practice of the part in all are enough to judge.
    pub fn is_due(&self, minutes: f64) -> bool {
        minutes - self.minutes_before >= self.minutes
    }

    /// Held against what is saved `now`, after `minutes` of practice of the part
    /// in all.
    pub fn held(&self, now: Saving, minutes: f64) -> Kept {
        let [_, low, high] = self.saved;
        let standing = if !self.is_due(minutes) {
            Standing::Early
        } else if now.low > high {
            Standing::More
        } else if now.high < low {
            Standing::Less
        } else {
            Standing::Held
        };
        let minutes = (minutes - self.minutes_before).max(0.0);
        Kept { promise: self.clone(), minutes, now, standing }
    }
}

/// `promises` with those of `new` that are not promised already: a promise for
/// the same part of the same layout stands until its practice is done; `minutes`
/// tells how much of a part was practised in all.
pub fn with_new(
    promises: &[Promise],
    new: Vec<Promise>,
    minutes: impl Fn(&str) -> f64,
) -> Vec<Promise> {
    let open = |one: &Promise| {
        promises.iter().any(|old| {
            old.layout == one.layout && old.part == one.part && !old.is_due(minutes(&old.part))
        })
    };
    let fresh = new.into_iter().filter(|one| !open(one));
    promises.iter().cloned().chain(fresh).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn promise() -> Promise {
        Promise {
            day: 1,
            layout: "tern-split".into(),
            part: "symbols".into(),
            minutes: 300.0,
            minutes_before: 40.0,
            then: -50.0,
            saved: [60.0, 30.0, 90.0],
        }
    }

    #[test]
    fn a_promise_is_judged_once_its_practice_is_done() {
        let at = |low, high, minutes| {
            let now = Saving { seconds: low / 2.0 + high / 2.0, low, high };
            promise().held(now, minutes).standing
        };
        assert_eq!(at(100.0, 120.0, 339.0), Standing::Early);
        assert_eq!(at(100.0, 120.0, 340.0), Standing::More);
        assert_eq!(at(80.0, 120.0, 340.0), Standing::Held);
        assert_eq!(at(-10.0, 29.0, 500.0), Standing::Less);
        let since = promise().held(Saving { seconds: 0.0, low: 0.0, high: 0.0 }, 45.0).minutes;
        assert!((since - 5.0).abs() < 1e-12);
    }

    #[test]
    fn a_promise_stands_until_it_was_judged() {
        let again = Promise { day: 9, ..promise() };
        let other = Promise { part: "numbers".into(), ..again.clone() };
        let add = |minutes| with_new(&[promise()], vec![again.clone(), other.clone()], |_| minutes);
        assert_eq!(add(50.0), [promise(), other.clone()]);
        assert_eq!(add(340.0), [promise(), again.clone(), other.clone()]);
    }
}
