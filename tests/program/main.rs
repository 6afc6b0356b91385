//! Tests of the real binary: commands, pseudo-terminals, crashes.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

#[cfg(unix)]
mod arrange;
mod capture;
mod commands;
mod crash;
mod data_commands;
mod demo;
#[cfg(unix)]
mod editing;
mod killed;
mod layout_commands;
#[cfg(unix)]
mod markers;
#[cfg(unix)]
mod played;
#[cfg(unix)]
mod practice;
mod progress_command;
#[cfg(unix)]
mod pty;
#[cfg(unix)]
mod screen;
mod shortcuts;
mod strokes;
mod surface;
mod survey;
#[cfg(unix)]
mod terminal_check;
