"""What the reader refuses, and with which sentence; each limit on both sides."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace

import pytest

from rendering.annotate import annotate
from rendering.codes import message
from rendering.problems import Refused
from rendering.readers import Limits, read
from rendering.unfold import unfold
from tests.rendering.made_scores import document, measures, note, notes, packed, score_of

PLAIN = document(measures(notes("C4 D4 E4 F4"), notes("G4 A4 B4 C5")))


def refusal(data: bytes, limits: Limits | None = None) -> str:
    with pytest.raises(Refused) as found:
        read(data, limits)
    (only,) = found.value.problems
    return message(only)


def nothing(what: str) -> str:
    return f"score: {what} – nothing is read"


BOMB = (
    b'<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa">'
    + b"".join(b'<!ENTITY %c "&%c;&%c;&%c;&%c;&%c;&%c;&%c;&%c;">' % ((n + 1,) + (n,) * 8) for n in range(ord("a"), ord("j")))
    + b"]><score-partwise><part-list>&j;</part-list></score-partwise>"
)
OUTSIDE = b'<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise><work><work-title>&x;</work-title></work></score-partwise>'
PARAMETER = b'<!DOCTYPE score-partwise [<!ENTITY % x SYSTEM "http://host.invalid/x.dtd"> %x;]><score-partwise/>'


@pytest.mark.parametrize(("data", "what"), [
    (b"", "the file is empty"),
    (b" \r\n\t\0 ", "the file is empty"),
    (packed(b""), "the file is empty"),
    (b"\x89PNG\r\n\x1a\n" + bytes(64), "this is a PNG picture, no MusicXML and no Standard MIDI File"),
    (b"%PDF-1.7", "this is a PDF, no MusicXML and no Standard MIDI File"),
    (b"hello", "this is neither XML, zip nor MIDI, no MusicXML and no Standard MIDI File"),
    (b"<html><body/></html>", "the document is a <html>, not a MusicXML score"),
    (b"<opus><title/></opus>", "the document is a <opus>, not a MusicXML score"),
    (b"PK\x03\x04 and no more", "the compressed file is damaged"),
    (packed(PLAIN)[:-30], "the compressed file is damaged"),
    (packed(b"x", "cover.png").replace(b"META-INF/container.xml", b"META-INF/cantoiner.xml"), "the compressed file holds no score"),
    (BOMB, "the document declares entities of its own"),
    (OUTSIDE, "the document declares entities of its own"),
    (PARAMETER, "the document declares entities of its own"),
])  # fmt: skip
def test_what_is_no_score_is_refused_in_a_sentence(data: bytes, what: str) -> None:
    assert refusal(data) == nothing(what)


def test_a_midi_file_is_refused_for_now() -> None:
    assert (
        refusal(b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60") == "score: this is a MIDI sketch, not a MusicXML score – nothing is read"
    )


@pytest.mark.parametrize(("data", "line", "text"), [
    (b"<score-partwise>\n<part-list>\n</score-partwise>", 3, "Opening and ending tag mismatch: part-list line 2 and score-partwise"),
    (PLAIN[:200], 1, "expected '>'"),
    (b"<score-partwise>&nothing;</score-partwise>", 1, "Entity 'nothing' not defined"),
])  # fmt: skip
def test_broken_xml_is_refused_with_its_line(data: bytes, line: int, text: str) -> None:
    assert refusal(data) == nothing(f"the XML is broken in line {line} ({text})")


def test_bytes_that_are_not_in_their_encoding_are_refused() -> None:
    assert refusal(PLAIN.replace(b"Violin", b"Viol\xff\xfe")).startswith("score: the XML is broken in line 1 (")


def deep(depth: int) -> bytes:
    """Return a score whose deepest element is `depth` deep."""
    return b"<score-partwise>" + b"<x>" * (depth - 1) + b"</x>" * (depth - 1) + b"</score-partwise>"


def test_depth() -> None:
    assert read(deep(256))[1] == []
    assert refusal(deep(257)) == nothing("elements are nested more than 256 deep")
    assert read(deep(257), Limits.none())[1] == []


def drawer(score: bytes, more: int) -> bytes:
    """Return a compressed score with `more` other files in it."""
    return packed(score, **{f"picture{n}": b"x" for n in range(more)})


SPACED = PLAIN + b" " * 50_000


def voices(count: int) -> str:
    """Return a measure with so many voices, one after the other."""
    return "<backup><duration>16</duration></backup>".join(note("C4", 16, voice=str(v)) for v in range(count))


@pytest.mark.parametrize(("data", "limit", "fits", "what"), [
    (PLAIN, "raw_bytes", len(PLAIN), f"the file has {len(PLAIN)} bytes, {len(PLAIN) - 1} are allowed"),
    (packed(PLAIN), "unpacked_bytes", len(PLAIN), f"the score unpacks to more than the {len(PLAIN) - 1} bytes allowed"),
    (drawer(PLAIN, 5), "entries", 7, "the compressed file holds 7 files, 6 are allowed"),
    (document(*[measures(note("C4", 16))] * 3), "parts", 3, "the score has more than the 2 parts allowed"),
    (PLAIN, "notes", 8, "the score has more than the 7 notes allowed"),
    (document(measures(voices(5))), "voices", 5, "a part has more than the 4 voices allowed"),
    (PLAIN, "played", 2, "with its repeats the score would play more than the 1 measures allowed"),
])  # fmt: skip
def test_each_limit_on_both_sides(data: bytes, limit: str, fits: int, what: str) -> None:
    read(data, replace(Limits(), **{limit: fits}))
    assert refusal(data, replace(Limits(), **{limit: fits - 1})) == nothing(what)


def test_the_ratio_of_a_container_on_both_sides() -> None:
    data = packed(SPACED)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        entry = archive.getinfo("score.musicxml")
    ratio = -(-entry.file_size // entry.compress_size)
    read(data, replace(Limits(), ratio=ratio))
    assert refusal(data, replace(Limits(), ratio=ratio - 1)) == nothing(f"the score unpacks to more than {ratio - 1} times its packed size")


def test_sizes_are_measured_and_not_believed() -> None:
    """The header of the entry says 10 bytes; what counts is what comes out."""
    data = packed(SPACED)
    size = len(SPACED).to_bytes(4, "little")
    assert data.count(size) == 2
    refused = refusal(data.replace(size, (10).to_bytes(4, "little")), replace(Limits(), unpacked_bytes=1000))
    assert refused in {nothing("the compressed file is damaged"), nothing("the score unpacks to more than the 1000 bytes allowed")}


def times(count: int) -> bytes:
    repeat = f'<barline location="right"><repeat direction="backward" times="{count}"/></barline>'
    return document(measures(note("C4", 16), note("D4", 16) + repeat))


def test_measures_played_on_both_sides() -> None:
    as_read, _ = read(times(10_000))
    score, _ = annotate(as_read)
    unfold(score, as_read)
    assert sum(last - first + 1 for first, last, _ in score.itinerary) == 20_000
    with pytest.raises(Refused) as found:
        score_of(times(10_001))
    assert message(found.value.problems[0]) == nothing("with its repeats the score would play more than the 20000 measures allowed")


def test_directions_of_a_part_count_like_notes() -> None:
    data = document(measures("<direction><direction-type><segno/></direction-type></direction>" * 10 + note("C4", 16)))
    read(data, replace(Limits(), notes=10))
    assert refusal(data, replace(Limits(), notes=9)) == nothing("a part has more than the 9 directions allowed")


def test_service_and_command_line() -> None:
    service, command = Limits(), Limits.command_line()
    names = ("raw_bytes", "unpacked_bytes", "ratio", "entries", "parts", "voices", "notes", "played")
    assert [getattr(service, n) for n in names] == [32 << 20, 128 << 20, 200, 200, 200, 200, 300_000, 20_000]
    assert all(getattr(command, n) == 10 * getattr(service, n) for n in names)
    assert not command.deep


def test_a_meter_of_nothing_is_refused_with_its_place() -> None:
    time_xml = "<attributes><time><beats>0</beats><beat-type>0</beat-type></time></attributes>"
    data = document(measures(note("C4", 16), time_xml + note("D4", 16)))
    assert refusal(data) == (
        "Violin, measure 2: time signature 0/0 has neither beats nor a beat – the score is refused, for its measures cannot be told"
    )


@pytest.mark.parametrize("text", ["0/4", "4/0", "x/4", "-3/4", "4/3.5", "1000/4", "4/512", "3/4+"])
def test_a_time_signature_without_sense_is_a_problem_with_a_place(text: str) -> None:
    beats, _, unit = text.partition("/")
    time_xml = f"<attributes><time><beats>{beats}</beats><beat-type>{unit}</beat-type></time></attributes>"
    score, problems = score_of(document(measures(note("C4", 16), time_xml + note("D4", 16))))
    assert [m.meter for m in score.measures] == [(4, 4), (4, 4)]
    assert [message(p) for p in problems if p.code == "bad-meter"] == [
        f"Violin, measure 2: time signature {text} makes no sense – the meter before goes on"
    ]
