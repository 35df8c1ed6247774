//! The page of a sheet whose record is not begun: the form, the plan as it is typed, the begin.

use maud::{Markup, html};
use plan::course::{PlanIssue, Severity};
use plan::keys::{InputFault, Key, Kind, symbol};

use super::draft::Start;
use super::fields::{self, Field, GROUPS, Group, anchor, said};
use super::form::{Given, Made, meter_name};
use super::number::{self, customary};
use super::planned::{self, Beside};
use super::{amiss, at_hand, mentions};
use crate::web::LONGEST_NAME;

/// Things that are kept, each with the day since when it is kept so.
pub(super) struct Kept {
    pub(super) apparatus: Vec<(String, String)>,
    /// So many apparatus are kept that one is not picked from a list.
    pub(super) many: Option<u64>,
    pub(super) sets: Vec<(String, String)>,
    pub(super) meters: Vec<(String, String)>,
}

/// A job file that could not be taken, as it was given.
pub(super) struct Upload {
    pub(super) text: String,
    pub(super) faults: Vec<InputFault>,
}

/// All that the page is made from.
pub(super) struct Page<'a> {
    pub(super) id: &'a str,
    pub(super) given: &'a Given,
    pub(super) made: &'a Made,
    pub(super) kept: &'a Kept,
    pub(super) who: Option<&'a str>,
    pub(super) upload: Option<Upload>,
    /// What was said to begin it, and why it was not begun.
    pub(super) refused: Option<(&'a Start, String)>,
}

/// The page.
pub(super) fn shown(page: &Page<'_>) -> Markup {
    let asset = page.given.asset();
    html! {
        h1 { @if asset.is_empty() { "New sheet" } @else { (asset) } }
        @if let Some((_, why)) = &page.refused {
            p .fault role="alert" { (why) " " a href="#begin" { "Begin again" } }
        }
        (plan_line(page))
        section .part #object {
            h2 { span .no { "1" } " Object and purpose" }
            (form(page))
        }
        section .part #plan {
            h2 { span .no { "2" } " Plan" }
            div #plan-now data-fresh { (plan(page)) }
        }
        section .part #begin {
            h2 { "Begin the record" }
            (begin(page))
            p {
                "Was it done already, and a logger or a file has the readings? "
                a href={ "/sheet/" (page.id) "/log" } { "Readings from a file" }
            }
        }
        section .part #files {
            h2 { "The job file" }
            (files(page))
        }
    }
}

/// What the plan says now, in sight while the plates are typed.
fn plan_line(page: &Page<'_>) -> Markup {
    html! {
        p .plan-line #plan-line data-fresh role="status" {
            @if !waits_for(page).is_empty() {
                strong { "Still asked for: " } (links(waits_for(page)))
            } @else if let Some(plan) = &page.made.plan {
                a href="#plan" { "Plan" } ": " strong { (planned::line(plan)) }
                @for issue in plan.issues.iter().filter(|one| one.severity == Severity::Refuse) {
                    ". " (planned::words(&issue.text, Beside::Form(page.id)))
                }
                @let looks =
                    plan.issues.iter().filter(|one| one.severity == Severity::Warn).count();
                @if looks > 0 { ". " (looks) " to look at" }
            } @else if page.made.job.as_ref().err().is_some_and(|all| has_wrong(all)) {
                strong { "Correct first: " } (faulty(page))
            } @else {
                strong { "Still asked for: " } (asked(page))
            }
        }
        p #not-kept .fault role="alert" hidden {
            "Not kept: write it on paper too. The program does not answer; what is typed here is \
             sent again every second."
        }
    }
}

fn has_wrong(faults: &[InputFault]) -> bool {
    faults.iter().any(|fault| !amiss::is_missing(fault))
}

/// Links to the fields that are not filled in and must be.
fn asked(page: &Page<'_>) -> Markup {
    links(in_order(|field| page.made.asked.contains(&field.path)))
}

