//! A meeting from its first question to its end.

use std::collections::VecDeque;
use std::time::Duration;

use jiff::Timestamp;
use serde::Serialize;
use store::Store;
use store::meet::{
    Between, FORM, Moved, Refused, Span, Standing, StandingPage, Taken, Told, TwoEntries, Want,
    Why, between, differing,
};

use super::address::Address;
use super::said::{Ask, Done, Given, Hello};
use super::wire::{Wire, WireError};
use crate::output::Trouble;

/// A batch is about so large, in bytes.
const MOST: usize = 384 * 1024;

/// The smallest, where the connection is cut again and again.
const LEAST: usize = 16 * 1024;

/// Wants named in one question.
const NAMED: usize = 400;

/// Cuts in a row, with nothing moved between them, before a person is asked to come again.
const TRIES: u32 = 10;

/// Before the first new try; then twice as long each time.
const PAUSE: Duration = Duration::from_millis(100);

/// The longest pause.
const LONGEST: Duration = Duration::from_secs(4);

/// Of one batch, what is told to the office of that which was refused here.
const TOLD: usize = 100;

/// How often what came too early is looked for again.
const ROUNDS: usize = 3;

/// What is fetched.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Fetch {
    /// Everything that the office has
    All,
    /// What others added to records that are here, and all apparatus, sets, meters and jobs
    Mine,
    /// Nothing: only send
    Nothing,
}

/// What is asked of a meeting.
pub(crate) struct Asked {
    pub(crate) address: Address,
    pub(crate) fetch: Fetch,
    /// Say what would move, and move nothing.
    pub(crate) dry_run: bool,
}

/// How far it has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Progress {
    /// Towards the office, or from it.
    pub(crate) sends: bool,
    pub(crate) records: u64,
    pub(crate) of_records: u64,
    pub(crate) events: u64,
    pub(crate) of_events: u64,
}

/// What would move, or has to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub(crate) struct ToMove {
    pub(crate) records: u64,
    pub(crate) events: u64,
    pub(crate) findings: u64,
    pub(crate) signatures: u64,
    pub(crate) sheets: u64,
    /// Apparatus, sets, meters, calibrations and jobs.
    pub(crate) things: u64,
}

impl ToMove {
    fn of(wants: &[Want]) -> Self {
        let mut all = Self::default();
        let count = |names: &[String]| names.len() as u64;
        for want in wants {
            match want {
                Want::Record(want) => {
                    all.records += 1;
                    all.events += events(want);
                    all.findings += count(&want.findings);
                    all.signatures += count(&want.signatures);
                    all.sheets += count(&want.sheets);
                }
                Want::Thing(_) | Want::Calibration(_) | Want::Job(_) => all.things += 1,
            }
        }
        all
    }
}

fn events(want: &store::meet::RecordWant) -> u64 {
    // What is numbered from 0 has one more.
    want.chains.iter().map(|one| one.after.map_or(one.to + 1, |after| one.to - after)).sum()
}

/// Hears how far it has come.
pub(crate) type Tell<'a> = dyn FnMut(Progress) + Send + 'a;

/// How it ended.
#[derive(Debug, Serialize)]
pub(crate) struct Ended {
    pub(crate) office: String,
    pub(crate) dry_run: bool,
    /// What had to be sent.
    pub(crate) to_send: ToMove,
    /// What had to be fetched.
    pub(crate) to_fetch: ToMove,
    pub(crate) sent: Moved,
    pub(crate) fetched: Moved,
    /// Records that both had alike before.
    pub(crate) same: u64,
    pub(crate) two_entries: Vec<TwoEntries>,
    pub(crate) refused: Vec<Refused>,
    /// Times that the connection was cut.
    pub(crate) cuts: u64,
}

/// Why it did not come to its end.
pub(crate) enum Stopped {
    Wire(WireError),
    Here(Trouble),
}

impl<T: Into<Trouble>> From<T> for Stopped {
    fn from(trouble: T) -> Self {
        Self::Here(trouble.into())
    }
}

impl From<WireError> for Stopped {
    fn from(error: WireError) -> Self {
        Self::Wire(error)
    }
}

/// One meeting.
struct Meeting<'a> {
    store: &'a Store,
    wire: Wire,
    tell: &'a mut Tell<'a>,
    most: usize,
    cuts: u64,
    in_a_row: u32,
    ended: Ended,
    /// What was refused on this side, for the office to know.
    refused_here: Vec<Refused>,
    office: String,
}

