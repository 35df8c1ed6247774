//! What a person does with the screens, in a real Chromium.

mod budget;
mod checker;
mod curves;
mod narrow;
mod outside;
mod pictures;
mod site;
