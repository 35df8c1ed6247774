//! *Today*: what is open, what waits for a hand or a name, what comes due, what was found last.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use jiff::ToSpan as _;
use jiff::civil::Date;
use maud::{Markup, html};
use session::live::View;
use store::Summary;
use store::overview::{COUNTED, Counted, Found, Search, Told as Kept, Waiting, Waits};
use store::sheets::Sheet;

use super::apparatus::{self, Life};
use super::due::{Due, SOON, after, day, span};
use super::marks::{self, Worst};
use super::sets::{self, Lasting};
use super::{Fault, Frame, House, page};
use crate::show::records::moment;

pub(super) fn routes() -> Router<House> {
    Router::new().route("/", get(today))
}

/// Tests shown at the foot.
const LAST: u32 = 12;
/// Records shown that wait for somebody.
const WAITING: u32 = 25;
/// Apparatus shown whose last test is longest ago.
const LONGEST: u32 = 5;
/// Apparatus of one kind shown that are over, and as many that are soon due.
const DUE: u32 = 50;
/// Days by which months may differ from one another, with one to spare.
const UNEVEN: i32 = 4;

/// All that the page tells.
struct Told {
    today: Date,
    open: Vec<Open>,
    begun: Vec<Sheet>,
    unjudged: Waiting,
    unsigned: Waiting,
    lasting: Vec<Lasting>,
    due: Vec<Life>,
    /// Whether more are due than were looked up.
    more_due: bool,
    longest: Vec<Life>,
    kept: Counted,
    last: Vec<Kept>,
}

/// A record that is not closed, and where its conductors stand.
struct Open {
    record: Summary,
    view: Option<View>,
}

async fn today(State(house): State<House>, frame: Frame) -> Result<Markup, Fault> {
    let told = told(&house).await?;
    Ok(page(&frame, "Today", &body(&told)))
}

async fn told(house: &House) -> Result<Told, Fault> {
    let store = &house.store;
    let today = day(house.clock.now().wall);
    let open = store.open_records().await?.into_iter().map(|record| Open {
        view: house.hub.at_work(&record.id).map(|work| work.moment().view.clone()),
        record,
    });
    let but = apparatus::intervals(&house.library);
    let longest = store.tested_longest_ago(&but, LONGEST).await?.into_iter();
    let (due, more_due) = due(house, today).await?;
    Ok(Told {
        today,
        open: open.collect(),
        begun: store.sheets().await?,
        unjudged: store.that_wait(Waits::Judge, WAITING).await?,
        unsigned: store.that_wait(Waits::Signature, WAITING).await?,
        lasting: sets::lasting(store, today).await?,
        due,
        more_due,
        longest: longest.map(|one| apparatus::life(&house.library, one)).collect(),
        kept: store.count_lives(&Search::default()).await?,
        last: store.last_over(LAST).await?,
    })
}

/// What has an interval and is over, the last that came to be so first, and what is soon due; and
/// whether there is more of it.
async fn due(house: &House, today: Date) -> Result<(Vec<Life>, bool), Fault> {
    let (mut due, mut more): (Vec<Life>, bool) = (Vec::new(), false);
    for (item, months) in apparatus::with_interval(&house.library) {
        let over = last_before(today, months);
        let soon = last_before(days_on(today, SOON + 1), months);
        for (from, to, newest_first) in [(Date::MIN, over, true), (days_on(over, 1), soon, false)] {
            let found = Found { item: item.key(), from, to, newest_first };
            let found = house.store.passed(&found, DUE).await?;
            more |= found.len() == DUE as usize;
            due.extend(found.into_iter().map(|one| apparatus::life(&house.library, one)));
        }
    }
    due.sort_by(|a, b| a.order().cmp(&b.order()));
    Ok((due, more))
}

fn days_on(date: Date, days: i32) -> Date {
    date.saturating_add(days.days())
}

/// The last day whose so many months are over before that one.
fn last_before(end: Date, months: i32) -> Date {
    // Months are uneven: days of a longer one fall together on the last of a shorter.
    let mut day = days_on(after(end, -months), UNEVEN);
    while after(day, months) >= end {
        day = days_on(day, -1);
    }
    day
}

fn body(told: &Told) -> Markup {
    let nothing = told.kept.lives == 0 && told.begun.is_empty();
    html! {
        div .page-head {
            h1 { "Today, " time datetime=(told.today) { (told.today) } }
            a .button .first href="/sheet/new" { "New sheet" }
        }
        @if nothing && told.open.is_empty() {
            p .lead {
                "Begin a sheet and type what the nameplate says. The plan appears as you type; "
                "what you do not know stays unknown."
            }
            p { "Nothing is kept here yet: no test, no apparatus, no set." }
        } @else {
            (open(told))
            (begun(told))
            (waiting(told))
            (coming_due(told))
            (last(told))
        }
    }
}

fn open(told: &Told) -> Markup {
    html! {
        section {
            h2 { "Open" }
            @if told.open.is_empty() {
                p .quiet { "No record is open." }
            }
            ul .listed {
                @for one in &told.open {
                    li {
                        a href={ "/sheet/" (one.record.id) } { strong { (one.record.asset) } }
                        " " (marks::kind(one.record.kind))
                        span .quiet { " begun " (moment(one.record.begun)) }
                        (standing(one))
                    }
                }
            }
        }
    }
}

