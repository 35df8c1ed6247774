//! The scene as rows of text for a terminal. It fits 80 columns and 24 rows.

use super::large::{HEIGHT, large};
use super::row::{Row, Tone};
use super::{FOOT, Margin, Scene, Standing, Urge};
use crate::show::wrapped;

/// What the person at the terminal is about.
#[derive(Clone, Debug, Default)]
pub(crate) struct Hand {
    /// What is asked for and typed.
    pub(crate) typing: Option<(String, String)>,
    /// The conductor that the next line is of, where it was picked.
    pub(crate) tabbed: Option<String>,
    /// The table of keys instead of conductors and messages.
    pub(crate) keys: Option<Vec<(String, &'static str)>>,
    /// The longer reason of what is advised instead of conductors and messages.
    pub(crate) why: bool,
}

/// The rows, none longer than the width and no more than fit.
pub(crate) fn rows(scene: &Scene, hand: &Hand, (width, height): (u16, u16)) -> Vec<Row> {
    let (width, height) = (usize::from(width), usize::from(height));
    let mut top = banner(scene, width);
    let needs = top.len() + 1 + foot(hand, width).len() + 6 + 2;
    let large = hand.keys.is_none() && height >= needs + HEIGHT;
    top.extend(if large { volts(scene) } else { vec![volts_in_one(scene)] });
    top.push(Row::of(Tone::Strong, format!("NEXT  {}", scene.next)));
    top.extend(advice(scene, width));
    top.push(current(scene));
    top.push(times(scene));
    top.push(trip(scene, width));
    top.extend(scene.charging.as_ref().map(|charging| margin("To limit", charging, width)));
    top.push(Row::plain("─".repeat(width)));
    let foot = foot(hand, width);
    let room = height.saturating_sub(top.len() + foot.len());
    let middle = match &hand.keys {
        Some(keys) => key_table(keys, width, room),
        None if hand.why => longer(scene, width, room),
        None => middle(scene, width, room),
    };
    let filled = room - middle.len();
    let rows = top.into_iter().chain(middle);
    let rows = rows.chain(std::iter::repeat_n(Row::default(), filled)).chain(foot);
    rows.map(|row| row.cut(width)).take(height).collect()
}

fn banner(scene: &Scene, width: usize) -> Vec<Row> {
    let tone = match scene.state {
        Standing::NotEnergised | Standing::NoGround => Tone::Strong,
        Standing::Hazardous | Standing::LinkLost => Tone::Hazard,
        Standing::Grounded => Tone::Grounded,
    };
    // Few fonts of terminals have the sign of a ground.
    let shape = if scene.state == Standing::Grounded { "■" } else { scene.shape };
    let word = scene.state_word;
    let spaced: String = word.chars().flat_map(|letter| [letter, ' ']).collect();
    let said = match scene.of.as_str() {
        "" => format!("  {shape}{shape}{shape}  {}", spaced.trim_end()),
        of => format!("  {shape}{shape}{shape}  {}   {of}", spaced.trim_end()),
    };
    let mut rows = vec![Row::plain(scene.head.clone())];
    let fill = |text: &str| format!("{text:<width$}");
    rows.push(Row::of(tone, fill("")));
    rows.push(Row::of(tone, fill(&said)));
    rows.push(Row::of(tone, fill("")));
    for said in &scene.standing {
        let said = wrapped(said, width.max(20), 2);
        rows.extend(said.lines().enumerate().map(|(at, line)| {
            let line = if at == 0 { format!("! {line}") } else { line.to_owned() };
            Row::of(Tone::Strong, line)
        }));
    }
    rows
}

fn volts(scene: &Scene) -> Vec<Row> {
    let figures = large(scene.kilovolts.as_deref().unwrap_or("?"));
    let rows = figures.iter().enumerate().map(|(at, figures)| {
        let row = Row::plain(format!("  {figures}"));
        match at {
            3 => row.and(Tone::Strong, "  kV"),
            4 => row.and(Tone::Plain, format!("  {}", scene.kilovolts_note)),
            _ => row,
        }
    });
    rows.collect()
}

fn volts_in_one(scene: &Scene) -> Row {
    let value = scene.kilovolts.as_deref().unwrap_or("?");
    Row::of(Tone::Strong, format!("{value} kV"))
        .and(Tone::Plain, format!("  {}", scene.kilovolts_note))
}

fn current(scene: &Scene) -> Row {
    let row = Row::plain("Current ");
    let row = row.and(Tone::Strong, scene.current.as_deref().unwrap_or("not read"));
    let Some(expected) = &scene.expected else { return row };
    row.and(Tone::Plain, format!("   {} {}", expected.said, expected.band))
}

fn times(scene: &Scene) -> Row {
    let reading = scene.reading_in.as_ref().map(|time| format!("Next reading in {}", time.left));
    let wait = scene.wait.as_ref().map(|wait| format!("{} {}", wait.what, wait.time.left));
    Row::plain(reading.into_iter().chain(wait).collect::<Vec<_>>().join("   "))
}

/// The margin as a length: what is empty is left.
fn trip(scene: &Scene, width: usize) -> Row {
    let Some(trip) = &scene.trip else { return Row::plain("Trip setting not known") };
    let Some(taken) = trip.taken else {
        return Row::plain(format!("Trip planned at {}", trip.set));
    };
    let past = if taken >= 1.0 { "  AT THE TRIP" } else { "" };
    let said = format!("{:.0} % of {}{past}", taken * 100.0, trip.set);
    Row::plain(format!("To trip {} {said}", bar(taken, width)))
}

fn margin(name: &str, margin: &Margin, width: usize) -> Row {
    let Some(taken) = margin.taken else { return Row::plain(margin.said.clone()) };
    let past = if taken >= 1.0 { "  RAISE SLOWER" } else { "" };
    Row::plain(format!("{name} {} {:.0} % of the set{past}", bar(taken, width), taken * 100.0))
}

fn bar(taken: f64, width: usize) -> String {
    let length = width.saturating_sub(40).clamp(10, 40);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "held between nothing and a few dozen columns"
    )]
    let full = (taken.clamp(0.0, 1.0) * length as f64).ceil() as usize;
    format!("[{}{}]", "█".repeat(full), "·".repeat(length - full))
}

