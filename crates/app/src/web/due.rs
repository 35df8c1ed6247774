//! What comes due, as of a day: calibrations, and protective equipment where an interval is
//! published. Nothing else has an interval that is known here, so nothing else comes due.

use jiff::civil::Date;
use jiff::{Span, Timestamp, Unit};

/// A day from which on something does not hold any more, seen from another day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Due {
    /// So many days ago.
    Over(i32),
    /// In so many days, and they are few.
    Soon(i32),
    /// In so many days.
    Later(i32),
}

/// Something is soon due so many days before. Common practice, no source.
pub(super) const SOON: i32 = 60;

impl Due {
    /// A thing that holds up to this day, and on it, seen from today.
    pub(super) fn of(last: Date, today: Date) -> Self {
        let days = today.until((Unit::Day, last)).map_or(0, |span| span.get_days());
        match days {
            ..0 => Self::Over(-days),
            0..=SOON => Self::Soon(days),
            _ => Self::Later(days),
        }
    }

    /// Whether somebody has to see to it.
    pub(super) const fn calls(self) -> bool {
        !matches!(self, Self::Later(_))
    }

    /// The word of it for a style.
    pub(super) const fn key(self) -> &'static str {
        match self {
            Self::Over(_) => "over",
            Self::Soon(_) => "soon",
            Self::Later(_) => "later",
        }
    }

    /// A shape beside the words, for who does not tell colours apart.
    pub(super) const fn shape(self) -> &'static str {
        match self {
            Self::Over(_) => "✕",
            Self::Soon(_) => "△",
            Self::Later(_) => "·",
        }
    }
}

impl std::fmt::Display for Due {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Over(days) => write!(f, "OVER, since {}", span(*days)),
            Self::Soon(0) => f.write_str("due today"),
            Self::Soon(days) | Self::Later(days) => write!(f, "due in {}", span(*days)),
        }
    }
}

/// Days, or months where days are too many to count.
pub(super) fn span(days: i32) -> String {
    match days {
        1 => "1 day".to_owned(),
        ..120 => format!("{days} days"),
        120..730 => format!("{} months", (f64::from(days) / 30.44).round()),
        _ => format!("{:.1} years", f64::from(days) / 365.25),
    }
}

/// So many months after that day.
pub(super) fn after(day: Date, months: i32) -> Date {
    day.checked_add(Span::new().months(months)).unwrap_or(Date::MAX)
}

/// The day of a moment, as every record counts days.
pub(super) fn day(at: Timestamp) -> Date {
    jiff::tz::TimeZone::UTC.to_datetime(at).date()
}

/// Days since some day of old, for the place of a day on a line.
pub(super) fn day_count(day: Date) -> f64 {
    f64::from(Date::ZERO.until((Unit::Day, day)).map_or(0, |span| span.get_days()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_over_the_day_after_it() {
        let date = |text: &str| text.parse::<Date>().expect("a day");
        let check = |last: &str, today: &str, expected: Due, said: &str| {
            let found = Due::of(date(last), date(today));
            assert_eq!((found, found.to_string().as_str()), (expected, said), "{last} {today}");
        };
        check("2026-12-08", "2026-12-09", Due::Over(1), "OVER, since 1 day");
        check("2026-12-08", "2026-12-08", Due::Soon(0), "due today");
        check("2026-12-08", "2026-10-09", Due::Soon(60), "due in 60 days");
        check("2026-12-08", "2026-10-08", Due::Later(61), "due in 61 days");
        check("2024-02-29", "2026-11-25", Due::Over(1000), "OVER, since 2.7 years");
        assert!(Due::Over(1) < Due::Soon(0) && Due::Soon(60) < Due::Later(61));
    }

    // Derived: a month later there is the same day, or the last one of that month.
    #[test]
    fn months_are_those_of_the_calendar() {
        let date = |text: &str| text.parse::<Date>().expect("a day");
        assert_eq!(after(date("2026-05-19"), 6), date("2026-11-19"));
        assert_eq!(after(date("2026-08-31"), 6), date("2027-02-28"));
    }
}
