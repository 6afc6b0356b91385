//! What the host receives.

use super::{Chord, ChordKey, Modifiers, NamedKey};
use std::fmt;
use std::str::FromStr;

/// What one strike gives to the host: the thing that is due, typed, learnt.
///
/// Space is the text `" "`, never a named key (as in W3C UI Events).
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Output {
    /// Text, usually one character; never empty, no control characters.
    Text(String),
    /// A named key without modifiers.
    Key(NamedKey),
    /// A chord.
    Chord(Chord),
}

impl Output {
    /// The text of one character.
    pub fn char(c: char) -> Self {
        Self::Text(c.to_string())
    }

    /// The character, if this is text of just one.
    pub fn as_char(&self) -> Option<char> {
        let Self::Text(text) = self else { return None };
        let mut chars = text.chars();
        let c = chars.next()?;
        chars.next().is_none().then_some(c)
    }

    /// What `key` with `modifiers` gives where no text arrives: the bare key,
    /// or a chord.
    pub fn of_key(key: NamedKey, modifiers: Modifiers) -> Self {
        if modifiers.is_empty() {
            Self::Key(key)
        } else {
            Self::Chord(Chord { modifiers, key: ChordKey::Named(key) })
        }
    }
}

impl fmt::Display for Output {
    /// Writes text as itself (a space as `Space`), keys and chords by name.
    /// [`Output::from_str`] reads it back.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Text(text) if text == " " => f.write_str("Space"),
            Self::Text(text) if text.chars().nth(1).is_none() => f.write_str(text),
            Self::Text(text) => write!(f, "\"{text}\""),
            Self::Key(key) => write!(f, "{key}"),
            Self::Chord(chord) => write!(f, "{chord}"),
        }
    }
}

/// A text that names no output.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{0}' is no output: expected one character, a named key such as Enter, or a chord such as Ctrl+C"
)]
pub struct ParseOutputError(pub String);

impl FromStr for Output {
    type Err = ParseOutputError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        if s.contains(char::is_control) {
            // Told so that the complaint can't drive a terminal.
            return Err(ParseOutputError(s.escape_default().to_string()));
        }
        let mut chars = s.chars();
        match (chars.next(), chars.next()) {
            (None, _) => return Err(ParseOutputError(s.to_owned())),
            (Some(c), None) => return Ok(Self::char(c)),
            _ => {}
        }
        if s == "Space" {
            return Ok(Self::char(' '));
        }
        if s.len() > 2 && s.starts_with('"') && s.ends_with('"') {
            return Ok(Self::Text(s[1..s.len() - 1].to_owned()));
        }
        if let Ok(key) = s.parse::<NamedKey>() {
            return Ok(Self::Key(key));
        }
        s.parse().map(Self::Chord).map_err(|_| ParseOutputError(s.to_owned()))
    }
}

/// As text, the way it is written.
impl serde::Serialize for Output {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Output {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outputs_read_back_as_they_are_written() {
        for text in ["a", "Space", "\"", "\"=>\"", "Enter", "Ctrl+C", "+", "ß"] {
            let output: Output = text.parse().unwrap();
            assert_eq!(output.to_string(), text);
        }
        assert!("".parse::<Output>().is_err());
        assert!("Entr".parse::<Output>().is_err());
    }

    #[test]
    fn control_characters_are_no_output() {
        for text in ["\r", "\u{9b}", "\"\r\u{e}\"", "\"a\u{1b}[2Jb\""] {
            let error = text.parse::<Output>().unwrap_err().to_string();
            assert!(!error.contains(char::is_control), "{error:?}");
        }
    }
}
