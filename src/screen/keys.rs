//! The keys of the practice room.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

/// What a key asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// The same again.
    Again,
    /// On to what comes next.
    Next,
    /// A step slower.
    Slower,
    /// A step faster.
    Faster,
    /// End the take.
    Stop,
    /// These bars again and again, or once.
    Loop,
    /// The first bar of what is practised one earlier or later.
    FromEarlier,
    /// See [`Command::FromEarlier`].
    FromLater,
    /// The last bar of what is practised one earlier or later.
    ToEarlier,
    /// See [`Command::ToEarlier`].
    ToLater,
    /// The next section.
    Section,
    /// The next pattern of the click.
    Click,
    /// The next way to divide the beats.
    Between,
    /// Bars without the click, or none.
    SilentBars,
    /// Counted in, or from the first note.
    Start,
    /// The guide part on or off.
    Guide,
    /// Louder.
    LevelUp,
    /// Softer.
    LevelDown,
    /// Learn a foot switch.
    Learn,
    /// Large figures, or not.
    Big,
    /// Show the keys; a further page of them.
    Help,
    /// Away with what covers the music.
    Back,
    /// Suspend the program.
    Suspend,
    /// End practising.
    Quit,
}

/// A command's keys with the words for them, as the help shows them.
#[derive(Clone, Copy, Debug)]
pub struct Binding {
    /// What it asks for.
    pub command: Command,
    /// Any of them.
    pub keys: &'static [KeyCode],
    /// How they are printed.
    pub shown: &'static str,
    /// What they do.
    pub words: &'static str,
}

const fn binding(
    command: Command,
    keys: &'static [KeyCode],
    shown: &'static str,
    words: &'static str,
) -> Binding {
    Binding {
        command,
        keys,
        shown,
        words,
    }
}

/// All of them, what is needed most first.
pub const BINDINGS: &[Binding] = &[
    binding(
        Command::Again,
        &[KeyCode::Char('a'), KeyCode::Enter],
        "a, Enter",
        "the same again",
    ),
    binding(Command::Next, &[KeyCode::Char('n')], "n", "on to the next"),
    binding(
        Command::Slower,
        &[KeyCode::Char('s'), KeyCode::Left],
        "s, left",
        "slower",
    ),
    binding(
        Command::Faster,
        &[KeyCode::Char('f'), KeyCode::Right],
        "f, right",
        "faster",
    ),
    binding(
        Command::Stop,
        &[KeyCode::Char(' ')],
        "space",
        "stop the take",
    ),
    binding(
        Command::Loop,
        &[KeyCode::Char('l')],
        "l",
        "these bars over and over, or once",
    ),
    binding(
        Command::FromEarlier,
        &[KeyCode::Char('[')],
        "[",
        "begin a bar earlier",
    ),
    binding(
        Command::FromLater,
        &[KeyCode::Char('{')],
        "{",
        "begin a bar later",
    ),
    binding(
        Command::ToEarlier,
        &[KeyCode::Char('}')],
        "}",
        "end a bar earlier",
    ),
    binding(
        Command::ToLater,
        &[KeyCode::Char(']')],
        "]",
        "end a bar later",
    ),
    binding(
        Command::Section,
        &[KeyCode::Char('t')],
        "t",
        "the next section, then all",
    ),
    binding(
        Command::Click,
        &[KeyCode::Char('c')],
        "c",
        "where the click sounds",
    ),
    binding(
        Command::Between,
        &[KeyCode::Char('d')],
        "d",
        "clicks between the beats",
    ),
    binding(
        Command::Start,
        &[KeyCode::Char('o')],
        "o",
        "counted in, or from your first note",
    ),
    binding(
        Command::SilentBars,
        &[KeyCode::Char('w')],
        "w",
        "bars without the click",
    ),
    binding(
        Command::Guide,
        &[KeyCode::Char('g')],
        "g",
        "hear the line softly, or not",
    ),
    binding(
        Command::LevelUp,
        &[KeyCode::Up, KeyCode::Char('+')],
        "up, +",
        "louder",
    ),
    binding(
        Command::LevelDown,
        &[KeyCode::Down, KeyCode::Char('-')],
        "down, -",
        "softer",
    ),
    binding(
        Command::Learn,
        &[KeyCode::Char('p')],
        "p",
        "teach a foot switch",
    ),
    binding(
        Command::Big,
        &[KeyCode::Char('b')],
        "b",
        "large figures, or not",
    ),
    binding(
        Command::Help,
        &[KeyCode::Char('?'), KeyCode::F(1)],
        "?",
        "these keys; ? again: the signs",
    ),
    binding(Command::Back, &[KeyCode::Esc], "Esc", "back to the music"),
    binding(
        Command::Quit,
        &[KeyCode::Char('q')],
        "q, Ctrl-C",
        "end practising",
    ),
    binding(
        Command::Suspend,
        &[],
        "Ctrl-Z",
        "put aside; fg brings it back",
    ),
];

