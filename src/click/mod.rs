//! The click: which beats sound ([`track`]), and their sound at exact frames ([`renderer`]).

pub mod level;
pub mod renderer;
pub mod sound;
pub mod stereo;
pub mod track;

pub use level::Level;
pub use renderer::ClickRenderer;
pub use sound::{Accent, ClickPitch, ClickSound, FadeIn, Pan};
pub use stereo::Stereo;
pub use track::{Click, ClickTrack, Pattern, Stress, Subdivision};

/// Something that can be heard: called by a backend to fill the blocks of its audio stream.
pub trait Render: Send {
    /// Told once, before the first block, on an ordinary thread: it may allocate.
    fn prepare(&mut self, sample_rate: u32);

    /// Fills `out`, a block of any length whose first sample is frame `first_frame` of the stream.
    ///
    /// Called on the audio thread: it never allocates, locks, logs or waits. What `out` holds before is undefined.
    /// Blocks follow each other; after an xrun frames may be left out.
    fn render(&mut self, first_frame: u64, out: Stereo<'_>);
}

/// Silence.
#[derive(Clone, Copy, Debug, Default)]
pub struct Silence;

impl Render for Silence {
    fn prepare(&mut self, _sample_rate: u32) {}

    fn render(&mut self, _first_frame: u64, mut out: Stereo<'_>) {
        out.silence();
    }
}
