//! A record's readings as a readings file, so that it can be judged again from that.
//!
//! Conductor by conductor, application by application. A value is written with as many digits as
//! the meter gave. What a readings file has no place for (grounds, causes, remarks, who said so)
//! stands in the JSON form alone.

use std::fmt::Write as _;

use quantity::Time;
use session::fold::Application;
use session::{Conductor, Happening, Reading, Record, conductors};

use crate::trouble::ExportError;

const HEADER: &str = "t_s,kv,ua,phase,event,range_kv,range_ua,link,note\n";

/// The readings of a record as a readings file.
///
/// # Errors
/// Two applications of one conductor follow each other so that a readings file would take them
/// for one.
pub fn readings(record: &Record) -> Result<String, ExportError> {
    let conductors = conductors(record);
    let mut rows = conductors.iter().flat_map(|one| &one.applications).flat_map(all);
    let negative = rows.all(|row| row.negative || (is_zero(row)));
    let mut text = HEADER.to_owned();
    for conductor in &conductors {
        parted(conductor)?;
        for application in &conductor.applications {
            write(&mut text, &conductor.phase, application, negative);
        }
    }
    Ok(text)
}

fn all(application: &Application) -> impl Iterator<Item = &Reading> {
    application.readings.iter().chain(&application.blanks)
}

fn is_zero(row: &Reading) -> bool {
    row.voltage.is_none_or(|voltage| voltage.kilovolts() == 0.0)
        && row.current.is_none_or(|current| current.microamperes() == 0.0)
}

/// In a readings file time begins again only after a ground, or between leads alone and object.
fn parted(conductor: &Conductor) -> Result<(), ExportError> {
    let span = |application: &Application| {
        let marks = application.marks.iter().map(|(at, _)| at.seconds());
        let times = all(application).map(|row| row.at.seconds()).chain(marks);
        times.fold((f64::INFINITY, f64::NEG_INFINITY), |(first, last), at| {
            (first.min(at), last.max(at))
        })
    };
    for pair in conductor.applications.windows(2) {
        let (before, after) = (&pair[0], &pair[1]);
        let grounded = before.saw(Happening::Ground);
        let kinds_differ = before.readings.is_empty() != after.readings.is_empty();
        if !(grounded || kinds_differ) || span(after).0 >= span(before).1 {
            return Err(ExportError::RunsTogether { phase: conductor.phase.clone() });
        }
    }
    Ok(())
}

fn write(text: &mut String, phase: &str, application: &Application, negative: bool) {
    let mut rows: Vec<&Reading> = all(application).collect();
    rows.sort_by(|one, other| one.at.seconds().total_cmp(&other.at.seconds()));
    let has_blanks = !application.blanks.is_empty();
    let mut marks = application
        .marks
        .iter()
        .filter(|(_, what)| !(has_blanks && *what == Happening::Blank))
        .peekable();
    let mut line = Lines { text, phase, negative, going_on: None };
    for row in rows {
        let mut here = None;
        while let Some((at, what)) = marks.next_if(|(at, _)| *at <= row.at) {
            if let Some((at, what)) = here.replace((*at, *what)) {
                line.mark(at, what);
            }
        }
        match here {
            Some((at, what)) if at == row.at && !row.blank => line.reading(row, Some(what)),
            Some((at, what)) => {
                line.mark(at, what);
                line.reading(row, None);
            }
            None => line.reading(row, None),
        }
    }
    for (at, what) in marks {
        line.mark(*at, *what);
    }
}

struct Lines<'a> {
    text: &'a mut String,
    phase: &'a str,
    negative: bool,
    going_on: Option<Happening>,
}

