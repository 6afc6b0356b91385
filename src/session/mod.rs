//! The session engine: events in, judged keystrokes out. Pure and replayable.

mod editing;
mod effect;
mod engine;
mod event;
mod keystroke;
mod level;
mod line;
mod marks;
pub mod metrics;
mod passage;
mod tally;
mod work;

pub use editing::{Edited, Editing, Told};
pub use effect::{DrillResult, Due, Effect};
pub use engine::{SHOW_AFTER, SHOW_AFTER_MISSES, SHOW_KEY, Session, Spec};
pub use event::{Event, EventKind, KeyEvent, KeyState, Stroke, StrokeKey};
pub use keystroke::{Flags, Keystroke, Verdict, timed};
pub use level::{Granted, Level};
pub use line::{Line, Standing};
pub use metrics::{Change, Counts, Spread};
pub use passage::{Arrival, Check, Checked, Finding, NOTHING_KEY, Step};
pub use tally::{Earlier, ItemTally, Tally};
