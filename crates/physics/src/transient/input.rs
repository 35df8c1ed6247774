//! What a simulation is told, and what it will not accept.

use std::fmt;

use quantity::{Capacitance, Current, Ratio, Resistance, Time, Voltage, VoltageRate};

use crate::conduction::Onset;

/// The object under test, seen from its high-voltage terminal.
#[derive(Clone, Debug, PartialEq)]
pub struct TestObject {
    /// Capacitance that charges at once.
    pub capacitance: Capacitance,
    /// Insulation resistance; `None` where nothing is conducted.
    pub insulation: Option<Resistance>,
    /// Voltage at its terminals to begin with.
    pub start: Voltage,
    /// Absorption: series R-C branches across the terminals.
    pub branches: Vec<Branch>,
    /// Leakage over the surface, beside the insulation; `None` where there is none.
    pub surface: Option<Surface>,
    /// What makes conduction grow faster than the voltage; `None` where it follows Ohm's law.
    pub onset: Option<Onset>,
}

/// Leakage over the surface from the high-voltage terminal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Its resistance.
    pub resistance: Resistance,
    /// Whether a guard takes it past the meter: the supply still gives it.
    pub guarded: bool,
}

/// One absorption branch: a resistance and a capacitance in series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branch {
    /// Its resistance.
    pub resistance: Resistance,
    /// Its capacitance.
    pub capacitance: Capacitance,
    /// Voltage on its capacitance to begin with.
    pub start: Voltage,
}

impl Branch {
    /// Resistance times capacitance.
    #[must_use]
    pub fn time_constant(&self) -> Time {
        self.resistance * self.capacitance
    }
}

/// The supply: a commanded voltage behind a series resistance. It cannot take current back.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Supply {
    /// Highest current it gives; `None` for no limit.
    pub limit: Option<Current>,
    /// Series resistance; zero makes an ideal clamp.
    pub series: Resistance,
    /// Opens the supply for good when its current exceeds this.
    pub trip: Option<Current>,
    /// Built-in discharge path across its terminals, on the object's side of the series
    /// resistance. It stays when the supply opens, until the object is shorted or left open: by
    /// then the lead is off.
    pub bleed: Option<Resistance>,
    /// Ripple of the commanded voltage; `None` where it is smooth.
    pub ripple: Option<Ripple>,
}

/// Ripple of a rectified voltage, taken as one sine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ripple {
    /// Half of peak to peak over the mean, with nothing connected.
    pub factor: Ratio,
    /// Its frequency, `[Hz]`.
    pub frequency_hz: f64,
}

/// One leg of a course: to a voltage, then stay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    /// Voltage commanded at the end of the leg.
    pub to: Voltage,
    /// How fast the command moves, up or down; `None` for a jump, so that the limit governs.
    pub rise: Option<VoltageRate>,
    /// How long the command then stays, from the moment it is there.
    pub dwell: Time,
}

/// What is done after the course: each phase is left out when it is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Discharge {
    /// The resistor laid across the object.
    pub resistor: Option<Resistance>,
    /// How long it stays on; without a resistor how long the built-in path of the supply has the
    /// object alone.
    pub bleed: Option<Time>,
    /// How long the terminals are then dead-shorted.
    pub short: Option<Time>,
    /// How long they are then left open, the lead of the supply off.
    pub open: Option<Time>,
}

