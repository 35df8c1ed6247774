//! What stands on the invented site, and every test of it in the years before.

use practice::FaultKind;

/// One object.
pub(super) struct Object {
    pub(super) id: &'static str,
    /// Its plate, as a job file has it; `{years}` stands for the years in service.
    pub(super) plate: &'static str,
    /// In service since this year.
    pub(super) since: i16,
    pub(super) low_side: &'static str,
    /// What it is drawn by: the same in every test of it.
    pub(super) seed: u64,
    pub(super) tests: &'static [Test],
}

/// One test.
pub(super) struct Test {
    pub(super) on: &'static str,
    pub(super) purpose: &'static str,
    pub(super) method: Option<&'static str>,
    pub(super) set: Set,
    pub(super) object_c: f64,
    /// Insulation resistance, in parts of what it was drawn with.
    pub(super) dry: f64,
    pub(super) ail: Option<Ail>,
    pub(super) ending: Ending,
    /// Whether somebody has signed it.
    pub(super) signed: bool,
}

/// What is wrong, and with which conductor.
#[derive(Clone, Copy)]
pub(super) enum Ail {
    /// As large as it is plainly seen.
    Plain(FaultKind, &'static str),
    /// Moist: so many times less insulation resistance.
    Moist(f64, &'static str),
}

/// How it ends.
#[derive(Clone, Copy)]
pub(super) enum Ending {
    /// As the plan and the object have it.
    Planned,
    /// The hand switches off, so long into the hold.
    Aborted { after_s: f64, why: &'static str },
    /// With the last conductor just grounded, the record open.
    Grounded,
}

/// Which set was used.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Set {
    /// The old 40 kV set.
    One,
    /// The 80 kV set.
    Two,
    /// The set for windings, to 20 kV.
    Three,
}

impl Set {
    pub(super) const ALL: [Self; 3] = [Self::One, Self::Two, Self::Three];

    /// Its name and its nameplate.
    pub(super) const fn plate(self) -> (&'static str, &'static str) {
        match self {
            Self::One => ("Set 1", SET_ONE),
            Self::Two => ("Set 2", SET_TWO),
            Self::Three => ("Set 3", SET_THREE),
        }
    }

    /// Days it was calibrated on, the earliest first, with the certificate; each holds a year.
    pub(super) const fn calibrations(self) -> &'static [(&'static str, &'static str)] {
        match self {
            // The year that was left out is what made a test of 2023 void.
            Self::One => &[
                ("2019-01-14", "TH-0119"),
                ("2020-01-20", "TH-0127"),
                ("2021-01-18", "TH-0140"),
                ("2023-03-06", "TH-0171"),
                ("2024-02-26", "TH-0186"),
                ("2025-02-17", "TH-0203"),
                ("2025-12-08", "TH-0219"),
            ],
            Self::Two => &[
                ("2019-02-25", "TH-0121"),
                ("2020-02-24", "TH-0129"),
                ("2021-02-22", "TH-0142"),
                ("2022-02-28", "TH-0158"),
                ("2023-03-06", "TH-0172"),
                ("2024-03-04", "TH-0187"),
                ("2025-03-03", "TH-0204"),
                ("2026-03-02", "TH-0226"),
            ],
            Self::Three => &[
                ("2020-05-04", "TH-0131"),
                ("2021-05-10", "TH-0145"),
                ("2022-05-09", "TH-0161"),
                ("2023-05-15", "TH-0175"),
                ("2024-05-13", "TH-0190"),
                ("2025-05-12", "TH-0208"),
                ("2026-05-11", "TH-0230"),
            ],
        }
    }
}

const SET_ONE: &str = r#"
[set]
id = "Set 1"
rated_kv = 60.0
rated_ma = 5.0
voltmeter_ranges_kv = [30.0, 60.0]
ammeter_ranges_ua = [10.0, 100.0, 1000.0, 5000.0]
dial_full_kv = [60.0]
bleed_mohm = 600.0
accuracy_percent = 3.0
accuracy_of = "range"
trip_ma = [0.1, 5.0]
"#;

const SET_TWO: &str = r#"
[set]
id = "Set 2"
rated_kv = 80.0
rated_ma = 5.0
voltmeter_ranges_kv = [20.0, 40.0, 80.0]
ammeter_ranges_ua = [1.0, 10.0, 100.0, 1000.0, 5000.0]
dial_full_kv = [20.0, 40.0, 80.0]
bleed_mohm = 900.0
accuracy_percent = 2.0
accuracy_of = "range"
ripple_percent = 3.0
trip_ma = [0.1, 5.0]
"#;

const SET_THREE: &str = r#"
[set]
id = "Set 3"
rated_kv = 30.0
rated_ma = 5.0
voltmeter_ranges_kv = [5.0, 15.0, 30.0]
ammeter_ranges_ua = [1.0, 10.0, 100.0, 1000.0, 5000.0]
dial_full_kv = [30.0]
bleed_mohm = 900.0
accuracy_percent = 1.0
accuracy_of = "reading"
ripple_percent = 1.0
trip_ma = [0.1, 5.0]
"#;

const fn test(on: &'static str, purpose: &'static str, set: Set, object_c: f64) -> Test {
    Test {
        on,
        purpose,
        method: None,
        set,
        object_c,
        dry: 1.0,
        ail: None,
        ending: Ending::Planned,
        signed: true,
    }
}

impl Test {
    const fn step(mut self) -> Self {
        self.method = Some("step");
        self
    }

