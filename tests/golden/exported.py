#!/usr/bin/env python3
"""Writes exported/*.mxl, exported/*.mid and exported/notes.json: what other readers find in the files that leadsman exports.

    cargo build && python3 tests/golden/exported.py

Every line of lines/ and of tests/golden/exported/ is exported by target/debug/leadsman. The MusicXML is held against the W3C
schema (musicxml_valid.py) and read by music21 10.5.1 (PyPI, BSD), the MIDI file by mido 1.3.3 (PyPI, MIT). The files are
kept so that tests/export_golden.rs can tell whether leadsman still writes the same.

notes.json has for each line
- "musicxml": the sounding notes that music21 reads, repeats expanded, ties joined: [key, onset, length], both in quarters
  from the first bar as "numerator/denominator"; the key of an x note head is null. As written: music21 knows no swing.
- "midi": the notes that mido reads: [on tick, off tick, key, velocity]; "tempi", "meters", "keys", "markers": [tick, what].
"""

import json
import subprocess
import sys
import tempfile
import warnings
import zipfile
from collections import defaultdict, deque
from fractions import Fraction
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
HERE = Path(__file__).parent / "exported"
# `statistics.py` beside this file is not the library of that name.
sys.path = [entry for entry in sys.path if Path(entry or ".").resolve() != Path(__file__).parent.resolve()]

import mido
from music21 import chord, converter, harmony, stream


def export(line, to):
    command = [ROOT / "target/debug/leadsman", "export", line, "--to", to, "--force"]
    subprocess.run(command, check=True, capture_output=True)


def quarters(number):
    number = Fraction(number).limit_denominator(10000)
    return f"{number.numerator}/{number.denominator}"


def heads(element):
    if isinstance(element, harmony.Harmony):
        return []
    notes = list(element.notes) if isinstance(element, chord.ChordBase) else [element]
    return [(None if n.notehead == "x" else n.pitch.midi, n.tie.type if n.tie else None) for n in notes]


def read_musicxml(path):
    score = converter.parse(path, forceSource=True)
    part = score.parts[0].toSoundingPitch()
    if any(m.leftBarline or m.rightBarline for m in part.getElementsByClass(stream.Measure)):
        part = part.expandRepeats()
    found, held = [], {}
    for measure in part.getElementsByClass(stream.Measure):
        for element in measure.notes:
            onset = Fraction(measure.offset).limit_denominator(10000) + Fraction(element.offset).limit_denominator(10000)
            length = Fraction(element.quarterLength).limit_denominator(10000)
            for key, tie in heads(element):
                if tie in ("stop", "continue") and key in held:
                    held[key][2] += length
                else:
                    held[key] = [key, onset, length]
                    found.append(held[key])
                if tie not in ("start", "continue"):
                    del held[key]
    found.sort(key=lambda note: (note[1], -1 if note[0] is None else note[0]))
    return [[key, quarters(onset), quarters(length)] for key, onset, length in found]


def read_midi(path):
    midi = mido.MidiFile(path)
    read = {"division": midi.ticks_per_beat, "notes": [], "tempi": [], "meters": [], "keys": [], "markers": []}
    open_notes = defaultdict(deque)
    for track in midi.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity > 0:
                row = [tick, None, message.note, message.velocity]
                read["notes"].append(row)
                open_notes[message.channel, message.note].append(row)
            elif message.type in ("note_on", "note_off"):
                open_notes[message.channel, message.note].popleft()[1] = tick
            elif message.type == "set_tempo":
                read["tempi"].append([tick, message.tempo])
            elif message.type == "time_signature":
                read["meters"].append([tick, f"{message.numerator}/{message.denominator}"])
            elif message.type == "key_signature":
                read["keys"].append([tick, message.key])
            elif message.type == "marker":
                # mido reads texts as Latin-1; they are UTF-8.
                read["markers"].append([tick, message.text.encode("latin-1").decode()])
    return read


def main():
    warnings.simplefilter("ignore")
    rows, plain = [], []
    folder = tempfile.TemporaryDirectory()
    for line in sorted((ROOT / "lines").glob("*.toml")) + sorted(HERE.glob("*.toml")):
        mxl, mid = HERE / f"{line.stem}.mxl", HERE / f"{line.stem}.mid"
        export(line, mxl)
        export(line, mid)
        text = Path(folder.name) / f"{line.stem}.musicxml"
        text.write_bytes(zipfile.ZipFile(mxl).read("score.musicxml"))
        plain.append(text)
        rows.append(f'  "{line.stem}": ' + json.dumps({"musicxml": read_musicxml(mxl), "midi": read_midi(mid)}))
    (HERE / "notes.json").write_text("{\n" + ",\n".join(rows) + "\n}\n")
    print(len(rows), "lines")
    subprocess.run([sys.executable, Path(__file__).parent / "musicxml_valid.py", *plain], check=True)
    folder.cleanup()


if __name__ == "__main__":
    main()
