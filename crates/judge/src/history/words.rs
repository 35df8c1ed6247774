//! What a history says, in words.

use jiff::civil::Date;
use plan::job::Polarity;
use quantity::engineering;
use standards::Citation;

use super::apart::Apart;
use super::fleet::Standing;
use super::like::Why;
use super::series::{Change, Series};
use super::test::{Figure, Rule};
use super::trend::PerYear;
use crate::findings::Verdict;

/// Why no day is given.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum NoDate {
    AtLimit,
    Denied { source: Citation },
    TooFew { points: usize },
    NoTrend,
    Better,
    TooFar { seen: f64 },
}

pub(crate) fn no_date(why: &NoDate) -> String {
    match why {
        NoDate::AtLimit => {
            "no day is given: the newest value is past the limit, or within its own doubt of it"
                .to_owned()
        }
        NoDate::Denied { source } => format!(
            "no day is given: {source}, denies that a trend of this figure tells how long a \
             winding lives"
        ),
        NoDate::TooFew { points } => {
            format!("no day is given: {points} of the 4 like tests that it takes are there")
        }
        NoDate::NoTrend => {
            "no day is given: the interval of the trend holds no change at all".to_owned()
        }
        NoDate::Better => "no day is given: it does not go towards the limit".to_owned(),
        NoDate::TooFar { seen } => {
            format!("no day is given: it is further ahead than the {seen:.1} years that were seen")
        }
    }
}

pub(crate) fn figure(figure: Figure) -> &'static str {
    match figure {
        Figure::InsulationResistance => "insulation resistance",
        Figure::PolarizationIndex => "polarization index",
        Figure::Conduction => "conduction",
    }
}

/// A number of a figure with its unit.
fn number(figure: Figure, value: f64) -> String {
    match figure {
        Figure::InsulationResistance => engineering(value * 1e6, "Ω", 3),
        Figure::PolarizationIndex => engineering(value, "", 3),
        Figure::Conduction => engineering(value * 1e-6, "A", 3),
    }
}

const fn polarity(polarity: Polarity) -> &'static str {
    match polarity {
        Polarity::Negative => "negative",
        Polarity::Positive => "positive",
    }
}

pub(crate) fn why(why: &Why) -> String {
    match why {
        Why::Undated => "the day of the test is not known".to_owned(),
        Why::Unread => "it was not read, or cannot be told from the readings".to_owned(),
        Why::NotMeasured => "it was simulated, not measured".to_owned(),
        Why::Measured => "it was measured, and the newest is simulated".to_owned(),
        Why::Void => "that test could not be judged".to_owned(),
        Why::BrokeDown => "it broke down in that test".to_owned(),
        Why::OtherObject => "its plate said something else then".to_owned(),
        Why::Repaired { on } => format!("it was repaired before {on}"),
        Why::Polarity { was } => format!("it was read at {} polarity", polarity(*was)),
        Why::Connection => "it was connected otherwise".to_owned(),
        Why::Voltage { was: Some(was), now: Some(now) } => {
            format!("it was read at {was:.3}, the newest at {now:.3}")
        }
        Why::Voltage { .. } => "the voltage it was read at is not known".to_owned(),
        Why::Age { was_s, now_s } => {
            format!("it was read after {was_s:.0} s, the newest after {now_s:.0} s")
        }
        Why::NoTemperature => "the temperature of the insulation is not known".to_owned(),
        Why::NoRule { was, now } => format!(
            "it was read at {was:.3}, the newest at {now:.3}, and no published rule for it brings \
             one to the other"
        ),
        Why::OutsideRule { was } => {
            format!(
                "it was read at {was:.3}, where the published rule of temperature does not serve"
            )
        }
        Why::NoDoubt => "how well it was read is not known".to_owned(),
        Why::Coarse => {
            "the meter was too coarse for it: it may be off by more than half".to_owned()
        }
    }
}

pub(crate) fn rule(rule: Rule) -> String {
    match rule {
        Rule::Model(model) => model.to_string(),
        Rule::Factors => {
            "published factors of solid insulation, from memory, check your copy".into()
        }
    }
}

