//! What the program counts while it serves, for whoever watches over it: numbers alone, of no
//! person and of no object.

use std::fmt::Write as _;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use store::meet::{Batch, Part, Taken};

/// Upper ends of the buckets in which times are counted, in microseconds.
const BUCKETS_US: [u64; 11] =
    [1000, 2500, 5000, 10_000, 25_000, 50_000, 100_000, 250_000, 500_000, 1_000_000, 5_000_000];

/// Times, by bucket.
#[derive(Debug, Default)]
struct Times {
    buckets: [AtomicU64; BUCKETS_US.len()],
    count: AtomicU64,
    sum_us: AtomicU64,
}

/// All that is counted.
#[derive(Debug, Default)]
pub(crate) struct Figures {
    /// Answers by the first digit of their status, from 1 to 5.
    answers: [AtomicU64; 5],
    readings: AtomicU64,
    kept: Times,
    store_errors: AtomicU64,
    batches: AtomicU64,
    taken: Times,
    events_in: AtomicU64,
    events_out: AtomicU64,
    records_in: AtomicU64,
    refused: AtomicU64,
}

/// Those of this program.
pub(crate) static FIGURES: Figures = Figures::new();

const fn zero() -> AtomicU64 {
    AtomicU64::new(0)
}

impl Times {
    const fn new() -> Self {
        Self { buckets: [const { zero() }; BUCKETS_US.len()], count: zero(), sum_us: zero() }
    }

    fn add(&self, took: Duration) {
        let took_us = u64::try_from(took.as_micros()).unwrap_or(u64::MAX);
        for (bucket, end) in self.buckets.iter().zip(BUCKETS_US) {
            if took_us <= end {
                one_more(bucket);
            }
        }
        one_more(&self.count);
        self.sum_us.fetch_add(took_us, Ordering::Relaxed);
    }

    fn write(&self, out: &mut String, name: &str, help: &str) {
        // Writing to a text cannot fail.
        let _ = writeln!(out, "# HELP {name} {help}\n# TYPE {name} histogram");
        for (bucket, end) in self.buckets.iter().zip(BUCKETS_US) {
            let end = seconds(end);
            let _ = writeln!(out, "{name}_bucket{{le=\"{end}\"}} {}", now(bucket));
        }
        let _ = writeln!(out, "{name}_bucket{{le=\"+Inf\"}} {}", now(&self.count));
        let _ = writeln!(out, "{name}_sum {}", seconds(now(&self.sum_us)));
        let _ = writeln!(out, "{name}_count {}", now(&self.count));
    }
}

impl Figures {
    const fn new() -> Self {
        Self {
            answers: [const { zero() }; 5],
            readings: zero(),
            kept: Times::new(),
            store_errors: zero(),
            batches: zero(),
            taken: Times::new(),
            events_in: zero(),
            events_out: zero(),
            records_in: zero(),
            refused: zero(),
        }
    }

    /// A request was answered.
    pub(crate) fn answered(&self, status: u16) {
        let class = usize::from(status / 100).clamp(1, 5);
        one_more(&self.answers[class - 1]);
    }

    /// Events of a test are durable: so many readings among them, after this long.
    pub(crate) fn kept(&self, readings: usize, took: Duration) {
        self.readings.fetch_add(readings as u64, Ordering::Relaxed);
        self.kept.add(took);
    }

    /// Something could not be kept or looked up.
    pub(crate) fn store_error(&self) {
        one_more(&self.store_errors);
    }

    /// A batch of a laptop was taken in.
    pub(crate) fn exchanged(&self, taken: &Taken, took: Duration) {
        one_more(&self.batches);
        self.taken.add(took);
        self.events_in.fetch_add(taken.moved.events, Ordering::Relaxed);
        self.records_in.fetch_add(taken.moved.records, Ordering::Relaxed);
        self.refused.fetch_add(taken.refused.len() as u64, Ordering::Relaxed);
    }

