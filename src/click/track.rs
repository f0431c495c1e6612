//! Which beats the click sounds on, and when.

use crate::clock::frames::frame_at;
use crate::expected::{Expected, ExpectedBar};
use crate::units::{Nanos, Ticks};
use serde::Serialize;
use std::str::FromStr;

/// The clicks of a line, count-in included, in order of time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClickTrack {
    clicks: Vec<Click>,
}

/// One click.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Click {
    /// When, since bar 1 beat 1; the count-in is before it.
    pub at: Nanos,
    /// How it sounds.
    pub stress: Stress,
}

/// How a click sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stress {
    /// Beat one: higher and louder.
    Accent,
    /// Any other place.
    Plain,
    /// Between the beats of a pattern: softer.
    Between,
}

/// Which places of a bar the click sounds on. The count-in always sounds on every beat.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pattern {
    /// Every beat.
    #[default]
    Beats,
    /// Beats two and four (in longer bars every even beat).
    TwoAndFour,
    /// Beat one only.
    Bar,
    /// Between the beats: halfway, in swing on the short half, in compound meters on the last eighth.
    Upbeats,
}

/// Where the click sounds between the beats, more softly, besides its pattern; in the count-in too.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Subdivision {
    /// Nowhere.
    #[default]
    None,
    /// Halfway between two beats; in swing on the short half of the pair, in compound meters on the last eighth.
    Halves,
    /// On the thirds of a beat: triplets, or the eighths of a compound meter.
    Thirds,
    /// On the quarters of a beat.
    Quarters,
}

impl Subdivision {
    /// All of them.
    pub const ALL: [Subdivision; 4] = [
        Subdivision::None,
        Subdivision::Halves,
        Subdivision::Thirds,
        Subdivision::Quarters,
    ];

    /// What an option calls it.
    pub fn name(self) -> &'static str {
        match self {
            Subdivision::None => "none",
            Subdivision::Halves => "halves",
            Subdivision::Thirds => "thirds",
            Subdivision::Quarters => "quarters",
        }
    }

    /// How far after a beat: ticks, and what they are divided by.
    fn after(self, bar: &ExpectedBar) -> impl Iterator<Item = (Ticks, i64)> + use<> {
        let (upbeat, beat) = (bar.upbeat, bar.beat);
        let parts = match self {
            Subdivision::None => 1,
            Subdivision::Halves => 2,
            Subdivision::Thirds => 3,
            Subdivision::Quarters => 4,
        };
        (1..parts).map(move |part| match parts {
            2 => upbeat,
            parts => (Ticks(part * beat.0), parts),
        })
    }
}

/// The text names no subdivision.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("write none, halves, thirds or quarters")]
pub struct NotASubdivision;

impl FromStr for Subdivision {
    type Err = NotASubdivision;

    fn from_str(text: &str) -> Result<Subdivision, NotASubdivision> {
        let named = |one: &Subdivision| one.name() == text;
        Subdivision::ALL
            .into_iter()
            .find(named)
            .ok_or(NotASubdivision)
    }
}

impl Pattern {
    /// All of them.
    pub const ALL: [Pattern; 4] = [
        Pattern::Beats,
        Pattern::TwoAndFour,
        Pattern::Bar,
        Pattern::Upbeats,
    ];

    /// Where the click is, for the player: `on two and four`.
    pub fn words(self) -> &'static str {
        match self {
            Pattern::Beats => "on every beat",
            Pattern::TwoAndFour => "on two and four",
            Pattern::Bar => "on beat one",
            Pattern::Upbeats => "between the beats",
        }
    }

    /// What `--click` calls it.
    pub fn name(self) -> &'static str {
        match self {
            Pattern::Beats => "beats",
            Pattern::TwoAndFour => "two-and-four",
            Pattern::Bar => "bar",
            Pattern::Upbeats => "upbeats",
        }
    }
}

impl ClickTrack {
    /// The clicks of `expected` in a pattern, after `count_in` bars in the first section's meter and tempo.
    ///
    /// The count-in ends where bar 1 begins, so a pickup falls inside its last bar. Without a count-in a pickup has
    /// the clicks of its own beats. Silent bars have none, and a line without bars has none either.
    pub fn new(expected: &Expected, count_in: u32, pattern: Pattern) -> ClickTrack {
        ClickTrack::subdivided(expected, count_in, pattern, Subdivision::None)
    }

