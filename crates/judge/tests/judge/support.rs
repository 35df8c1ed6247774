//! Jobs, plans and typed readings for tests. Everything here is invented.

use std::sync::OnceLock;

use jiff::civil::date;
use judge::{Finding, Findings, Outcome, judge};
use plan::course::{ConnectionPlan, Guard, Link, MeterAt, Metered, Step};
use plan::job::{
    AccuracyOf, Arrester, Asset, AssetClass, Cable, Conditions, Connection, LowSide, Machine,
    Method, Polarity, Protective, Site, Switchgear, Test, TestSet,
};
use plan::{Job, Plan};
use quantity::{Band, Current, Ratio, Temperature, Time, Voltage, VoltageRate};
use session::{Event, Happening, Kind, RECORD_FORMAT, Reading, Record};
use standards::Library;
use standards::words::{
    ArresterKind, Insulation, ProtectiveClass, ProtectiveItem, Purpose, SwitchgearKind,
    ThermalClass, Winding, WindingState,
};

/// The published values, read once.
pub(crate) fn library() -> &'static Library {
    static LIBRARY: OnceLock<Library> = OnceLock::new();
    LIBRARY.get_or_init(Library::published)
}

pub(crate) fn kv(value: f64) -> Voltage {
    Voltage::from_kilovolts(value)
}

fn job(class: AssetClass, rated: f64, conductors: &[&str]) -> Job {
    Job {
        site: Site::default(),
        asset: Asset {
            id: "F-12".into(),
            class,
            rated: Some(kv(rated)),
            conductors: conductors.iter().map(|&name| name.to_owned()).collect(),
            cable: None,
            machine: None,
            protective: None,
            switchgear: None,
            busway: None,
            breaker: None,
            switch: None,
            insulator: None,
            bushing: None,
            arrester: None,
            capacitor: None,
            other: None,
        },
        test: Test {
            date: Some(date(2026, 11, 3)),
            purpose: Purpose::Acceptance,
            method: None,
            polarity: Polarity::Negative,
            rule: None,
            level: None,
            reason: None,
        },
        connection: Connection::default(),
        meters: Vec::new(),
        loggers: Vec::new(),
        set: TestSet {
            voltmeter_ranges: vec![kv(20.0), kv(40.0), kv(80.0)],
            ammeter_ranges: [10.0, 100.0, 1000.0, 5000.0].map(Current::from_microamperes).to_vec(),
            accuracy: Some(Ratio::from_percent(2.0)),
            accuracy_of: AccuracyOf::Range,
            calibrated: Some(date(2026, 3, 2)),
            calibration_interval_months: Some(12),
            ..TestSet::default()
        },
        sets_at_hand: Vec::new(),
        discharge_tool: None,
        ready: plan::job::Answers::default(),
        people: plan::job::People::default(),
        first_step: None,
        conditions: Conditions {
            temperature: Some(Temperature::from_celsius(21.0)),
            object_temperature: Some(Temperature::from_celsius(21.0)),
            humidity: Some(Ratio::from_percent(45.0)),
            altitude: None,
        },
    }
}

/// A new or an older cable.
pub(crate) fn cable(insulation: Insulation, rated: f64, conductors: &[&str]) -> Job {
    let mut job = job(AssetClass::Cable, rated, conductors);
    job.asset.cable = Some(Cable { insulation: Some(insulation), ..Cable::default() });
    job
}

/// A form-wound stator of class F with its phases joined.
pub(crate) fn stator(rated: f64, method: Method) -> Job {
    let mut job = job(AssetClass::Motor, rated, &[]);
    job.asset.machine = Some(Machine {
        winding: Some(Winding::FormWound),
        winding_state: Some(WindingState::InService),
        thermal_class: Some(ThermalClass::F),
        built_year: Some(1998),
        rated_mva: Some(6.5),
        ..Machine::default()
    });
    job.test.method = Some(method);
    job
}

/// A metal-oxide arrester whose maker gives this reference voltage.
pub(crate) fn arrester(reference_kv: f64) -> Job {
    let mut job = job(AssetClass::Arrester, 17.0, &["A"]);
    job.asset.arrester = Some(Arrester {
        kind: Some(ArresterKind::MetalOxide),
        reference: Some(kv(reference_kv)),
        ..Arrester::default()
    });
    job.test.method = Some(Method::Reference);
    job
}

