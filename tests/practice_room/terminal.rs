//! The terminal: its size, the shell behind it, what it can show. A stand-in plays.

use crate::home::{Home, USUAL, has_left, leave, play};
use crate::support::tmux::PROMPT;

const LINE: &str = "title = \"Four Bollards\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4 | r/4 A1/4 C2/4 E1/4 | E1/4 A1/4 D2/4 G2/4 | E1/4 r/4 D2/4 G2/4 | \
     E1/4 A1/4 D2/4 G2/4 | r/4 A1/4 C2/4 E1/4 | E1/4 A1/4 D2/4 G2/4 | E1/4 r/4 D2/4 G2/4\"\n";
const WAITING: &str = "--backend silent --stand-in steady --seed 3 --repeat wait";
const LATE: &str = "--backend silent --stand-in late-entries-ms=60 --repeat wait";

#[test]
fn another_size_in_mid_take_changes_the_picture_and_not_the_take() {
    let home = Home::new(LINE);
    let terminal = home.terminal((120, 40), &[]);
    terminal.enter(&play(WAITING));
    terminal.see(&["bar 1 · ", "note ", "bar 7 "]);
    for (size, seen) in [
        ((80, 24), ["bar ", "note "]),
        ((40, 12), ["quarter = 240", "ms "]),
        ((20, 5), ["bar ", "ms\n"]),
        ((80, 24), ["bar ", "note "]),
    ] {
        terminal.resize(size);
        terminal.wait_for("picture of that size", |screen| {
            let fits = screen
                .lines()
                .all(|row| row.chars().count() <= size.0 as usize);
            fits && seen.iter().all(|text| screen.contains(text))
                && screen.lines().count() <= size.1 as usize
        });
    }
    terminal.see(&["Next: the whole line"]);
    leave(&terminal);
    home.run(&format!(
        "{} --plain --repeat once",
        "play line.toml --backend silent --stand-in steady --seed 3"
    ));
    let [seen, unseen] = [1, 2].map(|take| home.take(take).1);
    assert_eq!(seen.len(), 56);
    assert_eq!(seen, unseen);
}

#[test]
fn put_aside_it_leaves_a_usable_shell_and_comes_back() {
    let home = Home::new(LINE);
    let terminal = home.play(WAITING);
    terminal.see(&["bar 2 · "]);
    terminal.press(&["C-z"]);
    terminal.wait_for("a prompt", |screen| {
        screen.trim_end().ends_with(PROMPT.trim())
    });
    assert!(!terminal.is_screen_up());
    terminal.enter("stty -a");
    let modes = terminal.see(&[" icanon", " echo "]);
    assert!(!modes.contains("-icanon"), "{modes}");
    terminal.enter("fg; echo left with $?");
    terminal.see(&["Next: ", "The sound is back."]);
    assert!(terminal.is_screen_up());
    let kept = home.offsets(1).len();
    assert!((3..28).contains(&kept), "{kept}");
    terminal.press(&["a"]);
    terminal.see(&["count-in, bar 1 of 1"]);
    terminal.see(&["Next: "]);
    assert_eq!(home.offsets(2).iter().flatten().count(), 28);
    terminal.press(&["C-c"]);
    let report = has_left(&terminal);
    assert!(report.contains("That was the last of 2 takes"), "{report}");
    assert!(report.contains("28 of 28 played"), "{report}");
}

#[test]
fn a_terminal_shows_what_it_can() {
    let home = Home::new(LINE);
    let coloured = home.terminal(USUAL, &[]);
    let plain = home.terminal(USUAL, &[("NO_COLOR", "1")]);
    let ascii = home.terminal(USUAL, &[("LC_ALL", "C")]);
    let dumb = home.terminal((80, 50), &[("TERM", "dumb")]);
    let closed = home.terminal((80, 50), &[]);
    let all = [&coloured, &plain, &ascii, &dumb];
    for terminal in all {
        terminal.enter(&play(LATE));
    }
    closed.enter(&play("--backend silent --stand-in steady <&-"));
    // Marks outside the window have a colour.
    let is_coloured = |screen: &str| screen.contains("\x1b[38;") || screen.contains("\x1b[34");
    coloured.see(&["bar 2 · "]);
    assert!(
        is_coloured(&coloured.coloured()),
        "{:?}",
        coloured.coloured()
    );
    plain.see(&["bar 2 · "]);
    assert!(!is_coloured(&plain.coloured()), "{:?}", plain.coloured());
    let screen = ascii.see(&["bar 2 ", "quarter = 240"]);
    assert!(screen.is_ascii(), "{screen}");
    let screen = ascii.see(&["Next: the whole line"]);
    assert!(screen.is_ascii(), "{screen}");
    let said = dumb.see(&["1 bar counted in.", "bar 2 "]);
    assert!(!dumb.is_screen_up(), "{said}");
    dumb.see(&["Next: the whole line"]);
    dumb.enter("q");
    has_left(&dumb);
    let said = has_left(&closed);
    assert!(said.contains("28 of 28 played"), "{said}");
    for terminal in [&coloured, &plain, &ascii] {
        leave(terminal);
    }
}
