//! The air as loggers tell it, beside the question of the dew point.

use maud::{Markup, html};
use physics::temperature::dew_point;
use plan::Job;
use quantity::{Ratio, Temperature};
use session::{Entry, Event};

use super::ready::said;

/// The question of the plan that it stands at.
pub(super) const QUESTION: &str = "above-dew-point";

/// What was told last of one thing, and by which entry.
fn last<Q>(
    events: &[Entry],
    of: impl Fn(&session::meters::Beside) -> Option<Q>,
) -> Option<(Q, &Entry)> {
    events.iter().rev().find_map(|entry| match &entry.what {
        Event::Beside(one) => Some((of(one)?, entry)),
        _ => None,
    })
}

/// The dew point by what was typed, or where the job says nothing by what was measured; nothing
/// where no logger told.
pub(super) fn beside(job: &Job, events: &[Entry]) -> Markup {
    let temperature = last(events, |one| one.temperature_c);
    let humidity = last(events, |one| one.humidity_percent);
    if temperature.is_none() && humidity.is_none() {
        return html! {};
    }
    let typed = &job.conditions;
    let air = typed.temperature.or(temperature.map(|(value, _)| value));
    let damp = typed.humidity.or(humidity.map(|(value, _)| value));
    let dew = air.zip(damp).and_then(|(air, damp)| dew_point(air, damp).ok());
    let told = [
        temperature.map(|(value, at)| (degrees(value), typed.temperature.map(degrees), at)),
        humidity.map(|(value, at)| (percent(value), typed.humidity.map(percent), at)),
    ];
    html! {
        @for (value, typed, at) in told.into_iter().flatten() {
            p {
                "Measured: " strong { (value) } " " (said(at)) (from(at))
                @if let Some(typed) = typed {
                    "; the job says " strong { (typed) } ", which stands"
                }
            }
        }
        @if let Some(dew) = dew { p { "Dew point of this air: " strong { (degrees(dew)) } } }
    }
}

fn degrees(value: Temperature) -> String {
    format!("{:.1} °C", value.celsius())
}

fn percent(value: Ratio) -> String {
    format!("{:.0} % humidity", value.percent())
}

fn from(entry: &Entry) -> String {
    match &entry.what {
        Event::Beside(one) => format!(", {}", one.from),
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use session::meters::Beside;

    use super::*;

    fn told(celsius: Option<f64>, of_hundred: Option<f64>) -> Entry {
        Event::Beside(Beside {
            from: "the logger in the yard".to_owned(),
            guard_ua: None,
            temperature_c: celsius.map(Temperature::from_celsius),
            humidity_percent: of_hundred.map(Ratio::from_percent),
        })
        .into()
    }

    /// The dew point of 20 °C and 50 % is 9.3 °C (from memory of a psychrometric table,
    /// unverified; `physics` holds the formula against its source).
    #[test]
    fn the_dew_point_is_by_what_was_typed_and_else_by_what_was_measured() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let mut job = plan::job_file::parse(text).expect("the example is well formed");
        job.conditions.temperature = None;
        job.conditions.humidity = None;
        assert!(beside(&job, &[]).into_string().is_empty());
        let events = [told(Some(5.0), None), told(Some(20.0), None), told(None, Some(50.0))];
        let page = beside(&job, &events).into_string();
        for words in ["<strong>20.0 °C</strong>", "50 % humidity", "the logger in the yard"] {
            assert!(page.contains(words), "{words}: {page}");
        }
        assert!(page.contains("Dew point of this air: <strong>9.3 °C"), "{page}");
        job.conditions.humidity = Some(Ratio::from_percent(100.0));
        let page = beside(&job, &events).into_string();
        assert!(page.contains("the job says <strong>100 % humidity</strong>, which stands"));
        assert!(page.contains("Dew point of this air: <strong>20.0 °C"), "{page}");
    }
}
