//! *Apparatus*: all of it, the worst first and then what is due first; and one object's life.

use std::collections::HashMap;

use axum::Router;
use axum::extract::{Path, Query, State};
use axum::routing::get;
use jiff::civil::Date;
use judge::Findings;
use judge::history::{History, Standing, rank};
use maud::{Markup, html};
use plan::job::{Asset, AssetClass};
use quantity::engineering;
use session::Kind;
use standards::words::ProtectiveItem;
use standards::{Library, rubber};
use store::RecordId;
use store::overview::{self, Counted, Interval, Search, Word};
use store::things::Thing;

use super::due::{Due, after, day};
use super::marks::{self, Worst};
use super::percent::encoded;
use super::{Fault, Frame, House, brief, nameplate, page, trend};
use crate::past::{self, Kept};
use crate::show::plan::{count, mark};

pub(super) fn routes() -> Router<House> {
    Router::new().route("/apparatus", get(all)).route("/apparatus/{name}", get(one))
}

/// One object in short.
pub(super) struct Life {
    pub(super) name: String,
    class: Option<AssetClass>,
    pub(super) last: Option<Last>,
    pub(super) next: Option<Next>,
    tests: usize,
    open: bool,
    /// Why it stands where it stands among all; empty where nobody asked.
    reason: String,
}

/// Its last test.
pub(super) struct Last {
    pub(super) on: Date,
    record: RecordId,
    worst: Worst,
    kind: Kind,
}

/// When it is to be tested again, and who says so.
pub(super) struct Next {
    pub(super) on: Date,
    pub(super) why: String,
}

impl Life {
    fn worst(&self) -> Worst {
        self.last.as_ref().map_or(Worst::NeverTested, |last| last.worst)
    }

    /// The worst first; among equals what is due first, then what was tested longest ago.
    pub(super) fn order(&self) -> (Worst, Date, Date, &str) {
        let next = self.next.as_ref().map_or(Date::MAX, |next| next.on);
        let last = self.last.as_ref().map_or(Date::MIN, |last| last.on);
        (self.worst(), next, last, &self.name)
    }
}

/// Apparatus as the store tells of it.
pub(super) fn life(library: &Library, told: overview::Life) -> Life {
    let overview::Life { name, class, item, tests, open, last } = told;
    let last = last.map(|last| Last {
        on: last.on,
        record: last.record,
        worst: Worst::of(last.verdict.as_deref()),
        kind: last.kind,
    });
    Life {
        name,
        class: word(&class),
        next: last.as_ref().and_then(|last| next(library, word(&item)?, last)),
        last,
        tests: usize::try_from(tests).unwrap_or(usize::MAX),
        open,
        reason: String::new(),
    }
}

/// A word that is kept, where it is known here.
fn word<T: serde::de::DeserializeOwned>(key: &str) -> Option<T> {
    serde_json::from_value(key.into()).ok()
}

/// What did not pass has no next test by an interval: it stays out of use until it is settled.
fn next(library: &Library, item: ProtectiveItem, last: &Last) -> Option<Next> {
    if last.worst != Worst::Accept {
        return None;
    }
    let months = rubber::retest_months(library, item)?;
    let why = format!("{} months, {}, {}", months.value, months.source, mark(months.source.mark));
    Some(Next { on: after(last.on, months.value), why })
}

/// Every protective item that has a published interval, with its months.
pub(super) fn with_interval(library: &Library) -> impl Iterator<Item = (ProtectiveItem, i32)> {
    let months = |item| Some((item, rubber::retest_months(library, item)?.value));
    ProtectiveItem::ALL.iter().copied().filter_map(months)
}

/// The same as the store takes it: near enough to say which come first.
pub(super) fn intervals(library: &Library) -> Vec<Interval> {
    let days = |months: i32| (f64::from(months) * 30.4375).round() as i64;
    with_interval(library)
        .map(|(item, months)| Interval { item: item.key().to_owned(), days: days(months) })
        .collect()
}

