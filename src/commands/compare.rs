//! `leadsman compare`: players side by side on one line.

use super::in_order::in_order;
use super::judging::{self, Scope, Silence, TakeOptions};
use super::reference::Reference;
use super::take_files::takes_at;
use super::{Failure, Outcome, progress_bar, shared};
use crate::cli::compare::CompareArgs;
use crate::compare::alike::{self, Way, most_alike};
use crate::compare::measure::TakeMeasured;
use crate::compare::{Player, by_section, whole};
use crate::report::comparison::{Comparison, LeftOut, Why, csv, json, text};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Runs the command. Takes that could not be judged are left out and told; then the exit code is 1.
pub fn run(args: &CompareArgs) -> Outcome {
    let reference = Reference::read(&args.line)?;
    reference.played(args.excerpt.bars_of(&reference.line, None)?)?;
    let names = names(&args.players);
    let takes = takes(&args.players)?;
    let readings = judge(args, &reference, &takes)?;
    let not_judged = readings.iter().filter(|reading| reading.is_err()).count();
    let comparison = compare(args, &reference, names, takes, readings)?;
    let mut out = BufWriter::new(io::stdout().lock());
    match (args.json, args.csv) {
        (true, _) => json::write(&comparison, &mut out)?,
        (false, true) => csv::write(&comparison, &mut out)?,
        (false, false) => out.write_all(text::report(&comparison, shared::width()).as_bytes())?,
    }
    out.flush()?;
    match not_judged {
        0 => Ok(()),
        1 => Err(Failure::NotJudged("1 take could not be judged".into())),
        some => Err(Failure::NotJudged(format!(
            "{some} takes could not be judged"
        ))),
    }
}

/// A take of a player, by the player's place in the order given.
struct Given {
    player: usize,
    file: PathBuf,
}

/// What a take comes to.
struct Reading {
    way: Way,
    measured: TakeMeasured,
    /// Whether half of what the line asks for was reached before it was stopped.
    is_half: bool,
}

fn takes(players: &[PathBuf]) -> Result<Vec<Given>, Failure> {
    let mut all = Vec::new();
    for (player, path) in players.iter().enumerate() {
        let files = takes_at(path)?;
        all.extend(files.into_iter().map(|file| Given { player, file }));
    }
    Ok(all)
}

/// What players are called: as their folder, or as their file without its ending; where that is not theirs alone, by
/// the whole path.
fn names(players: &[PathBuf]) -> Vec<String> {
    let short = |path: &PathBuf| {
        let whole = path.canonicalize().unwrap_or_else(|_| path.clone());
        let name = if whole.is_dir() {
            whole.file_name()
        } else {
            whole.file_stem()
        };
        name.map_or_else(
            || path.display().to_string(),
            |name| name.to_string_lossy().into_owned(),
        )
    };
    let names: Vec<String> = players.iter().map(short).collect();
    let is_theirs = |name: &String| names.iter().filter(|other| *other == name).count() == 1;
    std::iter::zip(&names, players)
        .map(|(name, path)| match is_theirs(name) {
            true => name.clone(),
            false => path.display().to_string(),
        })
        .collect()
}

/// Judges all takes; what is odd about one is told, and why it could not be judged.
fn judge(
    args: &CompareArgs,
    reference: &Reference,
    takes: &[Given],
) -> Result<Vec<Result<Reading, String>>, Failure> {
    let bar = progress_bar::of(takes.len());
    let mut readings = Vec::with_capacity(takes.len());
    let work = |take: &Given| {
        let mut notes = Vec::new();
        let read = read(args, reference, &take.file, &mut notes);
        (read, notes)
    };
    in_order(takes, work, |(read, notes)| {
        let file = takes[readings.len()].file.display().to_string();
        let about = |what: &str| match what.starts_with(&file) {
            true => what.to_string(),
            false => format!("{file}: {what}"),
        };
        let read = read.map_err(|failure| about(&failure.into_text()));
        let notes = notes.iter().map(|note| about(note));
        bar.suspend(|| {
            notes
                .chain(read.as_ref().err().cloned())
                .for_each(shared::note)
        });
        bar.inc(1);
        readings.push(read);
        Ok(())
    })?;
    bar.finish_and_clear();
    Ok(readings)
}

fn read(
    args: &CompareArgs,
    reference: &Reference,
    file: &Path,
    notes: &mut Vec<String>,
) -> Result<Reading, Failure> {
    let take = judging::read_take(file, &mut |note| notes.push(note))?;
    let options = TakeOptions {
        start: None,
        // A take that says its speed is believed.
        speed: args.speed.filter(|_| take.head.is_none()),
        excerpt: &args.excerpt,
        scope: Scope::Asked,
        silence: Silence::Refused,
        judging: &args.judging,
    };
    let mut judged = judging::judge(reference, take, &options, &mut |note| notes.push(note))?;
    let way = Way {
        speed: judged.speed,
        bars: judged.played.bars,
    };
    let of_line = judged.expected.notes.len();
    let checked = judged.checked(&args.line, file);
    Ok(Reading {
        way,
        is_half: 2 * checked.expected.notes.len() >= of_line,
        measured: TakeMeasured::of(&checked),
    })
}

fn compare(
    args: &CompareArgs,
    reference: &Reference,
    names: Vec<String>,
    takes: Vec<Given>,
    readings: Vec<Result<Reading, String>>,
) -> Result<Comparison, Failure> {
    let ways: Vec<alike::Played> = std::iter::zip(&takes, &readings)
        .filter_map(|(take, reading)| {
            let reading = reading.as_ref().ok().filter(|reading| reading.is_half)?;
            Some(alike::Played {
                player: take.player,
                way: reading.way,
            })
        })
        .collect();
    let compared = most_alike(&ways, args.speed).ok_or_else(|| nothing(args, ways.len()))?;
    let mut players: Vec<Player> = names
        .into_iter()
        .map(|name| Player {
            name,
            takes: Vec::new(),
        })
        .collect();
    let mut left_out = Vec::new();
    for (take, reading) in std::iter::zip(takes, readings) {
        let player = &mut players[take.player];
        let why = match reading {
            Ok(reading) if reading.way != compared => Why::OtherWay(reading.way),
            Ok(reading) if !reading.is_half => Why::Stopped,
            Ok(reading) => {
                player.takes.push(reading.measured);
                continue;
            }
            Err(why) => Why::NotJudged(why),
        };
        left_out.push(LeftOut {
            file: take.file.display().to_string(),
            player: player.name.clone(),
            why,
        });
    }
    let played = reference.played(compared.bars)?;
    let expected = reference.expected(compared.bars, compared.speed, None)?;
    let file = args.line.display().to_string();
    Ok(Comparison {
        line: shared::line_facts(&played, &file, compared.speed, &expected),
        whole: whole(&players),
        sections: args.sections.then(|| by_section(&players)),
        left_out,
    })
}

/// Why nothing is compared.
fn nothing(args: &CompareArgs, takes: usize) -> Failure {
    Failure::NotJudged(match (args.speed, takes) {
        (Some(speed), 1..) => format!(
            "no take is at {} % of the written tempo: leave --speed out to compare at the speed that most are at",
            f64::from(speed.0) / 1000.0
        ),
        _ => "none of these takes can be compared".into(),
    })
}
