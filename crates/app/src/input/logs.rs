//! Logs of other makes: what was understood is shown before it is used, what is not plain is asked,
//! and what a person said is remembered for the next log of the same kind.

use std::fmt::Write as _;
use std::fs;
use std::io::{IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};

use session::Readings;
use session::logs::{self, Asked, Guess, Mapping, TimeForm};

use super::{BadInput, database};

/// Kinds of logs that are remembered; older ones go.
const REMEMBERED: usize = 200;

/// What a log is called that is remembered, and how it was read.
const FILE: &str = "columns.txt";

/// Reads a log by what was said of it, else as remembered, else as guessed.
pub(super) fn read(path: &Path, text: &str, said: Option<Asked>) -> Result<Readings, BadInput> {
    let asked = said.unwrap_or_default();
    let guess = logs::guess(text, &asked);
    let known = said.is_none().then(|| remembered(&guess, None)).flatten();
    let mapping = match known.or_else(|| guess.mapping()) {
        Some(mapping) => mapping,
        None => return Err(in_doubt(path, &guess)),
    };
    eprint!("{}", understood(path, &guess, &mapping, known.is_some()));
    let mut answer = None;
    if known.is_none() {
        answer = if said.is_none() { is_taken() } else { Some(true) };
        if answer == Some(false) {
            let line = guess.layout.as_ref().map_or(1, |layout| layout.skip.max(1));
            let told = format!("say what is what: --columns \"{mapping}\", put right");
            return Err(BadInput::of(path, std::iter::once((line, told))));
        }
    } else {
        eprintln!("  not so? --columns guess puts what is remembered aside");
    }
    let (readings, note) =
        logs::rows(text, &mapping).map_err(|faults| BadInput::of_readings(path, &faults))?;
    // What could not be read so, or nobody looked at, is found anew next time.
    if answer == Some(true)
        && let Err(error) = remember(&guess, &mapping, None)
    {
        eprintln!("{error}");
    }
    let note = note.to_string();
    if !note.is_empty() {
        eprintln!("{}: {note}", path.display());
    }
    Ok(readings)
}

/// What a person has to say, and the words for it.
fn in_doubt(path: &Path, guess: &Guess) -> BadInput {
    let line = guess.layout.as_ref().map_or(1, |layout| layout.skip.max(1));
    let part = |key: &str, column: Option<(usize, Option<&str>)>| match column {
        Some((place, Some(unit))) => format!("{key}={}:{unit}", place + 1),
        Some((place, None)) => format!("{key}={}:UNIT", place + 1),
        None => format!("{key}=NUMBER:UNIT"),
    };
    let time = guess.time.map(|one| (one.place, one.unit.map(TimeForm::key)));
    let value = |one: Option<logs::Column<Option<logs::Unit>>>| {
        one.map(|one| (one.place, one.unit.map(logs::Unit::key)))
    };
    let sign = if guess.decimal.is_none() { ",decimal=SIGN" } else { "" };
    let write = format!(
        "--columns \"{},{},{}{sign}\"",
        part("t", time),
        part("kv", value(guess.voltage)),
        part("ua", value(guess.current))
    );
    let doubts = guess.doubts.iter().map(|doubt| format!("{doubt}. Write {write}"));
    BadInput::of(path, doubts.map(|said| (line, said)))
}

