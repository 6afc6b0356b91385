//! What the history says, as text, JSON and CSV.

mod csv;
mod json;
mod text;

pub use csv::{CsvTable, csv};
pub use json::json;
pub use text::text;

use crate::model::switch::Told;
use crate::session::Spread;
use crate::store::PracticeDay;
use crate::store::wall_clock::weekday_of;
use crate::units::Micros;

/// The middle half in milliseconds, `180-240`; empty without quartiles.
pub fn middle_half(spread: &Spread) -> String {
    spread
        .quartiles
        .map_or_else(String::new, |(low, high)| format!("{:.0}-{:.0}", low.as_ms(), high.as_ms()))
}

/// A share in percent, `97.4 %`; empty for none.
pub fn percent(share: Option<f64>) -> String {
    share.map_or_else(String::new, |share| format!("{:.1} %", share * 100.0))
}

/// Minutes with one decimal below ten, whole ones above.
pub fn minutes(active: Micros) -> String {
    let minutes = active.as_secs() / 60.0;
    if minutes < 9.95 { format!("{minutes:.1}") } else { format!("{minutes:.0}") }
}

/// A week of the calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Week {
    /// Its Monday.
    pub monday: i32,
    /// Days practised.
    pub n_days: u64,
    /// Drills.
    pub n_drills: u64,
    /// Keystrokes.
    pub n_keystrokes: u64,
    /// Active time.
    pub active: Micros,
}

/// The weeks (from Monday on) with practice, oldest first.
pub fn weeks(days: &[PracticeDay]) -> Vec<Week> {
    let mut weeks: Vec<Week> = Vec::new();
    for day in days {
        let monday = day.day - weekday_of(day.day);
        if weeks.last().is_none_or(|week| week.monday != monday) {
            let active = Micros::ZERO;
            weeks.push(Week { monday, n_days: 0, n_drills: 0, n_keystrokes: 0, active });
        }
        if let Some(week) = weeks.last_mut() {
            week.n_days += 1;
            week.n_drills += day.n_drills;
            week.n_keystrokes += day.n_keystrokes;
            week.active = week.active + day.active;
        }
    }
    weeks
}

/// What a switch costs, in a few words.
pub fn cost_words(told: Option<&Told>) -> String {
    match told {
        None => "too few to tell its cost".into(),
        Some(Told::ArrivalOnly(_)) => "cost can't be told from its keys yet".into(),
        Some(Told::Cost(cost)) if cost.ms.low_ms <= 0.0 && cost.ms.high_ms >= 0.0 => {
            format!("costs nothing clear ({:.0} to {:.0} ms)", cost.ms.low_ms, cost.ms.high_ms)
        }
        Some(Told::Cost(cost)) => {
            format!("costs {:.0} ms ({:.0} to {:.0})", cost.ms.ms, cost.ms.low_ms, cost.ms.high_ms)
        }
    }
}
