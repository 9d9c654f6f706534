"""Sketches against mido: random files that it writes and reads, and hostile bytes that nobody would write.

mido (PyPI) is the other reader: notes are paired here by SMF's and MIDI 1.0's rules from its messages.
"""

from __future__ import annotations

import io
import random
from collections import Counter
from fractions import Fraction
from itertools import pairwise

import mido
import pytest

from rendering.midi import decode
from rendering.pipeline import render
from rendering.problems import Refused
from rendering.readers import Limits
from rendering.readers.smf import read_sketch
from rendering.score import Score
from rendering.writers import write_musicxml
from tests.musicxml_schema import faults
from tests.rendering.made_sketches import file_of

Sounded = tuple[int, int, int, Fraction, Fraction, int]  # track, channel, key, start and end in quarters, velocity


def random_sketch(seed: int) -> bytes:
    """Return a file with up to four tracks of lines, chords, overlaps, pedals, programs, meters, tempos; keys never doubled."""
    rng = random.Random(seed)
    ppq = rng.choice((24, 96, 120, 384, 480, 960, 1000))
    tracks = []
    for number in range(rng.randint(1, 4)):
        placed: list[tuple[int, int, mido.Message | mido.MetaMessage]] = []
        if number == 0:
            for tick in sorted(rng.sample(range(0, 8 * ppq, ppq), 2)):
                placed.append((tick, 1, mido.MetaMessage("set_tempo", tempo=rng.randint(200_000, 2_000_000))))
                beats, unit = rng.choice(((4, 4), (3, 4), (6, 8), (7, 16)))
                placed.append((tick, 1, mido.MetaMessage("time_signature", numerator=beats, denominator=unit)))
        placed.append((0, 1, mido.MetaMessage("track_name", name=rng.choice(("Piano", "Cello", "Horn", "")))))
        channel = rng.choice((0, 1, 2, 9))
        placed.append((0, 1, mido.Message("program_change", channel=channel, program=rng.randrange(128))))
        busy: dict[int, int] = {}
        now = 0
        for _ in range(rng.randint(1, 40)):
            now += rng.choice((0, 0, ppq // 4, ppq // 3, ppq, rng.randint(1, 3 * ppq)))
            key, length = rng.randint(30, 90), rng.choice((1, ppq // 4, ppq // 2, ppq, rng.randint(1, 4 * ppq)))
            if busy.get(key, 0) > now:
                continue
            busy[key] = now + length
            placed.append((now, 1, mido.Message("note_on", channel=channel, note=key, velocity=rng.randint(1, 127))))
            placed.append((now + length, 0, mido.Message("note_off", channel=channel, note=key)))
            if rng.random() < 0.1:
                placed.append((now, 1, mido.Message("control_change", channel=channel, control=64, value=rng.choice((0, 127)))))
        tracks.append(placed)
    return file_of(tracks, ppq, 1)


def as_mido_hears(data: bytes) -> Counter[Sounded]:
    midi = mido.MidiFile(file=io.BytesIO(data))
    found: Counter[Sounded] = Counter()
    for number, track in enumerate(midi.tracks):
        now, down = 0, {}
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                down[message.channel, message.note] = now, message.velocity
            elif message.type in {"note_on", "note_off"}:
                start, velocity = down.pop((message.channel, message.note))
                ppq = midi.ticks_per_beat
                found[number, message.channel, message.note, Fraction(start, ppq), Fraction(now, ppq), velocity] += 1
    return found


def onsets(sounded: Counter[Sounded]) -> Counter[tuple[int, Fraction, int]]:
    """Return (key, start, velocity): ends may be cut where a note is held into the next."""
    return Counter((key, start, velocity) for _, _, key, start, _, velocity in sounded.elements())


def as_we_read(score: Score) -> list[tuple[int, Fraction, Fraction, int]]:
    """Return (key, start, end, velocity) of all notes, the velocity turned back from the level."""
    found = []
    for part in score.parts:
        levels = {v.source: v.level for v in part.levels}
        for line in part.lines:
            for n in map(line.note, range(len(line))):
                velocity = 1 + (2 * 126 * levels[n.source] + 1000) // 2000
                found.append((n.key, Fraction(n.offset, score.unit), Fraction(n.offset + n.duration, score.unit), velocity))
    return found


def check_reading(data: bytes) -> None:
    """Every note mido hears is in the score at its place, as loud and at most as long, but for switches, which are told."""
    score, problems = read_sketch(data)
    left_out = sum(int(dict(p.arguments)["count"]) for p in problems if p.code == "switches-left-out")
    heard, ours = as_mido_hears(data), as_we_read(score)
    missing = onsets(heard) - Counter((key, start, velocity) for key, start, _, velocity in ours)
    assert missing.total() == left_out
    assert not Counter((key, start, velocity) for key, start, _, velocity in ours) - onsets(heard)
    ends: dict[tuple[int, Fraction, int], list[Fraction]] = {}
    for _, _, key, start, end, velocity in heard.elements():
        ends.setdefault((key, start, velocity), []).append(end)
    cut = [row for row in ours if row[2] not in ends[row[0], row[1], row[3]]]
    starts = {start for _, start, _, _ in ours}
    assert all(end in starts and end < max(ends[key, start, velocity]) for key, start, end, velocity in cut)
    for part in score.parts:
        for line in part.lines:
            spans = sorted(zip(line.offset, line.duration, strict=True))
            assert all(a[0] == b[0] or a[0] + a[1] <= b[0] for a, b in pairwise(spans))


@pytest.mark.parametrize("seed", range(30))
def test_random_sketches_are_read_as_mido_reads_them(seed: int) -> None:
    check_reading(random_sketch(seed))


@pytest.mark.parametrize("seed", range(6))
def test_random_sketches_are_rendered_and_written(seed: int) -> None:
    """The proof agrees, the document is valid and says all that a page can say, on a grid and as played."""
    data = random_sketch(100 + seed)
    assert render(data).agree
    for grid in ("none", "1/16+1/24"):
        written, problems = write_musicxml(read_sketch(data, grid=grid)[0])
        assert faults(written) == []
        assert [dict(p.arguments)["what"] for p in problems] == []


@pytest.mark.deep
def test_random_sketches_at_length() -> None:
    for seed in range(5000):
        check_reading(random_sketch(seed))


# ── Hostile bytes ──


def mutated(data: bytes, rng: random.Random) -> bytes:
    """Return a file with some bytes changed, dropped, doubled or cut off."""
    body = bytearray(data)
    for _ in range(rng.randint(1, 6)):
        at = rng.randrange(len(body))
        kind = rng.randrange(5)
        if kind == 0:
            body[at] = rng.randrange(256)
        elif kind == 1:
            body[at] ^= 1 << rng.randrange(8)
        elif kind == 2:
            del body[at : at + rng.randint(1, 8)]
        elif kind == 3:
            body[at:at] = body[at : at + rng.randint(1, 16)]
        else:
            body[at:at] = rng.randbytes(rng.randint(1, 4))
        body = body or bytearray(b"M")
    return bytes(body)


def check_hostile(data: bytes) -> bool:
    """Read and write a file within limits; say whether it was read. Nothing but Refused may come out of it."""
    limits = Limits(played=2000, notes=5000)
    try:
        score, _ = read_sketch(data, limits)
    except Refused:
        return False
    assert sum(len(line) for part in score.parts for line in part.lines) <= 5000
    assert 1 <= len(score.measures) <= 2000
    if len(score.measures) < 200:
        write_musicxml(score, check=False)
    return True


def test_hostile_files_are_read_or_refused() -> None:
    rng = random.Random(5)
    sources = [random_sketch(seed) for seed in range(20)]
    read = sum(check_hostile(mutated(rng.choice(sources), rng)) for _ in range(400))
    assert 50 < read < 390


@pytest.mark.deep
def test_hostile_files_at_length() -> None:
    rng = random.Random(6)
    sources = [random_sketch(seed) for seed in range(200)]
    for _ in range(100_000):
        check_hostile(mutated(rng.choice(sources), rng))


def test_random_bytes_behind_a_header_are_refused_or_read() -> None:
    rng = random.Random(7)
    for _ in range(300):
        body = rng.randbytes(rng.randint(0, 200))
        data = b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0MTrk" + len(body).to_bytes(4, "big") + body
        check_hostile(data)


def test_what_we_render_can_be_read_as_a_sketch() -> None:
    """Our own tracks come back: the notes of a render are the notes of a sketch of it."""
    first = random_sketch(3)
    out = render(first)
    again, _ = read_sketch(out.files["all.mid"])
    sent = sum(1 for t in decode.read(out.files["all.mid"]).tracks for e in t.events if e >> 20 & 15 == 9 and e & 127)
    assert sum(len(line) for part in again.parts for line in part.lines) == sent
