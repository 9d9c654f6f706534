"""The laws of the engine as properties, over random scores and random maps of every trigger kind.

Where laws collide, safety outranks pairs, pairs outrank what is heard, then order, lead, economy; a note
that yields is named by a problem, and each property below quotes the exceptions that it allows.
"""

from __future__ import annotations

import copy
from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.marks import names
from rendering.midi import decode
from rendering.pipeline import Rendering, render_score
from rendering.proof import YIELDING
from rendering.rendered import Options, TrackRun
from rendering.score import TIE_STOP, TIE_THROUGH, Measure, Score
from rendering.timeline import to_ticks
from tests.rendering.strategies import BAR, maps, scores

# Shrinking a score of two voices takes minutes: only the deep run does it.
RUN = settings(
    deadline=None,
    max_examples=60,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
DEEP = settings(RUN, max_examples=3000, derandomize=False)
NOTE_OFF, NOTE_ON, CONTROL = 8, 9, 11


def rendered(score: Score, made: ArticulationMap, **options: object) -> Rendering:
    """Render a copy of `score`, every part on the same map."""
    return render_score(copy.deepcopy(score), maps=[(p.id, made) for p in score.parts], options=Options(**options))  # type: ignore[arg-type]


def events(r: Rendering) -> list[list[tuple[int, int, int, int, int]]]:
    """Return per track of all.mid: (tick, kind, channel, data1, data2) in file order."""
    file = decode.read(r.files["all.mid"])
    return [[(e >> 28, e >> 20 & 15, e >> 16 & 15, e >> 8 & 127, e & 127) for e in t.events] for t in file.tracks]


def check_pairs(r: Rendering) -> None:
    """Each note-on has one note-off, later, on its channel and key; no two overlap; velocities are 1-127."""
    for track in events(r):
        down: dict[tuple[int, int], int] = {}
        for tick, kind, channel, key, value in track:
            if kind == NOTE_ON:
                assert value >= 1
                assert (channel, key) not in down, (tick, key)
                down[channel, key] = tick
            elif kind == NOTE_OFF:
                assert tick > down.pop((channel, key))
        assert not down


def check_order(r: Rendering) -> None:
    """At a tick: note-offs, then switches and controllers, then note-ons; switch keys count as switches."""
    for t, track in zip(r.run.tracks, events(r)[1:], strict=True):
        sampler = t.track.sampler
        switch_keys = {*sampler.latches, *sampler.toggles, *sampler.held}
        before = (-1, 0)
        for tick, kind, _, key, _ in track:
            rank = 0 if kind == NOTE_OFF else 2 if kind == NOTE_ON and key not in switch_keys else 1
            assert (tick, rank) >= before
            before = (tick, rank)


def check_heard(r: Rendering) -> None:
    """Every note is heard as chosen, but for those that a problem of the closed list names."""
    assert r.report["proof"]["disagree"] == [], _around(r)
    assert r.agree
    told = sum(p["count"] for p in r.report["problems"] if p["code"] in YIELDING)
    assert r.report["proof"]["yielded"] <= told
    proof = r.report["proof"]
    assert proof["agree"] + proof["yielded"] == proof["notes"]


def _around(r: Rendering) -> str:
    """The notes about the first disagreement, for the message of a failure."""
    for t in r.run.tracks:
        for v, row, heard in t.verdict.disagree:
            s = t.scheduled.notes
            sent = {(a, b): (s.on[i], s.off[i], s.key[i], s.channel[i]) for i, (a, b) in enumerate(zip(s.voice, s.row, strict=True))}
            out = [f"{t.track.document.name}, {heard}"]
            for n, voice in enumerate(t.voices):
                for k, d in enumerate(voice.decisions):
                    it = t.decisions[d]
                    out.append(
                        f"{'*' if (n, k) == (v, row) else ' '}{n}.{k} {voice.line.on[k]}-{voice.line.off[k]} key {voice.line.key[k]}"
                        f" slur {voice.line.slur[k]} entries {it.entries} joined {it.joined} lead {it.lead_ms} full {it.full}"
                        f" sent {sent.get((n, k))} {t.scheduled.yielded.get((n, k), '')}"
                    )
            return "\n".join(out)
    return ""


def check_counts(r: Rendering) -> None:
    """Each mark on each written note has exactly one outcome: per mark and part the sums agree."""
    for part, track in zip(r.run.score.parts, r.report["tracks"], strict=True):
        wanted: Counter[str] = Counter()
        for line in part.lines:
            for marks, tie in zip(line.marks, line.tie, strict=True):
                if tie not in (TIE_STOP, TIE_THROUGH):
                    wanted.update(names(marks))
        found = {mark: sum(row.values()) for mark, row in track["marks"].items()}
        assert found == dict(wanted)


def check_safety(r: Rendering) -> None:
    """No written note is sent on a switch key."""
    for t in r.run.tracks:
        sampler = t.track.sampler
        assert not {*t.scheduled.notes.key} & {*sampler.latches, *sampler.toggles, *sampler.held}


def check_time(r: Rendering, score: Score) -> None:
    """Written onsets are the score's positions, rounded once; so all parts meet at every barline."""
    at = 0
    bars = []
    for first, last, _ in score.itinerary:
        for m in score.measures[first - 1 : last]:
            bars.append(to_ticks(at, score.unit, r.run.playing.ppq))
            at += m.length
    assert [tick for tick, _ in r.run.playing.bars] == bars
    for part, played in zip(score.parts, r.run.parts, strict=True):
        for line, run in zip(part.lines, played.lines, strict=True):
            wanted = {to_ticks(o, score.unit, r.run.playing.ppq) for o, g in zip(line.offset, line.grace, strict=True) if not g}
            got = {t for t, g, n in zip(run.on, run.grace, run.number, strict=True) if not g and n == 1}
            assert got <= wanted


def check_economy(r: Rendering) -> None:
    """A controller or program that is sent changes something; so does a latched key, but for paged sets.

    Exceptions: the first of each channel; restatements after rests of two measures or more.
    """
    for t, track in zip(r.run.tracks, events(r)[1:], strict=True):
        if any(e.together or e.resets for e in t.track.sampler.entries) or _rests_long(t):
            continue
        last: dict[tuple[int, int, int], int] = {}
        latched: dict[tuple[int, int], int] = {}
        for tick, kind, channel, data1, data2 in track:
            if kind == CONTROL and data1 not in (0, 32):
                assert last.get((channel, kind, data1)) != data2, (tick, data1, data2)
                last[channel, kind, data1] = data2
            if kind == NOTE_ON:
                for register in t.track.sampler.latches.get(data1, ()):
                    assert latched.get((channel, register)) != data1
                    latched[channel, register] = data1


def _rests_long(t: TrackRun) -> bool:
    notes = t.scheduled.notes
    busy: dict[int, int] = {}
    for a, b, channel in sorted(zip(notes.on, notes.off, notes.channel, strict=True)):
        if a - busy.get(channel, 0) >= 8 * 960:
            return True
        busy[channel] = max(busy.get(channel, b), b)
    return False


def check_all(score: Score, made: ArticulationMap) -> None:
    """Laws 1 to 7 and 9 on one render."""
    r = rendered(score, made)
    check_time(r, score)
    check_pairs(r)
    check_order(r)
    check_heard(r)
    check_economy(r)
    check_counts(r)
    check_safety(r)
    assert r.run.shift % r.run.bar == 0


@RUN
@given(score=scores(), made=maps())
def test_laws(score: Score, made: ArticulationMap) -> None:
    check_all(score, made)


@pytest.mark.deep
@DEEP
@given(score=scores(), made=maps())
def test_laws_at_length(score: Score, made: ArticulationMap) -> None:
    check_all(score, made)


@RUN
@given(score=scores(), made=maps())
def test_sameness(score: Score, made: ArticulationMap) -> None:
    """Same inputs, same bytes; the order of the parts does not matter to a part's own events."""
    one, two = rendered(score, made), rendered(score, made)
    assert one.files == two.files
    turned = copy.deepcopy(score)
    turned.parts.reverse()
    other = rendered(turned, made)
    assert _without_channel(one) == _without_channel(other)


def _without_channel(r: Rendering) -> dict[str, list[tuple[int, int, int, int]]]:
    own = any(e.channel >= 0 for t in r.run.tracks for e in t.track.sampler.entries)
    found = {}
    for t, track in zip(r.run.tracks, events(r)[1:], strict=True):
        found[t.track.name] = [
            (tick, kind, channel if own and channel != t.track.channel else -1, a * 128 + b) for tick, kind, channel, a, b in track
        ]
    return found


@RUN
@given(score=scores(parts=1), made=maps())
def test_moving_the_score_moves_the_events(score: Score, made: ArticulationMap) -> None:
    """Two measures of rest in front: every event after the head block comes that much later.

    Only where both need no pre-roll, which is a number of measures of its own.
    """
    moved = copy.deepcopy(score)
    moved.measures = [Measure(1, "a", 0, BAR, (4, 4), 0), Measure(2, "b", BAR, BAR, (4, 4), 0)] + [
        m._replace(ordinal=m.ordinal + 2, start=m.start + 2 * BAR) for m in moved.measures
    ]
    moved.itinerary = [(1, moved.itinerary[0][1] + 2, 1)] + [(a + 2, b + 2, n) for a, b, n in moved.itinerary[1:]]
    moved.tempo = [(0, moved.tempo[0][1])] + [(u + 2 * BAR, m) for u, m in moved.tempo[1:]]
    for part in moved.parts:
        part.levels = [v._replace(offset=v.offset + 2 * BAR) for v in part.levels]
        part.hairpins = [h._replace(start=h.start + 2 * BAR, stop=h.stop + 2 * BAR) for h in part.hairpins]
        for line in part.lines:
            line.offset = [o + 2 * BAR for o in line.offset]
    one, two = rendered(score, made), rendered(moved, made)
    if one.run.shift == two.run.shift == 0:
        for a, b in zip(one.run.tracks, two.run.tracks, strict=True):
            assert [e + (2 * BAR << 28) for e in a.scheduled.events] == b.scheduled.events
            assert _presses(a.scheduled.head) == _presses(b.scheduled.head)


def _presses(head: list[int]) -> list[int]:
    """The head block without the ends of tapped keys, which come early where the first note follows at once."""
    return [e for e in head if e >> 20 & 15 != NOTE_OFF]


@RUN
@given(score=scores(parts=1, voices=1), made=maps(kinds=("latched",)))
def test_notes_on_switch_keys_are_silent(score: Score, made: ArticulationMap) -> None:
    """A written note that would land on a switch key is not sent, and an error says so."""
    low = copy.deepcopy(score)
    sampler = compile_map(made)
    switch = max(sampler.latches)
    for line in low.parts[0].lines:
        line.key = [switch if n % 3 == 0 else key for n, key in enumerate(line.key)]
        line.tie = [0] * len(line.tie)
    r = rendered(low, made)
    check_safety(r)
    check_pairs(r)
    check_heard(r)
    if any(low.parts[0].lines[0].key):
        told = [p for p in r.report["problems"] if p["code"] == "note-on-switch-key"]
        assert told
        assert all(p["severity"] == "error" for p in told)
