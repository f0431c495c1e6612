//! Sessions as they are listed, one row each.

use super::columns::{Cells, Column, table};
use super::when;
use super::words::wrap;
use crate::line::mistake::counted;
use crate::logbook::sessions::Session;
use jiff::Timestamp;

/// The sessions of a list, and how many there are besides.
pub fn list(sessions: &[Session], total: usize, now: Timestamp, width: usize) -> String {
    let mut text = table(&columns(sessions, now), width);
    if sessions.iter().any(|session| !session.note.is_empty()) {
        text += "(* has a note)\n";
    }
    if sessions.len() < total {
        let left_out = format!(
            "The latest {} of {}: --all lists them all.",
            sessions.len(),
            counted(total, "session")
        );
        text += &(wrap(&left_out, width, "", "") + "\n");
    }
    text
}

fn columns(sessions: &[Session], now: Timestamp) -> [Column; 7] {
    let several = sessions
        .windows(2)
        .any(|pair| pair[0].player != pair[1].player);
    let numbers = |expendable| (Cells::Numbers, expendable);
    let player = |session: &Session| match several {
        true => session.player.clone(),
        false => String::new(),
    };
    let mark = |session: &Session| match session.note.is_empty() {
        true => String::new(),
        false => "*".into(),
    };
    [
        Column::of("session", numbers(0), sessions, |session| {
            session.number.to_string()
        }),
        Column::of("when", (Cells::Text, 0), sessions, |session| {
            when::short(&when::begun(&session.begun, session.begun_ms), now)
        }),
        Column::of("player", (Cells::Cut(6), 1), sessions, player),
        Column::of("takes", numbers(3), sessions, |session| {
            session.takes.to_string()
        }),
        Column::of("length", numbers(4), sessions, |session| {
            minutes(session.played_ms)
        }),
        Column::of("lines", (Cells::Cut(16), 2), sessions, |session| {
            session.lines.join(", ")
        }),
        Column::of("", (Cells::Text, 0), sessions, mark),
    ]
}

/// `12 min`; what is under a minute in seconds.
fn minutes(ms: i64) -> String {
    let seconds = (ms + 500) / 1000;
    if seconds < 60 {
        format!("{seconds} s")
    } else {
        format!("{} min", (seconds + 30) / 60)
    }
}

/// What stands above a session's takes: when, who, how much, and what the player wrote.
pub fn head(session: &Session, now: Timestamp, width: usize) -> String {
    let begun = when::begun(&session.begun, session.begun_ms);
    let named = format!(
        "Session {} · {} · {} · {}, {}",
        session.number,
        when::long(&begun, now),
        session.player,
        counted(session.takes.unsigned_abs() as usize, "take"),
        minutes(session.played_ms)
    );
    let mut text = wrap(&named, width, "", "  ") + "\n";
    if !session.note.is_empty() {
        text += &(wrap(&session.note, width, "Note: ", "  ") + "\n");
    }
    text
}