/// Fields in the order of the form.
fn in_order(wanted: impl Fn(&Field) -> bool) -> Vec<&'static Field> {
    GROUPS.iter().flat_map(|group| group.fields).filter(|field| wanted(field)).collect()
}

/// Fields without which no plan can be made of what is typed so far: nothing is refused yet for
/// what it is.
fn waits_for(page: &Page<'_>) -> Vec<&'static Field> {
    let issues = page.made.plan.iter().flat_map(|plan| &plan.issues);
    let refusals: Vec<&PlanIssue> =
        issues.filter(|issue| issue.severity == Severity::Refuse).collect();
    let empty = |issue: &&PlanIssue| {
        let field = mentions::fields(&issue.remedy).next()?;
        let is_empty = page.given.shown(field.key(), 0).is_empty();
        (is_empty && issue.id.ends_with("-missing")).then_some(field.path)
    };
    let paths: Vec<&str> = refusals.iter().filter_map(empty).collect();
    if paths.len() < refusals.len() {
        return Vec::new();
    }
    in_order(|field| {
        paths.contains(&field.path) || !paths.is_empty() && page.made.asked.contains(&field.path)
    })
}

/// Links to the fields that cannot be read as they are.
fn faulty(page: &Page<'_>) -> Markup {
    let faults = page.made.job.as_ref().err().into_iter().flatten();
    let wrong: Vec<&str> =
        faults.filter(|one| !amiss::is_missing(one)).map(|one| one.key.as_str()).collect();
    links(in_order(|field| wrong.contains(&field.path)))
}

fn links(fields: Vec<&Field>) -> Markup {
    html! {
        @for (at, field) in fields.into_iter().enumerate() {
            @if at > 0 { " · " }
            a href={ "#" (anchor(field.path)) } { (field.label) }
        }
    }
}

fn form(page: &Page<'_>) -> Markup {
    let own = page.given.own_table();
    let group = |id: &'static str| GROUPS.iter().filter(move |group| group.id == id);
    let classes = || GROUPS.iter().filter(move |group| group.only.is_some() && group.only == own);
    html! {
        form #plates method="post" action={ "/sheet/" (page.id) "/plate" } data-sheet-form
            autocomplete="off" {
            (pick(page, "kept-apparatus", "Apparatus as it is kept", &page.kept.apparatus))
            @if let Some(many) = page.kept.many {
                p .quiet {
                    "One of the " (many) " that are kept: "
                    a href="/apparatus" { "find it" } " and press Test again there."
                }
            }
            @for one in group("what") { (fields_of(page, one, 0)) }
            div #own-table data-fresh-when=(page.given.class().unwrap_or_default()) {
                @for one in classes() {
                    @if one.id.ends_with("-more") { (folded(page, one)) } @else {
                        h3 { (one.title) }
                        (fields_of(page, one, 0))
                    }
                }
            }
            @for one in GROUPS.iter().filter(|one| one.only.is_none() && one.id != "what") {
                (folded(page, one))
            }
            p .without-script { button .first { "Show the plan" } }
        }
    }
}

/// A group that may wait: it folds to how much of it is known.
fn folded(page: &Page<'_>, group: &'static Group) -> Markup {
    html! {
        details .group {
            summary { h3 { (group.title) } span .quiet { (known(page, group)) } }
            @if group.id == "set" { (pick(page, "kept-set", "Set as it is kept", &page.kept.sets)) }
            @if group.id == "set" {
                (fields_of(page, group, 0))
                (at_hand::picked(page.id, page.given, &page.kept.sets))
            } @else if group.id == "meters" {
                (pick(page, "kept-meter", "Meter as it is kept", &page.kept.meters))
                div #meters data-fresh-when=(page.given.meters()) {
                    @for at in 0..=page.given.meters() {
                        h4 { "Meter " (at + 1) }
                        (fields_of(page, group, at))
                    }
                }
            } @else { (fields_of(page, group, 0)) }
        }
    }
}

