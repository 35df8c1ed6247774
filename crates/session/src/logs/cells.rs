//! What one field of a log looks like.

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
        _ => hours,
    };
    let date = date.trim_end_matches(['T', 't', ' ']).trim();
    Some((date, hours * 3600.0 + minutes * 60.0 + seconds))
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
