//! One file a screen: each draws a snapshot, and changes nothing. `watch` is
//! a small program of its own, an [`App`](super::run::App).

pub mod edit;
pub mod edited;
pub mod help;
pub mod pause;
pub mod practice;
pub mod progress;
pub mod result;
pub mod start;
pub mod watch;
pub mod welcome;
