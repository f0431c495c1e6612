//! What stands between the fixed rows: the music, or what is said while nothing is played.

use super::canvas::Canvas;
use super::figures::{self, Squares};
use super::frame::{self, BODY};
use super::keys::{self, Command};
use super::look::{Ink, Size};
use super::music;
use super::plan::Plan;
use super::sheet::Sheet;
use super::turning;
use super::view::{Between, Over, State, View};
use std::rc::Rc;

/// Rows from `top` on, so many of them.
#[derive(Clone, Copy)]
struct Rows {
    top: u16,
    height: u16,
}

/// Draws it.
pub(super) fn draw(canvas: &mut Canvas<'_>, view: &View) {
    let body = Rows {
        top: BODY,
        height: canvas.height() - frame::ROWS,
    };
    if let Over::Learn { command, said } = &view.over {
        return learn(canvas, body, command, said.as_deref());
    }
    match &view.state {
        State::Playing => playing(canvas, view, body),
        State::CountIn { beat, bar, bars } => {
            let below = first_line(canvas, view, body, 3);
            let caption = format!("count-in, bar {bar} of {bars}");
            figure(canvas, below, &beat.to_string(), &caption);
        }
        State::Waiting => {
            let below = first_line(canvas, view, body, 2);
            let texts = [
                ("Waiting for your first note.", Ink::Strong),
                (
                    "It is the one that is marked; the click joins in on the next beat.",
                    Ink::Plain,
                ),
            ];
            say(canvas, below, &texts);
        }
        State::Between(between) => between_takes(canvas, view, body, between),
    }
}

/// The lines of music that are shown now, each in its place.
fn playing(canvas: &mut Canvas<'_>, view: &View, body: Rows) {
    let sheet = sheet(canvas, view);
    let strings = view.piece.expected().strings.len();
    let (places, plan) = places(canvas, &sheet, strings, body);
    let height = plan.height() + u16::from(body.height >= places * (plan.height() + 1) - 1);
    let shown = turning::lines(&sheet, view.now, usize::from(places));
    for (place, line) in (0..).zip(shown) {
        if let Some(line) = line {
            music::draw(canvas, view, &sheet, &plan, line, body.top + place * height);
        }
    }
    if places == 1 {
        let y = body.top + plan.height();
        if y < body.top + body.height {
            then(canvas, view, &sheet, y);
        }
    }
}

/// How many lines of music there is room for, and how each is drawn.
fn places(canvas: &Canvas<'_>, sheet: &Sheet, strings: usize, body: Rows) -> (u16, Plan) {
    let look = canvas.look;
    // A line of music and the next; more where four bars are not together yet.
    let bars = sheet.page.systems.iter().map(|system| system.spans.len());
    let bars = bars.max().unwrap_or(1).max(1) as u16;
    let most = match look.size {
        Size::Usual => 4u16.div_ceil(bars).max(2),
        Size::Big => 2,
    };
    // A line and its offsets, on which side, and the note's name.
    let comfortable = match look.size {
        Size::Usual => Plan::least(strings) + 2,
        Size::Big => Plan::largest(strings, look).height() + 2,
    };
    let places = (body.height / comfortable).clamp(1, most);
    // One row is for what comes next, where only one line is seen.
    let height = match places {
        1 if body.height > Plan::least(strings) => body.height - 1,
        places => body.height / places,
    };
    (places, Plan::of(strings, height, look))
}

/// `then bar 5: D:3 A:0 A:2`: how the line after the one that is seen begins.
fn then(canvas: &mut Canvas<'_>, view: &View, sheet: &Sheet, y: u16) {
    let next = sheet.line_at(view.now) + 1;
    let Some(span) = sheet
        .page
        .systems
        .get(next)
        .and_then(|system| system.spans.first())
    else {
        return;
    };
    let number = view.piece.expected().bars[span.bar as usize].number;
    let steps = sheet.steps.iter().filter(|step| step.line == next);
    let notes = steps.filter_map(|step| super::compact::named(view, step.note));
    let notes: Vec<String> = notes.take(6).collect();
    canvas.text(
        0,
        y,
        &format!("then bar {number}: {}", notes.join(" ")),
        Ink::Strong,
    );
}

