//! The way down: through which resistor, for how long, and how long the ground stays on.

use physics::absorption::PowerLaw;
use physics::course::ObjectRange;
use physics::discharge::{self, Held, Tool, Unshaped};
use physics::transient::TestObject;
use quantity::{Current, Energy, Resistance, Time, Voltage};
use standards::words::GroundFamily;
use standards::{Citation, Library, safety, typical};

use crate::PlanIssue;
use crate::course::{Descent, GroundBy, PublishedGround};
use crate::job::{AccuracyOf, DischargeTool, Job, TestSet};
use crate::object::ground_family;
use crate::words::{AroundConcern, Say, at_least_kilovolts, kilovolts, upward};

/// The model is not asked beyond this; a week of grounding is an answer in itself.
const LONGEST_GROUND: Time = Time::from_hours(7.0 * 24.0);
/// First peak that a tool to be brought should not exceed. Common practice, no source.
const USUAL_PEAK: Current = Current::from_amperes(1.0);
/// Least resistor of a tool to be brought. Common practice, no source.
const USUAL_RESISTOR: Resistance = Resistance::from_kilohms(50.0);
/// Branches reach this many times beyond the time at voltage, where they no longer charge.
const OLDEST_BRANCH: f64 = 10.0;
/// Charge that comes back late: the slowest branch that is looked for, over the time at voltage.
/// Common practice, no source.
const SLOWEST_BRANCH: f64 = 5.0;
/// Absorption is reckoned from this age on; what is faster comes and goes with the capacitance.
const YOUNGEST: Time = Time::from_seconds(1.0);
/// The tool stays on this many times longer than the time to the touch limit.
const TOOL_PATIENCE: f64 = 2.0;
/// A tool is never laid on for less than a hand needs to be sure of it.
const SHORTEST_TOOL: Time = Time::from_seconds(10.0);

/// Energy in a capacitance, the upper one.
pub(crate) fn stored_most(range: &ObjectRange, test: Voltage) -> Energy {
    physics::capacitance::stored_energy(range.whole_capacitance().high, test)
}

/// Whether the resistor comes before the solid ground.
pub(crate) fn resistor_first(job: &Job, library: &Library, stored: Energy) -> bool {
    let always = ground_family(job, library) != GroundFamily::Other;
    always || stored > safety::resistor_first_above(library).value
}

/// The way down after the object was `held`; below `meter_floor` the meter in use cannot tell.
pub(crate) fn plan(
    job: &Job,
    library: &Library,
    range: &ObjectRange,
    held: Held,
    meter_floor: Option<Voltage>,
    issues: &mut Vec<PlanIssue>,
) -> (Descent, Vec<Citation>) {
    let test = held.voltage;
    let limit = safety::touch_limit(library);
    let resistor = resistor(job, test);
    let giving = Giving { held, limit: limit.value };
    let middle = Corner::middle(range);
    let charged = giving.charged(range, &Corner { strength: range.strength.high, ..middle });
    let slow =
        Corner { strength: range.strength.high, insulation: range.insulation.high, ..middle };
    let slow = giving.charged(range, &slow);
    let down_to = |path, to| {
        discharge::time_below(&slow, path, to).expect("the planned object is a valid one")
    };
    let absorbed = down_to(resistor, limit.value);
    let tool = Tool { resistance: resistor, time: patience(absorbed) };
    let model = giving.upper_ground(range, &tool);
    if model >= LONGEST_GROUND {
        let (searched, limit) = (LONGEST_GROUND, limit.value);
        issues.push(AroundConcern::GroundUnbounded { searched, limit }.say());
    }
    let late = giving.late(range);
    let published = published(job, library, held.over);
    let (ground, ground_by) = ground(&published, (model, late));
    let mut sources: Vec<Citation> = published.iter().map(|rule| rule.source.clone()).collect();
    let rebound = |short| {
        discharge::rebound(&charged, Some(&tool), short).expect("the planned object is a valid one")
    };
    let open = rebound(Time::ZERO);
    let resistor_energy =
        discharge::resistor_energy(&charged, &tool).expect("the planned object is a valid one");
    let all = taken_by_all(job, resistor_energy, held.over + ground);
    say_of_tool(job, test, (resistor_energy, all), resistor, issues);
    sources.push(limit.source);
    let descent = Descent {
        resistor,
        tool_at_hand: job.discharge_tool.as_ref().is_some_and(|tool| tool.resistance.is_some()),
        resistor_first: resistor_first(job, library, stored_most(range, test)),
        peak: discharge::peak_current(resistor, test),
        peak_watts: Some(discharge::peak_watts(resistor, test)),
        resistor_energy,
        all_energy: Some(all),
        touch_limit: limit.value,
        to_50v: discharge::time_to(resistor, charged.capacitance, test, limit.value),
        to_limit_with_absorption: Some(absorbed),
        bleed_to_tenth: job.set.bleed.map(|bleed| down_to(bleed, test / 10.0)),
        bleed_to_limit: job.set.bleed.map(|bleed| down_to(bleed, limit.value)),
        ground,
        ground_by,
        model_ground: model,
        late_ground: Some(late),
        published_grounds: published,
        rebound: open.peak,
        rebound_peak_after: Some(open.at),
        rebound_after_ground: rebound(ground).peak,
        meter_floor,
    };
    (descent, sources)
}

