//! The object as it really is: drawn inside the plan's bands or given, with a fault or without.

use physics::absorption::PowerLaw;
use physics::transient::Branch;
use plan::Plan;
use quantity::{Band, Capacitance, Resistance, Time, Voltage};

use crate::draw::Place;
use crate::nature::{Bend, Departure, Glow};
use crate::rig::RigError;

/// Sisters are alike: each conductor lies this far, at most, off what they have in common.
/// Common practice, no source.
const SISTERS_APART: f64 = 0.03;
/// Of the way from the middle of a band to its end, at most.
const REACH: f64 = 0.6;
/// A sound object is a dry one: its insulation resistance lies about here between the middle of
/// the band and its upper end, and its absorption is not weaker than the middle. Common practice,
/// no source.
const SOUND: f64 = 0.8;
/// Surface leakage of clean and dry ends, in parts of the insulation resistance. Common
/// practice, no source.
const CLEAN_SURFACE: f64 = 20.0;
/// The absorption law is followed down to this age.
const YOUNGEST: Time = Time::from_seconds(1.0);
/// It is followed to so many times the whole of one application.
const OLDEST: f64 = 3.0;

/// One conductor as it really is.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// Capacitance to what is grounded.
    pub capacitance: Capacitance,
    /// Insulation resistance, conduction alone.
    pub insulation: Resistance,
    /// Resistance of the surface beside it.
    pub surface: Resistance,
    /// Absorption, as branches across the terminals.
    pub absorption: Vec<Branch>,
    /// How its conduction departs from a constant resistance; by default not at all.
    pub departure: Departure,
    /// What glows at its ends and leads, if anything does.
    pub glow: Option<Glow>,
    /// What is wrong with it.
    pub fault: Option<Fault>,
}

/// What is wrong with an object.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// Moist through and through: the insulation resistance is so many times smaller.
    Wet {
        /// How many times.
        times: f64,
    },
    /// Dirt on the surface.
    Dirty {
        /// Resistance of the surface.
        surface: Resistance,
    },
    /// Conduction grows out of proportion above a voltage.
    Knee {
        /// Above this.
        onset: Voltage,
        /// What conducts beside the insulation, for what is above the onset.
        slope: Resistance,
    },
    /// Current bends up above a voltage, by a law of its own, and may end in breakdown.
    Bend(Bend),
    /// Breaks down.
    Puncture {
        /// At this voltage.
        at: Voltage,
        /// After so long at or above it.
        after: Time,
    },
    /// The current climbs while the voltage stands.
    Rising {
        /// Conduction grows while at or above this voltage.
        from: Voltage,
        /// In this time it doubles.
        doubling: Time,
    },
    /// The link in the meter's lead makes bad contact.
    LooseLink,
    /// A surge arrester was left connected.
    Arrester {
        /// It conducts above this.
        onset: Voltage,
    },
}

/// The kinds of fault, without figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaultKind {
    /// See [`Fault::Wet`].
    Wet,
    /// See [`Fault::Dirty`].
    Dirty,
    /// See [`Fault::Knee`].
    Knee,
    /// See [`Fault::Puncture`].
    Puncture,
    /// See [`Fault::Rising`].
    Rising,
    /// See [`Fault::LooseLink`].
    LooseLink,
    /// See [`Fault::Arrester`].
    Arrester,
}

impl FaultKind {
    /// Every one.
    pub const ALL: &'static [Self] = &[
        Self::Wet,
        Self::Dirty,
        Self::Knee,
        Self::Puncture,
        Self::Rising,
        Self::LooseLink,
        Self::Arrester,
    ];

    /// The word for it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Wet => "wet",
            Self::Dirty => "dirty",
            Self::Knee => "knee",
            Self::Puncture => "puncture",
            Self::Rising => "rising",
            Self::LooseLink => "loose-link",
            Self::Arrester => "arrester",
        }
    }

    /// This fault as large as it is plainly seen in this object, tested at this level.
    #[must_use]
    pub fn plain(self, truth: &Truth, test: Voltage) -> Fault {
        match self {
            Self::Wet => Fault::Wet { times: 100.0 },
            Self::Dirty => Fault::Dirty { surface: truth.insulation / 5.0 },
            Self::Knee => Fault::Knee { onset: test * 0.7, slope: truth.insulation / 20.0 },
            Self::Puncture => Fault::Puncture { at: test * 0.75, after: Time::ZERO },
            Self::Rising => Fault::Rising { from: test * 0.97, doubling: Time::from_seconds(60.0) },
            Self::LooseLink => Fault::LooseLink,
            Self::Arrester => Fault::Arrester { onset: test * 0.6 },
        }
    }
}

