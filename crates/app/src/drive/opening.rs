//! Before anything else: what earlier runs left open, hazardous ones first and in full.

use session::Kind;
use session::fold::Retold;
use session::live::Session;
use session::record::Now;
use store::Summary;

use super::books::Books;
use super::counsel::Counsel;
use super::voice::aside;
use crate::output::{Trouble, print};
use crate::show::records;

/// Whether an open record of the same object is taken up.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) enum TakeUp {
    /// The newest, where there is one.
    #[default]
    Newest,
    /// This one.
    Named(String),
    /// None: a new record is begun.
    None,
}

/// An open record, read back.
pub(crate) struct Found {
    pub(crate) summary: Summary,
    pub(crate) session: Session,
    pub(crate) counsel: Counsel,
    /// It came from elsewhere, and all of it has come.
    whole: bool,
    /// Another database alone wrote in it, where somebody may go on with it still.
    of_others: bool,
}

/// All that was left open.
pub(crate) struct Opening {
    found: Vec<Found>,
    asset: String,
    take_up: TakeUp,
}

impl Opening {
    /// Reads back every open record.
    pub(crate) fn look(books: &Books, asset: &str, take_up: &TakeUp) -> Result<Self, Trouble> {
        let mut found = Vec::new();
        let mut take_up = take_up.clone();
        if let TakeUp::Named(asked) = &take_up {
            take_up = TakeUp::Named(books.resolve(asked)?.to_string());
        }
        for summary in books.open_records()?.into_iter().filter(|one| one.kind != Kind::Transcribed)
        {
            found.extend(read_back(books, summary)?);
        }
        let opening = Self { found, asset: asset.to_owned(), take_up };
        opening.check()?;
        Ok(opening)
    }

    fn check(&self) -> Result<(), Trouble> {
        let TakeUp::Named(id) = &self.take_up else { return Ok(()) };
        let named = self.found.iter().find(|one| one.summary.id.as_str() == id);
        match named {
            Some(one) if one.summary.asset == self.asset => Ok(()),
            Some(one) => Err(Trouble::Argument {
                remedy: format!("Give the job file of {}", one.summary.asset),
                detail: format!("record {id} is of it, the job is of {}", self.asset),
            }),
            None => Err(Trouble::Argument {
                remedy: "Name an open record, as `ohmstead list --open` shows them".to_owned(),
                detail: format!("record {id} is closed, or was taken in whole"),
            }),
        }
    }

    /// Tells what was left hazardous, and what to do by hand; gives each in short.
    pub(crate) fn tell(&self, now: Now, json: bool) -> Vec<String> {
        let mut told = Vec::new();
        for one in &self.found {
            let view = one.session.view(now);
            if !view.is_hazardous() {
                continue;
            }
            let said = super::words::left_hazardous(&one.summary, &view);
            if json {
                aside(&said);
                let conductors: Vec<&str> = view
                    .conductors
                    .iter()
                    .filter(|one| one.hazardous)
                    .map(|one| one.name.as_str())
                    .collect();
                let line = serde_json::json!({
                    "open": one.summary.id,
                    "asset": one.summary.asset,
                    "hazardous": conductors,
                });
                print(&format!("{line}\n"));
            } else {
                print(&format!("{said}\n"));
            }
            told.push(super::words::left_open(&one.summary));
        }
        told
    }

    /// The record to go on with, if any: of the same object and kind, begun or gone on with in this
    /// database, and not one that was written down elsewhere and came to its end.
    ///
    /// `gone` says that the object of every earlier record is no more. By hand a record of any kind
    /// is brought to its end, but what comes by a wire goes into one of its own kind alone:
    /// simulated readings in a test would be taken for real ones.
    ///
    /// # Errors
    /// It is of another kind, another program goes on with it, or nothing can be written.
    pub(crate) fn taken_up(
        self,
        books: &Books,
        kind: Kind,
        gone: bool,
        by_wire: bool,
    ) -> Result<Option<Found>, Trouble> {
        let Self { found, asset, take_up } = self;
        let mut found = found.into_iter();
        let found = match take_up {
            TakeUp::None => None,
            TakeUp::Named(id) => found.find(|one| one.summary.id.as_str() == id),
            TakeUp::Newest if gone => None,
            TakeUp::Newest => {
                let same = |one: &Found| one.summary.asset == asset && one.summary.kind == kind;
                found.find(|one| same(one) && !one.whole && !one.of_others)
            }
        };
        let Some(found) = found else { return Ok(None) };
        if by_wire && found.summary.kind != kind {
            return Err(Trouble::Argument {
                remedy: "Go on with it by --from keys, or leave --resume out".to_owned(),
                detail: format!(
                    "record {} is of the kind {}, and these readings are of the kind {}",
                    found.summary.id,
                    records::kind(found.summary.kind),
                    records::kind(kind)
                ),
            });
        }
        books.hold(&found.summary.id)?;
        // Until this moment another program may have gone on with it.
        let stands = books.open_records()?.into_iter().find(|one| one.id == found.summary.id);
        match stands {
            Some(summary) if summary.events == found.summary.events => Ok(Some(found)),
            Some(summary) => read_back(books, summary),
            None => Ok(None),
        }
    }
}

/// An open record, read back; one that cannot be taken up is told and left.
fn read_back(books: &Books, summary: Summary) -> Result<Option<Found>, Trouble> {
    let head = books.head(&summary.id)?;
    let mut session = Session::replaying(&head);
    let mut counsel = Counsel::new(&head, &session);
    let (mut wrong, mut retold) = (None, Retold::default());
    books.each_entry(&summary.id, |entry| {
        retold.take(entry);
        counsel.replay(entry);
        if wrong.is_none() {
            wrong = session.replay(entry).err();
        }
    })?;
    let Some(error) = wrong else {
        let of_others = !books.wrote(&summary.id)?;
        let whole = retold.is_whole();
        return Ok(Some(Found { summary, session, counsel, whole, of_others }));
    };
    aside(&format!(
        "Look at record {} with `ohmstead verify` and see the object itself: it was left open and \
         cannot be taken up ({error})",
        summary.id
    ));
    Ok(None)
}
