//! What a person types: counts of their own text, never the text itself.

mod counts;

pub use counts::Counts;
