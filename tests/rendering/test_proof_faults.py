"""Faults planted into bytes that were proven: the proof sees each, and says at which note."""

from __future__ import annotations

import random
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from itertools import islice

import pytest

from fixtures import demo
from rendering.documents import read
from rendering.maps.document import ArticulationMap
from rendering.maps.table import HOLD_NOTE
from rendering.pipeline import Rendering, prove, render
from rendering.places import place_of
from rendering.report import note_place, report
from rendering.templates import Template
from tests.outside.reading import CORPUS
from tests.rendering import faults
from tests.rendering.faults import Tape, Target
from tests.rendering.golden_files import made_map

EACH = 3  # notes of each render that a fault is planted at
STRINGS = ("first-violins", "second-violins", "violas", "cellos")
HELD = made_map({
    "loudness": {"by": "controller", "controller": 11, "points": [[0, 0], [1000, 127]], "velocity": 90},
    "range": {"lowest": 36, "highest": 110},
    "articulations": [
        {"id": "bowed", "triggers": [{"keyswitch": 24}], "lead_ms": {"first": 60}},
        {"id": "short", "plays": [["staccato"]], "triggers": [{"keyswitch": 25, "hold": "note"}], "length": {"at_most_ms": 200}},
        {"id": "slurred", "plays": [["legato"]], "triggers": [{"keyswitch": 26}], "voices": 1, "joins": True, "overlap_ms": 40},
    ],
})  # fmt: skip


def demo_map(name: str) -> ArticulationMap:
    return read(ArticulationMap, (demo.FOLDER / "tarn-house" / f"{name}.json").read_bytes())


@cache
def rendered(name: str) -> Rendering:
    """Return the demo on its template; the second movement of op. 59 no. 1 on the demo's strings; or that on held keys."""
    if name == "demo":
        template = read(Template, (demo.FOLDER / "tarn-house-template.json").read_bytes())
        maps = {t.id: read(ArticulationMap, (demo.FOLDER / str(t.map.file)).read_bytes()) for t in template.tracks}
        made = render(demo.SCORE, template=template, template_maps=maps)
    else:
        data = (CORPUS / "beethoven/opus59no1/movement2.mxl").read_bytes()
        parts = [HELD] * 4 if name == "held keys" else [demo_map(n) for n in STRINGS]
        made = render(data, maps=list(zip(("1st Violin", "2nd Violin", "Viola", "Cello"), parts, strict=True)))
    assert made.agree
    return made


# ── At which notes a fault can be planted so that it must be heard ──


def changes_sound(t: Target) -> bool:
    before = t.before()
    return before is not None and before.entries != t.entries and t.alone() and bool(faults.switches_for(t, TAPES(t)))


def long_enough(t: Target) -> bool:
    return t.off - t.on > 60


def joined(t: Target) -> bool:
    before = t.before()
    return t.track.decisions[t.decision].joined and t.alone() and before is not None and before.alone() and before.off > t.on


def other_key_before(t: Target) -> bool:
    before = t.before()
    return before is not None and before.key != t.key and t.alone() and before.alone() and before.off <= t.on


def own_controller_value(t: Target) -> bool:
    d, before = t.track.decisions[t.decision], t.before()
    if d.controller < 0 or before is None or not t.alone():
        return False
    return any(
        e.kind == faults.CONTROLLER and e.tick == t.on and e.data1 == d.controller and e.channel == t.channel
        for e in TAPES(t).tracks[t.number]
    )


def held_through(t: Target) -> bool:
    return long_enough(t) and any(s.hold == HOLD_NOTE for i in t.entries for s in t.sampler.entries[i].switches)


def key_above_free(t: Target) -> bool:
    notes = t.track.scheduled.notes
    near = [k for on, off, k in zip(notes.on, notes.off, notes.key, strict=True) if on + t.shift < t.off and off + t.shift > t.on]
    return long_enough(t) and t.key + 1 not in near and t.key < t.sampler.highest


def anything(_t: Target) -> bool:
    return True


_tapes: dict[int, Tape] = {}


def TAPES(t: Target) -> Tape:  # noqa: N802
    """Return the tape of the render that a target is of; never spoiled."""
    return _tapes[id(t.track)]


def chosen(name: str, fits: Callable[[Target], bool], seed: str) -> list[Target]:
    """Return a few notes, by chance, at which a fault fits."""
    made = rendered(name)
    tape = Tape(made.files["all.mid"])
    _tapes.update({id(t): tape for t in made.run.tracks})
    every = list(faults.targets(made))
    random.Random(seed).shuffle(every)
    return list(islice((t for t in every if fits(t)), EACH))


FAULTS: list[tuple[faults.Fault, Callable[[Target], bool]]] = [
    (faults.switch_after_its_note, changes_sound),
    (faults.switch_dropped, changes_sound),
    (faults.five_ticks_late, long_enough),
    (faults.overlap_lost, joined),
    (faults.keys_swapped, other_key_before),
    (faults.swapped_at_the_tick, own_controller_value),
    (faults.held_key_released_early, held_through),
    (faults.note_missing, anything),
    (faults.velocity_wrong, anything),
    (faults.controller_wrong, own_controller_value),
    (faults.end_moved, long_enough),
    (faults.stuck_note, anything),
]
RENDERS = ("demo", "movement", "held keys")
CASES = [
    pytest.param(fault, fits, name, id=f"{fault.__name__}, {name}")
    for fault, fits in FAULTS
    for name in RENDERS
    if fault is not faults.held_key_released_early or name == "held keys"  # no instrument of the demo holds keys
]


