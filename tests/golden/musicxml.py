#!/usr/bin/env python3
"""Writes musicxml/*.mxl and musicxml/notes.json: what music21 10.5.1 (PyPI, BSD) reads in the test suite that it carries.

    python3 tests/golden/musicxml.py

The suite is `music21/musicxml/lilypondTestSuite/` of that package (MIT, see musicxml/LICENCE.md). Each file is packed as
compressed MusicXML, its text unchanged but for two things: `lyric` elements are left out, and so is the one file that
holds bars of a real piece (21d).

notes.json has for each file: staves of the first part; whether music21 could expand its repeats ("expanded", "none",
"refused"); bars after that; and the notes of the first part, first voice: [key or null for a dead note, onset], onset
in quarters as "numerator/denominator", ties joined, grace notes and chord symbols left out.
"""

import json
import re
import sys
import tempfile
import warnings
import zipfile
from fractions import Fraction
from pathlib import Path

# `statistics.py` beside this file is not the library of that name.
sys.path = [entry for entry in sys.path if Path(entry or ".").resolve() != Path(__file__).parent.resolve()]

import music21
from music21 import chord, converter, harmony, note, stream

HERE = Path(__file__).parent / "musicxml"
SUITE = Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite"
LEFT_OUT = ["21d-Chords-SchubertStabatMater.xml"]
CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>\n'
)


def text_of(path):
    if path.suffix == ".mxl":
        with zipfile.ZipFile(path) as archive:
            names = [n for n in archive.namelist() if not n.startswith("META-INF") and n.endswith("xml")]
            return archive.read(names[0])
    return path.read_bytes()


def pack(text, path):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, content in [("META-INF/container.xml", CONTAINER.encode()), ("score.xml", text)]:
            entry = zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, content)


def expand(part):
    bars = len(part.getElementsByClass(stream.Measure))
    try:
        expanded = part.expandRepeats()
    except Exception:
        return part, "refused", bars
    after = len(expanded.getElementsByClass(stream.Measure))
    return expanded, "expanded" if after != bars else "none", after


def first_voice(part):
    """Notes and chords of the first voice, with their onsets in the part."""
    found = []
    for measure in part.getElementsByClass(stream.Measure):
        voices = list(measure.voices)
        inside = voices[0] if voices else measure
        offset = Fraction(measure.offset) + (Fraction(inside.offset) if voices else 0)
        for element in inside.notes:
            found.append((offset + Fraction(element.offset), element))
    return found


def keys(element):
    if isinstance(element, harmony.Harmony) or element.duration.isGrace:
        return []
    if isinstance(element, note.Unpitched):
        return [(None, element.tie)]
    heads = list(element.notes) if isinstance(element, chord.ChordBase) else [element]
    if all(head.notehead == "x" or isinstance(head, note.Unpitched) for head in heads):
        return [(None, None)]
    heads = [head for head in heads if head.notehead != "x" and isinstance(head, note.Note)]
    # music21 keeps quarter tones apart from the key.
    return [(round(head.pitch.ps) if head.pitch.ps % 1 != 0.5 else None, head.tie) for head in heads]


def notes(part):
    found = []
    sounding = {}
    for onset, element in first_voice(part):
        end = onset + Fraction(element.duration.quarterLength)
        seen = set()
        for key, tie in keys(element):
            held = key is not None and sounding.get(key) == onset and tie is not None and tie.type in ("stop", "continue")
            if key in seen and key is not None:
                continue
            seen.add(key)
            if not held:
                found.append((onset, key))
            if tie is not None and tie.type in ("start", "continue"):
                sounding[key] = end
            else:
                sounding.pop(key, None)
    found.sort(key=lambda row: (row[0], -1 if row[1] is None else row[1]))
    return [[key, f"{onset.numerator}/{onset.denominator}"] for onset, key in found]


def read(text):
    with tempfile.NamedTemporaryFile(suffix=".musicxml") as file:
        file.write(text)
        file.flush()
        score = converter.parse(file.name, forceSource=True, format="musicxml")
    part = score.parts[0]
    staves = 1 + sum(isinstance(other, stream.PartStaff) for other in score.parts[1:]) if isinstance(part, stream.PartStaff) else 1
    part = part.toSoundingPitch()
    part, how, bars = expand(part)
    return {"staves": staves, "repeats": how, "bars": bars, "notes": notes(part)}


def main():
    warnings.simplefilter("ignore")
    HERE.mkdir(exist_ok=True)
    rows = []
    for path in sorted(SUITE.iterdir()):
        if path.suffix not in (".xml", ".mxl") or path.name in LEFT_OUT:
            continue
        text = re.sub(rb"(?s)<lyric\b.*?</lyric>", b"", text_of(path))
        pack(text, HERE / f"{path.stem}.mxl")
        rows.append(f"  {json.dumps(path.stem)}: {json.dumps(read(text))}")
    (HERE / "notes.json").write_text("{\n" + ",\n".join(rows) + "\n}\n")
    print(len(rows), "files")


if __name__ == "__main__":
    main()