fn known(page: &Page<'_>, group: &Group) -> Markup {
    let id = format!("known-{}", group.id);
    let filled = group.fields.iter().filter(|one| !page.given.shown(one.key(), 0).is_empty());
    html! {
        span id=(id) data-fresh {
            @if group.id == "meters" {
                @match page.given.meters() { 0 => "none", count => (count) }
            } @else if let Some(said) = still_open(page, group) { (said) } @else {
                (filled.count()) " of " (group.fields.len()) " known"
            }
        }
    }
}

/// How much of what is asked first of this object has no answer yet.
fn still_open(page: &Page<'_>, group: &Group) -> Option<String> {
    let ready = &page.made.plan.as_ref().filter(|_| group.id == "ready")?.ready;
    let (open, all) = (ready.open().count(), ready.questions.len());
    match open {
        0 => Some(format!("all {all} answered")),
        _ => Some(format!("{open} of {all} not answered: each is a hold point")),
    }
}

/// A thing that is kept, to take over.
fn pick(page: &Page<'_>, name: &str, label: &str, kept: &[(String, String)]) -> Markup {
    html! {
        @if !kept.is_empty() {
            div .pick {
                div {
                    label for=(name) { (label) }
                    select id=(name) name=(name) {
                        option value="" { "–" }
                        @for (thing, day) in kept {
                            option value=(thing) { (thing) ", as kept on " (day) }
                        }
                    }
                }
                button formaction={ "/sheet/" (page.id) "/kept" } { "Take over" }
            }
        }
    }
}

fn fields_of(page: &Page<'_>, group: &Group, at: usize) -> Markup {
    html! {
        div .form-fields {
            @for field in group.fields { (one(page, field, at)) }
        }
    }
}

/// One field with its label, its unit and what is said of it.
fn one(page: &Page<'_>, field: &'static Field, at: usize) -> Markup {
    let key = field.key();
    let is_meter = key.table() == "meter";
    let name = if is_meter { meter_name(at, key.leaf()) } else { field.path.to_owned() };
    let place = anchor(&name);
    let shown = page.given.shown(key, at);
    let place = if is_meter && at == 0 { anchor(field.path) } else { place };
    html! {
        @match choices(key) {
            Some(words) => {
                fieldset .field .one-of id=(place) aria-describedby=(described(field, &place)) {
                    legend { (label(field, key)) }
                    div .boxes { (boxes(field, key, &name, &words, &shown)) }
                    (beneath(page, field, &place, at))
                }
            }
            None => {
                div .field id=(place) {
                    label for={ (place) "-in" } { (label(field, key)) }
                    (input(field, key, &name, &place, &shown))
                    (beneath(page, field, &place, at))
                }
            }
        }
    }
}

/// The places that say more of a field.
fn described(field: &Field, place: &str) -> String {
    let hint = if field.hint.is_empty() { String::new() } else { format!("{place}-hint ") };
    format!("{hint}{place}-note")
}

fn label(field: &Field, key: &Key) -> Markup {
    html! {
        (field.label)
        @if !key.unit.is_empty() { span .unit { ", " (symbol(key.unit)) } }
    }
}

/// The words of a key that has a few; `None` where it is typed.
fn choices(key: &Key) -> Option<Vec<String>> {
    match key.kind {
        Kind::Choice(words) | Kind::Choices(words) => {
            Some(words().into_iter().map(str::to_owned).collect())
        }
        Kind::Flag => Some(vec!["true".to_owned(), "false".to_owned()]),
        Kind::OneOf(numbers) => Some(numbers.iter().map(f64::to_string).collect()),
        _ => None,
    }
}

fn boxes(field: &Field, key: &Key, name: &str, words: &[String], shown: &str) -> Markup {
    let several = matches!(key.kind, Kind::Choices(_));
    let kind = if several { "checkbox" } else { "radio" };
    let is_on = |word: &str| {
        if several { shown.split(' ').any(|one| one == word) } else { shown == word }
    };
    let known = shown.is_empty() || several || words.iter().any(|word| word == shown);
    html! {
        // Boxes that are all empty are not sent; this says that they were shown.
        @if several { input type="hidden" name=(name) value=""; }
        @for word in words {
            label { input type=(kind) name=(name) value=(word) checked[is_on(word)];
                (said(field.path, word)) }
        }
        @if !known {
            label { input type=(kind) name=(name) value=(shown) checked; (shown) }
        }
        @if !several && (!key.required || key.table() == "meter") {
            label { input type=(kind) name=(name) value="" checked[shown.is_empty()];
                (fields::left_out(field.path)) }
        }
    }
}

