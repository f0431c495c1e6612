//! What the practice room's screen costs: a take of 60 frames a second at 120 × 40, every frame drawn, compared with the one
//! before and written out as a terminal would get it.
//!
//!     cargo bench --bench screen

#[path = "../tests/screen/mod.rs"]
mod scene;

use leadsman::screen::{Look, State, View, draw};
use leadsman::units::Nanos;
use ratatui::backend::CrosstermBackend;
use ratatui::layout::Rect;
use ratatui::{Terminal, TerminalOptions, Viewport};
use scene::{BIG, SKIP, USUAL, reading, view};
use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

const FRAMES_A_SECOND: i64 = 60;
const AREA: Rect = Rect::new(0, 0, 120, 40);

/// Counts what a terminal would have to read.
#[derive(Clone, Default)]
struct Counted(Arc<AtomicU64>);

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.fetch_add(bytes.len() as u64, Ordering::Relaxed);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn main() {
    println!("first frame of a take (laid out anew), median of 21:");
    for (name, look) in [("usual", USUAL), ("big", BIG)] {
        println!("  {name:<6} {:>8.1} µs", micros(first_frame(look)));
    }
    println!("a whole take at {FRAMES_A_SECOND} frames a second, 120 x 40:");
    for (name, look) in [("usual", USUAL), ("big", BIG)] {
        take(name, look);
    }
}

fn first_frame(look: Look) -> Duration {
    let mut times: Vec<Duration> = (0..21)
        .map(|_| {
            let view = view(SKIP, None);
            let mut buffer = ratatui::buffer::Buffer::empty(AREA);
            let begun = Instant::now();
            draw(&view, AREA, &mut buffer, look);
            begun.elapsed()
        })
        .collect();
    times.sort();
    times[times.len() / 2]
}

fn take(name: &str, look: Look) {
    let mut view: View = view(SKIP, None);
    view.state = State::Playing;
    let sent = Counted::default();
    let options = TerminalOptions {
        viewport: Viewport::Fixed(AREA),
    };
    let backend = CrosstermBackend::new(sent.clone());
    let mut terminal = Terminal::with_options(backend, options).expect("a terminal of bytes");
    let notes = view.piece.expected().notes.len() as u32;
    let frames = view.piece.expected().end.0 * FRAMES_A_SECOND / 1_000_000_000;
    let (mut heard, mut all, mut worst) = (0, Duration::ZERO, Duration::ZERO);
    for frame in 0..frames {
        view.now = Nanos(frame * 1_000_000_000 / FRAMES_A_SECOND);
        while heard < notes && view.piece.expected().notes[heard as usize].onset < view.now {
            let offset = i64::from(heard * 37 % 90) - 45;
            view.heard
                .reading(reading(heard, Some(scene::partner(offset))));
            heard += 1;
        }
        let begun = Instant::now();
        terminal
            .draw(|frame| draw(&view, frame.area(), frame.buffer_mut(), look))
            .expect("bytes are written");
        let spent = begun.elapsed();
        all += spent;
        // The first one lays out; it is timed above.
        worst = if frame == 0 { worst } else { worst.max(spent) };
    }
    let mean = micros(all) / frames as f64;
    println!(
        "  {name:<6} {frames} frames: {mean:>7.1} µs a frame ({:.2} % of a core), the slowest {:.0} µs, {} bytes a frame",
        mean * FRAMES_A_SECOND as f64 / 1e4,
        micros(worst),
        sent.0.load(Ordering::Relaxed) / frames as u64,
    );
}

fn micros(time: Duration) -> f64 {
    time.as_secs_f64() * 1e6
}
