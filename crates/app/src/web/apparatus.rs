//! *Apparatus*: all of it, the worst first and then what is due first; and one object's life.

use std::collections::{BTreeMap, HashMap};

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
use standards::rubber;
use store::overview::Judged;
use store::things::Thing;
use store::{Filter, RecordId, Summary};

use super::due::{Due, after, day};
use super::marks::{self, Worst};
use super::percent::encoded;
use super::{Fault, Frame, House, brief, nameplate, page, trend};
use crate::past::Kept;
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
    fn order(&self) -> (Worst, Date, Date, &str) {
        let next = self.next.as_ref().map_or(Date::MAX, |next| next.on);
        let last = self.last.as_ref().map_or(Date::MIN, |last| last.on);
        (self.worst(), next, last, &self.name)
    }
}

/// Every apparatus with its last test, the worst first.
pub(super) async fn lives(
    house: &House,
    records: &[Summary],
    verdicts: &HashMap<RecordId, Judged>,
) -> Result<Vec<Life>, Fault> {
    let mut things: BTreeMap<String, Option<Asset>> = BTreeMap::new();
    // A record that came from elsewhere may be all that is known of its object.
    things.extend(records.iter().map(|one| (one.asset.clone(), None)));
    let kept = house.store.apparatus().await?;
    things.extend(kept.into_iter().map(|Thing { name, is, .. }| (name, Some(is))));
    let mut of: HashMap<&str, Vec<&Summary>> = HashMap::new();
    for record in records {
        of.entry(&record.asset).or_default().push(record);
    }
    let mut lives = Vec::with_capacity(things.len());
    for (name, asset) in things {
        let of = of.remove(name.as_str()).unwrap_or_default();
        lives.push(life_of(house, name, asset.as_ref(), &of, verdicts).await?);
    }
    lives.sort_by(|a, b| a.order().cmp(&b.order()));
    Ok(lives)
}

/// Of one apparatus, with its records, the newest first.
async fn life_of(
    house: &House,
    name: String,
    asset: Option<&Asset>,
    of: &[&Summary],
    verdicts: &HashMap<RecordId, Judged>,
) -> Result<Life, Fault> {
    let last = match of.iter().find(|one| one.closed) {
        Some(record) => Some(last(house, record, verdicts).await?),
        None => None,
    };
    Ok(Life {
        class: asset.map(|asset| asset.class),
        next: last.as_ref().and_then(|last| next(house, asset?, last)),
        last,
        tests: of.len(),
        open: of.iter().any(|one| !one.closed),
        reason: String::new(),
        name,
    })
}

async fn last(
    house: &House,
    record: &Summary,
    verdicts: &HashMap<RecordId, Judged>,
) -> Result<Last, Fault> {
    let verdict = verdicts.get(&record.id).map(|one| one.verdict.as_str());
    let named = brief::of(&house.store, &record.id).await?.date;
    Ok(Last {
        on: named.unwrap_or_else(|| day(record.begun)),
        record: record.id.clone(),
        worst: Worst::of(verdict),
        kind: record.kind,
    })
}

/// What did not pass has no next test by an interval: it stays out of use until it is settled.
fn next(house: &House, asset: &Asset, last: &Last) -> Option<Next> {
    let item = asset.protective.as_ref()?.item;
    if last.worst != Worst::Accept {
        return None;
    }
    let months = rubber::retest_months(&house.library, item)?;
    let why = format!("{} months, {}, {}", months.value, months.source, mark(months.source.mark));
    Some(Next { on: after(last.on, months.value), why })
}

#[derive(serde::Deserialize)]
struct Search {
    #[serde(default)]
    q: String,
    /// So many are left out that were on the pages before.
    #[serde(default)]
    from: usize,
}

/// Records that a page reads itself; many are read beside it, from when the program starts.
const READ_AT_ONCE: usize = 200;
/// Apparatus on one page.
const SHOWN: usize = 200;

async fn all(
    State(house): State<House>,
    Query(Search { q, from }): Query<Search>,
    frame: Frame,
) -> Result<Markup, Fault> {
    let records = house.store.list(&Filter::default()).await?;
    let verdicts = house.store.verdicts().await?;
    let mut lives = lives(&house, &records, &verdicts).await?;
    in_order(&house, &mut lives).await?;
    let today = day(house.clock.now().wall);
    let kept = lives.len();
    let words = q.to_lowercase();
    lives.retain(|life| {
        let of = format!("{} {}", life.name, class(life.class)).to_lowercase();
        words.split_whitespace().all(|word| of.contains(word))
    });
    Ok(page(&frame, "Apparatus", &list(&lives, (&q, from), kept, today)))
}

/// The order of the fleet, and why each stands where it stands.
///
/// What was rejected, open or never judged keeps its place by the word that the page shows.
async fn in_order(house: &House, lives: &mut Vec<Life>) -> Result<(), Fault> {
    let kept = Kept::of(&house.store).await?;
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

fn list(lives: &[Life], (q, from): (&str, usize), kept: usize, today: Date) -> Markup {
    let shown = lives.get(from..).unwrap_or_default();
    let (shown, after) = shown.split_at(shown.len().min(SHOWN));
    html! {
        div .page-head {
            h1 { "Apparatus" }
            a .button .first href="/sheet/new" { "New sheet" }
        }
        @if kept == 0 {
            p .lead { "Begin a sheet: what it tests is kept here with it." }
            p { "No apparatus is kept here yet." }
        } @else {
            form .search method="get" action="/apparatus" role="search" {
                label for="q" { "Find by name or class" }
                div { input #q name="q" type="search" value=(q); button { "Find" } }
            }
            p .quiet {
                (lives.len()) " of " (kept) ", the worst verdict first, then what is nearest to a \
                 limit,                  changes fastest, is due first."
            }
            (rows(shown, today))
            @if !after.is_empty() {
                p {
                    a .button href={ "/apparatus?q=" (encoded(q)) "&from=" (from + SHOWN) } {
                        "The next of " (after.len()) " more"
                    }
                }
            }
        }
    }
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
    let plates = house.store.apparatus_since(&name).await?;
    let filter = Filter { asset: Some(name.clone()), open: false };
    let records = house.store.list(&filter).await?;
    if plates.is_empty() && records.is_empty() {
        return Err(Fault::NotFound { what: format!("apparatus {name}") });
    }
    let verdicts = house.store.verdicts().await?;
    let mut tests = Vec::new();
    for record in &records {
        let brief = brief::of(&house.store, &record.id).await?;
        let kept = house.store.newest_findings(&record.id).await?;
        tests.push(Test {
            id: record.id.clone(),
            on: brief.date.unwrap_or_else(|| day(record.begun)),
            kind: record.kind,
            closed: record.closed,
            worst: Worst::of(verdicts.get(&record.id).map(|one| one.verdict.as_str())),
            level: brief.level,
            findings: kept.and_then(|kept| serde_json::from_slice(&kept.bytes).ok()),
        });
    }
    let of: Vec<&Summary> = records.iter().collect();
    let asset = plates.first().map(|plate| &plate.is);
    let known = life_of(&house, name.clone(), asset, &of, &verdicts).await?;
    let today = day(house.clock.now().wall);
    let kept = Kept::of(&house.store).await?;
    let years = kept.years(&house.store, &name, &house.library).await?;
    Ok(page(&frame, &name, &life(&known, &plates, (&tests, &years.history), today)))
}

fn life(
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
