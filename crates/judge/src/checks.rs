//! Meters that were checked against something known, before and after.

use plan::job::Reads;
use quantity::{Current, Ratio, Voltage};
use session::Record;
use session::meters::Compared;
use session::record::Event;

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::words::seen::{Seen, SeenLink, Shown};
use crate::words::{Id, Said};

/// What a check may be off by where no accuracy is written down. Common practice, no source: the
/// tolerance of a level.
const UNTOLD: f64 = 0.03;

/// The worst of all checks; none where no meter stands beside the set and none was checked.
pub(crate) fn finding(context: &Context<'_>, record: &Record) -> Option<Draft> {
    let checks: Vec<Check> = record
        .events
        .iter()
        .filter_map(|entry| match &entry.what {
            Event::Compared(compared) => Some(Check::of(context, *compared)),
            _ => None,
        })
        .collect();
    let is_live = record.events.iter().any(|entry| entry.at.is_some());
    let Some(worst) = checks.iter().max_by(|one, other| one.excess.total_cmp(&other.excess)) else {
        let own = context.job.meters.iter().any(|meter| meter.reads != Reads::Guard);
        let said = Said::Seen(Seen::Unchecked);
        return (own && is_live).then(|| Draft::new(Id::MeterChecks, Outcome::NotApplicable, said));
    };
    let (known, read) = (worst.known, worst.read);
    let (outcome, said) = if worst.excess > 0.0 {
        (Outcome::Warn, Seen::CheckOff { known, read, off: worst.off })
    } else {
        (Outcome::Ok, Seen::ChecksFit { count: checks.len() })
    };
    let chain = [SeenLink::Check { known, read }, SeenLink::MayBeOff { by: worst.most }];
    let draft = Draft::new(Id::MeterChecks, outcome, Said::Seen(said));
    Some(draft.chain(chain.map(Into::into)).by_practice())
}

/// One check, and by how much it is off beyond what it may be, as a part of that.
struct Check {
    known: Shown,
    read: Shown,
    most: Shown,
    off: Option<Ratio>,
    excess: f64,
}

impl Check {
    fn of(context: &Context<'_>, compared: Compared) -> Self {
        let instrument = &context.instrument;
        match compared {
            Compared::Voltage { known, read } => {
                let (known, read) = (known.abs(), read.abs());
                let limit = instrument.volts_limit(known.volts(), UNTOLD);
                let shown = |volts| Shown::Voltage(Voltage::from_volts(volts));
                Self::from(known.volts(), read.volts(), limit, shown)
            }
            Compared::Current { known, read } => {
                let (known, read) = (known.abs(), read.abs());
                let limit = instrument.amps_limit(known.amperes(), UNTOLD);
                let shown = |amps| Shown::Current(Current::from_amperes(amps));
                Self::from(known.amperes(), read.amperes(), limit, shown)
            }
        }
    }

    fn from(known: f64, read: f64, limit: f64, shown: impl Fn(f64) -> Shown) -> Self {
        let off = (read - known).abs();
        Self {
            known: shown(known),
            read: shown(read),
            most: shown(limit),
            off: (known > 0.0).then(|| Ratio::from_value(off / known)),
            excess: if off > limit * (1.0 + 1e-9) {
                off / limit.max(f64::MIN_POSITIVE)
            } else {
                0.0
            },
        }
    }
}