    /// The same with clicks between the beats; where the pattern has one already, it stays as it is.
    pub fn subdivided(
        expected: &Expected,
        count_in: u32,
        pattern: Pattern,
        between: Subdivision,
    ) -> ClickTrack {
        let mut track = ClickTrack { clicks: Vec::new() };
        let Some(first) = expected.bars.first() else {
            return track;
        };
        track.count_in(expected, first, count_in, between);
        let counted = |bar: &&ExpectedBar| count_in == 0 || bar.start >= Ticks(0);
        let heard = |bar: &&ExpectedBar| !bar.silent;
        for bar in expected.bars.iter().filter(counted).filter(heard) {
            track.bar(expected, bar, pattern);
            track.divide(expected, bar, bar.start, between);
        }
        track
            .clicks
            .sort_by_key(|click| (click.at, click.stress == Stress::Between));
        track.clicks.dedup_by_key(|click| click.at);
        track
    }

    /// The clicks in order of time.
    pub fn clicks(&self) -> &[Click] {
        &self.clicks
    }

    /// When the first click sounds, since bar 1 beat 1; usually negative. 0 when there is none.
    pub fn start(&self) -> Nanos {
        self.clicks.first().map_or(Nanos::ZERO, |click| click.at)
    }

    /// The frame of bar 1 beat 1, when the first click (or bar 1 beat 1, if that is earlier) shall come `lead` after
    /// the stream's start.
    pub fn origin_frame(&self, lead: Nanos, sample_rate: u32) -> u64 {
        let before = Nanos(self.start().0.min(0));
        u64::try_from(frame_at(lead - before, sample_rate)).unwrap_or(0)
    }

    /// The stream's frame of each click when bar 1 beat 1 is at `origin_frame`: `origin_frame + round(time × rate)`.
    /// A click before the stream's start is at frame 0.
    pub fn frames(&self, origin_frame: u64, sample_rate: u32) -> impl Iterator<Item = u64> + '_ {
        self.clicks()
            .iter()
            .map(move |click| origin_frame.saturating_add_signed(frame_at(click.at, sample_rate)))
    }

    fn count_in(
        &mut self,
        expected: &Expected,
        first: &ExpectedBar,
        bars: u32,
        between: Subdivision,
    ) {
        // A pickup knows how far into its full bar it starts, and it ends with that bar.
        let full = first.offset + first.length;
        for bar in (1..=i64::from(bars)).rev() {
            let start = Ticks(-bar * full.0);
            for beat in beats(first.beat, full) {
                self.push(expected, start + beat, 1, stress(beat));
            }
            let whole = ExpectedBar {
                offset: Ticks(0),
                length: full,
                ..first.clone()
            };
            self.divide(expected, &whole, start, between);
        }
    }

    /// The clicks between the beats of a bar that begins at `start`.
    fn divide(
        &mut self,
        expected: &Expected,
        bar: &ExpectedBar,
        start: Ticks,
        between: Subdivision,
    ) {
        let full = bar.offset + bar.length;
        for beat in beats(bar.beat, full) {
            for (after, divisor) in between.after(bar) {
                let into_bar = divisor * beat.0 + after.0;
                if (divisor * bar.offset.0..divisor * full.0).contains(&into_bar) {
                    let over = Ticks(divisor * (start - bar.offset).0 + into_bar);
                    self.push(expected, over, divisor, Stress::Between);
                }
            }
        }
    }

    fn bar(&mut self, expected: &Expected, bar: &ExpectedBar, pattern: Pattern) {
        let full_start = bar.start - bar.offset;
        for (index, beat) in beats(bar.beat, bar.offset + bar.length).enumerate() {
            let sounds = match pattern {
                Pattern::Beats | Pattern::Upbeats => true,
                Pattern::TwoAndFour => index % 2 == 1,
                Pattern::Bar => index == 0,
            };
            let ((after, divisor), stress) = match pattern {
                Pattern::Upbeats => (bar.upbeat, Stress::Plain),
                _ => ((Ticks(0), 1), stress(beat)),
            };
            if sounds && divisor * beat.0 + after.0 >= divisor * bar.offset.0 {
                let over = Ticks(divisor * (full_start + beat).0) + after;
                self.push(expected, over, divisor, stress);
            }
        }
    }

    fn push(&mut self, expected: &Expected, over: Ticks, divisor: i64, stress: Stress) {
        let at = expected
            .tempo_map
            .time_at(i128::from(over.0), i128::from(divisor));
        self.clicks.push(Click { at, stress });
    }
}

