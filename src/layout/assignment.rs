//! What a position does on a layer.

use super::LayerId;
use crate::keyboard::{Modifiers, Output};

/// How a layer or modifier becomes active (terms of ISO/IEC 9995 and XKB).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum AccessKind {
    /// While the key is down.
    Hold,
    /// For the next output only.
    Latch,
    /// Until pressed again.
    Lock,
}

impl AccessKind {
    /// The word that files use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Hold => "hold",
            Self::Latch => "latch",
            Self::Lock => "lock",
        }
    }
}

/// What an access makes active.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Target {
    /// A layer. `Lock` of the base layer drops every lock.
    Layer(LayerId),
    /// One modifier.
    Modifier(Modifiers),
}

/// A way to make a layer or a modifier active.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Access {
    /// How.
    pub kind: AccessKind,
    /// What.
    pub target: Target,
}

/// What a position does on a layer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Assignment {
    /// What the layer beneath has.
    FallThrough,
    /// Nothing at all.
    Nothing,
    /// Gives this to the host.
    Gives(Output),
    /// Gives the chord of the action with this name.
    Does(String),
    /// Makes a layer or modifier active.
    Access(Access),
    /// A short press gives `tap`; held down it is the `hold` access.
    Dual {
        /// `Gives` or `Does`.
        tap: Box<Assignment>,
        /// Always of kind [`AccessKind::Hold`].
        hold: Access,
    },
}
