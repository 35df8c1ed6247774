//! The words that name rows: class, insulation, winding, item, purpose.

use std::fmt;

use quantity::Voltage;
use serde::{Deserialize, Serialize};

use crate::Level;
use crate::library::{Effect, Looser, OwnRule, OwnStatus, OwnValue};

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident {
        $($(#[$word_doc:meta])* $word:ident = $text:literal,)*
    })*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name {
            $($(#[$word_doc])* #[serde(rename = $text)] $word,)*
        }

        impl $name {
            /// Every word of this kind, in order.
            pub const ALL: &'static [Self] = &[$(Self::$word,)*];

            /// The word as it stands in job files and tables.
            #[must_use]
            pub const fn key(self) -> &'static str {
                match self { $(Self::$word => $text,)* }
            }
        }
    )*};
}

words! {
    /// Class of apparatus, for rules of the user's own.
    Apparatus {
        /// Shielded power cable.
        Cable = "cable",
        /// Switchgear.
        Switchgear = "switchgear",
        /// Motor.
        Motor = "motor",
        /// Generator.
        Generator = "generator",
        /// Electrical protective equipment.
        Protective = "protective",
        /// Insulator.
        Insulator = "insulator",
        /// Surge arrester.
        Arrester = "arrester",
        /// Metal-enclosed bus.
        Busway = "busway",
        /// Circuit breaker.
        Breaker = "breaker",
        /// Switch or disconnector.
        Switch = "switch",
        /// Bushing.
        Bushing = "bushing",
        /// Capacitor.
        Capacitor = "capacitor",
        /// Anything else.
        Other = "other",
    }
    /// Main insulation of a cable.
    Insulation {
        /// Cross-linked polyethylene.
        Xlpe = "xlpe",
        /// Tree-retardant cross-linked polyethylene.
        TrXlpe = "tr-xlpe",
        /// Polyethylene.
        Pe = "pe",
        /// Ethylene-propylene rubber.
        Epr = "epr",
        /// Paper, lead covered, mass impregnated.
        Pilc = "pilc",
        /// Paper, oil filled.
        OilFilled = "oil-filled",
    }
    /// Outer jacket of a cable.
    Jacket {
        /// Metallic.
        Metallic = "metallic",
        /// Not metallic.
        Nonmetallic = "nonmetallic",
    }
    /// What of a cable is tested.
    TestedPart {
        /// The main insulation, conductor to screen.
        Insulation = "insulation",
        /// The oversheath, screen to ground.
        Oversheath = "oversheath",
    }
    /// Kind of airfield series lighting circuit.
    SeriesCircuit {
        /// High intensity.
        HighIntensity = "high-intensity",
        /// Medium intensity.
        MediumIntensity = "medium-intensity",
        /// Rated 600 V.
        To600V = "to-600-v",
    }
    /// Which column of a cable table a cable falls into.
    CableDuty {
        /// Newly installed, never energised.
        New = "new",
        /// Extruded, in its first years of service.
        FirstYears = "first-years",
        /// In service.
        InService = "in-service",
    }
    /// Kind of winding.
    Winding {
        /// Form-wound alternating-current stator.
        FormWound = "form-wound",
        /// Random-wound alternating-current stator.
        RandomWound = "random-wound",
        /// Field winding.
        Field = "field",
        /// Direct-current armature.
        DcArmature = "dc-armature",
        /// Wound rotor of an induction machine that is never reversed while it runs.
        WoundRotor = "wound-rotor",
        /// Wound rotor of an induction machine that is reversed while it runs.
        WoundRotorReversing = "wound-rotor-reversing",
        /// Field winding excited by alternating current.
        FieldAcExcited = "field-ac-excited",
        /// Armature or field of a brushless exciter.
        ExciterArmature = "exciter-armature",
        /// Winding of a universal motor.
        Universal = "universal",
        /// Main stator winding of a brushless direct-current machine.
        Brushless = "brushless",
    }
    /// How a synchronous machine's field stands while the machine starts.
    FieldStart {
        /// Shorted, or closed through its exciter.
        ClosedOrShorted = "closed-or-shorted",
        /// Closed through a resistor.
        ThroughResistor = "through-resistor",
        /// In another way, or the machine does not start on its own.
        Otherwise = "otherwise",
    }
    /// State of a winding.
    WindingState {
        /// New, in the factory.
        New = "new",
        /// Installed, not yet in service.
        Installed = "installed",
        /// Overhauled: cleaned and dried.
        Overhauled = "overhauled",
        /// Repaired: coils or groups replaced in part.
        Repaired = "repaired",
        /// In service.
        InService = "in-service",
    }
    /// Thermal class of a winding's insulation.
    ThermalClass {
        /// 105 °C.
        A = "A",
        /// 120 °C.
        E = "E",
        /// 130 °C.
        B = "B",
        /// 155 °C.
        F = "F",
        /// 180 °C.
        H = "H",
    }
    /// Electrical protective equipment.
    ProtectiveItem {
        /// Rubber insulating glove.
        Glove = "glove",
        /// Rubber insulating sleeve.
        Sleeve = "sleeve",
        /// Rubber insulating blanket.
        Blanket = "blanket",
        /// Rubber insulating matting.
        Matting = "matting",
        /// Rubber insulating line hose.
        LineHose = "line-hose",
        /// Rubber insulating cover.
        Cover = "cover",
        /// Live-line tool.
        LiveLineTool = "live-line-tool",
    }
    /// Class of protective equipment.
    ProtectiveClass {
        /// Class 00.
        Class00 = "00",
        /// Class 0.
        Class0 = "0",
        /// Class 1.
        Class1 = "1",
        /// Class 2.
        Class2 = "2",
        /// Class 3.
        Class3 = "3",
        /// Class 4.
        Class4 = "4",
    }
    /// How switchgear is built.
    SwitchgearKind {
        /// Metal-clad.
        MetalClad = "metal-clad",
        /// Station-type cubicle.
        StationCubicle = "station-cubicle",
        /// Metal-enclosed interrupter.
        MetalEnclosedInterrupter = "metal-enclosed-interrupter",
        /// Low-voltage power circuit breaker switchgear.
        LowVoltage = "low-voltage",
    }
    /// How metal-enclosed bus is built.
    BuswayKind {
        /// Phases in one enclosure, no barriers between them.
        NonSegregated = "non-segregated",
        /// Up to 635 V.
        LowVoltage = "low-voltage",
    }
    /// What a circuit breaker breaks in.
    BreakerKind {
        /// Air.
        Air = "air",
        /// Oil.
        Oil = "oil",
        /// Sulphur hexafluoride.
        Sf6 = "sf6",
        /// Vacuum bottles.
        Vacuum = "vacuum",
    }
    /// What is in a surge arrester.
    ArresterKind {
        /// Metal oxide, without gaps.
        MetalOxide = "metal-oxide",
        /// Silicon carbide with gaps.
        GappedSiliconCarbide = "gapped-silicon-carbide",
    }
    /// Why an object is tested.
    Purpose {
        /// Before it is taken over.
        Acceptance = "acceptance",
        /// In the course of its life.
        Maintenance = "maintenance",
        /// To show that it withstands.
        Proof = "proof",
        /// To learn its state.
        Diagnostic = "diagnostic",
    }
    /// Objects that grounding times are published for.
    GroundFamily {
        /// Rotating machines.
        Machine = "machine",
        /// Windings below the scope of the guides for high-voltage stators.
        SmallWinding = "small-winding",
        /// Cables.
        Cable = "cable",
        /// Anything else.
        Other = "other",
    }
    /// Insulation systems, for planning values.
    System {
        /// Extruded cable of polyethylene, cross-linked or not.
        Polyethylene = "polyethylene",
        /// Extruded cable of ethylene-propylene rubber.
        EthyleneRubber = "ethylene-rubber",
        /// Laminated cable.
        Laminated = "laminated",
        /// Resin and mica, as in modern windings.
        ResinMica = "resin-mica",
        /// Asphalt and mica, as in older windings.
        AsphaltMica = "asphalt-mica",
        /// Air and supports, as in switchgear.
        Air = "air",
        /// Rubber goods.
        Rubber = "rubber",
    }
    /// How the resistance of an insulation system follows temperature.
    TemperatureModel {
        /// Halves for every 10 K of rise.
        HalvingPerTen = "halving-per-10-k",
        /// Thermosetting insulation.
        Thermosetting = "thermosetting",
        /// No model is held for it.
        None = "none",
    }
}

