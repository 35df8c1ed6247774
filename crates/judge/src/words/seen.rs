//! What is said of the measuring itself: whether the current was read at all, how the circuit was
//! linked, what meters showed of something known, and advice that was given while it happened.

use quantity::{Current, Ratio, Temperature, Time, Voltage};

use super::time;

/// What a finding says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Seen {
    /// The current never left zero.
    CurrentDead,
    /// One of several conductors reads nothing.
    OneDead { name: String, other: String, current: Current },
    /// The same, below the waiver of the comparison.
    OneDeadWaived { name: String, below: Current },
    /// None of them reads anything.
    AllDead,
    /// By the link written beside the readings the current goes past the meter.
    LinkPastMeter { link: String },
    /// The current rose at constant voltage, and nobody published a criterion.
    Rose { earlier: Time, later: Time, first: Current, last: Current },
    /// It was advised to come down.
    ComeDown { at: Time, text: String, stayed: Time },
    /// Every check of a meter is within what it may be off by.
    ChecksFit { count: usize },
    /// A check of a meter is not.
    CheckOff { known: Shown, read: Shown, off: Option<Ratio> },
    /// An index from readings whose ages nobody knows.
    IndexAges { index: f64 },
    /// Meters beside the set, and no check of any.
    Unchecked,
}

/// A voltage or a current of a check.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Shown {
    Voltage(Voltage),
    Current(Current),
}

/// One line of a chain.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SeenLink {
    NoMoreThanDigits { half: Current },
    MovesWithVoltage,
    LinkWritten { link: String },
    LinkBelongs,
    NoMoreThanHalfAgain { ratio: f64 },
    Advised { at: Time, text: String },
    NoComeDown,
    Check { known: Shown, read: Shown },
    MayBeOff { by: Shown },
    MeterUnknown,
    ToTwenty { megohms: f64, factor: f64, source: String },
    ConstantUncorrected { for_at: Temperature },
    ConstantColder { for_at: Temperature, coldest: Temperature, times: f64 },
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SeenNext {
    FindCurrent,
    SettleLink,
    FindRise,
    MendMeter,
    LogTheRise,
}

fn shown(shown: Shown) -> String {
    match shown {
        Shown::Voltage(voltage) => format!("{voltage:.3}"),
        Shown::Current(current) => format!("{current:.3}"),
    }
}

impl Seen {
    pub(crate) fn text(&self) -> String {
        match self {
            Self::CurrentDead => "The current never left zero, not even while the voltage rose: \
                                  it was not measured."
                .into(),
            Self::OneDead { name, other, current } => format!(
                "{name} reads nothing where {other} takes {current:.3}: its current was not \
                 measured, or the voltage was not on it."
            ),
            Self::AllDead => "No conductor reads any current: there is nothing to compare.".into(),
            Self::OneDeadWaived { name, below } => format!(
                "{name} reads nothing; all are below {below:.3}, where the ratio is not looked at."
            ),
            Self::LinkPastMeter { link } => format!(
                "“{link}” stands beside the readings: with a grounded low side the object's \
                 current then goes past the meter, and what was read is not it. Look up which \
                 link was fitted."
            ),
            Self::Rose { earlier, later, first, last } => format!(
                "At constant voltage the current rose from {first:.3} at {} to {last:.3} at {}.",
                time(*earlier),
                time(*later)
            ),
            Self::ComeDown { at, text, stayed } => format!(
                "{} after energising it was advised to come down: “{text}”. The voltage stayed \
                 on for {} more.",
                time(*at),
                time(*stayed)
            ),
            Self::ChecksFit { count: 1 } => "A meter was checked and read what was known.".into(),
            Self::ChecksFit { count } => {
                format!("Meters were checked {count} times and read what was known.")
            }
            Self::CheckOff { known, read, off } => format!(
                "A meter read {} where {} was known{}: what it read of the object is in doubt by \
                 as much.",
                shown(*read),
                shown(*known),
                off.map_or_else(String::new, |off| format!(", {:.0} % off", off.percent()))
            ),
            Self::IndexAges { index } => format!(
                "The readings begin with the voltage on already, so their ages are not known: \
                 {index:.2} is no polarization index."
            ),
            Self::Unchecked => "No meter of your own was checked against something known.".into(),
        }
    }