/// What is advised, and what is to come; the shape says the strength without colour.
fn advice(scene: &Scene, width: usize) -> Vec<Row> {
    let Some(advice) = &scene.advice else { return Vec::new() };
    let tone = match advice.urge {
        Urge::Unknown | Urge::CarryOn => Tone::Plain,
        Urge::Watch | Urge::HoldHere => Tone::Strong,
        Urge::ComeDown => Tone::Hazard,
    };
    let word = match advice.urge {
        Urge::HoldHere | Urge::ComeDown => advice.word.to_uppercase(),
        _ => advice.word.to_owned(),
    };
    let said = wrapped(&format!("{} {word}: {}", advice.shape, advice.why), width.max(20), 2);
    let mut rows: Vec<Row> = said.lines().map(|line| Row::of(tone, line)).collect();
    if !scene.outlook.is_empty() {
        rows.push(Row::plain(format!("  {}", scene.outlook)));
    }
    rows
}

fn longer(scene: &Scene, width: usize, room: usize) -> Vec<Row> {
    let more = scene.advice.iter().flat_map(|advice| advice.more.iter());
    let rows = more.flat_map(|said| {
        let said = wrapped(said, width.max(20), 3);
        said.lines().map(Row::plain).collect::<Vec<_>>()
    });
    rows.take(room).collect()
}

fn middle(scene: &Scene, width: usize, room: usize) -> Vec<Row> {
    let lines = scene.conductors.len().min(room.saturating_sub(2)).max(1);
    let mut rows: Vec<Row> = Vec::new();
    let (mut first, mut rest): (Vec<_>, Vec<_>) =
        scene.conductors.iter().partition(|one| one.hazardous);
    first.append(&mut rest);
    for one in first.iter().take(lines) {
        let shape = if one.hazardous { "▲" } else { " " };
        let meant = if one.meant { "›" } else { " " };
        let tone = if one.hazardous { Tone::Strong } else { Tone::Plain };
        rows.push(Row::of(tone, format!("{meant}{shape} {}", one.text)));
    }
    if first.len() > lines {
        rows.push(Row::plain(format!("   and {} more", first.len() - lines)));
    }
    let left = room.saturating_sub(rows.len());
    let messages: Vec<Row> = scene
        .messages
        .iter()
        .map(|said| format!("   {}", wrapped(said, width.max(20), 3)))
        .flat_map(|said| said.lines().map(Row::plain).collect::<Vec<_>>())
        .collect();
    let skipped = messages.len().saturating_sub(left);
    rows.extend(messages.into_iter().skip(skipped));
    rows.truncate(room);
    rows
}