#[derive(serde::Deserialize)]
struct Asked {
    #[serde(default)]
    q: String,
    /// So many are left out that were on the pages before.
    #[serde(default)]
    from: u64,
}

/// Records that a page reads itself; many are read beside it, from when the program starts.
const READ_AT_ONCE: usize = 200;
/// Apparatus on one page.
const SHOWN: usize = 200;

/// Apparatus whose order goes by their trends; each of their tests is looked at for it.
const BY_TRENDS: u64 = 1000;
/// Where more is kept than can be read ahead, that is done for what was found with so few tests.
const FEW_TESTS: u64 = 100;

/// What a page of the list shows.
struct Listed {
    shown: Vec<Life>,
    /// How many were found, and how many of them come before those shown.
    found: u64,
    from: u64,
    kept: u64,
    by_trends: bool,
}

async fn all(
    State(house): State<House>,
    Query(Asked { q, from }): Query<Asked>,
    frame: Frame,
) -> Result<Markup, Fault> {
    let listed = listed(&house, &q, from).await?;
    let today = day(house.clock.now().wall);
    Ok(page(&frame, "Apparatus", &list(&listed, &q, today)))
}

async fn listed(house: &House, q: &str, from: u64) -> Result<Listed, Fault> {
    let (search, intervals) = (search(q), intervals(&house.library));
    let kept = house.store.count_lives(&Search::default()).await?;
    let found = match &search.words[..] {
        [] => kept,
        _ => house.store.count_lives(&search).await?,
    };
    let few = kept.tests <= past::READ_AHEAD;
    let Counted { lives, tests } = found;
    let by_trends = lives <= BY_TRENDS && (few || tests <= FEW_TESTS);
    let part = if by_trends { (0, BY_TRENDS as u32) } else { (from, SHOWN as u32) };
    let told = match lives {
        0 => Vec::new(),
        _ => house.store.lives(&search, &intervals, part).await?,
    };
    let mut shown: Vec<Life> = told.into_iter().map(|one| life(&house.library, one)).collect();
    shown.sort_by(|a, b| a.order().cmp(&b.order()));
    if by_trends {
        let names: Vec<&str> = shown.iter().map(|life| life.name.as_str()).collect();
        let kept = match few {
            true => Kept::of(&house.store).await?,
            false => Kept::about(&house.store, &names).await?,
        };
        in_order(house, &kept, &mut shown).await?;
        let from = usize::try_from(from).unwrap_or(usize::MAX);
        shown = shown.into_iter().skip(from).take(SHOWN).collect();
    }
    Ok(Listed { shown, found: lives, from, kept: kept.lives, by_trends })
}

/// Each word with the classes in whose name it is.
fn search(q: &str) -> Search {
    let classes: Vec<(String, &str)> = std::iter::once((String::new(), class(None)))
        .chain(AssetClass::ALL.iter().map(|one| (key(*one), class(Some(*one)))))
        .collect();
    let words = q.to_lowercase();
    let words = words.split_whitespace().map(|text| {
        let named = classes.iter().filter(|(_, name)| name.contains(text));
        Word { text: text.to_owned(), classes: named.map(|(key, _)| key.clone()).collect() }
    });
    Search { words: words.collect() }
}

/// The word under which a class is kept.
fn key(class: AssetClass) -> String {
    let key = serde_json::to_value(class).ok();
    key.and_then(|key| key.as_str().map(str::to_owned)).unwrap_or_default()
}

