//! A real JACK server and two clients of it: a player that sends MIDI at exact frames and a recorder of the click.
//!
//! Every frame in here is a JACK frame time of the server; a test ties it to a stream by the first recorded click.
#![allow(dead_code, reason = "each test binary uses a part of this")]

pub mod jack_player;
pub mod jack_recorder;
pub mod jack_server;