/// Which of the given quantities an error is about. Branches and legs count from zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// Capacitance of the object.
    Capacitance,
    /// Insulation resistance of the object.
    Insulation,
    /// Start voltage of the object.
    Start,
    /// Resistance of a branch.
    BranchResistance(usize),
    /// Capacitance of a branch.
    BranchCapacitance(usize),
    /// Start voltage of a branch.
    BranchStart(usize),
    /// Voltage above which conduction grows.
    OnsetFrom,
    /// Voltage over which it then grows e-fold.
    OnsetScale,
    /// Resistance of the surface.
    Surface,
    /// Current limit of the supply.
    Limit,
    /// Series resistance of the supply.
    Series,
    /// Trip of the supply.
    Trip,
    /// Built-in discharge path of the supply.
    BuiltIn,
    /// Ripple of the supply, over its mean.
    RippleFactor,
    /// Frequency of the ripple.
    RippleFrequency,
    /// Voltage of a leg.
    LegVoltage(usize),
    /// Rate of a leg.
    LegRise(usize),
    /// Dwell of a leg.
    LegDwell(usize),
    /// Discharge resistor.
    Resistor,
    /// Time on the discharge resistor.
    Bleed,
    /// Time of the dead short.
    Short,
    /// Time left open.
    Open,
    /// Voltage of the hold before a discharge.
    HeldVoltage,
    /// Time of the hold before a discharge.
    HeldTime,
    /// Voltage that a rebound is not to exceed.
    ReboundLimit,
    /// Voltage to come down to.
    DownTo,
    /// Longest ground time to look at.
    GroundBound,
    /// Capacitance of all absorption over that of the object.
    AbsorbedShare,
    /// Time constant of the slowest branch.
    SlowestBranch,
    /// Insulation resistance times capacitance.
    Decay,
    /// A time to sample at.
    SampleTime(usize),
    /// Time from one row to the next.
    RowStep,
}

impl fmt::Display for Input {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Capacitance => f.write_str("capacitance of the object"),
            Self::Insulation => f.write_str("insulation resistance of the object"),
            Self::Start => f.write_str("start voltage of the object"),
            Self::BranchResistance(k) => write!(f, "resistance of absorption branch {}", k + 1),
            Self::BranchCapacitance(k) => write!(f, "capacitance of absorption branch {}", k + 1),
            Self::BranchStart(k) => write!(f, "start voltage of absorption branch {}", k + 1),
            Self::OnsetFrom => f.write_str("onset of growing conduction"),
            Self::OnsetScale => f.write_str("voltage over which conduction grows e-fold"),
            Self::Surface => f.write_str("resistance of the surface"),
            Self::Limit => f.write_str("current limit of the supply"),
            Self::Series => f.write_str("series resistance of the supply"),
            Self::Trip => f.write_str("trip of the supply"),
            Self::BuiltIn => f.write_str("built-in discharge path of the supply"),
            Self::RippleFactor => f.write_str("ripple of the supply"),
            Self::RippleFrequency => f.write_str("frequency of the ripple"),
            Self::LegVoltage(k) => write!(f, "voltage of course leg {}", k + 1),
            Self::LegRise(k) => write!(f, "rate of rise of course leg {}", k + 1),
            Self::LegDwell(k) => write!(f, "dwell of course leg {}", k + 1),
            Self::Resistor => f.write_str("discharge resistor"),
            Self::Bleed => f.write_str("time on the discharge resistor"),
            Self::Short => f.write_str("time of the dead short"),
            Self::Open => f.write_str("time left open"),
            Self::HeldVoltage => f.write_str("voltage of the hold"),
            Self::HeldTime => f.write_str("time of the hold"),
            Self::ReboundLimit => f.write_str("voltage that the rebound is not to exceed"),
            Self::DownTo => f.write_str("voltage to come down to"),
            Self::GroundBound => f.write_str("longest ground time to look at"),
            Self::AbsorbedShare => f.write_str("capacitance of absorption over the object's"),
            Self::Decay => f.write_str("insulation resistance times capacitance"),
            Self::SlowestBranch => f.write_str("slowest time constant of absorption"),
            Self::SampleTime(k) => write!(f, "sample time {}", k + 1),
            Self::RowStep => f.write_str("time from one row to the next"),
        }
    }
}

/// Why a simulation was not begun, or not finished.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum TransientError {
    /// A quantity that must be above zero is not.
    #[error("give the {what} as a number above 0, not {value}")]
    NotPositive {
        /// Which.
        what: Input,
        /// As given, in SI units.
        value: f64,
    },
    /// A quantity that must be zero or more is not.
    #[error("give the {what} as 0 or a number above 0, not {value}")]
    Negative {
        /// Which.
        what: Input,
        /// As given, in SI units.
        value: f64,
    },
    /// A quantity is no finite number.
    #[error("give the {what} as a finite number")]
    NotFinite {
        /// Which.
        what: Input,
    },
    /// A time of bleeding with nothing that bleeds.
    #[error("name the discharge resistor or a built-in path, or leave out the time on it")]
    ResistorMissing,
    /// Conduction grows so fast with voltage that the solver cannot follow it.
    #[error("take a larger e-fold voltage: conduction cannot be followed beyond {at} s")]
    TooSteep {
        /// From the start, `[s]`.
        at: f64,
    },
    /// Conduction grows above an onset, but nothing is conducted below it.
    #[error("give the insulation resistance that holds up to the onset, or leave out the onset")]
    OnsetWithoutInsulation,
    /// The supply went in and out of its limit more often than any real course makes it.
    #[error("take slower or fewer legs: more than {0} changes between limit and command")]
    TooManyChanges(usize),
}