/// Where each conductor stands, by word and shape.
fn standing(one: &Open) -> Markup {
    html! {
        @match &one.view {
            None => p .stands data-state="hazardous" {
                span aria-hidden="true" { "▲ " }
                "Take every conductor as hazardous until you have seen its ground: another program "
                "goes on with this record."
            },
            Some(view) => ul .each-stands {
                @for conductor in &view.conductors {
                    @let key = if conductor.hazardous { "hazardous" }
                        else if !conductor.grounds.is_empty() { "grounded" } else { "off" };
                    li .stands data-state=(key) {
                        @match key {
                            "hazardous" => span aria-hidden="true" { "▲ " },
                            "grounded" => { (marks::ground()) " " },
                            _ => span aria-hidden="true" { "○ " },
                        }
                        (conductor.name) ": "
                        @if conductor.hazardous { "HAZARDOUS, " }
                        (conductor.state.key())
                    }
                }
            },
        }
    }
}

fn begun(told: &Told) -> Markup {
    html! {
        @if !told.begun.is_empty() {
            section {
                h2 { "Sheets being written" }
                ul .listed {
                    @for sheet in &told.begun {
                        li {
                            a href={ "/sheet/" (sheet.id) } {
                                strong {
                                    @if sheet.asset.is_empty() { "object not named yet" }
                                    @else { (sheet.asset) }
                                }
                            }
                            span .quiet { " last written " (moment(sheet.kept)) }
                        }
                    }
                }
            }
        }
    }
}

fn waiting(told: &Told) -> Markup {
    let Told { unjudged, unsigned, .. } = told;
    html! {
        @if !unjudged.first.is_empty() || !unsigned.first.is_empty() {
            section {
                h2 { "Waits for you" }
                ul .listed {
                    @for Kept { record: one, .. } in &unjudged.first {
                        li {
                            a href={ "/sheet/" (one.id) } { strong { (one.asset) } }
                            " " (marks::kind(one.kind))
                            " judge it; begun " (marks::date(one.begun))
                        }
                    }
                    @for Kept { record: one, verdict, .. } in &unsigned.first {
                        li {
                            a href={ "/sheet/" (one.id) } { strong { (one.asset) } }
                            " " (marks::kind(one.kind))
                            " " (marks::verdict(Worst::of(verdict.as_deref())))
                            " no signature; begun " (marks::date(one.begun))
                        }
                    }
                }
                @let more = unjudged.more + unsigned.more;
                @let many = unjudged.more.max(unsigned.more) >= COUNTED;
                @if more > 0 {
                    p .quiet {
                        "And " @if many { "at least " } (more)
                        " before; they come up as these are done."
                    }
                }
            }
        }
    }
}

fn coming_due(told: &Told) -> Markup {
    let mut due: Vec<(Due, Markup)> = Vec::new();
    for one in told.lasting.iter().filter(|one| one.due.calls()) {
        due.push((one.due, html! {
            a href="/sets" { strong { (one.name) } } " calibration of " (one.date) " holds until "
            (one.until)
        }));
    }
    for life in &told.due {
        let Some(next) = &life.next else { continue };
        let seen = Due::of(next.on, told.today);
        if seen.calls() {
            due.push((
                seen,
                html! {
                    a href=(marks::apparatus(&life.name)) { strong { (life.name) } }
                    " next test by " (next.on) span .quiet { " (" (next.why) ")" }
                },
            ));
        }
    }
    due.sort_by_key(|(due, _)| *due);
    let longest: Vec<(&Life, Date)> =
        told.longest.iter().filter_map(|life| Some((life, life.last.as_ref()?.on))).collect();
    html! {
        section {
            h2 { "Due" }
            @if due.is_empty() {
                p .quiet { "Nothing that has an interval runs out in the next 60 days." }
            }
            ul .listed {
                @for (one, what) in &due { li { (marks::due(*one)) " " (what) } }
            }
            @if told.more_due {
                p .quiet {
                    "More is over or soon due than stands here: see "
                    a href="/apparatus?q=protective" { "all protective equipment" } "."
                }
            }
            @if !longest.is_empty() {
                h3 { "Not tested for longest" }
                p .quiet {
                    "No interval for these is kept here: your own programme says when."
                }
                ul .listed {
                    @for (life, on) in &longest {
                        li {
                            a href=(marks::apparatus(&life.name)) { (life.name) }
                            " last tested " (on) ", " (ago(*on, told.today))
                        }
                    }
                }
            }
        }
    }
}

fn ago(on: Date, today: Date) -> String {
    match Due::of(on, today) {
        Due::Over(days) => format!("{} ago", span(days)),
        Due::Soon(_) | Due::Later(_) => "today".to_owned(),
    }
}

fn last(told: &Told) -> Markup {
    html! {
        @if !told.last.is_empty() {
            section {
                h2 { "Last tests" }
                ul .listed {
                    @for Kept { record: one, verdict, .. } in &told.last {
                        li {
                            a href={ "/sheet/" (one.id) } { (one.asset) }
                            " " (marks::date(one.begun))
                            " " (marks::verdict(Worst::of(verdict.as_deref())))
                            " " (marks::kind(one.kind))
                        }
                    }
                }
                p { a href="/apparatus" { "All apparatus, worst first" } }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Derived from the calendar: the last day of a long month is over with the last of a short one.
    #[test]
    fn what_is_over_begins_where_the_months_end_before_today() {
        let date = |text: &str| text.parse::<Date>().expect("a day");
        let check = |end: &str, expected: &str| {
            let last = last_before(date(end), 6);
            assert_eq!(last, date(expected));
            assert!(after(last, 6) < date(end) && after(days_on(last, 1), 6) >= date(end), "{end}");
        };
        check("2026-11-30", "2026-05-29");
        check("2026-12-01", "2026-05-31");
        check("2027-02-28", "2026-08-27");
        check("2027-03-01", "2026-08-31");
        check("2026-07-15", "2026-01-14");
    }
}
