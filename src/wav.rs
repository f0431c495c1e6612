//! What a [`Render`] plays, as a WAV file: mono (the mean of both ears), integers, 48 kHz.

use crate::click::{Render, Stereo};
use crate::draft::{Draft, Existing};
use hound::{SampleFormat, WavSpec, WavWriter};
use std::fs;
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};

/// Frames a second.
pub const SAMPLE_RATE: u32 = 48_000;
/// Frames rendered at a time.
const BLOCK: usize = 1024;
/// A WAV file counts its bytes in 32 bits; some are for its head.
const MOST_BYTES: u64 = u32::MAX as u64 - 1024;

/// Bits a sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Depth {
    /// 16 bits.
    Sixteen,
    /// 24 bits, as many as the sound itself has.
    TwentyFour,
}

impl Depth {
    fn bits(self) -> u16 {
        match self {
            Depth::Sixteen => 16,
            Depth::TwentyFour => 24,
        }
    }

    /// The nearest integer to a sample; full scale (1.0) is the largest one.
    pub fn integer(self, sample: f32) -> i32 {
        let full_scale = f64::from((1 << (self.bits() - 1)) - 1);
        (f64::from(sample.clamp(-1.0, 1.0)) * full_scale).round() as i32
    }
}

/// Why there is no file.
#[derive(Debug, thiserror::Error)]
pub enum WavError {
    /// There is one of that name.
    #[error("{} is there already and is not written over: choose another name, or add --force", .0.display())]
    IsThere(PathBuf),
    /// A folder or a device has that name.
    #[error("{} is no file that could be replaced", .0.display())]
    NoFile(PathBuf),
    /// It would have more bytes than a WAV file can have.
    #[error("it would be longer than a WAV file can be (4 GB): play fewer bars, or at more speed")]
    TooLong,
    /// It was asked to stop.
    #[error("stopped: {} was not written", .0.display())]
    Stopped(PathBuf),
    /// The system says no.
    #[error("{} cannot be written: {reason}", path.display())]
    Unwritable {
        /// Which file.
        path: PathBuf,
        /// What it says.
        reason: io::Error,
    },
}

/// Writes frames 0 to `frames` of what `render` plays. The file appears whole, or not at all; `is_stopped` is asked now
/// and then.
pub fn write(
    path: &Path,
    render: &mut dyn Render,
    frames: u64,
    depth: Depth,
    existing: Existing,
    is_stopped: impl Fn() -> bool,
) -> Result<(), WavError> {
    let unwritable = |reason| unwritable(path, reason);
    check_place(path, existing)?;
    if frames.saturating_mul(u64::from(depth.bits() / 8)) > MOST_BYTES {
        return Err(WavError::TooLong);
    }
    let draft = Draft::of(path).map_err(unwritable)?;
    let mut writer = WavWriter::new(BufWriter::new(draft.file()), spec(depth))
        .map_err(|error| unwritable(plain(error)))?;
    render.prepare(SAMPLE_RATE);
    let (mut left, mut right, mut first) = ([0.0; BLOCK], [0.0; BLOCK], 0);
    while first < frames {
        if is_stopped() {
            return Err(WavError::Stopped(path.to_path_buf()));
        }
        let length = usize::try_from(frames - first).map_or(BLOCK, |rest| rest.min(BLOCK));
        let mut block = Stereo::new(&mut left[..length], &mut right[..length]);
        render.render(first, block.lend());
        block.mean_into_left();
        for sample in &*block.left {
            let sample = depth.integer(*sample);
            writer
                .write_sample(sample)
                .map_err(|error| unwritable(plain(error)))?;
        }
        first += length as u64;
    }
    writer
        .finalize()
        .map_err(|error| unwritable(plain(error)))?;
    draft.publish(existing).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => WavError::IsThere(path.to_path_buf()),
        _ => unwritable(error),
    })
}

fn unwritable(path: &Path, reason: io::Error) -> WavError {
    WavError::Unwritable {
        path: path.to_path_buf(),
        reason,
    }
}

fn check_place(path: &Path, existing: Existing) -> Result<(), WavError> {
    match (fs::metadata(path), existing) {
        (Ok(_), Existing::Kept) => Err(WavError::IsThere(path.to_path_buf())),
        (Ok(there), Existing::Replaced) if !there.is_file() => {
            Err(WavError::NoFile(path.to_path_buf()))
        }
        _ => Ok(()),
    }
}

fn spec(depth: Depth) -> WavSpec {
    WavSpec {
        channels: 1,
        sample_rate: SAMPLE_RATE,
        bits_per_sample: depth.bits(),
        sample_format: SampleFormat::Int,
    }
}

fn plain(error: hound::Error) -> io::Error {
    match error {
        hound::Error::IoError(error) => error,
        other => io::Error::other(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::click::Silence;

    fn silence(path: &Path, existing: Existing) -> Result<(), WavError> {
        write(path, &mut Silence, 100, Depth::Sixteen, existing, || false)
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("a folder");
        let name = |entry: io::Result<fs::DirEntry>| entry.expect("an entry").file_name();
        entries.map(|e| name(e).to_string_lossy().into()).collect()
    }

    #[test]
    fn samples_go_to_the_nearest_integer_and_full_scale_to_the_largest() {
        assert_eq!(Depth::Sixteen.integer(1.0), 32_767);
        assert_eq!(Depth::Sixteen.integer(-1.0), -32_767);
        assert_eq!(Depth::TwentyFour.integer(0.5), 4_194_304);
        assert_eq!(Depth::TwentyFour.integer(-2.0), -8_388_607);
    }

    #[test]
    fn a_file_that_is_there_is_only_replaced_when_asked() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("line.wav");
        fs::write(&path, "other").expect("a file");
        let kept = silence(&path, Existing::Kept);
        assert!(matches!(kept, Err(WavError::IsThere(_))), "{kept:?}");
        assert_eq!(fs::read(&path).expect("a file"), b"other");
        silence(&path, Existing::Replaced).expect("a new file");
        assert_eq!(fs::metadata(&path).expect("a file").len(), 44 + 200);
        assert_eq!(names(folder.path()), ["line.wav"]);
    }

    #[test]
    fn a_folder_is_never_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let refused = silence(folder.path(), Existing::Replaced);
        assert!(matches!(refused, Err(WavError::NoFile(_))), "{refused:?}");
    }

    #[test]
    fn what_is_stopped_or_too_long_leaves_nothing_behind() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("line.wav");
        let write = |frames, stop: bool| {
            write(
                &path,
                &mut Silence,
                frames,
                Depth::TwentyFour,
                Existing::Kept,
                || stop,
            )
        };
        assert!(matches!(write(5000, true), Err(WavError::Stopped(_))));
        assert!(matches!(
            write(1_500_000_000, false),
            Err(WavError::TooLong)
        ));
        assert!(names(folder.path()).is_empty());
    }
}
