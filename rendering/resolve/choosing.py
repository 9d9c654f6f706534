"""Choosing articulations for one kind of note.

A kind is all that the choice may depend on: its marks, whether a slur arrives, whether other notes
sound with it, and the classes of its length, key and level between the bounds that the map names.
A score has few kinds, so each is decided once.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import replace
from itertools import product

from rendering.maps.general_midi import DRUM_SET
from rendering.maps.general_midi import drum_key as drum_key_of
from rendering.maps.table import KEY, NO_LIMIT, Entry, Sampler
from rendering.marks import MARKS, WEIGHT
from rendering.resolve.decision import NOT_JOINING, OUTCOMES, SHAPEABLE, SHAPED_BITS, Decision, Outcome
from rendering.resolve.stand_ins import Rules, StandIns, bits

ARRIVES, CROWDED = 1, 2  # flags of a kind
# A note's marks, shifted by this, are those that were written out as notes of their own: they are answered, and
# nothing is chosen for them.
WRITTEN = len(MARKS)
NOT_SENT = {
    "note-on-switch-key": "not sent: its key is a switch",
    "key-outside-midi": "not sent: its key is outside 0–127",
    "key-outside-zone": "not sent: its key would play another articulation, or none",
    "strike-unknown": "not sent: the map has no such percussion instrument",
}


def weight(marks: int) -> int:
    """Return how bad it is to lose these marks: a higher axis outweighs all lower ones."""
    return sum(WEIGHT[bit] for bit in bits(marks))


class Chooser:
    """Decides for one sampler; `decisions` grows with each new kind and never changes otherwise."""

    def __init__(
        self, sampler: Sampler, interval: int = 0, *, given: int = 0, team: Rules = (), labels: frozenset[str] = frozenset()
    ) -> None:
        """Decide for `sampler`, doubling `interval` semitones away from what is written.

        given   marks that are answered by which track it is, not by how it plays (players of a divided part)
        team    stand-in rules that hold where the map has none of its own
        labels  labels of other tracks that are linked; entries that lead elsewhere are not chosen
        """
        self.sampler: Sampler = sampler
        self.interval: int = interval
        self.labels: frozenset[str] = labels
        self.given: int = given
        self.decisions: list[Decision] = []
        self.known: dict[int, int] = {}  # packed kind -> index of its decision
        self.left: dict[tuple[int, ...], int] = {}  # kind -> the marks that neither a sample nor a stand-in plays
        self.lengths: list[int] = _bounds(b for e in sampler.entries for b in e.when_ms)
        self.levels: list[int] = _bounds(b for e in sampler.entries for b in e.when_level)
        self.switch_keys: frozenset[int] = frozenset(sampler.latches) | frozenset(sampler.toggles) | sampler.held
        self.key_class: list[int] = self._key_classes()
        self.stand_ins: StandIns = StandIns(sampler.stand_ins, team)
        self.alternating: bool = any(e.alternates for e in sampler.entries)
        self.strikes: list[tuple[str, int]] = [("", -1)]  # (sound, drum key) of percussion notes; 0 = the note has its own key
        self.struck: bool = any(e.strike_key >= 0 for e in sampler.entries)

    def _key_classes(self) -> list[int]:
        """Keys between two bounds are one class; each switch key is a class of its own."""
        bounds = {self.sampler.lowest, self.sampler.highest + 1}
        for e in self.sampler.entries:
            bounds |= {e.lowest, e.highest + 1, *e.when_keys}
            for key in (*self.switch_keys, 0, 128):
                sounding = key - self.sampler.key_offset - e.shift
                bounds |= {sounding, sounding + 1} if key in self.switch_keys else {sounding}
        ordered = sorted(bounds)
        return [bisect_right(ordered, key) for key in range(128)]

    def strike(self, sound: str, drum_key: int) -> int:
        """Return the number of a percussion instrument, by its sound and its General MIDI drum key."""
        if not self.struck:
            return 0
        wanted = (sound, drum_key)
        if wanted not in self.strikes:
            self.strikes.append(wanted)
        return self.strikes.index(wanted)

    def decide(self, marks: int, flags: int, ms: int, key: int, level: int, strike: int = 0) -> int:
        """Return the index of the decision for a kind; `ms`, `key`, `level` stand for their classes."""
        kind = marks << 56 | strike << 40 | bisect_right(self.lengths, ms) << 24 | self.key_class[key] << 12
        kind |= bisect_right(self.levels, level) << 2 | flags
        index = self.known.get(kind, -1)
        if index < 0:
            index = self.known[kind] = len(self.decisions)
            written = marks >> WRITTEN
            chosen = self._choose(index, marks & ~(written << WRITTEN | written), flags, ms, key, level, strike)
            self.decisions[index:] = [chosen, *self.decisions[index + 1 :]]
            if written:
                self.decisions[index:] = [_with_written(d, written) for d in self.decisions[index:]]
        return index

    def left_to_write(self, marks: int, may: int, flags: int, ms: int, key: int, level: int, strike: int = 0) -> int:
        """Return those of the marks `may`, which can be written out on such a note, that would be lost on it.

        What a sample or a stand-in plays is not written out: a sample of something like it is nearer than single notes.
        """
        kind = (marks, flags, bisect_right(self.lengths, ms), self.key_class[key], bisect_right(self.levels, level), strike)
        left = self.left.get(kind, -1)
        if left < 0:
            _, exact, stood = self._best(marks, flags, ms, key, level, strike)
            left = self.left[kind] = marks & ~exact & ~stood
        return left & may

    def drop_leads(self) -> None:
        """Send all notes at their written onsets."""
        self.decisions = [replace(d, lead_ms=0) for d in self.decisions]

    # The rest runs once a kind.

    def _choose(self, index: int, marks: int, flags: int, ms: int, key: int, level: int, strike: int) -> Decision:
        entries, exact, stood = self._best(marks, flags, ms, key, level, strike)
        decision = self._decision(index, entries, marks, exact, stood, flags, key, strike)
        return self._with_turns(decision, entries, marks, exact, stood, flags, key, strike) if self.alternating else decision

    def _best(self, marks: int, flags: int, ms: int, key: int, level: int, strike: int) -> tuple[tuple[Entry, ...], int, int]:
        """Return the combination that loses least, the marks it plays, and those that something stands in for."""
        reached = min(max(key, self.sampler.lowest), self.sampler.highest)  # outside the map's range a note is sent all the same
        allowed = [e for e in self.sampler.entries if _allowed(e, flags, ms, key, reached, level)]
        if self.struck:
            sound, drum_key = self.strikes[strike]
            allowed = [e for e in allowed if e.strike_key < 0 or _strikes(e, self.sampler, sound, drum_key)]
        wanted = marks | self.stand_ins.uses(marks)
        ruled = self.stand_ins.ruled(marks, _union(s for e in allowed for s in e.plays if not s & ~wanted))
        choices = [self._candidates(m, allowed, wanted) for m in range(len(self.sampler.memories))]
        best: tuple[tuple[object, ...], tuple[Entry, ...], int, int] | None = None
        for combination in product(*choices):
            entries = tuple(e for e, _ in combination)
            if not _complete(entries):
                continue
            played = _union(mask for _, mask in combination)
            exact = (played | self.given) & marks
            stood, rank = self.stand_ins.played(marks & ~exact, played)
            cost = self._cost(entries, marks & ~exact & ~stood, stood, rank, ruled)
            if best is None or cost < best[0]:
                best = (cost, entries, exact, stood)
        if best is None:
            return tuple(self.sampler.entries[i] for i in self.sampler.defaults), marks & self.given, 0
        return best[1:]

    def _with_turns(
        self, decision: Decision, entries: tuple[Entry, ...], marks: int, exact: int, stood: int, flags: int, key: int, strike: int
    ) -> Decision:
        """Add the decisions with which this one takes turns: those of the entries that alternate with its own."""
        at = next((n for n, e in enumerate(entries) if e.alternates), -1)
        if at < 0:
            return decision
        turns = [decision.index]
        self.decisions.append(decision)  # keeps its place while the others are appended
        for other in entries[at].alternates[1:]:
            swapped = (*entries[:at], self.sampler.entries[other], *entries[at + 1 :])
            turns.append(len(self.decisions))
            self.decisions.append(self._decision(turns[-1], swapped, marks, exact, stood, flags, key, strike))
        return replace(decision, turns=tuple(turns))

    def _candidates(self, memory: int, allowed: list[Entry], wanted: int) -> list[tuple[Entry, int]]:
        """Entries of a memory that add nothing that nobody asked for, each with the marks it plays."""
        default = self.sampler.defaults[memory]
        needed = {n for e in allowed for n in e.needs}
        found = []
        for entry in allowed:
            if entry.memory != memory or (entry.track and entry.track not in self.labels):
                continue
            played = _union(s for s in entry.plays if not s & ~wanted)
            unmarked = not entry.plays and (_has_when(entry) or entry.index in needed or entry.strike_key >= 0)
            if played or unmarked or entry.index == default:
                found.append((entry, played))
        return found or [(self.sampler.entries[default], 0)]

    def _cost(self, entries: tuple[Entry, ...], rest: int, stood: int, rank: int, ruled: int) -> tuple[object, ...]:
        """What a combination loses; the least is best. Ties go to fewer articulations, then map order.

        Marks that a rule of the map or the team lets stand in (`ruled`) count as lost when they are only shaped.
        """
        plain = rest & ~SHAPEABLE | rest & ruled
        extra = sum(e.index != self.sampler.defaults[e.memory] for e in entries)
        kept_apart = -sum(_has_when(e) and not e.plays for e in entries)
        order = tuple(e.index for e in entries)
        return weight(plain), weight(stood), rank, weight(rest & SHAPEABLE), kept_apart, extra, order

    def _decision(
        self, index: int, entries: tuple[Entry, ...], marks: int, exact: int, stood: int, flags: int, key: int, strike: int
    ) -> Decision:
        shaped = marks & ~exact & ~stood & SHAPEABLE
        plain = marks & ~exact & ~stood & ~SHAPEABLE
        silent = self._silence(entries, key, strike)
        joining = next((e.index for e in entries if e.joins), -1)
        loudness = next((e.loudness for e in entries if e.loudness is not self.sampler.loudness), entries[0].loudness)
        connected = bool(flags & ARRIVES)
        scale = min([e.length_scale for e in entries] + [SHAPED_BITS[b][0] for b in bits(shaped)])
        at_most_ms = min(e.at_most_ms for e in entries)
        return Decision(
            index=index,
            entries=tuple(e.index for e in entries),
            lead_ms=max(e.lead_connected_ms if connected else e.lead_first_ms for e in entries),
            joining=joining,
            joined=connected and joining >= 0,
            overlap_ms=max(e.overlap_ms for e in entries) if connected else 0,
            gap_ms=min(e.gap_ms for e in entries),
            scale=scale,
            at_most_ms=at_most_ms,
            joins_to=joining if scale == 1000 and at_most_ms == NO_LIMIT and not silent else NOT_JOINING,
            velocity=loudness.velocity,
            boost=sum(SHAPED_BITS[b][1] for b in bits(shaped)),
            controller=loudness.controller,
            value=loudness.value,
            key_add=self.interval + self._key_add(entries),
            fixed_key=next((e.strike_key for e in entries if e.strike_key >= 0), -1),
            channel=max(e.channel for e in entries),
            track=next((e.track for e in entries if e.track), ""),
            outcomes=_outcomes(exact, stood, shaped, plain, silent),
            outside=not (self.sampler.lowest <= key <= self.sampler.highest or any(e.strike_key >= 0 for e in entries)),
            silent=silent,
            reason=_reason(self.sampler, entries, stood, shaped, plain, silent),
        )

    def _key_add(self, entries: tuple[Entry, ...]) -> int:
        """What is added to the key that should sound."""
        return self.sampler.key_offset + sum(e.shift for e in entries)

    def _silence(self, entries: tuple[Entry, ...], key: int, strike: int) -> str:
        struck = next((e for e in entries if e.strike_key >= 0), None)
        if struck and not _strikes(struck, self.sampler, *self.strikes[strike]):
            return "strike-unknown"
        sent = struck.strike_key if struck else key + self._key_add(entries)
        if not 0 <= sent <= 127:
            return "key-outside-midi"
        if sent in self.switch_keys:
            return "note-on-switch-key"
        zones = [c for e in entries if e.strike_key < 0 for c in e.conditions if c.register == KEY]
        return "" if all(c.low <= sent <= c.high for c in zones) else "key-outside-zone"


def _bounds(values: Iterable[int]) -> list[int]:
    return sorted({v for v in values if 0 < v < NO_LIMIT})


def _allowed(e: Entry, flags: int, ms: int, key: int, reached: int, level: int) -> bool:
    return (
        (e.strike_key >= 0 or e.lowest <= reached <= e.highest)
        and e.when_ms[0] <= ms < e.when_ms[1]
        and e.when_keys[0] <= key < e.when_keys[1]
        and e.when_level[0] <= level < e.when_level[1]
        and not ((e.voices == 1 or e.joins) and flags & CROWDED)
    )


def _strikes(e: Entry, sampler: Sampler, sound: str, drum_key: int) -> bool:
    """Tell whether a percussion entry is the instrument of a note.

    On the General MIDI drum map its key says so; elsewhere its sound, else the key that its sound has there.
    """
    if sampler.sound == DRUM_SET:
        return e.strike_key == (drum_key if drum_key >= 0 else drum_key_of(sound))
    return e.strike == sound if sound else drum_key >= 0 and drum_key_of(e.strike) == drum_key


def _has_when(e: Entry) -> bool:
    return (e.when_ms, e.when_keys, e.when_level) != ((0, NO_LIMIT),) * 3


def _complete(entries: tuple[Entry, ...]) -> bool:
    chosen = {e.index for e in entries}
    return all(chosen.issuperset(e.needs) for e in entries)


def _union(masks: Iterable[int]) -> int:
    out = 0
    for m in masks:
        out |= m
    return out


def _with_written(d: Decision, written: int) -> Decision:
    """Tell in a decision of marks that were written out."""
    outcome = int(Outcome.SILENT if d.silent else Outcome.WRITTEN_OUT)
    told = "" if d.silent else f"; {OUTCOMES[Outcome.WRITTEN_OUT]}: " + ", ".join(MARKS[bit].name for bit in bits(written))
    return replace(d, outcomes=tuple(sorted((*d.outcomes, *((bit, outcome) for bit in bits(written))))), reason=d.reason + told)


def _outcomes(exact: int, stood: int, shaped: int, plain: int, silent: str) -> tuple[tuple[int, int], ...]:
    pairs = ((exact, Outcome.EXACT), (stood, Outcome.STAND_IN), (shaped, Outcome.SHAPED), (plain, Outcome.PLAIN))
    return tuple(sorted((bit, int(Outcome.SILENT if silent else outcome)) for marks, outcome in pairs for bit in bits(marks)))


def _reason(sampler: Sampler, entries: tuple[Entry, ...], stood: int, shaped: int, plain: int, silent: str) -> str:
    words = ["plays " + ", ".join(e.name for e in entries if len(entries) == 1 or e.index != sampler.defaults[e.memory] or e.memory == 0)]
    for marks, outcome in ((stood, Outcome.STAND_IN), (shaped, Outcome.SHAPED), (plain, Outcome.PLAIN)):
        if marks:
            words.append(f"{OUTCOMES[outcome]}: " + ", ".join(MARKS[bit].name for bit in bits(marks)))
    if silent:
        words = [NOT_SENT[silent]]
    return "; ".join(words)
