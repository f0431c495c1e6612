//! How the screen looks: colours, characters, size.
//!
//! A colour never says anything that a shape does not say as well.

use crate::page::text::Charset;
use ratatui::style::{Color, Modifier, Style};

/// What a terminal can show, and how large.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Its colours.
    pub colours: Colours,
    /// Its characters.
    pub charset: Charset,
    /// How large the music is.
    pub size: Size,
}

/// How many colours a terminal has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Colours {
    /// None, or none are wanted.
    None,
    /// The sixteen that a theme sets.
    Sixteen,
    /// 256 or more.
    Many,
}

/// From how far away the screen is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// From a chair at the desk.
    Usual,
    /// From a metre and a half: fewer bars, frets and offsets as large figures.
    Big,
}

/// What is to be told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Everything that is not below.
    Plain,
    /// What is read first.
    Strong,
    /// Before its time.
    Early,
    /// After its time, or for too long.
    Late,
    /// Missed, or another note than the written one.
    Astray,
    /// The place where the line is.
    Here,
    /// What is about to change, and what goes wrong.
    Notice,
}

/// On black and on white alike a contrast of 3.8:1 or more (computed by the test below, WCAG 2.2's formula).
const BLUE: Color = Color::Indexed(32);
const ORANGE: Color = Color::Indexed(166);

impl Look {
    /// The style of an ink.
    pub fn style(self, ink: Ink) -> Style {
        let style = Style::new();
        match ink {
            Ink::Plain => style,
            Ink::Strong => style.add_modifier(Modifier::BOLD),
            Ink::Early => self.coloured(self.colours.blue(), Modifier::BOLD),
            Ink::Late => self.coloured(self.colours.orange(), Modifier::BOLD),
            Ink::Astray => style.add_modifier(Modifier::BOLD | Modifier::UNDERLINED),
            Ink::Here => self.coloured(
                self.colours.orange(),
                Modifier::BOLD.union(Modifier::REVERSED),
            ),
            Ink::Notice => self.coloured(
                self.colours.blue(),
                Modifier::BOLD.union(Modifier::REVERSED),
            ),
        }
    }

    /// One or the other, as the terminal has it.
    pub(super) fn either<T>(self, unicode: T, ascii: T) -> T {
        match self.charset {
            Charset::Unicode => unicode,
            Charset::Ascii => ascii,
        }
    }

    fn coloured(self, colour: Option<Color>, modifier: Modifier) -> Style {
        let style = Style::new().add_modifier(modifier);
        colour.map_or(style, |colour| style.fg(colour))
    }
}

impl Colours {
    /// What the environment says: `NO_COLOR` (<https://no-color.org>: set and not empty), `COLORTERM`, `TERM`.
    pub fn of_environment(variable: impl Fn(&str) -> Option<String>) -> Colours {
        let value = |name: &str| variable(name).unwrap_or_default();
        let term = value("TERM");
        if !value("NO_COLOR").is_empty() || term == "dumb" || term.ends_with("-m") {
            Colours::None
        } else if !value("COLORTERM").is_empty() || term.contains("256") || term.contains("direct")
        {
            Colours::Many
        } else {
            Colours::Sixteen
        }
    }

    fn blue(self) -> Option<Color> {
        match self {
            Colours::None => None,
            Colours::Sixteen => Some(Color::LightBlue),
            Colours::Many => Some(BLUE),
        }
    }

    /// Of the sixteen no orange and no yellow can be read on white; red can.
    fn orange(self) -> Option<Color> {
        match self {
            Colours::None => None,
            Colours::Sixteen => Some(Color::LightRed),
            Colours::Many => Some(ORANGE),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance (WCAG 2.2) of one of the 216 colours of the cube, whose steps are xterm's.
    fn luminance(colour: Color) -> f64 {
        let Color::Indexed(index) = colour else {
            panic!("not of the 256: {colour:?}");
        };
        let steps = [0.0, 95.0, 135.0, 175.0, 215.0, 255.0];
        let cube = usize::from(index - 16);
        let linear = |step: usize| {
            let value: f64 = steps[step] / 255.0;
            match value <= 0.04045 {
                true => value / 12.92,
                false => ((value + 0.055) / 1.055).powf(2.4),
            }
        };
        let (red, green, blue) = (cube / 36, cube / 6 % 6, cube % 6);
        0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
    }

    #[test]
    fn blue_and_orange_stand_out_from_black_and_from_white() {
        for colour in [BLUE, ORANGE] {
            let luminance = luminance(colour);
            let (on_black, on_white) = ((luminance + 0.05) / 0.05, 1.05 / (luminance + 0.05));
            assert!(on_black >= 3.8 && on_white >= 3.8, "{on_black} {on_white}");
        }
    }

    #[test]
    fn colours_are_what_the_environment_says() {
        let of = |set: &'static [(&str, &str)]| {
            Colours::of_environment(|name| {
                let found = set.iter().find(|(known, _)| *known == name)?;
                Some(found.1.to_string())
            })
        };
        assert_eq!(of(&[("TERM", "xterm-256color")]), Colours::Many);
        assert_eq!(of(&[("TERM", "linux")]), Colours::Sixteen);
        assert_eq!(of(&[("TERM", "vt220-m")]), Colours::None);
        let asked = &[("TERM", "xterm-256color"), ("NO_COLOR", "1")];
        assert_eq!(of(asked), Colours::None);
        assert_eq!(of(&[("TERM", "xterm"), ("NO_COLOR", "")]), Colours::Sixteen);
    }

    #[test]
    fn without_colour_no_style_has_one_and_what_matters_differs() {
        let look = Look {
            colours: Colours::None,
            charset: Charset::Ascii,
            size: Size::Usual,
        };
        for ink in [Ink::Early, Ink::Late, Ink::Astray, Ink::Here, Ink::Notice] {
            let style = look.style(ink);
            assert_eq!((style.fg, style.bg), (None, None));
            assert_ne!(style, look.style(Ink::Plain));
        }
    }
}
