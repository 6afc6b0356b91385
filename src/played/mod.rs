//! Layers, played by Etude on a plain keyboard: a layout can be tried before
//! any keyboard has it.
//!
//! [`Player`] takes the events of the plain keyboard and gives those that a
//! keyboard with the layout would have sent. Where the terminal tells releases
//! a key opens its layer while it is held, and [`TapHold`] decides between its
//! two roles; elsewhere a key struck opens its layer for the next key, and
//! struck twice until it is struck again. [`Host`] knows the plain keyboard,
//! [`stand_ins`] which of its keys stands for which of the layout.

mod host;
mod player;
mod stand_in;
mod tap_hold;

pub use host::{Host, HostKey};
pub use player::{Player, Way};
pub use stand_in::{StandIn, StandInError, StandIns, stand_ins};
pub use tap_hold::{Decided, HOLD_AFTER, TapHold};

use crate::layout::Layout;

/// What the history calls a layout whose layers are played, so that it never
/// mixes with that of a keyboard that has them.
pub fn played_name(name: &str) -> String {
    format!("{name}.played")
}

/// `layout` under the name and title of its played form.
#[must_use]
pub fn played(layout: &Layout) -> Layout {
    Layout {
        name: played_name(&layout.name),
        title: format!("{} (layers played)", layout.title),
        ..layout.clone()
    }
}
