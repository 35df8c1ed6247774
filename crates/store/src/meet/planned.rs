//! What has to move, from how far each side has come: no database, no network.

use std::collections::HashMap;

use super::form::{ChainStands, ChainWant, RecordWant, Span, Standing, Want};

/// What has to move between two stores.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Between {
    /// What we have and they lack.
    pub send: Vec<Want>,
    /// What they have and we lack.
    pub fetch: Vec<Want>,
    /// Records that are the same on both sides.
    pub same: u64,
}

/// Spans that are not the same on both sides, by name.
#[must_use]
pub fn differing(ours: &[Span], theirs: &[Span]) -> Vec<String> {
    let of = |spans: &[Span]| -> HashMap<String, String> {
        spans.iter().map(|one| (one.span.clone(), one.digest.clone())).collect()
    };
    let (here, there) = (of(ours), of(theirs));
    let mut names: Vec<String> = here
        .keys()
        .chain(there.keys())
        .filter(|name| here.get(*name) != there.get(*name))
        .cloned()
        .collect();
    names.sort_unstable();
    names.dedup();
    names
}

/// What has to move so that both have every event, in whatever order it was written where.
///
/// Where one writer's chain has two different ends, its last event is sent all the same: they
/// refuse it by name, and it is seen on both sides.
#[must_use]
pub fn between(ours: &[Standing], theirs: &[Standing]) -> Between {
    let there: HashMap<&str, &Standing> =
        theirs.iter().map(|one| (one.record.as_str(), one)).collect();
    let here: HashMap<&str, &Standing> =
        ours.iter().map(|one| (one.record.as_str(), one)).collect();
    let mut between = Between::default();
    for one in ours {
        let other = there.get(one.record.as_str()).copied();
        match lacking(one, other, true) {
            Some(want) => between.send.push(Want::Record(want)),
            None if other.is_some_and(|other| lacking(other, Some(one), false).is_none()) => {
                between.same += 1;
            }
            None => {}
        }
    }
    for one in theirs {
        let want = lacking(one, here.get(one.record.as_str()).copied(), false);
        between.fetch.extend(want.map(Want::Record));
    }
    between
}

/// What `there` lacks of what `here` has; `None` where that is nothing.
fn lacking(here: &Standing, there: Option<&Standing>, show_clash: bool) -> Option<RecordWant> {
    let chain_of = |writer: &str| {
        let chains = there.map_or(&[][..], |there| &there.chains[..]);
        chains.iter().find(|chain| chain.writer == writer)
    };
    let mut chains: Vec<ChainWant> = here
        .chains
        .iter()
        .filter_map(|chain| {
            let own = chain.writer == here.begun_by;
            chain_lacking(chain, chain_of(&chain.writer), own, show_clash)
        })
        .collect();
    // A second writer's events follow what the record begins with.
    chains.sort_by_key(|chain| chain.writer != here.begun_by);
    let lacks = |all: &[String], known: fn(&Standing) -> &Vec<String>| -> Vec<String> {
        let known = there.map(known);
        all.iter().filter(|one| known.is_none_or(|known| !known.contains(one))).cloned().collect()
    };
    let want = RecordWant {
        record: here.record.clone(),
        chains,
        findings: lacks(&here.findings, |there| &there.findings),
        signatures: lacks(&here.signatures, |there| &there.signatures),
        sheets: lacks(&here.sheets, |there| &there.sheets),
    };
    let nothing = want.chains.is_empty()
        && want.findings.is_empty()
        && want.signatures.is_empty()
        && want.sheets.is_empty();
    (!nothing).then_some(want)
}

