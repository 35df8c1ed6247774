//! Advice of a record at work: what comes in goes to the adviser too, and what is shown of it
//! enters the record.

use advise::{Advice, Adviser, Speaker, Taken};
use quantity::{Band, Current, Time, Voltage};
use session::live::{Metered, Session, View};
use session::record::{Head, Now};
use session::{Entry, Event};

/// What is expected of the current, at instants to come.
type Bands = Vec<(Time, Band<Current>)>;

/// The band ahead is reckoned anew so often.
const AHEAD_EVERY: Time = Time::from_seconds(0.25);

/// What is reckoned ahead where nobody says how long it is stayed.
const AHEAD: Time = Time::from_seconds(60.0);

/// Instants of the band ahead.
const INSTANTS: i32 = 8;

/// What is advised of the conductor in focus, with all that a screen can show of it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Given {
    /// Which conductor, as the session counts them.
    pub(crate) conductor: usize,
    /// What is advised.
    pub(crate) advice: Advice,
    /// The current to expect from now to the end of the stay, from energising; by what was read
    /// so far.
    pub(crate) ahead: Bands,
}

/// The adviser of one record, and what was shown last.
#[derive(Clone, Debug)]
pub(crate) struct Counsel {
    adviser: Adviser,
    speaker: Speaker,
    /// The conductors of the plan, as the session counts them.
    names: Vec<String>,
    /// What was advised last, and of which conductor.
    latest: Option<(usize, Advice)>,
    /// When the band ahead was reckoned, from energising, of which conductor, and what came of it.
    ahead: Option<(Time, usize, Bands)>,
}

impl Counsel {
    /// For a record that begins so.
    pub(crate) fn new(head: &Head, session: &Session) -> Self {
        let names = session.names().map(str::to_owned).collect();
        let (adviser, speaker) = (Adviser::new(head), Speaker::new());
        Self { adviser, speaker, names, latest: None, ahead: None }
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

    /// Whether the conductor in focus is read with a current against its voltage.
    pub(crate) fn reads_against(&self, session: &Session) -> bool {
        self.names.get(session.focus()).is_some_and(|name| self.adviser.reads_against(name))
    }

    /// Shows what is advised now, where that is another thing than before.
    pub(crate) fn tell(&mut self, session: &mut Session, now: Now) {
        let at = session.since_begun(now);
        self.latest = None;
        for name in &self.names {
            if let Some((since, told)) = self.adviser.gives_back(name) {
                session.handle_gives_back(now, name, since, told);
            }
        }
        let Some(name) = self.names.get(session.focus()) else { return };
        let Some(zero) = self.adviser.energised_at(name) else { return };
        let since = at - zero;
        let advice = self.adviser.at(name, since);
        if let Some(advised) = self.speaker.say(at, name, Some(since), &advice) {
            session.handle_advice(now, advised);
        }
        self.latest = Some((session.focus(), advice));
    }

    /// What a screen shows of it, at the moment of this view.
    pub(crate) fn given(&mut self, view: &View) -> Option<Given> {
        let (conductor, advice) = self.latest.clone().filter(|(of, _)| *of == view.focus)?;
        let now = view.since_energised?;
        let fresh = self
            .ahead
            .as_ref()
            .is_some_and(|(at, of, _)| *of == conductor && now >= *at && now - *at < AHEAD_EVERY);
        if !fresh {
            let stay = view.step.as_ref().and_then(|step| step.left);
            let bands =
                if advice.band.is_some() { self.reckon(conductor, now, stay) } else { vec![] };
            self.ahead = Some((now, conductor, bands));
        }
        let ahead = self.ahead.as_ref().map(|(_, _, bands)| bands.clone()).unwrap_or_default();
        Some(Given { conductor, advice, ahead })
    }

    /// The band at instants that lie the closer the nearer they are: it falls fast at first.
    fn reckon(
        &self,
        conductor: usize,
        now: Time,
        stay: Option<Time>,
    ) -> Vec<(Time, Band<Current>)> {
        let Some(name) = self.names.get(conductor) else { return Vec::new() };
        let stay = stay.filter(|stay| *stay > Time::ZERO).unwrap_or(AHEAD);
        let instants = (0..INSTANTS).map(|at| {
            let part = f64::from(at) / f64::from(INSTANTS - 1);
            now + stay * part.powi(2)
        });
        instants.filter_map(|at| Some((at, self.adviser.at(name, at).band?))).collect()
    }
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use session::Kind;

    use super::*;

    fn now(seconds: f64) -> Now {
        Now { monotonic: Time::from_seconds(seconds), wall: Timestamp::UNIX_EPOCH }
    }

    /// The band that is shown ahead begins now, ends with the stay, and is the adviser's own at
    /// each of its instants (derived: there is one adviser).
    #[test]
    fn the_band_ahead_ends_with_the_stay() {
        let text = include_str!("../../../../docs/examples/gloves.toml");
        let job = plan::job_file::parse(text).expect("the example is well formed");
        let plan = plan::plan(&job, &standards::Library::published());
        let format = session::RECORD_FORMAT.to_owned();
        let head = Head { format, kind: Kind::Test, source: None, job, plan };
        let mut session = Session::begin(&head, "boot", now(0.0));
        let mut counsel = Counsel::new(&head, &session);
        let mut given = None;
        for second in 0..120 {
            let kv = f64::from(second).min(50.0);
            let metered = Metered {
                voltage: Some(Voltage::from_kilovolts(kv)),
                current: Some(Current::from_microamperes(kv.mul_add(0.01, 0.5))),
                ..Metered::default()
            };
            let now = now(f64::from(second));
            counsel.metered(session.focus(), session.since_begun(now), &metered);
            session.handle_metered(now, metered);
            session.handle_time(now);
            while let Some(entry) = session.poll_event() {
                counsel.event(&entry);
            }
            counsel.tell(&mut session, now);
            given = counsel.given(&session.view(now));
        }
        let view = session.view(now(119.0));
        let given = given.expect("voltage is on");
        let left = view.step.expect("a step").left.expect("its stay");
        let (first, last) = (given.ahead[0].0, given.ahead[given.ahead.len() - 1].0);
        let at = view.since_energised.expect("energised");
        assert!((first - at).seconds().abs() < 1e-9, "{first:?} {at:?}");
        assert!((last - at - left).seconds().abs() < 1e-6, "{last:?} {left:?}");
        for (instant, band) in &given.ahead {
            assert_eq!(counsel.adviser.at("left", *instant).band, Some(*band));
        }
    }
}