    pub(crate) const fn next(&self) -> Option<SeenNext> {
        match self {
            Self::CurrentDead | Self::OneDead { .. } => Some(SeenNext::FindCurrent),
            Self::LinkPastMeter { .. } => Some(SeenNext::SettleLink),
            Self::Rose { .. } | Self::ComeDown { .. } => Some(SeenNext::FindRise),
            Self::CheckOff { .. } => Some(SeenNext::MendMeter),
            Self::IndexAges { .. } => Some(SeenNext::LogTheRise),
            Self::AllDead
            | Self::OneDeadWaived { .. }
            | Self::ChecksFit { .. }
            | Self::Unchecked => None,
        }
    }
}

impl SeenLink {
    pub(crate) fn text(&self) -> String {
        match self {
            Self::NoMoreThanDigits { half } => {
                format!("Reading: no current above {half:.2}, half a digit, through rise and hold")
            }
            Self::MovesWithVoltage => {
                "Criterion: while the voltage rises, or at it, some current is seen".into()
            }
            Self::LinkWritten { link } => format!("Reading: link “{link}”, low side grounded"),
            Self::LinkBelongs => {
                "Criterion: with a grounded low side the link stands between return and ground"
                    .into()
            }
            Self::NoMoreThanHalfAgain { ratio } => {
                format!("Criterion: no more than {ratio} times, later over earlier")
            }
            Self::Advised { at, text } => format!("Record: at {}: “{text}”", time(*at)),
            Self::NoComeDown => {
                "Criterion: nothing in the readings asked to bring the voltage down".into()
            }
            Self::Check { known, read } => {
                format!("Reading: {} where {} was known", shown(*read), shown(*known))
            }
            Self::MayBeOff { by } => format!("Criterion: off by no more than {}", shown(*by)),
            Self::MeterUnknown => {
                "Uncertainty: a meter's own accuracy is not written down; that of the \
                                   set or of the meter beside it, or the last digit where it is \
                                   more, stands for it"
                    .into()
            }
            Self::ToTwenty { megohms, factor, source } => format!(
                "Correction: {:.4} at 20.0 °C, times {factor:.3} ({source})",
                quantity::Resistance::from_megohms(*megohms)
            ),
            Self::ConstantUncorrected { for_at } => format!(
                "Correction: none made, the constant is for {for_at} and no factor of this \
                 insulation is held"
            ),
            Self::ConstantColder { for_at, coldest, times } => format!(
                "Correction: none made, the constant is for {for_at} and no factor of this \
                 insulation is held; as cold as {coldest} it may read up to {times:.1} times as \
                 much (from memory), and so much is asked"
            ),
        }
    }
}

impl SeenNext {
    pub(crate) fn text(self) -> String {
        match self {
            Self::FindCurrent => {
                "Find why the meter of current reads nothing: its lead, the link, \
                                  its range, its fuse. Then repeat the test."
                    .into()
            }
            Self::SettleLink => "Look up which link was fitted. Correct the word, or fit the link \
                                 between return and ground and repeat the test."
                .into(),
            Self::FindRise => "Keep it out of use until it is known why the current rose: dirty \
                               ends, a supply that drifts, or insulation that gives way. Then \
                               repeat the test."
                .into(),
            Self::LogTheRise => "Begin to log before the voltage is on, or write a row of the \
                                 moment it came on. Then repeat the reading."
                .into(),
            Self::MendMeter => "Have the meter looked at, check it against something known, then \
                                repeat the test."
                .into(),
        }
    }
}