impl Lines<'_> {
    fn mark(&mut self, at: Time, what: Happening) {
        self.going_on = Some(what);
        self.line(&[&number(at.seconds(), None), "", "", self.phase, what.key(), "", "", "", ""]);
    }

    fn reading(&mut self, row: &Reading, happens: Option<Happening>) {
        self.going_on = happens.or(self.going_on);
        let lasts = |what: &Happening| matches!(what, Happening::Rise | Happening::Hold);
        let kv = row.voltage.map(|voltage| voltage.kilovolts());
        let ua = row.current.map(|current| current.microamperes());
        let half_kv = row.voltage_half_digit.map(|half| half.kilovolts());
        let half_ua = row.current_half_digit.map(|half| half.microamperes());
        let kv = self.value(kv, half_kv, row.overload);
        let ua = self.value(ua, half_ua, row.overload);
        let event = match (row.blank, happens) {
            (true, _) => Some(Happening::Blank),
            (false, Some(what)) => Some(what),
            // A row with one value needs a word; on the way down it is that.
            (false, None) => self.going_on.filter(|what| {
                lasts(what) || (*what == Happening::Down && (kv.is_empty() || ua.is_empty()))
            }),
        };
        if event.is_none() && (kv.is_empty() || ua.is_empty()) {
            return;
        }
        let range = |value: Option<f64>| value.map_or(String::new(), |value| number(value, None));
        let (at, range_kv, range_ua) = (
            number(row.at.seconds(), None),
            range(row.voltage_range.map(|range| range.kilovolts())),
            range(row.current_range.map(|range| range.microamperes())),
        );
        let event = event.map_or("", Happening::key);
        let (link, note) = (row.link.as_deref(), row.note.as_deref());
        let (link, note) = (link.unwrap_or_default(), note.unwrap_or_default());
        self.line(&[&at, &kv, &ua, self.phase, event, &range_kv, &range_ua, link, note]);
    }

    fn value(&self, value: Option<f64>, half_digit: Option<f64>, overload: bool) -> String {
        match value {
            Some(value) if self.negative && value != 0.0 => number(-value, half_digit),
            Some(value) => number(value, half_digit),
            None if overload => "9.9E37".to_owned(),
            None => String::new(),
        }
    }

    fn line(&mut self, cells: &[&str]) {
        for (at, cell) in cells.iter().enumerate() {
            if at > 0 {
                self.text.push(',');
            }
            if cell.contains([',', '"', '\n', '\r']) {
                // Writing to a text cannot fail.
                let _ = write!(self.text, "\"{}\"", cell.replace('"', "\"\""));
            } else {
                self.text.push_str(cell);
            }
        }
        self.text.push('\n');
    }
}

/// With as many digits as were given, or, where that is not known or would lose some, with as
/// many as it has.
fn number(value: f64, half_digit: Option<f64>) -> String {
    let plain = plain(value);
    let Some(half) = half_digit.filter(|half| half.is_finite() && *half > 0.0) else {
        return plain;
    };
    let power = (2.0 * half).log10().round();
    let power = power as i32;
    let written = match usize::try_from(-power) {
        Ok(decimals) => format!("{value:.decimals$}"),
        Err(_) => format!("{:.0}e{power}", value / 10f64.powi(power)),
    };
    let loses = written.parse::<f64>().is_ok_and(|back| (back - value).abs() > 1e-3 * half);
    if loses { plain } else { written }
}

/// Twelve digits, as wherever a value leaves the program; the rest is from changing units.
fn plain(value: f64) -> String {
    format!("{value:.11e}").parse::<f64>().unwrap_or(value).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: half the last digit of what is written is what was given.
    #[test]
    fn as_many_digits_as_the_meter_gave() {
        let check = |value, half_digit, expected| assert_eq!(number(value, half_digit), expected);
        check(15.0, Some(0.05), "15.0");
        check(15.0, Some(0.5), "15");
        check(150.0, Some(5.0), "15e1");
        check(-0.25, Some(0.005), "-0.25");
        check(25.1 + 4e-15, Some(0.005), "25.10");
        check(49.98, Some(0.05), "49.98");
        check(0.1 + 0.2, None, "0.3");
        check(0.000_001, None, "0.000001");
        check(3.0, Some(f64::NAN), "3");
    }
}
