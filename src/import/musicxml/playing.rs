//! The order in which measures are played: repeats, endings and jumps unrolled.
//!
//! Conventions (common practice): a repeat without a number is played twice; after a jump back (da capo, dal segno)
//! repeats are not taken again and the last ending is played; `fine` and `to coda` count only after such a jump.

use super::error::Unreadable;

/// The most bars that a part may have once it is unrolled.
pub const MOST_BARS: usize = 10_000;
/// The most notes that a part may have once it is unrolled, and once its repeat-bar signs are.
pub const MOST_NOTES: usize = 200_000;

/// The signs of one measure.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Signs {
    /// A repeat opens at its left.
    pub forward: bool,
    /// A repeat closes at its right: how often the passage is played.
    pub backward: Option<u32>,
    /// An ending begins at its left: in which passes it is played.
    pub ending: Option<Vec<u32>>,
    /// The ending stops at its right.
    pub ending_stops: bool,
    /// Names of places that jumps lead to.
    pub segno: Option<String>,
    /// The same for the coda.
    pub coda: Option<String>,
    /// Jump to the beginning, after the measure.
    pub da_capo: bool,
    /// Jump to the segno of that name.
    pub dal_segno: Option<String>,
    /// Jump to the coda of that name.
    pub to_coda: Option<String>,
    /// The end, after a jump back.
    pub fine: bool,
}

/// The passes of the endings that each measure belongs to, and the last measure of that ending.
struct Endings<'s> {
    of: Vec<Option<(&'s [u32], usize)>>,
}

impl<'s> Endings<'s> {
    fn new(signs: &'s [Signs]) -> Endings<'s> {
        let mut of = vec![None; signs.len()];
        for (start, sign) in signs.iter().enumerate() {
            let Some(numbers) = &sign.ending else {
                continue;
            };
            let last = (start..signs.len())
                .find(|at| {
                    let next_begins = signs.get(at + 1).is_none_or(|next| next.ending.is_some());
                    signs[*at].ending_stops || signs[*at].backward.is_some() || next_begins
                })
                .unwrap_or(start);
            for slot in &mut of[start..=last] {
                *slot = Some((numbers.as_slice(), last));
            }
        }
        Endings { of }
    }

    /// The highest pass that any ending of the group around `at` names.
    fn passes(&self, at: usize) -> Option<u32> {
        self.of[at]?;
        let before = self.of[..at].iter().rev().map_while(|slot| *slot);
        let after = self.of[at..].iter().map_while(|slot| *slot);
        let numbers = before.chain(after).flat_map(|(numbers, _)| numbers);
        numbers.copied().max()
    }

    /// Whether no other ending follows the one that `at` belongs to.
    fn is_last(&self, at: usize) -> bool {
        let Some((_, last)) = self.of[at] else {
            return true;
        };
        self.of.get(last + 1).is_none_or(Option::is_none)
    }
}

/// Where a walk through the measures is.
struct Walk<'s> {
    signs: &'s [Signs],
    endings: Endings<'s>,
    order: Vec<usize>,
    /// Where the repeat that is being played begins.
    opened: usize,
    pass: u32,
    jumped: bool,
}

/// The order in which the measures are played.
pub fn order(signs: &[Signs]) -> Result<Vec<usize>, Unreadable> {
    let mut walk = Walk {
        signs,
        endings: Endings::new(signs),
        order: Vec::new(),
        opened: 0,
        pass: 1,
        jumped: false,
    };
    let mut next = Some(0);
    while let Some(at) = next.filter(|at| *at < signs.len()) {
        next = walk.step(at);
        if walk.order.len() > MOST_BARS {
            return Err(Unreadable::TooLong);
        }
    }
    Ok(walk.order)
}

