//! What a log most probably is, and what nobody but a person can say.

use super::cells::{clock, is_date, is_nothing, is_over, two_parts, written};
use super::find::{Layout, find};
use super::header::{Holds, holds};
use super::mapping::{Asked, Column, Decimal, Delimiter, Mapping, TimeForm, Unit, unit};

/// Something that is not plain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// No rows of at least three fields are found.
    Rows,
    /// A comma may part decimals or thousands.
    Decimal,
    /// Points and commas stand in one number.
    BothSigns,
    /// Nothing says which column it is.
    NoColumn(What),
    /// Several columns may be it.
    Several(What),
    /// Nothing says what it is in.
    NoUnit(What),
    /// One column stands for two of them.
    OneColumn,
}

/// A quantity of a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Time.
    Time,
    /// Voltage.
    Voltage,
    /// Current.
    Current,
}

/// What was understood of a log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Guess {
    /// Its shape; `None` where none was found.
    pub layout: Option<Layout>,
    /// Which sign is the decimal one.
    pub decimal: Option<Decimal>,
    /// The column of time.
    pub time: Option<Column<Option<TimeForm>>>,
    /// The column of voltage.
    pub voltage: Option<Column<Option<Unit>>>,
    /// The column of current.
    pub current: Option<Column<Option<Unit>>>,
    /// The line at which voltage was put on, where a person said.
    pub zero: Option<usize>,
    /// What a person has to say.
    pub doubts: Vec<Doubt>,
}

impl Guess {
    /// How the log is read, where nothing is in doubt.
    #[must_use]
    pub fn mapping(&self) -> Option<Mapping> {
        if !self.doubts.is_empty() {
            return None;
        }
        let layout = self.layout.as_ref()?;
        let whole = |column: Option<Column<Option<Unit>>>| {
            let column = column?;
            Some(Column { place: column.place, unit: column.unit? })
        };
        let time = self.time?;
        Some(Mapping {
            delimiter: layout.delimiter,
            decimal: self.decimal?,
            skip: layout.skip,
            time: Column { place: time.place, unit: time.unit? },
            voltage: whole(self.voltage)?,
            current: whole(self.current)?,
            zero: self.zero,
        })
    }

    /// What tells logs of one kind from others: what stands between their fields, and the names of
    /// their columns; `None` where nothing names them.
    #[must_use]
    pub fn signature(&self) -> Option<String> {
        let layout = self.layout.as_ref().filter(|layout| !layout.names.is_empty())?;
        let names: Vec<String> = layout.names.iter().map(|name| name.to_lowercase()).collect();
        Some(names.join("|").replace(char::is_control, " "))
    }
}

/// Looks at a text. What a person said of it is taken as it is.
#[must_use]
pub fn guess(text: &str, asked: &Asked) -> Guess {
    let mut guess = Guess {
        layout: find(text, asked),
        decimal: asked.decimal,
        time: asked.time,
        voltage: asked.voltage,
        current: asked.current,
        zero: asked.zero,
        doubts: Vec::new(),
    };
    let Some(layout) = guess.layout.clone() else {
        guess.doubts.push(Doubt::Rows);
        return guess;
    };
    let names: Vec<Holds> = (0..layout.width())
        .map(|place| layout.names.get(place).map_or(Holds::Unknown, |name| holds(name)))
        .collect();
    time(&layout, &names, &mut guess);
    for what in [What::Voltage, What::Current] {
        value(&layout, &names, what, &mut guess);
    }
    decimal(&layout, &mut guess);
    let places = [
        guess.time.map(|one| one.place),
        guess.voltage.map(|one| one.place),
        guess.current.map(|one| one.place),
    ];
    let mut known: Vec<usize> = places.into_iter().flatten().collect();
    known.sort_unstable();
    if known.windows(2).any(|two| two[0] == two[1]) {
        guess.doubts.push(Doubt::OneColumn);
    }
    guess
}

fn time(layout: &Layout, names: &[Holds], guess: &mut Guess) {
    let place = guess.time.map(|time| time.place).or_else(|| {
        let named: Vec<usize> =
            (0..names.len()).filter(|at| matches!(names[*at], Holds::Time(_))).collect();
        let clocks = |at: &usize| all(layout, *at, |cell| clock(cell).is_some());
        match named.as_slice() {
            [] => (0..names.len()).find(clocks),
            [one] => Some(*one),
            // What has its unit is meant to be reckoned with.
            several => {
                let counted = |at: &&usize| matches!(names[**at], Holds::Time(Some(_)));
                several.iter().find(counted).or_else(|| several.first()).copied()
            }
        }
    });
    let Some(place) = place else {
        guess.doubts.push(Doubt::NoColumn(What::Time));
        return;
    };
    let said = guess.time.and_then(|time| time.unit);
    let named = match names.get(place) {
        Some(Holds::Time(form)) => *form,
        _ => None,
    };
    let form = if said.is_some() {
        said
    } else if all(layout, place, |cell| clock(cell).is_some()) {
        Some(TimeForm::Clock)
    } else if all(layout, place, |cell| two_parts(cell).is_some()) {
        None
    } else {
        named
    };
    guess.time = Some(Column { place, unit: form });
    if place >= layout.width() {
        guess.doubts.push(Doubt::NoColumn(What::Time));
    } else if form.is_none() {
        guess.doubts.push(Doubt::NoUnit(What::Time));
    }
}

