//! The only reading of the wall clock.

use serde::{Deserialize, Serialize};

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

/// A moment on the wall clock, with the offset of local time at that moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct WallTime {
    /// Since 1970-01-01T00:00Z, in milliseconds.
    pub ms_utc: i64,
    /// Local time minus UTC, in minutes.
    pub utc_offset_min: i32,
}

impl WallTime {
    /// The local day `at_us` microseconds later, in days since 1970-01-01.
    /// The offset is that of this moment, also across a change of summer time.
    pub fn day_local(self, at_us: u64) -> i32 {
        let later_ms = i64::try_from(at_us / 1000).unwrap_or(0);
        let local_ms = self.ms_utc + i64::from(self.utc_offset_min) * 60_000 + later_ms;
        local_ms.div_euclid(DAY_MS) as i32
    }
}

/// The moment of the call.
#[expect(clippy::disallowed_methods, reason = "the one place that may ask for the time of day")]
pub fn now() -> WallTime {
    let now = chrono::Local::now();
    WallTime {
        // A clock that was never set must not make the history unwritable.
        ms_utc: now.timestamp_millis().max(0),
        utc_offset_min: now.offset().local_minus_utc() / 60,
    }
}

/// `day` (days since 1970-01-01) as `YYYY-MM-DD`.
pub fn day_text(day: i32) -> String {
    chrono::NaiveDate::from_epoch_days(day)
        .map_or_else(|| format!("day {day}"), |date| date.format("%Y-%m-%d").to_string())
}

/// The day that `text` (`YYYY-MM-DD`) names, in days since 1970-01-01.
pub fn day_from_text(text: &str) -> Option<i32> {
    // chrono would also take `2026-1-1`; one form is enough.
    if text.len() != 10 {
        return None;
    }
    chrono::NaiveDate::parse_from_str(text, "%Y-%m-%d").ok().map(|date| date.to_epoch_days())
}

/// The month of `day` (days since 1970-01-01), in months since January 1970.
pub fn month_of(day: i32) -> i32 {
    use chrono::Datelike;
    chrono::NaiveDate::from_epoch_days(day)
        .map_or(0, |date| (date.year() - 1970) * 12 + date.month0().cast_signed())
}

/// The first day of `month` (months since January 1970), in days since
/// 1970-01-01.
pub fn first_day_of(month: i32) -> i32 {
    let (year, month0) = (1970 + month.div_euclid(12), month.rem_euclid(12));
    chrono::NaiveDate::from_ymd_opt(year, month0.cast_unsigned() + 1, 1)
        .map_or(0, |date| date.to_epoch_days())
}

/// The day of the week of `day`, Monday 0 to Sunday 6 (as ISO 8601 orders
/// them).
pub fn weekday_of(day: i32) -> i32 {
    // 1970-01-01 was a Thursday.
    (day + 3).rem_euclid(7)
}

/// `ms_utc` as local time of that offset, `2026-11-25T07:30:00+01:00`.
pub fn local_text(time: WallTime) -> String {
    let offset = chrono::FixedOffset::east_opt(time.utc_offset_min * 60);
    let utc = chrono::DateTime::from_timestamp_millis(time.ms_utc);
    match (offset, utc) {
        (Some(offset), Some(utc)) => {
            utc.with_timezone(&offset).to_rfc3339_opts(chrono::SecondsFormat::Secs, false)
        }
        _ => format!("{} ms", time.ms_utc),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_local_day_turns_at_local_midnight() {
        // 2026-11-25T22:59:59.999Z at +01:00 is one millisecond before midnight.
        let time = WallTime { ms_utc: 1_795_647_599_999, utc_offset_min: 60 };
        assert_eq!(local_text(time), "2026-11-25T23:59:59+01:00");
        assert_eq!(day_text(time.day_local(0)), "2026-11-25");
        assert_eq!(day_text(time.day_local(999)), "2026-11-25");
        assert_eq!(day_text(time.day_local(1000)), "2026-11-26");
        assert_eq!(WallTime { ms_utc: -1, utc_offset_min: 0 }.day_local(0), -1);
    }

    #[test]
    fn months_begin_on_their_first_day() {
        let day = |text: &str| day_from_text(text).unwrap();
        assert_eq!(month_of(day("1970-01-31")), 0);
        assert_eq!(month_of(day("1969-12-31")), -1);
        assert_eq!(first_day_of(-1), day("1969-12-01"));
        assert_eq!(month_of(day("2026-11-25")), 56 * 12 + 10);
        for month in -30..900 {
            assert_eq!(month_of(first_day_of(month)), month);
            assert_eq!(month_of(first_day_of(month) - 1), month - 1);
        }
        assert_eq!([weekday_of(day("2026-11-23")), weekday_of(day("2026-11-29"))], [0, 6]);
    }

    #[test]
    fn days_read_back_and_nonsense_is_refused() {
        let day = day_from_text("2026-11-25").unwrap();
        assert_eq!(day_text(day), "2026-11-25");
        assert_eq!(day_from_text("1970-01-02"), Some(1));
        for text in ["", "yesterday", "2026-13-01", "2026-02-30", "2026-1-1", "26-01-0100"] {
            assert_eq!(day_from_text(text), None, "{text}");
        }
    }
}
