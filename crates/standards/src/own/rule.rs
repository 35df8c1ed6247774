//! Rules of the user's own: a level for a class of apparatus, beside the published ones.

use std::ops::Range;

use jiff::civil::Date;
use quantity::{Time, Voltage};
use serde::{Deserialize, Serialize};
use toml::Spanned;

use super::Effect;
use super::value::{Found, date, reason};
use crate::Level;
use crate::cable::{self, CableQuestion};
use crate::library::{
    Cell, Column, Edition, Library, Lookup, Looser, Outside, Row, Standing, Table,
};
use crate::rubber;
use crate::source::{Citation, Mark};
use crate::switchgear;
use crate::winding::{self, WindingQuestion};
use crate::words::{
    self, Apparatus, CableDuty, Insulation, Jacket, ProtectiveClass, ProtectiveItem, Purpose,
    SwitchgearKind, Winding, WindingState,
};

/// What a rule is for, or what a job is about; what is `None` is any, or not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct RuleScope {
    /// Class of apparatus.
    pub apparatus: Apparatus,
    /// Why it is tested.
    pub purpose: Option<Purpose>,
    /// Main insulation of a cable.
    pub insulation: Option<Insulation>,
    /// Column of a cable.
    pub duty: Option<CableDuty>,
    /// Kind of winding.
    pub winding: Option<Winding>,
    /// State of a winding.
    pub state: Option<WindingState>,
    /// How switchgear is built.
    pub kind: Option<SwitchgearKind>,
    /// Piece of protective equipment.
    pub item: Option<ProtectiveItem>,
    /// Its class.
    pub protective_class: Option<ProtectiveClass>,
}

/// A rule of the user's own.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnRule {
    /// Its name in the user's file; a plan names it `own-<id>`.
    pub id: String,
    /// What it is called.
    pub title: String,
    /// Its edition or issue.
    pub edition: String,
    /// Clause, table or page in it.
    pub place: String,
    /// Who wrote it in.
    pub by: String,
    /// When.
    pub on: Date,
    /// What it is for.
    pub scope: RuleScope,
    /// Least rating it is for, in kilovolts.
    pub from_kv: Option<f64>,
    /// Highest rating it is for, in kilovolts.
    pub to_kv: Option<f64>,
    /// Kilovolts per kilovolt of rating.
    pub factor: f64,
    /// Kilovolts beside that.
    pub intercept_kv: f64,
    /// Time at the level, in seconds.
    pub hold_s: Option<f64>,
    /// What it does to the published levels.
    pub effect: Effect,
    /// Where it first does that: rating, published level and its own, in words.
    pub against: Option<String>,
    /// Why it may be looser, as it was typed.
    pub reason: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleEntry {
    id: Spanned<String>,
    title: Spanned<String>,
    class: Apparatus,
    purpose: Option<Purpose>,
    insulation: Option<Insulation>,
    duty: Option<CableDuty>,
    winding: Option<Winding>,
    state: Option<WindingState>,
    kind: Option<SwitchgearKind>,
    item: Option<ProtectiveItem>,
    protective_class: Option<ProtectiveClass>,
    from_kv: Option<Spanned<f64>>,
    to_kv: Option<Spanned<f64>>,
    level_kv: Option<Spanned<f64>>,
    factor: Option<Spanned<f64>>,
    intercept_kv: Option<Spanned<f64>>,
    hold_s: Option<Spanned<f64>>,
    edition: Spanned<String>,
    place: Spanned<String>,
    by: Spanned<String>,
    on: Spanned<toml::value::Datetime>,
    reason: Option<Spanned<String>>,
}

/// The rules of a file that can be used, and what is wrong with the others.
pub(super) fn checked(
    library: &Library,
    entries: Vec<Spanned<RuleEntry>>,
) -> (Vec<OwnRule>, Vec<Found>) {
    let mut rules: Vec<OwnRule> = Vec::new();
    let mut errors = Vec::new();
    for entry in entries {
        let entry = entry.into_inner();
        let id = entry.id.get_ref().as_str();
        let mut found = entry.errors();
        if rules.iter().any(|rule| rule.id == id) {
            let text = format!("two rules are named `{id}`");
            found.push((entry.id.span(), text, "give each rule a name of its own".to_owned()));
        }
        let rule = entry.rule().filter(|_| found.is_empty());
        if let Some(rule) = rule {
            let rule = rule.weighed(library);
            if rule.effect == Effect::Loosens && rule.reason.is_none() {
                let text = rule.against.clone().unwrap_or_default();
                found.push((entry.id.span(), text, words::OWN_REASON.to_owned()));
            } else {
                rules.push(rule);
            }
        }
        errors.extend(found);
    }
    (rules, errors)
}