impl Insulation {
    /// Whether the insulation is extruded (otherwise it is laminated).
    #[must_use]
    pub const fn is_extruded(self) -> bool {
        matches!(self, Self::Xlpe | Self::TrXlpe | Self::Pe | Self::Epr)
    }
}

/// How a rule makes a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum How {
    Cable {
        duty: CableDuty,
        level_percent: Option<f64>,
        separable: bool,
        factor: Option<f64>,
        informs: bool,
    },
    CableRule {
        u0: f64,
        u: f64,
        informs: bool,
    },
    Oversheath {
        kv_per_mm: f64,
        cap: Voltage,
        capped: bool,
    },
    SeriesCircuit {
        circuit: SeriesCircuit,
        new: bool,
    },
    Winding {
        dc: f64,
        part: f64,
        slope: f64,
        intercept: Voltage,
        floor: Option<Voltage>,
    },
    Switchgear {
        printed: bool,
    },
    Rubber,
}

/// What is said of a figure that its own text does not ask for.
const REFERENCE: &str = " (for reference, not a requirement)";

impl fmt::Display for How {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::CableRule { u0, u, informs } => {
                write!(f, "{u0} × U0")?;
                if u != 0.0 {
                    write!(f, " + {u} × U")?;
                }
                f.write_str(if informs { REFERENCE } else { "" })
            }
            Self::Oversheath { kv_per_mm, cap, capped } => {
                write!(
                    f,
                    "oversheath, {kv_per_mm} kV for each mm, at most {} kV",
                    cap.kilovolts()
                )?;
                f.write_str(if capped { ", which rules" } else { "" })
            }
            Self::SeriesCircuit { circuit, new } => {
                let age = if new { "new" } else { "existing" };
                write!(f, "series lighting circuit, {}, {age}", circuit.key())
            }
            Self::Cable { duty, level_percent, separable, factor, informs } => {
                f.write_str(match duty {
                    CableDuty::New => "new",
                    CableDuty::FirstYears => "first years in service",
                    CableDuty::InService => "in service",
                })?;
                if let Some(percent) = level_percent {
                    write!(f, ", {percent} %")?;
                }
                if separable {
                    f.write_str(", separable connectors on")?;
                }
                factor.map_or(Ok(()), |factor| write!(f, ", × {factor} for the jacket"))?;
                f.write_str(if informs { REFERENCE } else { "" })
            }
            Self::Winding { dc, part, slope, intercept, floor } => {
                let factors: Vec<String> =
                    [dc, part].iter().filter(|x| **x != 1.0).map(|x| format!("{x} × ")).collect();
                f.write_str(&factors.concat())?;
                let kilovolts = intercept.kilovolts();
                match (kilovolts == 0.0, slope == 0.0) {
                    (true, _) => write!(f, "{slope} E")?,
                    (false, true) => write!(f, "{kilovolts} kV")?,
                    (false, false) if factors.is_empty() => {
                        write!(f, "{slope} E + {kilovolts} kV")?
                    }
                    (false, false) => write!(f, "({slope} E + {kilovolts} kV)")?,
                }
                match floor {
                    Some(floor) => write!(f, ", {slope} E taken as at least {floor}"),
                    None => Ok(()),
                }
            }
            Self::Switchgear { printed: true } => f.write_str("field test, by class"),
            Self::Switchgear { printed: false } => {
                f.write_str("no direct-voltage value printed: ask the maker")
            }
            Self::Rubber => f.write_str("proof test, by class"),
        }
    }
}

