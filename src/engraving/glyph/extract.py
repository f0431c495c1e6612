"""Makes outlines.rs: the outlines and boxes of the signs that the page needs.

    pip download verovio==6.4.1 --no-deps -d /tmp/outlines && python3 extract.py /tmp/outlines/*.whl > outlines.rs

The wheel carries the outlines of the font Bravura (SIL Open Font License 1.1, see LICENCE.md) as SVG paths, one file a
code point of SMuFL 1.4 (W3C), 1000 units to the em, four staff spaces to the em, y upwards; and its boxes and anchors.
"""

import re
import sys
import xml.etree.ElementTree as ET
import zipfile

FOLDER = "verovio/data/Bravura"
SIGNS = [
    ("BassClef", 0xE062),
    ("Digit0", 0xE080), ("Digit1", 0xE081), ("Digit2", 0xE082), ("Digit3", 0xE083), ("Digit4", 0xE084),
    ("Digit5", 0xE085), ("Digit6", 0xE086), ("Digit7", 0xE087), ("Digit8", 0xE088), ("Digit9", 0xE089),
    ("WholeHead", 0xE0A2), ("HalfHead", 0xE0A3), ("BlackHead", 0xE0A4),
    ("CrossHead", 0xE0A9),
    ("OpenParenthesis", 0xE0F5), ("CloseParenthesis", 0xE0F6),
    ("Dot", 0xE1E7),
    ("EighthUp", 0xE240), ("EighthDown", 0xE241), ("SixteenthUp", 0xE242), ("SixteenthDown", 0xE243),
    ("ThirtySecondUp", 0xE244), ("ThirtySecondDown", 0xE245),
    ("Flat", 0xE260), ("Natural", 0xE261), ("Sharp", 0xE262), ("DoubleSharp", 0xE263), ("DoubleFlat", 0xE264),
    ("AccentAbove", 0xE4A0), ("AccentBelow", 0xE4A1), ("Staccato", 0xE4A2), ("Tenuto", 0xE4A4),
    ("WholeRest", 0xE4E3), ("HalfRest", 0xE4E4), ("QuarterRest", 0xE4E5), ("EighthRest", 0xE4E6),
    ("SixteenthRest", 0xE4E7), ("ThirtySecondRest", 0xE4E8),
    ("DownStroke", 0xE610), ("UpStroke", 0xE612),
    ("Triplet", 0xE883),
    ("QuarterNote", 0xECA5),
]

wheel = zipfile.ZipFile(sys.argv[1])
boxes = {g.get("c"): g for g in ET.fromstring(wheel.read(FOLDER + ".xml")).iter("g")}
print("//! Made by `extract.py` from the font that `LICENCE.md` names: 250 units to the staff space; paths upwards, boxes downwards.\n")
print("use super::Outline;\n")
print("/// The outlines, in the order of [`super::Glyph`].")
print("pub(super) const OUTLINES: [Outline; %d] = [" % len(SIGNS))
for name, code in SIGNS:
    text = wheel.read(f"{FOLDER}/{code:04X}.xml").decode()
    path = re.search(r'<path[^>]* d="([^"]*)"', text).group(1).strip()
    assert 'scale(1,-1)' in text, name
    box = boxes[f"{code:04X}"]
    x, y, w, h = (float(box.get(k)) for k in "xywh")
    print(f"    // {name}: U+{code:04X}\n    Outline {{")
    print(f"        left: {x:.1f},")
    print(f"        right: {x + w:.1f},\n        top: {-(y + h):.1f},\n        bottom: {-y:.1f},")
    print(f'        path: "{path}",\n    }},')
print("];")
