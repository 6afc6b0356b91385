//! What a person types: counts of their own text, never the text itself.

mod answers;
mod cost;
mod counts;
mod first;
mod habits;
mod kind;
mod promise;
mod scan;
mod work;

pub use answers::{Answers, AnswersError, FIGURES, Figure};
pub use cost::{Bill, Comfort, KEY_UNIT_M, Known};
pub use counts::{Counts, output_of};
pub use first::{DAYS, MINUTES_A_DAY, Part, Ranked, Saving, Side, first};
pub use habits::{HOURS, Habits};
pub use kind::{OTHER, kind_of};
pub use promise::{Kept, Promise, Standing, with_new};
pub use scan::{LONGEST, Scanned, Scanner};
pub use work::{Work, WorkMix};

/// What is known of a person's work once their texts were counted.
#[derive(Debug, Clone, PartialEq)]
pub struct Surveyed {
    /// What their texts have.
    pub counts: Counts,
    /// What they do besides typing text.
    pub habits: Habits,
    /// What was promised to them, the earliest first.
    pub promises: Vec<Promise>,
}