fn chain_lacking(
    here: &ChainStands,
    there: Option<&ChainStands>,
    own: bool,
    show_clash: bool,
) -> Option<ChainWant> {
    let writer = here.writer.clone();
    let begin = if own { None } else { Some(0) };
    match there {
        None => Some(ChainWant { writer, after: begin, to: here.seq }),
        Some(there) if there.seq < here.seq => {
            Some(ChainWant { writer, after: Some(there.seq), to: here.seq })
        }
        Some(there) if there.seq == here.seq && there.code != here.code && show_clash => {
            Some(ChainWant { writer, after: here.seq.checked_sub(1), to: here.seq })
        }
        Some(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::id::RecordId;

    fn standing(record: &str, chains: &[(&str, u64, &str)], findings: &[&str]) -> Standing {
        let chain = |(writer, seq, code): &(&str, u64, &str)| ChainStands {
            writer: (*writer).to_owned(),
            seq: *seq,
            code: (*code).to_owned(),
        };
        Standing {
            record: RecordId::of(record.to_owned()),
            begun_by: chains[0].0.to_owned(),
            chains: chains.iter().map(chain).collect(),
            findings: findings.iter().map(|one| (*one).to_owned()).collect(),
            signatures: Vec::new(),
            sheets: Vec::new(),
        }
    }

    /// `writer after..to` of each chain, and how many findings.
    fn told(wants: &[Want]) -> Vec<String> {
        let one = |want: &Want| match want {
            Want::Record(want) => {
                let chain = |one: &ChainWant| {
                    let after = one.after.map_or("-".to_owned(), |after| after.to_string());
                    format!(" {} {after}..{}", one.writer, one.to)
                };
                let chains: String = want.chains.iter().map(chain).collect();
                format!("{}{chains} f{}", want.record, want.findings.len())
            }
            other => format!("{other:?}"),
        };
        wants.iter().map(one).collect()
    }

    /// Derived: what moves is what one side has and the other has not, nothing else.
    fn check(ours: &[Standing], theirs: &[Standing], send: &[&str], fetch: &[&str], same: u64) {
        let between = between(ours, theirs);
        assert_eq!(told(&between.send), send);
        assert_eq!(told(&between.fetch), fetch);
        assert_eq!(between.same, same);
    }

    #[test]
    fn what_one_side_alone_has_goes_whole() {
        let ours = [standing("a", &[("w", 4, "x")], &["f"])];
        check(&ours, &[], &["a w -..4 f1"], &[], 0);
        check(&[], &ours, &[], &["a w -..4 f1"], 0);
        check(&ours, &ours, &[], &[], 1);
        let two = [standing("a", &[("z", 4, "x"), ("b", 2, "y")], &[])];
        check(&two, &[], &["a z -..4 b 0..2 f0"], &[], 0);
    }

    #[test]
    fn each_chain_goes_on_from_where_the_other_side_has_it() {
        let ours = [standing("a", &[("w", 4, "x"), ("v", 7, "y")], &["f"])];
        let theirs = [standing("a", &[("w", 9, "z"), ("v", 2, "q")], &["g", "h"])];
        check(&ours, &theirs, &["a v 2..7 f1"], &["a w 4..9 f2"], 0);
    }

    #[test]
    fn one_chain_with_two_ends_is_shown_to_them_once() {
        let ours = [standing("a", &[("w", 4, "x")], &[])];
        let theirs = [standing("a", &[("w", 4, "other")], &[])];
        check(&ours, &theirs, &["a w 3..4 f0"], &[], 0);
        let (ours, theirs) =
            ([standing("a", &[("w", 0, "x")], &[])], [standing("a", &[("w", 0, "y")], &[])]);
        check(&ours, &theirs, &["a w -..0 f0"], &[], 0);
    }

    #[test]
    fn spans_that_are_the_same_are_left_out() {
        let span = |span: &str, digest: &str| Span {
            span: span.to_owned(),
            count: 1,
            digest: digest.to_owned(),
        };
        let ours = [span("r1", "a"), span("r2", "b"), span("t1", "c")];
        let theirs = [span("r2", "b"), span("t1", "d"), span("j0", "e")];
        assert_eq!(differing(&ours, &theirs), ["j0", "r1", "t1"]);
        assert_eq!(differing(&ours, &ours), [] as [&str; 0]);
    }
}
