//! The rows of a log, read by a mapping.

use quantity::{Current, Time, Voltage};

use super::cells::{clock, days_between, is_nothing, is_over, two_parts, written};
use super::find::fields;
use super::mapping::{Column, Decimal, Mapping, TimeForm, Unit};
use crate::readings::{FaultKind, Readings, ReadingsFault, Row, finished};
use crate::record::Reading;

/// A day; time that falls by most of it went over midnight.
const DAY_S: f64 = 86_400.0;

/// Faults kept before reading stops; nobody mends more at once.
const FAULT_LIMIT: usize = 200;

/// Most rows: a day and more of five readings a second.
const ROW_LIMIT: usize = 500_000;

/// Below this part of the highest voltage none was on yet.
const OFF: f64 = 0.01;

/// What was left out or read otherwise than it stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LogNote {
    /// Rows in which neither value was read.
    pub empty: usize,
    /// Rows before the line at which voltage was put on.
    pub before: usize,
}

/// Reads a text by a mapping.
///
/// # Errors
/// Every fault found, in the order of lines.
pub fn rows(text: &str, mapping: &Mapping) -> Result<(Readings, LogNote), Vec<ReadingsFault>> {
    let mut note = LogNote::default();
    let (mut found, mut faults) = (Vec::new(), Vec::new());
    let mut clock = Clock { mapping: *mapping, zero: None, days: 0.0, last: None };
    for (at, line) in text.lines().enumerate().skip(mapping.skip) {
        let number = at + 1;
        let fields = fields(line, mapping.delimiter);
        if fields.iter().all(String::is_empty) {
            continue;
        }
        match row(&fields, number, &mut clock) {
            Ok(_) if mapping.zero.is_some_and(|zero| number < zero) => note.before += 1,
            Ok(row)
                if row.reading.voltage.is_none()
                    && row.reading.current.is_none()
                    && !row.reading.overload =>
            {
                note.empty += 1
            }
            Ok(row) => found.push(row),
            Err(fault) => faults.push(fault.at(number)),
        }
        if faults.len() > FAULT_LIMIT {
            break;
        }
        if found.len() > ROW_LIMIT {
            faults.push(FaultKind::TooManyRows { limit: ROW_LIMIT }.at(number));
            break;
        }
    }
    if found.is_empty() && faults.is_empty() {
        faults.push(FaultKind::NoRows.at(mapping.skip + 1));
    }
    faults.extend(begins_late(&found, mapping));
    finished(found, faults).map(|readings| (readings, note))
}

/// Counted time that is already under way at the first row counts from something else than the
/// voltage, or rows are missing: a level would then seem held since zero. A wait of half as long
/// again as the longest between two rows is taken for a first reading.
fn begins_late(found: &[Row], mapping: &Mapping) -> Option<ReadingsFault> {
    let (first, line) = found.first().map(|row| (row.reading.at, row.reading.line))?;
    let counted = mapping.time.unit != TimeForm::Clock && mapping.zero.is_none();
    let volts = |row: &Row| row.reading.voltage.map_or(0.0, |voltage| voltage.volts().abs());
    let peak = found.iter().map(volts).fold(0.0, f64::max);
    let is_on = found.first().is_some_and(|row| volts(row) > peak * OFF);
    let apart = found.windows(2).map(|two| (two[1].reading.at - two[0].reading.at).seconds());
    let apart_s = apart.fold(0.0, f64::max);
    let late = first.seconds() > apart_s * 1.5 + 1.0;
    let kind = FaultKind::BeginsLate { first_s: first.seconds(), apart_s };
    (counted && is_on && late && found.len() > 1).then(|| kind.at(line.unwrap_or(1)))
}

fn row(fields: &[String], line: usize, clock: &mut Clock) -> Result<Row, FaultKind> {
    let mapping = clock.mapping;
    let most = [mapping.time.place, mapping.voltage.place, mapping.current.place];
    let needed = most.into_iter().max().unwrap_or(0) + 1;
    if fields.len() < needed {
        return Err(FaultKind::FieldCount { expected: needed, found: fields.len() });
    }
    let at = clock.at(&fields[mapping.time.place], line)?;
    let voltage = value("kv", fields, mapping.voltage, mapping.decimal)?;
    let current = value("ua", fields, mapping.current, mapping.decimal)?;
    let reading = Reading {
        at: Time::from_seconds(at),
        voltage: voltage.number.map(|(value, _)| Voltage::from_kilovolts(value)),
        current: current.number.map(|(value, _)| Current::from_microamperes(value)),
        voltage_half_digit: voltage.number.map(|(_, half)| Voltage::from_kilovolts(half)),
        current_half_digit: current.number.map(|(_, half)| Current::from_microamperes(half)),
        overload: voltage.over || current.over,
        line: Some(line),
        ..Reading::default()
    };
    Ok(Row { reading, ..Row::default() })
}

/// A value in kilovolts or microamperes with half its last digit, or none.
#[derive(Default)]
struct Value {
    number: Option<(f64, f64)>,
    over: bool,
}

