"""What is played to show one articulation: which others are on with it, and which notes."""

from __future__ import annotations

from collections.abc import Iterable

from rendering.maps.table import KEY, VELOCITY, Entry, Loudness, Sampler

LEVEL = 625  # mf of the eight levels ppp to fff
NOTE_MS = 750


class Plan:
    """The articulations that are on together for one entry, and the notes that show it.

    Of the articulations that are on together the longest lead and overlap count, the shortest length,
    and the first loudness that is not the map's own.

    wanted   by memory: the entry, what it needs, the defaults of all other memories
    claimed  whether an entry says the channel; else it is the lowest that none says
    groups   sounding keys of what is played: single notes, then a pair if the entry joins notes
    """

    __slots__ = (
        "channel", "claimed", "connected_ms", "entry", "groups", "label", "lead_ms", "length_ms", "level",
        "loudness", "offset", "overlap_ms", "velocity", "wanted",
    )  # fmt: skip

    def __init__(self, sampler: Sampler, entry: Entry) -> None:
        self.entry: Entry = entry
        self.wanted: list[Entry] = _wanted(sampler, entry)
        self.label: str = next((e.track for e in self.wanted if e.track), "")
        claimed = next((e.channel for e in self.wanted if e.channel >= 0), -1)
        self.claimed: bool = claimed >= 0
        self.channel: int = claimed if self.claimed else _own_channel(sampler)
        self.offset: int = sampler.key_offset + sum(e.shift for e in self.wanted)
        self.length_ms: int = _clamped(min(NOTE_MS, *(e.at_most_ms for e in self.wanted)), entry.when_ms[0], entry.when_ms[1] - 1)
        self.level: int = _clamped(LEVEL, entry.when_level[0], min(entry.when_level[1] - 1, 1000))
        self.lead_ms: int = max(e.lead_first_ms for e in self.wanted)
        self.connected_ms: int = max(e.lead_connected_ms for e in self.wanted)
        self.overlap_ms: int = max(e.overlap_ms for e in self.wanted)
        own = (e.loudness for e in (entry, *self.wanted) if e.loudness is not sampler.loudness)
        self.loudness: Loudness = next(own, entry.loudness)
        self.velocity: int = _clamped(self.loudness.velocity[self.level], *_bounds(self.wanted, VELOCITY, 1))
        keys = self._keys(sampler)
        middle = len(keys) // 2
        self.groups: list[tuple[int, ...]] = [(key,) for key in sorted({keys[0], keys[middle], keys[-1]})] if keys else []
        if entry.joins and len(keys) > 1:
            self.groups.append((keys[middle], keys[middle + 1] if middle + 1 < len(keys) else keys[middle - 1]))

    def _keys(self, sampler: Sampler) -> list[int]:
        """Return the sounding keys that can be sent: in range, selecting what is wanted, on no key with another use."""
        low, high = _bounds(self.wanted, KEY, 0)
        taken = {*sampler.latches, *sampler.toggles, *sampler.held, *(e.damp for e in sampler.entries if e.strike_key < 0)}
        if self.entry.strike_key >= 0:
            return [self.entry.strike_key]
        first, last = max(self.entry.lowest, self.entry.when_keys[0]), min(self.entry.highest, self.entry.when_keys[1] - 1)
        return [key for key in range(first, last + 1) if low <= key + self.offset <= high and key + self.offset not in taken]

    def sent(self, key: int) -> int:
        """Return the key that is sent for a sounding one."""
        return key if self.entry.strike_key >= 0 else key + self.offset


def _wanted(sampler: Sampler, entry: Entry) -> list[Entry]:
    """Return one entry of each memory, those that put other memories back first."""
    found = {sampler.entries[index].memory: sampler.entries[index] for index in sampler.defaults}
    asked, seen = [entry.index], set()
    while asked:
        index = asked.pop()
        if index not in seen:
            seen.add(index)
            asked += sampler.entries[index].needs
            found[sampler.entries[index].memory] = sampler.entries[index]
    found[entry.memory] = entry
    return sorted(found.values(), key=lambda e: (not e.resets, e.memory))


def _own_channel(sampler: Sampler) -> int:
    """Return the lowest channel that no entry claims; 0 if all are claimed."""
    claimed = {e.channel for e in sampler.entries}
    return next((channel for channel in range(16) if channel not in claimed), 0)


def _bounds(entries: Iterable[Entry], register: int, lowest: int) -> tuple[int, int]:
    """Return the values of a register of the note with which all these entries are selected."""
    conditions = [c for e in entries for c in e.conditions if c.register == register]
    return max([lowest, *(c.low for c in conditions)]), min([127, *(c.high for c in conditions)])


def _clamped(value: int, low: int, high: int) -> int:
    return max(low, min(value, high))
