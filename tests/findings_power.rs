//! The findings against a simulated player, with few takes: `benches/findings.rs` has the whole tables.

mod power;

use power::{CASES, LAYERED, MOVED, QUICK, Rates, SLOW, SWUNG, TEMPI, expected, percent, rates};

#[test]
fn at_most_one_clean_take_in_a_hundred_carries_a_finding() {
    let mut all = Rates::default();
    for line in [&LAYERED, &SWUNG, &MOVED, &TEMPI, &SLOW, &QUICK] {
        for notes in [16, 48, 120, 400] {
            let expected = expected(line, notes);
            for spread in [6, 12, 20, 30] {
                for correlation in [0.0, 0.25] {
                    let habits =
                        format!("spread-ms={spread},correlation={correlation},velocity-spread=8");
                    all.add(&rates(&expected, &habits, 8, None));
                }
            }
        }
    }
    let share = percent(all.any, all.takes);
    assert!(
        share <= 1.0,
        "{share:.2} % of {} takes: {:?}",
        all.takes,
        all.told
    );
}

#[test]
fn a_gross_habit_is_told_as_what_it_is_and_as_nothing_else() {
    const TAKES: usize = 40;
    let mut wrong = Vec::new();
    for case in CASES {
        let gross = *case.sizes.last().expect("a size");
        let rates = case.rates(gross, 120, 12.0, 0.25, TAKES);
        let found = case.found_percent(&rates);
        // One take of forty is no sign of anything; two are.
        let mistaken = case.mistaken(&rates).map_or(0.0, |(_, share)| share);
        if found < 95.0 || mistaken > 2.5 {
            wrong.push(format!("{} {gross}: {:?}", case.habit, rates.told));
        }
    }
    assert!(wrong.is_empty(), "of {TAKES} takes:\n{}", wrong.join("\n"));
}

#[test]
fn the_interval_that_is_told_holds_the_truth_in_about_95_takes_of_a_hundred() {
    let mut wrong = Vec::new();
    for case in CASES.iter().filter(|case| case.size_is_ms) {
        let size = case.sizes[case.sizes.len() - 2];
        let rates = case.rates(size, 120, 12.0, 0.25, 200);
        let intervals = case.ids.iter().filter_map(|id| rates.intervals.get(id));
        let (of, held) = intervals.fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
        // From 93 %, three standard errors of 200 takes are 4.6 %.
        if of < 180 || !(88.4..=99.5).contains(&percent(held, of)) {
            wrong.push(format!("{} {size}: {held} of {of}", case.habit));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
