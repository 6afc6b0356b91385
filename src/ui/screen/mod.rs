//! Full screens: each an [`App`](super::run::App).

pub mod watch;
