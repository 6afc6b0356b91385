//! A layout, learnt from the keyboard itself: which key is due, what arrived,
//! what the person tells where nothing arrives.
//!
//! [`Draft`] is a layout in the making; [`Capture`] walks its positions, layer
//! after layer; [`Ear`] tells what a key gave; [`Note`] is one line of the
//! progress file, from which a capture goes on where it was left; [`Summary`]
//! says what was found. Files and screens are elsewhere.

mod draft;
mod ear;
mod note;
mod reading;
mod resume;
mod start;
mod summary;
mod walk;

pub use draft::{Draft, DraftError, Sheet};
pub use ear::{Ear, Heard};
pub use note::{Note, NoteError, SCHEMA, read_notes};
pub use reading::readings;
pub use resume::resume;
pub use start::{Fill, commented, fill, suggested};
pub use summary::Summary;
pub use walk::{AGAIN_AFTER, Capture, Due, Outcome, Spot, TEXT_GAP, Why};
