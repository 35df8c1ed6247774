//! Where time does not count: these run beside each other.

mod plain;
mod states;
mod tour;