/// Meets an office to the end, or says how far it came.
pub(crate) async fn meet(
    store: &Store,
    asked: &Asked,
    tell: &mut Tell<'_>,
) -> Result<Ended, Trouble> {
    let address = asked.address.to_string();
    let stopped = |stopped: Stopped| match stopped {
        Stopped::Wire(error) => Trouble::Office { address: address.clone(), error },
        Stopped::Here(trouble) => trouble,
    };
    let token = store.pass_of_office(&address).await?;
    let ended = Ended {
        office: address.clone(),
        dry_run: asked.dry_run,
        to_send: ToMove::default(),
        to_fetch: ToMove::default(),
        sent: Moved::default(),
        fetched: Moved::default(),
        same: 0,
        two_entries: Vec::new(),
        refused: Vec::new(),
        cuts: 0,
    };
    let mut meeting = Meeting {
        store,
        wire: Wire::new(asked.address.clone(), token),
        tell,
        most: MOST,
        cuts: 0,
        in_a_row: 0,
        ended,
        refused_here: Vec::new(),
        office: String::new(),
    };
    let begun = Timestamp::now();
    let whole = meeting.whole(asked, begun).await;
    whole.map_err(stopped)?;
    let Meeting { mut ended, cuts, .. } = meeting;
    ended.cuts = cuts;
    Ok(ended)
}

