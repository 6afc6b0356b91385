//! What the terminal sends: bytes to timed events, by a thread of its own.
//!
//! [`parser`] is pure: bytes in, items out, no clock. [`Keyboard`] owns the
//! thread that reads the terminal and the signals, and [`clock`] is the one
//! place that reads the monotonic clock.

pub mod clock;
pub mod parser;
pub mod script;

use crate::session::Event;

#[cfg(not(unix))]
mod fallback;
#[cfg(unix)]
mod stamp;
#[cfg(unix)]
mod thread;

#[cfg(not(unix))]
pub use fallback::Keyboard;
#[cfg(unix)]
pub use thread::{Keyboard, open_terminal};

pub use parser::{Parsed, Parser, Reply};

/// Something that the input thread tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Message {
    /// A key, a paste, a change of focus. Its time counts from the opening of
    /// the [`Keyboard`] ([`Keyboard::now`] tells the same clock).
    Event(Event),
    /// The terminal answered one of our questions.
    Reply(Reply),
    /// The terminal's size changed, perhaps several times.
    Resize,
    /// A signal asks the program to end: its number.
    Signal(i32),
    /// The shell asks the program to stop for a while (TSTP).
    Suspend,
    /// The program runs again after a stop (CONT).
    Continued,
    /// The terminal has gone: end of input or a hang-up.
    Gone,
    /// A thread other than the screen's panicked: its words.
    Panicked(String),
}

/// Why the terminal can't be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum OpenError {
    /// Neither standard input nor the controlling terminal can be read.
    #[error("no terminal to read keys from: {0}")]
    NoTerminal(std::io::Error),
    /// The signals can't be caught.
    #[error("signals can't be caught: {0}")]
    Signals(std::io::Error),
    /// The thread can't be started.
    #[error("the input thread can't be started: {0}")]
    Thread(std::io::Error),
}