impl Truth {
    /// What the plan's conductors really are, drawn inside its bands.
    ///
    /// # Errors
    /// When the plan has no model of its object.
    pub fn drawn(plan: &Plan, seed: u64) -> Result<Vec<Self>, RigError> {
        let model = plan.model.as_ref().ok_or(RigError::NoModel)?;
        let capacitance = plan.capacitance_band.ok_or(RigError::NoModel)?;
        let place = Place::of(seed);
        let conductor = |index: u64| {
            let value =
                |which: u64, way: f64, band: Band<f64>| within(band, way, place.at(which), index);
            let by_chance = |which: u64| place.at(which).even() * REACH;
            let farads = value(0, by_chance(0), capacitance.map(|c| c.farads()));
            let dry = SOUND + by_chance(1) * (1.0 - SOUND);
            let ohms = value(1, dry, model.insulation.map(|r| r.ohms()));
            let (capacitance, insulation) =
                (Capacitance::from_farads(farads), Resistance::from_ohms(ohms));
            let law = PowerLaw {
                strength: value(2, by_chance(2).abs(), model.absorption_strength),
                exponent: value(3, by_chance(3), model.absorption_exponent),
            };
            let whole = plan.duration.unwrap_or(Time::from_hours(1.0)).max(Time::from_minutes(1.0));
            Self {
                capacitance,
                insulation,
                surface: insulation * CLEAN_SURFACE,
                absorption: law.branches(capacitance, YOUNGEST, whole * OLDEST),
                departure: Departure::default(),
                glow: None,
                fault: None,
            }
        };
        Ok((0..plan.conductors.len() as u64).map(conductor).collect())
    }
}

/// A value inside a band: so much of the way from its middle to an end, and a little of its own.
fn within(band: Band<f64>, way: f64, place: Place, sister: u64) -> f64 {
    let end = if way < 0.0 { band.low } else { band.high };
    let value = band.mid * (end / band.mid).powf(way.abs());
    let own = 1.0 + SISTERS_APART * place.at(sister + 1).even();
    (value * own).clamp(band.low, band.high)
}

impl Truth {
    /// Whether every part is a number above zero.
    pub(crate) fn is_sound(&self) -> bool {
        let sound = |value: f64| value > 0.0 && value.is_finite();
        let branches = self.absorption.iter().all(|branch| {
            sound(branch.resistance.ohms())
                && sound(branch.capacitance.farads())
                && branch.start.is_finite()
        });
        let fault = match self.fault {
            None | Some(Fault::LooseLink) => true,
            Some(Fault::Wet { times }) => sound(times),
            Some(Fault::Dirty { surface }) => sound(surface.ohms()),
            Some(Fault::Knee { onset, slope }) => sound(onset.volts()) && sound(slope.ohms()),
            Some(Fault::Bend(bend)) => bend.is_sound(),
            Some(Fault::Puncture { at, after }) => {
                sound(at.volts()) && after >= Time::ZERO && after.is_finite()
            }
            Some(Fault::Rising { from, doubling }) => {
                sound(from.volts()) && sound(doubling.seconds())
            }
            Some(Fault::Arrester { onset }) => sound(onset.volts()),
        };
        let parts = [self.insulation.ohms(), self.surface.ohms(), self.capacitance.farads()];
        let nature = self.departure.is_sound() && self.glow.is_none_or(Glow::is_sound);
        parts.into_iter().all(sound) && branches && fault && nature
    }
}
