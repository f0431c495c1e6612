//! Systems as SVG. Ten units to the staff space; colours come from the style sheet, and without one everything is black.

use super::glyph::Glyph;
use super::shape::{Anchor, Item, Point, Role, Shape};
use super::{Sheet, System};
use maud::{Markup, PreEscaped, html};
use std::collections::BTreeSet;

/// Units in a staff space.
const UNIT: f64 = 10.0;
/// Between systems, in staff spaces.
const BETWEEN: f64 = 4.0;
/// Around a drawing.
const MARGIN: f64 = 3.0;

/// A number with two decimals at the most.
pub(super) fn number(value: f64) -> String {
    let text = format!("{:.2}", value * UNIT);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".into()
    } else {
        text.into()
    }
}

/// The outlines that the systems of a page use, for a drawing at its beginning.
pub fn outlines(sheet: &Sheet) -> Markup {
    let items = sheet.systems.iter().flat_map(|system| &system.items);
    let glyphs: BTreeSet<Glyph> = items
        .filter_map(|item| match item.shape {
            Shape::Sign(glyph, _) => Some(glyph),
            _ => None,
        })
        .collect();
    html! {
        defs {
            @for glyph in glyphs {
                path id=(id(glyph)) transform="scale(.04 -.04)" d=(glyph.path()) {}
            }
        }
    }
}

/// Without what XML 1.0 cannot hold.
pub fn plain(text: &str) -> String {
    let is_odd = |c: char| c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}');
    text.replace(is_odd, " ")
}

fn id(glyph: Glyph) -> String {
    format!("sign-{}", glyph.name())
}

/// One system by itself, the outlines elsewhere.
pub(super) fn system(system: &System, order: usize) -> Markup {
    let view = format!("0 0 {} {}", number(system.width), number(system.height));
    let (title, words) = (format!("t{order}"), format!("d{order}"));
    html! {
        svg xmlns="http://www.w3.org/2000/svg" class="system" role="img" viewBox=(view)
            aria-labelledby=(title) aria-describedby=(words) {
            title id=(title) { (system.title) }
            desc id=(words) { (plain(&system.description)) }
            (items(system))
        }
    }
}

fn items(system: &System) -> Markup {
    html! { @for item in &system.items { (draw(item)) } }
}

/// The whole sheet as one drawing with its head.
pub fn drawing(head: &super::html::Head<'_>, sheet: &Sheet) -> String {
    let scale = |system: &System| super::PAGE_WIDTH / system.width;
    let texts = super::html::words_around(head, sheet);
    let title_height = 4.5 + 2.4 * texts.above.len() as f64;
    let mut y = title_height;
    let mut placed = Vec::new();
    for system in &sheet.systems {
        placed.push((system, y));
        y += system.height * scale(system) + BETWEEN;
    }
    let below: Vec<(String, f64)> = (0..)
        .zip(&texts.below)
        .map(|(index, text)| (text.clone(), y + 2.2 * f64::from(index)))
        .collect();
    let height = y + 2.2 * below.len() as f64;
    let view = format!(
        "{0} {0} {1} {2}",
        number(-MARGIN),
        number(super::PAGE_WIDTH + 2.0 * MARGIN),
        number(height + 2.0 * MARGIN)
    );
    let svg = html! {
        svg xmlns="http://www.w3.org/2000/svg" lang="en" viewBox=(view) {
            title { (plain(head.title)) }
            style { (PreEscaped(STYLE)) }
            (outlines(sheet))
            rect class="paper" x=(number(-MARGIN)) y=(number(-MARGIN)) width="100%" height="100%" fill="#fff" {}
            text class="title" x="0" y=(number(3.0)) font-size=(number(2.8)) { (plain(head.title)) }
            @for (index, text) in (0..).zip(&texts.above) {
                text x="0" y=(number(5.6 + 2.2 * f64::from(index))) font-size=(number(1.6)) { (plain(text)) }
            }
            @for (system, y) in &placed {
                g transform={ "translate(0 " (number(*y)) ") scale(" (format!("{:.4}", scale(system))) ")" } {
                    title { (system.title) }
                    desc { (plain(&system.description)) }
                    (items(system))
                }
            }
            @for (text, y) in &below {
                text x="0" y=(number(*y)) font-size=(number(1.5)) { (plain(text)) }
            }
        }
    };
    svg.into_string()
}

/// The style of a drawing, shared by the page.
pub const STYLE: &str = include_str!("drawing.css");