/// A command's first key with its words: `n on to the next`.
pub(super) fn in_words(command: Command) -> String {
    let bound = BINDINGS.iter().find(|one| one.command == command);
    bound.map_or_else(String::new, |one| {
        let key = one.shown.split(", ").next().unwrap_or(one.shown);
        format!("{key} {}", one.words)
    })
}

/// What a key asks for. Releases ask for nothing; held keys repeat only where that makes sense.
pub fn command(event: KeyEvent) -> Option<Command> {
    if event.kind == KeyEventKind::Release {
        return None;
    }
    // Together they are what Windows makes of AltGr, with which some keyboards write brackets.
    let alt_gr = KeyModifiers::CONTROL | KeyModifiers::ALT;
    let modifiers = match event.modifiers.contains(alt_gr) {
        true => event.modifiers - alt_gr,
        false => event.modifiers,
    };
    let command = if modifiers.contains(KeyModifiers::CONTROL) {
        match event.code {
            KeyCode::Char('c' | 'd') => Some(Command::Quit),
            KeyCode::Char('z') => Some(Command::Suspend),
            _ => None,
        }
    } else if modifiers.contains(KeyModifiers::ALT) {
        None
    } else {
        let code = match event.code {
            // Caps lock is on.
            KeyCode::Char(letter) => KeyCode::Char(letter.to_ascii_lowercase()),
            code => code,
        };
        let bound = BINDINGS.iter().find(|one| one.keys.contains(&code));
        bound.map(|binding| binding.command)
    };
    let may_repeat = |command: &Command| {
        use Command::*;
        matches!(command, Slower | Faster | LevelUp | LevelDown)
    };
    command.filter(|command| event.kind == KeyEventKind::Press || may_repeat(command))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_is_bound_twice_and_each_command_has_words() {
        let keys: Vec<KeyCode> = BINDINGS.iter().flat_map(|one| one.keys).copied().collect();
        for (index, key) in keys.iter().enumerate() {
            assert!(!keys[..index].contains(key), "{key:?}");
        }
        assert!(
            BINDINGS
                .iter()
                .all(|one| one.shown.is_ascii() && !one.words.is_empty())
        );
    }

    #[test]
    fn every_binding_is_reached_by_its_keys() {
        for binding in BINDINGS {
            for code in binding.keys {
                let event = KeyEvent::new(*code, KeyModifiers::NONE);
                assert_eq!(command(event), Some(binding.command));
            }
        }
        let control = |letter| KeyEvent::new(KeyCode::Char(letter), KeyModifiers::CONTROL);
        assert_eq!(command(control('c')), Some(Command::Quit));
        assert_eq!(command(control('z')), Some(Command::Suspend));
        assert_eq!(command(control('a')), None);
        let alt_gr = KeyModifiers::CONTROL | KeyModifiers::ALT;
        let bracket = KeyEvent::new(KeyCode::Char('['), alt_gr);
        assert_eq!(command(bracket), Some(Command::FromEarlier));
        let shifted = KeyEvent::new(KeyCode::Char('A'), KeyModifiers::SHIFT);
        assert_eq!(command(shifted), Some(Command::Again));
    }

    #[test]
    fn a_held_key_does_not_begin_take_after_take() {
        let held = |code| KeyEvent {
            kind: KeyEventKind::Repeat,
            ..KeyEvent::new(code, KeyModifiers::NONE)
        };
        assert_eq!(command(held(KeyCode::Char('a'))), None);
        assert_eq!(command(held(KeyCode::Char('+'))), Some(Command::LevelUp));
        let released = KeyEvent {
            kind: KeyEventKind::Release,
            ..KeyEvent::new(KeyCode::Char('a'), KeyModifiers::NONE)
        };
        assert_eq!(command(released), None);
    }
}
