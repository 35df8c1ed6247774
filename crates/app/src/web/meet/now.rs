//! A meeting that was asked for on a page: one at a time.

use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::meet::Progress;

/// Where it stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) enum Now {
    /// None was asked for, or it ended well.
    #[default]
    Nothing,
    /// It is under way.
    Under {
        /// With this office.
        office: String,
        /// So far, once something moved.
        progress: Option<Progress>,
    },
    /// It did not come to its end.
    Failed {
        /// Why.
        said: String,
    },
}

/// A meeting that was asked for on a page.
#[derive(Debug, Default)]
pub(crate) struct Meeting(Mutex<Now>);

impl Meeting {
    fn held(&self) -> MutexGuard<'_, Now> {
        // What is in it is whole at every moment, so it is good after a panic too.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn now(&self) -> Now {
        self.held().clone()
    }

    /// Begins one; says whether none was under way.
    pub(super) fn begin(&self, office: &str) -> bool {
        let mut now = self.held();
        if matches!(*now, Now::Under { .. }) {
            return false;
        }
        *now = Now::Under { office: office.to_owned(), progress: None };
        true
    }

    pub(super) fn tell(&self, so_far: Progress) {
        if let Now::Under { progress, .. } = &mut *self.held() {
            *progress = Some(so_far);
        }
    }

    pub(super) fn end(&self, failed: Option<String>) {
        *self.held() = failed.map_or(Now::Nothing, |said| Now::Failed { said });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_meeting_at_a_time() {
        let meeting = Meeting::default();
        assert!(meeting.begin("a"));
        assert!(!meeting.begin("b"));
        let progress = Progress { sends: true, records: 1, of_records: 2, events: 3, of_events: 4 };
        meeting.tell(progress);
        let under = Now::Under { office: "a".to_owned(), progress: Some(progress) };
        assert_eq!(meeting.now(), under);
        meeting.end(Some("cut".to_owned()));
        assert_eq!(meeting.now(), Now::Failed { said: "cut".to_owned() });
        assert!(meeting.begin("b"));
        meeting.end(None);
        assert_eq!(meeting.now(), Now::Nothing);
    }
}
