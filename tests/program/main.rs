//! Tests of the real binary: commands, pseudo-terminals, crashes.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

mod commands;
#[cfg(unix)]
mod pty;
#[cfg(unix)]
mod screen;