    /// A batch was given to a laptop.
    pub(crate) fn given(&self, batch: &Batch) {
        let events = |part: &Part| match part {
            Part::Record(part) => part.chains.iter().map(|one| one.events.len() as u64).sum(),
            _ => 0,
        };
        let events: u64 = batch.parts.iter().map(events).sum();
        self.events_out.fetch_add(events, Ordering::Relaxed);
    }

    /// All of it in the text format 0.0.4 of Prometheus, with how many records are at work.
    pub(crate) fn text(&self, at_work: usize) -> String {
        let mut out = String::new();
        let name = "ohmstead_answers_total";
        let _ = writeln!(out, "# HELP {name} Requests that were answered, by status.");
        let _ = writeln!(out, "# TYPE {name} counter");
        for (at, count) in self.answers.iter().enumerate() {
            let _ = writeln!(out, "{name}{{status=\"{}xx\"}} {}", at + 1, now(count));
        }
        let counters = [
            ("ohmstead_readings_kept_total", "Readings that are durable.", &self.readings),
            ("ohmstead_store_errors_total", "Times the store failed.", &self.store_errors),
            ("ohmstead_exchange_batches_total", "Batches of laptops taken in.", &self.batches),
            ("ohmstead_exchange_records_total", "New records of laptops.", &self.records_in),
            ("ohmstead_exchange_events_in_total", "New events of laptops.", &self.events_in),
            ("ohmstead_exchange_events_out_total", "Events given to laptops.", &self.events_out),
            ("ohmstead_exchange_refused_total", "What was refused of laptops.", &self.refused),
        ];
        for (name, help, count) in counters {
            let _ = writeln!(out, "# HELP {name} {help}\n# TYPE {name} counter");
            let _ = writeln!(out, "{name} {}", now(count));
        }
        let name = "ohmstead_records_at_work";
        let _ = writeln!(out, "# HELP {name} Records at work here.\n# TYPE {name} gauge");
        let _ = writeln!(out, "{name} {at_work}");
        self.kept.write(
            &mut out,
            "ohmstead_kept_seconds",
            "Time until events of a test were durable.",
        );
        self.taken.write(
            &mut out,
            "ohmstead_exchange_taken_seconds",
            "Time until a batch was durable.",
        );
        out
    }
}

fn one_more(count: &AtomicU64) {
    count.fetch_add(1, Ordering::Relaxed);
}

fn now(count: &AtomicU64) -> u64 {
    count.load(Ordering::Relaxed)
}

/// Microseconds in seconds, as a decimal with nothing behind what is needed.
fn seconds(us: u64) -> String {
    let text = format!("{}.{:06}", us / 1_000_000, us % 1_000_000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_counted_in_every_bucket_that_holds_them() {
        let figures = Figures::new();
        figures.kept(3, Duration::from_millis(4));
        figures.kept(1, Duration::from_secs(9));
        figures.answered(204);
        figures.answered(503);
        let text = figures.text(2);
        // The format is that of Prometheus, exposition format 0.0.4 (from memory, unverified):
        // buckets add up, `+Inf` is the count.
        for line in [
            "ohmstead_answers_total{status=\"2xx\"} 1",
            "ohmstead_answers_total{status=\"5xx\"} 1",
            "ohmstead_readings_kept_total 4",
            "ohmstead_records_at_work 2",
            "ohmstead_kept_seconds_bucket{le=\"0.0025\"} 0",
            "ohmstead_kept_seconds_bucket{le=\"0.005\"} 1",
            "ohmstead_kept_seconds_bucket{le=\"5\"} 1",
            "ohmstead_kept_seconds_bucket{le=\"+Inf\"} 2",
            "ohmstead_kept_seconds_sum 9.004",
            "ohmstead_kept_seconds_count 2",
        ] {
            assert!(text.lines().any(|one| one == line), "{line}\n{text}");
        }
        for line in text.lines().filter(|line| !line.starts_with('#')) {
            let value = line.rsplit(' ').next().and_then(|value| value.parse::<f64>().ok());
            assert!(value.is_some(), "{line}");
        }
    }
}
