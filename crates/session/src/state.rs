//! Where one conductor stands, and the one table of how it may go on from there.
//!
//! Read [`MOVES`] as a table: *in one of these states, this act leads there*. What is not in it is
//! illegal. [`rules`] says what must be met besides.

use serde::{Deserialize, Serialize};

use crate::act::Act;
use crate::guard::Guard;

/// Where one conductor stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Nothing was done yet.
    Prepared,
    /// The checklist was gone through.
    Checked,
    /// High voltage is on, the dial at zero.
    AtZero,
    /// The voltage is being raised.
    Rising,
    /// At the level of a step.
    Dwelling,
    /// At the test level.
    Holding,
    /// The set tripped; the object is still charged.
    Tripped,
    /// The voltage is coming down, or was switched off.
    ComingDown,
    /// What is left on the object was read.
    Residual,
    /// Discharged through the tool, not yet grounded.
    Discharged,
    /// A solid ground is on.
    Grounded,
    /// Its grounds are off again, to see what comes back.
    Lifted,
    /// Handed back.
    Released,
}

/// How an application of voltage ended.
///
/// In order of weight: what is told later only adds to what is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum End {
    /// A person brought the voltage down by the dial.
    Stopped,
    /// A person switched off at once, from where it stood.
    Aborted,
    /// The set ended it.
    Tripped,
    /// Flashover outside, over the surface.
    FlashedOver,
    /// The insulation broke down.
    BrokeDown,
}

macro_rules! kinds {
    ($($kind:ident $key:literal,)*) => {
        /// An act without its data.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[derive(Serialize, Deserialize)]
        #[serde(rename_all = "kebab-case")]
        pub enum ActKind {
            $(#[doc = concat!("`", $key, "`; see [`Act`].")] $kind,)*
        }

        impl ActKind {
            /// Every one, in the order of a test.
            pub const ALL: &'static [Self] = &[$(Self::$kind,)*];

            /// The word a person types for it.
            #[must_use]
            pub const fn key(self) -> &'static str {
                match self {
                    $(Self::$kind => $key,)*
                }
            }
        }
    };
}

kinds! {
    Lead "lead",
    Check "check",
    Blank "blank",
    Energise "energise",
    Rise "rise",
    Dwell "dwell",
    Hold "hold",
    Trip "trip",
    Flashover "flashover",
    Breakdown "breakdown",
    Stop "stop",
    Abort "abort",
    Off "off",
    Residual "residual",
    Tool "tool",
    Ground "ground",
    Lift "lift",
    Leave "leave",
    Cause "cause",
    Again "again",
    End "end",
    Reset "reset",
    Zero "zero",
    Release "release",
}

impl Act {
    /// The act of a kind that carries no data.
    #[must_use]
    pub const fn plain(kind: ActKind) -> Option<Self> {
        Some(match kind {
            ActKind::Lead => Self::Lead,
            ActKind::Check => Self::Check,
            ActKind::Blank => Self::Blank,
            ActKind::Energise => Self::Energise,
            ActKind::Rise => Self::Rise,
            ActKind::Dwell => Self::Dwell,
            ActKind::Hold => Self::Hold,
            ActKind::Trip => Self::Trip,
            ActKind::Flashover => Self::Flashover,
            ActKind::Breakdown => Self::Breakdown,
            ActKind::Stop => Self::Stop,
            ActKind::Abort => Self::Abort,
            ActKind::Off => Self::Off,
            ActKind::Tool => Self::Tool,
            ActKind::Again => Self::Again,
            ActKind::End => Self::End,
            ActKind::Reset => Self::Reset,
            ActKind::Zero => Self::Zero,
            ActKind::Release => Self::Release,
            ActKind::Residual
            | ActKind::Ground
            | ActKind::Lift
            | ActKind::Leave
            | ActKind::Cause => return None,
        })
    }

    /// The act without its data.
    #[must_use]
    pub const fn kind(&self) -> ActKind {
        match self {
            Self::Lead => ActKind::Lead,
            Self::Check => ActKind::Check,
            Self::Blank => ActKind::Blank,
            Self::Energise => ActKind::Energise,
            Self::Rise => ActKind::Rise,
            Self::Dwell => ActKind::Dwell,
            Self::Hold => ActKind::Hold,
            Self::Trip => ActKind::Trip,
            Self::Flashover => ActKind::Flashover,
            Self::Breakdown => ActKind::Breakdown,
            Self::Stop => ActKind::Stop,
            Self::Abort => ActKind::Abort,
            Self::Off => ActKind::Off,
            Self::Residual { .. } => ActKind::Residual,
            Self::Tool => ActKind::Tool,
            Self::Ground { .. } => ActKind::Ground,
            Self::Lift { .. } => ActKind::Lift,
            Self::Leave { .. } => ActKind::Leave,
            Self::Cause { .. } => ActKind::Cause,
            Self::Again => ActKind::Again,
            Self::End => ActKind::End,
            Self::Reset => ActKind::Reset,
            Self::Zero => ActKind::Zero,
            Self::Release => ActKind::Release,
        }
    }
}

/// One row of the table.
#[derive(Clone, Copy, Debug)]
pub struct Move {
    /// What is done or seen.
    pub on: ActKind,
    /// In one of these states.
    pub from: &'static [State],
    /// Where it leads; `None`: the state stays.
    pub to: Option<State>,
}

macro_rules! moves {
    ($($on:ident: $($from:ident)+ => $to:tt;)*) => {
        /// Every legal move.
        pub const MOVES: &[Move] = &[
            $(Move { on: ActKind::$on, from: &[$(State::$from),+], to: moves!(@ $to) },)*
        ];
    };
    (@ stays) => { None };
    (@ $to:ident) => { Some(State::$to) };
}

