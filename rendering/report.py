"""The report of a render: what was played how, what was lost, and what the proof heard."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from rendering.codes import message, severity
from rendering.marks import MARKS
from rendering.outcomes import count_outcomes, totals
from rendering.perform import Played
from rendering.places import beat_text, place_at, place_of
from rendering.problems import Place, Problem, problem
from rendering.rendered import ENGINE, TABLES, Run, TrackRun
from rendering.resolve import Decision, Outcome, Voice
from rendering.score import Score

MOST_DISAGREEMENTS = 1000
ORDER = {"error": 0, "warning": 1, "remark": 2}


def report(run: Run) -> dict[str, Any]:
    """Return the report document (kind "report", edition 1)."""
    return {
        "kind": "report",
        "edition": 1,
        "engine": ENGINE,
        "tables": TABLES,
        "inputs": dict(run.digests),
        "choices": run.options.document(),
        "score": _score(run),
        "preroll": {"measures": run.shift // run.bar, "ticks": run.shift},
        "tracks": [_track(run, t) for t in run.tracks],
        "proof": _proof(run),
        "unread": [unread_row(run.score, *u) for u in run.score.unread],
        "problems": grouped([*run.problems, *track_problems(run)]),
    }


def _score(run: Run) -> dict[str, Any]:
    return {
        "title": run.score.title,
        "measures": len(run.score.measures),
        "played": len(run.playing.bars),
        "notes": sum(len(line) for part in run.parts for line in part.lines),
        "parts": [{"id": p.part.id, "name": p.part.name, "notes": len({s for line in p.lines for s in line.source})} for p in run.parts],
    }


def _track(run: Run, t: TrackRun) -> dict[str, Any]:
    marks = count_outcomes(t.voices, t.decisions, t.merged())
    return {
        "id": t.track.id,
        "name": t.track.name,
        "parts": list(dict.fromkeys(run.score.parts[part].id for part in (take.part for take in t.track.lines))),
        "map": t.track.document.name,
        "port": t.track.port + 1,
        "channel": t.track.channel + 1,
        "delay_ms": t.delay_ms,
        "notes": sum(_written(voice.line) for voice in t.voices),
        "outcomes": totals(marks),
        "marks": marks,
    }


def _written(line: Played) -> int:
    """How many notes of the score a line plays; one that is written out as several counts once."""
    return len({*zip(line.source, line.number, strict=True)}) if line.repeats else len(line)


def _proof(run: Run) -> dict[str, Any]:
    disagree = [place for t in run.tracks for place in _disagreements(run, t)]
    return {
        "notes": sum(t.verdict.notes for t in run.tracks),
        "agree": sum(t.verdict.agree for t in run.tracks),
        "yielded": sum(len(t.verdict.yielded) for t in run.tracks),
        "disagree": disagree,
    }


def _disagreements(run: Run, t: TrackRun) -> Iterator[dict[str, Any]]:
    for voice, row, heard in t.verdict.disagree[:MOST_DISAGREEMENTS]:
        yield {**where(_heard_place(run, t, voice, row)), "heard": heard}


def _heard_place(run: Run, t: TrackRun, voice: int, row: int) -> Place:
    """Where a disagreement is; of what nobody wrote `row` is the tick, and the bar that plays there is named."""
    if voice >= 0:
        return note_place(run, t, voice, row)
    tick, bar = run.playing.bar_at(row)
    beat = beat_text(row - tick, run.options.ppq, bar.meter)
    return Place(part_name=f"track {t.track.name}", measure=bar.number, ordinal=bar.ordinal, beat=beat)


def note_place(run: Run, t: TrackRun, voice: int, row: int) -> Place:
    """Return where the note in a row of a voice stands in the score."""
    it = t.voices[voice]
    return place_of(run.score, run.score.parts[it.part].id, it.line.source[row])


def where(place: Place) -> dict[str, Any]:
    """Return a place as the documents show it, without the fields that do not apply."""
    names = ("part", "part_name", "measure", "ordinal", "beat", "staff", "voice", "note", "pass_number", "pointer")
    values = ((("pass" if n == "pass_number" else n), getattr(place, n)) for n in names)
    return {name: value for name, value in values if value or (name == "pointer" and value is not None)}


def unread_row(score: Score, text: str, part: str, unit: int, staff: int) -> dict[str, Any]:
    """Return one row of a list of words that were not understood."""
    return {"text": text, "where": where(place_at(score, part, unit, staff))}


# ── Problems of the tracks ──

Counted = tuple[Problem, int]  # a problem with its first place, and how often it was met


def track_problems(run: Run) -> list[Counted]:
    """Return what choosing, scheduling and the proof found; places are reckoned for the first of each kind."""
    found: list[Counted] = []
    for t in run.tracks:
        for number, voice in enumerate(t.voices):
            found += _choices(run, t, number, voice)
        found += _places(run, t, t.scheduled.yielded.items())
        found += _places(run, t, ((place, "unison-merged") for place in t.merged()))
        for voice_number, row, heard in t.verdict.disagree[:MOST_DISAGREEMENTS]:
            found.append((problem("proof-disagrees", _heard_place(run, t, voice_number, row), heard=heard), 1))
    return found


def _places(run: Run, t: TrackRun, rows: Iterable[tuple[tuple[int, int], str]]) -> Iterator[Counted]:
    """One problem a code and part, at its first note."""
    groups: dict[tuple[str, int], list[tuple[int, int]]] = {}
    for place, code in rows:
        groups.setdefault((code, t.voices[place[0]].part), []).append(place)
    for (code, _), places in groups.items():
        yield problem(code, note_place(run, t, *min(places))), len(places)


def _choices(run: Run, t: TrackRun, number: int, voice: Voice) -> Iterator[Counted]:
    telling = {d.index for d in t.decisions if d.outside or d.silent or _lossy(d)}
    if not telling.intersection(voice.decisions):
        return
    groups: dict[tuple[int, int], list[int]] = {}  # (decision, key where the key matters) -> rows
    seen: set[int] = set()
    for row, (d, source) in enumerate(zip(voice.decisions, voice.line.source, strict=True)):
        if d in telling and source not in seen:
            seen.add(source)
            decision = t.decisions[d]
            groups.setdefault((d, voice.line.key[row] if decision.outside or decision.silent else -1), []).append(row)
    for (d, _), rows in groups.items():
        place = note_place(run, t, number, rows[0])
        for found in _loss(t, t.decisions[d], voice.line.key[rows[0]], place):
            yield found, len(rows)


def _lossy(d: Decision) -> bool:
    return any(outcome >= Outcome.STAND_IN for _, outcome in d.outcomes)


def _loss(t: TrackRun, d: Decision, key: int, place: Place) -> Iterator[Problem]:
    sampler = t.track.sampler
    if d.silent:
        yield problem(d.silent, place, key=key, map=sampler.name)
        return
    if d.outside:
        yield problem("key-outside-range", place, key=key, map=sampler.name, lowest=sampler.lowest, highest=sampler.highest)
    played = ", ".join(sampler.entries[i].name for i in d.entries if sampler.entries[i].memory == 0 or sampler.entries[i].plays)
    for bit, outcome in d.outcomes:
        if outcome >= Outcome.STAND_IN:
            code = "mark-stand-in" if outcome == Outcome.STAND_IN else "mark-plain"
            yield problem(code, place, map=sampler.name, mark=MARKS[bit].name, played=played)


def grouped(problems: Iterable[Problem | Counted]) -> list[dict[str, Any]]:
    """Return problems as documents, equal ones of a part told once with their count, errors first."""
    groups: dict[tuple[object, ...], Counted] = {}
    for found in problems:
        p, n = found if isinstance(found, tuple) else (found, 1)
        name = (p.code, p.place.part, p.place.pointer, p.arguments)
        first, count = groups.get(name, (p, 0))
        groups[name] = (first, count + n)
    rows = sorted(groups.values(), key=_rank)
    return [
        {
            "code": p.code,
            "severity": severity(p),
            "where": where(p.place),
            "arguments": dict(p.arguments),
            "message": message(p),
            "count": n,
        }
        for p, n in rows
    ]


def _rank(row: Counted) -> int:
    return ORDER[severity(row[0])]


# ── As text ──


def report_text(document: dict[str, Any]) -> str:
    """Return the report for reading: one sentence, a line a track, the proof, then the problems."""
    return "\n".join(_text_lines(document)) + "\n"


def summary(document: dict[str, Any]) -> str:
    """Return the render in one sentence."""
    proof = document["proof"]
    outcomes = totals({t["id"]: t["outcomes"] for t in document["tracks"]})
    counts = ", ".join(f"{n} {outcome}" for outcome, n in outcomes.items()) or "no marks"
    return f"{document['score']['notes']} notes on {len(document['tracks'])} tracks; marks: {counts}; {proof_sentence(proof)}"


def proof_sentence(proof: dict[str, Any]) -> str:
    """Return the proof in words: "proof 100 %: 812 of 812 notes heard as chosen, 0 yielded"."""
    whole = proof["notes"] - proof["yielded"]
    percent = "100" if not proof["disagree"] else f"{100 * proof['agree'] / max(whole, 1):.2f}"
    text = f"proof {percent} %: {proof['agree']} of {proof['notes']} notes heard as chosen, {proof['yielded']} yielded"
    return text + (f", {len(proof['disagree'])} disagree" if proof["disagree"] else "")


def _text_lines(document: dict[str, Any]) -> Iterable[str]:
    yield document["score"]["title"] or "Untitled"
    yield summary(document)
    if document["preroll"]["measures"]:
        yield f"pre-roll: {document['preroll']['measures']} measures ({document['preroll']['ticks']} ticks)"
    yield ""
    for t in document["tracks"]:
        outcomes = ", ".join(f"{n} {outcome}" for outcome, n in t["outcomes"].items()) or "no marks"
        yield f"{t['name']} (port {t['port']}, channel {t['channel']}, {t['map']}): {t['notes']} notes; {outcomes}"
        for mark, row in t["marks"].items():
            yield f"    {mark}: " + ", ".join(f"{n} {outcome}" for outcome, n in row.items())
    for p in document["problems"]:
        times = f" ({p['count']} times)" if p["count"] > 1 else ""
        yield f"{p['severity']}: {p['message']}{times}"
    for u in document["unread"]:
        yield f"unread: “{u['text']}” in {u['where'].get('part_name', 'the score')}, measure {u['where'].get('measure', '?')}"
