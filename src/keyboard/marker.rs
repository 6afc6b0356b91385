//! Marker keys: what a keyboard may send so that the host sees a layer open.

use super::NamedKey;
use std::fmt;
use std::str::FromStr;

/// A key that a layer access also sends, which types nothing by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Marker {
    /// One of F13 to F24, or AltGraph, the level-3 shift of the system.
    Key(NamedKey),
    /// The level-5 shift of the system. W3C UI Events has no `key` value for
    /// it; it is named by its XKB keysym, `ISO_Level5_Shift`.
    Level5Shift,
}

/// What layout files and scripts call [`Marker::Level5Shift`].
pub const LEVEL5_SHIFT: &str = "ISO_Level5_Shift";

impl Marker {
    /// Every marker, in the order in which they are offered.
    pub fn all() -> impl Iterator<Item = Self> {
        let functions = (13..=24).filter_map(NamedKey::function);
        functions.chain([NamedKey::AltGraph]).map(Self::Key).chain([Self::Level5Shift])
    }

    /// The marker that `key` is, if it can be one.
    pub fn of_key(key: NamedKey) -> Option<Self> {
        let fits = key == NamedKey::AltGraph || (NamedKey::F13..=NamedKey::F24).contains(&key);
        fits.then_some(Self::Key(key))
    }

    /// The word that layout files use.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Key(key) => key.name(),
            Self::Level5Shift => LEVEL5_SHIFT,
        }
    }
}

impl fmt::Display for Marker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A text that names no marker key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no marker key: expected F13 to F24, AltGraph or ISO_Level5_Shift")]
pub struct ParseMarkerError(pub String);

impl FromStr for Marker {
    type Err = ParseMarkerError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        Self::all().find(|marker| marker.name() == s).ok_or_else(|| ParseMarkerError(s.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_read_back_and_ordinary_keys_are_no_markers() {
        assert_eq!(Marker::all().count(), 14);
        for marker in Marker::all() {
            assert_eq!(marker.name().parse(), Ok(marker));
            if let Marker::Key(key) = marker {
                assert_eq!(Marker::of_key(key), Some(marker));
            }
        }
        for word in ["F12", "F25", "f13", "Shift", "Enter", ""] {
            assert!(word.parse::<Marker>().is_err(), "{word}");
        }
        assert_eq!(Marker::of_key(NamedKey::F12), None);
        assert_eq!(Marker::of_key(NamedKey::Shift), None);
    }
}
