//! Whether what is printed may be coloured: one rule for all of it, clap's own words included.

use std::io::{self, IsTerminal};

/// Whether the user wants no colour, whatever the terminal can do: `NO_COLOR` is set to anything (no-color.org).
pub fn is_refused() -> bool {
    std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
}

/// Whether mistakes on standard error are shown in colour.
pub fn on_stderr() -> bool {
    let plain = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    io::stderr().is_terminal() && !plain && !is_refused()
}
