//! The one place that reads the monotonic clock.

use crate::units::Micros;
use std::time::{Duration, Instant};

/// Counts microseconds since it was started.
#[derive(Debug, Clone, Copy)]
pub struct Clock {
    start: Instant,
}

impl Clock {
    /// A clock that starts at zero now.
    #[expect(clippy::disallowed_methods, reason = "the one reader of the monotonic clock")]
    pub fn start() -> Self {
        Self { start: Instant::now() }
    }

    /// The time since the start. Never less than at an earlier call.
    pub fn now(&self) -> Micros {
        Micros(u64::try_from(self.start.elapsed().as_micros()).unwrap_or(u64::MAX))
    }
}

/// `micros` as the standard library's duration.
pub const fn duration(micros: Micros) -> Duration {
    Duration::from_micros(micros.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_never_runs_backwards() {
        let clock = Clock::start();
        let (first, second) = (clock.now(), clock.now());
        assert!(first <= second);
    }
}
