"""What was read of a score: its parts, marks and measures, and what its reader made of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from rendering.assign import describe
from rendering.marks import names
from rendering.perform import plan_playing
from rendering.pipeline import load
from rendering.readers import Limits
from rendering.readers.smf import AS_PLAYED
from rendering.report import grouped, unread_row
from rendering.score import TIE_STOP, TIE_THROUGH, Part
from rendering.timeline import PPQ, half_up


def inspect(data: bytes, limits: Limits | None = None, grid: str = AS_PLAYED) -> dict[str, Any]:
    """Return a summary document (kind "score-summary", edition 1) of a score file; raises Refused.

    `notes` counts written notes that sound (a tied chain as one), `marks` how many notes bear each mark,
    `seconds` is how long the score lasts as played; a sketch is set to `grid` first.
    """
    score, problems = load(data, limits, grid=grid)
    playing, found = plan_playing(score, PPQ)
    described = describe(score)
    return {
        "kind": "score-summary",
        "edition": 1,
        "title": score.title,
        "measures": len(score.measures),
        "played": len(playing.bars),
        "seconds": half_up(playing.clock.time_at(playing.end), 1_000_000 * PPQ),
        "parts": [
            {
                "id": it.part.id,
                "name": it.part.name,
                "sound": it.sound,
                "players": it.players,
                "numbers": list(it.numbers),
                "notes": sum(1 for line in it.part.lines for tie in line.tie if tie not in (TIE_STOP, TIE_THROUGH)),
                "voices": [{"staff": line.staff, "voice": line.voice, "notes": len(line)} for line in it.part.lines],
                "marks": marks_of(it.part),
            }
            for it in described
        ],
        "unread": [unread_row(score, *u) for u in score.unread],
        "problems": grouped([*problems, *found]),
    }


def marks_of(part: Part) -> dict[str, int]:
    """Return how many written notes of a part bear each mark, by rank of the mark."""
    masks = Counter(m for line in part.lines for m in line.marks if m)
    counts: Counter[str] = Counter()
    for mask, n in masks.items():
        for name in names(mask):
            counts[name] += n
    order = names(_union(masks))
    return {name: counts[name] for name in order}


def _union(masks: Counter[int]) -> int:
    out = 0
    for mask in masks:
        out |= mask
    return out


def inspect_text(summary: dict[str, Any]) -> str:
    """Return the summary for reading."""
    return "\n".join(_lines(summary)) + "\n"


def _lines(summary: dict[str, Any]) -> Iterator[str]:
    yield summary["title"] or "Untitled"
    minutes, seconds = divmod(summary["seconds"], 60)
    yield f"{summary['measures']} measures, {summary['played']} played, {minutes}:{seconds:02} minutes, {len(summary['parts'])} parts"
    for part in summary["parts"]:
        yield f"{part['id']} {part['name']}: {part['sound'] or 'sound unknown'}, {part['notes']} notes"
        if part["marks"]:
            yield "    " + ", ".join(f"{name} {n}" for name, n in part["marks"].items())
    for p in summary["problems"]:
        times = f" ({p['count']} times)" if p["count"] > 1 else ""
        yield f"{p['severity']}: {p['message']}{times}"
    for u in summary["unread"]:
        yield f"unread: “{u['text']}” in {u['where'].get('part_name', 'the score')}, measure {u['where'].get('measure', '?')}"
