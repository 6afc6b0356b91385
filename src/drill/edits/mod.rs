//! Editing tasks: go there, select this, delete that, move the line, in a
//! document of the shipped material or of the person's own.
//!
//! Everything asks the layout: a key is used where the layout has a route to
//! it, and a task is taken where its shortest way uses what is practised.

mod documents;
mod generate;
mod targets;

pub use documents::{DOCUMENT_COLUMNS, DOCUMENT_LINES, Document, documents};
pub use generate::{EditRequest, TASKS, edits, navigation_keys, tools};

use crate::editor::{Bindings, Goal, Measure, Task, Tools, Way, par};
use std::fmt;
use std::sync::Arc;

/// A prompt to change a small text into another, or to go somewhere in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// What is to be done.
    pub task: Task,
    /// What each key does.
    pub bindings: Arc<Bindings>,
    /// The keys that the layout has, with what they cost.
    pub tools: Arc<Tools>,
    /// A way with the fewest keys.
    pub way: Way,
    /// A way with the least time, by what the keys cost.
    pub quickest: Way,
}

impl Edit {
    /// The prompt for `task` with `tools`, which are keys of `bindings`; none
    /// where they don't lead to the goal.
    pub fn new(task: Task, bindings: &Arc<Bindings>, tools: &Arc<Tools>) -> Option<Self> {
        let way = par(task.start(), &task, tools, Measure::Keys)?;
        let quickest = par(task.start(), &task, tools, Measure::Time)?;
        let (bindings, tools) = (Arc::clone(bindings), Arc::clone(tools));
        Some(Self { task, bindings, tools, way, quickest })
    }

    /// The fewest keys that it needs.
    pub fn par(&self) -> usize {
        self.way.keys()
    }
}

impl fmt::Display for Edit {
    /// The task in words, as in `delete what is marked`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.task.goal() {
            Goal::Cursor(_) => f.write_str("go to the mark"),
            Goal::Selection(_) => f.write_str("select what is marked"),
            Goal::Deletion(_) => f.write_str("delete what is marked"),
            Goal::LineMove { from, to } => {
                let way = if to > from { "down" } else { "up" };
                match to.abs_diff(from) {
                    1 => write!(f, "move the marked line {way} by one line"),
                    n => write!(f, "move the marked line {way} by {n} lines"),
                }
            }
        }
    }
}
