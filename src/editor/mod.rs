//! The small editor that editing tasks are done in: text, cursor, actions,
//! and the least number of keys that a task needs.
//!
//! - [`Buffer`]: lines of graphemes with their display columns and word edges.
//! - [`Motion`]: where the cursor can go; its docs say what Home, a page, a
//!   paragraph and a word step mean.
//! - [`Editor`]: a buffer with cursor, selection, clipboard and undo;
//!   [`Editor::apply`] does an [`Action`].
//! - [`Bindings`]: which key does which action, read from TOML.
//! - [`Task`]: a text, where the cursor stands, and what is to come of it.
//! - [`par`]: a shortest way from a state of the editor to the goal of a task.

mod action;
mod bindings;
mod buffer;
mod motion;
mod par;
mod state;
mod task;
mod word;

pub use action::Action;
pub use bindings::{BindingError, Bindings, common};
pub use buffer::{Buffer, INDENT_COLUMNS, Line, Place, Span};
pub use motion::{Cursor, Habits, Motion, WordStep};
pub use par::{Measure, Step, Tool, Tools, Way, Within, par, par_within};
pub use state::{Editor, Outcome};
pub use task::{Goal, Task};
