//! Hands and fingers, numbered as pianists number them.

use std::fmt;
use std::str::FromStr;

/// One of the two hands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Hand {
    /// The left hand, written `L`.
    Left,
    /// The right hand, written `R`.
    Right,
}

impl Hand {
    /// The letter that stands for the hand in files and on screen.
    pub const fn letter(self) -> char {
        match self {
            Self::Left => 'L',
            Self::Right => 'R',
        }
    }

    /// The other hand.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }

    /// "left" or "right", for sentences.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }
}

/// A finger of either hand; the number is the pianists' (1 thumb to 5 little).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Digit {
    /// 1
    Thumb,
    /// 2
    Index,
    /// 3
    Middle,
    /// 4
    Ring,
    /// 5
    Little,
}

impl Digit {
    /// All five, thumb first.
    pub const ALL: [Self; 5] = [Self::Thumb, Self::Index, Self::Middle, Self::Ring, Self::Little];

    /// The pianists' number, 1 (thumb) to 5 (little finger).
    pub const fn number(self) -> u8 {
        match self {
            Self::Thumb => 1,
            Self::Index => 2,
            Self::Middle => 3,
            Self::Ring => 4,
            Self::Little => 5,
        }
    }

    /// The digit with this pianists' number, if it is 1 to 5.
    pub const fn from_number(number: u8) -> Option<Self> {
        match number {
            1 => Some(Self::Thumb),
            2 => Some(Self::Index),
            3 => Some(Self::Middle),
            4 => Some(Self::Ring),
            5 => Some(Self::Little),
            _ => None,
        }
    }

    /// "thumb", "index", "middle", "ring" or "little", for sentences.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Thumb => "thumb",
            Self::Index => "index",
            Self::Middle => "middle",
            Self::Ring => "ring",
            Self::Little => "little",
        }
    }
}

/// One finger of one hand. Written `L5`, `R1`, …
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Finger {
    /// Which hand.
    pub hand: Hand,
    /// Which finger of it.
    pub digit: Digit,
}

impl Finger {
    /// The finger of `hand` with `digit`.
    pub const fn new(hand: Hand, digit: Digit) -> Self {
        Self { hand, digit }
    }
}

impl fmt::Display for Finger {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.hand.letter(), self.digit.number())
    }
}

/// A text that is no finger.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no finger: expected L or R and 1 (thumb) to 5 (little), as in L5 or R2")]
pub struct ParseFingerError(pub String);

impl FromStr for Finger {
    type Err = ParseFingerError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        let error = || ParseFingerError(s.to_owned());
        let mut chars = s.chars();
        let hand = match chars.next() {
            Some('L') => Hand::Left,
            Some('R') => Hand::Right,
            _ => return Err(error()),
        };
        let digit = chars
            .next()
            .and_then(|c| c.to_digit(10))
            .and_then(|n| Digit::from_number(n as u8))
            .ok_or_else(error)?;
        if chars.next().is_some() {
            return Err(error());
        }
        Ok(Self { hand, digit })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_finger_reads_back_as_it_is_written() {
        for hand in [Hand::Left, Hand::Right] {
            for digit in Digit::ALL {
                let finger = Finger::new(hand, digit);
                assert_eq!(finger.to_string().parse(), Ok(finger));
            }
        }
    }

    #[test]
    fn what_is_no_finger_is_refused() {
        for text in ["", "L", "L0", "L6", "X3", "L55", "3L"] {
            assert!(text.parse::<Finger>().is_err(), "{text}");
        }
    }
}
