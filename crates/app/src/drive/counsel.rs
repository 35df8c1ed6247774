//! Advice of a record at work: what comes in goes to the adviser too, and what is shown of it
//! enters the record.

use advise::{Adviser, Speaker, Taken};
use quantity::{Current, Time, Voltage};
use session::live::{Metered, Session};
use session::record::{Head, Now};
use session::{Entry, Event};

/// The adviser of one record, and what was shown last.
#[derive(Clone, Debug)]
pub(crate) struct Counsel {
    adviser: Adviser,
    speaker: Speaker,
    /// The conductors of the plan, as the session counts them.
    names: Vec<String>,
}

impl Counsel {
    /// For a record that begins so.
    pub(crate) fn new(head: &Head, session: &Session) -> Self {
        let names = session.names().map(str::to_owned).collect();
        Self { adviser: Adviser::new(head), speaker: Speaker::new(), names }
    }

    /// Takes in an event of a record that is taken up again.
    pub(crate) fn replay(&mut self, entry: &Entry) {
        self.adviser.replay(entry);
        if let (Event::Advised(advised), Some(at)) = (&entry.what, entry.at) {
            self.speaker.replay(at.since_begun, advised);
        }
    }

    /// Takes in an event as it is kept.
    pub(crate) fn event(&mut self, entry: &Entry) {
        self.adviser.event(entry);
    }

    /// Takes in what a meter shows of this conductor, at this time since the record was begun.
    pub(crate) fn metered(&mut self, conductor: usize, at: Time, metered: &Metered) {
        let Some(name) = self.names.get(conductor) else { return };
        let sign = metered.voltage.is_some_and(|voltage| voltage < Voltage::ZERO);
        let signed = |current: Current| if sign { -current } else { current };
        let taken = Taken {
            at,
            voltage: metered.voltage.map(Voltage::abs),
            current: metered.current.map(signed),
            voltage_half_digit: metered.voltage_half_digit,
            current_half_digit: metered.current_half_digit,
            voltage_range: metered.voltage_range,
            current_range: metered.current_range,
            overload: metered.voltage_overload || metered.current_overload,
            blank: false,
            link: metered.link.clone(),
        };
        self.adviser.metered(name, at, taken);
    }

    /// Shows what is advised now, where that is another thing than before.
    pub(crate) fn tell(&mut self, session: &mut Session, now: Now) {
        let at = session.since_begun(now);
        let Some(name) = self.names.get(session.focus()) else { return };
        let Some(zero) = self.adviser.energised_at(name) else { return };
        let since = at - zero;
        let advice = self.adviser.at(name, since);
        if let Some(advised) = self.speaker.say(at, name, Some(since), &advice) {
            session.handle_advice(now, advised);
        }
    }
}