/// The order of the fleet, and why each stands where it stands.
///
/// What was rejected, open or never judged keeps its place by the word that the page shows.
async fn in_order(house: &House, kept: &Kept, lives: &mut Vec<Life>) -> Result<(), Fault> {
    let mut standings: Vec<Standing> = Vec::with_capacity(lives.len());
    let mut left = READ_AT_ONCE;
    for life in lives.iter() {
        let unread = kept.unread(&life.name);
        if unread > left {
            continue;
        }
        left -= unread;
        standings.push(kept.standing(&house.store, &life.name, &house.library).await?);
    }
    rank(&mut standings);
    let places = standings.into_iter().enumerate();
    let mut places: HashMap<String, (usize, String)> =
        places.map(|(place, one)| (one.asset, (place, one.reason))).collect();
    let mut placed: Vec<(Worst, usize, Life)> = Vec::with_capacity(lives.len());
    for mut life in lives.drain(..) {
        let (place, reason) = places.remove(&life.name).unwrap_or((usize::MAX, String::new()));
        life.reason = reason;
        placed.push((life.worst(), place, life));
    }
    placed.sort_by_key(|(worst, place, _)| (*worst, *place));
    lives.extend(placed.into_iter().map(|(_, _, life)| life));
    Ok(())
}

fn list(listed: &Listed, q: &str, today: Date) -> Markup {
    let next = listed.from + SHOWN as u64;
    html! {
        div .page-head {
            h1 { "Apparatus" }
            a .button .first href="/sheet/new" { "New sheet" }
        }
        @if listed.kept == 0 {
            p .lead { "Begin a sheet: what it tests is kept here with it." }
            p { "No apparatus is kept here yet." }
        } @else {
            form .search method="get" action="/apparatus" role="search" {
                label for="q" { "Find by name or class" }
                div { input #q name="q" type="search" value=(q); button { "Find" } }
            }
            p .quiet { (order_told(listed)) }
            (rows(&listed.shown, today))
            @if listed.found > next {
                p {
                    a .button href={ "/apparatus?q=" (encoded(q)) "&from=" (next) } {
                        "The next of " (listed.found - next) " more"
                    }
                }
            }
        }
    }
}

/// How many there are, and in which order they stand.
fn order_told(listed: &Listed) -> String {
    let Listed { found, kept, .. } = listed;
    if listed.by_trends {
        return format!(
            "{found} of {kept}, the worst verdict first, then what is nearest to a limit, changes \
             fastest, is due first."
        );
    }
    format!(
        "{found} of {kept}, the worst verdict first, then what is due first, then what was tested \
         longest ago. There are too many to go by their trends: find fewer, or open one."
    )
}

fn rows(lives: &[Life], today: Date) -> Markup {
    html! {
        table .stack {
            thead { tr {
                th scope="col" { "Apparatus" }
                th scope="col" { "Last verdict" }
                th scope="col" { "Last test" }
                th scope="col" { "Next test" }
            } }
            tbody {
                @for life in lives { tr {
                    th scope="row" {
                        a href=(marks::apparatus(&life.name)) { (life.name) }
                        " " span .quiet { (class(life.class)) ", " (count(life.tests, "test")) }
                        @if life.open { " " strong { "a record is open" } }
                    }
                    td data-label="Last verdict" {
                        (marks::verdict(life.worst()))
                        @if !life.reason.is_empty() { div .quiet { (life.reason) } }
                    }
                    td data-label="Last test" .even {
                        @if let Some(last) = &life.last {
                            a href={ "/sheet/" (last.record) } { (last.on) } " "
                            (marks::kind(last.kind))
                        } @else { "none" }
                    }
                    td data-label="Next test" .even {
                        @match &life.next {
                            Some(next) => { (next.on) " " (marks::due(Due::of(next.on, today))) },
                            None => span .quiet { "no interval known" },
                        }
                    }
                } }
            }
        }
    }
}

fn class(class: Option<AssetClass>) -> &'static str {
    match class {
        None => "class not known",
        Some(AssetClass::Cable) => "cable",
        Some(AssetClass::Switchgear) => "switchgear",
        Some(AssetClass::Motor) => "motor",
        Some(AssetClass::Generator) => "generator",
        Some(AssetClass::Protective) => "protective equipment",
        Some(AssetClass::Insulator) => "insulator",
        Some(AssetClass::Arrester) => "surge arrester",
        Some(AssetClass::Busway) => "metal-enclosed bus",
        Some(AssetClass::Breaker) => "circuit breaker",
        Some(AssetClass::Switch) => "switch",
        Some(AssetClass::Bushing) => "bushing",
        Some(AssetClass::Capacitor) => "capacitor",
        Some(AssetClass::Other) => "other apparatus",
    }
}