fn value(
    column: &'static str,
    fields: &[String],
    of: Column<Unit>,
    decimal: Decimal,
) -> Result<Value, FaultKind> {
    let cell = fields[of.place].as_str();
    if is_nothing(cell) {
        return Ok(Value::default());
    }
    if is_over(cell) {
        return Ok(Value { over: true, ..Value::default() });
    }
    let found = || cell.to_owned();
    let wrong = || FaultKind::NotANumber { column, found: found() };
    let one = written(cell).ok_or_else(wrong)?;
    let same = one.behind.is_empty()
        || super::mapping::unit(one.behind, of.unit.is_voltage()) == Some(of.unit);
    let plain = plain(one.number, decimal).filter(|_| same).ok_or_else(wrong)?;
    // The power of ten goes into the exponent, so that the digits stay as they were written.
    let (digits, exponent) = plain.split_once(['e', 'E']).unwrap_or((&plain, "0"));
    let exponent: i32 = exponent.parse().map_err(|_| wrong())?;
    let scaled = format!("{digits}e{}", exponent.saturating_add(of.unit.power()));
    match crate::readings::number_as_written(column, &scaled)? {
        Some((value, half_digit)) if plain_is_small(&plain) => {
            Ok(Value { number: Some((value, half_digit)), over: false })
        }
        _ => Ok(Value { over: true, ..Value::default() }),
    }
}

/// What stands for an overload does so as it was written, whatever its unit.
fn plain_is_small(plain: &str) -> bool {
    plain.parse::<f64>().is_ok_and(|value| value.abs() < 9.9e37)
}

/// The number with a point, thousands signs taken out; `None` where its signs are otherwise.
fn plain(number: &str, decimal: Decimal) -> Option<String> {
    let (sign, thousands) = match decimal {
        Decimal::Point => ('.', ','),
        Decimal::Comma => (',', '.'),
    };
    let (whole, rest) = match number.split_once(sign) {
        Some((whole, rest)) => (whole, Some(rest)),
        None => (number, None),
    };
    if rest.is_some_and(|rest| rest.contains([sign, thousands])) {
        return None;
    }
    let groups: Vec<&str> = whole.split(thousands).collect();
    if groups.len() > 1 && groups[1..].iter().any(|group| group.len() != 3) {
        return None;
    }
    let whole = groups.concat().replace('\u{2212}', "-");
    Some(rest.map_or_else(|| whole.clone(), |rest| format!("{whole}.{rest}")))
}

/// Time from the first row on, or from the line at which voltage was put on.
struct Clock {
    mapping: Mapping,
    zero: Option<f64>,
    days: f64,
    /// The date and the second of the day before.
    last: Option<(String, f64)>,
}

impl Clock {
    fn at(&mut self, cell: &str, line: usize) -> Result<f64, FaultKind> {
        let wrong = || FaultKind::NotANumber { column: "t_s", found: cell.to_owned() };
        let form = self.mapping.time.unit;
        let seconds = match form {
            TimeForm::Clock => {
                let (date, second) = clock(cell).ok_or_else(wrong)?;
                self.of_day(date, second).ok_or_else(wrong)?
            }
            TimeForm::MinutesSeconds => two_parts(cell).ok_or_else(wrong)?,
            _ => {
                let one = written(cell).ok_or_else(wrong)?;
                if !is_own_unit(one.behind, form) {
                    return Err(wrong());
                }
                let plain = plain(one.number, self.mapping.decimal).ok_or_else(wrong)?;
                plain.parse::<f64>().map_err(|_| wrong())? * size(form)
            }
        };
        let from_line = self.mapping.zero.is_some_and(|zero| line <= zero);
        let said = self.mapping.zero.is_some_and(|zero| zero > 0);
        let counts_anew = form == TimeForm::Clock || said;
        if from_line || (counts_anew && self.zero.is_none()) {
            self.zero = Some(seconds);
        }
        // Microseconds, so that a difference has no more digits than its parts.
        Ok(((seconds - self.zero.unwrap_or(0.0)) * 1e6).round() / 1e6)
    }

    /// Seconds since the midnight before the first row. A date that changes is the next one by the
    /// calendar, and less than a day lies between: rows further apart are of two tests. Without a
    /// date, time that falls by most of a day went over midnight.
    fn of_day(&mut self, date: &str, second: f64) -> Option<f64> {
        if let Some((before, last)) = &self.last {
            if !date.is_empty() && date != before {
                let days = days_between(before, date)?;
                self.days += Some(days).filter(|days| *days <= 1.0 && second < *last)?;
            } else if date.is_empty() && last - second > DAY_S / 2.0 {
                self.days += 1.0;
            }
        }
        self.last = Some((date.to_owned(), second));
        Some(self.days * DAY_S + second)
    }
}

/// Whether what stands behind a time is nothing, or says the unit that its column has.
fn is_own_unit(behind: &str, form: TimeForm) -> bool {
    let words: &[&str] = match form {
        TimeForm::Milliseconds => &["", "ms", "msec"],
        TimeForm::Seconds => &["", "s", "sec"],
        TimeForm::Minutes => &["", "min"],
        TimeForm::Hours => &["", "h"],
        TimeForm::Clock | TimeForm::MinutesSeconds => &[""],
    };
    words.iter().any(|word| behind.eq_ignore_ascii_case(word))
}

const fn size(form: TimeForm) -> f64 {
    match form {
        TimeForm::Milliseconds => 1e-3,
        TimeForm::Minutes => 60.0,
        TimeForm::Hours => 3600.0,
        TimeForm::Seconds | TimeForm::Clock | TimeForm::MinutesSeconds => 1.0,
    }
}
