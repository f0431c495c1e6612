//! Directions and bar lines: tempo, swing, rehearsal marks, repeats, endings and jumps.

use super::ledger::Ledger;
use super::moment;
use super::playing::Signs;
use super::tree;
use crate::line::{SwingRatio, Swung, Tempo};
use roxmltree::Node;

/// How fast, and with what swing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Feel {
    /// Quarters a minute, where the file has named them.
    pub tempo: Option<Tempo>,
    /// Long to short; `None` is straight.
    pub swing: Option<SwingRatio>,
    /// What swings.
    pub swung: Swung,
}

/// What directions have said in one measure.
#[derive(Clone, Debug, Default)]
pub struct Said {
    /// The feel from here on.
    pub feel: Feel,
    /// The rehearsal mark.
    pub mark: Option<String>,
    /// Repeats, endings, jumps.
    pub signs: Signs,
    /// Whether a double bar line ends the measure.
    pub double_bar: bool,
}

/// Directions that a line has no word for, as they are counted.
const NOT_CARRIED: [(&str, &str); 6] = [
    ("words", "words above or below the staff"),
    ("dynamics", "dynamics"),
    ("wedge", "swells"),
    ("pedal", "pedals"),
    ("damp", "damp signs"),
    ("scordatura", "changes of tuning"),
];

impl Said {
    /// Takes in a `direction`.
    pub fn direction(&mut self, node: Node<'_, '_>, ledger: &mut Ledger<'_>) {
        let sound = tree::child(node, "sound");
        let has_swing = sound.is_some_and(|sound| tree::has(sound, "swing"));
        let has_tempo = sound.is_some_and(|sound| sound.has_attribute("tempo"));
        for kind in tree::children(node, "direction-type").flat_map(|kind| kind.children()) {
            match kind.tag_name().name() {
                "rehearsal" => {
                    let mark = kind.text().map(str::trim).filter(|mark| !mark.is_empty());
                    self.mark = mark.map(str::to_owned).or(self.mark.take());
                }
                // The words say what the swing beside them says.
                "words" if has_swing => {}
                "metronome" if !has_tempo => self.metronome(kind, ledger),
                name => lose_if_unknown(kind, name, ledger),
            }
        }
        if let Some(sound) = sound {
            self.sound(sound, ledger);
        }
    }

    fn metronome(&mut self, node: Node<'_, '_>, ledger: &mut Ledger<'_>) {
        let Some(minute) = tree::text(node, "per-minute") else {
            ledger.lose("tempo marks that only compare note values");
            return;
        };
        let digits = |c: char| !c.is_ascii_digit() && c != '.';
        let number = minute.trim_matches(digits).split(digits).next();
        let number = number.and_then(tree::as_number);
        let unit = tree::text(node, "beat-unit").and_then(moment::quarters);
        let dots = tree::children(node, "beat-unit-dot").count().min(2) as i32;
        match (number, unit) {
            (Some(number), Some(unit)) => {
                self.tempo(number * unit * (2.0 - 0.5_f64.powi(dots)), ledger);
            }
            _ => ledger.lose("tempo marks without a number"),
        }
    }

    /// Takes in a `sound` element (MusicXML 4.0, `sound`: tempo is in quarter notes a minute).
    pub fn sound(&mut self, node: Node<'_, '_>, ledger: &mut Ledger<'_>) {
        if let Some(tempo) = node.attribute("tempo").and_then(tree::as_number) {
            self.tempo(tempo, ledger);
        }
        if let Some(swing) = tree::child(node, "swing") {
            self.swing(swing, ledger);
        }
        let name = |attribute| node.attribute(attribute).map(str::to_owned);
        let yes = |attribute| node.attribute(attribute).is_some_and(|said| said != "no");
        let signs = &mut self.signs;
        signs.segno = name("segno").or(signs.segno.take());
        signs.coda = name("coda").or(signs.coda.take());
        signs.dal_segno = name("dalsegno").or(signs.dal_segno.take());
        signs.to_coda = name("tocoda").or(signs.to_coda.take());
        signs.da_capo |= yes("dacapo");
        signs.fine |= yes("fine");
        signs.forward |= yes("forward-repeat");
    }

    fn tempo(&mut self, quarters_a_minute: f64, ledger: &mut Ledger<'_>) {
        let within = quarters_a_minute.clamp(20.0, 400.0);
        if within != quarters_a_minute {
            ledger.lose("tempos outside 20 to 400 (brought inside)");
        }
        self.feel.tempo = Some(Tempo((within * 1000.0).round() as u32));
    }

    fn swing(&mut self, node: Node<'_, '_>, ledger: &mut Ledger<'_>) {
        /// The largest half of a ratio in a line file, in thousandths.
        const MOST: u32 = 100_000;
        if tree::has(node, "straight") {
            self.feel.swing = None;
            return;
        }
        let part = |name| tree::whole(node, name).and_then(|part| u32::try_from(part).ok());
        let halves = part("first").zip(part("second"));
        let within = halves.filter(|(long, short)| {
            (1..=MOST).contains(short) && long <= &MOST && (*short..=4 * short).contains(long)
        });
        let Some((long, short)) = within else {
            ledger.lose("swing ratios outside 1:1 to 4:1");
            return;
        };
        // As large as a line has it, so that small whole numbers stay such.
        let fits = |scale: &u32| long * scale <= MOST;
        let scale = [1000, 100, 10].into_iter().find(fits).unwrap_or(1);
        self.feel.swing = (long != short).then_some(SwingRatio {
            long: scale * long,
            short: scale * short,
        });
        self.feel.swung = match tree::text(node, "swing-type") {
            Some("16th") => Swung::Sixteenth,
            _ => Swung::Eighth,
        };
    }

    /// Takes in a `barline`.
    pub fn barline(&mut self, node: Node<'_, '_>) {
        let signs = &mut self.signs;
        if let Some(ending) = tree::child(node, "ending") {
            match ending.attribute("type") {
                Some("start") => signs.ending = Some(numbers(ending.attribute("number"))),
                _ => signs.ending_stops = true,
            }
        }
        if let Some(repeat) = tree::child(node, "repeat") {
            match repeat.attribute("direction") {
                Some("forward") => signs.forward = true,
                _ => signs.backward = Some(times(repeat)),
            }
        }
        for (kind, at) in [("segno", &mut signs.segno), ("coda", &mut signs.coda)] {
            if let Some(name) = node.attribute(kind) {
                *at = Some(name.to_owned());
            }
        }
        let right = node.attribute("location").unwrap_or("right") == "right";
        self.double_bar |= right && tree::text(node, "bar-style") == Some("light-light");
    }
}

fn times(repeat: Node<'_, '_>) -> u32 {
    let times = repeat
        .attribute("times")
        .and_then(|times| times.trim().parse().ok());
    times.unwrap_or(2)
}

/// `1`, `1,2` or `1, 2`; the first pass where there is no number.
fn numbers(text: Option<&str>) -> Vec<u32> {
    let numbers = text.unwrap_or("1").split(',');
    numbers
        .filter_map(|number| number.trim().parse().ok())
        .take(100)
        .collect()
}

fn lose_if_unknown(node: Node<'_, '_>, name: &str, ledger: &mut Ledger<'_>) {
    let ends = matches!(node.attribute("type"), Some("stop" | "continue"));
    if let Some((_, words)) = NOT_CARRIED.iter().find(|(known, _)| *known == name)
        && !ends
    {
        ledger.lose(*words);
    }
}
