//! The session engine: events in, judged keystrokes out. Pure and replayable.

mod event;
mod keystroke;

pub use event::{Event, EventKind, KeyEvent, KeyState, Stroke, StrokeKey};
pub use keystroke::{Flags, Keystroke, Verdict};
