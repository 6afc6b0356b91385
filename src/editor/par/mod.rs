//! The least that a task needs: fewest keys, or least time.
//!
//! A best-first search (A*, Hart, Nilsson & Raphael 1968) over everything that
//! keys can do on the way to the goal: the cursor's place, the column that it
//! remembers, the anchor of the selection, and, where something is to be
//! deleted, what of it is left. [`ground`] turns a text into tables that tell
//! where each motion leads; [`bound`] and [`far`] tell what is still needed at
//! least; [`reads`] tells texts from each other; [`search`] goes from state to
//! state.
//!
//! The number of keys is exact, as is the time where that is asked for: every
//! way is searched that leaves the rest of the text alone. What that means:
//!
//! - *Going* and *selecting*: moves and selections alone. A change of the text
//!   would have to be taken back.
//! - *Deleting*: moves, selections and deletions in any order, as long as nothing
//!   outside the target is deleted: nothing here could bring it back.
//! - *Moving a line*: by keys that move lines, the line itself or all those that
//!   it passes at once, every text between on the way as well. Cutting it and
//!   pasting it elsewhere needs a selection, two keys and a way between: never
//!   less for up to four lines.
//!
//! No way is what only equal text or odd times make one: a selection begun to
//! get somewhere, as selecting might be quicker than going; moving equal lines to
//! get elsewhere; blocks among more than three equal lines or before an empty last
//! one.
//!
//! Among ways of equally few keys it is the quickest, but that ways which change
//! the text in several goes only count where they save a key.
//!
//! The tests compare both, keys and time, with a search over the whole product of
//! text, cursor, selection and clipboard on small buffers.

mod bound;
mod far;
mod ground;
mod reads;
mod search;

use super::{Action, Editor, Task};
use crate::keyboard::Output;
use crate::order::InOrder;
use crate::units::Micros;

/// A key that can be struck, with what it does and what it costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tool {
    /// What it does.
    pub action: Action,
    /// The key.
    pub output: Output,
    /// How long it takes, at most an hour.
    pub time: Micros,
}

/// The keys that can be struck: the quickest for each action.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tools {
    tools: Vec<Tool>,
}

impl Tools {
    /// The quickest of `tools` for each action; the first of equals. A key that
    /// selects is kept only with the key that goes the same way.
    pub fn new(tools: impl IntoIterator<Item = Tool>) -> Self {
        let mut kept: Vec<Tool> = Vec::new();
        for tool in tools {
            match kept.iter_mut().find(|other| other.action == tool.action) {
                Some(other) if tool.time < other.time => *other = tool,
                Some(_) => {}
                None => kept.push(tool),
            }
        }
        let goes: Vec<Action> = kept.iter().map(|tool| tool.action).collect();
        kept.retain(|tool| match tool.action {
            Action::Select(motion) => goes.contains(&Action::Move(motion)),
            _ => true,
        });
        kept.order_by_key(|tool| tool.action);
        Self { tools: kept }
    }

    /// The keys, one an action, in the order of the actions.
    pub fn tools(&self) -> &[Tool] {
        &self.tools
    }

    /// The key for `action`, if there is one.
    pub fn of(&self, action: Action) -> Option<&Tool> {
        self.tools.iter().find(|tool| tool.action == action)
    }
}

/// What is to be least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Measure {
    /// The number of keys; among equals the least time.
    Keys,
    /// The time; among equals the fewest keys.
    Time,
}

/// One key of a way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// The key.
    pub output: Output,
    /// What it does.
    pub action: Action,
}

/// A way from a state to the goal.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Way {
    /// The keys in order; none where the goal is reached already.
    pub steps: Vec<Step>,
    /// How long they take together.
    pub time: Micros,
}

impl Way {
    /// How many keys it takes.
    pub fn keys(&self) -> usize {
        self.steps.len()
    }
}

/// A shortest way from `editor`, which may be any state that the task can be
/// in, to the goal of `task`; none where `tools` don't lead there. The same
/// arguments give the same way.
pub fn par(editor: &Editor, task: &Task, tools: &Tools, measure: Measure) -> Option<Way> {
    if task.done(editor) {
        return Some(Way::default());
    }
    search::Search::new(editor, task, tools, measure)?.run()
}

/// How far [`par_within`] looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Within {
    /// The most keys of a way of the fewest; no matter for the least time.
    pub keys: usize,
    /// The most states, a text on the way counted as thirty, which take about as
    /// long.
    pub states: usize,
}

/// The way that [`par`] finds, if it is found `within` so much: else told sooner
/// than it would be found.
pub fn par_within(
    editor: &Editor,
    task: &Task,
    tools: &Tools,
    measure: Measure,
    within: Within,
) -> Option<Way> {
    if task.done(editor) {
        return Some(Way::default());
    }
    search::Search::new(editor, task, tools, measure)?.within(within).run()
}
