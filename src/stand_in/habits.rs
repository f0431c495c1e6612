//! The habits of the simulated player.

/// How the stand-in differs from the expected notes. [`Habits::default`] does not differ at all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habits {
    /// Steady mean offset in ms; negative is early.
    pub mean_ms: f64,
    /// Standard deviation of the offsets in ms.
    pub spread_ms: f64,
    /// Correlation of each offset's chance part with the one before, 0 to 0.95; the spread stays as it is.
    pub correlation: f64,
    /// How much the player's own tempo lies above the click's, in percent: positive rushes, so that the offset
    /// falls by this share of the time since bar 1 beat 1.
    pub drift_percent: f64,
    /// Extra offset of entries in ms; negative is early.
    pub late_entries_ms: f64,
    /// Extra offset of upbeats in ms; negative rushes them. An entry on an upbeat gets both.
    pub upbeats_ms: f64,
    /// How long a note rings past the next one's onset, or into the rest after it, when the hand then jumps: to
    /// another string where the line names both, else by five semitones or more. In ms.
    pub ring_over_ms: f64,
    /// How long every note before a rest rings into it, in ms.
    pub rests_ring_ms: f64,
    /// Factor on the sounding length of every note; 1 plays them as long as expected.
    pub short_notes: f64,
    /// Share of notes played a semitone up or down, 0 to 1.
    pub wrong_frets: f64,
    /// Share of notes not played, 0 to 1.
    pub dropped: f64,
    /// Share of strikes after which a note sounds that the line does not have, 0 to 1.
    pub extra: f64,
    /// Delay of every event in ms, as a converter adds it.
    pub latency_fixed_ms: f64,
    /// Further delay in periods of the note's fundamental: a low string comes later than a high one.
    pub latency_periods: f64,
    /// Standard deviation of the velocities.
    pub velocity_spread: f64,
    /// Share of notes that a converter first guesses an octave off, 0 to 1. This and the shares below exclude each other.
    pub octave_glitches: f64,
    /// Share of notes that it reports twice.
    pub doubled_notes: f64,
    /// Share of notes that are slid into and come as a run of semitones.
    pub slide_steps: f64,
    /// Share of notes that it splits in two where the string is bent.
    pub bend_splits: f64,
    /// Share of notes with a short soft note in them that nobody played.
    pub ghost_triggers: f64,
    /// Share of notes whose end it never sends.
    pub missing_offs: f64,
    /// 1: each string has a channel of its own; 0: all are on one.
    pub string_channels: f64,
    /// Factor on the long : short ratio of every swung pair: under 1 is flatter than written, over 1 wider. What begins
    /// inside the pair moves, its ends stay; straight pairs stay altogether.
    pub swing_factor: f64,
    /// Extra offset of skips in ms, on top of that of upbeats.
    pub skips_ms: f64,
    /// After a change of tempo, for how many beats of the line the old one is kept. Then the player gets back to the
    /// click evenly over four beats, or over more where they would have to play at more than twice the tempo.
    pub old_tempo_beats: f64,
    /// As `drift_percent`, but in the second, fourth, … section alone and counted from its start: every section begins
    /// in place, and what a dragging one has not reached by then is left out.
    pub section_drift_percent: f64,
    /// How many beats the middle phrase is played late (early: negative): the eight beats from the start of the middle
    /// bar, the one of n full bars that n / 2 bars come before. What it covers of the rest is left out.
    pub late_phrase_beats: f64,
    /// 1: the middle bar is left out and the two after it come a bar early; then a bar's wait, and in place again.
    pub skipped_bar: f64,
    /// 1: the middle bar is played twice and the two after it come a bar late; what they cover is left out, and the
    /// rest is in place again. The second time through is extra notes.
    pub repeated_bar: f64,
    /// Standard deviation of a further offset in bars 4, 8, 12, … of the line, in ms.
    pub rough_bars_ms: f64,
    /// In silent bars, standard deviation of the beat of the player's own clock, in ms.
    pub clock_ms: f64,
    /// In silent bars, standard deviation of the hand's delay behind that clock, in ms.
    pub hand_ms: f64,
    /// Extra offset of up-strokes in ms, where the line has strokes.
    pub up_strokes_ms: f64,
    /// Factor on the sounding length of up-strokes.
    pub up_strokes_length: f64,
    /// What is added to the velocity of up-strokes.
    pub up_strokes_velocity: f64,
    /// Extra offset in ms of a note on another string than the one before, or five semitones or more away where the
    /// line does not name both strings.
    pub crossings_ms: f64,
    /// Extra offset in ms of a fretted note more than three frets from the last fretted one, where the line names
    /// strings. Open strings need no hand and move none.
    pub shifts_ms: f64,
    /// Extra offset in ms of notes for the fourth finger, where the line has fingers.
    pub fourth_finger_ms: f64,
    /// How much longer notes marked short or muted sound, in ms, until the next strike at most.
    pub mutes_open_ms: f64,
    /// Factor on the sounding lengths for each 10 % by which a place is faster than the line's slowest tempo.
    pub fast_notes_short: f64,
    /// Share of notes an octave up or down, 0 to 1; in the other direction where the instrument has no such key, or
    /// where another note of a double stop has it.
    pub octave_slips: f64,
    /// Share of notes at the same fret on the next string up or down, 0 to 1; a fourth away where the line does not name
    /// the string. In the other direction as above. A note that slips an octave slips no string.
    pub next_string: f64,
    /// 1: every flat seventh of the key is played as the natural one.
    pub raised_sevenths: f64,
    /// 1: every minor third of the key is played as the major one.
    pub major_thirds: f64,
    /// 1: the first two bars of a pass in another key than the pass before are played in the old one.
    pub old_key: f64,
}

