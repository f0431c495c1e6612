//! Take after take: over and over, and up in steps. A stand-in plays.

use crate::home::{Home, leave};

/// Eight entries.
const ENTRIES: &str = "title = \"Three Slips\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\n\
     notes = \"r/8 A1/8 A1/8 r/8 D2/8 D2/8 r/8 E1/8 | r/8 A1/8 A1/8 r/8 D2/8 D2/8 r/8 E1/8 | r/4 A1/8 A1/8 r/4 D2/8 D2/8\"\n";
const SHORT: &str = "title = \"One Slip\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\n\
     notes = \"E1/8 E1/8 A1/8 A1/8 D2/8 D2/8 A1/8 A1/8\"\n";

#[test]
fn takes_follow_each_other_and_are_compared() {
    let home = Home::new(ENTRIES);
    let terminal = home.play("--backend silent --stand-in late-entries-ms=45,spread-ms=4");
    terminal.see(&["take 1 · all bars over and over"]);
    let first = terminal.see(&["entries came in late", "Next: the whole line at 100 %"]);
    assert!(!first.contains(" then, "), "{first}");
    terminal.see(&["count-in, bar 1 of 1", "take 2"]);
    terminal.see(&["About the same: entries +", "ms then, ", "take 3"]);
    terminal.see(&["count-in, bar 1 of 1", "take 3"]);
    terminal.see(&["About the same: entries +", "take 4"]);
    let report = leave(&terminal);
    assert!(report.contains("takes 1 to "), "{report}");
    let whole = (1..=3).map(|take| home.take(take).1.len());
    assert_eq!(whole.collect::<Vec<_>>(), [28, 28, 28]);
}

#[test]
fn a_climb_goes_up_to_its_goal_and_stops_there() {
    let home = Home::new(SHORT);
    let climb = "--climb \"60-70 by 5\" --count-in 0 --backend silent --stand-in steady";
    let terminal = home.play(climb);
    terminal.see(&[
        "Up to 65 %: all that is asked for was there.",
        "Next: the whole line at 65 %",
    ]);
    terminal.see(&["Up to 70 %: all that is asked for was there."]);
    terminal.see(&["Arrived at the goal of 70 %: all that is asked for was there."]);
    // The next one would have been begun by now.
    let speeds: Vec<u32> = home
        .takes()
        .iter()
        .map(|take| take.speed.0 / 1000)
        .collect();
    assert_eq!(speeds, [60, 65, 70]);
    leave(&terminal);
}

#[test]
fn a_climb_goes_back_after_two_takes_that_fall_short() {
    let home = Home::new(SHORT);
    let climb = "--climb \"60-70 by 5\" --backend silent --stand-in spread-ms=60";
    let terminal = home.play(climb);
    terminal.see(&["count-in"]);
    terminal.press(&["f"]);
    terminal.see(&["The next take is at 65 %."]);
    terminal.see(&["Once more at 65 %: ", "needed)"]);
    terminal.see(&["A step back to 60 %, as after any two takes that fall short: "]);
    terminal.see(&["count-in, bar 1 of 1", "(60 %)"]);
    leave(&terminal);
    let speeds: Vec<u32> = home
        .takes()
        .iter()
        .map(|take| take.speed.0 / 1000)
        .collect();
    assert_eq!(speeds, [60, 65, 65, 60]);
}
