//! Layouts from open standards: Unicode LDML Keyboard 3.0 and XKB.
//!
//! Each reader turns a standard's own words into [`Sheets`]; [`Sheets::lay_on`]
//! lays them on one of our boards as a [`Layout`](crate::layout::Layout), with the counts of what came
//! and what was left behind. No reader opens a file: the shell hands over text,
//! or a way to ask for more of it.

mod error;
mod lay;
pub mod ldml;
mod outcome;
mod sheets;
pub mod xkb;

pub use error::ImportError;
pub use outcome::{Counts, LeftOut, Outcome};
pub use sheets::{Dead, Level, Meaning, Opener, Sheets};

/// The largest file that is read, bytes. Compiled keymaps have about a tenth
/// of it.
pub const MOST_BYTES: usize = 2 * 1024 * 1024;
