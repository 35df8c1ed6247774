//! .
/// .
pub(crate) struct Modes;