/// What an object gives back after it was held otherwise than planned, or is told better.
pub(crate) struct Anew {
    /// The model's upper bound of the ground time.
    pub(crate) model: Time,
    /// The same for charge that comes back late.
    pub(crate) late: Time,
    most: TestObject,
    usual: TestObject,
    tool: Tool,
}

impl Anew {
    /// What it comes back to after the tool and so long a ground, at the most or usually.
    pub(crate) fn rebound(&self, most: bool, short: Time) -> Voltage {
        let charged = if most { &self.most } else { &self.usual };
        discharge::rebound(charged, Some(&self.tool), short).map_or(Voltage::ZERO, |one| one.peak)
    }
}

/// The same questions as for a plan, of an object that was `held` so; `late` is what late charge is
/// looked at with. `None` where the object is no valid one.
pub(crate) fn anew(
    (range, late): (&ObjectRange, &ObjectRange),
    held: Held,
    limit: Voltage,
    resistor: Resistance,
) -> Option<Anew> {
    let giving = Giving { held, limit };
    let middle = Corner::middle(range);
    let most = Corner { strength: range.strength.high, ..middle };
    let slow = Corner { insulation: range.insulation.high, ..most };
    let object = |corner: &Corner| giving.try_charged(range, corner);
    let absorbed = discharge::time_below(&object(&slow)?, resistor, limit).ok()?;
    let tool = Tool { resistance: resistor, time: patience(absorbed) };
    Some(Anew {
        model: giving.upper_ground(range, &tool),
        late: giving.late(late),
        most: object(&most)?,
        usual: object(&middle)?,
        tool,
    })
}

/// What the tool holds when every conductor is discharged and nothing of it cools meanwhile.
fn taken_by_all(job: &Job, one: Energy, every: Time) -> Energy {
    let conductors = u32::try_from(job.conductors().len()).unwrap_or(u32::MAX).max(1);
    discharge::repeated(one, conductors, every).without_cooling
}

/// How long the tool stays on.
pub(crate) fn tool_on(down: &Descent) -> Time {
    patience(down.to_limit())
}

fn patience(to_limit: Time) -> Time {
    (to_limit * TOOL_PATIENCE).max(SHORTEST_TOOL)
}

/// Below this the kilovolt meter in use cannot tell.
pub(crate) fn meter_floor(
    set: &TestSet,
    range: Option<Voltage>,
    library: &Library,
) -> Option<Voltage> {
    let needle = typical::needle(library).value.floor;
    let part = match (set.accuracy, set.accuracy_of) {
        (Some(accuracy), AccuracyOf::Range) => accuracy.value().max(needle),
        _ => needle,
    };
    range.map(|range| range * part)
}

