//! When the notes of a line are expected: swing, ties, tempo, meters, pickups.

mod expected_line;

use expected_line::{bars, line, line_in, section, swung};
use leadsman::click::{ClickTrack, Pattern};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::line::{Gate, Line, SwingRatio, Swung, Tempo};
use leadsman::units::{Nanos, Ticks};

const MS: i64 = 1_000_000;

fn at_written_speed(line: &Line) -> Expected {
    unroll(line, Speed::WRITTEN)
}

fn onsets(line: &Line) -> Vec<i64> {
    let onset = |note: &leadsman::expected::ExpectedNote| note.onset.0;
    at_written_speed(line).notes.iter().map(onset).collect()
}

fn lengths(line: &Line) -> Vec<i64> {
    let length = |note: &leadsman::expected::ExpectedNote| note.written.0;
    at_written_speed(line).notes.iter().map(length).collect()
}

fn in_ms(nanos: &[i64]) -> Vec<i64> {
    nanos.iter().map(|ns| ns / MS).collect()
}

#[test]
fn straight_eighths_at_120_come_every_quarter_of_a_second() {
    let line = line("A1/8 A1/8 A1/8 A1/8 A1/8 A1/8 A1/8 A1/8");
    let even: Vec<i64> = (0..8).map(|n| 250 * n * MS).collect();
    assert_eq!(onsets(&line), even);
    assert_eq!(lengths(&line), [250 * MS; 8]);
}

/// Common practice: swing at 2:1 puts the upbeat on the last third of the beat. A beat at 120 lasts 500 ms.
#[test]
fn swing_at_two_to_one_puts_the_upbeat_on_the_last_third_of_the_beat() {
    let line = swung(2, 1, "A1/8 A1/8 r/2.");
    assert_eq!(onsets(&line), [0, 333_333_333]);
    assert_eq!(lengths(&line), [333_333_333, 166_666_667]);
}

#[test]
fn upbeat_clicks_of_a_swung_line_sound_where_its_upbeats_are() {
    let expected = at_written_speed(&swung(2, 1, "A1/8 A1/8 A1/8 A1/8 A1/8 A1/8 A1/8 A1/8"));
    let track = ClickTrack::new(&expected, 0, Pattern::Upbeats);
    let clicks: Vec<Nanos> = track.clicks().iter().map(|click| click.at).collect();
    let upbeats = expected.notes.iter().filter(|note| note.is.upbeat);
    assert_eq!(clicks, upbeats.map(|note| note.onset).collect::<Vec<_>>());
}

#[test]
fn swing_at_three_to_one_puts_the_upbeat_on_the_last_quarter_of_the_beat() {
    let line = swung(3, 1, "r/8 A1/8 A1/8 A1/8 r/2");
    assert_eq!(in_ms(&onsets(&line)), [375, 500, 875]);
    assert_eq!(in_ms(&lengths(&line)), [125, 375, 125]);
}

#[test]
fn a_ratio_of_one_to_one_inside_a_swung_line_is_straight() {
    let mut line = swung(2, 1, "A1/8 A1/8 r/2.");
    line.sections[0].swing = Some(SwingRatio {
        long: 1000,
        short: 1000,
    });
    assert_eq!(in_ms(&onsets(&line)), [0, 250]);
    assert!(at_written_speed(&line).notes[1].is.upbeat);
}

#[test]
fn swung_sixteenths_bend_the_eighth_and_leave_its_ends() {
    let mut line = swung(2, 1, "A1/16 A1/16 A1/16 A1/16 A1/8 A1/8 r/2");
    line.swung = Swung::Sixteenth;
    assert_eq!(
        onsets(&line),
        [0, 166_666_667, 250 * MS, 416_666_667, 500 * MS, 750 * MS]
    );
}

#[test]
fn triplets_in_swing_stay_even() {
    let line = swung(3, 1, "A1/8t A1/8t A1/8t r/4 A1/4t A1/4t A1/4t");
    assert_eq!(
        onsets(&line),
        [
            0,
            166_666_667,
            333_333_333,
            1000 * MS,
            1_333_333_333,
            1_666_666_667
        ]
    );
}

