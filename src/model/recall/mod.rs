//! What is remembered: shortcuts and movements, by the open FSRS algorithm.
//!
//! [`fsrs`] holds the published formulas; [`Outcome`] tells how well something
//! was remembered from what was observed, never by asking; a [`Deck`] is what
//! is known of one layout: a fold over its answers, which are all that is kept.
//! Days are whole local days since 1970-01-01 and always an argument.

mod deck;
pub mod fsrs;
mod outcome;

pub use deck::{Card, Deck, NEW_A_DAY, RETENTION};
pub use fsrs::{Grade, Memory};
pub use outcome::{Answer, FAST, Outcome, SLOW};
