"""Standard MIDI Files against the standard's own tables and files, and against mido.

Source of tables and files: Standard MIDI Files 1.0 (RP-001, revised February 1996), read in the
transcription gutenfries/playback, core/docs/MIDI-spec.md; the format 0 file also in a second one.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rendering.midi import decode, dump, encode, meta
from tests.outside.mido_dump import mido_dump

# SMF 1.0, its table of variable-length quantities
VARIABLE_LENGTH = [
    (0x00, "00"), (0x40, "40"), (0x7F, "7F"), (0x80, "81 00"), (0x2000, "C0 00"), (0x3FFF, "FF 7F"),
    (0x4000, "81 80 00"), (0x100000, "C0 80 00"), (0x1FFFFF, "FF FF 7F"), (0x200000, "81 80 80 00"),
    (0x8000000, "C0 80 80 00"), (0xFFFFFFF, "FF FF FF 7F"),
]  # fmt: skip

# SMF 1.0, appendix: the example file in format 0 and in format 1
FORMAT_0 = bytes.fromhex("""
    4D 54 68 64 00 00 00 06 00 00 00 01 00 60
    4D 54 72 6B 00 00 00 3B
    00 FF 58 04 04 02 18 08   00 FF 51 03 07 A1 20
    00 C0 05   00 C1 2E   00 C2 46
    00 92 30 60   00 3C 60   60 91 43 40   60 90 4C 20
    81 40 82 30 40   00 3C 40   00 81 43 40   00 80 4C 40
    00 FF 2F 00""")
FORMAT_1 = bytes.fromhex("""
    4D 54 68 64 00 00 00 06 00 01 00 04 00 60
    4D 54 72 6B 00 00 00 14   00 FF 58 04 04 02 18 08   00 FF 51 03 07 A1 20   83 00 FF 2F 00
    4D 54 72 6B 00 00 00 10   00 C0 05   81 40 90 4C 20   81 40 4C 00   00 FF 2F 00
    4D 54 72 6B 00 00 00 0F   00 C1 2E   60 91 43 40   82 20 43 00   00 FF 2F 00
    4D 54 72 6B 00 00 00 15   00 C2 46   00 92 30 60   00 3C 60   83 00 30 00   00 3C 00   00 FF 2F 00""")

FORMAT_0_TEXT = """\
format 0, 96 ticks per quarter note
0 1 - time_signature 4/4 24 8
0 1 - tempo 500000
0 1 1 program 5
0 1 2 program 46
0 1 3 program 70
0 1 3 note_on 48 96
0 1 3 note_on 60 96
96 1 2 note_on 67 64
192 1 1 note_on 76 32
384 1 3 note_off 48 64
384 1 3 note_off 60 64
384 1 2 note_off 67 64
384 1 1 note_off 76 64
384 1 - end_of_track
"""
FORMAT_1_TEXT = """\
format 1, 96 ticks per quarter note
0 1 - time_signature 4/4 24 8
0 1 - tempo 500000
384 1 - end_of_track
0 2 1 program 5
192 2 1 note_on 76 32
384 2 1 note_on 76 0
384 2 - end_of_track
0 3 2 program 46
96 3 2 note_on 67 64
384 3 2 note_on 67 0
384 3 - end_of_track
0 4 3 program 70
0 4 3 note_on 48 96
0 4 3 note_on 60 96
384 4 3 note_on 48 0
384 4 3 note_on 60 0
384 4 - end_of_track
"""


@pytest.mark.parametrize(("number", "written"), VARIABLE_LENGTH)
def test_numbers_are_written_as_in_the_table(number: int, written: str) -> None:
    assert encode.variable_length(number) == bytes.fromhex(written)


@pytest.mark.parametrize(("number", "written"), VARIABLE_LENGTH)
def test_numbers_are_read_as_in_the_table(number: int, written: str) -> None:
    chunk = bytes.fromhex(written) + bytes.fromhex("90 3C 40 00 FF 2F 00")
    track = decode.read(encode.file([b"MTrk" + len(chunk).to_bytes(4, "big") + chunk], 96)).tracks[0]
    assert track.events == [(number << 28) + 0x903C40]


@pytest.mark.parametrize(("data", "expected"), [(FORMAT_0, FORMAT_0_TEXT), (FORMAT_1, FORMAT_1_TEXT)], ids=["format 0", "format 1"])
def test_the_example_files_are_read(data: bytes, expected: str) -> None:
    assert dump.text(data) == expected
    assert mido_dump(data) == expected
    assert decode.read(data).problems == []


def written_again(data: bytes) -> bytes:
    """Return a file with the same contents, written by us from what we read."""
    file = decode.read(data)
    tracks = [
        encode.track(t.events, [(m.tick, meta.meta(m.kind, m.contents)) for m in t.metas], 0, t.end) for t in file.tracks
    ]  # fmt: skip
    return encode.file(tracks, file.ppq, file.smf_format)


@pytest.mark.parametrize(("data", "expected"), [(FORMAT_0, FORMAT_0_TEXT), (FORMAT_1, FORMAT_1_TEXT)], ids=["format 0", "format 1"])
def test_the_example_files_are_written(data: bytes, expected: str) -> None:
    assert dump.text(written_again(data)) == expected
    assert mido_dump(written_again(data)) == expected


def test_the_bytes_written_are_the_examples_with_every_status() -> None:
    """The examples save statuses ("running status"); we write each of them, the rest is byte for byte the same."""
    full = FORMAT_0.replace(bytes.fromhex("00 3C 60"), bytes.fromhex("00 92 3C 60"))
    full = full.replace(bytes.fromhex("00 3C 40"), bytes.fromhex("00 82 3C 40")).replace(b"\x00\x00\x00\x3b", b"\x00\x00\x00\x3d")
    assert written_again(FORMAT_0) == full


@pytest.mark.parametrize(("body", "written"), [
    (meta.tempo(500_000), "FF 51 03 07 A1 20"),
    (meta.time_signature(4, 4), "FF 58 04 04 02 18 08"),
    (meta.time_signature(6, 8), "FF 58 04 06 03 24 08"),
    (meta.key_signature(0), "FF 59 02 00 00"),
    (meta.key_signature(-7, minor=True), "FF 59 02 F9 01"),  # SMF 1.0: sf = -7: 7 flats, mi = 1: minor
    (meta.port(3), "FF 21 01 03"),  # not in SMF 1.0; common practice, no source
    (meta.track_name("Viola"), "FF 03 05 56 69 6F 6C 61"),
    (meta.text("a"), "FF 01 01 61"),
    (meta.marker("A"), "FF 06 01 41"),
])  # fmt: skip
def test_meta_events(body: bytes, written: str) -> None:
    assert body == bytes.fromhex(written)


def test_sysex_is_read_as_it_is_stored() -> None:
    """SMF 1.0: the message F0 43 12 00 07 F7 is stored as F0 05 43 12 00 07 F7."""
    chunk = bytes.fromhex("00 F0 05 43 12 00 07 F7 00 FF 2F 00")
    data = encode.file([b"MTrk" + len(chunk).to_bytes(4, "big") + chunk], 96)
    assert dump.text(data) == mido_dump(data) == "format 1, 96 ticks per quarter note\n0 1 - sysex 43 12 00 07 F7\n0 1 - end_of_track\n"


STATUSES = st.sampled_from([0x80, 0x90, 0xA0, 0xB0, 0xC0, 0xD0, 0xE0])
TICKS = st.one_of(st.integers(0, 300), st.integers(0, 1_000_000))


@st.composite
def events(draw: st.DrawFn) -> list[int]:
    """Events of one track in the order of the file, ranks as they come."""

    def one() -> int:
        status = draw(STATUSES)
        data2 = 0 if 0xC0 <= status < 0xE0 else draw(st.integers(0, 127))
        rank = draw(st.integers(0, 15))
        return encode.event(draw(TICKS), rank, status + draw(st.integers(0, 15)), draw(st.integers(0, 127)), data2)

    return sorted(one() for _ in range(draw(st.integers(0, 30))))


WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc", "Cn", "Zl", "Zp", "Zs", "Co", "Cf"], exclude_characters='"\\'), max_size=20)
METAS = st.one_of(
    WORDS.map(meta.text),
    WORDS.map(meta.track_name),
    WORDS.map(meta.marker),
    st.integers(0, 127).map(meta.port),
    st.integers(1, 0xFFFFFF).map(meta.tempo),
    st.builds(meta.time_signature, st.integers(1, 255), st.sampled_from([1, 2, 4, 8, 16, 32])),
    st.builds(meta.key_signature, st.integers(-7, 7), st.booleans()),
)
TRACKS = st.tuples(events(), st.lists(st.tuples(TICKS, METAS), max_size=6), st.integers(0, 2_000_000))


@settings(max_examples=150, deadline=None)
@given(st.lists(TRACKS, max_size=3), st.integers(1, 0x7FFF))
def test_what_we_write_reads_the_same_here_and_in_mido(tracks: list[tuple[list[int], list[tuple[int, bytes]], int]], ppq: int) -> None:
    data = encode.file([encode.track(e, m, 0, end) for e, m, end in tracks], ppq)
    file = decode.read(data)
    assert [t.events for t in file.tracks] == [[e & ~(15 << 24) for e in wanted] for wanted, _, _ in tracks]
    assert [[m.contents for m in t.metas] for t in file.tracks] == [
        [body[3:] for _, body in sorted(metas, key=lambda m: m[0])] for _, metas, _ in tracks
    ]
    assert file.problems == []
    assert dump.text(data) == mido_dump(data)