fn input(field: &Field, key: &Key, name: &str, place: &str, shown: &str) -> Markup {
    let is_day = matches!(key.kind, Kind::Date)
        && (shown.is_empty() || shown.parse::<jiff::civil::Date>().is_ok());
    let kind = if is_day { "date" } else { "text" };
    let keys = match key.kind {
        Kind::Number(_) | Kind::Whole(_) | Kind::OneOf(_) => Some("decimal"),
        _ => None,
    };
    let (input, note) = (format!("{place}-in"), described(field, place));
    if field.path == "test.reason" || shown.contains('\n') {
        return html! {
            textarea id=(input) name=(name) rows="3" aria-describedby=(note) { (shown) }
        };
    }
    html! {
        input id=(input) name=(name) type=(kind) inputmode=[keys] value=(shown)
            aria-describedby=(note) spellcheck="false" autocapitalize="off";
    }
}

/// What stands under a field: what is wrong with it, what is asked, what the plan takes without
/// it, or the same in the unit of the trade.
fn beneath(page: &Page<'_>, field: &'static Field, place: &str, at: usize) -> Markup {
    let key = field.key();
    let shown = page.given.shown(key, at);
    html! {
        @if !field.hint.is_empty() { p .hint id={ (place) "-hint" } { (field.hint) } }
        div .beneath id={ (place) "-note" } data-fresh {
            @if let Some(fault) = fault_at(page, key, at) {
                p .fault { span aria-hidden="true" { "✕ " } (amiss::said(fault, key, &shown)) }
            } @else if is_asked(page, field) {
                p .asked { span aria-hidden="true" { "○ " } "Still asked for" }
            } @else if shown.is_empty() {
                @for issue in without(page, field) {
                    p { "Not known: " (lower(&issue.text)) }
                }
            } @else if let Some(said) = beside(key, &shown) {
                p .quiet { "that is " (said) }
            }
        }
    }
}

/// Whether there is no job without it; that of a meter is told as a fault of the meter.
fn is_asked(page: &Page<'_>, field: &Field) -> bool {
    let key = field.key();
    key.table() != "meter" && page.made.asked.contains(&field.path)
}

/// The same in the unit of the trade; a day as it is kept, however the browser writes it.
fn beside(key: &Key, shown: &str) -> Option<String> {
    if matches!(key.kind, Kind::Date) {
        return Some(shown.to_owned());
    }
    customary(number::one(shown, key.unit)?, key.unit)
}

fn fault_at<'a>(page: &'a Page<'_>, key: &Key, at: usize) -> Option<&'a InputFault> {
    let faults = page.made.job.as_ref().err()?;
    let mut of_key = faults.iter().filter(|fault| fault.key == key.path);
    of_key.find(|fault| {
        let missing_meter = key.table() == "meter" && at >= page.given.meters();
        let here = key.table() != "meter" || meter_of(&page.made.text, fault.line) == at;
        let asked = amiss::is_missing(fault) && key.table() != "meter";
        here && !missing_meter && !asked
    })
}

/// Which meter a line of the job file is of.
fn meter_of(text: &str, line: usize) -> usize {
    let before = text.lines().take(line);
    before.filter(|one| one.trim() == "[[meter]]").count().saturating_sub(1)
}

/// What the plan says because this is not known.
fn without<'a>(page: &'a Page<'_>, field: &'static Field) -> impl Iterator<Item = &'a PlanIssue> {
    let issues = page.made.plan.iter().flat_map(|plan| &plan.issues);
    issues.filter(move |issue| {
        let of_the_unknown =
            ["missing", "unknown", "assumed", "known"].iter().any(|end| issue.id.ends_with(end));
        let first = mentions::fields(&issue.remedy).next();
        of_the_unknown && first.is_some_and(|one| one.path == field.path)
    })
}

