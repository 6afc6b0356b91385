//! The physical keyboard and the things it can say: positions, geometry,
//! fingers, named keys, chords, outputs.
//!
//! This room imports nothing of the house; every other room may import it.

mod board;
mod board_file;
mod chord;
pub mod codes;
pub mod document;
mod finger;
mod marker;
mod named;
mod output;
mod position;
mod shape;

pub use board::{Board, BoardForm, Site};
pub use board_file::BoardError;
pub use chord::{Chord, ChordKey, Modifiers, ParseChordError};
pub use finger::{Digit, Finger, Hand, ParseFingerError};
pub use marker::{LEVEL5_SHIFT, Marker, ParseMarkerError};
pub use named::NamedKey;
pub use output::Output;
pub use position::{ParsePositionError, Position, Row};
pub use shape::{ParseShapeError, Shape};
