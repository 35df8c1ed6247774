//! What one field of a log looks like.

use jiff::civil::Date;

/// What some loggers write for more than a meter can show.
const OVER: &[&str] = &["ol", "0l", "ovld", "over", "overload", "ovrflw", "overflow", "+ol", "-ol"];

/// And for nothing.
const NOTHING: &[&str] = &["", "-", "--", "---", "n/a", "na", "nan", "null", "none", "?"];

/// Whether it stands for more than a meter can show.
pub(super) fn is_over(cell: &str) -> bool {
    OVER.iter().any(|one| cell.eq_ignore_ascii_case(one))
}

/// Whether it stands for nothing that was read.
pub(super) fn is_nothing(cell: &str) -> bool {
    NOTHING.iter().any(|one| cell.eq_ignore_ascii_case(one))
}

/// A number with signs inside as written, and what stands behind it.
pub(super) struct Written<'a> {
    pub(super) number: &'a str,
    pub(super) behind: &'a str,
}

/// A field that begins as a number; points and commas may stand in it.
pub(super) fn written(cell: &str) -> Option<Written<'_>> {
    let cell = cell.trim();
    let bytes = cell.as_bytes();
    let minus = cell.chars().next().filter(|sign| "+-\u{2212}".contains(*sign));
    let start = minus.map_or(0, char::len_utf8);
    let is_part = |byte: &u8| byte.is_ascii_digit() || matches!(byte, b'.' | b',');
    let mut end = start + bytes[start..].iter().take_while(|byte| is_part(byte)).count();
    if !bytes[start..end].iter().any(u8::is_ascii_digit) {
        return None;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let first = end + 1 + sign;
        let digits = bytes[first.min(bytes.len())..].iter().take_while(|b| b.is_ascii_digit());
        let digits = digits.count();
        if digits > 0 {
            end = first + digits;
        }
    }
    Some(Written { number: &cell[..end], behind: cell[end..].trim() })
}

/// Whether a field is of a row and not of a header: a number, a time, or a sign for none.
pub(super) fn is_of_row(cell: &str) -> bool {
    let cell = cell.trim();
    if is_nothing(cell) || is_over(cell) || clock(cell).is_some() || is_date(cell) {
        return true;
    }
    written(cell).is_some_and(|one| one.behind.chars().count() <= 3)
}

/// Whether a field is a date alone.
pub(super) fn is_date(cell: &str) -> bool {
    let parts: Vec<&str> = cell.split(['-', '/', '.']).collect();
    let digits = |part: &&str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let year = |part: &&str| part.len() == 4;
    parts.len() == 3
        && parts.iter().all(digits)
        && (parts.iter().any(year) || parts.iter().all(|part| part.len() <= 2))
        && !cell.starts_with('-')
        && parts.iter().filter(|part| part.len() <= 2).count() >= 2
}

/// A time of day with seconds: what stands before it (its date) and seconds since midnight. Of two
/// parts alone nobody can tell hours from minutes.
pub(super) fn clock(cell: &str) -> Option<(&str, f64)> {
    let cell = cell.trim();
    let first = cell.find(':')?;
    let from = cell[..first]
        .rfind(|c: char| !c.is_ascii_digit())
        .map_or(0, |at| at + cell[at..].chars().next().map_or(1, char::len_utf8));
    let (date, rest) = cell.split_at(from);
    let end = rest.find(|c: char| !c.is_ascii_digit() && !":.,".contains(c)).unwrap_or(rest.len());
    let (time, behind) = rest.split_at(end);
    let parts: Vec<&str> = time.split(':').collect();
    let &[hours, minutes, seconds] = parts.as_slice() else { return None };
    let hours: f64 = hours.parse().ok()?;
    let minutes: f64 = minutes.parse().ok()?;
    let seconds: f64 = seconds.replace(',', ".").parse().ok()?;
    if hours >= 24.0 || minutes >= 60.0 || seconds >= 61.0 {
        return None;
    }
    let hours = match behind.trim().to_ascii_lowercase().as_str() {
        "pm" if hours < 12.0 => hours + 12.0,
        "am" if hours == 12.0 => 0.0,
        "" | "pm" | "am" | "z" | "utc" | "uhr" => hours,
        zone if zone.starts_with(['+', '-']) => hours,
        _ => return None,
    };
    let date = date.trim_end_matches(['T', 't', ' ']).trim();
    Some((date, hours * 3600.0 + minutes * 60.0 + seconds))
}