/// As the second half of a sentence.
fn lower(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_lowercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

/// Section 2 while the plates are typed.
fn plan(page: &Page<'_>) -> Markup {
    let others: Vec<&InputFault> = page
        .made
        .job
        .as_ref()
        .err()
        .into_iter()
        .flatten()
        .filter(|fault| fields::of(&fault.key).is_none())
        .collect();
    html! {
        @for fault in others {
            p .fault { "Line " (fault.line) " of the job file: " (fault) }
        }
        @if !waits_for(page).is_empty() {
            p { "No plan yet. Type first: " (links(waits_for(page))) }
        } @else if let Some(plan) = &page.made.plan {
            @if !page.made.asked.is_empty() {
                p .asked { "Still asked for before it can begin: " (asked(page)) }
            }
            (planned::shown(plan, Beside::Form(page.id)))
            p { a .button href={ "/sheet/" (page.id) "/job-sheet.pdf" } { "Job sheet (PDF)" } }
        } @else if page.made.job.as_ref().err().is_some_and(|all| has_wrong(all)) {
            p { "No plan yet. Correct first: " (faulty(page)) }
        } @else {
            p { "No plan yet. Type first: " (asked(page)) }
        }
    }
}

fn begin(page: &Page<'_>) -> Markup {
    let said = page.refused.as_ref().map(|(start, _)| *start);
    let who = said.map_or(page.who.unwrap_or_default(), |start| &start.who);
    let from = said.map_or("keys", |start| &start.from);
    let sources = [
        ("keys", "needles, typed here"),
        ("meter", "a meter on a wire"),
        ("sim", "the practice set: nothing is tested"),
    ];
    html! {
        form method="post" action={ "/sheet/" (page.id) "/begin" } data-begins {
            div .form-fields {
                div .field {
                    label for="who" { "Who works at the set" }
                    input #who name="who" required maxlength=(LONGEST_NAME)
                        value=(who);
                }
                fieldset .field .one-of {
                    legend { "Readings come from" }
                    div .boxes {
                        @for (value, words) in sources {
                            label {
                                input type="radio" name="from" value=(value)
                                    checked[from == value];
                                (words)
                            }
                        }
                    }
                }
                div .field {
                    label for="address" { "Address of the meter" }
                    input #address name="address"
                        value=(said.map_or("", |start| &start.address))
                        spellcheck="false" autocapitalize="off";
                    p .hint { "tcp:192.0.2.7:5025 or serial:/dev/ttyUSB0:9600" }
                }
            }
            div #begin-now data-fresh { (begin_now(page)) }
            p #look-again .fault role="alert" hidden {
                "Look at the plan once more, then begin: what was typed last has changed it."
            }
        }
    }
}

fn begin_now(page: &Page<'_>) -> Markup {
    html! {
        @match (&page.made.job, &page.made.plan) {
            (Ok(_), Some(plan)) if !plan.is_refused() => {
                p { "Plates and plan are sealed into the record and stay as they are." }
                input type="hidden" name="seen" value=(page.made.sign());
                button .first { "Begin the record" }
                p .quiet { "The record begins with what is looked at before voltage." }
            }
            (Ok(_), Some(_)) if waits_for(page).is_empty() => {
                p { "A refused plan cannot begin. " a href="#plan" { "See why, and what instead" } }
            }
            _ => p { "It cannot begin yet. " a href="#plan-line" { "See what is asked for" } }
        }
    }
}