#[test]
fn a_tie_adds_lengths_and_is_struck_once() {
    let line = line("r/2. A1/8 A1/8~ | A1/4~ A1/8 D2/8 r/2");
    assert_eq!(in_ms(&onsets(&line)), [1500, 1750, 2750]);
    assert_eq!(in_ms(&lengths(&line)), [250, 1000, 250]);
    // 0.9 of the whole.
    assert_eq!(
        at_written_speed(&line).notes[1].sounding,
        Nanos::from_ms(900)
    );
}

#[test]
fn a_tie_in_swing_runs_from_bent_start_to_bent_end() {
    // From the last third of beat four to the last third of the next bar's beat one: one whole beat.
    let line = swung(2, 1, "r/2. r/8 A1/8~ | A1/8 A1/8 r/2.");
    assert_eq!(onsets(&line), [1_833_333_333, 2_333_333_333]);
    assert_eq!(lengths(&line), [500 * MS, 166_666_667]);
}

#[test]
fn a_pass_does_not_tie_into_the_next_one() {
    let mut line = line("A1/1");
    line.sections[0].passes = vec![0, 0];
    assert_eq!(in_ms(&onsets(&line)), [0, 2000]);
}

fn beats(line: &Line) -> Vec<f64> {
    let expected = at_written_speed(line);
    expected
        .notes
        .iter()
        .map(|note| expected.bars[note.bar as usize].beat_number(note.at))
        .collect()
}

fn upbeats(line: &Line) -> Vec<bool> {
    let upbeat = |note: &leadsman::expected::ExpectedNote| note.is.upbeat;
    at_written_speed(line).notes.iter().map(upbeat).collect()
}

#[test]
fn five_four_counts_quarters() {
    let line = line_in(5, 4, "A1/4. A1/8 A1/2.");
    assert_eq!(beats(&line), [1.0, 2.5, 3.0]);
    assert_eq!(upbeats(&line), [false, true, false]);
    assert_eq!(at_written_speed(&line).end, Nanos::from_ms(2500));
}

#[test]
fn six_eight_and_twelve_eight_count_dotted_quarters() {
    let six = line_in(6, 8, "A1/8 A1/8 A1/8 A1/8 A1/4");
    assert_eq!(upbeats(&six), [false, true, true, false, true]);
    let expected = at_written_speed(&six);
    // Three eighths at 120 quarters a minute.
    assert_eq!(expected.notes[0].beat, Nanos::from_ms(750));
    assert_eq!(beats(&six)[3], 2.0);

    let twelve = line_in(12, 8, "A1/4. r/4 A1/8 A1/2.");
    assert_eq!(
        beats(&twelve)
            .iter()
            .map(|b| (b * 1000.0).round())
            .collect::<Vec<_>>(),
        [1000.0, 2667.0, 3000.0]
    );
    assert_eq!(upbeats(&twelve), [false, true, false]);
}

#[test]
fn in_swing_the_short_half_is_the_upbeat() {
    let line = swung(2, 1, "A1/16 A1/16 A1/16 A1/16 A1/8 A1/8 r/2");
    assert_eq!(upbeats(&line), [false, false, true, true, false, true]);
    let mut sixteenths = line.clone();
    sixteenths.swung = Swung::Sixteenth;
    assert_eq!(
        upbeats(&sixteenths),
        [false, true, false, true, false, false]
    );
}

#[test]
fn a_pickup_comes_before_the_origin_and_once() {
    let mut line = line("G1/8 A1/8 | D2/1 | A1/1");
    line.pickup = true;
    line.sections[0].passes = vec![0, 2];
    let expected = at_written_speed(&line);
    assert_eq!(in_ms(&onsets(&line)), [-500, -250, 0, 2000, 4000, 6000]);
    let numbers: Vec<u32> = expected.bars.iter().map(|bar| bar.number).collect();
    assert_eq!(numbers, [0, 1, 2, 1, 2]);
    let pickup = &expected.bars[0];
    assert_eq!(pickup.offset, Ticks(2880));
    assert_eq!(pickup.start, Ticks(-960));
    assert_eq!(pickup.onset, Nanos::from_ms(-500));
    assert_eq!(beats(&line)[..3], [4.0, 4.5, 1.0]);
    assert_eq!(upbeats(&line)[..3], [false, true, false]);
    assert_eq!(expected.end, Nanos::from_ms(8000));
}