impl RuleEntry {
    fn errors(&self) -> Vec<Found> {
        let mut found: Vec<Found> = Vec::new();
        let mut say = |span: Range<usize>, text: String, remedy: &str| {
            found.push((span, text, remedy.to_owned()));
        };
        let id = self.id.get_ref();
        let plain = |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit();
        if id.is_empty() || !id.chars().all(|letter| plain(letter) || letter == '-') {
            let remedy = "name it with small letters, digits and `-`, as cable-procedure-7";
            say(self.id.span(), format!("`{id}` is no name for a rule"), remedy);
        }
        for text in [&self.title, &self.edition, &self.place, &self.by] {
            if text.get_ref().trim().is_empty() {
                let remedy = "write title, edition, the place in it, and who wrote it in";
                say(text.span(), "an empty text".to_owned(), remedy);
            }
        }
        if date(self.on.get_ref()).is_none() {
            let remedy = "write the day it was written in, as 2026-11-03";
            say(self.on.span(), "no calendar day".to_owned(), remedy);
        }
        let numbers =
            [&self.from_kv, &self.to_kv, &self.level_kv, &self.factor, &self.intercept_kv];
        for number in numbers.into_iter().chain([&self.hold_s]).flatten() {
            if !number.get_ref().is_finite() || *number.get_ref() < 0.0 {
                let text = format!("{} is no value", number.get_ref());
                say(number.span(), text, "write a number of 0 or more");
            }
        }
        let both = "write level_kv alone, or factor with intercept_kv, for the level";
        match (&self.level_kv, &self.factor, &self.intercept_kv) {
            (None, None, _) => say(self.id.span(), "the rule has no level".to_owned(), both),
            (Some(level), Some(_), _) | (Some(level), _, Some(_)) => {
                say(level.span(), "the level is given twice".to_owned(), both);
            }
            _ => {}
        }
        if let (Some(from), Some(to)) = (&self.from_kv, &self.to_kv)
            && from.get_ref() > to.get_ref()
        {
            let text = format!("{} to {} kV is no range", from.get_ref(), to.get_ref());
            say(from.span(), text, "write the lower rating as from_kv, the higher as to_kv");
        }
        found.extend(self.strange_keys());
        found
    }

    /// Keys that objects of the class do not have: the rule would never be taken.
    fn strange_keys(&self) -> Option<Found> {
        let machine = matches!(self.class, Apparatus::Motor | Apparatus::Generator);
        let is = |class| self.class == class;
        let strange = [
            ("insulation", self.insulation.is_some() && !is(Apparatus::Cable)),
            ("duty", self.duty.is_some() && !is(Apparatus::Cable)),
            ("winding", self.winding.is_some() && !machine),
            ("state", self.state.is_some() && !machine),
            ("kind", self.kind.is_some() && !is(Apparatus::Switchgear)),
            ("item", self.item.is_some() && !is(Apparatus::Protective)),
            ("protective_class", self.protective_class.is_some() && !is(Apparatus::Protective)),
        ];
        let (key, _) = strange.into_iter().find(|(_, strange)| *strange)?;
        let text = format!("the class {} has no {key}", self.class.key());
        Some((self.id.span(), text, format!("take out {key}, or correct class")))
    }

    fn rule(&self) -> Option<OwnRule> {
        let number = |of: &Option<Spanned<f64>>| of.as_ref().map(|number| *number.get_ref());
        let text = |of: &Spanned<String>| of.get_ref().trim().to_owned();
        Some(OwnRule {
            id: text(&self.id),
            title: text(&self.title),
            edition: text(&self.edition),
            place: text(&self.place),
            by: text(&self.by),
            on: date(self.on.get_ref())?,
            scope: RuleScope {
                apparatus: self.class,
                purpose: self.purpose,
                insulation: self.insulation,
                duty: self.duty,
                winding: self.winding,
                state: self.state,
                kind: self.kind,
                item: self.item,
                protective_class: self.protective_class,
            },
            from_kv: number(&self.from_kv),
            to_kv: number(&self.to_kv),
            factor: number(&self.factor).unwrap_or(0.0),
            intercept_kv: number(&self.level_kv).or(number(&self.intercept_kv)).unwrap_or(0.0),
            hold_s: number(&self.hold_s),
            effect: Effect::None,
            against: None,
            reason: reason(self.reason.as_ref()).map(str::to_owned),
        })
    }
}

