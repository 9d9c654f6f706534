"""Notes that are no music: keys that switched a sampler when the sketch was played."""

from __future__ import annotations

from rendering.readers.smf.strands import Played
from rendering.timeline import Clock

SHORT_MS = 100  # a key that switches is tapped
FAR = 12  # semitones from the nearest other note


def part_switches(notes: list[Played], clock: Clock) -> tuple[list[Played], list[Played]]:
    """Return the music and the notes that look like switches.

    Those are shorter than a tenth of a second and an octave or more outside the keys of all longer notes
    (this project's choice). A part with short notes only has none: nothing says where its music lies.
    """
    short = [clock.ms_between(note.on, note.off) < SHORT_MS for note in notes]
    keys = [note.key for note, is_short in zip(notes, short, strict=True) if not is_short]
    if not keys:
        return notes, []
    lowest, highest = min(keys) - FAR, max(keys) + FAR
    found = [is_short and not lowest < note.key < highest for note, is_short in zip(notes, short, strict=True)]
    if not any(found):
        return notes, []
    music = [note for note, switch in zip(notes, found, strict=True) if not switch]
    return music, [note for note, switch in zip(notes, found, strict=True) if switch]
