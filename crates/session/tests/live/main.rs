//! A test while it happens, in virtual time: nothing sleeps.

mod before;
mod bench;
mod clocks;
mod folding;
mod guards;
mod led;
mod matrix;
mod meters;
mod said;
mod shown;
mod traces;
mod walks;