def told_of(made: Rendering, data: bytes) -> list[tuple[int, tuple[int, int], str]]:
    """Return (track number, (voice, row), words) of every disagreement."""
    return [(n, (voice, row), what) for n, v in enumerate(prove(made.run, data)) for voice, row, what in v.disagree]


@pytest.mark.parametrize("name", RENDERS)
def test_what_is_not_spoiled_is_proven(name: str) -> None:
    """Taking a file apart and writing it again changes nothing that is heard."""
    made = rendered(name)
    assert told_of(made, Tape(made.files["all.mid"]).bytes()) == []


@pytest.mark.parametrize(("fault", "fits", "name"), CASES)
def test_each_fault_is_seen_and_located(fault: faults.Fault, fits: Callable[[Target], bool], name: str) -> None:
    made = rendered(name)
    found = chosen(name, fits, f"{name} {fault.__name__}")
    assert len(found) == EACH
    for target in found:
        tape = Tape(made.files["all.mid"])
        words = fault(target, tape)
        told = told_of(made, tape.bytes())
        at = [what for number, place, what in told if (number, place) == (target.number, target.place)]
        assert at, (fault.__name__, target.place, told[:5])
        assert words in at[0]
        assert {number for number, _, _ in told} == {target.number}
        where = note_place(made.run, target.track, *target.place)
        source = target.track.voices[target.place[0]].line.source[target.place[1]]
        part = made.run.score.parts[target.track.voices[target.place[0]].part]
        assert (where.part, where.note) == (part.id, source)
        assert where.measure
        assert where == place_of(made.run.score, part.id, source)


@pytest.mark.parametrize("name", RENDERS)
def test_an_added_note_is_seen_at_its_tick(name: str) -> None:
    made = rendered(name)
    for target in chosen(name, key_above_free, name):
        tape = Tape(made.files["all.mid"])
        words = faults.note_added(target, tape)
        tick = (target.on + target.off) // 2 - made.run.shift
        told = [(number, tick_, what) for number, (voice, tick_), what in told_of(made, tape.bytes()) if voice == -1]
        assert told == [(target.number, tick, words)]


def test_the_report_names_the_measure_of_a_disagreement() -> None:
    """A note's own place for a written note, the bar that plays there for one that nobody wrote."""
    made = rendered("movement")
    target = next(t for t in faults.targets(made) if t.number == 2 and t.on >= 9600 and key_above_free(t))
    tape = Tape(made.files["all.mid"])
    faults.note_added(target, tape)
    faults.velocity_wrong(target, tape)
    run = made.run
    kept = [t.verdict for t in run.tracks]
    for t, verdict in zip(run.tracks, prove(run, tape.bytes()), strict=True):
        t.verdict = verdict
    document = report(run)
    for t, verdict in zip(run.tracks, kept, strict=True):
        t.verdict = verdict
    place = note_place(run, target.track, *target.place)
    middle = (target.on + target.off) // 2
    start, bar = max((tick, bar) for tick, bar in run.playing.bars if tick <= middle - run.shift)
    beat = 1 + Fraction(middle - run.shift - start, 4 * 960 // bar.meter[1])
    heard = [row["heard"] for row in document["proof"]["disagree"]]
    assert [p["message"] for p in document["problems"] if p["code"] == "proof-disagrees"] == [
        f"{who}: the simulated listener hears something else: {what} – the files are not proven; please report it"
        for who, what in zip(
            (f"track Viola, measure {bar.number}, beat {beat}", f"Viola, measure {place.measure}, beat {place.beat}, voice 1"),
            heard,
            strict=True,
        )
    ]
    assert heard[0] == f"key {target.key + 1} sounds that nobody wrote"
    assert document["proof"]["agree"] == document["proof"]["notes"] - document["proof"]["yielded"] - 1


@pytest.mark.parametrize("name", RENDERS)
def test_all_notes_of_a_track_five_ticks_late(name: str) -> None:
    """Every note of it is told."""
    made = rendered(name)
    tape = Tape(made.files["all.mid"])
    number = max(range(len(made.run.tracks)), key=lambda n: len(made.run.tracks[n].scheduled.notes.on))
    sampler = made.run.tracks[number].track.sampler
    for e in tape.tracks[number]:
        if e.kind == faults.ON and e.data1 not in {*sampler.latches, *sampler.toggles, *sampler.held}:
            e.tick += 5
    verdict = prove(made.run, tape.bytes())[number]
    told = {(voice, row) for voice, row, _ in verdict.disagree}
    assert told >= {t.place for t in faults.targets(made) if t.number == number}
    assert verdict.agree == 0


def test_a_switch_key_that_never_comes_up() -> None:
    made = rendered("movement")
    target = chosen("movement", changes_sound, "stuck switch")[0]
    tape = Tape(made.files["all.mid"])
    key = next(e for e in faults.switches_for(target, tape) if e.kind == faults.ON)
    events = tape.tracks[target.number]
    later = [e for e in events if e.data1 == key.data1 and e.tick > key.tick and e.kind in (faults.ON, faults.OFF)]
    for e in later:
        events.remove(e)
    told = [what for _, _, what in told_of(made, tape.bytes())]
    assert f"key {key.data1} on channel {key.channel + 1}, down at tick {key.tick}, never comes up" in told


def test_a_note_on_a_channel_that_nobody_hears() -> None:
    made = rendered("movement")
    tape = Tape(made.files["all.mid"])
    tape.tracks[1] += [faults.Event(100, faults.ON, 14, 60, 80), faults.Event(200, faults.OFF, 14, 60, 0)]
    assert told_of(made, tape.bytes()) == [(1, (-1, 0), "1 notes on port 1, channel 15, which no map belongs to")]
