//! The keys and the signs.

use super::canvas::Canvas;
use super::keys::{BINDINGS, Command};
use super::look::Ink;
use crate::page::Sign;

/// Draws a page of them; after the last one the first comes again.
pub(super) fn draw(canvas: &mut Canvas<'_>, page: usize) {
    let rows = usize::from(canvas.height()) - 2;
    // The last row has these.
    let is_below = |command| matches!(command, Command::Help | Command::Back);
    let keys: Vec<(String, &str)> = BINDINGS
        .iter()
        .filter(|binding| !is_below(binding.command))
        .map(|binding| (binding.shown.to_string(), binding.words))
        .collect();
    let signs = signs(canvas);
    let pages: Vec<(&str, &[(String, &str)])> = keys
        .chunks(rows)
        .map(|chunk| ("Keys", chunk))
        .chain(signs.chunks(rows).map(|chunk| ("Signs", chunk)))
        .collect();
    let (title, entries) = pages[page % pages.len()];
    let head = format!(
        "{title}, page {} of {}",
        page % pages.len() + 1,
        pages.len()
    );
    canvas.text(0, 0, &head, Ink::Strong);
    let widest = entries.iter().map(|(shown, _)| shown.chars().count());
    let column = widest.max().unwrap_or(0) as u16 + 2;
    for (y, (shown, words)) in (1..).zip(entries) {
        canvas.text(0, y, shown, Ink::Strong);
        canvas.text(column, y, words, Ink::Plain);
    }
    let last = canvas.height() - 1;
    canvas.text(
        0,
        last,
        "? further (then the signs) · Esc back to the music",
        Ink::Plain,
    );
}

fn signs(canvas: &Canvas<'_>) -> Vec<(String, &'static str)> {
    let look = canvas.look;
    let mut signs: Vec<(String, &str)> = vec![
        ("[5]".into(), "where the line is now"),
        ("-12 +8".into(), "ms too early, too late"),
        (
            look.either("‹│ │›", "-| |-").into(),
            "early, late: inside the window",
        ),
        (
            look.either("◂│ │▸", "<| |>").into(),
            "early, late: outside it",
        ),
        (
            look.either("≠", "X").into(),
            "another note than the written one",
        ),
        ("8".into(), "another octave (in the row of sides)"),
        ("!".into(), "a note that belongs nowhere"),
        (look.either("━━━", "===").into(), "held as long as expected"),
        (look.either("━━┄", "==.").into(), "let go too soon"),
        (look.either("━━━╍", "===+").into(), "held for too long"),
        (
            look.either("≈≈", "~~").into(),
            "rings on, on its string: a missed mute",
        ),
    ];
    let of_page = [
        Sign::Missed,
        Sign::LeftOut,
        Sign::Unjudged,
        Sign::Entry,
        Sign::Accent,
        Sign::Short,
        Sign::Full,
        Sign::Muted,
        Sign::Ghost,
        Sign::Dead,
        Sign::Rest,
    ];
    signs.extend(of_page.map(|sign| (sign.shape().to_string(), sign.meaning())));
    signs
}
