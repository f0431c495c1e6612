//! Degrees in a player's words.
//!
//! One vocabulary: the root; a third is major or minor; every other number is plain where the major scale has it, or
//! flat or sharp: "flat 7th", "4th", "sharp 5th". "Natural" is said only against a flat or sharp one of the same
//! number: "natural 7th where the line has the flat 7th".

use crate::line::degree::Degree;

impl Degree {
    /// The degree in words, beside another one that it is told apart from; beside itself, alone.
    pub fn in_words(self, against: Degree) -> String {
        let contrasted = self.number == against.number && self.accidental != against.accidental;
        let quality = match (self.number, self.accidental) {
            (3, 0) => "major ",
            (3, -1) => "minor ",
            (2 | 4..=7, 0) if contrasted => "natural ",
            (_, 0) => "",
            (_, -1) => "flat ",
            (_, 1) => "sharp ",
            (_, ..=-2) => "double-flat ",
            (_, 2..) => "double-sharp ",
        };
        let number = match self.number {
            1 => "root",
            2 => "2nd",
            3 => "third",
            4 => "4th",
            5 => "5th",
            6 => "6th",
            _ => "7th",
        };
        format!("{quality}{number}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(one: (u8, i8), other: (u8, i8)) -> String {
        let degree = |(number, accidental)| Degree { number, accidental };
        degree(one).in_words(degree(other))
    }

    #[test]
    fn natural_is_said_only_against_another_of_the_same_number() {
        assert_eq!(words((7, 0), (7, -1)), "natural 7th");
        assert_eq!(words((7, -1), (7, 0)), "flat 7th");
        assert_eq!(words((7, 0), (1, 0)), "7th");
        assert_eq!(words((7, 0), (7, 0)), "7th");
        assert_eq!(words((4, 0), (4, 1)), "natural 4th");
    }

    #[test]
    fn thirds_are_major_or_minor() {
        assert_eq!(words((3, 0), (3, -1)), "major third");
        assert_eq!(words((3, -1), (3, 0)), "minor third");
    }

    #[test]
    fn the_other_degrees_are_plain_flat_or_sharp() {
        assert_eq!(words((1, 0), (2, 0)), "root");
        assert_eq!(words((1, 0), (1, 1)), "root");
        assert_eq!(words((2, -1), (1, 0)), "flat 2nd");
        assert_eq!(words((5, 1), (5, 0)), "sharp 5th");
        assert_eq!(words((7, -2), (6, 0)), "double-flat 7th");
    }
}
