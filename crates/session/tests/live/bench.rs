//! A plan of plain numbers, a virtual clock and a session to work on.

use jiff::{SignedDuration, Timestamp};
use plan::Plan;
use plan::course::{
    ConnectionPlan, Descent, ExpectedReading, GroundBy, Guard, Link, MeterAt, Metered as Reads,
    ResistanceTest, Step,
};
use plan::job::{AssetClass, LowSide, Method, Polarity};
use quantity::{Band, Current, Energy, Ratio, Resistance, Time, Voltage, VoltageRate};
use session::live::{Metered, Refusal};
use session::record::{Head, Now};
use session::say::{Mode, Said, parse};
use session::{Entry, Event, Kind, RECORD_FORMAT, Record, Session};

pub(crate) const BOOT: &str = "boot-1";

fn kv(value: f64) -> Voltage {
    Voltage::from_kilovolts(value)
}

fn s(value: f64) -> Time {
    Time::from_seconds(value)
}

fn ua(value: f64) -> Current {
    Current::from_microamperes(value)
}

/// Three levels of 10, 20 and 30 kV; a minute each, five at the last. The numbers are chosen to be
/// easy to reckon with and stand for no published level.
pub(crate) fn plan(conductors: &[&str], resistance: bool) -> Plan {
    let step = |level: f64, stay: f64| Step {
        level: kv(level),
        rise: VoltageRate::from_kilovolts_per_second(1.0),
        rise_time: s(10.0),
        dwell: s(stay),
        dial: Some(Ratio::from_percent(level / 0.4)),
        trip: Some(ua(1000.0)),
        trip_margin: None,
        rising: Band::certain(ua(100.0)),
        expected: Band::certain(ua(3.0)),
        rise_range: None,
        range_change: None,
        ammeter_range: Some(ua(1000.0)),
        readings: vec![ExpectedReading {
            at: s(stay),
            since_start: s(stay),
            expected: Band::certain(ua(3.0)),
        }],
    };
    let example = include_str!("../../../../docs/examples/cable.toml");
    let job = plan::job_file::parse(example).expect("the example is a good job file");
    Plan {
        asset: job.asset.id.clone(),
        class: AssetClass::Cable,
        object: "a length of cable".to_owned(),
        date: None,
        method: Method::Step,
        conductors: conductors.iter().map(|&name| name.to_owned()).collect(),
        test: Some(kv(30.0)),
        level: None,
        hold: Some(s(300.0)),
        polarity: Polarity::Negative,
        resistance_test: resistance.then(resistance_test),
        course: vec![step(10.0, 60.0), step(20.0, 60.0), step(30.0, 300.0)],
        band: plan::course::ExpectedBand::default(),
        ramp_readings: Vec::new(),
        read_at: Vec::new(),
        trip: Some(ua(500.0)),
        trip_margin: None,
        voltmeter_range: Some(kv(40.0)),
        ammeter_range: Some(ua(1000.0)),
        charging: None,
        capacitance: None,
        capacitance_band: None,
        capacitance_from: None,
        model: None,
        stored: None,
        stored_most: None,
        duration: None,
        descent: Some(Descent {
            resistor: Resistance::from_kilohms(50.0),
            tool_at_hand: true,
            resistor_first: true,
            peak: Current::from_amperes(0.6),
            resistor_energy: Energy::from_joules(70.0),
            all_energy: None,
            peak_watts: None,
            touch_limit: Voltage::from_volts(50.0),
            to_50v: s(10.0),
            to_limit_with_absorption: None,
            bleed_to_tenth: None,
            bleed_to_limit: None,
            ground: s(1200.0),
            ground_by: GroundBy::Model,
            model_ground: s(1200.0),
            late_ground: None,
            published_grounds: Vec::new(),
            rebound: kv(1.0),
            rebound_peak_after: None,
            rebound_after_ground: Voltage::from_volts(5.0),
            meter_floor: None,
        }),
        clearance: None,
        air: Default::default(),
        water_line: None,
        water_line_most: None,
        connection: ConnectionPlan {
            low_side: LowSide::Grounded,
            link: Link::ReturnToGround,
            metered: Reads::ObjectAndLeads,
            guard: Guard::None,
            meter_at: MeterAt::Return,
            reads: String::new(),
            excluded: String::new(),
            meters: Vec::new(),
            cable_as: None,
            steps: Vec::new(),
        },
        blank_run: None,
        checklist: Vec::new(),
        cautions: Vec::new(),
        ready: plan::ready::Ready::default(),
        judged: Vec::new(),
        sets: Vec::new(),
        instead: Vec::new(),
        issues: Vec::new(),
        sources: Vec::new(),
    }
}

pub(crate) fn head(plan: Plan) -> Head {
    let example = include_str!("../../../../docs/examples/cable.toml");
    let job = plan::job_file::parse(example).expect("the example is a good job file");
    Head { format: RECORD_FORMAT.to_owned(), kind: Kind::Test, source: None, job, plan }
}

/// Ten minutes at 2.5 kV.
fn resistance_test() -> ResistanceTest {
    let text = r#"{"kv":2.5,"dwell_s":600.0,"readings":[],"minimum_mohm":null,
        "minimum_at_c":null,"index_minimum":null,"ground_s":1200.0,"source":{"id":"none",
        "title":"none","edition":"none","place":"none","mark":"practice"}}"#;
    serde_json::from_str(text).expect("the keys are those of a plan")
}

