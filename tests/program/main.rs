//! Tests of the real binary: commands, pseudo-terminals, crashes.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

mod commands;
mod layout_commands;
