//! The practice room's screen: a still page of tablature that says how each note sat, while it is played.
//!
//! [`draw`] is pure: a [`View`] (what is known now) into a buffer; equal views give equal pictures, and from one picture to
//! the next only the cells change that have to. The page turns by whole lines of music (`turning` says when). What is
//! written comes from [`crate::page`], columns and all; what was heard stands below, at its note.
//!
//! ```text
//! title · section · key                                bar 9 · quarter = 132
//! what changes with the next bar                       no click in this bar
//! line of music, being played        ┐
//!                                    ├ two of them, or more where bars are long and the window is high
//! line of music that comes next      ┘
//! take, bars, click, level, latency                                  ? keys
//! ```
//!
//! [`terminal`] takes the terminal and gives it back; [`keys`] says what a key asks for.

mod canvas;
mod compact;
mod figures;
mod frame;
mod help;
pub mod keys;
mod look;
mod marks;
mod music;
mod panels;
mod piece;
mod plan;
mod sheet;
pub mod terminal;
mod turning;
mod view;

pub use look::{Colours, Ink, Look, Size};
pub use piece::Piece;
pub use view::{Between, Heard, Over, State, Turn, View};

use crate::page::Page;
use canvas::Canvas;
use plan::Plan;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Draws the view into an area of any size: music from 40 × 9 (four strings), its substance in words from 20 × 5, one
/// line below.
pub fn draw(view: &View, area: Rect, buffer: &mut Buffer, look: Look) {
    let coming = view.coming();
    let view = coming.as_ref().unwrap_or(view);
    let mut canvas = Canvas::new(buffer, area, look);
    let strings = view.piece.expected().strings.len();
    let has_room_for_music = usize::from(canvas.width()) >= Page::NARROWEST
        && canvas.height() >= Plan::least(strings) + frame::ROWS;
    if canvas.width() < 20 || canvas.height() < 5 {
        compact::one_line(&mut canvas, view);
    } else if let Over::Help(page) = view.over {
        help::draw(&mut canvas, page);
    } else if has_room_for_music {
        frame::draw(&mut canvas, view);
        panels::draw(&mut canvas, view);
    } else {
        compact::draw(&mut canvas, view);
    }
}