fn value(layout: &Layout, names: &[Holds], what: What, guess: &mut Guess) {
    let is_voltage = what == What::Voltage;
    let said = if is_voltage { guess.voltage } else { guess.current };
    let holds_it = |holds: &Holds| match holds {
        Holds::Voltage(_) => is_voltage,
        Holds::Current(_) => !is_voltage,
        _ => false,
    };
    let behind = |place: usize| unit_behind(layout, place, is_voltage);
    let place = match said {
        Some(column) => column.place,
        None => {
            let named: Vec<usize> = (0..names.len()).filter(|at| holds_it(&names[*at])).collect();
            let by_unit = || (0..names.len()).filter(|at| behind(*at).is_some()).collect();
            let found: Vec<usize> = if named.is_empty() { by_unit() } else { named };
            match found.as_slice() {
                [one] => *one,
                [] => return guess.doubts.push(Doubt::NoColumn(what)),
                _ => return guess.doubts.push(Doubt::Several(what)),
            }
        }
    };
    let named = match names.get(place) {
        Some(Holds::Voltage(unit)) if is_voltage => *unit,
        Some(Holds::Current(unit)) if !is_voltage => *unit,
        _ => None,
    };
    let found = said.and_then(|column| column.unit).or(named).or_else(|| behind(place));
    let column = Some(Column { place, unit: found });
    if is_voltage {
        guess.voltage = column;
    } else {
        guess.current = column;
    }
    if place >= layout.width() {
        guess.doubts.push(Doubt::NoColumn(what));
    } else if found.is_none() {
        guess.doubts.push(Doubt::NoUnit(what));
    }
}

/// The unit that stands behind every number of a column.
fn unit_behind(layout: &Layout, place: usize, is_voltage: bool) -> Option<Unit> {
    let mut found = None;
    for cell in layout.column(place).filter(|cell| !is_nothing(cell) && !is_over(cell)) {
        let now = unit(written(cell)?.behind, is_voltage)?;
        if found.is_some_and(|before| before != now) {
            return None;
        }
        found = Some(now);
    }
    found
}

/// A comma between digits is a decimal sign only where no number could have it for thousands, or
/// fields are parted by something else and none could.
fn decimal(layout: &Layout, guess: &mut Guess) {
    if guess.decimal.is_some() {
        return;
    }
    if layout.delimiter == Delimiter::Comma {
        guess.decimal = Some(Decimal::Point);
    }
    let places = [
        guess.time.filter(|time| time.unit != Some(TimeForm::Clock)).map(|one| one.place),
        guess.voltage.map(|one| one.place),
        guess.current.map(|one| one.place),
    ];
    let (mut points, mut commas, mut clear, mut both) = (false, false, false, false);
    let mut clear_point = false;
    for place in places.into_iter().flatten() {
        for cell in layout.column(place) {
            let Some(one) = written(cell) else { continue };
            let (point, comma) = (one.number.contains('.'), one.number.contains(','));
            both |= point && comma;
            points |= point;
            commas |= comma;
            clear |= comma && !may_be_thousands(one.number, ',');
            clear_point |= point && !may_be_thousands(one.number, '.');
        }
    }
    // Below a thousand volts nothing is tested here: volts with three decimals are more likely
    // thousands.
    let in_volts = guess.voltage.is_some_and(|one| one.unit == Some(Unit::Volts));
    let thousands = points && !clear_point && in_volts && layout.delimiter != Delimiter::Comma;
    match (points, commas) {
        (true, false) if thousands => guess.doubts.push(Doubt::Decimal),
        _ if both => guess.doubts.push(Doubt::BothSigns),
        (_, false) => guess.decimal = Some(Decimal::Point),
        (false, true) if clear => guess.decimal = Some(Decimal::Comma),
        (true, true) => guess.doubts.push(Doubt::BothSigns),
        (false, true) => guess.doubts.push(Doubt::Decimal),
    }
}

/// Whether each such sign stands before three digits, as a sign of thousands does.
fn may_be_thousands(number: &str, sign: char) -> bool {
    let plain = number.trim_start_matches(['+', '-', '\u{2212}']);
    let mut parts = plain.split(sign);
    let first = parts.next().unwrap_or_default();
    let three = |part: &str| part.len() == 3 && part.bytes().all(|byte| byte.is_ascii_digit());
    (1..=3).contains(&first.len()) && !first.starts_with('0') && parts.all(three)
}

/// Whether it holds of every field of a column, of which there are some.
fn all(layout: &Layout, place: usize, holds: impl Fn(&str) -> bool) -> bool {
    let mut cells = layout.column(place).filter(|cell| !is_date(cell) && !is_nothing(cell));
    let first = cells.next();
    first.is_some_and(&holds) && cells.all(holds)
}