/// One choice among what the object may be.
#[derive(Clone, Copy)]
struct Corner {
    strength: f64,
    exponent: f64,
    insulation: Resistance,
}

impl Corner {
    fn middle(range: &ObjectRange) -> Self {
        Self {
            strength: range.strength.mid,
            exponent: range.exponent.mid,
            insulation: range.insulation.mid,
        }
    }
}

/// What the object will give back, and the limit it must stay below.
///
/// It is taken to have been at its level from the first moment: a hand is slower than a plan, and a
/// rise in steps charges less, so that this only lengthens.
struct Giving {
    held: Held,
    limit: Voltage,
}

impl Giving {
    /// The object as it stands when the voltage goes off, with the upper capacitance.
    fn charged(&self, range: &ObjectRange, corner: &Corner) -> TestObject {
        self.try_charged(range, corner).expect("the planned object is a valid one")
    }

    fn try_charged(&self, range: &ObjectRange, corner: &Corner) -> Option<TestObject> {
        let capacitance = range.whole_capacitance().high;
        // Of an unknown length the longer one conducts more, too.
        let extent = capacitance / range.capacitance.high;
        let law = PowerLaw { strength: corner.strength, exponent: corner.exponent };
        let oldest = self.held.over * OLDEST_BRANCH;
        let object = TestObject {
            capacitance,
            insulation: Some(corner.insulation / extent),
            start: Voltage::ZERO,
            branches: law.branches(capacitance, YOUNGEST, oldest),
            surface: None,
            onset: None,
        };
        self.held.charge(&object).ok()
    }

    fn ground(&self, range: &ObjectRange, tool: &Tool, corner: &Corner) -> Time {
        let charged = self.charged(range, corner);
        discharge::ground_time(&charged, Some(tool), self.limit, LONGEST_GROUND)
            .expect("the planned object is a valid one")
            .time
    }

    /// The ground time where the absorbed charge is as much as is typical at the most, and spread
    /// over time in another way than the law has it.
    fn late(&self, range: &ObjectRange) -> Time {
        let slowest = (self.held.over * SLOWEST_BRANCH).max(YOUNGEST);
        let law = PowerLaw { strength: range.strength.high, exponent: range.exponent.mid };
        let decay = range.whole_insulation().high * range.whole_capacitance().high;
        let share = law.taken_up(YOUNGEST, slowest);
        let absorbed = Unshaped { share, slowest, decay: Some(decay) };
        discharge::ground_time_unshaped(self.held, absorbed, self.limit)
            .expect("the planned object is a valid one")
    }

    /// The 97.5 % point of the ground time: doubts that are independent add as squares of their
    /// effect on its logarithm (JCGM 100, 5.1.2, first order).
    fn upper_ground(&self, range: &ObjectRange, tool: &Tool) -> Time {
        let middle = Corner::middle(range);
        let log = |corner: &Corner| self.ground(range, tool, corner).seconds().max(1.0).ln();
        let centre = log(&middle);
        let corners = [
            Corner { strength: range.strength.high, ..middle },
            Corner { exponent: range.exponent.low, ..middle },
            Corner { insulation: range.insulation.high, ..middle },
        ];
        let squares: f64 =
            corners.iter().map(|corner| (log(corner) - centre).max(0.0).powi(2)).sum();
        Time::from_seconds((centre + squares.sqrt()).exp()).min(LONGEST_GROUND)
    }
}

/// What each published rule asks for after so long at voltage.
fn published(job: &Job, library: &Library, at_voltage: Time) -> Vec<PublishedGround> {
    let rules = safety::grounding_rules(library, ground_family(job, library)).into_iter();
    rules
        .map(|rule| PublishedGround {
            times_at_voltage: rule.value.times_at_voltage,
            at_least: rule.value.at_least,
            ground: (at_voltage * rule.value.times_at_voltage).max(rule.value.at_least),
            source: rule.source,
        })
        .collect()
}

