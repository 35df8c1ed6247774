//! When what is shown changes: at once where it grows more urgent, and not before it has stood for
//! a while where it grows milder.

use quantity::Time;
use session::record::{Advised, Strength};

use crate::advice::Advice;
use crate::adviser::Adviser;

/// What was shown stays so long before something milder, or another reason of the same strength,
/// takes its place. Common practice, no source: long enough to be read and looked up from.
const STAYS: Time = Time::from_seconds(5.0);

/// What is shown of one record.
#[derive(Clone, Debug, Default)]
pub struct Speaker {
    shown: Option<(Time, Advised)>,
}

impl Speaker {
    /// Nothing was shown yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// What was shown, in a record that is taken up again.
    pub fn replay(&mut self, since_begun: Time, advised: &Advised) {
        self.shown = Some((since_begun, advised.clone()));
    }

    /// What is to be shown from now on, at this time since the record was begun; `None` where what
    /// is shown stays.
    pub fn say(
        &mut self,
        since_begun: Time,
        phase: &str,
        since_energised: Option<Time>,
        advice: &Advice,
    ) -> Option<Advised> {
        if let Some((at, shown)) = &self.shown
            && shown.phase == phase
        {
            let same = shown.strength == advice.strength && shown.reason == advice.reason.key();
            let stays = advice.strength <= shown.strength && since_begun - *at < STAYS;
            if same || stays {
                return None;
            }
        } else if advice.strength == Strength::CarryOn {
            return None;
        }
        let advised = Adviser::advised(phase, since_energised, advice);
        self.shown = Some((since_begun, advised.clone()));
        Some(advised)
    }
}
