//! Text logs of any make: which column is what, guessed from the text or said by a person, and
//! the rows they hold.
//!
//! A readings file of our own says what is in it (see [`crate::readings`]). Any other log is read
//! by a [`Mapping`]: between what its fields stand, which sign is the decimal one, which columns
//! are time, voltage and current, and in which units. [`guess`] finds it from the header, the units
//! and the shape of the numbers. What is not plain is a [`Doubt`], which a person has to settle: a
//! wrong unit is a wrong verdict. Nothing is reckoned from another quantity, such as a current from
//! a resistance.

mod cells;
mod find;
mod guess;
mod header;
mod mapping;
mod rows;
mod words;

pub use find::{LOOKED_AT, Layout};
pub use guess::{Doubt, Guess, guess};
pub use mapping::{Asked, Column, Decimal, Delimiter, Mapping, MappingError, TimeForm, Unit};
pub use rows::{LogNote, rows};

#[cfg(test)]
mod tests;
