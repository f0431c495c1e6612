//! One key sounds once at a time on a MIDI channel: the earlier note ends where the next of its key begins.

use super::performance::SoundedNote;
use crate::units::Nanos;

/// The shortest note that the stand-in plays.
pub(super) const SHORTEST: Nanos = Nanos::from_ms(10);

/// Ends each note by the next onset of its key. Where that would leave less than [`SHORTEST`] and the line itself
/// asks for no such thing (the key is there by a slip), the later note comes later. Leaves the notes by onset.
pub(super) fn separate(notes: &mut [SoundedNote]) {
    notes.sort_by_key(|note| note.onset);
    let mut last_of_key: [Option<usize>; 128] = [None; 128];
    for index in 0..notes.len() {
        let slot = &mut last_of_key[usize::from(notes[index].key.0 & 127)];
        if let Some(before) = slot.replace(index) {
            let least = least_gap(&notes[before], &notes[index]);
            let onset = notes[index].onset.max(notes[before].onset + least);
            notes[index].onset = onset;
            notes[before].end = notes[before].end.min(onset);
        }
        let note = &mut notes[index];
        note.end = note.end.max(note.onset + SHORTEST);
    }
    notes.sort_by_key(|note| note.onset);
}

fn least_gap(before: &SoundedNote, after: &SoundedNote) -> Nanos {
    let asked = after.asked - before.asked;
    let both_meant = before.expected.is_some() && after.expected.is_some();
    if both_meant && asked > Nanos::ZERO {
        asked.min(SHORTEST)
    } else {
        SHORTEST
    }
}