pub(super) fn draw(item: &Item) -> Markup {
    let class = class(item.role);
    match &item.shape {
        Shape::Sign(glyph, at) => {
            html! { use class=(class) href={ "#" (id(*glyph)) } x=(number(at.x)) y=(number(at.y)) {} }
        }
        Shape::Line {
            from,
            to,
            thickness,
        } => html! {
            path class={ "line " (class) } stroke="#000" stroke-width=(number(*thickness)) d=(format!("M{}L{}", pair(*from), pair(*to))) {}
        },
        Shape::Beam {
            from,
            to,
            thickness,
        } => {
            let half = thickness / 2.0;
            let path = format!(
                "M{} {}L{} {}L{} {}L{} {}z",
                number(from.x),
                number(from.y - half),
                number(to.x),
                number(to.y - half),
                number(to.x),
                number(to.y + half),
                number(from.x),
                number(from.y + half)
            );
            html! { path class=(class) d=(path) {} }
        }
        Shape::Arch { from, to, height } => {
            html! { path class=(class) d=(arch(*from, *to, *height)) {} }
        }
        Shape::Polygon(points) => {
            let points: Vec<String> = points.iter().map(|point| pair(*point)).collect();
            html! { path class=(class) d={ "M" (points.join("L")) "z" } {} }
        }
        Shape::Ring(middle, radius) => html! {
            circle class={ "line " (class) } fill="none" stroke="#000" stroke-width="1.2" stroke-dasharray="3 2"
                cx=(number(middle.x)) cy=(number(middle.y)) r=(number(*radius)) {}
        },
        Shape::Frame(area) => html! {
            rect class={ "line " (class) } fill="none" stroke="#000" stroke-width="1.4" x=(number(area.left)) y=(number(area.top))
                width=(number(area.right - area.left)) height=(number(area.bottom - area.top)) {}
        },
        Shape::Text {
            text,
            at,
            size,
            anchor,
        } => {
            let anchor = match anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let area = item.shape.area();
            html! {
                @if item.role == Role::Fret {
                    rect class="paper" fill="#fff" x=(number(area.left - 0.1)) y=(number(area.top + 0.05))
                        width=(number(area.right - area.left + 0.2)) height=(number(area.bottom - area.top - 0.3)) {}
                }
                text class=(class) text-anchor=(anchor) font-size=(number(*size)) x=(number(at.x)) y=(number(at.y)) { (plain(text)) }
            }
        }
    }
}

fn pair(point: Point) -> String {
    format!("{} {}", number(point.x), number(point.y))
}

/// Two curves, thick in the middle and thin at the ends.
fn arch(from: Point, to: Point, height: f64) -> String {
    const THICKNESS: f64 = 0.2;
    let third = (to.x - from.x) / 3.5;
    // A cubic reaches three quarters of the way to its two middle points.
    let curve = |height: f64| (height / 0.75, height / 0.75);
    let (outer, inner) = (
        curve(height + THICKNESS * height.signum() / 2.0).0,
        curve(height - THICKNESS * height.signum() / 2.0).1,
    );
    let point = |x: f64, y: f64| format!("{} {}", number(x), number(y));
    format!(
        "M{}C{} {} {}C{} {} {}z",
        pair(from),
        point(from.x + third, from.y + outer),
        point(to.x - third, to.y + outer),
        pair(to),
        point(to.x - third, to.y + inner),
        point(from.x + third, from.y + inner),
        pair(from)
    )
}

fn class(role: Role) -> &'static str {
    match role {
        Role::StaffLine | Role::StringLine => "staff",
        Role::BarLine | Role::Stem | Role::Ledger => "stem",
        Role::Clef | Role::KeySignature | Role::TimeSignature => "sign",
        Role::Head | Role::Parenthesis | Role::Accidental | Role::Dot | Role::Flag | Role::Beam => {
            "note"
        }
        Role::Rest => "rest",
        Role::Triplet => "triplet",
        Role::Tie => "tie",
        Role::Articulation | Role::Stroke | Role::Mute => "mark",
        Role::Finger => "finger",
        Role::Chord => "chord",
        Role::Section => "section",
        Role::Heading => "heading",
        Role::Tempo => "tempo",
        Role::BarNumber => "bar",
        Role::StringName => "string",
        Role::Fret => "fret",
        Role::Offset => "offset",
        Role::Early => "early",
        Role::Late => "late",
        Role::Missed => "missed",
        Role::Played => "played",
        Role::Ruler => "ruler",
        Role::Asked => "asked",
        Role::Sounded => "sounded",
        Role::TooShort => "short",
        Role::TooLong => "long",
        Role::RingOver => "rings",
    }
}
