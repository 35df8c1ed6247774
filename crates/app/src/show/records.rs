//! What is kept, as readable text.

use std::fmt::Write as _;
use std::path::Path;

use jiff::Timestamp;
use session::Kind;
use store::Summary;

/// Records, one a line.
pub(crate) fn text(place: &Path, records: &[Summary], open_only: bool) -> String {
    let mut out = String::new();
    if records.is_empty() {
        let kind = if open_only { "No open record" } else { "No record" };
        line!(out, "{kind} is kept in {}.", place.display());
        return out;
    }
    line!(out, "{:<36}  {:<17}  {:<11}  {:>9}  state", "record", "begun", "kind", "readings");
    for one in records {
        let state = match one.kind {
            _ if one.closed => "closed",
            Kind::Transcribed => "whole",
            _ => "OPEN",
        };
        line!(
            out,
            "{:<36}  {:<17}  {:<11}  {:>9}  {state:<6}  {}",
            one.id.as_str(),
            moment(one.begun),
            kind(one.kind),
            one.readings,
            one.asset
        );
    }
    if records.iter().any(|one| !one.closed && one.kind != Kind::Transcribed) {
        line!(out);
        line!(
            out,
            "OPEN: take every conductor of it as hazardous until you have seen the tool used and a \
             solid\nground on it. `ohmstead run JOB.toml --from SOURCE` goes on with the record."
        );
    }
    out
}

/// A moment to the minute.
pub(crate) fn moment(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%MZ").to_string()
}

/// How a record came to be, so that nobody takes a simulated one for a test.
pub(crate) fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Test => "test",
        Kind::Practice => "PRACTICE",
        Kind::Simulated => "SIMULATED",
        Kind::Transcribed => "transcribed",
    }
}