impl RuleScope {
    /// Whether an object is of what the rule is for; what is not known of it fits no narrower rule.
    #[must_use]
    pub fn covers(&self, object: &Self) -> bool {
        fn fits<T: PartialEq>(rule: Option<T>, object: Option<T>) -> bool {
            rule.is_none() || rule == object
        }
        self.apparatus == object.apparatus
            && fits(self.purpose, object.purpose)
            && fits(self.insulation, object.insulation)
            && fits(self.duty, object.duty)
            && fits(self.winding, object.winding)
            && fits(self.state, object.state)
            && fits(self.kind, object.kind)
            && fits(self.item, object.item)
            && fits(self.protective_class, object.protective_class)
    }

    /// What is published first for each object of the scope at a rating; empty where nothing is.
    fn published(&self, lib: &Library, rated: Voltage) -> Vec<(String, Option<Level>)> {
        match self.apparatus {
            Apparatus::Cable => self.cables(lib, rated),
            Apparatus::Motor | Apparatus::Generator => {
                let mut found = Vec::new();
                for winding in some_or_all(self.winding, Winding::ALL) {
                    for state in some_or_all(self.state, WindingState::ALL) {
                        for small in [false, true] {
                            let question = WindingQuestion { winding, state, rated, small };
                            let of = format!("{}, {}", winding.key(), state.key());
                            found.push((of, first(winding::levels(lib, &question))));
                        }
                    }
                }
                found
            }
            Apparatus::Switchgear => some_or_all(self.kind, SwitchgearKind::ALL)
                .into_iter()
                .map(|kind| (kind.key().to_owned(), first(switchgear::levels(lib, kind, rated))))
                .collect(),
            Apparatus::Protective => self.pieces(lib),
            _ => Vec::new(),
        }
    }

    fn cables(&self, lib: &Library, rated: Voltage) -> Vec<(String, Option<Level>)> {
        let mut found = Vec::new();
        for insulation in some_or_all(self.insulation, Insulation::ALL) {
            for duty in some_or_all(self.duty, CableDuty::ALL) {
                for level_percent in [None, Some(100.0), Some(133.0), Some(173.0)] {
                    for (jacket, separable) in [
                        (None, None),
                        (Some(Jacket::Nonmetallic), None),
                        (None, Some(true)),
                        (Some(Jacket::Nonmetallic), Some(true)),
                    ] {
                        let question = CableQuestion {
                            insulation,
                            rated,
                            level_percent,
                            duty,
                            jacket,
                            separable,
                            u0: None,
                            belted: None,
                        };
                        let of = format!("{}, {}", insulation.key(), duty.key());
                        found.push((of, first(cable::levels(lib, &question))));
                    }
                }
            }
        }
        found
    }

    fn pieces(&self, lib: &Library) -> Vec<(String, Option<Level>)> {
        let mut found = Vec::new();
        for item in some_or_all(self.item, ProtectiveItem::ALL) {
            for class in some_or_all(self.protective_class, ProtectiveClass::ALL) {
                for purpose in some_or_all(self.purpose, Purpose::ALL) {
                    let level = rubber::proof(lib, item, class, purpose).ok().map(|proof| Level {
                        rule: proof.rule,
                        how: String::new(),
                        voltage: Some(proof.voltage),
                        hold: Some(proof.hold),
                        hold_source: Some(proof.hold_source),
                        class: None,
                        exact_class: true,
                        source: proof.source,
                    });
                    found.push((format!("class {} {}", class.key(), item.key()), level));
                }
            }
        }
        found
    }
}

fn some_or_all<T: Copy>(one: Option<T>, all: &[T]) -> Vec<T> {
    one.map_or_else(|| all.to_vec(), |one| vec![one])
}

fn first(levels: Vec<Level>) -> Option<Level> {
    levels.into_iter().find(|level| level.voltage.is_some())
}

impl OwnRule {
    /// The name by which a plan takes it.
    #[must_use]
    pub fn name(&self) -> String {
        format!("own-{}/level", self.id)
    }

    /// What it is for, in words.
    #[must_use]
    pub fn covers_in_words(&self) -> String {
        words::own_scope(self)
    }

    /// Its level for an object; `None` where it is not for it.
    #[must_use]
    pub fn level(&self, object: &RuleScope, rated: Option<Voltage>) -> Option<Level> {
        let bounded = self.from_kv.is_some() || self.to_kv.is_some() || self.factor > 0.0;
        let kilovolts = match rated {
            Some(rated) => rated.kilovolts(),
            None if bounded => return None,
            None => 0.0,
        };
        // A rating is read off a plate: a millionth of it is no other rating.
        let from = self.from_kv.unwrap_or(0.0) * (1.0 - 1e-6);
        let to = self.to_kv.unwrap_or(f64::INFINITY) * (1.0 + 1e-6);
        if !self.scope.covers(object) || kilovolts < from || kilovolts > to {
            return None;
        }
        Some(Level {
            rule: self.name(),
            how: words::own_how(self),
            voltage: Some(Voltage::from_kilovolts(self.factor * kilovolts + self.intercept_kv)),
            hold: self.hold_s.map(Time::from_seconds),
            hold_source: self.hold_s.map(|_| self.source()),
            class: None,
            exact_class: true,
            source: self.source(),
        })
    }

