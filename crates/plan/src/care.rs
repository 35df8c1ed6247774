//! The checklist and the cautions: which lines belong to which job, and what they say.
//!
//! Where a line comes from is looked up in the published duties; a line without one is common
//! practice, and is printed so.

use quantity::{Time, Voltage};
use standards::words::ProtectiveItem;
use standards::{Citation, Library, Mark, duty, tolerance};

use crate::connection::lifts_low_side;
use crate::course::{Caution, Line, When};
use crate::job::{AssetClass, CableAs, Job, MeterAt};
use crate::object::cables_on;
use crate::words::at_least;

/// What decides which lines belong to a job.
pub(crate) struct Facts<'a> {
    pub(crate) job: &'a Job,
    pub(crate) test: Voltage,
    /// How long the tool's resistor stays on before the solid ground, where it comes first.
    pub(crate) tool_first: Option<Time>,
    /// Whether the meter reads leads and set too.
    pub(crate) reads_leads: bool,
}

/// Who a line is for.
#[derive(Clone, Copy)]
enum For {
    All,
    AllButProtective,
    Cable(CableAs),
    /// What is tested against something that stays on ground.
    LowSideGrounded,
    /// What is tested against something that is off ground and on the return.
    LowSideLifted,
    Machine,
    Phases,
    Switchgear,
    CablesOff,
    Protective,
    Glove,
    /// What holds charge of its own, or has capacitors beside it.
    Stores,
    FarEnd,
    Breakers,
    Capacitor,
    Arrester,
    /// Jobs whose values are read by meters of the user's own.
    OwnMeters,
}

struct Row {
    id: &'static str,
    when: When,
    who: For,
    text: &'static str,
}

const fn row(id: &'static str, when: When, who: For, text: &'static str) -> Row {
    Row { id, when, who, text }
}

/// The checklist, in the order of the work.
const CHECKLIST: &[Row] = &[
    row("qualified", When::Before, For::All, "All trained for this work, and told what is tested."),
    row("two-persons", When::Before, For::All, "Two qualified persons at least; one watches."),
    row(
        "isolate",
        When::Before,
        For::AllButProtective,
        "Isolated from every source, coupled ones too.",
    ),
    row(
        "lock-and-tag",
        When::Before,
        For::AllButProtective,
        "Each disconnecting means locked and tagged.",
    ),
    row(
        "release-energy",
        When::Before,
        For::Stores,
        "Stored charge let go: capacitors discharged, shorted, grounded; live until then.",
    ),
    row(
        "meters-before",
        When::Before,
        For::OwnMeters,
        "Meters of your own checked: a known value, or zero; known and read written down.",
    ),
    row(
        "prove-dead",
        When::Before,
        For::AllButProtective,
        "Proved dead, the tester proved before and after. \
         Proximity detectors do not see direct voltage.",
    ),
    row(
        "ground-first",
        When::Before,
        For::AllButProtective,
        "Grounds on, ground end first, by insulated tool.",
    ),
    row(
        "disconnect-others",
        When::Before,
        For::AllButProtective,
        "Arresters, voltage transformers, capacitors and electronics off; instrument leads out.",
    ),
    row(
        "calibrated",
        When::Before,
        For::All,
        "Set and meters in calibration; checked before and after.",
    ),
    row("barrier", When::Before, For::All, "Barrier and signs up at every end; people near told."),
    row(
        "look-over",
        When::Before,
        For::Protective,
        "Look over inside and out: cuts, ozone cracks, swelling. Any: out of use.",
    ),
    row("inflate", When::Before, For::Glove, "Inflate and listen; turn inside out and again."),
    row(
        "water-line",
        When::Connecting,
        For::Glove,
        "Water at the same height inside and out; edge above it dry.",
    ),
    row(
        "cable-ends",
        When::Connecting,
        For::Cable(CableAs::Feeder),
        "Far end clear, covered against corona, and watched or barred.",
    ),
    row(
        "cable-ends",
        When::Connecting,
        For::Cable(CableAs::Oversheath),
        "Screens off ground at both ends and in every link box, limiters off; each barred.",
    ),
    row(
        "cable-ends",
        When::Connecting,
        For::Cable(CableAs::SeriesCircuit),
        "Both leads off the regulator, joined, clear; vault, manholes, lights barred or watched.",
    ),
    row(
        "far-end-guarded",
        When::Connecting,
        For::FarEnd,
        "Far-end guard in place; has answered by the way agreed on.",
    ),
    row(
        "others-grounded",
        When::Connecting,
        For::LowSideGrounded,
        "All that is not under test grounded, shields too.",
    ),
    row(
        "others-grounded",
        When::Connecting,
        For::LowSideLifted,
        "All that is not under test grounded, but the low side of what is: on the return alone.",
    ),
    row(
        "others-grounded",
        When::Connecting,
        For::Cable(CableAs::Oversheath),
        "Other cables and the outside grounded; conductor tied to its screen, neither on ground.",
    ),
    row(
        "winding-ends-joined",
        When::Connecting,
        For::Machine,
        "Both ends of the tested winding joined; detectors grounded.",
    ),
    row(
        "neutral-open",
        When::Connecting,
        For::Phases,
        "Neutral open, or write: phase to phase not tested.",
    ),
    row(
        "above-dew-point",
        When::Connecting,
        For::Machine,
        "Winding above the dew point; its temperature written down.",
    ),
    row(
        "breakers-closed",
        When::Connecting,
        For::Switchgear,
        "Breakers closed or racked as the drawing says.",
    ),
    row("cables-off", When::Connecting, For::CablesOff, "Power cables off, their ends clear."),
    row(
        "ends-clear",
        When::Connecting,
        For::All,
        "High-voltage lead short, clear of everything, no sharp ends.",
    ),
    row("single-ground", When::Connecting, For::All, "One solid ground for set, tool and object."),
    row(
        "controls-checked",
        When::Connecting,
        For::All,
        "Dial at zero; trip, lamp and cut-off tried on no load.",
    ),
    row(
        "emergency-off",
        When::Connecting,
        For::All,
        "Way to cut the supply shown to all; no interlock bypassed.",
    ),
    row(
        "ground-off-last",
        When::Energised,
        For::All,
        "Announce. Ground off the tested conductor last.",
    ),
    row(
        "residual-read",
        When::ComingDown,
        For::All,
        "Dial to zero, set off; write the residual kilovolts.",
    ),
    row("ground-on", When::ComingDown, For::All, "Solid ground on and left on; write the time."),
    row(
        "rebound-check",
        When::After,
        For::AllButProtective,
        "Before handing over: ground off, watch for rebound, ground on again.",
    ),
    row(
        "meters-after",
        When::After,
        For::OwnMeters,
        "Meters of your own checked again as before: known and read, both written down.",
    ),
    row("record", When::After, For::All, "Readings, weather, set and names written; sheet signed."),
];

