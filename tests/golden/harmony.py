#!/usr/bin/env python3
"""Writes harmony.json: scales, degrees, signatures and chord tones as music21 10.5.1 has them (PyPI, BSD).

    python3 tests/golden/harmony.py

- scales: for each mode and each tonic whose signature has at most seven accidentals "TONIC SHARPS NOTES...". Melodic
  minor is the ascending form; the two altered minors have the signature of minor.
- degrees: for each of the fifteen major tonics, the degrees (`getScaleDegreeAndAccidentalFromPitch`) of all 35 notes
  from Cbb Cb C C# C## to B##.
- chords: figures on C, Db and F#, tones in music21's order. Left out: figures that music21 cannot read; `4`, which it
  takes for two notes; `69`, of which it reads two tones; and an altered ninth or eleventh in a thirteenth chord, which it ignores. Those are checked by
  hand in src/line/chord_tones.rs.
"""

import json
import warnings
from pathlib import Path

from music21 import harmony, key, pitch, scale

warnings.simplefilter("ignore")
LETTERS = "CDEFGAB"
NOTES = [letter + accidental for letter in LETTERS for accidental in ("--", "-", "", "#", "##")]
# Mode: its scale, and the mode that names its signature.
MODES = {
    "major": (scale.MajorScale, "major"),
    "ionian": (scale.MajorScale, "ionian"),
    "minor": (scale.MinorScale, "minor"),
    "aeolian": (scale.MinorScale, "aeolian"),
    "harmonic minor": (scale.HarmonicMinorScale, "minor"),
    "melodic minor": (scale.MelodicMinorScale, "minor"),
    "dorian": (scale.DorianScale, "dorian"),
    "phrygian": (scale.PhrygianScale, "phrygian"),
    "lydian": (scale.LydianScale, "lydian"),
    "mixolydian": (scale.MixolydianScale, "mixolydian"),
    "locrian": (scale.LocrianScale, "locrian"),
}
FIGURES = (
    ",maj,M,m,min,dim,o,aug,+,sus,sus2,sus4,5,6,m6,7,m7,min7,maj7,M7,mM7,dim7,o7,m7b5,ø7,+7,aug7,7+,7#5,7b5,"
    "maj7#5,+M7,maj7b5,9,m9,M9,11,m11,13,m13,7b9,7#9,7#11,7b13,9#11,9b5,9#5,maj7#11,m7b9,m9b5,m11b5,7b5b9,7#5#9,"
    "7b9#9,7b9b13,7#9b13,7#9#5,add9,madd9,add2,add4,add11,7add13,m7add11,7sus4,7sus,7sus4b9,omit3,7omit3,mb6,dim9,"
    "ø9,m7#5"
).split(",")


def ours(name):
    return name.replace("-", "b")


def scales():
    for mode, (kind, signature) in MODES.items():
        for tonic in NOTES:
            sharps = key.Key(tonic, signature).sharps
            if abs(sharps) > 7:
                continue
            found = kind(tonic)
            low = pitch.Pitch(tonic + "3")
            degrees = found.getPitches(low, low.transpose("P8"), direction=scale.Direction.ASCENDING)[:7]
            yield mode, " ".join([ours(tonic), str(sharps), *(ours(note.name) for note in degrees)])


def degree(major, note):
    number, accidental = major.getScaleDegreeAndAccidentalFromPitch(pitch.Pitch(note))
    alter = int(accidental.alter) if accidental else 0
    return ("#" if alter > 0 else "b") * abs(alter) + str(number)


def main():
    by_mode = {}
    for mode, row in scales():
        by_mode.setdefault(mode, []).append(row)
    tonics = [row.split()[0] for row in by_mode["major"]]
    degrees = {}
    for tonic in tonics:
        major = scale.MajorScale(tonic.replace("b", "-"))
        degrees[tonic] = " ".join(degree(major, note) for note in NOTES)
    chords = {}
    for figure in FIGURES:
        chords[figure] = [
            " ".join(ours(note.name) for note in harmony.ChordSymbol(root + figure).pitches)
            for root in ("C", "D-", "F#")
        ]
    golden = {"scales": by_mode, "degrees": degrees, "chords": chords}
    text = json.dumps(golden, ensure_ascii=False, indent=1)
    (Path(__file__).parent / "harmony.json").write_text(text + "\n")


main()
