//! Colours by what they stand for. `plotters` writes numbers; they become variables of the style sheet here and nowhere else.

use plotters::style::RGBColor;

/// What something is drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Words and axes.
    Text,
    /// The lines behind everything.
    Grid,
    /// What is neither early nor late.
    Plain,
    /// Early, or too short: blue.
    Early,
    /// Late, or too long: orange.
    Late,
    /// What is asked for: a window's inside.
    Window,
    /// Its edges: short dashes.
    Edge,
    /// What is asked for, as a line.
    Target,
    /// A steady mean: long dashes.
    Steady,
    /// A mean that moves.
    Moving,
}

impl Ink {
    /// All of them.
    pub const ALL: [Ink; 10] = [
        Ink::Text,
        Ink::Grid,
        Ink::Plain,
        Ink::Early,
        Ink::Late,
        Ink::Window,
        Ink::Edge,
        Ink::Target,
        Ink::Steady,
        Ink::Moving,
    ];

    /// The variable of the style sheet that colours it.
    pub fn variable(self) -> &'static str {
        match self {
            Ink::Text => "--text",
            Ink::Grid => "--grid",
            Ink::Plain => "--plain",
            Ink::Early => "--early",
            Ink::Late => "--late",
            Ink::Window => "--window",
            Ink::Edge => "--edge",
            Ink::Target => "--edge",
            Ink::Steady => "--steady",
            Ink::Moving => "--moving",
        }
    }

    fn dashes(self) -> Option<&'static str> {
        match self {
            Ink::Edge => Some("3 3"),
            Ink::Steady => Some("10 4"),
            _ => None,
        }
    }

    /// A number that stands for it until [`in_variables`].
    pub(super) fn number(self) -> RGBColor {
        RGBColor(1, self as u8, 1)
    }
}

/// A drawing with the variables in the place of the numbers.
pub(super) fn in_variables(drawing: &str) -> String {
    Ink::ALL.iter().fold(drawing.to_string(), |drawing, ink| {
        let RGBColor(red, green, blue) = ink.number();
        let number = format!("\"#{red:02X}{green:02X}{blue:02X}\"");
        let variable = format!("\"var({})\"", ink.variable());
        let drawing = match ink.dashes() {
            Some(dashes) => drawing.replace(
                &format!("stroke={number}"),
                &format!("stroke={variable} stroke-dasharray=\"{dashes}\""),
            ),
            None => drawing,
        };
        drawing.replace(&number, &variable)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_ink_has_its_number_and_becomes_its_variable() {
        let drawing: String = Ink::ALL
            .iter()
            .map(|ink| {
                let RGBColor(red, green, blue) = ink.number();
                format!("<line stroke=\"#{red:02X}{green:02X}{blue:02X}\"/>")
            })
            .collect();
        let coloured = in_variables(&drawing);
        assert!(!coloured.contains('#'), "{coloured}");
        assert_eq!(coloured.matches("var(--").count(), Ink::ALL.len());
        assert!(coloured.contains("stroke=\"var(--steady)\" stroke-dasharray=\"10 4\""));
    }
}
