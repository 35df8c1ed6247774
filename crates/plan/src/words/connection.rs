//! What is said of the connection: which link goes where, what is read, what stands against it.

use quantity::{Ratio, Voltage};
use standards::Citation;

use super::{Say, kilovolts, note, refuse, warn};
use crate::PlanIssue;
use crate::course::Plan;
use crate::job::{Guard, Link, LowSide, Meter, MeterAt, Reads, Wire};

/// What decides where each current goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Circuit {
    pub(crate) low_side: LowSide,
    pub(crate) link: Link,
    pub(crate) guard: Guard,
    pub(crate) meter_at: MeterAt,
}

impl Circuit {
    /// Whether no current of the object comes through the meter.
    fn is_blind(self) -> bool {
        let beside = self.meter_at == MeterAt::Return
            && self.low_side == LowSide::Grounded
            && self.link == Link::GuardToGround;
        beside || self.link == Link::None
    }

    /// Whether what leads and set lose to ground comes through the meter.
    pub(crate) const fn reads_leads(self) -> bool {
        matches!((self.meter_at, self.link), (MeterAt::Return, Link::ReturnToGround))
    }

    /// Whether the object's low side comes back through the meter alone, so that a ground on it
    /// would lead its current past the meter.
    pub(crate) const fn lifts_low_side(self) -> bool {
        matches!(
            (self.meter_at, self.link, self.low_side),
            (MeterAt::Return, Link::GuardToGround, LowSide::Isolated)
        )
    }

    /// What the meter reads, and what it does not.
    pub(crate) fn told(self) -> (String, String) {
        if self.is_blind() {
            let why = match self.link {
                Link::None => "everything: the circuit floats",
                _ => "everything: the object's current comes back by ground and guard",
            };
            return ("nothing".to_owned(), why.to_owned());
        }
        let (rest, ring) = match self.guard {
            Guard::None => (Some("over the surfaces of its ends"), None),
            Guard::NearEnd => {
                (Some("over the surface of its far end"), Some("over the surface of the near end"))
            }
            Guard::BothEnds => (None, Some("over the surfaces of both ends")),
        };
        let (leads_read, leads_not) = match (self.meter_at, self.link) {
            (MeterAt::HighVoltageEnd, _) => (None, Some("of leads and set, ahead of the meter")),
            (_, Link::ReturnToGround) => (
                Some("of leads and set to ground"),
                Some("what the lead's screen takes to the guard"),
            ),
            _ => (None, Some("of leads and set to ground")),
        };
        let joined = |parts: &[Option<&str>]| {
            let parts: Vec<&str> = parts.iter().copied().flatten().collect();
            parts.join(", ")
        };
        (
            joined(&[Some("the current through the object"), rest, leads_read]),
            joined(&[ring, leads_not]),
        )
    }

    /// What is done at the set, in order.
    pub(crate) fn steps(self) -> Vec<String> {
        let mut steps = vec![self.link_step().to_owned()];
        steps.extend(self.guard_step().map(str::to_owned));
        if self.meter_at == MeterAt::HighVoltageEnd {
            steps.push(
                "Current meter in the high-voltage lead, its lead to the object screened, the \
                 screen on the meter's source side. It stands at the test voltage: set its range \
                 before, read it from outside the barrier."
                    .to_owned(),
            );
        }
        steps
    }

