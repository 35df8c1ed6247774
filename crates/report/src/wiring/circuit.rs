//! What a plan's connection comes to: the parts that are drawn, and how they hang together.

use plan::Plan;
use plan::course::{Guard, Link, MeterAt};
use plan::job::{AssetClass, CableAs, LowSide, Polarity, Reads, Wire};

/// Everything that the drawing depends on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Circuit {
    pub(super) polarity: Polarity,
    pub(super) low_side: LowSide,
    pub(super) link: Link,
    pub(super) meter_at: MeterAt,
    pub(super) guard: Guard,
    /// Whether a divider stands at the high voltage.
    pub(super) divider: bool,
    /// Whether a surge gap and a bolted bypass stand across the meter.
    pub(super) shunted: bool,
    pub(super) body: Body,
    /// Whether others like the tested one lie beside it and are grounded.
    pub(super) others: bool,
}

/// What the object is, as far as a line drawing tells objects apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Body {
    /// A conductor in a screen, with two ends.
    Cable,
    /// A screen with its conductor tied to it, in an oversheath, with two ends.
    Oversheath,
    /// One conductor whose two leads come back to the set.
    Loop,
    /// A conductor in an enclosure, with two ends.
    Bus,
    /// Contacts of one phase in a frame.
    Gear,
    /// A winding in a frame.
    Winding,
    /// Two sides and what is between them.
    Capacitor,
    /// A glove or sleeve, water or electrode within and without.
    Water,
    /// A sheet between electrodes.
    Sheet,
    /// A body that stands between line and ground.
    Post,
}

impl Circuit {
    /// Of a plan; what earlier plans do not tell is as they had it.
    pub(crate) fn of(plan: &Plan) -> Self {
        let connection = &plan.connection;
        let meters = || connection.meters.iter();
        let shunted = meters().any(|meter| {
            meter.reads == Reads::Current
                && meter.link == Some(Wire::Wired)
                && meter.surge_gap == Some(true)
                && meter.bypass_bolted == Some(true)
        });
        Self {
            polarity: plan.polarity,
            // Where the meter stands at high voltage the words have the low side on ground.
            low_side: match connection.meter_at {
                MeterAt::HighVoltageEnd => LowSide::Grounded,
                MeterAt::Return => connection.low_side,
            },
            link: connection.link,
            meter_at: connection.meter_at,
            guard: connection.guard,
            divider: meters().any(|meter| meter.reads == Reads::Voltage),
            shunted: shunted && connection.meter_at == MeterAt::Return,
            body: body(plan),
            others: has_others(plan),
        }
    }
}

const fn body(plan: &Plan) -> Body {
    match plan.class {
        AssetClass::Cable => match plan.connection.cable_as {
            Some(CableAs::Oversheath) => Body::Oversheath,
            Some(CableAs::SeriesCircuit) => Body::Loop,
            Some(CableAs::Feeder) | None => Body::Cable,
        },
        AssetClass::Busway => Body::Bus,
        AssetClass::Switchgear | AssetClass::Breaker | AssetClass::Switch => Body::Gear,
        AssetClass::Motor | AssetClass::Generator => Body::Winding,
        AssetClass::Capacitor => Body::Capacitor,
        AssetClass::Protective if plan.water_line.is_some() => Body::Water,
        AssetClass::Protective => Body::Sheet,
        AssetClass::Insulator | AssetClass::Arrester | AssetClass::Bushing | AssetClass::Other => {
            Body::Post
        }
    }
}

impl Circuit {
    /// Whether the screen of the high-voltage lead is on the guard: near ground, where the meter
    /// would read what the lead loses.
    pub(super) fn lead_on_guard(self) -> bool {
        self.meter_at == MeterAt::Return && self.link == Link::ReturnToGround
    }
}

/// Pieces are tested one by one and far from each other; conductors and phases lie side by side.
fn has_others(plan: &Plan) -> bool {
    let beside = matches!(
        body(plan),
        Body::Cable | Body::Oversheath | Body::Bus | Body::Gear | Body::Winding
    );
    beside && plan.conductors.len() > 1
}
