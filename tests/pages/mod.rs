//! Lines laid out and drawn.
#![allow(dead_code)] // each test crate uses its own part

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::fingering::Fingering;
use leadsman::line::Line;
use leadsman::line::parse::parse;
use leadsman::page::text::{Charset, draw};
use leadsman::page::{Layout, Page, Passes, Source};

pub fn line(text: &str) -> Line {
    parse(text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)))
}

pub fn layout(width: usize, passes: Passes) -> Layout {
    Layout {
        width,
        passes,
        bars: None,
        without: Default::default(),
        room: 0,
    }
}

/// The line unrolled and its page.
pub fn laid_out(line: &Line, layout: &Layout) -> (Expected, Page) {
    let expected = unroll(line, Speed::WRITTEN);
    let fingering = Fingering::of(&expected);
    let source = Source {
        line,
        expected: &expected,
        fingering: &fingering,
        judgement: None,
    };
    let page = Page::of(source, layout);
    (expected, page)
}

/// The first pass of a line at a width.
pub fn drawn(text: &str, width: usize, charset: Charset) -> String {
    let line = line(text);
    let (_, page) = laid_out(&line, &layout(width, Passes::One(1)));
    draw(&[line.title], &page, width, charset)
}