moves! {
    // act       in one of these states                              leads to
    Lead:        Prepared Checked Grounded                           => stays;
    Check:       Prepared Checked Grounded                           => Checked;
    Blank:       Checked                                             => stays;
    Energise:    Checked                                             => AtZero;
    Rise:        AtZero Dwelling                                     => Rising;
    Dwell:       Rising                                              => Dwelling;
    Hold:        Rising Dwelling                                     => Holding;
    Trip:        AtZero Rising Dwelling Holding ComingDown           => Tripped;
    Flashover:   AtZero Rising Dwelling Holding                      => ComingDown;
    Flashover:   Tripped ComingDown Residual                         => stays;
    Breakdown:   AtZero Rising Dwelling Holding                      => ComingDown;
    Breakdown:   Tripped ComingDown Residual                         => stays;
    Stop:        AtZero Rising Dwelling Holding                      => ComingDown;
    Abort:       AtZero Rising Dwelling Holding                      => ComingDown;
    Off:         Tripped ComingDown                                  => stays;
    Residual:    Tripped ComingDown                                  => Residual;
    Residual:    Checked Residual Lifted                             => stays;
    Tool:        Checked Residual Lifted                             => Discharged;
    Ground:      Discharged                                          => Grounded;
    Ground:      Prepared Checked Grounded Released                  => stays;
    Lift:        Prepared Checked Grounded                           => stays;
    Leave:       Prepared Checked Grounded Released                  => stays;
    Cause:       Grounded                                            => stays;
    Again:       Grounded                                            => stays;
    End:         Grounded                                            => stays;
    Reset:       Grounded                                            => stays;
    Zero:        Grounded                                            => stays;
    Release:     Grounded Lifted                                     => Released;
}
// One move depends on more than the state: when the last ground of a grounded conductor is
// lifted, it is `Lifted`.

impl State {
    /// Every one, in the order of a test.
    pub const ALL: &'static [Self] = &[
        Self::Prepared,
        Self::Checked,
        Self::AtZero,
        Self::Rising,
        Self::Dwelling,
        Self::Holding,
        Self::Tripped,
        Self::ComingDown,
        Self::Residual,
        Self::Discharged,
        Self::Grounded,
        Self::Lifted,
        Self::Released,
    ];

    /// The words of the trade for it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Prepared => "prepared",
            Self::Checked => "checked",
            Self::AtZero => "energised at zero",
            Self::Rising => "rising",
            Self::Dwelling => "dwelling",
            Self::Holding => "holding",
            Self::Tripped => "tripped",
            Self::ComingDown => "coming down",
            Self::Residual => "residual read",
            Self::Discharged => "discharged through tool",
            Self::Grounded => "grounded",
            Self::Lifted => "lifted for a check",
            Self::Released => "released",
        }
    }

    /// Where an act leads from here; `None` where it is illegal.
    #[must_use]
    pub fn after(self, act: ActKind) -> Option<Self> {
        let found = MOVES.iter().find(|row| row.on == act && row.from.contains(&self))?;
        Some(found.to.unwrap_or(self))
    }

    /// Whether the set is switched on.
    #[must_use]
    pub const fn is_energised(self) -> bool {
        matches!(self, Self::AtZero | Self::Rising | Self::Dwelling | Self::Holding)
    }

    /// Whether it lies between energising and solid ground.
    #[must_use]
    pub const fn in_application(self) -> bool {
        self.is_energised()
            || matches!(self, Self::Tripped | Self::ComingDown | Self::Residual | Self::Discharged)
    }
}

impl End {
    /// The word for it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Stopped => "stopped",
            Self::Aborted => "aborted",
            Self::Tripped => "tripped",
            Self::FlashedOver => "flashed over",
            Self::BrokeDown => "broke down",
        }
    }

    /// The end that an act tells of, if any.
    #[must_use]
    pub const fn of(act: ActKind) -> Option<Self> {
        match act {
            ActKind::Stop => Some(Self::Stopped),
            ActKind::Abort => Some(Self::Aborted),
            ActKind::Trip => Some(Self::Tripped),
            ActKind::Flashover => Some(Self::FlashedOver),
            ActKind::Breakdown => Some(Self::BrokeDown),
            _ => None,
        }
    }

    /// Whether a person must say why before anything follows.
    #[must_use]
    pub const fn needs_cause(self) -> bool {
        !matches!(self, Self::Stopped)
    }
}

/// What must be met before an act, beside the state being right and the record being open.
#[must_use]
pub const fn rules(act: ActKind) -> &'static [Guard] {
    use Guard::*;
    match act {
        ActKind::Lead => &[BothGrounded, OneEnergised],
        ActKind::Check => &[CauseTyped, Decided, TripReset, DialAtZero],
        ActKind::Energise => {
            &[OneEnergised, OthersGrounded, LeadHere, OwnGroundOff, NoResidual, HoldPoints, Heard]
        }
        ActKind::Residual => &[OffFirst],
        ActKind::Ground => &[InRegister, ToolFirst],
        ActKind::Lift => &[InRegister, OthersGrounded, HoldPoints],
        ActKind::Leave => &[InRegister],
        ActKind::Again | ActKind::End => &[CauseTyped],
        ActKind::Reset | ActKind::Zero => &[Decided],
        ActKind::Release => &[CauseTyped, Decided, GroundTime, ReboundWatched, RegisterClosed],
        ActKind::Blank
        | ActKind::Rise
        | ActKind::Dwell
        | ActKind::Hold
        | ActKind::Trip
        | ActKind::Flashover
        | ActKind::Breakdown
        | ActKind::Stop
        | ActKind::Abort
        | ActKind::Off
        | ActKind::Tool
        | ActKind::Cause => &[],
    }
}
