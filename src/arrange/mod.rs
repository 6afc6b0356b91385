//! Which symbol on which key.

mod assign;
mod bound;
mod problem;
mod search;

pub use bound::{Patience, Proof, prove};
pub use problem::{Placed, Problem, ProblemError, Term};
pub use search::{Effort, search, start};