impl Default for Habits {
    fn default() -> Habits {
        Habits {
            mean_ms: 0.0,
            spread_ms: 0.0,
            correlation: 0.0,
            drift_percent: 0.0,
            late_entries_ms: 0.0,
            upbeats_ms: 0.0,
            ring_over_ms: 0.0,
            rests_ring_ms: 0.0,
            short_notes: 1.0,
            wrong_frets: 0.0,
            dropped: 0.0,
            extra: 0.0,
            latency_fixed_ms: 0.0,
            latency_periods: 0.0,
            velocity_spread: 0.0,
            octave_glitches: 0.0,
            doubled_notes: 0.0,
            slide_steps: 0.0,
            bend_splits: 0.0,
            ghost_triggers: 0.0,
            missing_offs: 0.0,
            string_channels: 0.0,
            swing_factor: 1.0,
            skips_ms: 0.0,
            old_tempo_beats: 0.0,
            section_drift_percent: 0.0,
            late_phrase_beats: 0.0,
            skipped_bar: 0.0,
            repeated_bar: 0.0,
            rough_bars_ms: 0.0,
            clock_ms: 0.0,
            hand_ms: 0.0,
            up_strokes_ms: 0.0,
            up_strokes_length: 1.0,
            up_strokes_velocity: 0.0,
            crossings_ms: 0.0,
            shifts_ms: 0.0,
            fourth_finger_ms: 0.0,
            mutes_open_ms: 0.0,
            fast_notes_short: 1.0,
            octave_slips: 0.0,
            next_string: 0.0,
            raised_sevenths: 0.0,
            major_thirds: 0.0,
            old_key: 0.0,
        }
    }
}

/// A habit as text names it.
pub(super) struct Named {
    pub(super) name: &'static str,
    pub(super) unit: &'static str,
    pub(super) lowest: f64,
    pub(super) highest: f64,
    pub(super) place: fn(&mut Habits) -> &mut f64,
}

macro_rules! named {
    ($($name:literal $unit:literal $lowest:literal $highest:literal $field:ident,)*) => {
        &[$(Named {
            name: $name,
            unit: $unit,
            lowest: $lowest,
            highest: $highest,
            place: |habits| &mut habits.$field,
        },)*]
    };
}

pub(super) const NAMED: &[Named] = named! {
    "mean-ms" "ms" -500.0 500.0 mean_ms,
    "spread-ms" "ms" 0.0 200.0 spread_ms,
    "correlation" "0 to 0.95" 0.0 0.95 correlation,
    "drift-percent" "%" -20.0 20.0 drift_percent,
    "late-entries-ms" "ms" -500.0 500.0 late_entries_ms,
    "upbeats-ms" "ms" -500.0 500.0 upbeats_ms,
    "ring-over-ms" "ms" 0.0 5000.0 ring_over_ms,
    "rests-ring-ms" "ms" 0.0 5000.0 rests_ring_ms,
    "short-notes" "factor" 0.05 1.0 short_notes,
    "wrong-frets" "share" 0.0 1.0 wrong_frets,
    "dropped" "share" 0.0 1.0 dropped,
    "extra" "share" 0.0 1.0 extra,
    "latency-fixed-ms" "ms" 0.0 500.0 latency_fixed_ms,
    "latency-periods" "periods" 0.0 10.0 latency_periods,
    "velocity-spread" "velocity" 0.0 60.0 velocity_spread,
    "octave-glitches" "share" 0.0 1.0 octave_glitches,
    "doubled-notes" "share" 0.0 1.0 doubled_notes,
    "slide-steps" "share" 0.0 1.0 slide_steps,
    "bend-splits" "share" 0.0 1.0 bend_splits,
    "ghost-triggers" "share" 0.0 1.0 ghost_triggers,
    "missing-offs" "share" 0.0 1.0 missing_offs,
    "string-channels" "0 or 1" 0.0 1.0 string_channels,
    "swing-factor" "factor" 0.4 2.5 swing_factor,
    "skips-ms" "ms" -500.0 500.0 skips_ms,
    "old-tempo-beats" "beats" 0.0 32.0 old_tempo_beats,
    "section-drift-percent" "%" -20.0 20.0 section_drift_percent,
    "late-phrase-beats" "beats" -2.0 2.0 late_phrase_beats,
    "skipped-bar" "0 or 1" 0.0 1.0 skipped_bar,
    "repeated-bar" "0 or 1" 0.0 1.0 repeated_bar,
    "rough-bars-ms" "ms" 0.0 200.0 rough_bars_ms,
    "clock-ms" "ms" 0.0 200.0 clock_ms,
    "hand-ms" "ms" 0.0 200.0 hand_ms,
    "up-strokes-ms" "ms" -500.0 500.0 up_strokes_ms,
    "up-strokes-length" "factor" 0.05 2.0 up_strokes_length,
    "up-strokes-velocity" "velocity" -60.0 60.0 up_strokes_velocity,
    "crossings-ms" "ms" -500.0 500.0 crossings_ms,
    "shifts-ms" "ms" -500.0 500.0 shifts_ms,
    "fourth-finger-ms" "ms" -500.0 500.0 fourth_finger_ms,
    "mutes-open-ms" "ms" 0.0 5000.0 mutes_open_ms,
    "fast-notes-short" "factor" 0.3 1.0 fast_notes_short,
    "octave-slips" "share" 0.0 1.0 octave_slips,
    "next-string" "share" 0.0 1.0 next_string,
    "raised-sevenths" "0 or 1" 0.0 1.0 raised_sevenths,
    "major-thirds" "0 or 1" 0.0 1.0 major_thirds,
    "old-key" "0 or 1" 0.0 1.0 old_key,
};