pub(crate) fn positive(what: Input, value: f64) -> Result<(), TransientError> {
    finite(what, value)?;
    if value > 0.0 { Ok(()) } else { Err(TransientError::NotPositive { what, value }) }
}

pub(crate) fn not_negative(what: Input, value: f64) -> Result<(), TransientError> {
    finite(what, value)?;
    if value >= 0.0 { Ok(()) } else { Err(TransientError::Negative { what, value }) }
}

fn finite(what: Input, value: f64) -> Result<(), TransientError> {
    if value.is_finite() { Ok(()) } else { Err(TransientError::NotFinite { what }) }
}

impl TestObject {
    pub(crate) fn validate(&self) -> Result<(), TransientError> {
        positive(Input::Capacitance, self.capacitance.farads())?;
        if let Some(insulation) = self.insulation {
            positive(Input::Insulation, insulation.ohms())?;
        }
        finite(Input::Start, self.start.volts())?;
        for (k, branch) in self.branches.iter().enumerate() {
            positive(Input::BranchResistance(k), branch.resistance.ohms())?;
            positive(Input::BranchCapacitance(k), branch.capacitance.farads())?;
            finite(Input::BranchStart(k), branch.start.volts())?;
        }
        if let Some(onset) = self.onset {
            if self.insulation.is_none() {
                return Err(TransientError::OnsetWithoutInsulation);
            }
            positive(Input::OnsetFrom, onset.from.volts())?;
            positive(Input::OnsetScale, onset.scale.volts())?;
        }
        let surface = self.surface.map(|surface| surface.resistance.ohms());
        surface.map_or(Ok(()), |ohms| positive(Input::Surface, ohms))
    }
}

impl Supply {
    pub(crate) fn validate(&self) -> Result<(), TransientError> {
        not_negative(Input::Series, self.series.ohms())?;
        if let Some(limit) = self.limit {
            positive(Input::Limit, limit.amperes())?;
        }
        if let Some(trip) = self.trip {
            positive(Input::Trip, trip.amperes())?;
        }
        if let Some(ripple) = self.ripple {
            not_negative(Input::RippleFactor, ripple.factor.value())?;
            positive(Input::RippleFrequency, ripple.frequency_hz)?;
        }
        self.bleed.map_or(Ok(()), |bleed| positive(Input::BuiltIn, bleed.ohms()))
    }

    /// Conductance of the built-in discharge path.
    pub(crate) fn bleed_siemens(&self) -> f64 {
        self.bleed.map_or(0.0, |bleed| 1.0 / bleed.ohms())
    }
}

impl Leg {
    pub(crate) fn validate(&self, k: usize) -> Result<(), TransientError> {
        not_negative(Input::LegVoltage(k), self.to.volts())?;
        if let Some(rise) = self.rise {
            positive(Input::LegRise(k), rise.volts_per_second())?;
        }
        not_negative(Input::LegDwell(k), self.dwell.seconds())
    }
}

impl Discharge {
    pub(crate) fn validate(&self, supply: &Supply) -> Result<(), TransientError> {
        if let Some(resistor) = self.resistor {
            positive(Input::Resistor, resistor.ohms())?;
        } else if self.bleed.is_some() && supply.bleed.is_none() {
            return Err(TransientError::ResistorMissing);
        }
        for (what, time) in
            [(Input::Bleed, self.bleed), (Input::Short, self.short), (Input::Open, self.open)]
        {
            time.map_or(Ok(()), |time| not_negative(what, time.seconds()))?;
        }
        Ok(())
    }
}

pub(crate) fn validate_times(times: &[Time]) -> Result<(), TransientError> {
    times
        .iter()
        .enumerate()
        .try_for_each(|(k, time)| not_negative(Input::SampleTime(k), time.seconds()))
}