/// Days from one date to a later one. Where day and month may stand in either place, what is one
/// day in one of the readings is taken so; `None` where it cannot be told, or runs back.
pub(super) fn days_between(before: &str, after: &str) -> Option<f64> {
    let all = |text| dates(text).into_iter();
    let mut found: Vec<f64> = Vec::new();
    for ((from, one), (to, other)) in all(before).zip(all(after)) {
        let (Some(one), Some(other)) = (one, other) else { continue };
        debug_assert_eq!(from, to, "both are read in one order");
        let days = f64::from(one.until(other).ok()?.get_days());
        if !found.contains(&days) {
            found.push(days);
        }
    }
    match found.as_slice() {
        [days] if *days > 0.0 => Some(*days),
        all => all.contains(&1.0).then_some(1.0),
    }
}

/// A date, with the day before the month and after it where a year comes last.
fn dates(text: &str) -> [(usize, Option<Date>); 2] {
    let parts: Vec<&str> = text.split(['-', '/', '.']).collect();
    let &[first, second, third] = parts.as_slice() else { return [(0, None), (1, None)] };
    let of = |year: &str, month: &str, day: &str| {
        let year: i16 = year.parse().ok()?;
        let year = if (0..100).contains(&year) { year + 2000 } else { year };
        Date::new(year, month.parse().ok()?, day.parse().ok()?).ok()
    };
    if first.len() == 4 {
        return [(0, of(first, second, third)), (1, None)];
    }
    // With points the day stands first.
    let month_first = of(third, first, second).filter(|_| !text.contains('.'));
    [(0, of(third, second, first)), (1, month_first)]
}

/// Two parts of a time, in whole numbers but for the last.
pub(super) fn two_parts(cell: &str) -> Option<f64> {
    let (first, second) = cell.trim().split_once(':')?;
    let first: f64 = first.parse().ok()?;
    let second: f64 = second.replace(',', ".").parse().ok()?;
    (second < 60.0 && first >= 0.0 && second >= 0.0).then_some(first * 60.0 + second)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_day_are_read_with_their_dates() {
        let check = |cell: &str, expected: Option<(&str, f64)>| assert_eq!(clock(cell), expected);
        check("08:00:01", Some(("", 28_801.0)));
        check("2026-11-03T08:00:01.5Z", Some(("2026-11-03", 28_801.5)));
        check("03.11.2026 08:00:01,5", Some(("03.11.2026", 28_801.5)));
        check("11/3/2026 1:02:03 PM", Some(("11/3/2026", 46_923.0)));
        check("12:34", None);
        check("25:00:00", None);
        check("12.5", None);
    }

    /// By the calendar: February of 2028 has 29 days.
    #[test]
    fn days_are_reckoned_by_the_calendar() {
        let check = |a: &str, b: &str, days: Option<f64>| assert_eq!(days_between(a, b), days);
        check("2026-11-03", "2026-11-04", Some(1.0));
        check("2026-11-03", "2026-11-07", Some(4.0));
        check("2028-02-28", "2028-03-01", Some(2.0));
        check("30.11.2026", "01.12.2026", Some(1.0));
        check("11/3/2026", "11/4/2026", Some(1.0));
        check("11/30/2026", "12/1/2026", Some(1.0));
        check("3/4/2026", "5/4/2026", None);
        check("2026-11-04", "2026-11-03", None);
        check("3 Nov", "4 Nov", None);
    }

    #[test]
    fn rows_are_told_from_headers() {
        for cell in ["12.5", "-1,5", "1.5E-6", "12.5 kV", "OL", "", "2026-11-03", "08:00:01"] {
            assert!(is_of_row(cell), "{cell}");
        }
        for cell in ["kV", "U (kV)", "Voltage", "t_s", "meter no. 7 of this shop"] {
            assert!(!is_of_row(cell), "{cell}");
        }
    }
}
