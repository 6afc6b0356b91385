//! Quantities with their units.

use std::fmt;
use std::ops::{Add, Sub};

/// A time span or a moment since the start of a session, in microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Micros(pub u64);

impl Micros {
    /// Zero.
    pub const ZERO: Self = Self(0);

    /// From whole milliseconds.
    pub const fn from_ms(ms: u64) -> Self {
        Self(ms * 1000)
    }

    /// From whole seconds.
    pub const fn from_secs(secs: u64) -> Self {
        Self(secs * 1_000_000)
    }

    /// In milliseconds, with fractions.
    pub fn as_ms(self) -> f64 {
        self.0 as f64 / 1e3
    }

    /// In seconds, with fractions.
    pub fn as_secs(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// The span from `earlier` to this moment, zero if `earlier` is later.
    #[must_use]
    pub const fn since(self, earlier: Self) -> Self {
        Self(self.0.saturating_sub(earlier.0))
    }
}

impl Add for Micros {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Micros {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self.since(other)
    }
}

impl fmt::Display for Micros {
    /// Whole milliseconds: `214 ms`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} ms", self.as_ms())
    }
}