    /// What its level does to what would be taken without it.
    #[must_use]
    pub fn effect_on(&self, level: &Level, published: Option<&Level>) -> Effect {
        let Some(published) = published else { return Effect::Loosens };
        let (Some(own), Some(known)) = (level.voltage, published.voltage) else {
            return Effect::Loosens;
        };
        let shorter = match (level.hold, published.hold) {
            (Some(own), Some(known)) => own.seconds() < known.seconds(),
            (None, Some(_)) => true,
            _ => false,
        };
        if shorter || own.volts() > known.volts() * (1.0 + 1e-9) {
            Effect::Loosens
        } else if own.volts() < known.volts() * (1.0 - 1e-9) || level.hold != published.hold {
            Effect::Tightens
        } else {
            Effect::None
        }
    }

    fn source(&self) -> Citation {
        Citation {
            id: self.name(),
            title: self.title.clone(),
            edition: self.edition.clone(),
            place: words::own_rule_place(self),
            mark: Mark::Own,
        }
    }

    /// Held against what is published, at every class and at both ends of its range.
    fn weighed(mut self, library: &Library) -> Self {
        for kilovolts in self.ratings(library) {
            let rated = Voltage::from_kilovolts(kilovolts);
            let Some(own) = self.level(&self.scope, Some(rated)) else { continue };
            let known = self.scope.published(library, rated);
            let mut held: Vec<(String, Option<Level>)> =
                known.into_iter().filter(|(_, level)| level.is_some()).collect();
            if held.is_empty() {
                held.push((self.scope.apparatus.key().to_owned(), None));
            }
            for (of, level) in held {
                let effect = self.effect_on(&own, level.as_ref());
                let worse = match self.effect {
                    Effect::None => effect != Effect::None,
                    Effect::Tightens => effect == Effect::Loosens,
                    Effect::Loosens => false,
                };
                if worse {
                    self.effect = effect;
                    self.against = Some(words::own_against(&of, kilovolts, &own, level.as_ref()));
                }
            }
        }
        self
    }

    /// Ratings at which the published levels may change, within the rule's range.
    fn ratings(&self, library: &Library) -> Vec<f64> {
        let mut all: Vec<f64> = library
            .tables()
            .flat_map(|(_, table)| &table.rows)
            .flat_map(|row| [row.number("class_kv"), row.number("to_kv")])
            .flatten()
            .chain([self.from_kv, self.to_kv].into_iter().flatten())
            .collect();
        all.retain(|at| {
            *at >= self.from_kv.unwrap_or(0.0) && *at <= self.to_kv.unwrap_or(f64::INFINITY)
        });
        all.sort_by(f64::total_cmp);
        all.dedup();
        all
    }

    /// The rule as an edition of its own.
    pub(crate) fn edition(&self) -> Edition {
        let source = self.source();
        let scope = words::own_scope(self);
        let cell = |column: &str, number: Option<f64>| Cell {
            column: column.to_owned(),
            text: number.map_or_else(String::new, |number| number.to_string()),
            number,
            source: source.clone(),
        };
        let columns = ["from_kv", "to_kv", "slope_ratio", "intercept_kv", "hold_s"];
        let numbers = [
            self.from_kv,
            self.to_kv,
            Some(self.factor).filter(|factor| *factor > 0.0),
            Some(self.intercept_kv),
            self.hold_s,
        ];
        let column = |name: &&str| Column {
            name: (*name).to_owned(),
            unit: words::unit(name).unwrap_or_default().to_owned(),
            looser: Looser::Either,
        };
        let table = Table {
            id: self.name(),
            question: format!("Which direct voltage, by the user's own rule, for {scope}?"),
            family: None,
            standing: Standing::Requirement,
            place: source.place.clone(),
            lookup: Lookup::Range,
            outside: Outside::None,
            hold_from: None,
            keys: Vec::new(),
            values: columns.iter().map(column).collect(),
            rising: Vec::new(),
            notes: self.against.iter().cloned().collect(),
            rows: vec![Row {
                key: "only".to_owned(),
                cells: columns.iter().zip(numbers).map(|(name, is)| cell(name, is)).collect(),
                source: source.clone(),
                note: None,
            }],
        };
        Edition {
            id: format!("own-{}", self.id),
            body: String::new(),
            number: String::new(),
            title: self.title.clone(),
            edition: self.edition.clone(),
            year: None,
            tables: vec![table],
        }
    }
}