    const fn link_step(self) -> &'static str {
        match (self.meter_at, self.link, self.low_side) {
            (_, Link::None, _) => "The link is on neither: fit it before anything else.",
            (MeterAt::HighVoltageEnd, Link::ReturnToGround, _) => {
                "Low side to ground; link between return and ground. The set's own current meter \
                 is not the one that is read."
            }
            (MeterAt::HighVoltageEnd, Link::GuardToGround, _) => {
                "Low side to ground; link between guard and ground. The set's own current meter \
                 is not the one that is read."
            }
            (MeterAt::Return, Link::GuardToGround, LowSide::Isolated) => {
                "Low side to the metered return by a screened lead, then its ground off, at every \
                 end: on ground its current would pass the meter by. Link between guard and ground."
            }
            (MeterAt::Return, Link::GuardToGround, LowSide::Grounded) => {
                "Take the link off guard and ground: with a grounded low side it belongs between \
                 return and ground."
            }
            (MeterAt::Return, Link::ReturnToGround, LowSide::Isolated) => {
                "Low side to ground and to the metered return; link between return and ground."
            }
            (MeterAt::Return, Link::ReturnToGround, LowSide::Grounded) => {
                "Low side is ground: link between return and ground; the lead's screen to the \
                 guard terminal, which stays off ground."
            }
        }
    }

    const fn guard_step(self) -> Option<&'static str> {
        match (self.guard, self.meter_at) {
            (Guard::None, _) => None,
            (Guard::NearEnd, MeterAt::Return) => Some(
                "Guard ring round the near end, beside its grounded part, by a lead of its own to \
                 the guard terminal.",
            ),
            (Guard::BothEnds, MeterAt::Return) => Some(
                "Guard rings round both ends, beside their grounded parts, by leads of their own \
                 to the guard terminal.",
            ),
            (Guard::NearEnd, MeterAt::HighVoltageEnd) => Some(
                "Guard ring round the near end, beside its terminal, to the meter's source side: \
                 it and its lead stand at the test voltage.",
            ),
            (Guard::BothEnds, MeterAt::HighVoltageEnd) => Some(
                "Guard rings round both ends, beside their terminals, to the meter's source side; \
                 the lead to the far one hangs clear. They all stand at the test voltage.",
            ),
        }
    }

    /// What is wrong with where the link is said to be.
    pub(crate) fn wrong(self) -> Option<ConnectionConcern> {
        match self.link {
            Link::None => Some(ConnectionConcern::LinkNone),
            Link::GuardToGround if self.is_blind() => Some(ConnectionConcern::LinkBesideMeter),
            Link::ReturnToGround
                if self.low_side == LowSide::Isolated && self.meter_at == MeterAt::Return =>
            {
                Some(ConnectionConcern::StraysRead)
            }
            Link::GuardToGround | Link::ReturnToGround => None,
        }
    }
}

/// A concern about the connection.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ConnectionConcern {
    LinkNone,
    LinkBesideMeter,
    StraysRead,
    /// What lies in the soil has no low side that could be lifted.
    SoilIsolated,
    GuardBothEnds {
        from: Voltage,
        source: Citation,
    },
    MeterExposed {
        reads: Reads,
        at_high_voltage: bool,
    },
    /// A range is to change where no hand reaches.
    RangeOutOfReach,
    CoronaFree {
        above: Voltage,
    },
}

impl Say for ConnectionConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::LinkNone => refuse(
                "link-none",
                "The link is on neither guard nor return: the circuit floats, and its low side can \
                 take the test voltage."
                    .to_owned(),
                "Fit it as the low side asks, look at it again, then correct [connection] link: \
                 guard-to-ground or return-to-ground. Common practice, no source."
                    .to_owned(),
            ),
            Self::LinkBesideMeter => refuse(
                "link-beside-meter",
                "With a grounded low side and the link between guard and ground the object's \
                 current does not come through the meter: it reads nothing."
                    .to_owned(),
                "Link between return and ground, then [connection] link = \"return-to-ground\"; or \
                 lift the low side and write [connection] low_side = \"isolated\"."
                    .to_owned(),
            ),
            Self::StraysRead => note(
                "strays-read",
                "The low side can be lifted, but return is tied to ground: the meter reads leads \
                 and set too."
                    .to_owned(),
                "Link between guard and ground reads less: [connection] link.".to_owned(),
            ),
            Self::SoilIsolated => refuse(
                "low-side-is-soil",
                "The low side of this test is the soil, or a layer that lies in it: it cannot be \
                 lifted from ground."
                    .to_owned(),
                "Write [connection] low_side = \"grounded\", the link between return and ground; \
                 what is at high voltage is what stays off ground. Common practice, no source."
                    .to_owned(),
            ),
            Self::GuardBothEnds { from, source } => note(
                "guard-both-ends",
                format!(
                    "Cable of {} or more leaks so little that strays can rule what is read \
                     ({source}).",
                    kilovolts(*from)
                ),
                "Better: guard rings at both ends, and the meter at the high-voltage end by a \
                 screened lead: [connection] guard and [connection] meter_at."
                    .to_owned(),
            ),
            Self::MeterExposed { reads, at_high_voltage } => refuse(
                "meter-exposed",
                format!(
                    "The meter of {} is so joined to the computer that a flashover can come out \
                     along it{}.",
                    of(*reads),
                    if *at_high_voltage { ": it stands at the test voltage" } else { "" }
                ),
                "Use an optical or radio link and a battery; or a meter in the grounded return \
                 with surge gap and bolted bypass. Then correct [meter] link, [meter] battery, \
                 [meter] surge_gap and [meter] bypass_bolted. Common practice, no source."
                    .to_owned(),
            ),
            Self::RangeOutOfReach => warn(
                "range-out-of-reach",
                "The ammeter's range changes in this course, and no hand reaches a meter at the \
                 high-voltage end."
                    .to_owned(),
                "Take a meter that changes range by itself or over its link; else come down, \
                 discharge, ground and set it anew."
                    .to_owned(),
            ),
            Self::CoronaFree { above } => warn(
                "corona-not-suppressed",
                format!(
                    "Ends are not shielded against corona above {}: what is read may be corona.",
                    kilovolts(*above)
                ),
                "Put spheres or rings on every end at high voltage, then correct [connection] \
                 corona_suppressed."
                    .to_owned(),
            ),
        }
    }
}