pub(crate) fn switchgear(rated: f64) -> Job {
    let mut job = job(AssetClass::Switchgear, rated, &["A"]);
    job.asset.switchgear = Some(Switchgear {
        kind: SwitchgearKind::MetalClad,
        cables_connected: Some(false),
        cables_may_be_tested: None,
        cables_limit: None,
        capacitance: None,
    });
    job
}

pub(crate) fn glove() -> Job {
    let mut job = job(AssetClass::Protective, 17.0, &["1"]);
    job.asset.protective =
        Some(Protective { item: ProtectiveItem::Glove, class: Some(ProtectiveClass::Class2) });
    job
}

/// A plan with no more in it than a judgement looks at.
pub(crate) fn plan(job: &Job, levels_kv: &[f64], hold_s: f64) -> Plan {
    let step = |&level: &f64| Step {
        level: kv(level),
        rise: VoltageRate::from_kilovolts_per_second(1.0),
        rise_time: Time::ZERO,
        dwell: Time::from_seconds(60.0),
        dial: None,
        trip: None,
        trip_margin: None,
        rising: Band::default(),
        expected: Band::default(),
        rise_range: None,
        range_change: None,
        ammeter_range: None,
        readings: Vec::new(),
    };
    Plan {
        asset: job.asset.id.clone(),
        class: job.asset.class,
        object: "an object".into(),
        date: job.test.date,
        method: job.test.method.unwrap_or(Method::Step),
        conductors: job.conductors(),
        test: levels_kv.last().map(|&level| kv(level)),
        level: None,
        hold: Some(Time::from_seconds(hold_s)),
        polarity: Polarity::Negative,
        resistance_test: None,
        course: levels_kv.iter().map(step).collect(),
        band: plan::course::ExpectedBand::default(),
        ramp_readings: Vec::new(),
        read_at: Vec::new(),
        trip: None,
        trip_margin: None,
        voltmeter_range: None,
        ammeter_range: None,
        charging: None,
        capacitance: None,
        capacitance_band: None,
        capacitance_from: None,
        model: None,
        stored: None,
        stored_most: None,
        duration: None,
        descent: None,
        clearance: None,
        air: Default::default(),
        water_line: None,
        water_line_most: None,
        connection: ConnectionPlan {
            low_side: LowSide::Grounded,
            link: Link::ReturnToGround,
            metered: Metered::ObjectOnly,
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

/// A test written down row by row: `t_s kv ua`, each number with the digits that were typed.
pub(crate) struct Written {
    pub(crate) job: Job,
    pub(crate) plan: Plan,
    events: Vec<Event>,
}

impl Written {
    pub(crate) fn new(job: Job, plan: Plan) -> Self {
        Self { job, plan, events: Vec::new() }
    }

    /// One energising of one conductor.
    pub(crate) fn rows(mut self, phase: &str, rows: &str) -> Self {
        self.events.push(Event::Energised { phase: phase.into() });
        let rows = rows.lines().filter(|line| !line.trim().is_empty()).map(reading).collect();
        self.events.push(Event::Readings { phase: phase.into(), rows });
        self
    }

    /// Which link was fitted for the last rows.
    pub(crate) fn linked(mut self, link: &str) -> Self {
        if let Some(Event::Readings { rows, .. }) = self.events.last_mut() {
            rows.iter_mut().for_each(|row| row.link = Some(link.to_owned()));
        }
        self
    }

    /// A run of leads and set alone.
    pub(crate) fn blank(mut self, phase: &str, rows: &str) -> Self {
        self = self.rows(phase, rows);
        if let Some(Event::Readings { rows, .. }) = self.events.last_mut() {
            rows.iter_mut().for_each(|row| row.blank = true);
        }
        self
    }

    pub(crate) fn marked(mut self, phase: &str, at_s: f64, what: Happening) -> Self {
        let at = Time::from_seconds(at_s);
        self.events.push(Event::Marked { phase: phase.into(), at, what, note: None });
        self
    }

    /// The readings of the last energising of each conductor, where they can be spoiled.
    fn last_rows(&mut self) -> Vec<(&str, &mut Vec<Reading>)> {
        let mut last: Vec<(&str, &mut Vec<Reading>)> = Vec::new();
        for event in &mut self.events {
            if let Event::Readings { phase, rows } = event {
                match last.iter().position(|(name, _)| *name == phase.as_str()) {
                    Some(place) => last[place] = (phase.as_str(), rows),
                    None => last.push((phase.as_str(), rows)),
                }
            }
        }
        last
    }

    /// From then on the voltage of this conductor is gone, and nobody says why.
    pub(crate) fn collapsed(mut self, phase: &str, at_s: f64) -> Self {
        for (name, rows) in self.last_rows() {
            for row in rows.iter_mut().filter(|row| name == phase && row.at.seconds() > at_s) {
                row.voltage = row.voltage.map(|voltage| voltage * 0.02);
                row.current = row.current_range.map(|range| range * 0.9);
            }
        }
        self
    }

    /// The meter of current showed nothing through the last energising, of one conductor or of all.
    pub(crate) fn dead(mut self, phase: Option<&str>) -> Self {
        for (name, rows) in self.last_rows() {
            if phase.is_none_or(|phase| phase == name) {
                rows.iter_mut().for_each(|row| row.current = Some(Current::ZERO));
            }
        }
        self
    }

    /// Every conductor was brought down early.
    pub(crate) fn cut_after(mut self, at_s: f64) -> Self {
        for (_, rows) in self.last_rows() {
            rows.retain(|row| row.at.seconds() <= at_s);
        }
        self
    }

    /// Every level was missed by this factor.
    pub(crate) fn level_off(mut self, factor: f64) -> Self {
        for (_, rows) in self.last_rows() {
            rows.iter_mut().for_each(|row| row.voltage = row.voltage.map(|v| v * factor));
        }
        self
    }

    /// A range was written down that cannot have held the current, in microamperes.
    pub(crate) fn on_range(mut self, part: f64) -> Self {
        for (_, rows) in self.last_rows() {
            for row in rows {
                row.current_range = row.current.map(|current| current * (part * 0.5));
            }
        }
        self
    }

    /// The last conductor, or the test at the level where there is but one, was not done.
    pub(crate) fn without_last_conductor(mut self) -> Self {
        if let Some(place) =
            self.events.iter().rposition(|event| matches!(event, Event::Energised { .. }))
        {
            self.events.truncate(place);
        }
        self
    }

    pub(crate) fn judged(&self) -> Findings {
        judge(&self.record(), library())
    }

    /// Every reading of it.
    pub(crate) fn readings(&self) -> Vec<Reading> {
        let rows = self.events.iter().filter_map(|event| match event {
            Event::Readings { rows, .. } => Some(rows.clone()),
            _ => None,
        });
        rows.flatten().collect()
    }

    pub(crate) fn record(&self) -> Record {
        Record {
            format: RECORD_FORMAT.into(),
            kind: Kind::Transcribed,
            job: self.job.clone(),
            plan: self.plan.clone(),
            source: None,
            events: self.events.iter().cloned().map(Into::into).collect(),
        }
    }
}

fn reading(line: &str) -> Reading {
    let fields: Vec<&str> = line.split_whitespace().collect();
    let number = |index: usize| fields[index].parse::<f64>().expect("a number was typed");
    let half = |index: usize| {
        let decimals = fields[index].split_once('.').map_or(0, |(_, after)| after.len());
        0.5 * 10f64.powi(-i32::try_from(decimals).expect("few decimals"))
    };
    let range = fields.get(3).map(|_| Current::from_microamperes(number(3)));
    Reading {
        at: Time::from_seconds(number(0)),
        voltage: Some(kv(number(1))),
        current: Some(Current::from_microamperes(number(2))),
        voltage_half_digit: Some(kv(half(1))),
        current_half_digit: Some(Current::from_microamperes(half(2))),
        current_range: range,
        ..Reading::default()
    }
}

/// The one finding of this kind.
pub(crate) fn finding<'a>(findings: &'a Findings, id: &str) -> &'a Finding {
    let mut found = findings.findings.iter().filter(|finding| finding.id == id);
    let one = found.next().unwrap_or_else(|| panic!("no finding {id}: {findings:#?}"));
    assert!(found.next().is_none(), "{id} stands twice at the top");
    one
}

pub(crate) fn outcome(findings: &Findings, id: &str) -> Outcome {
    finding(findings, id).outcome
}

/// To six digits and a little.
pub(crate) fn close(value: f64, expected: f64, relative: f64) {
    assert!(
        (value - expected).abs() <= expected.abs() * relative,
        "{value} is not {expected} within {relative}"
    );
}