fn files(page: &Page<'_>) -> Markup {
    let text = page.upload.as_ref().map_or_else(|| page.given.text(), |one| one.text.clone());
    html! {
        p { a .button href={ "/sheet/" (page.id) "/job.toml" } { "Take it along as a file" } }
        details open[page.upload.is_some()] {
            summary { "Take a job file, or correct this one by hand" }
            @if let Some(upload) = &page.upload {
                @for fault in &upload.faults {
                    p .fault { "Line " (fault.line) ": " (fault) }
                }
            }
            form method="post" action={ "/sheet/" (page.id) "/job-file" } {
                label for="text" { "Job file; it takes the place of all that is typed above" }
                textarea #text name="text" rows="16" spellcheck="false" { "\n" (text) }
                p #pick-file hidden {
                    label for="file" { "Or pick a file" }
                    input #file type="file" accept=".toml,text/plain";
                }
                p { button { "Take it" } }
            }
        }
        details {
            summary { "Throw this sheet away" }
            form method="post" action={ "/sheet/" (page.id) "/drop" } {
                p { "Nothing was begun from it. What is typed here is lost then." }
                button { "Throw it away" }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use plan::job_file::table_of;
    use standards::Library;

    use super::*;

    fn page_of(given: &Given) -> String {
        let made = given.made(&Library::published());
        let one = || vec![("kept one".to_owned(), "2026-11-03".to_owned())];
        let kept = Kept { apparatus: one(), many: None, sets: one(), meters: one() };
        let page = Page {
            id: "x",
            given,
            made: &made,
            kept: &kept,
            who: None,
            upload: None,
            refused: None,
        };
        shown(&page).into_string()
    }

    fn read(text: &str) -> Given {
        Given::read(text).expect("it is TOML")
    }

    #[test]
    fn the_page_of_each_class_asks_for_its_own_keys_and_no_other_s() {
        for class in ["cable", "switchgear", "motor", "generator", "protective", "busway"] {
            let page = page_of(&read(&format!("[asset]\nclass = \"{class}\"\n")));
            for group in GROUPS {
                for field in group.fields {
                    let name = match field.path.strip_prefix("meter.") {
                        Some(leaf) => meter_name(0, leaf),
                        None => field.path.to_owned(),
                    };
                    let asks = page.contains(&format!("name=\"{name}\""));
                    let wanted = group.only.is_none() || group.only == table_of(class);
                    assert_eq!(asks, wanted, "{class}: {}", field.path);
                }
            }
            assert!(!page.to_lowercase().contains(" safe "), "{class}");
        }
    }

    #[test]
    fn a_bad_value_keeps_its_text_beside_its_remedy() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let mut given = read(text);
        given.set("asset.rated_kv", "15000");
        let page = page_of(&given);
        assert!(page.contains(
            "name=\"asset.rated_kv\" type=\"text\" inputmode=\"decimal\" \
                               value=\"15000\""
        ));
        assert!(page.contains("Write 15 if you meant 15000 V."));
        assert!(page.contains("Correct first: </strong><a href=\"#f-asset-rated-kv\">"));
        assert!(!page.contains("Begin the record</button>"), "nothing can begin with it");
    }

    #[test]
    fn a_refused_plan_is_said_first_and_cannot_begin() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let good = page_of(&read(text));
        assert!(good.contains("Begin the record</button>"));
        let mut given = read(text);
        given.set("asset.cable.in_service_years", "12");
        let page = page_of(&given);
        let plan = page.split("id=\"plan-now\"").nth(1).expect("a plan");
        let said = plan.find("Do not run this test").expect("it is said");
        assert!(said < plan.find("REFUSED").expect("and why"));
        assert!(page.contains("A refused plan cannot begin."));
        assert!(!page.contains("Begin the record</button>"));
    }

    #[test]
    fn what_the_plan_takes_without_a_value_stands_at_its_field() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let mut given = read(text);
        given.set("asset.cable.length_m", "");
        let page = page_of(&given);
        let field = page.split("id=\"f-asset-cable-length-m-note\"").nth(1).expect("its place");
        assert!(field.starts_with(" data-fresh><p>Not known: the length of the cable"), "{field}");
        // A foot is 0.3048 m by definition.
        given.set("asset.cable.length_m", "640.08");
        assert!(page_of(&given).contains("that is 2100 ft"));
    }
}
