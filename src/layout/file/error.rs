//! Everything that a layout file can have wrong, in words.

use crate::keyboard::document::{DocumentError, Nearest, Place};
use crate::layout::token::TokenError;
use std::fmt;

/// Why a layout can't be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum LayoutError {
    /// A fault of the document itself: syntax, type, missing or bad value.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// A token that means nothing.
    #[error("{place}: layer '{layer}', row {row}, position {position}: '{token}': {reason}")]
    Token {
        /// Where.
        place: Place,
        /// The layer's name.
        layer: String,
        /// The row, from 1.
        row: usize,
        /// The position's name.
        position: String,
        /// The token.
        token: String,
        /// What was expected.
        reason: TokenError,
    },
    /// A row with too few or too many tokens.
    #[error(
        "{place}: layer '{layer}', row {row} has {found} tokens: expected {expected}, one for \
         each of {positions}"
    )]
    Count {
        /// Where.
        place: Place,
        /// The layer's name.
        layer: String,
        /// The row, from 1.
        row: usize,
        /// How many tokens there are.
        found: usize,
        /// How many there should be.
        expected: usize,
        /// The row's positions.
        positions: String,
    },
    /// A layer with too few or too many rows.
    #[error(
        "{place}: layer '{layer}' has {found} rows of keys: expected {expected}, one line for \
         each row of board '{board}'"
    )]
    Rows {
        /// Where.
        place: Place,
        /// The layer's name.
        layer: String,
        /// How many rows there are.
        found: usize,
        /// How many there should be.
        expected: usize,
        /// The board's name.
        board: String,
    },
    /// A name or sign that stands twice.
    #[error("{place}: {what} '{name}' is there twice: expected each once; change one of them")]
    Twice {
        /// Where the second stands.
        place: Place,
        /// "layer" or "sign".
        what: &'static str,
        /// The name.
        name: String,
    },
    /// More layers than an index holds.
    #[error("{place}: {found} layers: expected at most 64; leave some out")]
    TooMany {
        /// Where the first of too many stands.
        place: Place,
        /// How many there are.
        found: usize,
    },
}

/// Something in a layout file that is likely a mistake but does no harm.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Warning {
    /// A key that no reader knows.
    UnknownKey {
        /// Where.
        place: Place,
        /// The table that holds it, for a sentence.
        table: String,
        /// The key.
        key: String,
        /// The nearest known name.
        nearest: Nearest,
    },
}

impl Warning {
    /// The line that it is about, from 1.
    pub const fn line(&self) -> usize {
        match self {
            Self::UnknownKey { place, .. } => place.line,
        }
    }
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownKey { place, table, key, nearest } => {
                write!(f, "{place}: unknown key '{key}' in {table} is left out{nearest}")
            }
        }
    }
}
