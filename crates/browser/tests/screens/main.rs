//! What a person does with the screens, in a real Chromium.

mod advice;
mod at_work;
mod budget;
mod checker;
mod curves;
mod far;
mod killed;
mod log;
mod metered;
mod narrow;
mod old;
mod outside;
mod pictures;
mod site;
mod together;
mod unhurried;
mod whole;
