//! Which symbol on which key.
//!
//! `problem` is the exact question, quadratic assignment; `search` finds good
//! answers, `bound` proves the best or says how far it could be, with the linear
//! assignments of `assign`. `task` makes the question of a layout, a person's text
//! and what is known of their hands, where `learner` prices what must be learnt
//! anew; `proposal` turns the answer into a changed layout.

mod assign;
mod bound;
mod learner;
mod problem;
mod proposal;
mod search;
mod task;

pub use bound::{Patience, Proof, prove};
pub use learner::Learner;
pub use problem::{Placed, Problem, ProblemError, Term};
pub use proposal::{Move, Proposal};
pub use search::{Effort, search, start};
pub use task::{DAYS, FINDING_MS, SPLIT, Spot, Task, TaskError, Wish};