fn beats(beat: Ticks, full: Ticks) -> impl Iterator<Item = Ticks> {
    (0..full.0).step_by(beat.0.max(1) as usize).map(Ticks)
}

fn stress(beat: Ticks) -> Stress {
    if beat == Ticks(0) {
        Stress::Accent
    } else {
        Stress::Plain
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::{Rate, Speed, TempoMap};
    use crate::line::Tempo;
    use crate::line::meter::Meter;

    fn bar(number: u32, start: i64, upper: u8, lower: u8) -> ExpectedBar {
        let meter = Meter { upper, lower };
        ExpectedBar {
            section: 0,
            pass: 1,
            number,
            onset: Nanos::ZERO,
            end: Nanos::ZERO,
            beat: meter.beat(),
            start: Ticks(start),
            length: meter.bar(),
            offset: Ticks(0),
            upbeat: if meter.is_compound() {
                (Ticks(960), 1)
            } else {
                (meter.beat(), 2)
            },
            silent: false,
        }
    }

    fn line_at(bpm: u32, bars: Vec<ExpectedBar>) -> Expected {
        Expected {
            notes: vec![],
            bars,
            sections: vec!["A".into()],
            strings: vec![],
            open: vec![],
            tempo_map: TempoMap::new(Rate::new(Tempo(bpm * 1000), Speed::WRITTEN)),
            end: Nanos::ZERO,
        }
    }

    fn times_ms(track: &ClickTrack) -> Vec<i64> {
        let ms = |click: &Click| click.at.0 / 1_000_000;
        track.clicks().iter().map(ms).collect()
    }

    #[test]
    fn one_bar_of_count_in_comes_before_bar_one() {
        let track = ClickTrack::new(&line_at(120, vec![bar(1, 0, 3, 4)]), 1, Pattern::Beats);
        assert_eq!(times_ms(&track), [-1500, -1000, -500, 0, 500, 1000]);
        let accents = track.clicks().iter().map(|c| c.stress == Stress::Accent);
        assert_eq!(
            accents.collect::<Vec<_>>(),
            [true, false, false, true, false, false]
        );
    }

    #[test]
    fn a_pickup_falls_inside_the_last_count_in_bar() {
        let mut pickup = bar(0, -960, 4, 4);
        (pickup.length, pickup.offset) = (Ticks(960), Ticks(2880));
        let line = line_at(60, vec![pickup, bar(1, 0, 4, 4)]);
        let counted = ClickTrack::new(&line, 1, Pattern::Bar);
        assert_eq!(times_ms(&counted), [-4000, -3000, -2000, -1000, 0]);
        let uncounted = ClickTrack::new(&line, 0, Pattern::Beats);
        assert_eq!(times_ms(&uncounted), [-1000, 0, 1000, 2000, 3000]);
        assert_eq!(uncounted.clicks()[0].stress, Stress::Plain);
    }

    #[test]
    fn two_and_four_has_no_accent() {
        let track = ClickTrack::new(&line_at(60, vec![bar(1, 0, 4, 4)]), 0, Pattern::TwoAndFour);
        assert_eq!(times_ms(&track), [1000, 3000]);
        assert!(track.clicks().iter().all(|c| c.stress == Stress::Plain));
    }

    #[test]
    fn upbeats_are_halfway_or_on_the_last_eighth_of_a_dotted_beat() {
        let simple = ClickTrack::new(&line_at(60, vec![bar(1, 0, 2, 4)]), 0, Pattern::Upbeats);
        assert_eq!(times_ms(&simple), [500, 1500]);
        // 6/8 at 60 quarters a minute: a dotted quarter lasts 1.5 s, its last eighth starts after 1 s.
        let compound = ClickTrack::new(&line_at(60, vec![bar(1, 0, 6, 8)]), 0, Pattern::Upbeats);
        assert_eq!(times_ms(&compound), [1000, 2500]);
    }

    #[test]
    fn twelve_eight_clicks_four_dotted_quarters() {
        let track = ClickTrack::new(&line_at(60, vec![bar(1, 0, 12, 8)]), 0, Pattern::Beats);
        assert_eq!(times_ms(&track), [0, 1500, 3000, 4500]);
    }

    #[test]
    fn clicks_follow_a_tempo_change() {
        let mut line = line_at(120, vec![bar(1, 0, 4, 4), bar(2, 3840, 4, 4)]);
        line.tempo_map
            .change(Ticks(3840), Rate::new(Tempo(60_000), Speed::WRITTEN));
        let track = ClickTrack::new(&line, 0, Pattern::Beats);
        assert_eq!(
            times_ms(&track),
            [0, 500, 1000, 1500, 2000, 3000, 4000, 5000]
        );
    }

    #[test]
    fn the_first_click_comes_a_lead_after_the_stream_starts() {
        let track = ClickTrack::new(&line_at(120, vec![bar(1, 0, 4, 4)]), 1, Pattern::Beats);
        assert_eq!(
            track.origin_frame(Nanos::from_ms(250), 48_000),
            48_000 * 9 / 4
        );
    }

    #[test]
    fn beats_are_divided_as_the_line_swings_and_the_count_in_alike() {
        let mut swung = bar(1, 0, 2, 4);
        swung.upbeat = (Ticks(1920), 3);
        let line = line_at(60, vec![swung]);
        let times = |between| {
            let track = ClickTrack::subdivided(&line, 1, Pattern::Beats, between);
            let softer = track
                .clicks()
                .iter()
                .filter(|c| c.stress == Stress::Between);
            (times_ms(&track), softer.count())
        };
        let halves = vec![-2000, -1334, -1000, -334, 0, 666, 1000, 1666];
        let (at, softer) = times(Subdivision::Halves);
        assert!(
            at.iter()
                .zip(&halves)
                .all(|(at, half)| (at - half).abs() <= 1)
        );
        assert_eq!((at.len(), softer), (8, 4));
        assert_eq!(times(Subdivision::Thirds).1, 8);
        let (at, softer) = times(Subdivision::Quarters);
        assert_eq!(
            (&at[..5], softer),
            (&[-2000, -1750, -1500, -1250, -1000][..], 12)
        );
        assert_eq!(times(Subdivision::None), (vec![-2000, -1000, 0, 1000], 0));
    }

    #[test]
    fn a_place_that_the_pattern_has_is_clicked_once() {
        let line = line_at(60, vec![bar(1, 0, 2, 4)]);
        let track = ClickTrack::subdivided(&line, 0, Pattern::Upbeats, Subdivision::Halves);
        assert_eq!(times_ms(&track), [500, 1500]);
        assert!(track.clicks().iter().all(|c| c.stress == Stress::Plain));
    }

    #[test]
    fn a_pickup_is_divided_from_where_it_starts() {
        let mut pickup = bar(0, -960, 4, 4);
        (pickup.length, pickup.offset) = (Ticks(960), Ticks(2880));
        let line = line_at(60, vec![pickup, bar(1, 0, 1, 4)]);
        let track = ClickTrack::subdivided(&line, 0, Pattern::Beats, Subdivision::Halves);
        assert_eq!(times_ms(&track), [-1000, -500, 0, 500]);
        let counted = ClickTrack::subdivided(&line, 1, Pattern::Bar, Subdivision::Halves);
        assert_eq!(
            times_ms(&counted)[..8],
            [-4000, -3500, -3000, -2500, -2000, -1500, -1000, -500]
        );
    }

    #[test]
    fn silent_bars_have_no_clicks_and_the_count_in_keeps_its_own() {
        let bars = (0..4).map(|n| bar(n as u32 + 1, 3840 * n, 4, 4)).collect();
        let mut line = line_at(60, bars);
        line.silence("1:1".parse().expect("a silence"));
        let track = ClickTrack::new(&line, 1, Pattern::Bar);
        assert_eq!(times_ms(&track), [-4000, -3000, -2000, -1000, 0, 8000]);
    }

    #[test]
    fn a_line_without_bars_has_no_clicks() {
        let track = ClickTrack::new(&line_at(120, vec![]), 2, Pattern::Beats);
        assert!(track.clicks().is_empty());
        assert_eq!(track.start(), Nanos::ZERO);
    }
}
