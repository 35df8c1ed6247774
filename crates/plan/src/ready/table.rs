//! The table of what is asked: of which classes, and what a wrong answer means.

use crate::job::AssetClass::{self, *};
use crate::ready::Answers;

/// One thing that is asked, and answered with yes or no.
pub(super) struct Asked {
    pub(super) id: &'static str,
    /// The key of the job file, in the table `ready`.
    pub(super) key: &'static str,
    pub(super) of: &'static [AssetClass],
    pub(super) text: &'static str,
    /// The answer that lets the test go on.
    pub(super) good: bool,
    pub(super) get: fn(&Answers) -> Option<bool>,
    /// Why the other answer refuses.
    pub(super) why: &'static str,
    pub(super) remedy: &'static str,
    /// What is done for the test, and undone after it.
    pub(super) undo: Option<[&'static str; 2]>,
}

/// What stands in a circuit, with other apparatus joined to it.
const JOINED: &[AssetClass] = &[
    Cable, Motor, Generator, Switchgear, Busway, Breaker, Switch, Insulator, Bushing, Capacitor,
    Other,
];
const OPEN_AIR: &[AssetClass] = &[
    Cable, Motor, Generator, Switchgear, Busway, Breaker, Switch, Insulator, Bushing, Arrester,
    Capacitor, Other,
];
const MACHINES: &[AssetClass] = &[Motor, Generator];
const GEAR: &[AssetClass] = &[Switchgear, Busway, Breaker, Switch];

/// What is answered with yes or no, in the order of the work.
pub(super) const ASKED: &[Asked] = &[
    Asked {
        id: "hydrogen-purged",
        key: "hydrogen_purged",
        of: &[Generator],
        text: "Purged of hydrogen, and measured; or never cooled by it?",
        good: true,
        get: |said| said.hydrogen_purged,
        why: "Hydrogen is in the machine: a flashover can set it off.",
        remedy: "Purge it by the maker's procedure, measure, then ask again.",
        undo: Some([
            "Hydrogen purged, where the machine is cooled by it.",
            "Gas back to its purity and pressure, where it was purged.",
        ]),
    },
    Asked {
        id: "gas-pressure",
        key: "gas_at_rated_pressure",
        of: GEAR,
        text: "Gas-filled parts at rated pressure, or none there?",
        good: true,
        get: |said| said.gas_at_rated_pressure,
        why: "Gas-filled parts are below rated pressure: they hold less than they are tested with.",
        remedy: "Fill to rated pressure at the temperature of the day, and look for the leak.",
        undo: None,
    },
    Asked {
        id: "cables-off",
        key: "cables_off",
        of: &[Busway, Breaker, Switch],
        text: "Power cables off?",
        good: true,
        get: |said| said.cables_off,
        why: "Power cables are still connected: their level is not that of the gear.",
        remedy: "Take the cables off, clear their ends, and test them on a sheet of their own.",
        undo: None,
    },
    Asked {
        id: "voltage-transformers-off",
        key: "voltage_transformers_off",
        of: JOINED,
        text: "Voltage transformers off or racked out, or none there?",
        good: true,
        get: |said| said.voltage_transformers_off,
        why: "A voltage transformer is connected: it is a path to ground, and it steps up.",
        remedy: "Rack it out or take its fuses and leads off; ground its winding.",
        undo: Some([
            "Voltage transformers racked out or off.",
            "Voltage transformers back, with their fuses.",
        ]),
    },
    Asked {
        id: "control-transformers-off",
        key: "control_transformers_off",
        of: &[Switchgear, Busway, Breaker, Switch, Motor, Generator],
        text: "Control transformers off, or none there?",
        good: true,
        get: |said| said.control_transformers_off,
        why: "A control transformer is connected: it is a path to ground, not made for this.",
        remedy: "Take its primary fuses and leads off.",
        undo: Some(["Control transformers off.", "Control transformers back, with their fuses."]),
    },
    Asked {
        id: "arresters-off",
        key: "arresters_off",
        of: JOINED,
        text: "Surge arresters off, or none there?",
        good: true,
        get: |said| said.arresters_off,
        why: "A surge arrester is connected: it conducts, the object goes untested, it may fail.",
        remedy: "Take its line lead off and tie it clear.",
        undo: Some(["Surge arresters off.", "Surge arresters back, line lead and ground lead."]),
    },
    Asked {
        id: "surge-capacitors-off",
        key: "surge_capacitors_off",
        of: &[Motor, Generator, Switchgear, Busway, Breaker, Switch, Cable],
        text: "Surge capacitors off, discharged and shorted, or none there?",
        good: true,
        get: |said| said.surge_capacitors_off,
        why: "A surge capacitor is connected: its charge and leakage pass for the object's.",
        remedy: "Take it off, discharge it, and leave its terminals shorted.",
        undo: Some([
            "Surge capacitors off and shorted.",
            "Surge capacitors back; their shorts taken off last.",
        ]),
    },
    Asked {
        id: "drives-off",
        key: "drives_off",
        of: &[Motor, Generator, Cable, Switchgear, Busway],
        text: "Drives, starters and exciters off, or none there?",
        good: true,
        get: |said| said.drives_off,
        why: "A drive is connected: this voltage destroys it.",
        remedy: "Take the leads off at the object, not at the drive.",
        undo: Some(["Drives, starters and exciters off.", "Drives, starters and exciters back."]),
    },
    Asked {
        id: "electronics-off",
        key: "electronics_off",
        of: JOINED,
        text: "Relays, meters, monitors and other electronics off, or none there?",
        good: true,
        get: |said| said.electronics_off,
        why: "Electronics are connected: this voltage, or what it induces, destroys them.",
        remedy: "Take their leads off and ground those leads.",
        undo: Some([
            "Relays, meters and monitors off.",
            "Relays, meters and monitors back; protection in service again.",
        ]),
    },
    Asked {
        id: "current-transformers-shorted",
        key: "current_transformers_shorted",
        of: &[Switchgear, Busway, Breaker, Bushing, Motor, Generator],
        text: "Secondaries of current transformers shorted and grounded, or none there?",
        good: true,
        get: |said| said.current_transformers_shorted,
        why: "A current transformer's secondary is open: it can take a dangerous voltage.",
        remedy: "Short it at its own block and ground it.",
        undo: Some([
            "Secondaries of current transformers shorted and grounded.",
            "Shorting links of current transformers opened again, burden connected.",
        ]),
    },
    Asked {
        id: "detectors-grounded",
        key: "detectors_grounded",
        of: MACHINES,
        text: "Temperature detectors and their leads grounded, or none there?",
        good: true,
        get: |said| said.detectors_grounded,
        why: "Temperature detectors float in the winding: they take charge, and bring it out.",
        remedy: "Take their leads off the instruments; short and ground all of them.",
        undo: Some([
            "Temperature detectors off their instruments, shorted and grounded.",
            "Temperature detectors back on their instruments.",
        ]),
    },
    Asked {
        id: "backfeed-looked-for",
        key: "backfeed_looked_for",
        of: OPEN_AIR,
        text: "Backfeed looked for: generators, tie lines, transformers, heaters?",
        good: true,
        get: |said| said.backfeed_looked_for,
        why: "Nobody looked for backfeed: a second source may come back on.",
        remedy: "Follow the one-line drawing to every source; isolate, lock and tag each.",
        undo: None,
    },
    Asked {
        id: "no-thunder",
        key: "thunder",
        of: OPEN_AIR,
        text: "Thunder within hearing?",
        good: false,
        get: |said| said.thunder,
        why: "Thunder is within hearing: a stroke can reach what you hold, from far away.",
        remedy: "Stop, ground everything, leave it. Come back when the storm has gone.",
        undo: None,
    },
];
