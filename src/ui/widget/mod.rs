//! Pieces that several screens draw: pure functions of what they are given.

pub mod board;
pub mod caps;
pub mod chart;
pub mod cue;
pub mod document;
pub mod frame;
pub mod instruction;
pub mod played;
pub mod score;
pub mod sheet;
