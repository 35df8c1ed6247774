//! Readings from meters, gathered into batches: one event a batch.

use quantity::edge::twelve_digits;
use quantity::{Current, Time, Voltage};

use crate::meters::Scales;
use crate::record::Batch;

/// A batch is given out at the latest after this. Common practice, no source: the eye does not
/// see it, and a commit to disk takes a few milliseconds.
const LONGEST: Time = Time::from_seconds(0.2);
/// And at the latest with so many rows.
const MOST_ROWS: usize = 256;

/// One reading as meters gave it, at one moment.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Metered {
    /// At the object, with the meter's sign; `None` where it was not read or was over range.
    pub voltage: Option<Voltage>,
    /// Into the object, with the meter's sign; `None` where it was not read or was over range.
    pub current: Option<Current>,
    /// The voltmeter showed overload.
    pub voltage_overload: bool,
    /// The ammeter showed overload.
    pub current_overload: bool,
    /// Half the last digit the voltmeter gave.
    pub voltage_half_digit: Option<Voltage>,
    /// Half the last digit the ammeter gave.
    pub current_half_digit: Option<Current>,
    /// Voltmeter range in use, if known.
    pub voltage_range: Option<Voltage>,
    /// Ammeter range in use, if known.
    pub current_range: Option<Current>,
    /// Which link is fitted, if known.
    pub link: Option<String>,
}

impl Scales {
    /// Puts ranges and link beside a reading that does not tell its own.
    pub(super) fn fill(&self, reading: &mut Metered) {
        reading.voltage_range = reading.voltage_range.or(self.voltage_range);
        reading.current_range = reading.current_range.or(self.current_range);
        if reading.link.is_none() {
            reading.link.clone_from(&self.link);
        }
    }
}

impl Metered {
    const fn overload(&self) -> bool {
        self.voltage_overload || self.current_overload
    }
}

#[derive(Clone, Debug)]
struct Row {
    at: Time,
    reading: Metered,
}

/// What was read and is in no event yet.
#[derive(Clone, Debug, Default)]
pub(super) struct Buffer {
    rows: Vec<Row>,
    conductor: usize,
    negative: bool,
}

impl Buffer {
    /// Whether the rows so far must be given out before this one comes in.
    pub(super) fn must_flush(&self, conductor: usize, reading: &Metered, floor: Voltage) -> bool {
        let Some(last) = self.rows.last().map(|row| &row.reading) else { return false };
        self.conductor != conductor
            || self.rows.len() >= MOST_ROWS
            || last.voltage_range != reading.voltage_range
            || last.current_range != reading.current_range
            || last.link != reading.link
            || self.sign(reading, floor) != self.negative
    }

    /// Takes a reading in, at this time since the record was begun.
    pub(super) fn take(&mut self, conductor: usize, at: Time, reading: Metered, floor: Voltage) {
        self.negative = self.sign(&reading, floor);
        self.conductor = conductor;
        self.rows.push(Row { at, reading });
    }

    /// The polarity: of noise about zero nothing is made.
    fn sign(&self, reading: &Metered, floor: Voltage) -> bool {
        match reading.voltage {
            Some(voltage) if voltage.abs() > floor => voltage.volts() < 0.0,
            _ => self.negative,
        }
    }

    /// When the rows are to be given out, since the record was begun.
    pub(super) fn due(&self) -> Option<Time> {
        self.rows.first().map(|row| row.at + LONGEST)
    }

    pub(super) fn is_full(&self) -> bool {
        self.rows.len() >= MOST_ROWS
    }

    /// The newest reading, if any waits.
    pub(super) fn newest(&self, conductor: usize) -> Option<(Time, &Metered)> {
        let newest = self.rows.last().filter(|_| self.conductor == conductor)?;
        Some((newest.at, &newest.reading))
    }

    pub(super) const fn conductor(&self) -> usize {
        self.conductor
    }

    /// The rows before this moment, or all, as one batch; `None` where there are none.
    pub(super) fn give(&mut self, before: Option<Time>, asked: &Asked<'_>) -> Option<Batch> {
        let count = before.map_or(self.rows.len(), |before| {
            self.rows.iter().take_while(|row| row.at < before).count()
        });
        if count == 0 {
            return None;
        }
        let rows: Vec<Row> = self.rows.drain(..count).collect();
        Some(self.batch(&rows, asked))
    }

    fn batch(&self, rows: &[Row], asked: &Asked<'_>) -> Batch {
        let sign = if self.negative { -1.0 } else { 1.0 };
        let zero = asked.energised_at.unwrap_or(Time::ZERO);
        let mut batch = Batch {
            phase: asked.phase.to_owned(),
            negative: self.negative,
            blank: asked.blank,
            idle: asked.energised_at.is_none(),
            ..Batch::default()
        };
        for (index, Row { at, reading }) in rows.iter().enumerate() {
            let volts = reading.voltage.map(|voltage| twelve_digits(voltage.kilovolts() * sign));
            let amperes = reading.current.map(|now| twelve_digits(now.microamperes() * sign));
            batch.t_s.push(super::clock::round(*at - zero).seconds().max(0.0));
            batch.kv.push(volts);
            batch.ua.push(amperes);
            if reading.overload() {
                batch.overload.push(index);
            }
            batch.voltage_half_digit =
                coarser(batch.voltage_half_digit, reading.voltage_half_digit, Voltage::max);
            batch.current_half_digit =
                coarser(batch.current_half_digit, reading.current_half_digit, Current::max);
        }
        if let Some(first) = rows.first() {
            batch.voltage_range = first.reading.voltage_range;
            batch.current_range = first.reading.current_range;
            batch.link.clone_from(&first.reading.link);
        }
        batch
    }
}

/// Whose rows they are, and from when their time counts.
pub(super) struct Asked<'a> {
    pub(super) phase: &'a str,
    pub(super) energised_at: Option<Time>,
    pub(super) blank: bool,
}

/// The larger of two half digits: a batch is no finer than its coarsest reading.
fn coarser<Q: Copy>(one: Option<Q>, other: Option<Q>, max: fn(Q, Q) -> Q) -> Option<Q> {
    match (one, other) {
        (Some(one), Some(other)) => Some(max(one, other)),
        (one, other) => one.or(other),
    }
}
