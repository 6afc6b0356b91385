//! One file a screen: each draws a snapshot, and changes nothing. `watch`,
//! `look` and `making` are small programs of their own, each an [`App`](super::run::App).

pub mod check;
pub mod edit;
pub mod edited;
pub mod help;
pub mod look;
pub mod making;
pub mod pause;
pub mod practice;
pub mod progress;
pub mod result;
pub mod start;
pub mod watch;
pub mod welcome;
pub mod work;
