//! What is drawn: shapes with what they stand for. All lengths are in staff spaces, y downwards.

use super::glyph::Glyph;

/// A place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
}

/// A place by its coordinates.
pub(super) fn at(x: f64, y: f64) -> Point {
    Point { x, y }
}

/// A box.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)] // the names are the documentation
pub struct Area {
    pub left: f64,
    pub right: f64,
    pub top: f64,
    pub bottom: f64,
}

/// Something on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// What it stands for.
    pub role: Role,
    /// Index of the expected note that it belongs to.
    pub note: Option<u32>,
    /// How it looks.
    pub shape: Shape,
}

/// What an item stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)] // the names are the documentation
pub enum Role {
    StaffLine,
    StringLine,
    BarLine,
    Clef,
    KeySignature,
    TimeSignature,
    Head,
    Parenthesis,
    Accidental,
    Dot,
    Ledger,
    Stem,
    Flag,
    Beam,
    Triplet,
    Rest,
    Tie,
    Articulation,
    Stroke,
    Mute,
    Finger,
    Chord,
    Section,
    Heading,
    Tempo,
    BarNumber,
    StringName,
    Fret,
    /// What is said of a played note: its offset, inside the window.
    Offset,
    /// An offset before the window.
    Early,
    /// An offset behind the window.
    Late,
    /// A note that was not played.
    Missed,
    /// What was played in its place.
    Played,
    /// The timing window around a written place.
    Ruler,
    /// How long a note should sound.
    Asked,
    /// How long it did.
    Sounded,
    /// How long one did that was cut short.
    TooShort,
    /// How long one did that was held too long.
    TooLong,
    /// What of it outlasts the next note, or a rest.
    RingOver,
}

/// How an item looks.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A sign with its origin there.
    Sign(Glyph, Point),
    /// A straight line.
    Line {
        /// Where it begins.
        from: Point,
        /// Where it ends.
        to: Point,
        /// How thick it is.
        thickness: f64,
    },
    /// A beam: upright ends, `thickness` high; the points are on its middle.
    Beam {
        /// Where it begins.
        from: Point,
        /// Where it ends.
        to: Point,
        /// How high it is.
        thickness: f64,
    },
    /// A tie, arched upwards or downwards by the height (negative is upwards).
    Arch {
        /// Where it begins.
        from: Point,
        /// Where it ends.
        to: Point,
        /// How far its middle line is from the straight one at the most.
        height: f64,
    },
    /// A polygon, filled.
    Polygon(Vec<Point>),
    /// A ring around a place.
    Ring(Point, f64),
    /// A frame.
    Frame(Area),
    /// Words.
    Text {
        /// The words.
        text: String,
        /// On the base line.
        at: Point,
        /// Its size.
        size: f64,
        /// Where `at` is in it.
        anchor: Anchor,
    },
}

/// Where the place of a text is in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)] // the names are the documentation
pub enum Anchor {
    Start,
    Middle,
    End,
}

impl Item {
    /// An item that belongs to no note.
    pub(super) fn new(role: Role, shape: Shape) -> Item {
        Item {
            role,
            note: None,
            shape,
        }
    }

    /// An item of a note.
    pub(super) fn of(note: Option<u32>, role: Role, shape: Shape) -> Item {
        Item { role, note, shape }
    }
}

impl Shape {
    /// The box around it. The width of a text is an estimate for a plain sans serif.
    pub fn area(&self) -> Area {
        match self {
            Shape::Sign(glyph, at) => glyph.area().moved(at.x, at.y),
            Shape::Line {
                from,
                to,
                thickness,
            } => Area::around([*from, *to]).grown(thickness / 2.0),
            Shape::Beam {
                from,
                to,
                thickness,
            } => {
                let area = Area::around([*from, *to]);
                Area {
                    top: area.top - thickness / 2.0,
                    bottom: area.bottom + thickness / 2.0,
                    ..area
                }
            }
            Shape::Arch { from, to, height } => {
                let middle = at((from.x + to.x) / 2.0, (from.y + to.y) / 2.0 + height);
                Area::around([*from, *to, middle])
            }
            Shape::Polygon(points) => Area::around(points.iter().copied()),
            Shape::Ring(middle, radius) => Area::around([*middle]).grown(*radius),
            Shape::Frame(area) => *area,
            Shape::Text {
                text,
                at,
                size,
                anchor,
            } => {
                let width = text_width(text, *size);
                let left = match anchor {
                    Anchor::Start => at.x,
                    Anchor::Middle => at.x - width / 2.0,
                    Anchor::End => at.x - width,
                };
                Area {
                    left,
                    right: left + width,
                    top: at.y - 0.75 * size,
                    bottom: at.y + 0.22 * size,
                }
            }
        }
    }

    /// Moves it downwards.
    pub(super) fn lower(&mut self, by: f64) {
        self.move_by(0.0, by);
    }

    /// Moves it to the right.
    pub(super) fn shift(&mut self, by: f64) {
        self.move_by(by, 0.0);
    }

    fn move_by(&mut self, x: f64, y: f64) {
        let to = |point: &mut Point| *point = at(point.x + x, point.y + y);
        match self {
            Shape::Sign(_, at) | Shape::Text { at, .. } | Shape::Ring(at, _) => to(at),
            Shape::Line { from, to: end, .. }
            | Shape::Beam { from, to: end, .. }
            | Shape::Arch { from, to: end, .. } => {
                to(from);
                to(end);
            }
            Shape::Polygon(points) => points.iter_mut().for_each(to),
            Shape::Frame(area) => *area = area.moved(x, y),
        }
    }
}

impl Area {
    fn around(points: impl IntoIterator<Item = Point>) -> Area {
        let none = Area {
            left: f64::INFINITY,
            right: f64::NEG_INFINITY,
            top: f64::INFINITY,
            bottom: f64::NEG_INFINITY,
        };
        points.into_iter().fold(none, |area, point| Area {
            left: area.left.min(point.x),
            right: area.right.max(point.x),
            top: area.top.min(point.y),
            bottom: area.bottom.max(point.y),
        })
    }

    fn moved(self, x: f64, y: f64) -> Area {
        Area {
            left: self.left + x,
            right: self.right + x,
            top: self.top + y,
            bottom: self.bottom + y,
        }
    }

    pub(super) fn grown(self, by: f64) -> Area {
        Area {
            left: self.left - by,
            right: self.right + by,
            top: self.top - by,
            bottom: self.bottom + by,
        }
    }

    /// Whether they have more than an edge in common.
    pub fn overlaps(&self, other: &Area) -> bool {
        const EDGE: f64 = 1e-6;
        self.left + EDGE < other.right
            && other.left + EDGE < self.right
            && self.top + EDGE < other.bottom
            && other.top + EDGE < self.bottom
    }
}

/// About how wide words are in a plain sans serif of that size (advances of common ones, from memory).
pub(super) fn text_width(text: &str, size: f64) -> f64 {
    let advance = |c: char| match c {
        'i' | 'j' | 'l' | '\'' | ' ' | '.' | ',' | '|' | ':' | '·' => 0.28,
        '(' | ')' | 'f' | 't' | 'r' | '-' | '/' => 0.34,
        'm' | 'w' | 'M' | 'W' | '@' => 0.86,
        '+' | '=' => 0.59,
        c if c.is_uppercase() => 0.69,
        c if c.is_ascii() => 0.56,
        _ => 0.7,
    };
    size * text.chars().map(advance).sum::<f64>()
}
