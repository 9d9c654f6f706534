"""One row a note: what was chosen, sent and heard, and why. Explanations and drawings read it."""

from __future__ import annotations

import json
from collections.abc import Iterator

from rendering.marks import MARKS
from rendering.rendered import Run, TrackRun
from rendering.resolve import OUTCOMES
from rendering.resolve.decision import sent_keys

COLUMNS = ("note", "pass", "part", "track", "key", "on", "off", "heard", "level", "articulations", "outcomes", "reason")


def trace(run: Run) -> bytes:
    """Return notes.json, {"columns": […], "rows": [[…], …]}.

    Ticks count from the start of the file; `heard` is when it is heard as struck; `on` and `off` are null
    for a silent note and for one that sounds as part of another.
    """
    head = f'{{"columns":{json.dumps(COLUMNS)},"rows":['
    rows = [row for t in run.tracks for row in _rows(run, t)]
    return (head + ",\n".join(rows) + "]}").encode()


def _rows(run: Run, t: TrackRun) -> Iterator[str]:
    sent = _sent(t)
    tails = [_tail(t, n) for n in range(len(t.decisions))]
    track = json.dumps(t.track.id)
    for number, voice in enumerate(t.voices):
        part = json.dumps(run.score.parts[voice.part].id)
        line = voice.line
        keys = sent_keys(line.key, voice.decisions, t.decisions)
        for row, (source, number_of_pass, key, on, d) in enumerate(
            zip(line.source, line.number, keys, line.on, voice.decisions, strict=True)
        ):
            i = sent.get((number, row), -1)
            if i < 0:
                times, level = f"null,null,{on + run.shift}", line.level[row]
            else:
                s = t.scheduled.notes
                times = f"{s.on[i] + run.shift},{s.off[i] + run.shift},{on + run.shift}"
                level = s.level[i]
            yield f"[{source},{number_of_pass},{part},{track},{key},{times},{level},{tails[d]}]"


def _sent(t: TrackRun) -> dict[tuple[int, int], int]:
    s = t.scheduled.notes
    return {(v, r): i for i, (v, r, gone) in enumerate(zip(s.voice, s.row, s.merged, strict=True)) if not gone}


def _tail(t: TrackRun, number: int) -> str:
    d = t.decisions[number]
    names = [t.track.sampler.entries[i].id for i in d.entries]
    outcomes = {MARKS[bit].name: OUTCOMES[outcome] for bit, outcome in d.outcomes}
    return ",".join(json.dumps(value, ensure_ascii=False) for value in (names, outcomes, d.reason))
