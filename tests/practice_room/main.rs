//! The practice room as a player meets it: a real terminal, a real JACK server, a real second client as the bass. Everything
//! waits for what is seen or heard.
#![cfg(all(unix, feature = "jack"))]

mod away;
mod band;
mod home;
mod keys;
mod on_jack;
#[path = "../support/mod.rs"]
mod support;
mod takes;
mod terminal;