/// What an entry of the user's own file must have.
pub(crate) const OWN_ENTRY: &str = "give each [[value]] id, status (\"confirmed\" or \
    \"replaced\"), value and unit when replaced, edition, place, by, and on (a day, as \
    2026-11-03); a [[rule]] id, title, class, level_kv or factor, edition, place, by, and on";

/// What to write where the user's file loosens something.
pub(crate) const OWN_REASON: &str = "write reason = \"why it may be looser\", which every plan and \
    report will print, or a value that is no looser";

/// Which way is looser, and from where.
pub(crate) fn looser(way: Looser, published: Option<f64>) -> String {
    let Some(published) = published else { return "no value is printed here".to_owned() };
    match way {
        Looser::Higher => format!("above {published} is looser"),
        Looser::Lower => format!("below {published} is looser"),
        Looser::Either => format!("published is {published}, and either way may be looser"),
    }
}

/// The reason of a looser value as it stands behind its place; empty for any other.
pub(crate) fn own_reason(own: &OwnValue, column: &str) -> String {
    let Some(reason) = own.reason.as_ref().filter(|_| own.effect == Effect::Loosens) else {
        return String::new();
    };
    let was = own.published.map_or_else(|| "none".to_owned(), |value| value.to_string());
    format!("; {column} loosened, published {was}; reason: {}", reason.trim())
}

