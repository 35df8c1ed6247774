//! The people of a test, and what each of them said last.

use quantity::{Time, edge};
use serde::{Deserialize, Serialize};

/// A part that a person has in a test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// The only hands on the set; answers by what is said of the set.
    Operator,
    /// Writes; answers by what is written.
    Recorder,
    /// Watches people and barrier.
    Watch,
    /// Guards the other end.
    FarEnd,
}

impl Role {
    /// Every one.
    pub const ALL: [Self; 4] = [Self::Operator, Self::Recorder, Self::Watch, Self::FarEnd];

    /// The word that a person types for it; the plan has it under the same name.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Operator => "operator",
            Self::Recorder => "recorder",
            Self::Watch => "watch",
            Self::FarEnd => "far-end",
        }
    }

    /// Its name in a sentence.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Operator => "operator",
            Self::Recorder => "recorder",
            Self::Watch => "watch",
            Self::FarEnd => "far-end guard",
        }
    }

    /// The one that these words name.
    #[must_use]
    pub fn of_words(said: &str) -> Option<Self> {
        let said = said.trim().to_ascii_lowercase().replace([' ', '_'], "-");
        Self::ALL.into_iter().find(|role| {
            let name = role.name().replace(' ', "-");
            said == role.key() || said == name || said == format!("safety-{name}")
        })
    }

    /// Whether it has to be heard before every energising: who says what is done at the set, or
    /// writes it, is heard by that.
    #[must_use]
    pub const fn is_asked(self) -> bool {
        matches!(self, Self::Watch | Self::FarEnd)
    }
}

/// What came, or did not come, of a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RoleNews {
    /// Is at the place, and it is as it must be there.
    Here,
    /// Calls for the voltage to come down.
    Called {
        /// Why, in words; may be empty.
        text: String,
    },
    /// Was to be heard by now while voltage is on, and was not.
    Silent {
        /// Since the last word, or since energising where there was none.
        #[serde(rename = "for_s", with = "edge::s")]
        time: Time,
    },
}
