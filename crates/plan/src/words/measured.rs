//! What a conductor gives back by its own test, in words.

use std::fmt;

use super::duration;
use crate::course::GroundBy;
use crate::measured::GivesBack;

/// What lengthened a ground time.
const fn longer_by(by: GroundBy) -> &'static str {
    match by {
        GroundBy::Model => "the object absorbed more than planned with",
        GroundBy::LateCharge => "charge may come back late",
        GroundBy::TimeAtVoltage => "it was at voltage longer than planned",
        GroundBy::PublishedMinimum => "a published minimum",
    }
}

impl fmt::Display for GivesBack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.longer_by {
            Some(by) => {
                write!(
                    f,
                    "ground it for {}, not shorter: {}; ",
                    duration(self.ground),
                    longer_by(by)
                )?;
            }
            None => write!(f, "the planned ground of {} stands; ", duration(self.ground))?,
        }
        let from =
            if self.object.is_some() { "from this test's readings" } else { "from the plan" };
        write!(f, "right after the tool up to {:.3} may come back, {from}", self.rebound)
    }
}
