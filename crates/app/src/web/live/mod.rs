//! `/live`: the words and points of a record as they come, over a WebSocket; and what a page says,
//! over the same or, without a script, as a form.
//!
//! A page that is slow gets the newest words and every point, later; nothing is kept for it
//! meanwhile but the place where it stands.

mod message;
#[cfg(test)]
mod tests;
mod written;

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::ws::{Message, WebSocket, WebSocketUpgrade};
use axum::extract::{Form, Path, Query, State};
use axum::response::{Redirect, Response};
use axum::routing::{get, post};
use futures_util::stream::{FuturesUnordered, SplitSink};
use futures_util::{SinkExt as _, StreamExt as _};
use quantity::Time;
use serde::Deserialize;
use store::RecordId;
use tokio::sync::watch;
use tokio::time::{Instant, sleep_until, timeout};

use super::gate::Visitor;
use super::hub::{Line, Work};
use super::{Fault, Frame, House};
use crate::drive::answers::Answer;
use crate::drive::pages::Moment;
use crate::drive::source::{Source, SourceError};
use crate::drive::trace::Place;
use message::{FromPage, newest, points};
pub(crate) use written::UNITS;
use written::Written;

/// A page hears something at least so often; four times this without a word is a lost link.
const HEARTBEAT: Duration = Duration::from_millis(500);

/// Words follow each other no closer, so that a meter at full speed costs a page no more than its
/// own frames.
const APART: Duration = Duration::from_millis(16);

/// Points in one message.
const AT_ONCE: usize = 8192;

/// A page that takes nothing for so long is gone.
const STUCK: Duration = Duration::from_secs(10);

/// Most bytes of one message of a page. What is longer ends the link, and the page would say it
/// again at once; so it is far above what a field takes, and a line that is too long is answered.
const LONGEST: usize = 64 * 1024;

/// Most letters of a field: each may take six bytes on the wire.
pub(crate) const FIELD: usize = 10_000;

/// Lines of one page that may wait for their answer.
const UNANSWERED: usize = 64;

/// What a page asks for.
#[derive(Debug, Deserialize)]
struct Asked {
    /// The record that it shows; without one, the hazard line alone.
    record: Option<String>,
    /// The points that it holds: of which holding, how many, and up to which change of them.
    epoch: Option<String>,
    from: Option<usize>,
    revision: Option<u64>,
    /// `no` where it draws none.
    points: Option<String>,
}

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/live", get(live))
        .route("/sheet/{id}/say", post(say))
        .route("/sheet/{id}/source", post(turn_to))
}

async fn live(
    State(house): State<House>,
    frame: Frame,
    visitor: Visitor,
    Query(asked): Query<Asked>,
    upgrade: WebSocketUpgrade,
) -> Result<Response, Fault> {
    let record = match &asked.record {
        Some(record) => Some(house.store.resolve(record).await?),
        None => None,
    };
    let place = asked.points.as_deref() != Some("no");
    let place = place.then(|| Place {
        epoch: asked.epoch.unwrap_or_default(),
        next: asked.from.unwrap_or_default(),
        revision: asked.revision.unwrap_or_default(),
    });
    let may_say = visitor.may_say();
    let by = frame.who.filter(|_| may_say);
    let page = Page { house, record, by, may_say };
    let upgrade = upgrade.max_message_size(LONGEST).max_frame_size(LONGEST);
    Ok(upgrade.on_upgrade(move |socket| page.follow(socket, place)))
}

/// The same without a script.
async fn say(
    State(house): State<House>,
    frame: Frame,
    visitor: Visitor,
    Path(id): Path<String>,
    Form(written): Form<Written>,
) -> Result<Redirect, Fault> {
    if !visitor.may_say() {
        return Err(not_taken(&message::MAY_NOT_SAY));
    }
    let id = house.store.resolve(&id).await?;
    let work = at_work(&house, &id).await?;
    let (line, ago) = (written.line(), ago(written.ago_ms));
    let line = Line { line, by: frame.who, ago, nonce: written.nonce };
    work.say(line).await.map_err(|refused| not_taken(&refused))?;
    Ok(Redirect::to(&format!("/sheet/{id}")))
}

/// Where readings come from, as `--from` names it.
#[derive(Debug, Deserialize)]
struct From {
    source: String,
}

/// Readings come from elsewhere from now on.
async fn turn_to(
    State(house): State<House>,
    visitor: Visitor,
    Path(id): Path<String>,
    Form(from): Form<From>,
) -> Result<Redirect, Fault> {
    if !visitor.may_say() {
        return Err(not_taken(&message::MAY_NOT_SAY));
    }
    let source: Source = from.source.trim().parse().map_err(|why: SourceError| not_taken(&why))?;
    let id = house.store.resolve(&id).await?;
    house.hub.turn_to(&id, source).await?;
    Ok(Redirect::to(&format!("/sheet/{id}")))
}

fn not_taken(why: &impl std::fmt::Display) -> Fault {
    let detail = "Nothing was written; go back and say it anew".to_owned();
    Fault::Refused { remedy: why.to_string(), detail }
}

/// The record at work; one that was left open is taken up for whoever says something.
async fn at_work(house: &House, id: &RecordId) -> Result<Arc<Work>, Fault> {
    match house.hub.at_work(id) {
        Some(work) => Ok(work),
        None => Ok(house.hub.take_up(id).await?),
    }
}

fn ago(ms: f64) -> Time {
    Time::from_seconds(if ms.is_finite() { ms / 1000.0 } else { 0.0 })
}

