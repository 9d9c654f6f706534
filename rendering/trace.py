"""One row a note: what was chosen, sent and heard, and why. Explanations and drawings read it."""

from __future__ import annotations

import json
from collections.abc import Iterator

from rendering.marks import MARKS
from rendering.rendered import Run, TrackRun
from rendering.resolve import OUTCOMES, Outcome
from rendering.resolve.decision import sent_keys

COLUMNS = ("note", "pass", "part", "track", "key", "on", "off", "heard", "level", "articulations", "outcomes", "reason")


def trace(run: Run) -> bytes:
    """Return notes.json, {"columns": […], "rows": [[…], …]}.

    Ticks count from the start of the file; `heard` is when the note is heard as struck. `on` and `off` are null
    for a silent note and for one that sounds as part of another, `heard` for a silent one.
    """
    head = f'{{"columns":{json.dumps(COLUMNS)},"rows":['
    rows = [row for t in run.tracks for row in _rows(run, t)]
    return (head + ",\n".join(rows) + "]}").encode()


def _rows(run: Run, t: TrackRun) -> Iterator[str]:
    sent, merged, late = _sent(t), set(t.merged()), t.scheduled.yielded
    tails = [_tail(t, n, 0) for n in range(len(t.decisions))]
    track = json.dumps(t.track.id)
    s, shift, clock = t.scheduled.notes, run.shift, run.playing.clock
    for number, voice in enumerate(t.voices):
        part = json.dumps(run.score.parts[voice.part].id)
        line = voice.line
        keys = sent_keys(line.key, voice.decisions, t.decisions)
        for row, (source, number_of_pass, key, on, d) in enumerate(
            zip(line.source, line.number, keys, line.on, voice.decisions, strict=True)
        ):
            i = sent.get((number, row), -1)
            tail = tails[d]
            if i >= 0:
                heard = clock.later(s.on[i], t.decisions[d].lead_ms + t.extra_ms) if (number, row) in late else on
                times, level = f"{s.on[i] + shift},{s.off[i] + shift},{heard + shift}", s.level[i]
            elif (number, row) in merged:
                times, level, tail = f"null,null,{on + shift}", line.level[row], _tail(t, d, Outcome.MERGED)
            else:
                times, level = "null,null,null", line.level[row]
            yield f"[{source},{number_of_pass},{part},{track},{key},{times},{level},{tail}]"


def _sent(t: TrackRun) -> dict[tuple[int, int], int]:
    s = t.scheduled.notes
    return {(v, r): i for i, (v, r, gone) in enumerate(zip(s.voice, s.row, s.merged, strict=True)) if not gone}


def _tail(t: TrackRun, number: int, least: int) -> str:
    """The last columns of a note with this decision; no outcome of it is better than `least`."""
    d = t.decisions[number]
    names = [t.track.sampler.entries[i].id for i in d.entries]
    outcomes = {MARKS[bit].name: OUTCOMES[max(outcome, least)] for bit, outcome in d.outcomes}
    return ",".join(json.dumps(value, ensure_ascii=False) for value in (names, outcomes, d.reason))
