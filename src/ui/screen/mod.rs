//! One file a screen: each draws a snapshot, and changes nothing.

pub mod help;
pub mod pause;
pub mod practice;
pub mod result;
pub mod start;
pub mod welcome;