/// One page that follows.
struct Page {
    house: House,
    record: Option<RecordId>,
    by: Option<String>,
    may_say: bool,
}

/// Where a page stands.
struct Standing {
    work: Option<Arc<Work>>,
    moments: Option<watch::Receiver<Arc<Moment>>>,
    /// What it was sent of the points; `None` where it draws none.
    place: Option<Place>,
    /// The points that it was told of.
    epoch: Option<String>,
    /// Words have changed since the last that it was sent.
    changed: bool,
    sent: Option<Instant>,
}

impl Page {
    async fn follow(self, socket: WebSocket, place: Option<Place>) {
        let (mut to, mut from) = socket.split();
        let mut closing = self.house.hub.closing();
        // A page that comes while every page is let go hears of no change any more.
        if *closing.borrow_and_update() {
            return;
        }
        let mut stands =
            Standing { work: None, moments: None, place, epoch: None, changed: true, sent: None };
        let mut answers = FuturesUnordered::new();
        loop {
            let (messages, more) = self.due(&mut stands);
            for message in messages {
                if !passed(&mut to, message).await {
                    return;
                }
            }
            let next = stands.sent.unwrap_or_else(Instant::now)
                + if stands.changed { APART } else { HEARTBEAT };
            tokio::select! {
                biased;
                _ = closing.changed() => break,
                said = from.next(), if answers.len() < UNANSWERED => match said {
                    Some(Ok(Message::Text(text))) => answers.extend(self.hear(text.as_str())),
                    Some(Ok(Message::Close(_)) | Err(_)) | None => return,
                    Some(Ok(_)) => {}
                },
                Some(answer) = answers.next() => {
                    if !passed(&mut to, answer).await {
                        return;
                    }
                }
                () = stands.change() => {}
                () = sleep_until(next) => {}
                () = std::future::ready(()), if more => {}
            }
        }
        // Whoever is there sees the link end; whoever is not never learns.
        let _ = timeout(HEARTBEAT, to.close()).await;
    }

    /// What is to be sent now, and whether more waits that can be sent at once.
    fn due(&self, stands: &mut Standing) -> (Vec<Message>, bool) {
        self.look_for_work(stands);
        let mut messages = Vec::new();
        let mut more = false;
        if let Some(work) = &stands.work {
            let trace = work.points().read();
            if stands.epoch.as_deref() != Some(&trace.epoch()) {
                stands.epoch = Some(trace.epoch());
                let from = stands.place.as_ref().filter(|place| trace.knows(place));
                messages.push(message::epoch(&trace, from.map_or(0, |place| place.next)));
            }
            if let Some(place) = &mut stands.place {
                let pieces = trace.news(place, AT_ONCE);
                more = place.next < trace.len();
                messages.extend(pieces.iter().map(|(first, piece)| points(*first, piece)));
            }
        }
        let apart = if stands.changed { APART } else { HEARTBEAT };
        if stands.sent.is_none_or(|sent| sent.elapsed() >= apart) {
            let revision = stands.place.as_ref().map_or(0, |place| place.revision);
            messages.push(newest(&self.house, stands.work.as_deref(), revision));
            (stands.changed, stands.sent) = (false, Some(Instant::now()));
        }
        (messages, more)
    }

    /// A record that comes to work is followed from then on, one that rests is not any more.
    fn look_for_work(&self, stands: &mut Standing) {
        if stands.moments.is_some() {
            return;
        }
        let work = self.record.as_ref().and_then(|id| self.house.hub.at_work(id));
        // One that comes to rest says nothing more.
        let Some(work) = work.filter(|work| !work.has_ended()) else { return };
        let mut moments = work.listen();
        moments.mark_changed();
        stands.moments = Some(moments);
        stands.work = Some(work);
        stands.changed = true;
    }

    /// Takes what a page says, if it is anything; gives its answer when there is one.
    fn hear(&self, text: &str) -> Option<impl Future<Output = Message> + use<>> {
        let FromPage { say, nonce, ago_ms } = serde_json::from_str(text).ok()?;
        let (house, id, may_say) = (self.house.clone(), self.record.clone()?, self.may_say);
        let line = Line { line: say, by: self.by.clone(), ago: ago(ago_ms), nonce: nonce.clone() };
        // At work already, it is said before this returns: lines of one page stay in their order.
        let said = match (may_say, house.hub.at_work(&id)) {
            (true, Some(work)) => Ok(work.say(line)),
            _ => Err(line),
        };
        Some(async move {
            let answer: Result<Answer, String> = match said {
                Ok(answered) => Ok(answered.await),
                Err(_) if !may_say => Err(message::MAY_NOT_SAY.to_owned()),
                Err(line) => match house.hub.take_up(&id).await {
                    Ok(work) => Ok(work.say(line).await),
                    Err(trouble) => Err(trouble.to_string()),
                },
            };
            message::answer(&nonce, answer)
        })
    }
}

/// Whether it went over the wire.
async fn passed(to: &mut SplitSink<WebSocket, Message>, message: Message) -> bool {
    matches!(timeout(STUCK, to.send(message)).await, Ok(Ok(())))
}

impl Standing {
    /// Waits for the next change.
    async fn change(&mut self) {
        let Some(moments) = &mut self.moments else { return std::future::pending().await };
        if moments.changed().await.is_ok() {
            moments.mark_unchanged();
            self.changed = true;
            return;
        }
        // The last words of a record that is closed stay true; any others are old from now on.
        self.work = self.work.take().filter(|work| work.moment().view.closed);
        (self.moments, self.changed) = (None, true);
    }
}