    const fn resistance(mut self) -> Self {
        self.method = Some("resistance");
        self
    }

    const fn dry(mut self, dry: f64) -> Self {
        self.dry = dry;
        self
    }

    const fn with(mut self, kind: FaultKind, conductor: &'static str) -> Self {
        self.ail = Some(Ail::Plain(kind, conductor));
        self
    }

    const fn moist(mut self, times: f64, conductor: &'static str) -> Self {
        self.ail = Some(Ail::Moist(times, conductor));
        self
    }

    const fn ends(mut self, ending: Ending) -> Self {
        self.ending = ending;
        self
    }

    const fn unsigned(mut self) -> Self {
        self.signed = false;
        self
    }
}

const KEEP: &str = "maintenance";
const NEW: &str = "acceptance";
const PROOF: &str = "proof";

/// The paper cables, with no figure that nobody has.
macro_rules! paper {
    ($length:literal) => {
        concat!(
            "class = \"cable\"\nrated_kv = 15.0\nconductors = [\"L1\", \"L2\", \"L3\"]\n\n",
            "[asset.cable]\ninsulation = \"pilc\"\ninsulation_level_percent = 100\nlength_m = ",
            $length,
            "\ncapacitance_nf_per_km = 380.0\nin_service_years = {years}\n",
            "separable_connectors = false\njacket = \"metallic\"\nterminator_dc_kv = 75.0\n"
        )
    };
}

macro_rules! rubber_cable {
    ($length:literal) => {
        concat!(
            "class = \"cable\"\nrated_kv = 15.0\nconductors = [\"L1\", \"L2\", \"L3\"]\n\n",
            "[asset.cable]\ninsulation = \"epr\"\ninsulation_level_percent = 133\nlength_m = ",
            $length,
            "\ncapacitance_nf_per_km = 250.0\nin_service_years = {years}\n",
            "separable_connectors = false\njacket = \"nonmetallic\"\nterminator_dc_kv = 105.0\n"
        )
    };
}

macro_rules! machine {
    ($class:literal, $kv:literal, $built:literal, $mva:literal, $nf:literal) => {
        concat!(
            "class = \"",
            $class,
            "\"\nrated_kv = ",
            $kv,
            "\n\n[asset.machine]\nwinding = \"form-wound\"\nwinding_state = \"in-service\"\n",
            "thermal_class = \"F\"\nbuilt_year = ",
            $built,
            "\nrated_mva = ",
            $mva,
            "\ncapacitance_nf = ",
            $nf,
            "\nneutral_open = true\n"
        )
    };
}

macro_rules! gear {
    ($kv:literal) => {
        concat!(
            "class = \"switchgear\"\nrated_kv = ",
            $kv,
            "\n\n[asset.switchgear]\nkind = \"metal-clad\"\ncables_connected = false\n"
        )
    };
}

macro_rules! rubber {
    ($item:literal, $class:literal, $pieces:literal) => {
        concat!(
            "class = \"protective\"\nconductors = [",
            $pieces,
            "]\n\n[asset.protective]\nitem = \"",
            $item,
            "\"\nclass = \"",
            $class,
            "\"\n"
        )
    };
}

const fn object(
    id: &'static str,
    since: i16,
    seed: u64,
    plate: &'static str,
    tests: &'static [Test],
) -> Object {
    Object { id, plate, since, low_side: "grounded", seed, tests }
}

const fn pieces(
    id: &'static str,
    seed: u64,
    plate: &'static str,
    tests: &'static [Test],
) -> Object {
    Object { low_side: "isolated", ..object(id, 2019, seed, plate, tests) }
}

use FaultKind::{Knee, Puncture};
use Set::{One, Three, Two};

/// All of them. The seeds of objects that the demo tests live as well are those it uses there.
pub(super) const OBJECTS: &[Object] = &[
    object(
        "FDR-2",
        1995,
        2,
        paper!("1250.0"),
        &[test("2020-10-06", KEEP, Two, 14.0), test("2023-10-10", KEEP, Two, 13.0).dry(0.6)],
    ),
    // A knee that comes up, and the joint that was made after it.
    object(
        "FDR-3",
        1988,
        7,
        paper!("820.0"),
        &[
            test("2019-09-17", KEEP, Two, 15.0),
            test("2022-09-20", KEEP, Two, 16.0).dry(0.8),
            test("2025-09-16", KEEP, Two, 15.0).dry(0.5).with(Knee, "L3"),
        ],
    ),
    // It tripped; the joint at 310 m was cut out, and it held.
    object(
        "FDR-5",
        1991,
        9,
        paper!("1640.0"),
        &[
            test("2020-05-12", KEEP, Two, 12.0),
            test("2023-05-16", KEEP, Two, 13.0).with(Puncture, "L1"),
            test("2023-06-06", KEEP, Two, 16.0).dry(0.94),
            test("2026-05-19", KEEP, Two, 14.0).dry(0.88).unsigned(),
        ],
    ),
    object("FDR-6", 2021, 12, rubber_cable!("455.0"), &[test("2021-03-23", NEW, Two, 9.0).step()]),
    object(
        "PM-1",
        2001,
        14,
        machine!("motor", "13.8", "2001", "6.5", "105.0"),
        &[
            test("2019-06-04", KEEP, Two, 24.0).step(),
            // Two winters with the heaters off, dried out, and well since.
            test("2021-06-08", KEEP, Two, 19.0).step().moist(50.0, "A"),
            test("2021-06-29", KEEP, Two, 38.0).step().dry(1.2),
            test("2023-06-13", KEEP, Two, 23.0).step().dry(1.1),
            test("2025-06-10", KEEP, Two, 25.0).step().dry(0.95),
        ],
    ),
    object(
        "PM-2",
        2008,
        20,
        machine!("motor", "4.16", "2008", "1.2", "60.0"),
        &[
            test("2021-04-13", KEEP, Three, 21.0).step(),
            test("2024-04-16", KEEP, Three, 22.0).step().ends(Ending::Aborted {
                after_s: 20.0,
                why: "somebody stepped over the barrier; switched off at once",
            }),
            test("2024-04-17", KEEP, Three, 22.0).step(),
        ],
    ),
    object(
        "PM-3",
        1998,
        3,
        machine!("motor", "13.8", "1998", "6.5", "110.0"),
        &[test("2021-11-02", KEEP, Two, 20.0).step()],
    ),
    object(
        "PM-5",
        1996,
        5,
        machine!("motor", "13.8", "1996", "6.5", "110.0"),
        &[
            test("2019-11-05", KEEP, Two, 18.0).step(),
            test("2021-11-03", KEEP, Two, 20.0).step().dry(0.6),
        ],
    ),
    object(
        "GEN-1",
        2012,
        19,
        machine!("generator", "6.6", "2012", "4.0", "150.0"),
        &[
            test("2020-08-11", KEEP, Three, 27.0).step(),
            test("2022-08-09", KEEP, Three, 26.0).step().dry(0.9),
            test("2024-08-13", KEEP, Three, 29.0).step().dry(0.8),
            test("2026-08-11", KEEP, Three, 28.0).step().dry(0.7).unsigned(),
        ],
    ),
    object(
        "SWG-A",
        2004,
        11,
        gear!("15.0"),
        &[test("2020-11-10", KEEP, Two, 20.0), test("2023-11-14", KEEP, Two, 18.0)],
    ),
    object(
        "SWG-B",
        2004,
        23,
        gear!("15.0"),
        &[
            test("2020-11-11", KEEP, One, 20.0),
            // Whoever took the old set had not looked at its label.
            test("2023-02-14", KEEP, One, 11.0),
            test("2023-03-28", KEEP, One, 14.0),
        ],
    ),
    object(
        "SWG-C",
        2015,
        29,
        gear!("15.0"),
        &[
            test("2021-11-09", KEEP, One, 19.0),
            test("2024-11-12", KEEP, Two, 19.0).with(Puncture, "B"),
            test("2024-11-26", KEEP, Two, 18.0),
        ],
    ),
    // A roof that leaks, a little more each winter.
    object(
        "SWG-D",
        1999,
        53,
        gear!("15.0"),
        &[
            test("2020-03-10", KEEP, Three, 19.0).resistance().dry(0.05),
            test("2021-03-09", KEEP, Three, 20.0).resistance().dry(0.04),
            test("2022-03-08", KEEP, Three, 20.0).resistance().dry(0.032),
            test("2023-03-14", KEEP, Three, 21.0).resistance().dry(0.025),
            test("2024-03-12", KEEP, Three, 19.0).resistance().dry(0.0205),
            test("2025-03-11", KEEP, Three, 20.0).resistance().dry(0.0165),
            test("2026-03-10", KEEP, Three, 21.0).resistance().dry(0.013),
        ],
    ),
    pieces(
        "GLV-7",
        31,
        rubber!("glove", "2", "\"G-071\", \"G-072\", \"G-073\", \"G-074\""),
        &[
            test("2024-05-21", PROOF, Two, 21.0),
            test("2024-11-19", PROOF, Two, 20.0).dry(0.95),
            test("2025-05-20", PROOF, Two, 21.0).dry(0.9),
            test("2025-11-18", PROOF, Two, 20.0).dry(0.78),
            test("2026-05-19", PROOF, Two, 21.0).with(Puncture, "G-073").unsigned(),
        ],
    ),
    pieces(
        "GLV-9",
        37,
        rubber!("glove", "1", "\"G-091\", \"G-092\""),
        &[
            test("2025-07-15", PROOF, Two, 22.0),
            test("2026-01-13", PROOF, Two, 18.0).dry(0.97),
            test("2026-07-14", PROOF, Two, 23.0).dry(0.92),
        ],
    ),
    pieces(
        "BLK-1",
        41,
        rubber!("blanket", "2", "\"B-011\", \"B-012\""),
        &[
            test("2023-12-05", PROOF, Two, 19.0),
            test("2024-12-03", PROOF, Two, 19.0).dry(0.96),
            test("2025-12-02", PROOF, Two, 18.0).dry(0.91),
        ],
    ),
    pieces(
        "SLV-3",
        43,
        rubber!("sleeve", "2", "\"S-031\", \"S-032\""),
        &[test("2024-10-08", PROOF, Two, 20.0), test("2025-10-07", PROOF, Two, 20.0).dry(0.94)],
    ),
];

/// What is being tested while the demo is looked at: it was left with its last ground on.
pub(super) const AT_WORK: Object =
    object("FDR-8", 1990, 47, paper!("930.0"), &[test("", KEEP, Two, 14.0)]);

/// Sheets that were begun: how many hours ago, for what, and what is typed so far.
pub(super) const SHEETS: &[(i64, &str, &str)] = &[
    (
        26,
        "FDR-3",
        concat!(
            "# The old paper cable, its new joint at the intake.\n[asset]\nid = \"FDR-3\"\n",
            "class = \"cable\"\nrated_kv = 15.0\n\n[asset.cable]\ninsulation = \"pilc\"\n",
            "length_m = 820.0\n\n[test]\npurpose = \"maintenance\"\n\n[set]\nid = \"Set 2\"\n",
            "rated_kv = 80.0\n"
        ),
    ),
    (
        2,
        "GLV-9",
        concat!(
            "[asset]\nid = \"GLV-9\"\nclass = \"protective\"\n\n[asset.protective]\n",
            "item = \"glove\"\n"
        ),
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tests_follow_each_other_and_sets_were_calibrated_in_order() {
        for one in OBJECTS {
            assert!(one.tests.is_sorted_by(|a, b| a.on < b.on), "{}", one.id);
        }
        for set in Set::ALL {
            assert!(set.calibrations().is_sorted(), "{}", set.plate().0);
        }
    }
}
