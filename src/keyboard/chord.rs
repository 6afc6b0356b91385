//! Modifiers held together with a key.

use super::NamedKey;
use std::fmt;
use std::str::FromStr;

bitflags::bitflags! {
    /// The modifiers that a host sees.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
    pub struct Modifiers: u8 {
        /// Control, written `Ctrl`.
        const CTRL = 1;
        /// Alt, written `Alt`.
        const ALT = 2;
        /// Shift, written `Shift`.
        const SHIFT = 4;
        /// Meta (W3C name), written `Meta`.
        const META = 8;
    }
}

impl Modifiers {
    /// Each single modifier with the word that files write for it, in the
    /// order in which chords are written.
    pub const WORDS: [(Self, &'static str); 4] =
        [(Self::CTRL, "Ctrl"), (Self::ALT, "Alt"), (Self::SHIFT, "Shift"), (Self::META, "Meta")];

    /// The modifier that the named key is, if it is one.
    pub const fn of_key(key: NamedKey) -> Option<Self> {
        match key {
            NamedKey::Control => Some(Self::CTRL),
            NamedKey::Alt => Some(Self::ALT),
            NamedKey::Shift => Some(Self::SHIFT),
            NamedKey::Meta => Some(Self::META),
            _ => None,
        }
    }

    /// The key of one modifier, the counterpart of [`Modifiers::of_key`]; of
    /// several that of the first of Shift, Ctrl, Alt, Meta.
    pub const fn key(self) -> NamedKey {
        if self.contains(Self::SHIFT) {
            NamedKey::Shift
        } else if self.contains(Self::CTRL) {
            NamedKey::Control
        } else if self.contains(Self::ALT) {
            NamedKey::Alt
        } else {
            NamedKey::Meta
        }
    }
}

impl fmt::Display for Modifiers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        for (modifier, word) in Self::WORDS {
            if self.contains(modifier) {
                if !first {
                    f.write_str("+")?;
                }
                f.write_str(word)?;
                first = false;
            }
        }
        Ok(())
    }
}

/// The key of a chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ChordKey {
    /// A character as it is without Shift; letters are lower case.
    Char(char),
    /// A named key.
    Named(NamedKey),
}

/// Modifiers and a key, written `Ctrl+Shift+V`. Letters are written upper
/// case, as menus do, and kept lower case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Chord {
    /// What is held; never empty.
    pub modifiers: Modifiers,
    /// What is struck.
    pub key: ChordKey,
}

impl fmt::Display for Chord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}+", self.modifiers)?;
        match self.key {
            ChordKey::Char(c) if c.is_ascii_lowercase() => {
                write!(f, "{}", c.to_ascii_uppercase())
            }
            ChordKey::Char(' ') => f.write_str("Space"),
            ChordKey::Char(c) => write!(f, "{c}"),
            ChordKey::Named(key) => write!(f, "{key}"),
        }
    }
}

/// A text that is no chord.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseChordError {
    /// No modifier stands before the key.
    #[error("'{0}' is no chord: expected modifiers and a key joined by +, as in Ctrl+Shift+V")]
    Shape(String),
    /// A word before the key is no modifier.
    #[error("'{word}' is no modifier: expected Ctrl, Alt, Shift or Meta")]
    Modifier {
        /// The word that stands where a modifier should.
        word: String,
    },
    /// The key is neither a character nor a named key.
    #[error("'{word}' is no key: expected one character or a named key such as Enter")]
    Key {
        /// The word that stands where the key should.
        word: String,
    },
}

impl FromStr for Chord {
    type Err = ParseChordError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        let shape = || ParseChordError::Shape(s.to_owned());
        // The key itself may be '+': split at the last '+' that has something after it.
        let split = match s.strip_suffix('+') {
            Some(head) => head.strip_suffix('+').map(|mods| (mods, "+")),
            None => s.rsplit_once('+'),
        };
        let (mods, key_word) = split.ok_or_else(shape)?;
        let mut modifiers = Modifiers::empty();
        for word in mods.split('+') {
            let modifier = Modifiers::WORDS
                .iter()
                .find(|(_, known)| *known == word)
                .ok_or_else(|| ParseChordError::Modifier { word: word.to_owned() })?;
            modifiers |= modifier.0;
        }
        let mut chars = key_word.chars();
        let key = match (chars.next(), chars.next()) {
            (Some(c), None) if !c.is_control() && c != ' ' => {
                ChordKey::Char(c.to_lowercase().next().unwrap_or(c))
            }
            _ => match key_word.parse::<NamedKey>() {
                Ok(key) if Modifiers::of_key(key).is_none() => ChordKey::Named(key),
                _ if key_word == "Space" => ChordKey::Char(' '),
                _ => return Err(ParseChordError::Key { word: key_word.to_owned() }),
            },
        };
        Ok(Self { modifiers, key })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chords_read_back_as_they_are_written() {
        for text in [
            "Ctrl+C",
            "Ctrl+Shift+V",
            "Alt+Enter",
            "Ctrl++",
            "Meta+ArrowLeft",
            "Ctrl+ß",
            "Ctrl+|",
            "Ctrl+Space",
        ] {
            let chord: Chord = text.parse().unwrap();
            assert_eq!(chord.to_string(), text);
        }
    }

    #[test]
    fn order_of_modifiers_does_not_matter() {
        assert_eq!("Shift+Ctrl+V".parse::<Chord>(), "Ctrl+Shift+V".parse());
    }

    #[test]
    fn what_is_no_chord_is_refused() {
        for text in ["", "C", "Ctrl", "Ctrl+", "+", "++", "Strg+C", "Ctrl+Foo", "Ctrl+Shift"] {
            assert!(text.parse::<Chord>().is_err(), "{text}");
        }
    }
}
