//! Names of physical keys.
//!
//! The main block is named by the grid of ISO/IEC 9995-1 (row letter and two
//! column digits; row A holds the space bar, C is the home row, column 01
//! stands under the "1" key). No standard names thumb keys: `LT1`, `LT2` …
//! and `RT1` … count from the innermost outward.

use super::Hand;
use std::fmt;
use std::str::FromStr;

/// A row of the main block, by ISO/IEC 9995-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Row {
    /// Space bar row.
    A,
    /// Lower letter row.
    B,
    /// Home row.
    C,
    /// Upper letter row.
    D,
    /// Digit row.
    E,
    /// Function key row (row K of ISO/IEC 9995-1).
    K,
}

impl Row {
    /// The row's letter.
    pub const fn letter(self) -> char {
        match self {
            Self::A => 'A',
            Self::B => 'B',
            Self::C => 'C',
            Self::D => 'D',
            Self::E => 'E',
            Self::K => 'K',
        }
    }

    const fn from_letter(letter: char) -> Option<Self> {
        match letter {
            'A' => Some(Self::A),
            'B' => Some(Self::B),
            'C' => Some(Self::C),
            'D' => Some(Self::D),
            'E' => Some(Self::E),
            'K' => Some(Self::K),
            _ => None,
        }
    }
}

/// The name of one physical key of a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Position {
    /// A key of the main block, as in `C03`.
    Main {
        /// The row.
        row: Row,
        /// The column, 0 to 99.
        column: u8,
    },
    /// A thumb key, as in `LT1`.
    Thumb {
        /// The side of the board that it lies on.
        side: Hand,
        /// 1 is the innermost.
        index: u8,
    },
}

impl Position {
    /// The key of the main block at `row` and `column`.
    pub const fn main(row: Row, column: u8) -> Self {
        Self::Main { row, column }
    }

    /// The thumb key number `index` (1 = innermost) of `side`.
    pub const fn thumb(side: Hand, index: u8) -> Self {
        Self::Thumb { side, index }
    }
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Main { row, column } => write!(f, "{}{column:02}", row.letter()),
            Self::Thumb { side, index } => write!(f, "{}T{index}", side.letter()),
        }
    }
}

/// A text that names no position.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{0}' names no position: expected a row letter A to E or K and two digits, as in C03, \
     or a thumb key, as in LT1"
)]
pub struct ParsePositionError(pub String);

impl FromStr for Position {
    type Err = ParsePositionError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        let error = || ParsePositionError(s.to_owned());
        let number = |digits: &str| -> Result<u8, ParsePositionError> {
            if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
                return Err(error());
            }
            digits.parse().map_err(|_| error())
        };
        let side = match s.get(..2) {
            Some("LT") => Some(Hand::Left),
            Some("RT") => Some(Hand::Right),
            _ => None,
        };
        if let Some(side) = side {
            let index = number(&s[2..])?;
            if index == 0 || s.as_bytes()[2] == b'0' {
                return Err(error());
            }
            return Ok(Self::Thumb { side, index });
        }
        let mut chars = s.chars();
        let row = chars.next().and_then(Row::from_letter).ok_or_else(error)?;
        let digits = chars.as_str();
        if digits.len() != 2 {
            return Err(error());
        }
        Ok(Self::Main { row, column: number(digits)? })
    }
}

/// As text, the way it is written.
impl serde::Serialize for Position {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Position {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_read_back_as_they_are_written() {
        for text in ["A03", "B00", "C03", "D13", "E12", "K01", "LT1", "RT3", "RT12"] {
            assert_eq!(text.parse::<Position>().map(|p| p.to_string()), Ok(text.to_owned()));
        }
    }

    #[test]
    fn what_is_no_position_is_refused() {
        for text in ["", "C", "C3", "C003", "F01", "LT", "LT0", "LT01", "C-1", "c03", "é03", "LTé"]
        {
            assert!(text.parse::<Position>().is_err(), "{text}");
        }
    }
}
