//! The rules by name, and which of them are in force.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A rule of the clean-up stage. Each has a file of its own with its bounds and their reasons.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Rule {
    /// See [`super::bent_keys`].
    BentKeys,
    /// See [`super::bend_splits`].
    BendSplits,
    /// See [`super::slide_steps`].
    SlideSteps,
    /// See [`super::octave_glitches`].
    OctaveGlitches,
    /// See [`super::doubled_notes`].
    DoubledNotes,
    /// See [`super::ghost_triggers`].
    GhostTriggers,
    /// See [`super::string_overlaps`].
    StringOverlaps,
    /// See [`super::missing_offs`].
    MissingOffs,
}

impl Rule {
    /// Every rule, in the order in which help lists them.
    pub const ALL: [Rule; 8] = [
        Rule::BentKeys,
        Rule::BendSplits,
        Rule::SlideSteps,
        Rule::OctaveGlitches,
        Rule::DoubledNotes,
        Rule::GhostTriggers,
        Rule::StringOverlaps,
        Rule::MissingOffs,
    ];

    /// Its stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Rule::BentKeys => "bent-keys",
            Rule::BendSplits => "bend-splits",
            Rule::SlideSteps => "slide-steps",
            Rule::OctaveGlitches => "octave-glitches",
            Rule::DoubledNotes => "doubled-notes",
            Rule::GhostTriggers => "ghost-triggers",
            Rule::StringOverlaps => "string-overlaps",
            Rule::MissingOffs => "missing-offs",
        }
    }

    /// What it does, for help.
    pub const fn help(self) -> &'static str {
        match self {
            Rule::BentKeys => "a note under a steady bend takes the key that sounds",
            Rule::BendSplits => "a note that a bend split in two is one note",
            Rule::SlideSteps => "a slide that comes as a run of short notes is one note",
            Rule::OctaveGlitches => {
                "a first guess an octave off, corrected within 40 ms, is one note"
            }
            Rule::DoubledNotes => "a note that is reported twice is one note",
            Rule::GhostTriggers => "very soft notes too short to have a pitch are left out",
            Rule::StringOverlaps => {
                "with a channel a string, a note ends where its string's next begins"
            }
            Rule::MissingOffs => "a note whose end never came ends at the next note",
        }
    }

    /// One of them, and several, as a sentence counts them.
    pub const fn counted(self) -> (&'static str, &'static str) {
        match self {
            Rule::BentKeys => ("bent key", "bent keys"),
            Rule::BendSplits => ("note split by a bend", "notes split by a bend"),
            Rule::SlideSteps => ("slide in steps", "slides in steps"),
            Rule::OctaveGlitches => ("octave glitch", "octave glitches"),
            Rule::DoubledNotes => ("doubled note", "doubled notes"),
            Rule::GhostTriggers => ("ghost trigger", "ghost triggers"),
            Rule::StringOverlaps => ("overlap on one string", "overlaps on one string"),
            Rule::MissingOffs => ("missing note end", "missing note ends"),
        }
    }

    const fn bit(self) -> u8 {
        1 << self as u8
    }
}

/// Which rules are in force; all of them unless told otherwise. In a take they are kept as a list of names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rules(u8);

impl Rules {
    /// Every rule.
    pub const ALL: Rules = Rules(u8::MAX);
    /// None: everything is judged as it came.
    pub const NONE: Rules = Rules(0);

    /// Whether the rule is in force.
    pub const fn has(self, rule: Rule) -> bool {
        self.0 & rule.bit() != 0
    }

    /// These without one.
    pub const fn without(self, rule: Rule) -> Rules {
        Rules(self.0 & !rule.bit())
    }

    /// These and one more.
    pub const fn with(self, rule: Rule) -> Rules {
        Rules(self.0 | rule.bit())
    }
}

impl Default for Rules {
    fn default() -> Rules {
        Rules::ALL
    }
}

impl Serialize for Rules {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let on = Rule::ALL.into_iter().filter(|rule| self.has(*rule));
        serializer.collect_seq(on.map(Rule::name))
    }
}

impl<'de> Deserialize<'de> for Rules {
    /// A name that is not known is a rule of another version, and left out.
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Rules, D::Error> {
        let names: Vec<String> = Vec::deserialize(deserializer)?;
        let on = Rule::ALL
            .into_iter()
            .filter(|rule| names.iter().any(|name| name == rule.name()));
        Ok(on.fold(Rules::NONE, Rules::with))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_are_kept_by_name_and_all_hold_unless_told_otherwise() {
        let some = Rules::default().without(Rule::SlideSteps);
        let json = serde_json::to_string(&some).unwrap();
        assert!(json.contains("\"octave-glitches\"") && !json.contains("slide-steps"));
        assert_eq!(serde_json::from_str::<Rules>(&json).unwrap(), some);
        let later = "[\"doubled-notes\", \"not-known-yet\"]";
        let read: Rules = serde_json::from_str(later).unwrap();
        assert_eq!(read, Rules::NONE.with(Rule::DoubledNotes));
        assert_eq!(
            Rule::ALL.into_iter().fold(Rules::NONE, Rules::with),
            Rules::ALL
        );
    }
}