fn key_table(keys: &[(String, &'static str)], width: usize, room: usize) -> Vec<Row> {
    const COLUMN: usize = 26;
    let columns = (width / COLUMN).max(1);
    let lines = keys.len().div_ceil(columns);
    let cell = |(key, label): &(String, &str)| format!("{:<COLUMN$}", format!("{key:>6} {label}"));
    let rows = (0..lines).map(|line| {
        let of_line = keys.iter().skip(line).step_by(lines);
        Row::plain(of_line.map(cell).collect::<String>())
    });
    rows.take(room).collect()
}

fn foot(hand: &Hand, width: usize) -> Vec<Row> {
    let typed = match &hand.typing {
        Some((asks, typed)) => Row::of(Tone::Strong, format!("{asks}: {typed}▏")),
        None => match &hand.tabbed {
            Some(name) => {
                Row::of(Tone::Strong, format!("Next key is of {name}   Tab another conductor"))
            }
            None => {
                Row::plain("? keys   ! why   digits: reading   : words   Tab conductor   q leave")
            }
        },
    };
    vec![typed, Row::plain(format!("{FOOT:<width$}"))]
}

#[cfg(test)]
mod tests {
    use super::super::{Advice, Conductor, Countdown, Expected, Lies, Trip};
    use super::*;

    fn scene() -> Scene {
        Scene {
            head: "SIMULATED · F12 · record 0198 · 132 kept".to_owned(),
            state: Standing::Hazardous,
            state_word: Standing::Hazardous.word(),
            shape: Standing::Hazardous.shape(),
            of: "A holding".to_owned(),
            kilovolts: Some("64.8".to_owned()),
            kilovolts_note: "0.4 s ago".to_owned(),
            next: "stay at 65.0 kV for 12 min 4 s".to_owned(),
            current: Some("12.3 µA".to_owned()),
            expected: Some(Expected {
                band: "3.1 … 15 µA".to_owned(),
                lies: Lies::Inside,
                said: Lies::Inside.said(),
            }),
            reading_in: Some(Countdown { left: "23 s".to_owned(), left_ms: 23_000 }),
            wait: None,
            trip: Some(Trip { set: "0.50 mA".to_owned(), taken: Some(0.25), said: String::new() }),
            conductors: ["A holding · no ground on", "B grounded · 2 at pothead", "C grounded"]
                .iter()
                .map(|text| Conductor {
                    name: text[..1].to_owned(),
                    state: Standing::Grounded,
                    hazardous: text.starts_with('A'),
                    meant: text.starts_with('A'),
                    text: (*text).to_owned(),
                })
                .collect(),
            messages: (1..9).map(|number| format!("message {number}")).collect(),
            ..Scene::default()
        }
    }

    fn text(scene: &Scene, size: (u16, u16)) -> Vec<String> {
        rows(scene, &Hand::default(), size).iter().map(Row::text).collect()
    }

    #[test]
    fn it_fits_and_says_all_in_its_order() {
        let shown = text(&scene(), (80, 24));
        assert_eq!(shown.len(), 24);
        assert!(shown.iter().all(|row| row.chars().count() <= 80));
        let whole = shown.join("\n");
        let order = [
            "H A Z A R D O U S",
            "██",
            "NEXT",
            "Current 12.3 µA",
            "Next reading in 23 s",
            "To trip [██████████",
            "▲ A holding",
            "message 8",
            "Nothing here switches anything",
        ];
        let mut from = 0;
        for words in order {
            let at = whole[from..].find(words);
            from += at.unwrap_or_else(|| panic!("{words} is missing or out of order:\n{whole}"));
        }
        assert!(!whole.to_lowercase().contains("safe"));
    }

    #[test]
    fn the_margin_is_a_length() {
        let bar = |taken: f64| {
            let trip = Trip { set: "1 mA".to_owned(), taken: Some(taken), said: String::new() };
            let row = text(&Scene { trip: Some(trip), ..scene() }, (80, 24));
            let row = row.into_iter().find(|row| row.contains("To trip")).expect("a bar");
            (row.matches('█').count(), row.contains("AT THE TRIP"))
        };
        assert_eq!(bar(0.0), (0, false));
        assert_eq!(bar(0.25), (10, false));
        assert_eq!(bar(0.26), (11, false));
        assert_eq!(bar(1.3), (40, true));
    }

    /// Word and shape say the strength where there is no colour; the longer reason takes the place
    /// of messages.
    #[test]
    fn advice_stands_with_what_comes_next_and_its_reason_one_key_away() {
        let advice = |urge: Urge| Advice {
            urge,
            word: urge.word(),
            shape: urge.shape(),
            reason: "rising".to_owned(),
            why: "current rose by 12.0 % at constant voltage".to_owned(),
            more: vec!["Tested: a rise against noise".to_owned()],
        };
        for (urge, said) in [
            (Urge::Unknown, "? No advice: current"),
            (Urge::CarryOn, "○ Carry on: current"),
            (Urge::Watch, "◆ Watch: current"),
            (Urge::HoldHere, "■ HOLD HERE: current"),
            (Urge::ComeDown, "▼ COME DOWN: current"),
        ] {
            let charging = Margin { taken: Some(0.5), said: String::new() };
            let outlook = "Up to 9.8 kV may be left now".to_owned();
            let (advice, charging) = (Some(advice(urge)), Some(charging));
            let scene = Scene { advice, charging, outlook, ..scene() };
            let shown = text(&scene, (80, 24));
            let at = |words: &str| shown.iter().position(|row| row.contains(words));
            assert!(at("NEXT") < at(said) && at(said) < at("9.8 kV"), "{shown:#?}");
            let bar = shown.iter().find(|row| row.contains("To limit")).expect("its length");
            assert_eq!(bar.matches('█').count(), 20, "{bar}");
            let hand = Hand { why: true, ..Hand::default() };
            let rows = rows(&scene, &hand, (80, 24));
            let why = rows.iter().map(Row::text).collect::<Vec<_>>().join("\n");
            assert!(why.contains("against noise") && !why.contains("message 8"), "{why}");
        }
    }

    #[test]
    fn trouble_stands_below_the_state_and_small_screens_keep_what_matters() {
        let mut scene = scene();
        (scene.state, scene.state_word) = (Standing::LinkLost, Standing::LinkLost.word());
        scene
            .standing
            .push(format!("NOT KEPT since 14:03:20Z: {} end", "write by hand ".repeat(7)));
        for size in [(80, 24), (40, 14), (20, 5), (1, 1), (0, 0)] {
            let shown = text(&scene, size);
            assert!(shown.len() <= usize::from(size.1));
            assert!(shown.iter().all(|row| row.chars().count() <= usize::from(size.0)));
        }
        let small = text(&scene, (60, 16)).join("\n");
        for words in
            ["L I N K", "NOT KEPT", "hand end", "64.8 kV", "NEXT", "12.3 µA", "▲ A holding"]
        {
            assert!(small.contains(words), "{words} is missing:\n{small}");
        }
    }

    #[test]
    fn the_table_of_keys_takes_the_place_of_messages() {
        let keys = Some((0..27).map(|number| (format!("k{number}"), "label")).collect());
        let hand = Hand { keys, ..Hand::default() };
        let shown = rows(&scene(), &hand, (80, 24));
        let shown = shown.iter().map(Row::text).collect::<Vec<_>>().join("\n");
        for number in 0..27 {
            assert!(shown.contains(&format!("k{number} ")), "{number}:\n{shown}");
        }
        assert!(!shown.contains("message 8"));
    }
}