/// What a looser value of the user's own is beside the published one, and its reason.
pub(crate) fn own_loosened(own: &OwnValue) -> String {
    let now = own.value.map_or_else(String::new, |number| number.to_string());
    let was = own.published.map_or_else(|| "none printed".to_owned(), |value| value.to_string());
    let reason = own.reason.as_deref().unwrap_or_default().trim();
    let end = if reason.ends_with(['.', '?', '!']) { "" } else { "." };
    format!(
        "The user's own file loosens {}: {now}, published {was}. Reason given: {reason}{end}",
        own.id
    )
}

/// Who answers for a value of the user's own.
pub(crate) fn own_answers(own: &OwnValue) -> String {
    format!("{} answers for it since {}.", own.by, own.on)
}

/// The place of a user's own value.
pub(crate) fn own_place(own: &OwnValue) -> String {
    let did = match own.status {
        OwnStatus::Confirmed => "confirmed",
        OwnStatus::Replaced => "replaced",
    };
    format!("{}, {did} by {} on {}", own.place, own.by, own.on)
}

/// The place of a user's own rule.
pub(crate) fn own_rule_place(rule: &OwnRule) -> String {
    let place = format!("{}, own rule by {} on {}", rule.place, rule.by, rule.on);
    match rule.reason.as_ref().filter(|_| rule.effect == Effect::Loosens) {
        Some(reason) => format!("{place}; looser than published; reason: {reason}"),
        None => place,
    }
}

/// What a user's own rule is for.
pub(crate) fn own_scope(rule: &OwnRule) -> String {
    let scope = &rule.scope;
    let mut said = vec![scope.apparatus.key()];
    said.extend(scope.insulation.map(Insulation::key));
    said.extend(scope.duty.map(CableDuty::key));
    said.extend(scope.winding.map(Winding::key));
    said.extend(scope.state.map(WindingState::key));
    said.extend(scope.kind.map(SwitchgearKind::key));
    said.extend(scope.item.map(ProtectiveItem::key));
    said.extend(scope.protective_class.map(ProtectiveClass::key));
    said.extend(scope.purpose.map(Purpose::key));
    let said = said.join(", ");
    match (rule.from_kv, rule.to_kv) {
        (Some(from), Some(to)) => format!("{said}, {from} to {to} kV"),
        (Some(from), None) => format!("{said}, from {from} kV"),
        (None, Some(to)) => format!("{said}, to {to} kV"),
        (None, None) => said,
    }
}