#[test]
fn a_pickup_swings_with_the_pairs_of_the_full_bar() {
    let mut line = swung(2, 1, "A1/8 | D2/1");
    line.pickup = true;
    assert_eq!(onsets(&line), [-166_666_667, 0]);
}

#[test]
fn a_note_tied_from_the_pickup_is_struck_in_later_passes() {
    let mut line = line("A1/4~ | A1/2 D2/2");
    line.pickup = true;
    line.sections[0].passes = vec![0, 0];
    line.sections[0].fingers = Some(vec![vec![1], vec![3]]);
    let expected = at_written_speed(&line);
    assert_eq!(in_ms(&onsets(&line)), [-500, 1000, 2000, 3000]);
    let fingers: Vec<_> = expected.notes.iter().map(|note| note.finger).collect();
    assert_eq!(fingers, [Some(1), Some(3), None, Some(3)]);
}

#[test]
fn sections_change_tempo_at_their_start() {
    let mut line = line("A1/4 A1/4 A1/4 A1/4");
    line.tempo = Tempo(126_000);
    let mut second = section("B", "A1/4 A1/4 A1/4 A1/4");
    second.tempo = Some(Tempo(123_000));
    line.sections.push(second);
    let expected = at_written_speed(&line);
    // 4 · 60 / 126 s, then 60 / 123 s a quarter.
    assert_eq!(expected.notes[4].onset, Nanos(1_904_761_905));
    assert_eq!(expected.notes[5].onset, Nanos(2_392_566_783));
    assert_eq!(expected.notes[3].beat, Nanos(476_190_476));
    assert_eq!(expected.notes[4].beat, Nanos(487_804_878));
    assert_eq!(expected.end, Nanos(3_855_981_417));
    let changes: Vec<_> = expected.tempo_map.changes().collect();
    assert_eq!(changes.len(), 2);
    assert_eq!(
        (changes[1].0, changes[1].1),
        (Ticks(3840), Nanos(1_904_761_905))
    );
    let bars: Vec<_> = expected
        .bars
        .iter()
        .map(|b| (b.number, b.section))
        .collect();
    assert_eq!(bars, [(1, 0), (2, 1)]);
}

#[test]
fn marks_set_the_gate() {
    let line = line("A1/8 A1/8' A1/8_ A1/8m x/8 A1/8> r/4");
    let sounding: Vec<i64> = at_written_speed(&line)
        .notes
        .iter()
        .map(|note| note.sounding.0 / MS)
        .collect();
    assert_eq!(sounding, [225, 125, 250, 125, 125, 225]);
}

#[test]
fn a_section_has_its_own_gate_meter_and_swing() {
    let mut line = line("A1/1");
    let mut second = section("B", "A1/8 A1/8 A1/2");
    second.gate = Some(Gate(500));
    second.meter = Some(leadsman::line::meter::Meter { upper: 3, lower: 4 });
    second.swing = Some(SwingRatio {
        long: 3000,
        short: 1000,
    });
    line.sections.push(second);
    let expected = at_written_speed(&line);
    assert_eq!(in_ms(&onsets(&line)), [0, 2000, 2375, 2500]);
    assert_eq!(expected.notes[3].sounding, Nanos::from_ms(500));
    assert_eq!(expected.end, Nanos::from_ms(3500));
}

#[test]
fn half_speed_takes_twice_as_long() {
    let mut line = swung(2, 1, "A1/8 A1/8 r/2.");
    line.sections[0].bars.extend(bars("A1/1"));
    let slow = unroll(&line, Speed(50_000));
    assert_eq!(slow.notes[1].onset, Nanos(666_666_667));
    assert_eq!(slow.end, Nanos::from_ms(8000));
}
