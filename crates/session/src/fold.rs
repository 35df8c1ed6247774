//! What a record amounts to: for each conductor its applications of voltage.

use quantity::Time;

use crate::record::{Event, Happening, Reading, Record};

/// One conductor's part of a record.
#[derive(Clone, Debug, PartialEq)]
pub struct Conductor {
    /// Its name.
    pub phase: String,
    /// From one energising to the next grounding, in order.
    pub applications: Vec<Application>,
}

/// From energising to grounding.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Application {
    /// Readings of the object, blank runs left out.
    pub readings: Vec<Reading>,
    /// Readings of leads and set alone.
    pub blanks: Vec<Reading>,
    /// What was seen or done.
    pub marks: Vec<(Time, Happening)>,
}

impl Application {
    /// Whether this happened during it.
    #[must_use]
    pub fn saw(&self, what: Happening) -> bool {
        self.marks.iter().any(|(_, seen)| *seen == what)
    }

    fn is_empty(&self) -> bool {
        self.readings.is_empty() && self.blanks.is_empty() && self.marks.is_empty()
    }
}

/// Folds a record into conductors, in the order they first appear.
#[must_use]
pub fn conductors(record: &Record) -> Vec<Conductor> {
    let mut folded: Vec<Conductor> = Vec::new();
    for event in record.events.iter().map(|entry| &entry.what) {
        let phase = match event {
            Event::Energised { phase }
            | Event::Readings { phase, .. }
            | Event::Marked { phase, .. } => phase,
            _ => continue,
        };
        let index = folded.iter().position(|one| one.phase == *phase).unwrap_or_else(|| {
            folded.push(Conductor { phase: phase.clone(), applications: Vec::new() });
            folded.len() - 1
        });
        let applications = &mut folded[index].applications;
        if matches!(event, Event::Energised { .. }) || applications.is_empty() {
            applications.push(Application::default());
        }
        let Some(current) = applications.last_mut() else { continue };
        match event {
            Event::Readings { rows, .. } => {
                let (blank, of_object) = rows.iter().cloned().partition(|row| row.blank);
                current.blanks.extend::<Vec<_>>(blank);
                current.readings.extend::<Vec<_>>(of_object);
            }
            Event::Marked { at, what, .. } => current.marks.push((*at, *what)),
            _ => {}
        }
    }
    for one in &mut folded {
        one.applications.retain(|application| !application.is_empty());
    }
    folded
}
