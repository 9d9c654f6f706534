"""Playing from any rehearsal mark, or after a long rest, is right: what was sent before is not needed."""

from __future__ import annotations

import pytest

from fixtures import demo
from rendering.documents import read
from rendering.listening import Heard, Seat, listen
from rendering.maps.document import ArticulationMap
from rendering.midi import decode
from rendering.pipeline import Rendering, render
from rendering.rendered import Options
from rendering.templates import Template


def rendered(file: demo.TemplateFile, restate: str) -> Rendering:
    template = read(Template, file.body)
    maps = {t.id: read(ArticulationMap, (demo.FOLDER / str(t.map.file)).read_bytes()) for t in template.tracks}
    return render(demo.SCORE, template=template, template_maps=maps, options=Options(restate=restate))  # type: ignore[arg-type]


def heard_from(r: Rendering, tick: int) -> Heard:
    """Listen as if playback began at `tick` of the file: nothing sent before is known, notes begun before are not heard."""
    tracks = decode.read(r.files["all.mid"]).tracks
    for track in tracks:
        begun = {e >> 8 & 0xFFF for e in track.events if e >> 28 < tick and e >> 20 & 15 == 9}
        later = [e for e in track.events if e >> 28 >= tick]
        known: set[int] = set()
        kept = []
        for e in later:
            key, kind = e >> 8 & 0xFFF, e >> 20 & 15
            known |= {key} if kind == 9 else set()
            if not (kind == 8 and key in begun and key not in known):
                kept.append(e)
        track.events = kept
    return listen(tracks, [Seat(t.track.sampler, t.track.channel, t.track.port, t.label) for t in r.run.tracks])


def notes(heard: Heard, first: dict[int, int]) -> list[tuple[object, ...]]:
    """The notes of each seat from its first onset in `first` on: when, which key, which articulations, how loud."""
    return [
        (heard.seat[i], heard.on[i], heard.key[i], heard.entries(i), heard.velocity[i], level(heard, i))
        for i in range(len(heard))
        if heard.on[i] >= first.get(heard.seat[i], 1 << 60)
    ]


def level(heard: Heard, i: int) -> int | None:
    """The value of the controller that carries a note's loudness; None where its velocity alone does."""
    sampler = heard.seats[heard.seat[i]].sampler
    played = [sampler.entries[e].loudness for e in heard.entries(i) if e >= 0]
    own = next((p for p in played if p is not sampler.loudness), played[0] if played else None)
    if own is None or own.controller < 0:
        return None
    return heard.level[i][heard.controllers[heard.seat[i]].index(own.controller)]


@pytest.mark.parametrize("file", demo.TEMPLATES, ids=lambda file: file.name)
def test_playing_from_a_rehearsal_mark_is_right(file: demo.TemplateFile) -> None:
    r = rendered(file, "change")
    assert len(r.run.playing.rehearsal) >= 5
    whole = heard_from(r, 0)
    assert r.run.playing.rehearsal[0] == 0  # the piece begins with one; whoever plays from there plays the file from its start
    for mark in r.run.playing.rehearsal[1:]:
        # Each track from its first note that is written at the mark or later, sent early by its lead.
        first: dict[int, int] = {}
        for seat, t in enumerate(r.run.tracks):
            s = t.scheduled.notes
            sent = [on for on, written in zip(s.on, s.written, strict=True) if written >= mark]
            if sent:
                first[seat] = min(sent) + r.run.shift
        begin = min(mark + r.run.shift, *first.values()) - 1000
        assert notes(heard_from(r, begin), first) == notes(whole, first), mark


def test_without_restating_it_would_not_be() -> None:
    """The check above sees a render in which a mark is no place to begin."""
    r = rendered(demo.TEMPLATES[0], "change")
    whole = heard_from(r, 0)
    somewhere = dict.fromkeys(range(len(r.run.tracks)), 100000)
    assert notes(heard_from(r, 100_000), somewhere) != notes(whole, somewhere)
