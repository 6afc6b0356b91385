//! What a person types: counts of their own text, never the text itself.

mod cost;
mod counts;
mod habits;
mod kind;
mod scan;
mod work;

pub use cost::{Bill, UNIT_M, output_of};
pub use counts::Counts;
pub use habits::Habits;
pub use kind::{OTHER, kind_of};
pub use scan::{LONGEST, Scanned, Scanner};
pub use work::{Work, WorkMix};
