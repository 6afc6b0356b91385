//! XKB keymaps, compiled by the crate `kbvm`.
//!
//! Checked against libxkbcommon's own tools in `tests/core/import`. A keymap
//! says for every key and every set of held modifiers what arrives; we ask it
//! for Shift and for the level-3 and level-5 choosers of ISO/IEC 9995, and for
//! every combination of these that some key can hold.

mod dead;
mod keysym;
mod read;

pub use dead::{Compose, unicode_makes};
pub use read::{Told, read_keymap, sheets};
