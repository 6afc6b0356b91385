//! Pieces that several screens draw: pure functions of what they are given.

pub mod frame;
