//! What a person types: counts of their own text, never the text itself.

mod cost;
mod counts;
mod first;
mod habits;
mod kind;
mod scan;
mod work;

pub use cost::{Bill, Comfort, KEY_UNIT_M, Known};
pub use counts::{Counts, output_of};
pub use first::{DAYS, HOURS, MINUTES_A_DAY, Part, Ranked, Saving, Side, first};
pub use habits::Habits;
pub use kind::{OTHER, kind_of};
pub use scan::{LONGEST, Scanned, Scanner};
pub use work::{Work, WorkMix};
