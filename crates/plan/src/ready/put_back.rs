//! What is taken off for the test, and the list by which all of it comes back.

use standards::words::Winding;

use super::Undo;
use super::table::ASKED;
use crate::job::{AssetClass, CableAs, Job};

/// What a class has taken off beside what is asked: name, on the way in, on the way back.
#[derive(Clone, Copy)]
struct Pair(&'static str, &'static str, &'static str);

const CABLE: &[Pair] = &[
    Pair(
        "both-ends-off",
        "Both ends off the apparatus they feed and come from.",
        "Both ends back on; phase marks as they were; bolts to the maker's torque.",
    ),
    Pair(
        "screen-links",
        "Screen links and sheath voltage limiters as the diagram shows; written down.",
        "Screen links and sheath voltage limiters back at both ends, and every link box shut.",
    ),
];
const OVERSHEATH: &[Pair] = &[
    CABLE[0],
    Pair(
        "screens-lifted",
        "Screens off ground at both ends and in every link box, bonding links open; written down.",
        "Screens and bonding links back as written down, at both ends and in every link box.",
    ),
    Pair(
        "limiters-off",
        "Sheath voltage limiters off, every one, counted.",
        "Sheath voltage limiters back, counted; every link box shut.",
    ),
    Pair(
        "conductor-tied",
        "Conductor tied to its screen, at both ends.",
        "Ties between conductor and screen off, counted.",
    ),
];
const SERIES_CIRCUIT: &[Pair] = &[
    Pair(
        "regulator-off",
        "Constant-current regulator off and its cutout open; both output leads named, off, and \
         joined to each other.",
        "Output leads parted and back on the regulator as they were named; cutout as it was.",
    ),
    Pair(
        "circuit-grounds",
        "Grounds, lightning arresters and meters of the circuit off; written down.",
        "Grounds, lightning arresters and meters of the circuit back as written down.",
    ),
];
const MACHINE: &[Pair] = &[Pair(
    "line-leads-off",
    "Line leads off at the machine's terminals.",
    "Line leads back on; phase marks as they were; bolts to the maker's torque; insulated again.",
)];
const NEUTRAL: Pair = Pair(
    "neutral-opened",
    "Neutral opened, its ground and its transformer off.",
    "Neutral joined again, its ground and its transformer back.",
);
const COOLANT: Pair = Pair(
    "coolant-out",
    "Coolant drained and dried with air, where it is cooled by liquid.",
    "Coolant back, where it is cooled by liquid; flow and purity looked at.",
);
const BRUSHES: Pair =
    Pair("brushes-up", "Brushes up, supply leads off.", "Brushes down, supply leads back.");
const SWITCHGEAR: &[Pair] = &[
    Pair(
        "cables-off",
        "Power cables off and clear, or tested with the gear and said so.",
        "Power cables back on; phase marks as they were; bolts to the maker's torque.",
    ),
    Pair(
        "breakers-placed",
        "Breakers placed and closed as the drawing says; positions before written down.",
        "Breakers, shutters and ground switches back to the positions written down.",
    ),
];
const BUSWAY: &[Pair] = &[Pair(
    "links-open",
    "Links and bolted joints at both ends open.",
    "Links and joints closed; phase marks as they were; bolts to the maker's torque.",
)];
const TWO_SIDED: &[Pair] = &[Pair(
    "both-sides-off",
    "Bus and line leads off, both sides.",
    "Bus and line leads back, both sides; phase marks as they were; maker's torque.",
)];
const ONE_SIDED: &[Pair] = &[Pair(
    "leads-off",
    "Line lead off, and tied clear.",
    "Line lead back on its phase; bolt to the maker's torque.",
)];
const CAPACITOR: &[Pair] = &[Pair(
    "bus-off",
    "Bus leads and fuses off; terminals shorted and grounded till the test begins.",
    "Bus leads and fuses back; the short across the terminals taken off last.",
)];

/// What comes back whatever was taken off, in the order of the work.
const ALWAYS: [(&str, &str); 2] = [
    ("grounds-counted", "Grounds and shorts off, counted against the register: none missing."),
    ("tools-counted", "Tools, wipes and covers counted; nothing left inside; doors shut."),
];
const GAS: (&str, &str) = ("gas-pressure-read", "Gas pressure read again and written down.");
const PHASING: (&str, &str) =
    ("phasing", "Phasing checked across the open point before anything is closed.");
const PERMIT: (&str, &str) =
    ("permit-returned", "Permit returned; locks and tags off, each by whoever put it on.");

fn pairs(job: &Job) -> Vec<&'static Pair> {
    let of: &[Pair] = match job.asset.class {
        AssetClass::Cable => match job.cable_as() {
            Some(CableAs::Oversheath) => OVERSHEATH,
            Some(CableAs::SeriesCircuit) => SERIES_CIRCUIT,
            _ => CABLE,
        },
        AssetClass::Motor | AssetClass::Generator => MACHINE,
        AssetClass::Switchgear => SWITCHGEAR,
        AssetClass::Busway => BUSWAY,
        AssetClass::Breaker | AssetClass::Switch => TWO_SIDED,
        AssetClass::Insulator | AssetClass::Bushing | AssetClass::Arrester | AssetClass::Other => {
            ONE_SIDED
        }
        AssetClass::Capacitor => CAPACITOR,
        AssetClass::Protective => &[],
    };
    let mut pairs: Vec<&Pair> = of.iter().collect();
    if job.is_machine() {
        let machine = job.asset.machine.as_ref();
        let joined = machine.is_some_and(|machine| machine.neutral_open == Some(false));
        let winding = machine.and_then(|machine| machine.winding);
        if job.has_phases() && !joined {
            pairs.push(&NEUTRAL);
        }
        if matches!(winding, Some(Winding::Field | Winding::DcArmature)) {
            pairs.push(&BRUSHES);
        }
        pairs.push(&COOLANT);
    }
    if matches!(job.asset.class, AssetClass::Busway | AssetClass::Breaker | AssetClass::Switch) {
        pairs.push(&SWITCHGEAR[0]);
    }
    pairs
}

