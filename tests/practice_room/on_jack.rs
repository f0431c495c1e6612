//! A second JACK client plays: what is seen, what is kept, how a take is started.

use crate::band::{BEAT, Band, LINE, NOTES, OFFSETS, ON_JACK, undisturbed};
use crate::home::{Home, has_left, leave, row};
use crate::support::jack_server::with_server;
use std::fs;

#[test]
fn what_is_seen_is_what_was_played_and_the_screen_does_not_change_the_take() {
    with_server(
        "on_jack::what_is_seen_is_what_was_played_and_the_screen_does_not_change_the_take",
        256,
        || undisturbed(seen_and_kept),
    );
}

fn seen_and_kept(band: &mut Band) {
    let home = Home::new(LINE);
    let terminal = home.play(&format!("{ON_JACK} --repeat wait"));
    band.play(&NOTES, &OFFSETS);
    let marked = terminal.see(&["-20 +3"]);
    let notes = "note    E   A   D   G         A   C   E";
    let ms = "ms      +4  +12 -8  +5        +60 -20 +3";
    let side = "side    │›  │› ‹│   │›        │▸ ‹│   │›";
    assert_eq!([row(&marked, "note"), row(&marked, "ms")], [notes, ms]);
    assert_eq!(row(&marked, "side"), side);
    terminal.see(&[
        "Nothing stood out.",
        "Next: the whole line at 100 %",
        "take 2",
    ]);
    let report = leave(&terminal);
    assert!(report.contains("Timing   6 of 7 within ±30 ms"), "{report}");

    let plain = home.play(&format!("{ON_JACK} --plain --repeat once"));
    band.play(&NOTES, &OFFSETS);
    let said = has_left(&plain);
    assert!(said.contains("beat 2 +60 late"), "{said}");

    let takes = home.run("takes");
    assert_eq!(takes.matches("Two Bollards").count(), 2, "{takes}");
    assert_eq!(home.offsets(1), OFFSETS.map(Some));
    let [seen, unseen] = [1, 2].map(|take| home.take(take).1);
    assert_eq!(seen.len(), 2 * NOTES.len());
    assert_eq!(seen, unseen);
    home.run("rejudge 1 2");
    for take in [1, 2] {
        let [live, read]: [_; 2] = home.judgements(take).try_into().expect("two judgements");
        assert_eq!(live, read);
    }
}

#[test]
fn the_first_note_starts_the_take_and_the_click_joins() {
    with_server(
        "on_jack::the_first_note_starts_the_take_and_the_click_joins",
        256,
        || undisturbed(first_note),
    );
}

fn first_note(band: &mut Band) {
    let home = Home::new(LINE);
    let terminal = home.play(&format!("{ON_JACK} --repeat wait --first-note"));
    terminal.see(&[
        "Waiting for your first note.",
        "the click joins in on the next beat",
    ]);
    let bar_1 = band.bass().now() + BEAT;
    let offsets = [0, 12, -8, 5, 60, -20, 3];
    band.play_at(bar_1, &NOTES, &offsets);
    assert_eq!(band.click(), bar_1 + BEAT);
    let marked = terminal.see(&["-20 +3"]);
    let ms = row(&marked, "ms");
    assert_eq!(ms, "ms      0   +12 -8  +5        +60 -20 +3");
    terminal.see(&["Next: the whole line at 100 %, from your first note"]);
    leave(&terminal);
    assert_eq!(home.offsets(1), offsets.map(Some));
}

#[test]
fn a_foot_switch_begins_again_and_another_is_learned_on_the_screen() {
    with_server(
        "on_jack::a_foot_switch_begins_again_and_another_is_learned_on_the_screen",
        256,
        || undisturbed(foot_switches),
    );
}

fn foot_switches(band: &mut Band) {
    let home = Home::new(LINE);
    let settings = home.path("config/leadsman/settings.toml");
    fs::create_dir_all(settings.parent().expect("a folder")).expect("a folder");
    let bound = "[control]\nagain = { control = 64, channel = 1 }\n";
    fs::write(&settings, bound).expect("settings");
    let terminal = home.play(&format!("{ON_JACK} --repeat wait"));
    band.click();
    terminal.see(&["bar 1", "take 1", "ms"]);
    band.tread(64);
    terminal.see(&["count-in, bar 1 of 1", "take 2"]);
    terminal.see(&["Nothing was heard.", "Next: "]);
    assert_eq!(home.takes().len(), 2);

    terminal.press(&["p"]);
    terminal.see(&["Press the foot switch that is to mean: again."]);
    terminal.press(&["p"]);
    terminal.see(&["Press the foot switch that is to mean: next."]);
    band.tread(65);
    terminal.see(&["\"next\" is now control change 65 on channel 1."]);
    let written = fs::read_to_string(&settings).expect("settings");
    assert!(written.starts_with(bound), "{written}");
    assert!(written.contains("next = { "), "{written}");
    terminal.press(&["Escape"]);
    terminal.see(&["Next: "]);
    band.tread(65);
    terminal.see(&["count-in, bar 1 of 1"]);
    leave(&terminal);
}
