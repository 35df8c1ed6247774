//! The connection as a line drawing: set, lead, object, meter, guard, link and ground.
//!
//! Drawn from what the plan says of the connection and of nothing else, in plain lines and the
//! colour of the words round it, so that paper and every theme of a screen show the same.

mod circuit;
mod draw;
mod pen;
mod words;

use plan::Plan;

pub(crate) use circuit::Circuit;

/// The drawing of a connection, and the words that stand for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wiring {
    /// What it shows, in a few words.
    pub title: String,
    /// The same in sentences, for whoever cannot see it.
    pub sentences: Vec<String>,
    /// The drawing as SVG.
    pub svg: String,
}

/// Draws how a plan is to be connected.
#[must_use]
pub fn wiring(plan: &Plan) -> Wiring {
    let circuit = Circuit::of(plan);
    let title = words::title(plan);
    let mut sentences = words::sentences(&circuit);
    sentences.extend(words::told(plan));
    Wiring { sentences, svg: draw::draw(&circuit, &title), title }
}

#[cfg(test)]
mod tests;