/// One test of an object.
pub(super) struct Test {
    pub(super) id: RecordId,
    pub(super) on: Date,
    pub(super) kind: Kind,
    closed: bool,
    worst: Worst,
    pub(super) level: Option<quantity::Voltage>,
    pub(super) findings: Option<Findings>,
}

async fn one(
    State(house): State<House>,
    Path(name): Path<String>,
    frame: Frame,
) -> Result<Markup, Fault> {
    let Some(known) = house.store.life(&name).await? else {
        return Err(Fault::NotFound { what: format!("apparatus {name}") });
    };
    let plates = house.store.apparatus_since(&name).await?;
    let mut tests = Vec::new();
    for told in house.store.tests_of(&name).await? {
        let brief = brief::of(&house.store, &told.record.id).await?;
        let kept = house.store.newest_findings(&told.record.id).await?;
        tests.push(Test {
            on: told.day,
            kind: told.record.kind,
            closed: told.record.closed,
            worst: Worst::of(told.verdict.as_deref()),
            level: brief.level,
            findings: kept.and_then(|kept| serde_json::from_slice(&kept.bytes).ok()),
            id: told.record.id,
        });
    }
    let known = life(&house.library, known);
    let today = day(house.clock.now().wall);
    let kept = Kept::about(&house.store, &[&name]).await?;
    let years = kept.years(&house.store, &name, &house.library).await?;
    Ok(page(&frame, &name, &whole(&known, &plates, (&tests, &years.history), today)))
}

fn whole(
    life: &Life,
    plates: &[Thing<Asset>],
    (tests, history): (&[Test], &History),
    today: Date,
) -> Markup {
    let last = tests.iter().find(|test| test.closed);
    html! {
        div .page-head {
            h1 { (life.name) }
            a .button .first href={ "/sheet/new?apparatus=" (encoded(&life.name)) } {
                "Test again"
            }
        }
        p .lead {
            (marks::begun_large(class(life.class))) ". "
            @match last {
                Some(last) => {
                    "Last test " (last.on) ": " (marks::verdict(last.worst))
                    @if let Some(findings) = &last.findings { ". " (findings.because) }
                },
                None => "No test of it is closed.",
            }
        }
        @if let Some(next) = &life.next {
            p {
                (marks::due(Due::of(next.on, today))) ", by " (next.on)
                span .quiet { " (" (next.why) ")" }
            }
        }
        h2 { "Tests, the newest first" }
        @if tests.is_empty() { p .quiet { "None is kept here." } } @else { (table(tests)) }
        (trend::told(history))
        (plate(plates))
    }
}

fn table(tests: &[Test]) -> Markup {
    let times = life_count(tests);
    html! {
        p .quiet { (times) }
        table .stack {
            thead { tr {
                th scope="col" { "Day" }
                th scope="col" { "Verdict" }
                th scope="col" .number { "Level" }
                th scope="col" .number { "Resistance, 1 min" }
                th scope="col" .number { "At 40 °C or as corrected" }
                th scope="col" .number { "Index" }
                th scope="col" .number { "Leakage" }
            } }
            tbody { @for test in tests { (row(test)) } }
        }
    }
}

fn life_count(tests: &[Test]) -> String {
    let simulated = tests.iter().filter(|one| one.kind == Kind::Simulated).count();
    let figures = "Figures are of the worst conductor; leakage is at the highest level, absorption \
                   taken out.";
    if simulated == 0 {
        figures.to_owned()
    } else {
        format!("{figures} SIMULATED: {simulated} of {} were never measured.", tests.len())
    }
}

