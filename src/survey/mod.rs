//! What a person types: counts of their own text, never the text itself.

mod counts;
mod habits;
mod work;

pub use counts::Counts;
pub use habits::Habits;
pub use work::{Work, WorkMix};
