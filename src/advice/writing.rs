//! What a copyist says: names, repeats, marks and settings that come to nothing, comments.

use super::{Ground, Remark};
use crate::line::Section;

pub(super) fn advise(ground: &Ground<'_>) -> Vec<Remark> {
    let mut remarks = accented_ghosts(ground);
    remarks.extend(no_comment(ground));
    remarks.extend(no_notes(ground));
    remarks.extend(swing_unused(ground));
    for section in 1..ground.line.sections.len() {
        remarks.extend(name_twice(ground, section));
        remarks.extend(repeated(ground, section));
    }
    remarks
}

fn no_comment(ground: &Ground<'_>) -> Option<Remark> {
    let text = "no comment says what the line is for".to_owned();
    let better = "# Trains: ... at the head of the file";
    let none = ground.source.comments.is_empty();
    none.then(|| Remark::new("no-comment", ground.at_head("title"), text, better))
}

fn no_notes(ground: &Ground<'_>) -> Option<Remark> {
    let none = ground.expected.notes.is_empty();
    let text = "there are rests only: nothing can be judged".to_owned();
    none.then(|| Remark::new("no-notes", ground.at_key(0, "notes"), text, "write a note"))
}

fn name_twice(ground: &Ground<'_>, section: usize) -> Option<Remark> {
    let sections = &ground.line.sections;
    let plain = |section: &Section| section.name.trim().to_lowercase();
    let name = plain(&sections[section]);
    let other = sections[..section].iter().any(|other| plain(other) == name);
    let text = format!("the name {:?} is taken", sections[section].name);
    let better = "give each section a name of its own: --section, and you, tell them apart by it";
    other.then(|| Remark::new("name-twice", ground.at_key(section, "name"), text, better))
}

fn repeated(ground: &Ground<'_>, section: usize) -> Option<Remark> {
    let (before, this) = (
        &ground.line.sections[section - 1],
        &ground.line.sections[section],
    );
    let renamed = Section {
        name: before.name.clone(),
        ..this.clone()
    };
    // A pickup is played once only, so that the two differ after all.
    if renamed != *before || (ground.line.pickup && section == 1) {
        return None;
    }
    let twice: Vec<String> = before
        .passes
        .iter()
        .chain(&this.passes)
        .map(i8::to_string)
        .collect();
    let text = format!("the same as {} before it", before.name);
    let better = format!("one section with passes = [{}]", twice.join(", "));
    Some(Remark::new(
        "repeated-section",
        ground.at_key(section, "name"),
        text,
        better,
    ))
}

/// A swing that moves no note.
fn swing_unused(ground: &Ground<'_>) -> Option<Remark> {
    let swing = ground
        .line
        .swing
        .filter(|swing| swing.long != swing.short)?;
    let is_swung = |note: &crate::expected::ExpectedNote| {
        let own = ground.line.sections[usize::from(note.section)].swing;
        own.is_none() && note.is.upbeat
    };
    if ground.expected.notes.iter().any(is_swung) {
        return None;
    }
    let text = format!(
        "swing {swing} moves no note: none stands in the short half of a pair of {}",
        ground.line.swung
    );
    Some(Remark::new(
        "swing-unused",
        ground.at_head("swing"),
        text,
        "leave it out, or set swung",
    ))
}

fn accented_ghosts(ground: &Ground<'_>) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (section, written) in ground.line.sections.iter().enumerate() {
        for (bar, notes) in written.bars.iter().enumerate() {
            let notes = notes.notes.iter().enumerate();
            for (index, _) in notes.filter(|(_, note)| note.marks.accent && note.marks.optional) {
                let text = "an accent on a ghost note that may stay away".to_owned();
                let spot = ground.at_written(section, bar, index);
                remarks.push(Remark::new("accent-ghost", spot, text, "leave out > or ?"));
            }
        }
    }
    remarks
}
