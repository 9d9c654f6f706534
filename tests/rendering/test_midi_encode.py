"""What is written: the order at a tick, the head block, and what cannot be written."""

from __future__ import annotations

import pytest

from rendering.midi import dump, encode, meta


def written(events: list[int], metas: list[tuple[int, bytes]], shift: int = 0, end: int = 0) -> list[str]:
    return dump.text(encode.file([encode.track(sorted(events), metas, shift, end)], 960)).splitlines()[1:]


def test_the_order_at_a_tick_is_off_then_switches_then_on() -> None:
    events = [
        encode.event(96, encode.ON_RANK, 0x90, 62, 80),
        encode.event(96, encode.FIRST_SWITCH_RANK + 1, 0xB0, 20, 64),
        encode.event(96, encode.FIRST_SWITCH_RANK, 0xC0, 5),
        encode.event(96, encode.HELD_OFF_RANK, 0x80, 24, 0),
        encode.event(96, encode.OFF_RANK, 0x80, 60, 64),
    ]
    assert written(events, [(96, meta.marker("A")), (96, meta.tempo(400_000))], end=100) == [
        '96 1 - marker "A"', "96 1 - tempo 400000", "96 1 1 note_off 60 64", "96 1 1 note_off 24 0",
        "96 1 1 program 5", "96 1 1 controller 20 64", "96 1 1 note_on 62 80", "100 1 - end_of_track",
    ]  # fmt: skip


def test_the_head_block_stays_and_all_else_shifts() -> None:
    metas = [(0, meta.marker("A")), (0, meta.track_name("Horn")), (0, meta.time_signature(4, 4)), (480, meta.tempo(400_000))]
    events = [encode.event(-10, 15, 0x90, 60, 80), encode.event(470, 0, 0x80, 60, 64)]
    assert written(events, metas, shift=3840, end=960) == [
        '0 1 - track_name "Horn"', "0 1 - time_signature 4/4 24 8", "3830 1 1 note_on 60 80", '3840 1 - marker "A"',
        "4310 1 1 note_off 60 64", "4320 1 - tempo 400000", "4800 1 - end_of_track",
    ]  # fmt: skip


def test_a_track_ends_with_its_last_event_if_that_is_later() -> None:
    assert written([encode.event(50, 0, 0x80, 60, 64)], [], end=10)[-1] == "50 1 - end_of_track"
    assert written([], [(50, meta.marker("A"))], end=10)[-1] == "50 1 - end_of_track"


def test_delays_of_every_length() -> None:
    ticks = [0, 127, 127 + 128, 127 + 128 + 16383, 127 + 128 + 16383 + 16384, 3_000_000, 3_000_000 + 0xFFFFFFF]
    events = [encode.event(tick, 15, 0xE3, 1, 65) for tick in ticks]
    assert written(events, [], end=0) == [f"{tick} 1 4 bend 129" for tick in ticks] + [f"{ticks[-1]} 1 - end_of_track"]


@pytest.mark.parametrize(("events", "metas", "shift"), [
    ([encode.event(-1, 0, 0x80, 60, 0)], [], 0),  # before the beginning
    ([encode.event(-100, 0, 0x80, 60, 0)], [], 99),
    ([encode.event(5, 0, 0x80, 60, 0), encode.event(4, 0, 0x80, 61, 0)], [], 0),  # not in order
    ([encode.event(0x10000000, 0, 0x80, 60, 0)], [], 0),  # later than four bytes can say
    ([], [(-5, meta.marker("A"))], 0),
])  # fmt: skip
def test_what_a_track_cannot_hold(events: list[int], metas: list[tuple[int, bytes]], shift: int) -> None:
    with pytest.raises(ValueError, match="is not in 0 to 268435455"):
        encode.track(events, metas, shift, 0)


@pytest.mark.parametrize(("make", "sentence"), [
    (lambda: encode.file([], 0), "0 ticks per quarter note are not in 1 to 32767"),
    (lambda: encode.file([], 0x8000), "32768 ticks per quarter note are not in 1 to 32767"),
    (lambda: encode.file([b"", b""], 96, 0), "format 0 cannot hold 2 tracks"),
    (lambda: encode.file([b""], 96, 2), "format 2 cannot hold 1 tracks"),
    (lambda: encode.variable_length(-1), "-1 is not in 0 to 268435455"),
    (lambda: encode.variable_length(0x10000000), "268435456 is not in 0 to 268435455"),
    (lambda: meta.tempo(0), "0 microseconds per quarter note are not in 1 to 16777215"),
    (lambda: meta.tempo(1 << 24), "16777216 microseconds per quarter note are not in 1 to 16777215"),
    (lambda: meta.time_signature(4, 3), "a MIDI file cannot say 4/3"),
    (lambda: meta.time_signature(0, 4), "a MIDI file cannot say 0/4"),
    (lambda: meta.key_signature(8), "a key signature of 8 fifths is not in -7 to 7"),
    (lambda: meta.port(128), "port 128 is not in 0 to 127"),
    (lambda: meta.meta(128, b""), "meta type 128 is not in 0 to 127"),
])  # fmt: skip
def test_what_a_file_cannot_say(make: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=f"^{sentence}$"):
        make()  # type: ignore[operator]
