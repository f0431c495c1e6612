//! The parts of a score, and which of them is taken.

use super::error::Unreadable;
use super::tree;
use roxmltree::{Document, Node};
use std::collections::HashMap;

/// A part with its measures, whichever way round the file has them.
pub struct Part<'a, 'i> {
    /// What the score calls it.
    pub name: String,
    /// Its measures: the element with the attributes, and the one with the notes.
    pub measures: Vec<(Node<'a, 'i>, Node<'a, 'i>)>,
    notes: usize,
}

/// Every part that has a measure, in the order of the part list.
pub fn list<'a, 'i>(document: &'a Document<'i>) -> Result<Vec<Part<'a, 'i>>, Unreadable> {
    let root = document.root_element();
    let by_part = match root.tag_name().name() {
        "score-partwise" => true,
        "score-timewise" => false,
        other => return Err(Unreadable::NotMusicXml(other.chars().take(40).collect())),
    };
    let listed = tree::child(root, "part-list");
    let names: Vec<(&str, String)> = listed
        .into_iter()
        .flat_map(|list| tree::children(list, "score-part"))
        .map(|part| (part.attribute("id").unwrap_or_default(), name(part)))
        .collect();
    let mut found = if by_part {
        by_parts(root)
    } else {
        by_measures(root)
    };
    found.retain(|(_, measures)| !measures.is_empty());
    let ranks: HashMap<&str, usize> = names.iter().map(|(id, _)| *id).zip(0..).collect();
    let rank = |id: &str| ranks.get(id).copied();
    found.sort_by_key(|(id, _)| rank(id).unwrap_or(usize::MAX));
    let parts = found.into_iter().map(|(id, measures)| {
        let name = rank(id).map_or_else(|| id.to_owned(), |rank| names[rank].1.clone());
        let notes = measures.iter().map(|(_, notes)| sounding(*notes)).sum();
        Part {
            name,
            measures,
            notes,
        }
    });
    let parts: Vec<Part<'a, 'i>> = parts.collect();
    if parts.is_empty() {
        return Err(Unreadable::NoPart);
    }
    Ok(parts)
}

/// A part's id and its measures.
type Found<'a, 'i> = (&'a str, Vec<(Node<'a, 'i>, Node<'a, 'i>)>);

fn by_parts<'a, 'i>(root: Node<'a, 'i>) -> Vec<Found<'a, 'i>> {
    let found = tree::children(root, "part").map(|part| {
        let measures = tree::children(part, "measure").map(|measure| (measure, measure));
        (part.attribute("id").unwrap_or_default(), measures.collect())
    });
    found.collect()
}

fn by_measures<'a, 'i>(root: Node<'a, 'i>) -> Vec<Found<'a, 'i>> {
    let mut found: Vec<Found<'a, 'i>> = Vec::new();
    let mut places: HashMap<&str, usize> = HashMap::new();
    for measure in tree::children(root, "measure") {
        for part in tree::children(measure, "part") {
            let id = part.attribute("id").unwrap_or_default();
            let place = *places.entry(id).or_insert_with(|| {
                found.push((id, Vec::new()));
                found.len() - 1
            });
            found[place].1.push((measure, part));
        }
    }
    found
}

fn name(part: Node<'_, '_>) -> String {
    let named = tree::text(part, "part-name").filter(|name| !name.is_empty());
    let instrument = || {
        let instrument = tree::child(part, "score-instrument")?;
        tree::text(instrument, "instrument-name").filter(|name| !name.is_empty())
    };
    let id = part.attribute("id").unwrap_or_default();
    let name = named.or_else(instrument).unwrap_or(id);
    name.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn sounding(measure: Node<'_, '_>) -> usize {
    tree::children(measure, "note")
        .filter(|note| !tree::has(*note, "rest") && !tree::has(*note, "grace"))
        .count()
}

/// Takes the part that was asked for by name or number; without that the only one, the only one with notes, or the
/// only one that is called a bass. Says why, where there was a choice.
pub fn choose<'p, 'a, 'i>(
    parts: &'p [Part<'a, 'i>],
    asked: Option<&str>,
) -> Result<(&'p Part<'a, 'i>, Option<String>), Unreadable> {
    if let Some(asked) = asked {
        return asked_for(parts, asked).map(|part| (part, None));
    }
    if let [only] = parts {
        return Ok((only, None));
    }
    let with_notes: Vec<&Part> = parts.iter().filter(|part| part.notes > 0).collect();
    let basses: Vec<&Part> = with_notes
        .iter()
        .copied()
        .filter(|part| part.is_bass())
        .collect();
    let (part, why) = match (with_notes.as_slice(), basses.as_slice()) {
        ([only], _) => (*only, "the only one with notes"),
        (_, [only]) => (*only, "the only bass"),
        _ => return Err(Unreadable::SeveralParts(entries(parts))),
    };
    let count = parts.len();
    let said = format!(
        "part \"{}\" taken of {count}, {why}: --part chooses another",
        part.name
    );
    Ok((part, Some(said)))
}

fn asked_for<'p, 'a, 'i>(
    parts: &'p [Part<'a, 'i>],
    asked: &str,
) -> Result<&'p Part<'a, 'i>, Unreadable> {
    let wrong = |why| Unreadable::NoSuchPart {
        asked: asked.to_owned(),
        why,
        parts: entries(parts),
    };
    let wanted = asked.trim().to_lowercase();
    let matching = |fits: &dyn Fn(&str) -> bool| -> Vec<&'p Part<'a, 'i>> {
        parts
            .iter()
            .filter(|part| fits(&part.name.to_lowercase()))
            .collect()
    };
    let whole = matching(&|name| name == wanted);
    if let [only] = whole[..] {
        return Ok(only);
    }
    if let Ok(number) = wanted.parse::<usize>() {
        let numbered = number.checked_sub(1).and_then(|index| parts.get(index));
        return numbered.ok_or_else(|| wrong("is not in the score"));
    }
    match matching(&|name| name.contains(&wanted))[..] {
        [only] => Ok(only),
        [] => Err(wrong("is not in the score")),
        _ => Err(wrong("fits several parts")),
    }
}

fn entries(parts: &[Part<'_, '_>]) -> Vec<String> {
    let entry = |(number, part): (usize, &Part)| {
        let plural = if part.notes == 1 { "" } else { "s" };
        format!("{number}  {} ({} note{plural})", part.name, part.notes)
    };
    (1..).zip(parts).map(entry).collect()
}

impl Part<'_, '_> {
    fn is_bass(&self) -> bool {
        let name = self.name.to_lowercase();
        let others = [
            "drum", "clarinet", "trombone", "tuba", "flute", "voice", "singer",
        ];
        name.contains("bass") && !others.iter().any(|other| name.contains(other))
    }
}
