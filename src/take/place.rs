//! Where takes are kept when the player does not say.

use etcetera::BaseStrategy;
use std::io;
use std::path::{Path, PathBuf};

/// A new file in leadsman's data folder, named after the line and the time: `gangway_skip-20261125-071530.mid`.
pub fn new_take_path(line: &Path) -> io::Result<PathBuf> {
    let folders = etcetera::choose_base_strategy().map_err(io::Error::other)?;
    let folder = folders.data_dir().join("leadsman").join("takes");
    std::fs::create_dir_all(&folder)?;
    let stem = line
        .file_stem()
        .map_or_else(|| "take".into(), |stem| stem.to_string_lossy().into_owned());
    let now = jiff::ZonedDateTime::now().strftime("%Y%m%d-%H%M%S");
    let named = |suffix: &str| folder.join(format!("{stem}-{now}{suffix}.mid"));
    let tries = std::iter::once(String::new()).chain((2..1000).map(|n| format!("-{n}")));
    let free = tries
        .map(|suffix| named(&suffix))
        .find(|path| !path.exists());
    free.ok_or_else(|| io::Error::other(format!("no free name for a take in {}", folder.display())))
}