pub(super) const fn of(reads: Reads) -> &'static str {
    match reads {
        Reads::Voltage => "voltage",
        Reads::Current => "current",
        Reads::Guard => "guard current",
    }
}

/// What is asked of a meter that is joined to a computer.
pub(crate) const fn meter_question(reads: Reads) -> &'static str {
    match reads {
        Reads::Voltage => {
            "Meter of voltage: optical or radio link and battery, or at the grounded arm of its \
             divider with surge gap and bolted bypass?"
        }
        Reads::Current => {
            "Meter of current: optical or radio link and battery, or in the grounded return with \
             surge gap and bolted bypass?"
        }
        Reads::Guard => {
            "Meter of the guard's current: optical or radio link and battery, or at ground with \
             surge gap and bolted bypass?"
        }
    }
}

/// How one meter is joined, and whether it may be.
pub(crate) fn meter_link(meter: &Meter, settled: Option<bool>) -> String {
    let mut parts: Vec<&str> = vec![match meter.link {
        Some(Wire::Optical) => "optical link",
        Some(Wire::Radio) => "radio link",
        Some(Wire::Wired) => "wired",
        None => "link not known",
    }];
    let mut told = |what: Option<bool>, yes: &'static str, no: &'static str| {
        parts.extend(what.map(|is| if is { yes } else { no }));
    };
    told(meter.battery, "battery", "no battery");
    told(meter.surge_gap, "surge gap", "no surge gap");
    told(meter.bypass_bolted, "bypass bolted", "no bolted bypass");
    let end = match settled {
        Some(true) => ".",
        Some(false) => ". Not so: a flashover can come out along it.",
        None => ". Hold point: no voltage before the rest is known.",
    };
    format!("Meter of {}: {}{end}", of(meter.reads), parts.join(", "))
}

/// What is done with a blank run that is too large a part.
pub(crate) fn blank_run_otherwise(below: Ratio) -> String {
    format!(
        "At {:.0} % of the whole current or more do not subtract it: look for corona first, on \
         leads and ends, and read again.",
        below.percent()
    )
}

/// The link, and what the current meter then reads.
#[must_use]
pub fn connected(plan: &Plan) -> String {
    let connection = &plan.connection;
    let link = match connection.link {
        Link::GuardToGround => "guard tied to ground",
        Link::ReturnToGround => "return tied to ground",
        Link::None => "on neither, do not start",
    };
    if connection.reads.is_empty() {
        // A plan of earlier days says it in one word.
        let metered = match connection.metered {
            crate::course::Metered::ObjectOnly => "the object's current alone",
            crate::course::Metered::ObjectAndLeads => {
                "the object's current and that of leads and set"
            }
        };
        return format!("Link: {link}. The meter reads {metered}.");
    }
    let place = match connection.meter_at {
        MeterAt::Return => "in the return",
        MeterAt::HighVoltageEnd => "at the high-voltage end",
    };
    format!(
        "Link: {link}. The meter {place} reads {}. It does not read: {}.",
        connection.reads, connection.excluded
    )
}