impl Walk<'_> {
    /// Plays the measure, or passes over its ending; says where to go on.
    fn step(&mut self, at: usize) -> Option<usize> {
        let sign = &self.signs[at];
        if sign.forward && at != self.opened {
            self.open(at);
        }
        if let Some((numbers, last)) = self.endings.of[at]
            && !self.plays(at, numbers)
        {
            return Some(last + 1);
        }
        self.order.push(at);
        if let Some(times) = sign.backward.filter(|_| !self.jumped) {
            let passes = self.endings.passes(at).map_or(times, |named| {
                if self.endings.is_last(at) {
                    named.max(times)
                } else {
                    named
                }
            });
            // An ending that closes a repeat and is not in the last pass leads back.
            if self.pass < passes {
                self.pass += 1;
                return Some(self.opened);
            }
            self.open(at + 1);
        } else if self.endings.of[at].is_some_and(|(_, last)| last == at)
            && self.endings.is_last(at)
        {
            self.open(at + 1);
        }
        self.jump(sign).unwrap_or(Some(at + 1))
    }

    fn plays(&self, at: usize, numbers: &[u32]) -> bool {
        if self.jumped {
            self.endings.is_last(at)
        } else {
            numbers.contains(&self.pass)
        }
    }

    fn open(&mut self, at: usize) {
        self.opened = at;
        self.pass = 1;
    }

    /// Where the measure's jump leads, `Some(None)` for the end; `None` when it has no jump to take now.
    fn jump(&mut self, sign: &Signs) -> Option<Option<usize>> {
        if self.jumped {
            if sign.fine {
                return Some(None);
            }
            let name = sign.to_coda.as_ref()?;
            return Some(Some(self.place(|sign| sign.coda.as_ref(), name)?));
        }
        let target = match &sign.dal_segno {
            Some(name) => self.place(|sign| sign.segno.as_ref(), name)?,
            None if sign.da_capo => 0,
            None => return None,
        };
        self.jumped = true;
        Some(Some(target))
    }

    /// The place of that name, or the only place of its kind.
    fn place(&self, kind: impl Fn(&Signs) -> Option<&String>, name: &str) -> Option<usize> {
        let named = self
            .signs
            .iter()
            .position(|sign| kind(sign).is_some_and(|n| n == name));
        named.or_else(|| self.signs.iter().position(|sign| kind(sign).is_some()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Signs by measure number from 1: `|:` and `:|` with a count, `[1,2` an ending, `]` its end, words for jumps.
    fn played(measures: &[&str]) -> Vec<usize> {
        let signs: Vec<Signs> = measures.iter().map(|text| signs(text)).collect();
        order(&signs)
            .unwrap()
            .iter()
            .map(|index| index + 1)
            .collect()
    }

    fn signs(text: &str) -> Signs {
        let mut signs = Signs::default();
        for word in text.split_whitespace() {
            match word {
                "|:" => signs.forward = true,
                "]" => signs.ending_stops = true,
                "DC" => signs.da_capo = true,
                "DS" => signs.dal_segno = Some("s".into()),
                "segno" => signs.segno = Some("s".into()),
                "coda" => signs.coda = Some("c".into()),
                "tocoda" => signs.to_coda = Some("c".into()),
                "fine" => signs.fine = true,
                word if word.starts_with('[') => {
                    signs.ending = Some(word[1..].split(',').map(|n| n.parse().unwrap()).collect());
                }
                word => signs.backward = Some(word.strip_prefix(":|").unwrap().parse().unwrap()),
            }
        }
        signs
    }

    #[test]
    fn repeats_are_played_as_often_as_they_say() {
        assert_eq!(played(&["", "|:", ":|2", ""]), [1, 2, 3, 2, 3, 4]);
        assert_eq!(played(&["", ":|3", ""]), [1, 2, 1, 2, 1, 2, 3]);
        assert_eq!(played(&["|: :|2", "|: :|2"]), [1, 1, 2, 2]);
        assert_eq!(played(&["", "|:", ""]), [1, 2, 3]);
    }

    #[test]
    fn endings_are_played_in_their_passes() {
        assert_eq!(played(&["", "[1 ] :|2", "[2 ]", ""]), [1, 2, 1, 3, 4]);
        assert_eq!(
            played(&["|:", "[1,2 ] :|2", "[3", "]", "|:", ":|2"]),
            [1, 2, 1, 2, 1, 3, 4, 5, 6, 5, 6]
        );
        assert_eq!(
            played(&["", "[1 ] :|2", "[2 ] :|2", "[3 ]"]),
            [1, 2, 1, 3, 1, 4]
        );
    }

    #[test]
    fn jumps_lead_back_once_and_repeats_are_not_taken_again() {
        assert_eq!(played(&["", "fine", "DC"]), [1, 2, 3, 1, 2]);
        assert_eq!(
            played(&["", "segno", "tocoda", "DS", "coda"]),
            [1, 2, 3, 4, 2, 3, 5]
        );
        assert_eq!(played(&["|: :|2", "fine", "DC"]), [1, 1, 2, 3, 1, 2]);
        assert_eq!(
            played(&["", "[1 ] :|2", "[2 ]", "DC", ""]),
            [1, 2, 1, 3, 4, 1, 3, 4, 5]
        );
    }

    #[test]
    fn endless_repeats_are_refused() {
        assert_eq!(order(&[signs(":|4000000000")]), Err(Unreadable::TooLong));
    }
}
