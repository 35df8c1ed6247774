//! What is kept, how long it stays, and what is found when somebody meddles with it.

mod basics;
mod durable;
mod folder;
mod meddling;
mod meeting;
mod moving;
mod people;
mod sample;
mod sheets;
mod signed;
mod things;
