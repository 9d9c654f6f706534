"""Files that are refused, and files that are read in spite of something."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rendering.codes import message, severity
from rendering.midi import decode, dump, encode, meta
from rendering.problems import Refused

END = "00 FF 2F 00"


def file_of(*chunks: str, header: str = "00 01 00 01 01 E0", length: int = 6) -> bytes:
    """Return a file with these MTrk contents, in hexadecimal."""
    tracks = [bytes.fromhex(chunk) for chunk in chunks]
    head = b"MThd" + length.to_bytes(4, "big") + bytes.fromhex(header)
    return head + b"".join(b"MTrk" + len(t).to_bytes(4, "big") + t for t in tracks)


def refusal(data: bytes) -> str:
    with pytest.raises(Refused) as caught:
        decode.read(data)
    (found,) = caught.value.problems
    assert severity(found) == "error"
    return message(found)


@pytest.mark.parametrize(("data", "sentence"), [
    (b"", "MIDI file: no MThd chunk at the start – nothing was read"),
    (b"\x89PNG\r\n\x1a\n", "MIDI file: no MThd chunk at the start – nothing was read"),
    (b"MThd\0\0\0\x06\0\x01", "MIDI file: the data end at byte 10, in the middle of something – nothing was read"),
    (file_of(header="00 02 00 01 01 E0"), "MIDI file: format 2, and only 0 and 1 play as one piece – nothing was read"),
    # SMF 1.0: E2 50 is 30 frames a second of 80 ticks each
    (file_of(header="00 01 00 01 E2 50"),
     "MIDI file: time in frames (30 a second, 80 ticks each), without quarter notes – nothing was read"),
    (file_of(header="00 01 00 01 00 00"), "MIDI file: no ticks per quarter note – nothing was read"),
    (file_of("00 90 3C 40" + END)[:-3], "MIDI file: the data end at byte 27, in the middle of something – nothing was read"),
    (file_of("00 90 3C"), "track 1: the data end at byte 3, in the middle of something – nothing was read"),
    (file_of("00 FF 03 09 41"), "track 1: the data end at byte 5, in the middle of something – nothing was read"),
    (file_of("81"), "track 1: the data end at byte 1, in the middle of something – nothing was read"),
    (file_of("00 3C 40" + END), "track 1: byte 1 is data where a first status is due – nothing was read"),
    (file_of("00 90 3C 90" + END), "track 1: a status before byte 3, where data are due – nothing was read"),
    (file_of("00 C0 90" + END), "track 1: a status before byte 2, where data are due – nothing was read"),
    (file_of("00 F8" + END), "track 1: byte 1 is F8, which begins no event of a file – nothing was read"),
    (file_of("00 FF 80 00" + END), "track 1: byte 2 is 80, which begins no event of a file – nothing was read"),
    (file_of("81 80 80 80 00 90 3C 40" + END), "track 1: the number at byte 0 has more than four bytes – nothing was read"),
    (file_of(END, "00 3C 40"), "track 2: byte 1 is data where a first status is due – nothing was read"),
])  # fmt: skip
def test_refused(data: bytes, sentence: str) -> None:
    assert refusal(data) == sentence


@pytest.mark.parametrize(("data", "sentences", "events"), [
    (file_of("00 90 3C 40 00 FF 01 01 61 0A 3C 00" + END),
     ["track 1: byte 10 relies on the status before a meta event – that status was taken, though the event had cancelled it"],
     ["0 1 1 note_on 60 64", '0 1 - text "a"', "10 1 1 note_on 60 0", "10 1 - end_of_track"]),
    (file_of("00 90 3C 40 0A 3C 00"), ["track 1: no end of track – the track ends with its last event"],
     ["0 1 1 note_on 60 64", "10 1 1 note_on 60 0", "10 1 - end_of_track"]),
    (file_of(END, header="00 01 00 04 01 E0"), ["MIDI file: the header states 4 tracks, there are 1 – those that are there were read"],
     ["0 1 - end_of_track"]),
    (file_of(END + "00 00"), ["track 1: 2 bytes after the end – they were passed over"], ["0 1 - end_of_track"]),
    (file_of(END) + b"\0\0\0", ["MIDI file: 3 bytes after the end – they were passed over"], ["0 1 - end_of_track"]),
])  # fmt: skip
def test_read_in_spite_of(data: bytes, sentences: list[str], events: list[str]) -> None:
    assert [message(p) for p in decode.read(data).problems] == sentences
    assert dump.text(data).splitlines()[1:] == events


@pytest.mark.parametrize("data", [
    file_of("00 90 3C 40" + END, header="00 01 00 01 01 E0 AB CD", length=8),  # SMF 1.0: longer headers are to be expected
    file_of() + b"XFIH\0\0\0\x03abc" + file_of("00 90 3C 40" + END)[14:],  # SMF 1.0: chunks of unknown types are to be ignored
])  # fmt: skip
def test_what_the_standard_announces_is_passed_over(data: bytes) -> None:
    file = decode.read(data)
    assert (file.problems, [t.events for t in file.tracks]) == ([], [[0x903C40]])


def test_every_kind_of_message_with_and_without_running_status() -> None:
    data = file_of(
        "00 85 3C 01 00 3D 02  01 95 3C 03  00 A5 3C 04 00 3D 05  81 00 B5 07 06 00 0A 07  00 C5 08 00 09"
        "82 80 00 D5 0A 05 0B  00 E5 00 40 00 01 00" + END
    )
    assert dump.text(data).splitlines()[1:] == [
        "0 1 6 note_off 60 1", "0 1 6 note_off 61 2", "1 1 6 note_on 60 3", "1 1 6 key_pressure 60 4", "1 1 6 key_pressure 61 5",
        "129 1 6 controller 7 6", "129 1 6 controller 10 7", "129 1 6 program 8", "129 1 6 program 9",
        "32897 1 6 pressure 10", "32902 1 6 pressure 11", "32902 1 6 bend 0", "32902 1 6 bend -8191", "32902 1 - end_of_track",
    ]  # fmt: skip


def test_a_status_after_a_meta_event_may_run_on() -> None:
    file = decode.read(file_of("00 FF 01 01 61  00 90 3C 40  0A 3C 00" + END))
    assert (file.problems, file.tracks[0].events) == ([], [0x903C40, (10 << 28) + 0x903C00])


def test_texts_are_escaped_and_odd_metas_shown_as_bytes() -> None:
    metas = [
        (0, meta.text('a "b"\\\n')),
        (0, meta.meta(0x51, b"\x01")),
        (0, meta.meta(0x54, b"\x01\x02")),
        (0, meta.meta(0x03, b"Fl\xf6te")),
    ]
    data = encode.file([encode.track([], metas, 0, 5)], 480)
    assert dump.text(data).splitlines()[1:] == [
        r'0 1 - text "a \"b\"\\\n"', "0 1 - meta 51 01", "0 1 - meta 54 01 02", '0 1 - track_name "Flöte"', "5 1 - end_of_track"
    ]  # fmt: skip


def test_name_port_and_channels_of_a_track() -> None:
    chunk = encode.track(
        [encode.event(0, 15, 0x93, 60, 1), encode.event(4, 0, 0x80, 60, 1)], [(0, meta.track_name("Viola ♯")), (0, meta.port(2))], 0, 9
    )
    named, bare = decode.read(encode.file([chunk, encode.track([], [], 0, 0)], 960)).tracks
    assert (named.name, named.port, named.channels, named.end) == ("Viola ♯", 2, [0, 3], 9)
    assert (bare.name, bare.port, bare.channels, bare.end) == ("", 0, [], 0)


def test_events_across_the_borders_of_what_is_read_at_once() -> None:
    """Thousands of events of mixed sizes, so that every kind of cut falls somewhere inside one."""
    events = [
        encode.event(7 * i + (i % 5) * 40 * (i // 3000), i % 2, (0x90, 0xC0, 0xB0)[i % 3], i % 128, i % 127 if i % 3 != 1 else 0)
        for i in range(9000)
    ]
    data = encode.file([encode.track(sorted(events), [], 0, 0)], 960)
    assert decode.read(data).tracks[0].events == [e & ~(15 << 24) for e in sorted(events)]


@given(st.binary(max_size=60), st.booleans())
def test_any_bytes_are_read_or_refused(noise: bytes, framed: bool) -> None:
    data = file_of(noise.hex()) if framed else file_of(END) + noise
    try:
        file = decode.read(data)
    except Refused as refused:
        codes = [p.code for p in refused.problems]
    else:
        codes = ["midi-read"]
        assert all(0 <= e & 0xFFFFFF <= 0xEF7F7F for t in file.tracks for e in t.events)
        assert dump.text(data).startswith("format 1, 480 ticks per quarter note\n")
    assert [code.startswith("midi-") for code in codes] == [True]
