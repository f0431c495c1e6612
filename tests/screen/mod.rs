//! Scenes of the practice room, laid down by hand; shared with `benches/screen.rs`.
#![allow(dead_code)] // each crate uses its own part

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::judge::cost::Pitch;
use leadsman::judge::reading::Partner;
use leadsman::judge::{Length, Reading, Timing};
use leadsman::line::parse::parse;
use leadsman::page::text::Charset;
use leadsman::screen::{Colours, Look, Piece, Size, View, draw};
use leadsman::units::{Nanos, Ticks};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::rc::Rc;
use std::sync::Arc;

pub const SKIP: &str = include_str!("../../lines/gangway_skip.toml");
pub const CAR_DECK: &str = include_str!("../../lines/under_the_car_deck.toml");

/// Two sections in two keys and tempi.
pub const TWO: &str = "title = \"Two Blasts\"\nmeter = \"4/4\"\ntempo = 104\n\
    [[section]]\nname = \"A\"\nkey = \"D minor\"\nchords = \"Dm7 | G7\"\n\
    notes = \"D2@A/8 D2@A/8 F2@D/8 A2@D/8 r/8 A1@E/8 C2@A/4 | G1@E/4 B1@A/8 D2@A/8 F2@D/4 G2@D/4\"\n\
    [[section]]\nname = \"B\"\nkey = \"F major\"\ntempo = 92\nchords = \"Fmaj7 | C7 | Bb\"\n\
    notes = \"F1@E/4 A1@E/4 C2@A/4 F2@D/4 | C2@A/8 C2@A/8 E2@D/8 G2@D/8 Bb2@G/4 r/4 | Bb1@E/1\"\n";

pub const USUAL: Look = Look {
    colours: Colours::Many,
    charset: Charset::Unicode,
    size: Size::Usual,
};

pub const BIG: Look = Look {
    size: Size::Big,
    ..USUAL
};

pub const BARE: Look = Look {
    colours: Colours::None,
    charset: Charset::Ascii,
    size: Size::Usual,
};

/// The line with some bars silent (`3:1`, or none), before anything is played.
pub fn view(text: &str, silent: Option<&str>) -> View {
    let line = parse(text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    let mut expected = unroll(&line, Speed::WRITTEN);
    if let Some(silent) = silent {
        expected.silence(silent.parse().expect("bars"));
    }
    let mut view = View::new(Rc::new(Piece::new(Arc::new(line), Arc::new(expected))));
    view.level = Some("click -18 dB".into());
    view.latency = Some("latency 5.8 ms".into());
    view
}

/// A played note: on time to the millisecond, right, as long as expected.
pub fn partner(offset_ms: i64) -> Partner {
    let timing = match offset_ms {
        ..-30 => Timing::Early,
        31.. => Timing::Late,
        _ => Timing::In,
    };
    Partner {
        played: 0,
        offset: Nanos::from_ms(offset_ms),
        displaced: Ticks(0),
        off_grid: Nanos::from_ms(offset_ms),
        length_ratio: Some(1.0),
        ring_over: Some(Nanos::ZERO),
        pitch: Pitch::Right,
        timing,
        length: Some(Length::In),
    }
}

pub fn reading(note: u32, partner: Option<Partner>) -> Reading {
    Reading {
        note,
        partner,
        is_unheard: false,
    }
}

/// Note after note: early, late, on it, let go too soon, held too long, ringing on, another note, another octave, missed.
pub fn hear(view: &mut View, notes: u32) {
    for note in 0..notes {
        let played = match note % 10 {
            0 => Some(partner(-12)),
            1 => Some(partner(8)),
            2 => Some(Partner {
                length: Some(Length::Short),
                length_ratio: Some(0.5),
                ..partner(0)
            }),
            3 => Some(Partner {
                length: Some(Length::Long),
                length_ratio: Some(1.4),
                ..partner(41)
            }),
            4 => Some(Partner {
                length: Some(Length::Rings),
                length_ratio: Some(1.5),
                ring_over: Some(Nanos::from_ms(140)),
                ..partner(-45)
            }),
            5 => Some(Partner {
                pitch: Pitch::Wrong,
                ..partner(3)
            }),
            6 => Some(Partner {
                pitch: Pitch::Octave,
                ..partner(-104)
            }),
            7 => None,
            8 => Some(Partner {
                length: None,
                length_ratio: None,
                ..partner(22)
            }),
            _ => Some(partner(-7)),
        };
        view.heard.reading(reading(note, played));
    }
}

/// Goes to the onset of an expected note and 50 ms on; hears what was played before it.
pub fn play_to(view: &mut View, note: u32) {
    view.now = view.piece.expected().notes[note as usize].onset + Nanos::from_ms(50);
    hear(view, note);
}

pub fn buffer(view: &View, (width, height): (u16, u16), look: Look) -> Buffer {
    let area = Rect::new(0, 0, width, height);
    let mut buffer = Buffer::empty(area);
    draw(view, area, &mut buffer, look);
    buffer
}

/// The picture as text in a frame, so that its edges can be seen.
pub fn picture(view: &View, size: (u16, u16), look: Look) -> String {
    let buffer = buffer(view, size, look);
    let edge = format!("+{}+\n", "-".repeat(usize::from(size.0)));
    let mut text = edge.clone();
    for y in 0..size.1 {
        let row: String = (0..size.0).map(|x| buffer[(x, y)].symbol()).collect();
        text += &format!("|{row}|\n");
    }
    text + &edge
}