/// The first line of music without what is heard, if `least` rows are left below. Returns those.
fn first_line(canvas: &mut Canvas<'_>, view: &View, body: Rows, least: u16) -> Rows {
    let sheet = sheet(canvas, view);
    let strings = view.piece.expected().strings.len();
    let (_, plan) = places(canvas, &sheet, strings, body);
    let small = Plan::of(
        strings,
        body.height - least.min(body.height),
        super::Look {
            size: Size::Usual,
            ..canvas.look
        },
    );
    let tried = [plan.written(), small.written()];
    let fitting = tried
        .iter()
        .find(|plan| plan.height() + least <= body.height);
    let Some(plan) = fitting else { return body };
    music::draw(
        canvas,
        view,
        &sheet,
        plan,
        sheet.line_at(view.now),
        body.top,
    );
    Rows {
        top: body.top + plan.height(),
        height: body.height - plan.height(),
    }
}

/// A word as large as there is room, with a caption where a row is left.
fn figure(canvas: &mut Canvas<'_>, rows: Rows, word: &str, caption: &str) {
    let count = word.chars().count();
    let whole = Squares::that_fit(count, canvas.width(), rows.height);
    let half = (rows.height >= 3).then(|| canvas.look.either(Some(Squares::Half), None));
    match whole.or(half.flatten()) {
        Some(squares) => {
            let x = canvas.width().saturating_sub(squares.width(count)) / 2;
            let spare = rows.height - squares.height();
            let y = rows.top + spare / 2;
            figures::draw(canvas, (x, y), word, squares, Ink::Strong);
            if spare > 0 {
                canvas.text(0, rows.top + rows.height - 1, caption, Ink::Plain);
            }
        }
        None => {
            canvas.text(0, rows.top, &format!("{caption}: {word}"), Ink::Here);
        }
    }
}

/// Paragraphs below each other, an empty row between them where there is room.
fn say(canvas: &mut Canvas<'_>, rows: Rows, texts: &[(&str, Ink)]) -> u16 {
    let end = rows.top + rows.height;
    let apart = u16::from(usize::from(rows.height) >= 3 * texts.len());
    let mut y = rows.top + apart;
    for (text, ink) in texts {
        y += canvas.paragraph(0, y, end.saturating_sub(y), text, *ink) + apart;
    }
    y
}

fn between_takes(canvas: &mut Canvas<'_>, view: &View, body: Rows, between: &Between) {
    let mut texts = vec![(between.work_on.as_str(), Ink::Strong)];
    texts.extend(between.compared.as_deref().map(|text| (text, Ink::Plain)));
    texts.extend(between.said.iter().map(|text| (text.as_str(), Ink::Plain)));
    let next = format!("Next: {}", between.next);
    texts.push((&next, Ink::Plain));
    let keys = [
        Command::Again,
        Command::Next,
        Command::Slower,
        Command::Faster,
        Command::Quit,
    ];
    let keys = keys.map(keys::in_words).join(" · ");
    texts.push((&keys, Ink::Strong));
    let end = say(canvas, body, &texts);
    // The music that comes, to look at meanwhile.
    let below = Rows {
        top: end,
        height: (body.top + body.height).saturating_sub(end),
    };
    let strings = view.piece.expected().strings.len();
    let usual = super::Look {
        size: Size::Usual,
        ..canvas.look
    };
    let plan = Plan::of(strings, below.height, usual);
    if plan.written().height() <= below.height {
        let sheet = sheet(canvas, view);
        music::draw(canvas, view, &sheet, &plan.written(), 0, below.top);
    }
}

fn learn(canvas: &mut Canvas<'_>, body: Rows, command: &str, said: Option<&str>) {
    let press = format!("Press the foot switch that is to mean: {command}.");
    let mut texts = vec![(press.as_str(), Ink::Strong)];
    texts.extend(said.map(|text| (text, Ink::Notice)));
    texts.push((
        "Any pedal that sends a control change or a program change will do.",
        Ink::Plain,
    ));
    texts.push((
        "p on to the next command · Esc back to the music",
        Ink::Strong,
    ));
    say(canvas, body, &texts);
}

fn sheet(canvas: &Canvas<'_>, view: &View) -> Rc<Sheet> {
    let room = match canvas.look.size {
        Size::Usual => 3,
        // A sign, two figures, one character between them; the next sign stands apart from them.
        Size::Big => 7,
    };
    view.piece.sheet(usize::from(canvas.width()), room)
}
