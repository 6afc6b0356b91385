//! Which symbol on which key.

mod assign;
mod bound;
mod learner;
mod problem;
mod search;
mod task;

pub use bound::{Patience, Proof, prove};
pub use learner::Learner;
pub use problem::{Placed, Problem, ProblemError, Term};
pub use search::{Effort, search, start};
pub use task::{DAYS, SPLIT, Spot, Task, TaskError, Wish};
