//! The register of grounds: which is on what, since when, by whom.

use serde::{Deserialize, Serialize};

use crate::act::Act;
use crate::record::{Entry, Event, Moment};

/// One ground, from being put on to being taken off or handed over.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ground {
    /// Its number, as painted on it.
    pub number: String,
    /// Where it is.
    pub place: Option<String>,
    /// The conductor it is on.
    pub phase: String,
    /// When it was put on.
    pub on: Option<Moment>,
    /// By whom.
    pub on_by: Option<String>,
    /// When it was taken off; `None` while it is on.
    pub off: Option<Moment>,
    /// By whom.
    pub off_by: Option<String>,
    /// To whom it was handed over, still on.
    pub left_to: Option<String>,
    /// Whether it came off; apart from `off`, which a record without clocks cannot tell.
    pub is_off: bool,
}

impl Ground {
    /// Whether nobody here has to take it off any more.
    #[must_use]
    pub const fn is_settled(&self) -> bool {
        self.is_off || self.left_to.is_some()
    }
}

/// Every ground of a record, in the order they were put on.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Register {
    /// The grounds.
    pub grounds: Vec<Ground>,
}

impl Register {
    /// The register of a record that went so.
    #[must_use]
    pub fn of(events: &[Entry]) -> Self {
        let mut register = Self::default();
        for entry in events {
            if let Event::Did { phase, act, .. } = &entry.what {
                register.apply(entry, phase, act);
            }
        }
        register
    }

    /// The ground with this number that is on now.
    #[must_use]
    pub fn on_now(&self, number: &str) -> Option<&Ground> {
        self.grounds.iter().rfind(|ground| ground.number == number && !ground.is_off)
    }

    /// The grounds that are on this conductor now.
    pub fn on(&self, phase: &str) -> impl Iterator<Item = &Ground> {
        self.grounds.iter().filter(move |ground| ground.phase == phase && !ground.is_off)
    }

    /// Whether a ground is on this conductor.
    #[must_use]
    pub fn is_grounded(&self, phase: &str) -> bool {
        self.on(phase).next().is_some()
    }

    pub(crate) fn apply(&mut self, entry: &Entry, phase: &str, act: &Act) {
        let by = &entry.by;
        match act {
            Act::Ground { number, place } if self.on_now(number).is_none() => {
                self.grounds.push(Ground {
                    number: number.clone(),
                    place: place.clone(),
                    phase: phase.to_owned(),
                    on: entry.at,
                    on_by: by.clone(),
                    off: None,
                    off_by: None,
                    left_to: None,
                    is_off: false,
                });
            }
            Act::Lift { number } => {
                if let Some(ground) = self.on_now_mut(number) {
                    ground.is_off = true;
                    ground.off = entry.at;
                    ground.off_by.clone_from(by);
                }
            }
            Act::Leave { number, to } => {
                if let Some(ground) = self.on_now_mut(number) {
                    ground.left_to = Some(to.clone());
                }
            }
            _ => {}
        }
    }

    fn on_now_mut(&mut self, number: &str) -> Option<&mut Ground> {
        self.grounds.iter_mut().rfind(|ground| ground.number == number && !ground.is_off)
    }
}
