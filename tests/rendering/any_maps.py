"""Articulation maps of all kinds for property tests: every field, every trigger; sound in shape and in their ids."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from rendering.marks import BIT, EITHER

Json = dict[str, Any]
MARK_NAMES = sorted([*BIT, *EITHER])
KEYS = st.integers(0, 127) | st.sampled_from(["C1", "F#2", "Bb1", "e♭3", "Cb4"])
BYTES = st.integers(0, 127)
VELOCITIES = st.integers(1, 127)
WORDS = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp", "Zs"]), min_size=1, max_size=12)
SOUNDS = st.sampled_from(["", "strings.violin", "brass.french-horn", "drum.timpani"])


def some(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[Json]:
    """Return objects with any of these fields."""
    return st.fixed_dictionaries({}, optional=fields)


def band(values: st.SearchStrategy[int]) -> st.SearchStrategy[list[int]]:
    return st.lists(values, min_size=2, max_size=2)


def bounds(most: int) -> st.SearchStrategy[list[int | None]]:
    return st.lists(st.none() | st.integers(0, most), min_size=2, max_size=2)


def kind(first: dict[str, st.SearchStrategy[Any]], **more: st.SearchStrategy[Any]) -> st.SearchStrategy[Json]:
    return st.fixed_dictionaries(first, optional=more)


TRIGGERS = st.one_of(
    kind({"keyswitch": KEYS}, velocity=VELOCITIES, hold=st.sampled_from(["no", "note-on", "note"]), ahead_ms=st.integers(0, 100),
         length_ms=st.integers(1, 100), toggle=st.booleans()),
    kind({"controller": BYTES}, value=BYTES | band(BYTES)),
    kind({"program": BYTES}, bank_msb=st.none() | BYTES, bank_lsb=BYTES),
    kind({"channel": st.integers(1, 16)}),
    kind({"velocities": band(VELOCITIES)}),
    kind({"shift": st.integers(-127, 127)}),
    kind({"track": WORDS}),
)  # fmt: skip
POINTS = st.dictionaries(st.integers(0, 1000), BYTES, min_size=1, max_size=4).map(
    lambda found: [[level, found[level]] for level in sorted(found)]
)
LOUDNESS = st.one_of(
    kind({"by": st.just("velocity"), "points": POINTS}, silence=BYTES),
    kind({"by": st.just("controller"), "controller": BYTES, "points": POINTS}, velocity=VELOCITIES, silence=BYTES),
    kind({"by": st.just("both"), "controller": BYTES, "points": POINTS}, velocity=st.none() | VELOCITIES),
    kind({"by": st.just("both"), "controller": BYTES, "points": POINTS}, velocity_points=POINTS),
)
PLAYS = st.lists(st.lists(st.sampled_from(MARK_NAMES), min_size=1, max_size=3), max_size=3)
STAND_INS = kind({"for": st.sampled_from(MARK_NAMES), "use": st.lists(st.sampled_from(MARK_NAMES), min_size=1, max_size=3)})
RANGES = some(lowest=KEYS, highest=KEYS)


def articulations(ids: list[str], memories: list[str]) -> st.SearchStrategy[Json]:
    """Return articulations without an id and a memory of their own."""
    return some(
        name=WORDS, plays=PLAYS, triggers=st.lists(TRIGGERS, max_size=3), acts_on=st.sampled_from(["next", "sounding"]),
        resets=st.lists(st.sampled_from(memories), max_size=2), together=st.booleans(), range=st.none() | RANGES, key=st.none() | KEYS,
        when=some(ms=bounds(5000), keys=bounds(127), level=bounds(1000)), voices=st.none() | st.integers(1, 8),
        lead_ms=some(first=st.integers(0, 300), connected=st.none() | st.integers(0, 300)), overlap_ms=st.integers(0, 200),
        gap_ms=st.integers(0, 100), joins=st.booleans(), length=some(scale=st.integers(1, 2000), at_most_ms=st.integers(1, 2000)),
        loudness=st.none() | LOUDNESS, alternates=st.lists(st.sampled_from(ids), max_size=2), strike=SOUNDS, rings=st.booleans(),
        damp=st.none() | KEYS, syllable=WORDS, **{"with": st.lists(st.sampled_from(ids), max_size=2)},
    )  # fmt: skip


@st.composite
def any_maps(draw: st.DrawFn) -> Json:
    """Return a map with one to three memories and up to eight articulations; its checks may say anything of it."""
    memories = [f"m{i}" for i in range(draw(st.integers(1, 3)))]
    ids = [f"a{i}" for i in range(draw(st.integers(len(memories), 8)))]
    homes = memories + draw(st.lists(st.sampled_from(memories), min_size=len(ids), max_size=len(ids)))
    made = [draw(articulations(ids, memories)) | {"id": name, "memory": homes[i]} for i, name in enumerate(ids)]
    fields = some(
        sound=SOUNDS, players=st.sampled_from([None, "solo", "ensemble"]), middle_c=st.sampled_from(["C3", "C4"]), range=RANGES,
        key_offset=st.integers(-24, 24), bend_range=st.none() | st.integers(1, 24), loudness=LOUDNESS,
        stand_ins=st.lists(STAND_INS, max_size=3),
    )  # fmt: skip
    return draw(fields) | {
        "kind": "articulation-map", "edition": 1, "name": draw(WORDS), "articulations": made,
        "memories": [{"id": memory, "default": f"a{i}"} for i, memory in enumerate(memories)],
    }  # fmt: skip
