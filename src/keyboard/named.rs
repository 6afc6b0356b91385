//! Named keys, by the `key` values of W3C UI Events.
//!
//! Source: W3C Recommendation track "UI Events KeyboardEvent key Values". The
//! names are compared with a reference crate in the tests.

use std::fmt;
use std::str::FromStr;

macro_rules! named_keys {
    ($($name:ident),+ $(,)?) => {
        /// A key that is no text, by its W3C UI Events `key` value.
        #[expect(missing_docs, reason = "each variant is the standard's own name")]
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum NamedKey { $($name),+ }

        impl NamedKey {
            /// Every named key that layouts may use.
            pub const ALL: &'static [Self] = &[$(Self::$name),+];

            /// The W3C `key` value.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$name => stringify!($name)),+ }
            }
        }
    };
}

named_keys! {
    Enter, Tab, Backspace, Escape, Delete, Insert, Home, End, PageUp, PageDown, ArrowLeft,
    ArrowRight, ArrowUp, ArrowDown, Shift, Control, Alt, AltGraph, Meta, CapsLock, NumLock,
    ScrollLock, Fn, ContextMenu, PrintScreen, Pause, Undo, Redo, Cut, Copy, Paste, Find, Help,
    Compose, Convert, NonConvert, KanaMode, AudioVolumeUp, AudioVolumeDown, AudioVolumeMute,
    MediaPlayPause, MediaTrackNext, MediaTrackPrevious, MediaStop, BrightnessUp, BrightnessDown,
    F1, F2, F3, F4, F5, F6, F7, F8, F9, F10, F11, F12, F13, F14, F15, F16, F17, F18, F19, F20,
    F21, F22, F23, F24,
}

impl NamedKey {
    /// Function key `Fn`, if `number` is 1 to 24.
    pub fn function(number: u8) -> Option<Self> {
        (1..=24).contains(&number).then(|| {
            let first = Self::ALL.len() - 24;
            Self::ALL[first + usize::from(number) - 1]
        })
    }

    /// A short form for key caps, at most five columns wide.
    pub const fn short(self) -> &'static str {
        match self {
            Self::Backspace => "Bksp",
            Self::Escape => "Esc",
            Self::Delete => "Del",
            Self::Insert => "Ins",
            Self::PageUp => "PgUp",
            Self::PageDown => "PgDn",
            Self::ArrowLeft => "←",
            Self::ArrowRight => "→",
            Self::ArrowUp => "↑",
            Self::ArrowDown => "↓",
            Self::Control => "Ctrl",
            Self::AltGraph => "AltGr",
            Self::CapsLock => "Caps",
            Self::ContextMenu => "Menu",
            Self::PrintScreen => "Prnt",
            other => other.name(),
        }
    }
}

impl fmt::Display for NamedKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A text that names no key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' names no key: expected a W3C key name such as Enter, ArrowLeft or F13")]
pub struct ParseNamedKeyError(pub String);

impl FromStr for NamedKey {
    type Err = ParseNamedKeyError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        Self::ALL
            .iter()
            .copied()
            .find(|key| key.name() == s)
            .ok_or_else(|| ParseNamedKeyError(s.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_read_back() {
        for &key in NamedKey::ALL {
            assert_eq!(key.name().parse(), Ok(key));
        }
        assert!("enter".parse::<NamedKey>().is_err());
    }

    #[test]
    fn function_keys_are_counted_from_one() {
        assert_eq!(NamedKey::function(1), Some(NamedKey::F1));
        assert_eq!(NamedKey::function(24), Some(NamedKey::F24));
        assert_eq!(NamedKey::function(0), None);
        assert_eq!(NamedKey::function(25), None);
    }

    /// Oracle: the `keyboard-types` crate, which carries the W3C list.
    #[test]
    fn names_are_those_of_the_standard() {
        for &key in NamedKey::ALL {
            let reference: keyboard_types::NamedKey = key.name().parse().unwrap();
            assert_eq!(reference.to_string(), key.name());
        }
    }
}