/// A trend's own words.
pub(crate) fn trend(
    per_year: &PerYear,
    told: bool,
    by_rule_alone: bool,
    points: usize,
    scatter: f64,
) -> String {
    let PerYear { low, value, high, unit } = per_year;
    let rate = format!("{} {unit} a year ({} to {})", signed(*value), signed(*low), signed(*high));
    let scatter = if scatter > 2.0 {
        format!(", which scatter {scatter:.1} times as much as they state")
    } else {
        String::new()
    };
    if by_rule_alone {
        return format!(
            "{rate} by {points} like tests{scatter}; by another published rule of temperature it \
             comes out otherwise, so that no trend is told"
        );
    }
    let told = if told { "" } else { ", so that no trend is told" };
    format!("{rate} by {points} like tests{scatter}{told}")
}

fn signed(value: f64) -> String {
    let digits = if value.abs() < 10.0 { 2 } else { 3 };
    let text = engineering(value.abs(), "", digits);
    if value < 0.0 { format!("−{text}") } else { format!("+{text}") }
}

/// One series in words.
pub(crate) fn series(series: &Series) -> String {
    let mut text = format!("{}, {}", series.phase, under(series));
    match series.points.last() {
        None => text += ": nothing of the years can be compared",
        Some(newest) => {
            text += &format!(": {} on {}", number(series.figure, newest.value), newest.on);
        }
    }
    if let Some(trend) = &series.trend {
        text += &format!("; {}", trend.text);
    }
    if let Some(limit) = &series.limit {
        text += &format!("; the limit is {}", number(series.figure, limit.value));
        match (&limit.reached, &limit.why_not) {
            (Some(reached), _) => {
                let high = reached.high.map_or_else(|| "no end".to_owned(), |day| day.to_string());
                text += &format!(
                    ", which the trend meets on {} ({} to {high}); a trend is no promise",
                    reached.on, reached.low
                );
            }
            (None, Some(why)) => text += &format!(", {why}"),
            (None, None) => {}
        }
        if let Some(since) = limit.past_since {
            text += &format!("; it is past the limit since {since}");
        }
    }
    if let Some(repair) = &series.repair {
        let told = if repair.resolved { "" } else { "no more than the meters can tell, " };
        text += &format!(
            "; after the repair against {} before it: {told}{}",
            repair.since,
            amount(series.figure, repair)
        );
    }
    text + "."
}

/// What a series is of, and under what.
pub(crate) fn under(series: &Series) -> String {
    let under = &series.under;
    let mut text = figure(series.figure).to_owned();
    if let Some(time) = under.at_time.filter(|_| series.figure == Figure::InsulationResistance) {
        text += &format!(" after {:.0} s", time.seconds());
    }
    if let Some(voltage) = under.at_voltage {
        text += &format!(" at {voltage:.3} {}", polarity(under.polarity));
    }
    match (&under.to, &under.by) {
        (Some(to), Some(by)) => text += &format!(", brought to {to:.3} ({by})"),
        (Some(to), None) => text += &format!(", as read at about {to:.3}"),
        (None, _) => {}
    }
    text
}

/// What changed since last time.
pub(crate) fn change(series: &Series, change: &Change) -> String {
    let what = figure(series.figure);
    let amount = amount(series.figure, change);
    let since = change.since;
    match (change.resolved, change.worse) {
        (false, _) => format!(
            "Since {since} the {what} has changed by no more than the meters can tell ({amount})."
        ),
        (true, true) => format!(
            "Since {since} the {what} has changed to the worse ({amount}), more than the meters \
             leave open. Look for what changed: moisture, dirt, a repair, how it was connected; \
             then read it again."
        ),
        (true, false) => format!(
            "Since {since} the {what} has changed to the better ({amount}), more than the meters \
             leave open. Make sure that it was connected and read as then."
        ),
    }
}

fn amount(figure: Figure, change: &Change) -> String {
    match &change.unit {
        None => {
            let digits = |value: f64| engineering(value, "", 3);
            format!("{} times, ± {}", digits(change.value), digits(change.expanded_u))
        }
        Some(_) => {
            format!("{}, ± {}", number(figure, change.value), number(figure, change.expanded_u))
        }
    }
}

