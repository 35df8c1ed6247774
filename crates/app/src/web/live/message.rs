//! What goes over the wire, both ways.

use axum::extract::ws::Message;
use serde::{Deserialize, Serialize};

use crate::drive::answers::Answer;
use crate::drive::trace::{Point, Trace};
use crate::web::House;
use crate::web::hub::{Work, json};

/// Why a page that may only look is not heard.
pub(super) const MAY_NOT_SAY: &str =
    "Tell the person at the set: this page may only watch, and says nothing to the record";

/// What a page says.
#[derive(Debug, Deserialize)]
pub(super) struct FromPage {
    /// A line in the words of `session::say`.
    pub(super) say: String,
    /// A word of the page's own, the same when the line is sent again.
    pub(super) nonce: String,
    /// Since its first digit or key.
    #[serde(default)]
    pub(super) ago_ms: f64,
}

/// The newest words: every hazard, and where the page shows a record, all that is so of it. Its
/// `kept` is the number of the last event that is durable, `deeds` how many of these are more than
/// readings (the sheet shows them), `revision` the changes of points so far (a page that comes back
/// says up to which it has them), `pace` how many times as fast as the clock goes time.
pub(super) fn newest(house: &House, work: Option<&Work>, revision: u64) -> Message {
    let hazards = house.hub.hazards_told();
    let Some(work) = work else { return Message::text(format!("{{\"hazards\":{hazards}}}")) };
    let told = work.told();
    let (kept, deeds) = (told.moment.kept, told.moment.deeds);
    Message::text(format!(
        "{{\"hazards\":{hazards},\"record\":{},\"scene\":{},\"kept\":{kept},\"deeds\":{deeds},\
         \"revision\":{revision},\"pace\":{}}}",
        json(&work.id().as_str()),
        work.scene(&told),
        json(&house.clock.times()),
    ))
}

/// Which holding of points this is, how many of them the page has, and how many there are.
pub(super) fn epoch(trace: &Trace, from: usize) -> Message {
    text(&serde_json::json!({ "epoch": trace.epoch(), "from": from, "all": trace.len() }))
}

/// Points from this one on; they take the place of those that the page has there.
pub(super) fn points(first: usize, points: &[Point]) -> Message {
    let mut bytes = Vec::with_capacity(8 + points.len() * Point::BYTES);
    let number = |number: usize| u32::try_from(number).unwrap_or(u32::MAX).to_le_bytes();
    bytes.extend(number(first));
    bytes.extend(number(points.len()));
    points.iter().for_each(|point| point.write(&mut bytes));
    Message::binary(bytes)
}

/// What came of a line.
pub(super) fn answer(nonce: &str, answer: Result<Answer, String>) -> Message {
    let answer = match answer {
        Ok(Ok(seq)) => serde_json::json!({ "nonce": nonce, "kept": seq }),
        Ok(Err(refused)) => serde_json::json!({ "nonce": nonce, "refused": refused.to_string() }),
        Err(refused) => serde_json::json!({ "nonce": nonce, "refused": refused }),
    };
    text(&serde_json::json!({ "answer": answer }))
}

fn text(what: &impl Serialize) -> Message {
    Message::text(json(what))
}
