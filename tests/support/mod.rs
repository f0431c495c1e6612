//! What several test files share: expected notes laid out by hand, a real JACK server with two clients of it (a player
//! that sends MIDI at exact frames and a recorder of the click), and a real terminal.
//!
//! Every frame in the JACK parts is a frame time of the server; a test ties it to a stream by the first recorded click.
#![allow(
    dead_code,
    unused_imports,
    reason = "each test binary uses a part of this"
)]

pub mod expected;
#[cfg(feature = "jack")]
pub mod jack_flood;
#[cfg(feature = "jack")]
pub mod jack_player;
#[cfg(feature = "jack")]
pub mod jack_recorder;
#[cfg(feature = "jack")]
pub mod jack_server;
#[cfg(all(unix, feature = "jack"))]
pub mod tmux;

pub use expected::expected_of;
