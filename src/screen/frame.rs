//! The rows that are always at the same place: two above the music, one below.

use super::canvas::Canvas;
use super::look::Ink;
use super::view::{Over, State, Turn, View};
use crate::backend::Input;
use crate::expected::tempo_map::Speed;
use crate::units::shortest;

/// How many they are.
pub(super) const ROWS: u16 = 3;
/// The first row of what is between.
pub(super) const BODY: u16 = 2;

/// Draws them.
pub(super) fn draw(canvas: &mut Canvas<'_>, view: &View) {
    head(canvas, view);
    announcement(canvas, view);
    foot(canvas, view);
}

fn head(canvas: &mut Canvas<'_>, view: &View) {
    let Some(index) = view.piece.bar_at(view.now) else {
        canvas.text(0, 0, &view.piece.line().title, Ink::Strong);
        return;
    };
    let bar = &view.piece.expected().bars[index];
    let speed = match view.speed {
        Speed::WRITTEN => String::new(),
        speed => format!(" ({} %)", shortest(speed.percent())),
    };
    let tempo = format!("{}{speed}", view.piece.tempo(bar));
    let whole = format!("bar {} · {tempo}", bar.number);
    let (section, short) = view.piece.section(bar);
    let titled = format!("{} · {section}", view.piece.line().title);
    // The title is known and the bar's number stands at the music; section, key and tempo matter more.
    let tried = [
        (&titled, &whole),
        (&section, &whole),
        (&section, &tempo),
        (&short, &tempo),
    ];
    let fits = |(left, right): &(&String, &String)| {
        left.chars().count() + right.chars().count() + 2 <= usize::from(canvas.width())
    };
    let (left, right) = tried.into_iter().find(fits).unwrap_or((&short, &tempo));
    let end = canvas.text(0, 0, left, Ink::Strong);
    canvas.text_right(end + 2, 0, right, Ink::Strong);
}

/// What changes with the next bar, and what the click does.
fn announcement(canvas: &mut Canvas<'_>, view: &View) {
    let mut end = 0;
    let width = usize::from(canvas.width());
    if view.input == Input::Away {
        let long = " bass unplugged: plug it in, the take goes on ";
        let is_played = matches!(view.state, State::CountIn { .. } | State::Playing);
        let text = match is_played && long.len() <= width {
            true => long,
            false => " bass unplugged: plug it in ",
        };
        end = canvas.text(0, 1, text, Ink::Notice);
    } else if let Some(text) = &view.announcement {
        // Where it stands says when, in a narrow window.
        let short = text.strip_suffix(" · from the next bar").unwrap_or(text);
        let is_narrow = text.chars().count() + 4 > width;
        let text = if is_narrow { short } else { text };
        let text = format!(" {} {text} ", canvas.look.either("►", ">"));
        end = canvas.text(0, 1, &text, Ink::Notice);
    }
    if let Some(text) = silence(view) {
        let from = if end == 0 { 0 } else { end + 1 };
        let texts = [format!(" {text} "), " no click ".to_string()];
        let fits = |text: &&String| usize::from(from) + text.len() <= width;
        if let Some(text) = texts.iter().find(fits) {
            canvas.text_right(from, 1, text, Ink::Notice);
        }
    }
}

/// Whether the click is silent in this bar or the next.
pub(super) fn silence(view: &View) -> Option<&'static str> {
    let bars = &view.piece.expected().bars;
    let index = view.piece.bar_at(view.now)?;
    if view.state != State::Playing {
        return None;
    }
    let next = bars.get(index + 1).map(|bar| bar.silent);
    match (bars[index].silent, next) {
        (true, Some(true) | None) => Some("no click: you keep the time"),
        (true, Some(false)) => Some("no click: it is back in the next bar"),
        (false, Some(true)) => Some("no click from the next bar"),
        (false, Some(false) | None) => None,
    }
}

/// Notices where there are any; else what is set up, as much of it as there is room for.
fn foot(canvas: &mut Canvas<'_>, view: &View) {
    let y = canvas.height() - 1;
    let keys = match view.over {
        Over::Learn { .. } => "Esc back",
        _ => "? keys",
    };
    canvas.text_right(0, y, keys, Ink::Plain);
    let room = usize::from(canvas.width()).saturating_sub(keys.len() + 2);
    if !view.notices.is_empty() {
        canvas.text(0, y, &latest(&view.notices, room), Ink::Notice);
        return;
    }
    let bars = view.bars.map_or("all bars".into(), |bars| bars.to_string());
    let bars = match view.turn {
        Turn::Once => bars,
        Turn::Over => format!("{bars} over and over"),
    };
    let set_up = [
        Some(format!("take {}", view.take)),
        Some(bars),
        Some(format!("click {}", view.click.words())),
        view.level.clone(),
        view.latency.clone(),
    ];
    let mut text = String::new();
    for part in set_up.into_iter().flatten() {
        let apart = if text.is_empty() { "" } else { " · " };
        if text.chars().count() + apart.chars().count() + part.chars().count() <= room {
            text += apart;
            text += &part;
        }
    }
    canvas.text(0, y, &text, Ink::Plain);
}

/// The latest notice, as far as there is room for it, and those before it that fit as well.
fn latest(notices: &[String], room: usize) -> String {
    let mut notices = notices.iter().rev();
    let latest = notices.next().map_or("", String::as_str);
    let mut text: String = latest.chars().take(room).collect();
    for notice in notices {
        let longer = format!("{notice} · {text}");
        if longer.chars().count() > room {
            break;
        }
        text = longer;
    }
    text
}