impl Meeting<'_> {
    async fn whole(&mut self, asked: &Asked, begun: Timestamp) -> Result<(), Stopped> {
        if !asked.dry_run {
            self.store.office_tried(&self.ended.office, begun).await?;
        }
        let hello: Hello = self.ask("/exchange/hello", None::<&()>).await?;
        if hello.form != FORM {
            let said = format!("it speaks {}, and this one {FORM}", hello.form);
            return Err(WireError::Foreign { said }.into());
        }
        if hello.writer == self.store.writer() {
            return Err(Trouble::Argument {
                remedy: "Give the address of the office, or another database with --db".to_owned(),
                detail: "what answers there is this very database".to_owned(),
            }
            .into());
        }
        self.office = hello.writer;
        for round in 0..ROUNDS {
            let plan = self.plan(asked.fetch).await?;
            if round == 0 {
                self.ended.to_send = ToMove::of(&plan.send);
                self.ended.to_fetch = ToMove::of(&plan.fetch);
                self.ended.same = plan.same;
            }
            if asked.dry_run {
                break;
            }
            self.ended.refused.clear();
            self.refused_here.clear();
            self.send(plan.send).await?;
            self.fetch(plan.fetch).await?;
            if self.ended.refused.iter().all(|one| one.why != Why::Early) {
                break;
            }
        }
        self.ended.two_entries = self.store.two_entries().await?;
        if asked.dry_run {
            return Ok(());
        }
        let told = self.told();
        let refused = std::mem::take(&mut self.refused_here);
        let done = Done { from: self.store.writer().to_owned(), told, refused };
        let _: serde_json::Value = self.ask("/exchange/done", Some(&done)).await?;
        self.store.office_met(&self.ended.office, &self.office, begun, &told).await?;
        Ok(())
    }

    fn told(&self) -> Told {
        Told {
            sent: self.ended.sent,
            fetched: self.ended.fetched,
            same: self.ended.same,
            two_entries: self.ended.two_entries.len() as u64,
            refused: self.ended.refused.len() as u64,
        }
    }

    /// What has to move. Spans that are the same on both sides are not looked into.
    async fn plan(&mut self, fetch: Fetch) -> Result<Between, Stopped> {
        let theirs: Vec<Span> = self.ask("/exchange/spans", None::<&()>).await?;
        let ours = self.store.spans().await?;
        let alike = |one: &&Span| one.span.starts_with('r') && theirs.contains(one);
        let same = ours.iter().filter(alike).map(|one| one.count).sum();
        let mut all = Between { same, ..Between::default() };
        for span in differing(&ours, &theirs) {
            let (records, names) = self.theirs(&span).await?;
            let (own_records, own_names) = standing_here(self.store, &span).await?;
            let mut one = between(&own_records, &records);
            let want = |name: &String| match span.chars().next() {
                Some('t') => Want::Thing(name.clone()),
                Some('c') => Want::Calibration(name.clone()),
                _ => Want::Job(name.clone()),
            };
            let lacks = |names: &[String], known: &[String]| -> Vec<Want> {
                names.iter().filter(|one| known.binary_search(one).is_err()).map(want).collect()
            };
            one.send.extend(lacks(&own_names, &names));
            one.fetch.extend(lacks(&names, &own_names));
            if fetch == Fetch::Mine {
                let known = |want: &Want| match want {
                    Want::Record(want) => own_records.iter().any(|own| own.record == want.record),
                    _ => true,
                };
                one.fetch.retain(known);
            }
            all.send.extend(one.send);
            all.fetch.extend(one.fetch.into_iter().filter(|_| fetch != Fetch::Nothing));
            all.same += one.same;
        }
        Ok(all)
    }

    async fn theirs(&mut self, span: &str) -> Result<(Vec<Standing>, Vec<String>), Stopped> {
        let mut after = String::new();
        let (mut records, mut names) = (Vec::new(), Vec::new());
        loop {
            let path = format!("/exchange/standing?span={span}&after={after}");
            let page: StandingPage = self.ask(&path, None::<&()>).await?;
            records.extend(page.records);
            names.extend(page.names);
            match page.next {
                Some(next) if next > after => after = next,
                _ => break,
            }
        }
        names.sort_unstable();
        Ok((records, names))
    }

    async fn send(&mut self, wants: Vec<Want>) -> Result<(), Stopped> {
        let mut progress = self.progress(true, &wants);
        let mut wants = VecDeque::from(wants);
        while !wants.is_empty() {
            let some: Vec<Want> = wants.drain(..wants.len().min(NAMED)).collect();
            let before = ToMove::of(&some);
            let (batch, rest) = self.store.give(&some, self.most).await?;
            if batch.parts.is_empty() && rest == some {
                break;
            }
            let taken: Option<Taken> = self.try_once("/exchange/take", &batch).await?;
            let Some(taken) = taken else {
                put_back(&mut wants, some);
                continue;
            };
            self.ended.sent = self.ended.sent.and(taken.moved);
            let office = self.office.clone();
            self.store.remember_refused(&office, &taken.refused, Timestamp::now()).await?;
            self.ended.refused.extend(taken.refused);
            self.tell(&mut progress, before, ToMove::of(&rest));
            put_back(&mut wants, rest);
        }
        Ok(())
    }

    async fn fetch(&mut self, wants: Vec<Want>) -> Result<(), Stopped> {
        let mut progress = self.progress(false, &wants);
        let mut wants = VecDeque::from(wants);
        while !wants.is_empty() {
            let some: Vec<Want> = wants.drain(..wants.len().min(NAMED)).collect();
            let before = ToMove::of(&some);
            let ask = Ask { wants: some, most: self.most };
            let given: Option<Given> = self.try_once("/exchange/give", &ask).await?;
            let Some(Given { batch, rest }) = given else {
                put_back(&mut wants, ask.wants);
                continue;
            };
            if batch.parts.is_empty() && rest == ask.wants {
                break;
            }
            let taken = self.store.take(&batch, Timestamp::now()).await?;
            self.ended.fetched = self.ended.fetched.and(taken.moved);
            self.refused_here.extend(taken.refused.iter().take(TOLD).cloned());
            self.ended.refused.extend(taken.refused);
            self.tell(&mut progress, before, ToMove::of(&rest));
            put_back(&mut wants, rest);
        }
        Ok(())
    }

    fn progress(&self, sends: bool, wants: &[Want]) -> Progress {
        let ToMove { records: of_records, events: of_events, .. } = ToMove::of(wants);
        Progress { sends, records: 0, of_records, events: 0, of_events }
    }

    fn tell(&mut self, progress: &mut Progress, before: ToMove, left: ToMove) {
        progress.records += before.records.saturating_sub(left.records);
        progress.events += before.events.saturating_sub(left.events);
        (self.tell)(*progress);
    }

    /// Asks until there is an answer; what is asked changes nothing.
    async fn ask<T: serde::de::DeserializeOwned>(
        &mut self,
        path: &str,
        body: Option<&(impl Serialize + Sync)>,
    ) -> Result<T, Stopped> {
        loop {
            let answer = self.wire.ask(path, body).await;
            if let Some(answer) = self.or_pause(answer).await? {
                return Ok(answer);
            }
        }
    }

    /// Sends a batch once; `None` where the connection was cut and it is to be made anew, smaller.
    async fn try_once<T: serde::de::DeserializeOwned>(
        &mut self,
        path: &str,
        body: &(impl Serialize + Sync),
    ) -> Result<Option<T>, Stopped> {
        let answer = self.wire.ask(path, Some(body)).await;
        let answer = self.or_pause(answer).await?;
        self.most = match answer {
            Some(_) => (self.most * 2).min(MOST),
            None => (self.most / 2).max(LEAST),
        };
        Ok(answer)
    }

    /// The answer, or nothing after a pause where the same may work now.
    async fn or_pause<T>(&mut self, answer: Result<T, WireError>) -> Result<Option<T>, Stopped> {
        match answer {
            Ok(answer) => {
                self.in_a_row = 0;
                Ok(Some(answer))
            }
            // Nobody was there from the beginning: more tries would only keep the person waiting.
            Err(error @ WireError::Away { .. }) if self.office.is_empty() && self.cuts == 0 => {
                Err(error.into())
            }
            Err(error) if error.may_pass() && self.in_a_row < TRIES => {
                let pause = PAUSE * 2_u32.pow(self.in_a_row.min(8));
                self.in_a_row += 1;
                self.cuts += 1;
                tokio::time::sleep(pause.min(LONGEST)).await;
                Ok(None)
            }
            Err(error) => Err(error.into()),
        }
    }
}

/// What stands here in a span.
async fn standing_here(store: &Store, span: &str) -> Result<(Vec<Standing>, Vec<String>), Stopped> {
    let mut after = String::new();
    let (mut records, mut names) = (Vec::new(), Vec::new());
    loop {
        let page = store.standing(span, &after).await?;
        records.extend(page.records);
        names.extend(page.names);
        match page.next {
            Some(next) => after = next,
            None => break,
        }
    }
    names.sort_unstable();
    Ok((records, names))
}

fn put_back(wants: &mut VecDeque<Want>, some: Vec<Want>) {
    for want in some.into_iter().rev() {
        wants.push_front(want);
    }
}