/// Without these lines no voltage goes on. Common practice, no source.
const HOLD_POINTS: [&str; 12] = [
    "two-persons",
    "isolate",
    "lock-and-tag",
    "prove-dead",
    "release-energy",
    "ground-first",
    "barrier",
    "far-end-guarded",
    "cables-off",
    "single-ground",
    "controls-checked",
    "look-over",
];

/// The cautions that are printed where the hand is.
const CAUTIONS: &[Row] = &[
    row(
        "maker-and-local-rules",
        When::Before,
        For::All,
        "Local codes, the maker's instructions and the person in charge stand above this sheet.",
    ),
    row(
        "lead-treated-live",
        When::Connecting,
        For::All,
        "Treat every ungrounded terminal as live.",
    ),
    row(
        "resistance-first",
        When::Connecting,
        For::Machine,
        "No overvoltage on a winding whose resistance or index is under its minimum.",
    ),
    row(
        "vacuum-xray",
        When::Energised,
        For::Breakers,
        "Open vacuum bottles can give X-rays under voltage: keep the maker's distance, at least \
         the barrier's.",
    ),
    row(
        "arrester-conducts",
        When::Energised,
        For::Arrester,
        "An arrester conducts: reference voltage and leakage only, never a withstand.",
    ),
    row(
        "contact-lost",
        When::Energised,
        For::FarEnd,
        "Contact with the far end lost: come down at once.",
    ),
    row(
        "capacitor-storage",
        When::After,
        For::Capacitor,
        "A capacitor takes charge back by itself: keep its terminals shorted until it is in use.",
    ),
    row("voltmeter-rules", When::Energised, For::All, "The dial is a hint; the voltmeter rules."),
    row(
        "raise-slowly",
        When::Energised,
        For::All,
        "No faster than the rise given; wait for the needle.",
    ),
    row(
        "stop-on-rise",
        When::Energised,
        For::All,
        "Current that climbs or jumps at constant voltage: come down.",
    ),
    row(
        "trip-is-no-limit",
        When::Energised,
        For::All,
        "The trip detects breakdown. It is not a leakage limit.",
    ),
    row(
        "trip-leaves-charge",
        When::Energised,
        For::All,
        "A trip does not discharge anything. Find its cause before going on.",
    ),
    row(
        "meter-cannot-tell",
        When::ComingDown,
        For::All,
        "Near zero the kilovolt meter cannot tell. Hazardous until grounded.",
    ),
    row(
        "adjacent-grounded",
        When::ComingDown,
        For::AllButProtective,
        "Ground the neighbours too: they may have taken charge.",
    ),
    row(
        "rebound",
        When::After,
        For::AllButProtective,
        "Charge comes back when the ground comes off early.",
    ),
];

