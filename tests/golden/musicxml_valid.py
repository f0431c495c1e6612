#!/usr/bin/env python3
"""Checks MusicXML files against the W3C schema of MusicXML 4.0; prints what is wrong and ends with 1 if anything is.

    python3 tests/golden/musicxml_valid.py tests/golden/exported/*.musicxml

The schema `musicxml_4_0.xsd` is the one that the PyPI package `musicxml` 1.6.3 carries; it is validated by `lxml` 6.1.3
(libxml2). The package lacks the schemas of the XML and XLink namespaces, of which MusicXML takes eight attributes: they are
made here as strings, which is more than those schemas allow, and nothing that leadsman writes.
"""

import re
import sys
import tempfile
from importlib.metadata import files
from pathlib import Path

from lxml import etree

NAMESPACES = {"xml": "http://www.w3.org/XML/1998/namespace", "xlink": "http://www.w3.org/1999/xlink"}
ATTRIBUTES = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="%s">
%s</xs:schema>"""


def schema(folder):
    carried = next(f for f in files("musicxml") if f.name == "musicxml_4_0.xsd").locate()
    text = Path(carried).read_text(encoding="utf-8")
    for prefix, namespace in NAMESPACES.items():
        names = sorted(set(re.findall(rf'ref="{prefix}:(\w+)"', text)))
        attributes = "".join(f'<xs:attribute name="{name}" type="xs:string"/>\n' for name in names)
        (folder / f"{prefix}.xsd").write_text(ATTRIBUTES % (namespace, attributes))
    text = text.replace("http://www.musicxml.org/xsd/", "")
    (folder / "musicxml.xsd").write_text(text, encoding="utf-8")
    return etree.XMLSchema(etree.parse(str(folder / "musicxml.xsd")))


def main(paths):
    with tempfile.TemporaryDirectory() as folder:
        valid = schema(Path(folder))
    parser = etree.XMLParser(load_dtd=False, no_network=True)
    wrong = 0
    for path in paths:
        if not valid.validate(etree.parse(path, parser)):
            wrong += 1
            for error in valid.error_log:
                print(f"{path}:{error.line}: {error.message}")
    print(f"{len(paths)} files, {wrong} not valid")
    return wrong > 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