/// A session, the virtual clocks it is told, and the events it gave.
pub(crate) struct Bench {
    pub(crate) session: Session,
    pub(crate) head: Head,
    pub(crate) t: f64,
    /// Ahead of an even clock by this [s].
    pub(crate) wall_ahead: i64,
    pub(crate) events: Vec<Entry>,
}

impl Bench {
    pub(crate) fn new(conductors: &[&str]) -> Self {
        Self::of(plan(conductors, false))
    }

    pub(crate) fn of(plan: Plan) -> Self {
        let head = head(plan);
        let session = Session::begin(&head, BOOT, now(0.0, 0));
        let mut bench = Self { session, head, t: 0.0, wall_ahead: 0, events: Vec::new() };
        bench.drain();
        bench
    }

    pub(crate) fn now(&self) -> Now {
        now(self.t, self.wall_ahead)
    }

    pub(crate) fn drain(&mut self) {
        while let Some(entry) = self.session.poll_event() {
            self.events.push(entry);
        }
    }

    /// Lets time pass, told often enough not to count as asleep.
    pub(crate) fn wait(&mut self, seconds: f64) {
        let until = self.t + seconds;
        while self.t < until {
            self.t = (self.t + 4.0).min(until);
            self.session.handle_time(self.now());
        }
        self.drain();
    }

    /// Says a line as a person would.
    pub(crate) fn say(&mut self, line: &str) -> Result<(), Refusal> {
        let (now, by) = (self.now(), Some("R. Tester"));
        let said = parse(line, Mode::Typed).unwrap_or_else(|fault| panic!("{line}: {fault}"));
        let answer = self.session.handle_said(now, by, said);
        self.drain();
        answer
    }

    /// Says lines that are all taken; `wait 60` lets time pass.
    pub(crate) fn work(&mut self, script: &str) {
        for line in script.split(';').map(str::trim).filter(|line| !line.is_empty()) {
            match line.strip_prefix("wait ") {
                Some(seconds) => self.wait(seconds.parse().expect("a number of seconds")),
                None => self.say(line).unwrap_or_else(|refusal| panic!("{line}: {refusal}")),
            }
            self.t += 1.0;
        }
    }

    /// A line from a pipe.
    pub(crate) fn pipe(&mut self, line: &str) -> Result<(), Refusal> {
        let now = self.now();
        let said = parse(line, Mode::Piped).unwrap_or_else(|fault| panic!("{line}: {fault}"));
        let Said::Row { phase, row } = said else { panic!("{line}: not a row") };
        let answer = self.session.handle_row(now, None, phase.as_deref(), row);
        self.drain();
        answer
    }

    /// A reading from meters, kilovolts and microamperes.
    pub(crate) fn meter(&mut self, kilovolts: f64, microamperes: f64) {
        let reading = Metered {
            voltage: Some(kv(kilovolts)),
            current: Some(ua(microamperes)),
            ..Metered::default()
        };
        self.session.handle_metered(self.now(), reading);
        self.drain();
    }

    pub(crate) fn record(&self) -> Record {
        self.head.clone().with(self.events.clone())
    }

    /// The state as bytes.
    pub(crate) fn bytes(&self) -> String {
        serde_json::to_string(self.session.folded()).expect("the state is plain")
    }

    /// The state that a reader of the written record has.
    pub(crate) fn replayed(&self) -> Session {
        let mut session = Session::replaying(&self.head);
        for entry in &self.events {
            let text = serde_json::to_string(entry).expect("an event is plain");
            let read: Entry = serde_json::from_str(&text).expect("and is read again");
            session.replay(&read).unwrap_or_else(|error| panic!("{error}: {text}"));
        }
        session
    }

    /// What happened, one word each: what was seen with its breaches in brackets.
    pub(crate) fn acts(&self) -> Vec<String> {
        let acts = self.events.iter().filter_map(|entry| match &entry.what {
            Event::Did { act, told, breaches, .. } => {
                let key = act.kind().key();
                Some(match told {
                    session::record::Told::Said => key.to_owned(),
                    session::record::Told::Seen if breaches.is_empty() => format!("({key})"),
                    session::record::Told::Seen => format!("({key}!)"),
                    session::record::Told::Confirmed => format!("={key}"),
                })
            }
            _ => None,
        });
        acts.collect()
    }
}

pub(crate) fn now(t: f64, wall_ahead: i64) -> Now {
    let begun: Timestamp = "2026-11-03T08:00:00Z".parse().expect("a time");
    let micros = SignedDuration::from_micros((t * 1e6).round() as i64);
    let wall = begun + micros + SignedDuration::from_secs(wall_ahead);
    Now { monotonic: s(5000.0 + t), wall }
}

/// All grounds on, the lead on A, A checked and its own ground off.
pub(crate) const READY: &str = "@A ground 1 at A; @B ground 2 at B; @C ground 3 at C; lead A; \
                                check A; lift 1";
/// From there to the top.
pub(crate) const UP: &str = "energise; rise; dwell; rise; dwell; rise; hold";
/// And down again, grounded.
pub(crate) const DOWN: &str = "stop; off; residual 12.5; tool; ground 1 at A";
