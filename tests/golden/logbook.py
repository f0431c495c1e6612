#!/usr/bin/env python3
"""Writes tests/logbooks/N.sql, the dump of a logbook of the present version: two takes, the second one broken off.

Run once when a version of the logbook's tables comes to be, by the program of that version, and keep the file for good:
    cargo build && python3 tests/golden/logbook.py
"""
import pathlib
import sqlite3
import subprocess
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
LINE = '''title = "Night Ferry"
meter = "4/4"
tempo = 120
[[section]]
name = "A"
notes = "r/8 E2/8 A2/4 D3/4 G2/8 F2/8 | E2/4 r/4 A2/4 x/4"
'''

with tempfile.TemporaryDirectory() as folder:
    (pathlib.Path(folder) / "line.toml").write_text(LINE)
    for seed in "12":
        subprocess.run(
            [ROOT / "target/debug/leadsman", "demo", "line.toml", "--logbook", "a.sqlite", "--seed", seed],
            cwd=folder, check=True, stdout=subprocess.DEVNULL,
        )
    db = sqlite3.connect(pathlib.Path(folder) / "a.sqlite")
    (version,) = db.execute("PRAGMA user_version").fetchone()
    (application,) = db.execute("PRAGMA application_id").fetchone()
    db.execute("UPDATE take SET note = 'with a cold hand', note_ms = 1 WHERE id = 1")
    db.execute("UPDATE session SET note = 'in the mess room', note_ms = 1")
    (track,) = db.execute("SELECT track FROM take WHERE id = 2").fetchone()
    db.execute("DELETE FROM judgement WHERE take = 2")
    for table in ("reading", "extra", "finding"):
        db.execute(f"DELETE FROM {table} WHERE judgement NOT IN (SELECT id FROM judgement)")
    # Every event carries its status, so that a track reads right up to wherever it is cut.
    pieces = [track[:40], track[40:80]]
    db.executemany("INSERT INTO chunk VALUES (2, ?, ?)", enumerate(pieces))
    db.execute("UPDATE take SET track = NULL, begun_ms = begun_ms - 3600000 * 24 WHERE id = 2")
    dump = "\n".join(db.iterdump())
    head = f"PRAGMA foreign_keys = OFF;\nPRAGMA application_id = {application};\nPRAGMA user_version = {version};\n"
    target = ROOT / f"tests/logbooks/{version}.sql"
    target.write_text(head + dump + "\n")
    print(f"{target}: {len(dump)} characters")
