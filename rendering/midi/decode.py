"""Reads Standard MIDI Files of formats 0 and 1 (SMF 1.0, RP-001) into plain ints, fast.

Read leniently where SMF 1.0 asks for it (longer headers, unknown chunks) or where the meaning is
beyond doubt (running status that goes on across a meta event, a missing end of track: each leaves
a problem). What cannot be read for certain is `Refused` with the track and byte where it stands.
"""

from __future__ import annotations

from collections.abc import Iterable
from operator import length_hint
from typing import NamedTuple, NoReturn

from rendering.midi.meta import END, PORT, TRACK_NAME
from rendering.problems import NOWHERE, Place, Problem, Refused, problem

SYSEX, ESCAPE, META = 0xF0, 0xF7, 0xFF


class Meta(NamedTuple):
    """A meta event or system exclusive message.

    tick      absolute
    position  how many of the track's `events` stand before it in the file
    kind      0-127, the type of a meta event; SYSEX or ESCAPE (F0 or F7, contents without that byte)
    contents  its bytes after the length
    """

    tick: int
    position: int
    kind: int
    contents: bytes


class Track:
    """One MTrk chunk.

    events    channel messages in the order of the file, each `(tick << 28) + (status << 16) +
              (data1 << 8) + data2`: the layout of `rendering.midi.encode` with rank 0
    metas     meta events and system exclusive messages in the order of the file, the end of track left out
    end       tick of the end of track
    statuses  which status bytes occur in `events`
    """

    __slots__ = ("end", "events", "metas", "statuses")

    def __init__(self) -> None:
        self.events: list[int] = []
        self.metas: list[Meta] = []
        self.end: int = 0
        self.statuses: set[int] = set()

    @property
    def channels(self) -> list[int]:
        """The channels that occur, 0-15, ascending."""
        return sorted({status & 15 for status in self.statuses})

    @property
    def name(self) -> str:
        """The track's first name (FF 03), "" without one; what is not UTF-8 is read as Latin-1."""
        return text(next((m.contents for m in self.metas if m.kind == TRACK_NAME), b""))

    @property
    def port(self) -> int:
        """The port (FF 21) from 0; 0 when none is named."""
        return next((m.contents[0] for m in self.metas if m.kind == PORT and m.contents), 0)


class File(NamedTuple):
    """A whole file; `problems` are warnings and remarks, the file could be read in spite of them."""

    smf_format: int
    ppq: int
    tracks: list[Track]
    problems: list[Problem]


def text(contents: bytes) -> str:
    """Return the words of a text, name or marker; what is not UTF-8 is read as Latin-1."""
    try:
        return contents.decode()
    except UnicodeDecodeError:
        return contents.decode("latin-1")


def read(data: bytes) -> File:
    """Return a decoded file of format 0 or 1.

    Refused (codes `midi-…`) when it is none, is cut short, counts frames instead of quarter notes
    (SMPTE), has format 2, or holds bytes that no channel message, meta event or sysex begins with.
    """
    smf_format, count, ppq, start = _header(data)
    problems: list[Problem] = []
    tracks = [_TrackReader(chunk, n, problems).read() for n, chunk in enumerate(_chunks(data, start, problems), 1)]
    if len(tracks) != count:
        problems.append(problem("midi-track-count", FILE, stated=count, found=len(tracks)))
    return File(smf_format, ppq, tracks, problems)


FILE = Place(part_name="MIDI file")


def _refuse(code: str, place: Place = NOWHERE, **arguments: str | int) -> NoReturn:
    raise Refused([problem(code, place, **arguments)])


def _header(data: bytes) -> tuple[int, int, int, int]:
    """Return format, number of tracks, ticks per quarter note, and where the first track chunk may begin."""
    if data[:4] != b"MThd":
        _refuse("midi-no-header", FILE)
    length = int.from_bytes(data[4:8], "big")
    if length < 6 or len(data) < 8 + length:
        _refuse("midi-truncated", FILE, byte=len(data))
    smf_format, count, division = (int.from_bytes(data[i : i + 2], "big") for i in (8, 10, 12))
    if smf_format > 1:
        _refuse("midi-format", FILE, number=smf_format)
    if division & 0x8000:
        _refuse("midi-frames", FILE, frames=256 - (division >> 8), ticks=division & 0xFF)
    if division == 0:
        _refuse("midi-no-division", FILE)
    return smf_format, count, division, 8 + length


def _chunks(data: bytes, start: int, problems: list[Problem]) -> Iterable[bytes]:
    """Yield the contents of each MTrk chunk; chunks of other types are passed over."""
    while start + 8 <= len(data):
        kind, stop = data[start : start + 4], start + 8 + int.from_bytes(data[start + 4 : start + 8], "big")
        if kind == b"MTrk":
            if stop > len(data):
                _refuse("midi-truncated", FILE, byte=len(data))
            yield data[start + 8 : stop]
        start = stop
    if start < len(data):
        problems.append(problem("midi-trailing-bytes", FILE, count=len(data) - start))


