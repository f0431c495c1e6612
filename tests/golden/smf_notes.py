#!/usr/bin/env python3
"""Writes smf/notes.json: the notes of every file in smf/ as `mido` 1.3.3 reads them (PyPI, MIT).

    python3 tests/golden/smf_notes.py

Notes are paired by (channel, key), first in first out, over all tracks merged by tick (at one tick: track order).
A row is [onset tick, off tick, onset s, off s, channel, key, velocity], in the order of onsets; an off that never came
is null. Seconds are computed exactly from mido's ticks and tempi and rounded once to a double; as a check of that
arithmetic they are compared with the times at which mido itself would play the messages.

The test*.mid come from music21 10.5.1 (see smf/LICENCE.md). The files made_*.mid are written here, with mido, except
made_running_after_meta.mid, which mido would not write and is given by its bytes. own_take.mid is written by
tests/smf_take.rs.
"""

import json
import random
from collections import defaultdict, deque
from fractions import Fraction
from pathlib import Path

import mido

HERE = Path(__file__).parent / "smf"


def merged(midi):
    """(tick, message) of all tracks by tick, stable."""
    events = []
    for track in midi.tracks:
        tick = 0
        for message in track:
            tick += message.time
            events.append((tick, message))
    return sorted(events, key=lambda event: event[0])


def seconds_by_tick(midi, events):
    """A function from tick to exact seconds."""
    changes = [(0, Fraction(0), 500_000)]
    for tick, message in events:
        if message.type == "set_tempo":
            last, at, tempo = changes[-1]
            at += Fraction((tick - last) * tempo, midi.ticks_per_beat * 1_000_000)
            changes.append((tick, at, message.tempo))

    def seconds(tick):
        start, at, tempo = [change for change in changes if change[0] <= tick][-1]
        return at + Fraction((tick - start) * tempo, midi.ticks_per_beat * 1_000_000)

    return seconds


def check_against_playback(midi, events, seconds):
    played = 0.0
    own = [m.time for m in midi]
    for delta, (tick, message) in zip(own, events):
        played += delta
        if message.type != "end_of_track":
            assert abs(played - float(seconds(tick))) < 1e-6, (played, tick)


def notes(midi):
    events = merged(midi)
    seconds = seconds_by_tick(midi, events)
    if not any(m.type == "end_of_track" for _, m in events[:-1]):
        check_against_playback(midi, events, seconds)
    rows, sounding = [], defaultdict(deque)
    for tick, message in events:
        if message.type == "note_on" and message.velocity > 0:
            row = [tick, None, float(seconds(tick)), None, message.channel, message.note, message.velocity]
            rows.append(row)
            sounding[message.channel, message.note].append(row)
        elif message.type in ("note_on", "note_off"):
            if sounding[message.channel, message.note]:
                row = sounding[message.channel, message.note].popleft()
                row[1], row[3] = tick, float(seconds(tick))
    return rows


def write_overlaps():
    """Two tracks on one channel whose notes of few keys overlap each other, across tempo changes."""
    chance = random.Random(1)
    midi = mido.MidiFile(type=1, ticks_per_beat=192)
    conductor = mido.MidiTrack()
    for _ in range(12):
        tempo = chance.randrange(300_000, 1_200_000)
        conductor.append(mido.MetaMessage("set_tempo", tempo=tempo, time=chance.randrange(1, 2000)))
    midi.tracks.append(conductor)
    for _ in range(2):
        events = []
        for _ in range(300):
            onset, length, key = chance.randrange(12_000), chance.randrange(1, 900), chance.randrange(40, 46)
            events.append((onset, 1, key, chance.randrange(1, 128)))
            events.append((onset + length, 0, key, 0))
        events.sort(key=lambda event: event[:2])
        track, last = mido.MidiTrack(), 0
        for tick, _, key, velocity in events:
            track.append(mido.Message("note_on", channel=1, note=key, velocity=velocity, time=tick - last))
            last = tick
        midi.tracks.append(track)
    midi.save(HERE / "made_overlaps.mid")


def write_bends():
    """One voice among 3,000 pitch bends and some SysEx, as a pitch converter sends it."""
    chance = random.Random(2)
    midi = mido.MidiFile(type=0, ticks_per_beat=480)
    track = mido.MidiTrack()
    midi.tracks.append(track)
    for index in range(60):
        key = chance.randrange(28, 60)
        track.append(mido.Message("note_on", note=key, velocity=90, time=chance.randrange(0, 40)))
        for _ in range(50):
            track.append(mido.Message("pitchwheel", pitch=chance.randrange(-400, 400), time=chance.randrange(0, 9)))
        if index % 10 == 0:
            track.append(mido.Message("sysex", data=[1, 2, 3], time=1))
        track.append(mido.Message("note_off", note=key, velocity=chance.randrange(128), time=3))
    midi.save(HERE / "made_bends.mid")


def write_running_after_meta():
    """Running status that goes on after a meta event, as some writers have it: two notes, four events."""
    track = bytes.fromhex("00901C50 00FF060141 601C00 002350 00FF060142 602300 00FF2F00")
    head = bytes.fromhex("4D546864000000060000000100604D54726B")
    (HERE / "made_running_after_meta.mid").write_bytes(head + len(track).to_bytes(4, "big") + track)


def main():
    write_overlaps()
    write_bends()
    write_running_after_meta()
    files = sorted(HERE.glob("*.mid"))
    golden = {}
    for path in files:
        midi = mido.MidiFile(path)
        golden[path.name] = {"division": midi.ticks_per_beat, "tracks": len(midi.tracks), "notes": notes(midi)}
    lines = []
    for name, entry in golden.items():
        rows = ",\n    ".join(json.dumps(row) for row in entry["notes"])
        lines.append(
            f'  "{name}": {{"division": {entry["division"]}, "tracks": {entry["tracks"]}, "notes": [\n    {rows}\n  ]}}'
        )
    (HERE / "notes.json").write_text("{\n" + ",\n".join(lines) + "\n}\n")
    print({name: len(entry["notes"]) for name, entry in golden.items()})


if __name__ == "__main__":
    main()