/// Its text says how long.
const RESISTOR_FIRST: Row = row("resistor-first", When::ComingDown, For::All, "");
const CORONA: Row = row(
    "corona",
    When::Energised,
    For::AllButProtective,
    "Without a guard, corona can look like leakage at this voltage: shield the ends, compare.",
);
const BLANK_RUN: Row = row(
    "blank-run",
    When::Connecting,
    For::All,
    "The meter reads leads and set too: read them alone first and after, as a blank run.",
);
const METER_AT_HIGH_VOLTAGE: Row = row(
    "meter-at-high-voltage",
    When::Energised,
    For::All,
    "The current meter stands at the test voltage: nobody touches it, its lead or its ring.",
);

impl Facts<'_> {
    fn item(&self) -> Option<ProtectiveItem> {
        let job = self.job;
        let protective = job.asset.protective.as_ref();
        protective.filter(|_| job.asset.class == AssetClass::Protective).map(|piece| piece.item)
    }

    /// Whether grounds beside the tested part are those of every class; of an oversheath the
    /// screen is the high side.
    fn low_side_told(&self) -> bool {
        let class = self.job.asset.class;
        class != AssetClass::Protective && self.job.cable_as() != Some(CableAs::Oversheath)
    }

    fn text(&self, row: &Row) -> String {
        match self.tool_first.filter(|_| row.id == RESISTOR_FIRST.id) {
            Some(on) => format!(
                "Through the resistor first, {} at least; then solid ground. Never solid ground \
                 at once.",
                at_least(on)
            ),
            None => row.text.to_owned(),
        }
    }

    fn concerns(&self, who: For) -> bool {
        let class = self.job.asset.class;
        match who {
            For::All => true,
            For::AllButProtective => class != AssetClass::Protective,
            For::Cable(cable) => self.job.cable_as() == Some(cable),
            For::LowSideGrounded => self.low_side_told() && !lifts_low_side(self.job),
            For::LowSideLifted => self.low_side_told() && lifts_low_side(self.job),
            For::OwnMeters => !self.job.meters.is_empty(),
            For::Machine => self.job.is_machine(),
            For::Phases => self.job.is_machine() && self.job.has_phases(),
            For::Switchgear => class == AssetClass::Switchgear,
            For::CablesOff => class == AssetClass::Switchgear && !cables_on(self.job),
            For::Protective => class == AssetClass::Protective,
            For::Stores => {
                class == AssetClass::Capacitor
                    || class == AssetClass::Switchgear
                    || self.job.is_machine()
            }
            For::FarEnd => matches!(class, AssetClass::Cable | AssetClass::Busway),
            For::Breakers => matches!(class, AssetClass::Breaker | AssetClass::Switchgear),
            For::Capacitor => class == AssetClass::Capacitor,
            For::Arrester => class == AssetClass::Arrester,
            For::Glove => self.item() == Some(ProtectiveItem::Glove),
        }
    }
}

/// The checklist of one job.
pub(crate) fn checklist(facts: &Facts, library: &Library) -> Vec<Line> {
    CHECKLIST
        .iter()
        .filter(|row| facts.concerns(row.who))
        .map(|row| Line {
            id: row.id.to_owned(),
            text: row.text.to_owned(),
            when: row.when,
            source: source_of(row.id, library),
            hold_point: HOLD_POINTS.contains(&row.id),
        })
        .collect()
}

/// The cautions of one job, in the order of the work.
pub(crate) fn cautions(facts: &Facts, library: &Library) -> Vec<Caution> {
    let mut rows: Vec<&Row> = CAUTIONS.iter().filter(|row| facts.concerns(row.who)).collect();
    if facts.tool_first.is_some() {
        rows.push(&RESISTOR_FIRST);
    }
    if facts.test > tolerance::corona_above(library).value && facts.concerns(CORONA.who) {
        rows.push(&CORONA);
    }
    if facts.reads_leads {
        rows.push(&BLANK_RUN);
    }
    if facts.job.connection.meter_at == Some(MeterAt::HighVoltageEnd) {
        rows.push(&METER_AT_HIGH_VOLTAGE);
    }
    rows.sort_by_key(|row| row.when);
    rows.iter()
        .map(|row| {
            let source = source_of(row.id, library);
            Caution {
                id: row.id.to_owned(),
                text: facts.text(row),
                when: row.when,
                source: source.to_string(),
                mark: source.mark,
            }
        })
        .collect()
}

/// Where a line, a question or a part stands; common practice where no row says.
pub(crate) fn source_of(id: &str, library: &Library) -> Citation {
    duty::citation(library, id).unwrap_or_else(|| Citation {
        id: format!("practice/{id}"),
        title: "Common practice, no source".to_owned(),
        edition: String::new(),
        place: String::new(),
        mark: Mark::Practice,
    })
}