_WINDOW = 4096  # bytes looked at by one run: a copy that small costs less than one event
_PLAIN = bytes(0x80 <= s < 0xC0 or 0xE0 <= s < 0xF0 for s in range(256))  # statuses with two data bytes


class _TrackReader:
    """Reads one chunk; `at` is the place of the next byte.

    Most events are a short delta, a status and two data bytes: `_run` takes those from one iterator,
    four at a time, which is twice as fast as indexing. Whatever else comes goes through `_single`.
    """

    __slots__ = ("at", "cancelled", "data", "number", "problems", "status", "tick", "track")

    def __init__(self, data: bytes, number: int, problems: list[Problem]) -> None:
        self.data: bytes = data
        self.number: int = number
        self.problems: list[Problem] = problems
        self.track: Track = Track()
        self.at: int = 0
        self.tick: int = 0
        self.status: int = 0  # the last one; 0 = none yet
        self.cancelled: bool = False  # whether a meta event or sysex has ended running status

    @property
    def place(self) -> Place:
        """The track, by its number from 1."""
        return Place(part_name=f"track {self.number}")

    def read(self) -> Track:
        """Return the decoded track."""
        try:
            ended = self._events()
        except IndexError:
            _refuse("midi-truncated", self.place, byte=len(self.data))
        self.track.end = self.tick
        if not ended:
            self.problems.append(problem("midi-no-end", self.place))
        elif self.at < len(self.data):
            self.problems.append(problem("midi-trailing-bytes", self.place, count=len(self.data) - self.at))
        return self.track

    def _events(self) -> bool:
        """Read all events; return whether an end of track closed them. IndexError when bytes are missing."""
        while self.at < len(self.data):
            self._run()
            while self.at < len(self.data):
                at = self.at
                if self._single():
                    return True
                if self.data[at + 1] > 127:  # a status is written again: what follows may be plain
                    break
        return False

    def _run(self) -> None:
        """Read events up to the first that is not plain, at most a window of them."""
        append, add, plain = self.track.events.append, self.track.statuses.add, _PLAIN
        tick, start = self.tick, self.at
        window = self.data[start : start + _WINDOW] + b"\xff\xff\xff\xff\xff"  # never plain: the loop ends there
        bytes_left, status, taken = iter(window), self.status, 0
        for delta, first, second, third in zip(bytes_left, bytes_left, bytes_left, bytes_left, strict=False):
            if delta < 128:
                taken, step, kind, body = 4, delta, first, second << 8 | third
            elif first < 128:
                taken, step, kind, body = 5, (delta & 127) << 7 | first, second, third << 8 | next(bytes_left, 255)
            else:
                taken = 4
                break
            if not plain[kind] or body & 0x8080:
                break
            tick += step
            status = kind
            add(kind)
            append((tick << 28) + (kind << 16) + body)
        self.at = start + len(window) - length_hint(bytes_left) - taken
        self.cancelled = self.cancelled and self.at == start
        self.tick, self.status = tick, status

    def _single(self) -> bool:
        """Read one event of any form; return whether it was the end of track."""
        data = self.data
        delta, at = self._number(self.at)
        self.tick += delta
        first = data[at]
        if first > 0xEF:
            self.at = at + 1
            return self._other(first)
        if first > 127:
            self.status, self.cancelled = first, False
            self.track.statuses.add(first)
            at += 1
        elif self.cancelled or not self.status:
            self._carry_on(at)
        self._message(at)
        return False

    def _message(self, at: int) -> None:
        """Append the channel message whose data bytes begin at `at`."""
        body = self.data[at] << 8
        if not 0xC0 <= self.status < 0xE0:
            at += 1
            body |= self.data[at]
        if body & 0x8080:
            _refuse("midi-data-byte", self.place, byte=at)
        self.track.events.append((self.tick << 28) + (self.status << 16) + body)
        self.at = at + 1

    def _carry_on(self, at: int) -> None:
        """A data byte where a status was due: refused, or after a meta event taken as running status."""
        if not self.status:
            _refuse("midi-no-status", self.place, byte=at)
        self.problems.append(problem("midi-running-status", self.place, byte=at))
        self.cancelled = False

    def _number(self, at: int) -> tuple[int, int]:
        """Return the variable-length quantity that begins at `at`, and the place after it."""
        number = 0
        for here in range(at, at + 4):
            byte = self.data[here]
            number = number << 7 | byte & 127
            if byte < 128:
                return number, here + 1
        _refuse("midi-long-number", self.place, byte=at)

    def _other(self, first: int) -> bool:
        """Read a meta event or sysex, whose first byte is past; return whether it was the end of track."""
        self.cancelled = True
        kind = first
        if first == META:
            kind = self.data[self.at]
            self.at += 1
        if kind > 127 and first not in (SYSEX, ESCAPE):
            _refuse("midi-status-byte", self.place, byte=self.at - 1, status=f"{kind:02X}")
        length, at = self._number(self.at)
        self.at = at + length
        if self.at > len(self.data):
            raise IndexError
        if kind == END and first == META:
            return True
        self.track.metas.append(Meta(self.tick, len(self.track.events), kind, self.data[at : self.at]))
        return False