/// Reading, correction, quotient and doubt, a line each.
pub(crate) fn change_chain(series: &Series, change: &Change) -> Vec<String> {
    let [.., then, now] = &series.points[..] else { return Vec::new() };
    let line = |point: &super::series::Point| {
        let read = number(series.figure, point.value_as_read);
        let brought = number(series.figure, point.value);
        let doubt = number(series.figure, point.expanded_u);
        let factor = engineering(point.correction_factor, "", 4);
        format!("{}: read {read}, times {factor} is {brought} ± {doubt} (k = 2)", point.on)
    };
    let sign = if change.unit.is_some() { "The newer less the older" } else { "Newer over older" };
    vec![
        format!("Like with like: {}", under(series)),
        line(then),
        line(now),
        format!("{sign}: {} (k = 2, nothing taken to cancel)", amount(series.figure, change)),
    ]
}

pub(crate) fn not_compared(series: Option<&Series>) -> String {
    match series.and_then(|series| series.left_out.last()) {
        Some(last) => {
            let day = last.on.map_or_else(|| "another day".to_owned(), |on| on.to_string());
            format!("Not compared with the test of {day}: {}.", last.why)
        }
        None => "Not compared: no earlier test has a like figure of it.".to_owned(),
    }
}

pub(crate) fn left_out_lines(series: &Series) -> Vec<String> {
    let line = |one: &super::series::LeftOut| {
        let day = one.on.map_or_else(|| "day unknown".to_owned(), |on: Date| on.to_string());
        format!("{day} left out: {}", one.why)
    };
    series.left_out.iter().map(line).collect()
}

fn apart(one: &Apart, among: &str) -> String {
    let (own, median) = (number(one.figure, one.value), number(one.figure, one.median_value));
    let far = engineering(one.deviations_number.abs(), "", 2);
    let side = if one.deviations_number < 0.0 { "below" } else { "above" };
    let what = figure(one.figure);
    let apart = if one.stands_apart { "stands apart" } else { "is one of them" };
    format!(
        "{}, {what}: {own}, {far} robust deviations {side} the median {median} of {} {among}; it \
         {apart}.",
        one.phase, one.number
    )
}

pub(crate) fn among_sisters(one: &Apart) -> String {
    apart(one, "conductors of the same test")
}

pub(crate) fn among_likes(one: &Apart) -> String {
    apart(one, "conductors of other apparatus like it")
}

/// What every line rests on.
pub(crate) fn notes(series: &[Series]) -> Vec<String> {
    let mut notes = vec![
        "Compared are only readings of one conductor at like voltage, polarity, age and \
         connection. It is a comparison beside the verdicts, and changes none."
            .to_owned(),
        "Each day's doubt counts in full. A trend is a straight line of weighted least squares; \
         its interval (95 %) is by what the points state or by their scatter, whichever is wider. \
         That tests follow each other is not taken into account."
            .to_owned(),
    ];
    if series.iter().any(|one| one.under.by.is_some()) {
        notes.push(
            "A rule of temperature is itself in doubt, which is not in the intervals; where \
             another published rule tells another trend, none is told."
                .to_owned(),
        );
    }
    notes
}

/// Why an apparatus stands where it stands.
pub(crate) fn standing(one: &Standing) -> String {
    let mut parts = vec![
        match one.verdict {
            Some(Verdict::Reject) => "rejected at its last test",
            Some(Verdict::Investigate) => "open since its last test",
            Some(Verdict::Void) => "its last test could not be judged",
            Some(Verdict::Accept) => "accepted at its last test",
            None => "no judged test",
        }
        .to_owned(),
    ];
    if let Some(near) = &one.nearest {
        let margin = engineering(near.margin_ratio, "", 2);
        parts.push(match near.reached {
            Some(on) => format!(
                "{} of {} with a margin of {margin} to its limit, met by the trend on {on}",
                figure(near.figure),
                near.phase
            ),
            None => {
                let what = figure(near.figure);
                format!("{what} of {} with a margin of {margin} to its limit", near.phase)
            }
        });
    }
    if let Some(fast) = &one.fastest {
        parts.push(format!(
            "{} of {} worse by {} % a year",
            figure(fast.figure),
            fast.phase,
            engineering(fast.worse_percent, "", 2)
        ));
    }
    if let Some(due) = &one.due {
        parts.push(format!("due by {}", due.on));
    }
    parts.join("; ")
}