fn undone(job: &Job) -> impl Iterator<Item = (&'static str, [&'static str; 2])> {
    let class = job.asset.class;
    ASKED
        .iter()
        .filter(move |asked| asked.of.contains(&class))
        .filter_map(|asked| asked.undo.map(|undo| (asked.id, undo)))
}

fn undo(id: &str, text: &str) -> Undo {
    Undo { id: id.to_owned(), text: text.to_owned() }
}

/// Everything that is taken off or changed for the test.
pub(super) fn disconnect(job: &Job) -> Vec<Undo> {
    let own = pairs(job).into_iter().map(|Pair(id, off, _)| undo(id, off));
    own.chain(undone(job).map(|(id, [off, _])| undo(id, off))).collect()
}

/// Everything that is put back; the permit is the last.
pub(super) fn restoration(job: &Job) -> Vec<Undo> {
    let class = job.asset.class;
    if class == AssetClass::Protective {
        return Vec::new();
    }
    let own = pairs(job).into_iter().map(|Pair(id, _, back)| undo(id, back));
    let mut all: Vec<Undo> = own.chain(undone(job).map(|(id, [_, back])| undo(id, back))).collect();
    let gear = matches!(class, AssetClass::Switchgear | AssetClass::Breaker | AssetClass::Switch);
    all.extend(gear.then_some(GAS).map(|(id, text)| undo(id, text)));
    all.extend(ALWAYS.map(|(id, text)| undo(id, text)));
    let one_loop = job.cable_as() == Some(CableAs::SeriesCircuit);
    let phases = (!job.is_machine() || job.has_phases()) && !one_loop;
    let joins = matches!(
        class,
        AssetClass::Cable
            | AssetClass::Motor
            | AssetClass::Generator
            | AssetClass::Switchgear
            | AssetClass::Busway
            | AssetClass::Breaker
            | AssetClass::Switch
    );
    all.extend((phases && joins).then_some(PHASING).map(|(id, text)| undo(id, text)));
    all.push(undo(PERMIT.0, PERMIT.1));
    all
}
