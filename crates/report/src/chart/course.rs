//! What was planned for one application of voltage, ready to be drawn.

use plan::Plan;
use plan::course::{ExpectedBand, ExpectedReading, Step};
use quantity::{Band, Current, Time, Voltage};

/// Which part of a plan is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The insulation resistance test before the steps.
    Resistance,
    /// The steps and the hold.
    Steps,
}

impl Part {
    /// The part that an application belongs to: the insulation resistance test, where the plan has
    /// one and the voltage stayed at its level.
    #[must_use]
    pub fn of(plan: &Plan, highest: Voltage) -> Self {
        match &plan.resistance_test {
            Some(test) if highest.volts() <= test.voltage.volts() * 1.1 => Self::Resistance,
            _ => Self::Steps,
        }
    }
}

/// What was planned.
pub(crate) struct Course<'a> {
    pub(crate) name: &'static str,
    pub(crate) outline: Vec<(Time, Voltage)>,
    /// What is drawn of the current to expect, piece by piece.
    pub(crate) bands: Vec<Vec<(Time, Band<Current>)>>,
    readings: Vec<&'a [ExpectedReading]>,
    /// The trip at the last level.
    pub(crate) trip: Option<Current>,
    /// The trip as it is set from energising on: another while the voltage rises to the last level.
    pub(crate) trips: Vec<(Time, Current)>,
    pub(crate) end: Time,
    /// The longest time between two planned readings of the last level.
    pub(crate) interval: Option<Time>,
}

impl<'a> Course<'a> {
    pub(crate) fn of(plan: &'a Plan, part: Part) -> Self {
        match &plan.resistance_test {
            Some(test) if part == Part::Resistance => Self {
                name: "insulation resistance",
                outline: vec![(Time::ZERO, test.voltage), (test.dwell, test.voltage)],
                bands: drawn(&test.band, &[&test.readings]),
                readings: vec![&test.readings],
                trip: None,
                trips: Vec::new(),
                end: test.dwell,
                interval: interval(&test.readings, test.dwell),
            },
            _ => Self::steps(plan),
        }
    }

    fn steps(plan: &'a Plan) -> Self {
        let mut now = Time::ZERO;
        let mut outline = vec![(now, Voltage::ZERO)];
        for step in &plan.course {
            now = now + step.rise_time;
            outline.push((now, step.level));
            now = now + step.dwell;
            outline.push((now, step.level));
        }
        let readings = |step: &'a Step| step.readings.as_slice();
        let readings: Vec<&[ExpectedReading]> = plan.course.iter().map(readings).collect();
        Self {
            name: "test",
            outline,
            bands: drawn(&plan.band, &readings),
            readings,
            trip: plan.trip,
            trips: trips(plan),
            end: now,
            interval: plan.course.last().and_then(|hold| interval(&hold.readings, hold.dwell)),
        }
    }

    /// The highest level.
    pub(crate) fn level(&self) -> Voltage {
        self.outline.iter().map(|point| point.1).fold(Voltage::ZERO, Voltage::max)
    }

    /// The last level at the beginning of its hold, to its end.
    pub(crate) fn hold(&self) -> Option<(Time, Time)> {
        let [.., (from, _), (to, _)] = self.outline[..] else { return None };
        Some((from, to))
    }

    /// What was expected at the planned reading before this time, or at the first one.
    pub(crate) fn expected(&self, at: Time) -> Option<Band<Current>> {
        let mut all = self.readings.iter().copied().flatten();
        let first = all.clone().next()?;
        let before = all.rfind(|one| one.since_start <= at);
        Some(before.unwrap_or(first).expected)
    }
}

/// Corner by corner: each step's own while it rises and stays, the plan's at the last level.
fn trips(plan: &Plan) -> Vec<(Time, Current)> {
    let mut now = Time::ZERO;
    let mut corners = Vec::new();
    for (index, step) in plan.course.iter().enumerate() {
        let reached = now + step.rise_time;
        let left = reached + step.dwell;
        let is_last = index + 1 == plan.course.len();
        let at_level = if is_last { plan.trip } else { step.trip };
        corners.extend(step.trip.into_iter().flat_map(|trip| [(now, trip), (reached, trip)]));
        corners.extend(at_level.into_iter().flat_map(|trip| [(reached, trip), (left, trip)]));
        now = left;
    }
    corners
}

/// The plan's own band all along; of a plan that has none, its readings, step by step.
fn drawn(band: &ExpectedBand, readings: &[&[ExpectedReading]]) -> Vec<Vec<(Time, Band<Current>)>> {
    if !band.is_empty() {
        return vec![band.rows().collect()];
    }
    let row = |one: &ExpectedReading| (one.since_start, one.expected);
    readings.iter().map(|step| step.iter().map(row).collect()).collect()
}

fn interval(readings: &[ExpectedReading], dwell: Time) -> Option<Time> {
    let mut times: Vec<f64> = readings.iter().map(|one| one.at.seconds()).collect();
    times.extend([0.0, dwell.seconds()]);
    times.sort_by(f64::total_cmp);
    let longest = times.windows(2).map(|two| two[1] - two[0]).fold(0.0, f64::max);
    (longest > 0.0).then_some(Time::from_seconds(longest))
}
