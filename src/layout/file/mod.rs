//! Layout files: reading and writing.
//!
//! ```toml
//! # Why this layout is as it is.
//!
//! name = "mine"
//! title = "My layout"
//! board = "split-3x5-3"
//! old_way = "plain-ansi"              # another layout, to compare with
//!
//! [shift]                             # what Shift makes; the US table by default
//! table = "us"                        # or "letters"
//! pairs = { "2" = "\"" }
//!
//! [fingers]                           # where they differ from the board's
//! C05 = "L3"
//!
//! [actions.copy]
//! chord = "Ctrl+C"
//! title = "copy"
//!
//! [prefer]                            # where an output has several homes
//! "(" = "symbols C07"
//!
//! [[layer]]
//! name = "base"
//! cluster = "base"
//! sign = "B"
//! marker = "F13"                      # not on the base layer; the key that its accesses also send
//! keys = '''
//! q w e r t   y u i o p
//! …
//! '''
//! ```
//!
//! `keys` has one line a row of the board and one token a position; the
//! tokens are told in [`token`](super::token).

mod definitions;
mod error;
mod read;
mod write;

pub use definitions::reference;
pub use error::{LayoutError, Warning};
pub use read::{Reading, read};
pub use write::write;