/// The blank run in one sentence; `None` where the meter does not read leads and set.
#[must_use]
pub fn blank_run(plan: &Plan) -> Option<String> {
    let run = plan.blank_run.as_ref()?;
    let when = match (run.before, run.after) {
        (true, true) => "before and after",
        (true, false) => "before",
        (false, _) => "after",
    };
    Some(format!(
        "Blank run {when}: leads and set alone at {}. Subtract it while it is under {:.0} % of the \
         whole current. {}",
        kilovolts(run.at),
        run.subtract_below.percent(),
        run.otherwise
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: each current followed from the output to ground and back, with the guard on the
    /// source's side of the meter (a textbook-style page, read). Common practice, no source.
    #[test]
    fn each_current_comes_through_the_meter_or_past_it() {
        use Guard::{BothEnds, NearEnd};
        use Link::{GuardToGround, ReturnToGround};
        use LowSide::{Grounded, Isolated};
        use MeterAt::{HighVoltageEnd, Return};
        for (low_side, link, guard, meter_at, leads, near, far) in [
            (Grounded, ReturnToGround, Guard::None, Return, true, true, true),
            (Grounded, ReturnToGround, NearEnd, Return, true, false, true),
            (Grounded, ReturnToGround, BothEnds, Return, true, false, false),
            (Isolated, GuardToGround, Guard::None, Return, false, true, true),
            (Isolated, GuardToGround, NearEnd, Return, false, false, true),
            (Isolated, GuardToGround, BothEnds, Return, false, false, false),
            (Isolated, ReturnToGround, BothEnds, Return, true, false, false),
            (Grounded, ReturnToGround, Guard::None, HighVoltageEnd, false, true, true),
            (Grounded, ReturnToGround, BothEnds, HighVoltageEnd, false, false, false),
            (Isolated, ReturnToGround, NearEnd, HighVoltageEnd, false, false, true),
        ] {
            let circuit = Circuit { low_side, link, guard, meter_at };
            let (reads, excluded) = circuit.told();
            assert_eq!(circuit.reads_leads(), leads, "{circuit:?}");
            assert_eq!(reads.contains("leads and set"), leads, "{circuit:?}: {reads}");
            assert_eq!(excluded.contains("leads and set"), !leads, "{circuit:?}: {excluded}");
            let ends = match (near, far) {
                (true, true) => "surfaces of its ends",
                (false, true) => "surface of its far end",
                _ => "through the object",
            };
            assert!(reads.contains(ends), "{circuit:?}: {reads}");
            assert_eq!(excluded.contains("both ends"), !far, "{circuit:?}: {excluded}");
            assert!(!circuit.is_blind());
        }
    }

    /// Common practice, no source: a grounded low side with the guard grounded reads nothing, and
    /// a link on neither leaves the circuit afloat.
    #[test]
    fn a_link_in_the_wrong_place_refuses() {
        let grounded = Circuit {
            low_side: LowSide::Grounded,
            link: Link::GuardToGround,
            guard: Guard::None,
            meter_at: MeterAt::Return,
        };
        assert_eq!(grounded.wrong(), Some(ConnectionConcern::LinkBesideMeter));
        assert_eq!(grounded.told().0, "nothing");
        for low_side in [LowSide::Grounded, LowSide::Isolated] {
            for meter_at in [MeterAt::Return, MeterAt::HighVoltageEnd] {
                let afloat =
                    Circuit { low_side, link: Link::None, guard: Guard::BothEnds, meter_at };
                assert_eq!(afloat.wrong(), Some(ConnectionConcern::LinkNone));
                assert_eq!(afloat.told().0, "nothing");
            }
        }
    }
}
