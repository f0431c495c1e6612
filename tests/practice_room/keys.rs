//! What each key does, on the screen and in plain lines. A stand-in plays.

use crate::home::{Home, has_left, leave};
use crate::support::tmux::Tmux;

const LINE: &str = "title = \"Four Bollards\"\nmeter = \"4/4\"\ntempo = 240\n\
     [[section]]\nname = \"A\"\nnotes = \"E1/4 A1/4 D2/4 G2/4 | r/4 A1/4 C2/4 E1/4\"\n\
     [[section]]\nname = \"B\"\nnotes = \"G1/4 G1/4 D2/4 B1/4 | E1/4 r/4 r/2\"\n";
const WAITING: &str = "--backend silent --stand-in steady --repeat wait";

/// Presses a key and waits for what it leads to.
#[track_caller]
fn leads(terminal: &Tmux, key: &str, to: &[&str]) -> String {
    terminal.press(&[key]);
    let screen = terminal.see(to);
    screen
}

#[test]
fn each_key_does_what_the_help_says() {
    let home = Home::new(LINE);
    let terminal = home.play(WAITING);
    terminal.see(&["Next: the whole line at 100 %"]);
    leads(&terminal, "?", &["Keys, page 1 of ", "the same again"]);
    leads(&terminal, "?", &["page 2 of "]);
    leads(&terminal, "?", &["Signs, page 3 of "]);
    leads(&terminal, "Escape", &["Nothing stood out."]);

    leads(
        &terminal,
        "c",
        &["Next: the whole line at 100 %, the click on two and four\n"],
    );
    leads(
        &terminal,
        "d",
        &["the click on two and four, the beats in halves\n"],
    );
    leads(
        &terminal,
        "w",
        &["in halves, 3\nbars with the click, 1 without\n"],
    );
    leads(&terminal, "g", &["with the guide part"]);
    leads(&terminal, "o", &["from your first note"]);
    terminal.press(&["c", "c", "c", "d", "d", "d", "g", "g", "o"]);
    terminal.see(&["Next: the whole line at 100 %, 3 bars with the click, 1 without\n"]);
    leads(
        &terminal,
        "s",
        &["Next: the whole line at 95 %", "The next take is at 95 %."],
    );
    leads(&terminal, "f", &["The next take is at 100 %."]);
    leads(&terminal, "Right", &["The next take is at 105 %."]);

    leads(&terminal, "{", &["Next: bars 2 to 4 at"]);
    leads(&terminal, "}", &["Next: bars 2 to 3 at"]);
    leads(&terminal, "[", &["Next: bars 1 to 3 at"]);
    leads(&terminal, "]", &["Next: the whole line at"]);
    leads(&terminal, "t", &["Next: section A (bars 1 to 2) at"]);
    leads(&terminal, "t", &["Next: section B (bars 3 to 4) at"]);
    leads(&terminal, "t", &["Next: the whole line at"]);
    // Notices have gone by when this is seen.
    leads(&terminal, "Up", &["click -15 dB"]);
    leads(&terminal, "Down", &["click -18 dB"]);
    leads(&terminal, "l", &["all bars over and over"]);
    terminal.press(&["l"]);
    terminal.wait_for("bars once", |screen| !screen.contains("over and over"));

    leads(&terminal, "a", &["count-in, bar 1 of 1"]);
    leads(&terminal, "b", &["bar 1 · "]);
    terminal.see(&["no click from the next bar"]);
    terminal.see(&["bar 4 · ", "no click: you keep the time"]);
    terminal.see(&["Next: the whole line", "q end practising"]);
    leads(
        &terminal,
        "n",
        &["count-in, bar 1 of 1", "Next: section A (bars 1 to 2)"],
    );
    terminal.see(&["bar 2 · "]);
    leads(&terminal, "Space", &["Next: section A", "q end practising"]);
    let report = leave(&terminal);
    assert!(report.contains("That was the last of 3 takes"), "{report}");

    let silent = |take| home.take(take).0.silent.map(|silent| silent.to_string());
    let without = Some("3 bars with the click, 1 without".to_string());
    assert_eq!([1, 2, 3].map(silent), [None, without.clone(), without]);
}

#[test]
fn in_plain_lines_letters_and_enter_do_the_same() {
    let home = Home::new(LINE);
    let terminal = home.terminal((100, 60), &[]);
    terminal.enter(&crate::home::play(&format!("{WAITING} --plain")));
    terminal.see(&["1 bar counted in.", "Type ? and Enter"]);
    terminal.see(&["  B · from the next bar", "bar 2 "]);
    terminal.see(&["Next: the whole line at 100 %."]);
    terminal.enter("?");
    terminal.see(&["the same again", "end practising"]);
    terminal.enter("s");
    terminal.see(&["The next take is at 95 %."]);
    terminal.enter("xyz");
    terminal.see(&["There is no key \"xyz\"; ? lists them."]);
    terminal.enter("n");
    terminal.see(&["Take 2: section A (bars 1 to 2) at 95 %."]);
    terminal.wait_for("second take's end", |screen| {
        screen
            .matches("\nNext: section A (bars 1 to 2) at 95 %.")
            .count()
            == 2
    });
    terminal.enter("q");
    let said = has_left(&terminal);
    assert!(said.contains("That was the last of 2 takes"), "{said}");
}
