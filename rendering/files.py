"""The MIDI files of a render: one with all tracks, and one for each track."""

from __future__ import annotations

import re
from collections.abc import Iterator

from rendering.midi import encode, meta
from rendering.rendered import Run, TrackRun
from rendering.score import Measure
from rendering.timeline import DEFAULT_MICROS

NAME_LENGTH = 60


def midi_files(run: Run) -> dict[str, bytes]:
    """Return "all.mid" and "tracks/NN name.mid"; all tracks end at the same tick."""
    conductor = encode.track([], _conductor(run), run.shift, run.end)
    chunks = [_track_chunk(run, t) for t in run.tracks]
    files = {"all.mid": encode.file([conductor, *chunks], run.options.ppq)}
    digits = max(2, len(str(len(chunks))))
    for number, (chunk, t) in enumerate(zip(chunks, run.tracks, strict=True), 1):
        files[f"tracks/{number:0{digits}} {file_name(t.track.name)}.mid"] = encode.file([conductor, chunk], run.options.ppq)
    return files


def file_name(name: str) -> str:
    """Return a track's name as part of a file name: at most 60 characters, odd ones replaced by "_"."""
    return re.sub(r"[^\w .-]", "_", name)[:NAME_LENGTH].strip(" .") or "track"


def _track_chunk(run: Run, t: TrackRun) -> bytes:
    metas = [(0, meta.track_name(t.track.name)), (0, meta.port(t.track.port)), (0, meta.text(f"port {t.track.port + 1}"))]
    metas.append((0, meta.text(f"ripieno {_inputs(run, t)}")))
    head = [e - (run.shift << 28) for e in t.scheduled.head]
    events = sorted(head + t.scheduled.events) if head else t.scheduled.events
    return encode.track(events, metas, run.shift, run.end)


def _inputs(run: Run, t: TrackRun) -> str:
    """The digests by which a bounce of this track can be traced to what it was made from."""
    own = f"map:{t.track.id}"
    named = {"map" if k == own else k: v for k, v in run.digests.items() if k == own or not k.startswith("map:")}
    return " ".join(f"{k}={v}" for k, v in sorted(named.items()))


def _conductor(run: Run) -> list[tuple[int, bytes]]:
    clock = run.playing.clock
    metas = [(0, meta.track_name(run.score.title or "Conductor"))]
    metas += [(tick, meta.tempo(micros)) for tick, micros in zip(clock.starts, clock.micros, strict=True)] or [
        (0, meta.tempo(DEFAULT_MICROS))
    ]
    metas += list(_signatures(run))
    metas += [(tick, meta.marker(text)) for tick, text in _markers(run)]
    return metas


def _signatures(run: Run) -> Iterator[tuple[int, bytes]]:
    """Time and key signatures where they change; an unequal measure shows the meter that it really holds."""
    meter, key = (0, 0), None
    bars = run.playing.bars
    for tick, bar in bars:
        now = _meter(bar, run.score.unit)
        if now != meter and now[0]:
            meter = now
            yield tick, meta.time_signature(*meter)
        if bar.key != key and -7 <= bar.key <= 7:
            key = bar.key
            yield tick, meta.key_signature(key)


def _meter(bar: Measure, unit: int) -> tuple[int, int]:
    """The meter that makes the sequencer's bar as long as the measure; (0, 0) where none can say it."""
    beats, kind = bar.meter
    if kind and bar.length * kind == unit * 4 * beats:
        return (beats, kind) if kind & (kind - 1) == 0 and beats <= 255 else (0, 0)
    for power in (4, 8, 16, 32, 64):
        if bar.length and bar.length * power % (unit * 4) == 0 and bar.length * power // (unit * 4) <= 255:
            return bar.length * power // (unit * 4), power
    return 0, 0


def _markers(run: Run) -> Iterator[tuple[int, str]]:
    playing = run.playing
    for piece in playing.slices:
        for unit, text in run.score.rehearsal:
            if piece.start <= unit < piece.stop:
                yield playing.tick(unit + piece.shift), text