/// The longest of the model, what late charge asks for, the published multiple and minimum.
fn ground(published: &[PublishedGround], (model, late): (Time, Time)) -> (Time, GroundBy) {
    let mut longest =
        if late > model { (late, GroundBy::LateCharge) } else { (model, GroundBy::Model) };
    for rule in published {
        let by_multiple = rule.ground > rule.at_least;
        let by = if by_multiple { GroundBy::TimeAtVoltage } else { GroundBy::PublishedMinimum };
        if rule.ground > longest.0 {
            longest = (rule.ground, by);
        }
    }
    (whole_minutes(longest.0), longest.1)
}

/// How long the ground stays on after a resistance test before the steps: as after the same test on
/// a sheet of its own.
pub(crate) fn after_resistance(
    job: &Job,
    library: &Library,
    range: &ObjectRange,
    held: Held,
) -> Time {
    let giving = Giving { held, limit: safety::touch_limit(library).value };
    let middle = Corner::middle(range);
    let slow =
        Corner { strength: range.strength.high, insulation: range.insulation.high, ..middle };
    let slow = giving.charged(range, &slow);
    let resistor = resistor(job, held.voltage);
    let absorbed = discharge::time_below(&slow, resistor, giving.limit)
        .expect("the planned object is a valid one");
    let tool = Tool { resistance: resistor, time: patience(absorbed) };
    let model = giving.upper_ground(range, &tool);
    ground(&published(job, library, held.over), (model, giving.late(range))).0
}

pub(crate) fn whole_minutes(time: Time) -> Time {
    Time::from_minutes((time.minutes() - 1e-9).ceil().max(1.0))
}

/// The tool's resistor, or that of one to be brought.
fn resistor(job: &Job, test: Voltage) -> Resistance {
    let usual = USUAL_RESISTOR.max(test / USUAL_PEAK);
    job.discharge_tool.as_ref().and_then(|tool| tool.resistance).unwrap_or(usual)
}

/// A tool that cannot take the object, with what its absorption gives back, refuses.
fn say_of_tool(
    job: &Job,
    test: Voltage,
    (joules, all): (Energy, Energy),
    resistance: Resistance,
    issues: &mut Vec<PlanIssue>,
) {
    match &job.discharge_tool {
        Some(tool) => check_tool(tool, test, (joules, all), issues),
        None => issues.push(AroundConcern::ToolMissing { kv: test, joules, resistance }.say()),
    }
}

fn check_tool(
    tool: &DischargeTool,
    test: Voltage,
    (one, all): (Energy, Energy),
    issues: &mut Vec<PlanIssue>,
) {
    let mut small = |what, has: String, needs: String| {
        issues.push(AroundConcern::ToolTooSmall { what, has, needs }.say());
    };
    if let Some(rated) = tool.rated.filter(|rated| *rated < test) {
        small("voltage", kilovolts(rated), at_least_kilovolts(test));
    }
    let Some(rated) = tool.rated_energy else { return };
    if rated < one {
        let needs = Energy::from_joules(upward(one.joules(), 3));
        small("energy", format!("{rated:.3}"), format!("{needs:.3}"));
    } else if rated < all {
        issues.push(AroundConcern::ToolMustCool { rated, one, all }.say());
    }
}

#[cfg(test)]
mod tests {
    use quantity::{Band, Capacitance};
    use standards::words::System;

    use super::*;

    fn giving() -> Giving {
        Giving {
            held: Held { voltage: Voltage::from_kilovolts(25.0), over: Time::from_minutes(20.0) },
            limit: Voltage::from_volts(50.0),
        }
    }

    const TOOL: Tool = Tool { resistance: USUAL_RESISTOR, time: SHORTEST_TOOL };

