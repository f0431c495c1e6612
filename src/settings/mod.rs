//! The settings: one TOML file with what a player would else type again and again.
//!
//! A table a command (`[play]`, `[latency.measure]`), and in it the command's long options without their dashes. What is
//! typed beats the file, and the file beats what holds without it. A key of `[all]` holds for every command that has the
//! option; a command's own table beats it.
//!
//! Which keys there are is read off clap's own definitions ([`keys`]): an option that is added is a key at once. A value
//! of the file becomes the option's default ([`given`]), so that clap itself decides what beats what.
//!
//! `[control]` is no command's: what it holds is read by [`control`] and written back by the program ([`edit`]).

pub mod blank;
pub mod control;
pub mod edit;
mod example;
pub mod file;
pub mod given;
pub mod holds;
pub mod keys;
pub mod mistake;
pub mod no_key;
mod read;
mod value;
