//! The bass, or the whole sound, goes away and comes back.

use crate::band::{BAR, Band, ON_JACK, undisturbed};
use crate::home::{Home, leave};
use crate::support::jack_server::{SecondServer, kill_server, with_server};

/// A note on each beat of the first bar and of the last; time to be away in between.
const LONG: &str = "title = \"Long Mooring\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4 | r/1 | r/1 | r/1 | r/1 | r/1 | r/1 | E1/4 A1/4 D2/4 G2/4\"\n";
const BAR_OF_NOTES: [(u64, u8); 4] = [(0, 28), (1, 33), (2, 38), (3, 43)];

#[test]
fn a_bass_that_is_unplugged_and_comes_back_goes_on_with_the_take() {
    with_server(
        "away::a_bass_that_is_unplugged_and_comes_back_goes_on_with_the_take",
        256,
        || undisturbed(unplugged),
    );
}

fn unplugged(band: &mut Band) {
    let home = Home::new(LONG);
    let terminal = home.play(&format!("{ON_JACK} --repeat wait"));
    let bar_1 = band.play(&BAR_OF_NOTES, &[4, 12, -8, 5]);
    terminal.see(&["+12 -8  +5", "bar 2 · "]);
    band.unplug();
    terminal.see(&["bass unplugged: plug it in, the take goes on"]);
    band.plug_in();
    terminal.wait_for("bass", |screen| !screen.contains("unplugged"));
    band.play_at(bar_1 + 7 * BAR, &BAR_OF_NOTES, &[-3, 20, 8, -11]);
    terminal.see(&["-3  +20 +8  -11"]);
    let between = terminal.see(&["Next: "]);
    assert!(!between.contains("unplugged"), "{between}");
    let all = [4, 12, -8, 5, -3, 20, 8, -11].map(Some);
    assert_eq!(home.offsets(1), all);

    band.unplug();
    let away = terminal.see(&["Next: ", "bass unplugged: plug it in"]);
    assert!(!away.contains("the take goes on"), "{away}");
    band.plug_in();
    terminal.wait_for("bass", |screen| !screen.contains("unplugged"));
    terminal.press(&["a"]);
    band.play(&BAR_OF_NOTES, &[4, 12, -8, 5]);
    terminal.see(&["+12 -8  +5"]);
    let report = leave(&terminal);
    assert!(report.contains("they are takes 1 to 2."), "{report}");
    let half = [Some(4), Some(12), Some(-8), Some(5)];
    assert_eq!(home.offsets(2), half);
}

#[test]
fn when_the_sound_server_dies_the_take_is_kept_and_the_room_waits_for_another() {
    with_server(
        "away::when_the_sound_server_dies_the_take_is_kept_and_the_room_waits_for_another",
        256,
        server_dies,
    );
}

fn server_dies() {
    let home = Home::new(LONG);
    let terminal = home.play("--backend jack --stand-in steady --repeat wait");
    terminal.see(&["bar 3 · "]);
    kill_server();
    terminal.see(&["no sound, tried again: the JACK server is gone"]);
    assert_eq!(home.offsets(1).iter().flatten().count(), 4);
    // And then why it cannot be opened again.
    terminal.see(&["no sound, tried again: no JACK server"]);
    let _server = SecondServer::start(256);
    terminal.see(&["The sound is back."]);
    terminal.press(&["a"]);
    terminal.see(&["count-in, bar 1 of 1"]);
    terminal.see(&["Next: "]);
    leave(&terminal);
    assert_eq!(home.offsets(2).iter().flatten().count(), 8);
}