/// What was understood, as a table, and the first rows.
fn understood(path: &Path, guess: &Guess, mapping: &Mapping, known: bool) -> String {
    let how = if known { "as remembered" } else { "as understood" };
    let mut said = format!("{} {how}: --columns \"{mapping}\"\n", path.display());
    let Some(layout) = &guess.layout else { return said };
    let name = |place: usize| {
        let name = layout.names.get(place).map_or("", String::as_str);
        if name.is_empty() { "without a name".to_owned() } else { format!("\"{name}\"") }
    };
    let time = match mapping.time.unit {
        TimeForm::Clock => "h:m:s of the day, counted from the first row",
        form => form.key(),
    };
    let rows = [
        ("time", mapping.time.place, time),
        ("voltage", mapping.voltage.place, mapping.voltage.unit.key()),
        ("current", mapping.current.place, mapping.current.unit.key()),
    ];
    for (what, place, unit) in rows {
        // Nothing fails to be written to a string.
        let _ = writeln!(said, "  {what:<8} column {}, {}, in {unit}", place + 1, name(place));
    }
    for row in &layout.first {
        let cell = |place: usize| row.get(place).map_or("", String::as_str);
        let [t, kv, ua] = rows.map(|(_, place, _)| cell(place));
        let _ = writeln!(said, "  {t:>12} {kv:>12} {ua:>12}");
    }
    said
}

/// Asks where a person is there to answer; nothing prompts a pipe, and nobody answers then.
fn is_taken() -> Option<bool> {
    if !std::io::stdin().is_terminal() || !std::io::stderr().is_terminal() {
        return None;
    }
    eprint!("Is it so? y, or n to say it otherwise: ");
    let _ = std::io::stderr().flush();
    let mut answer = String::new();
    let read = std::io::stdin().read_line(&mut answer);
    Some(read.is_ok() && answer.trim().eq_ignore_ascii_case("y"))
}

/// Beside the records; where these are kept by a server, in the user's data folder.
fn file(db: Option<&str>) -> Option<PathBuf> {
    let own = db.filter(|db| !db.contains("://"));
    let records = PathBuf::from(database::place(own).ok()?);
    Some(records.parent()?.join(FILE))
}

/// How the last log with these columns was read.
pub(crate) fn remembered(guess: &Guess, db: Option<&str>) -> Option<Mapping> {
    let signature = guess.signature()?;
    let text = fs::read_to_string(file(db)?).ok()?;
    let of_it = |line: &str| {
        let (mapping, name) = line.split_once('\t')?;
        (name == signature).then(|| mapping.to_owned())
    };
    let asked: Asked = text.lines().rev().find_map(of_it)?.parse().ok()?;
    // Where the rows begin is that of the log at hand, and voltage is put on anew.
    let layout = guess.layout.as_ref()?;
    let whole = Asked { skip: Some(layout.skip), zero: None, ..asked };
    let (time, voltage, current) = (whole.time?, whole.voltage?, whole.current?);
    let places = [time.place, voltage.place, current.place];
    let one_each = places[0] != places[1] && places[1] != places[2] && places[0] != places[2];
    if !one_each || places.iter().any(|place| *place >= layout.width()) {
        return None;
    }
    Some(Mapping {
        delimiter: layout.delimiter,
        decimal: whole.decimal?,
        skip: layout.skip,
        time: logs::Column { place: time.place, unit: time.unit? },
        voltage: logs::Column { place: voltage.place, unit: voltage.unit? },
        current: logs::Column { place: current.place, unit: current.unit? },
        zero: None,
    })
}

/// Keeps it for the next log with these columns; that it cannot be kept is told and is no fault.
pub(crate) fn remember(guess: &Guess, mapping: &Mapping, db: Option<&str>) -> Result<(), String> {
    let (Some(signature), Some(file)) = (guess.signature(), file(db)) else { return Ok(()) };
    let text = fs::read_to_string(&file).unwrap_or_default();
    let others = text
        .lines()
        .filter(|line| line.split_once('\t').is_some_and(|(_, name)| name != signature));
    let mut lines: Vec<String> = others.map(str::to_owned).collect();
    lines.push(format!("{mapping}\t{signature}"));
    let from = lines.len().saturating_sub(REMEMBERED);
    let kept = file.parent().map_or(Ok(()), fs::create_dir_all);
    let kept = kept.and_then(|()| fs::write(&file, lines[from..].join("\n") + "\n"));
    kept.map_err(|error| format!("{}: it will be asked again next time ({error})", file.display()))
}
