"""A map as an SFZ instrument with one tone an articulation, played by sfizz from our MIDI.

SFZ: sfz.github.io documentation. Facts about sfizz that shape this: it remembers one last keyswitch,
so each memory gets an instrument of its own, which the other memories' switch keys do not reach. It
knows no "most specific" articulation, and `sw_up` undoes `sw_last` in one region (measured): so held
keys get an instrument of their own too, and what that one plays is what is heard. Sustained samples are
cut at random unless `hint_ram_based=1` stands in `<control>`; at one sample a switch acts only if it
comes before the note. Programs and channels are FluidSynth's (`tests.outside.ears.fluid`).
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pysfizz

from rendering.listening import Heard
from rendering.maps.table import HELD, KEY, PROGRAM, VELOCITY, Condition, Entry, Sampler
from tests.outside.ears.tones import BURST, RATE, Sound, is_on, timed, tones_at, write_wave

BLOCK = 256
LOUD = 0.13  # what sfizz makes on one side of a tone at half of full scale, its panning included (measured: 0.116 to 0.133)


class HeardTone(NamedTuple):
    """One note of a track and the tones that began with it.

    entries  by memory: the articulations whose tones begin at this sample. Of notes at one sample
             each has the tones of all; a single note that is played right has exactly one
    joined   whether the tone of a connected note (trigger=legato) is among them
    """

    tick: int
    key: int
    velocity: int
    entries: tuple[frozenset[int], ...]
    joined: bool


def play_sfz(data: bytes, sampler: Sampler, track: int) -> list[HeardTone]:
    """Return each note of MIDI track `track` (from 0) with the articulations heard, in the order of the file.

    ValueError when SFZ cannot say a trigger of the map.
    """
    switches = {*sampler.latches, *sampler.toggles, *sampler.held}
    events = list(timed(data, track))
    notes = [(sample, tick, m) for sample, tick, m in events if is_on(m) and m.note not in switches]
    columns, joined = [], [False] * len(notes)
    for memory in range(len(sampler.memories)):
        column: list[frozenset[int]] = [frozenset()] * len(notes)
        for instrument in (Instrument(sampler, memory, held=False), Instrument(sampler, memory, held=True)):
            sound = instrument.play([(s, m) for s, _, m in events if instrument.hears(m)])
            found = [tones_at(sound, sample, len(instrument.tones), LOUD) for sample, _, _ in notes]
            named = [frozenset(instrument.tones[tone][0] for tone in tones) for tones in found]
            column = [over or under for over, under in zip(named, column, strict=True)]
            joined = [was or any(instrument.tones[tone][1] for tone in tones) for was, tones in zip(joined, found, strict=True)]
        columns.append(column)
    return [
        HeardTone(tick, m.note, m.velocity, tuple(column[i] for column in columns), joined[i]) for i, (_, tick, m) in enumerate(notes)
    ]  # fmt: skip


def disagreements(tones: Sequence[HeardTone], heard: Heard, rows: Sequence[int]) -> list[str]:
    """Return where the tones are not those of `rows` of what our listener heard, a sentence each; [] if nowhere."""
    found = []
    expected = sorted((heard.on[row], heard.key[row], heard.entries(row)) for row in rows)
    if [(tick, key) for tick, key, _ in expected] != sorted((t.tick, t.key) for t in tones):
        return ["not the same notes"]
    for tick, group in groupby(sorted(tones, key=lambda t: t.tick), key=lambda t: t.tick):
        every = [entries for on, _, entries in expected if on == tick]
        wanted = tuple(frozenset(column) for column in zip(*every, strict=True))
        found += [f"tick {tick}: {tone.entries} instead of {wanted}" for tone in group if tone.entries != wanted]
    return found


class Instrument:
    """Articulations of one memory as SFZ text: those that hold a key, or all others.

    tones  (entry, whether it is the tone of a connected note), in the order of the tones
    keys   its switch keys; deaf = those of all others
    """

    def __init__(self, sampler: Sampler, memory: int, *, held: bool) -> None:
        self.sampler = sampler
        self.entries = [e for e in sampler.entries if e.memory == memory and any(map(_is_held, e.conditions)) == held]
        self.latches = {register for registers in sampler.latches.values() for register in registers}
        conditions = [c for e in self.entries for c in e.conditions]
        self.keys = {c.low for c in conditions if c.register in self.latches} | {c.register - HELD for c in conditions if _is_held(c)}
        self.deaf = {*sampler.latches, *sampler.toggles, *sampler.held} - self.keys
        self.controllers = {c.register for c in conditions if c.register < HELD}
        # A held key counts as a note that sounds, so whether its articulation's notes are joined cannot be heard.
        self.tones = [(e.index, joined) for e in self.entries for joined in ([False, True] if e.joins and not held else [False])]
        self.joining = {index for index, joined in self.tones if joined}

    def hears(self, message: Any) -> bool:
        """Return whether a message is for this instrument: no switch of another, no controller but its own.

        Others would move the loudness of a tone: by themselves 7 and 11 are volume and expression in sfizz.
        """
        if message.type == "control_change":
            return message.control in self.controllers
        return message.type not in ("note_on", "note_off") or message.note not in self.deaf

    def text(self) -> str:
        """Return the SFZ file; its samples are called 0.wav, 1.wav, … by tone."""
        low, high = min(map(self._lowest, self.sampler.entries)), max(map(self._highest, self.sampler.entries))
        lines = [
            "<control> hint_ram_based=1",
            f"<global> loop_mode=one_shot amp_veltrack=0 pitch_keytrack=0 lokey={max(low, 0)} hikey={min(high, 127)}",
        ]
        if self.keys:
            lines[1] += f" sw_lokey={min(self.keys)} sw_hikey={max(self.keys)}"
        for tone, (index, joined) in enumerate(self.tones):
            entry = self.sampler.entries[index]
            trigger = "" if index not in self.joining else " trigger=legato" if joined else " trigger=first"
            lines.append(f"<region> sample={tone}.wav{trigger}{self._conditions(entry)}")
        return "\n".join(lines) + "\n"

    def _lowest(self, entry: Entry) -> int:
        return entry.lowest + self.sampler.key_offset + entry.shift

    def _highest(self, entry: Entry) -> int:
        return entry.highest + self.sampler.key_offset + entry.shift

    def _conditions(self, entry: Entry) -> str:
        kinds = [_is_held(c) or c.register in self.latches for c in entry.conditions]
        if entry.channel >= 0 or entry.track or sum(kinds) > 1:
            raise ValueError(f"SFZ cannot say how {entry.id} is chosen")
        return "".join(f" {_opcode(self._widened(c), self.latches)}" for c in entry.conditions)

    def _widened(self, condition: Condition) -> Condition:
        """Lower a controller's bound by one where that is nobody's: sfizz hears 9, 13, 18, 26 and 36 as a hair less (measured)."""
        below = condition.low - 1
        others = [c for e in self.entries for c in e.conditions if c.register == condition.register]
        if condition.register >= HELD or below < 0 or any(c.low <= below <= c.high for c in others):
            return condition
        return condition._replace(low=below)

    def play(self, events: Sequence[tuple[int, Any]]) -> Sound:
        """Return the left channel of what sfizz plays of (sample, message) in time order; silence without articulations."""
        if not self.tones:
            return np.zeros(events[-1][0] + BURST if events else 0)
        with tempfile.TemporaryDirectory() as folder:
            for tone in range(len(self.tones)):
                write_wave(Path(folder) / f"{tone}.wav", tone)
            file = Path(folder) / "memory.sfz"
            file.write_text(self.text())
            synth = pysfizz.Synth(RATE, BLOCK)
            assert synth.load_sfz_file(file), self.text()
            return _rendered(synth._synth, events)


def _rendered(synth: Any, events: Sequence[tuple[int, Any]]) -> Sound:
    blocks, at = [], 0
    for start in range(0, events[-1][0] + BURST + BLOCK if events else 0, BLOCK):
        while at < len(events) and events[at][0] < start + BLOCK:
            _send(synth, events[at][0] - start, events[at][1])
            at += 1
        blocks.append(synth.render_block()[0].copy())
    return np.concatenate(blocks) if blocks else np.zeros(0)


def _send(synth: Any, delay: int, message: Any) -> None:
    if is_on(message):
        synth.note_on(delay, message.note, message.velocity)
    elif message.type in ("note_on", "note_off"):
        synth.note_off(delay, message.note, 0)
    elif message.type == "control_change":
        synth.cc(delay, message.control, message.value)


def _is_held(condition: Condition) -> bool:
    return HELD <= condition.register < PROGRAM


def _opcode(condition: Condition, latches: set[int]) -> str:
    register, low, high = condition
    if register < HELD:
        return f"locc{register}={low} hicc{register}={high}"
    if _is_held(condition):
        return f"sw_down={register - HELD}"
    if register == KEY:
        return f"lokey={max(low, 0)} hikey={min(high, 127)}"
    if register == VELOCITY:
        return f"lovel={low} hivel={high}"
    if register in latches:
        return f"sw_last={low}"
    raise ValueError(f"SFZ cannot say a condition on register {register}")