fn row(test: &Test) -> Markup {
    let figures = test.findings.as_ref().map(|findings| &findings.figures);
    let resistance = figures.and_then(|figures| figures.resistance.as_ref());
    html! { tr {
        th scope="row" {
            a href={ "/sheet/" (test.id) } { (test.on) } " " (marks::kind(test.kind))
        }
        td data-label="Verdict" {
            @if test.closed { (marks::verdict(test.worst)) } @else { strong { "OPEN" } }
        }
        td .number data-label="Level" {
            (figure(test.level.map(|level| format!("{:.1} kV", level.kilovolts()))))
        }
        td .number data-label="Resistance, 1 min" {
            (figure(resistance.map(|one| format!(
                "{} at {:.1} kV",
                engineering(one.value.ohms(), "Ω", 3),
                one.at_voltage.kilovolts()
            ))))
        }
        td .number data-label="Corrected" {
            (figure(resistance.and_then(|one| Some(format!(
                "{} at {:.0} °C",
                engineering(one.corrected?.ohms(), "Ω", 3),
                one.corrected_to?.celsius()
            )))))
        }
        td .number data-label="Index" {
            (figure(figures.and_then(|one| one.polarization_index).map(|one| format!("{one:.2}"))))
        }
        td .number data-label="Leakage" {
            (figure(figures.and_then(|one| one.conduction).map(|one| {
                engineering(one.amperes(), "A", 3)
            })))
        }
    } }
}

fn figure(said: Option<String>) -> Markup {
    html! { @match said { Some(said) => (said), None => span .quiet { "–" } } }
}

fn plate(plates: &[Thing<Asset>]) -> Markup {
    let lines: Vec<Vec<nameplate::Line>> =
        plates.iter().map(|plate| nameplate::lines("asset", &plate.is)).collect();
    html! {
        h2 { "Plate" }
        @match (plates.first(), lines.first()) {
            (Some(now), Some(known)) => {
                p .quiet { "As kept since " (marks::date(now.kept)) "." }
                (nameplate::told(known))
            },
            _ => p { "Only its name is known here; its plate stands in its sheets." },
        }
        @if plates.len() > 1 {
            h3 { "What changed" }
            ul .listed {
                @for (at, pair) in lines.windows(2).enumerate() {
                    li {
                        (marks::date(plates[at].kept)) ": "
                        (nameplate::changes(&pair[1], &pair[0]).join("; "))
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn life(name: &str, verdict: Option<Option<&str>>, last: &str, next: Option<&str>) -> Life {
        let date = |text: &str| text.parse::<Date>().expect("a day");
        let id = |text: &str| serde_json::from_value(text.into()).expect("a name");
        Life {
            name: name.to_owned(),
            class: None,
            last: verdict.map(|verdict| Last {
                on: date(last),
                record: id("01"),
                worst: Worst::of(verdict),
                kind: Kind::Test,
            }),
            next: next.map(|on| Next { on: date(on), why: String::new() }),
            tests: 1,
            open: false,
            reason: String::new(),
        }
    }

    #[test]
    fn the_worst_stands_first_then_what_is_due_first_then_what_was_tested_longest_ago() {
        let mut all = [
            life("new", None, "2020-01-01", None),
            life("good and old", Some(Some("accept")), "2019-01-01", None),
            life("good", Some(Some("accept")), "2025-01-01", None),
            life("good and due", Some(Some("accept")), "2026-05-19", Some("2026-11-19")),
            life("bad", Some(Some("reject")), "2026-01-01", None),
            life("waits", Some(None), "2026-01-01", None),
            life("doubtful", Some(Some("investigate")), "2026-01-01", None),
        ];
        all.sort_by(|a, b| a.order().cmp(&b.order()));
        let names: Vec<&str> = all.iter().map(|life| life.name.as_str()).collect();
        let expected = ["bad", "doubtful", "waits", "new", "good and due", "good and old", "good"];
        assert_eq!(names, expected);
    }
}
