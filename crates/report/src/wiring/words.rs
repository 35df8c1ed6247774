//! The words on the drawing, and those that stand for it.

use plan::Plan;
use plan::course::{Guard, Link, MeterAt};
use plan::job::LowSide;

use super::circuit::{Body, Circuit};

/// What is said on the drawing where no link is fitted.
pub(super) const NO_LINK: &str = "NO LINK SET: the circuit floats. Do not start.";

pub(super) fn title(plan: &Plan) -> String {
    format!("Connection of {}", plan.asset)
}

/// What is at high voltage.
pub(super) const fn high_side(body: Body, others: bool) -> &'static str {
    match body {
        Body::Cable => "conductor under test",
        Body::Oversheath => "screen, conductor tied to it",
        Body::Loop => "loop, both leads joined",
        Body::Bus | Body::Gear => "phase under test",
        Body::Winding if others => "phase under test, ends joined",
        Body::Winding => "winding, ends joined",
        Body::Capacitor => "one side, terminals joined",
        Body::Water => "inside, water or electrode",
        Body::Sheet => "upper electrode",
        Body::Post => "end under test",
    }
}

/// What the object's low side is.
pub(super) const fn low_side(body: Body) -> &'static str {
    match body {
        Body::Cable => "screen",
        Body::Oversheath => "outside",
        Body::Loop => "soil",
        Body::Bus => "enclosure",
        Body::Gear | Body::Winding => "frame",
        Body::Capacitor => "other side",
        Body::Water => "outside",
        Body::Sheet => "lower one",
        Body::Post => "foot",
    }
}

/// What lies beside the tested one.
pub(super) const fn others(body: Body) -> &'static str {
    match body {
        Body::Cable => "other conductors",
        Body::Oversheath => "other cables",
        _ => "other phases",
    }
}

/// The drawing, a sentence for each thing that is drawn.
pub(super) fn sentences(circuit: &Circuit) -> Vec<String> {
    let mut said = vec![high_lead(circuit), low_lead(circuit)];
    if circuit.others {
        said.push(format!("The {} are on the one solid ground.", others(circuit.body)));
    }
    said.push(link(circuit.link).to_owned());
    said.push(meter(circuit).to_owned());
    said.push(guard(circuit).to_owned());
    if circuit.divider {
        said.push(
            "A divider stands from high voltage to ground, the kilovolt meter at its low end."
                .to_owned(),
        );
    }
    if circuit.shunted {
        said.push("A surge gap and a bolted bypass stand across the current meter.".to_owned());
    }
    said
}

fn high_lead(circuit: &Circuit) -> String {
    let polarity = crate::words::polarity(circuit.polarity);
    let lead = match circuit.meter_at {
        MeterAt::Return if circuit.lead_on_guard() => {
            "the high-voltage lead, its screen on the guard,"
        }
        MeterAt::Return => "the high-voltage lead",
        MeterAt::HighVoltageEnd => {
            "the current meter and a screened lead, its screen on the source's side of the meter,"
        }
    };
    let side = high_side(circuit.body, circuit.others);
    format!(
        "The set's {polarity} high-voltage terminal goes through {lead} to what is tested: {side}."
    )
}

fn low_lead(circuit: &Circuit) -> String {
    let side = low_side(circuit.body);
    match circuit.low_side {
        LowSide::Grounded => format!("The low side ({side}) is on the one solid ground."),
        LowSide::Isolated => format!(
            "The low side ({side}) goes by a screened lead to the return, the screen to the guard."
        ),
    }
}

const fn link(link: Link) -> &'static str {
    match link {
        Link::GuardToGround => "The link ties guard to ground; return to ground is open.",
        Link::ReturnToGround => "The link ties return to ground; guard to ground is open.",
        Link::None => "No link is set: the circuit floats. Do not start.",
    }
}

const fn meter(circuit: &Circuit) -> &'static str {
    match circuit.meter_at {
        MeterAt::Return => "The current meter that is read stands in the return.",
        MeterAt::HighVoltageEnd => {
            "The current meter that is read stands in the high-voltage lead, at the test voltage."
        }
    }
}

const fn guard(circuit: &Circuit) -> &'static str {
    match circuit.guard {
        Guard::None => "No end has a guard ring.",
        Guard::NearEnd => {
            "The near end has a guard ring, on the source's side of the current meter."
        }
        Guard::BothEnds => {
            "Both ends have a guard ring, on the source's side of the current meter."
        }
    }
}

/// What the plan itself says of the current that is read, and of meters on a computer.
pub(super) fn told(plan: &Plan) -> Vec<String> {
    let connection = &plan.connection;
    let reads = if connection.reads.is_empty() {
        crate::words::metered(connection.metered).to_owned()
    } else if connection.excluded.is_empty() {
        format!("It reads: {}.", connection.reads)
    } else {
        format!("It reads: {}. It does not read: {}.", connection.reads, connection.excluded)
    };
    let meters = connection.meters.iter().map(|meter| meter.text.clone());
    [reads].into_iter().chain(meters).chain(plan::words::blank_run(plan)).collect()
}