/// How a user's own rule makes its level.
pub(crate) fn own_how(rule: &OwnRule) -> String {
    match (rule.factor > 0.0, rule.intercept_kv > 0.0) {
        (true, true) => format!("own rule, {} × rated + {} kV", rule.factor, rule.intercept_kv),
        (true, false) => format!("own rule, {} × rated", rule.factor),
        (false, _) => format!("own rule, {} kV", rule.intercept_kv),
    }
}

/// A user's own rule beside the published level.
pub(crate) fn own_against(of: &str, kilovolts: f64, own: &Level, known: Option<&Level>) -> String {
    let said = |level: &Level| {
        let hold = level.hold.map(|hold| format!(" for {} s", hold.seconds())).unwrap_or_default();
        level
            .voltage
            .map_or_else(|| "none".to_owned(), |at| format!("{:.3} kV{hold}", at.kilovolts()))
    };
    let published = known.map_or_else(
        || "no level is published".to_owned(),
        |level| format!("published {} ({})", said(level), level.rule),
    );
    format!("{of}, rated {kilovolts} kV: {published}; own rule {}", said(own))
}

/// Column endings and the units they say; the longest that fits is meant.
const UNITS: &[(&str, &str)] = &[
    ("_k", "K"),
    ("_kv_per_min", "kV/min"),
    ("_kv_per_mm", "kV/mm"),
    ("_kv_per_ft", "kV/ft"),
    ("_ua_per_kv", "µA/kV"),
    ("_v_per_mil", "V/mil"),
    ("_v_per_s", "V/s"),
    ("_m_per_s", "m/s"),
    ("_mohm_per_kv", "MΩ/kV"),
    ("_mohm_kft", "MΩ·1000 ft"),
    ("_mohm_kft_per_kv", "MΩ·1000 ft/kV"),
    ("_kv", "kV"),
    ("_v", "V"),
    ("_mohm", "MΩ"),
    ("_ua", "µA"),
    ("_ma", "mA"),
    ("_nf", "nF"),
    ("_nf_per_km", "nF/km"),
    ("_j", "J"),
    ("_s", "s"),
    ("_m", "m"),
    ("_cm", "cm"),
    ("_mm", "mm"),
    ("_mm2", "mm²"),
    ("_mr_per_h", "mR/h"),
    ("_mmhg", "mmHg"),
    ("_kpa", "kPa"),
    ("_c", "°C"),
    ("_k", "K"),
    ("_g_per_m3", "g/m³"),
    ("_ohm", "Ω"),
    ("_min", "min"),
    ("_percent", "%"),
    ("_years", "years"),
    ("_months", "months"),
    ("_mva", "MVA"),
    ("_kw", "kW"),
    ("_year", ""),
    ("_ratio", ""),
    ("_count", ""),
    ("factor", ""),
    ("_strength", ""),
    ("_exponent", ""),
];

/// Columns that carry words.
const WORDS: &[&str] = &[
    "apparatus",
    "sign",
    "purpose",
    "insulation",
    "duty",
    "connectors",
    "screen",
    "table",
    "jacket",
    "winding",
    "machine",
    "state",
    "built",
    "thermal_class",
    "kind",
    "item",
    "class",
    "ratio_of",
    "word",
    "family",
    "system",
    "compound",
    "model",
    "line",
    "material",
    "publication",
    "edition",
];

/// Whether a column carries words.
pub(crate) fn is_words(column: &str) -> bool {
    WORDS.contains(&column)
}

/// The unit that a column's name ends in: empty for words and plain numbers, `None` if unknown.
pub(crate) fn unit(column: &str) -> Option<&'static str> {
    if is_words(column) {
        return Some("");
    }
    UNITS
        .iter()
        .filter(|(ending, _)| column.ends_with(ending))
        .max_by_key(|(ending, _)| ending.len())
        .map(|(_, unit)| *unit)
}