    fn certain() -> ObjectRange {
        ObjectRange {
            capacitance: Band::certain(Capacitance::from_nanofarads(200.0)),
            insulation: Band::certain(Resistance::from_megohms(10_000.0)),
            strength: Band::certain(0.005),
            exponent: Band::certain(0.85),
            extent: Band::certain(1.0),
        }
    }

    /// JCGM 100, 5.1.2: without doubt the bound is the value; one doubt alone moves it by its own
    /// effect; two independent ones by the root of the sum of squares, so by less than their sum.
    #[test]
    fn independent_doubts_of_the_ground_time_add_as_squares() {
        let giving = giving();
        let sure = certain();
        let log = |range: &ObjectRange| giving.upper_ground(range, &TOOL).seconds().ln();
        let middle = giving.ground(&sure, &TOOL, &Corner::middle(&sure)).seconds().ln();
        assert!((log(&sure) - middle).abs() < 1e-9);

        let strong = ObjectRange { strength: Band { high: 0.02, ..sure.strength }, ..sure };
        let dry = Resistance::from_megohms(80_000.0);
        let dry = ObjectRange { insulation: Band { high: dry, ..sure.insulation }, ..sure };
        let both = ObjectRange { insulation: dry.insulation, ..strong };
        let (one, other) = (log(&strong) - middle, log(&dry) - middle);
        assert!(one > 0.1 && other > 0.1, "{one} {other}");
        assert!((log(&both) - middle - one.hypot(other)).abs() < 1e-9);
    }

    /// A standard normal number for each place: SplitMix64 over a counter, and the method of Box
    /// and Muller (1958).
    fn normal(draw: u64, column: u64) -> f64 {
        let even = |counter: u64| {
            let mut bits = (counter + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            ((bits ^ (bits >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
        };
        let place = 2 * (8 * draw + column);
        let radius = (-2.0 * (1.0 - even(place)).ln()).sqrt();
        radius * (std::f64::consts::TAU * even(place + 1)).cos()
    }

    /// JCGM 101: the same bound by draws of strength, exponent and conduction. The first order is
    /// not to fall short of it by more than draws can tell, nor to be far beyond.
    #[test]
    fn the_first_order_bound_is_that_of_a_monte_carlo() {
        let library = Library::published();
        let giving = giving();
        let systems = [
            System::Polyethylene,
            System::EthyleneRubber,
            System::Laminated,
            System::ResinMica,
            System::AsphaltMica,
        ];
        for system in systems {
            let typical = typical::absorption(&library, system).value;
            let range = ObjectRange {
                insulation: typical::resistance(&library, system).value,
                strength: typical.strength,
                exponent: typical.exponent,
                ..certain()
            };
            let log_normal = |band: Band<f64>, z: f64| {
                let end = if z < 0.0 { band.mid / band.low } else { band.high / band.mid };
                band.mid * end.powf(z / 1.959_964)
            };
            let mut drawn: Vec<f64> = (0..DRAWS)
                .map(|draw| {
                    let corner = Corner {
                        strength: log_normal(range.strength, normal(draw, 0)),
                        exponent: log_normal(range.exponent, normal(draw, 1)),
                        insulation: Resistance::from_ohms(log_normal(
                            range.insulation.map(Resistance::ohms),
                            normal(draw, 2),
                        )),
                    };
                    giving.ground(&range, &TOOL, &corner).seconds().max(1.0)
                })
                .collect();
            drawn.sort_by(f64::total_cmp);
            let most = drawn[DRAWS as usize * 975 / 1000 - 1];
            let first_order = giving.upper_ground(&range, &TOOL).seconds();
            println!("{system:?}: drawn {most:.0} s, first order {first_order:.0} s");
            let ratio = first_order / most;
            assert!((0.7..1.6).contains(&ratio), "{system:?}: {ratio}");
        }
    }

    const DRAWS: u64 = 1000;
}
