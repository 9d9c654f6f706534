"""Pure tones that cannot be mistaken for each other, and which of them sounds at a moment.

A tone is a burst of exactly `BURST` samples with a whole number of cycles, so that in the Fourier
transform of that many samples it is one bin and nothing else. Bins lie four apart.
"""

from __future__ import annotations

import wave
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import mido
import numpy as np
from numpy.typing import NDArray

RATE = 32_000
BURST = 512  # 16 ms: shorter than any distance between notes that follow each other
MOST = 44  # tones from 500 Hz to 11.25 kHz; sfizz plays higher ones too softly

Sound = NDArray[np.float64]


def bin_of(tone: int) -> int:
    """Return the Fourier bin of tone 0, 1, …"""
    assert 0 <= tone < MOST, f"{tone} tones are too many to tell apart"
    return 8 + 4 * tone


def burst(tone: int) -> Sound:
    """Return the samples of a tone, half of full scale."""
    return 0.5 * np.sin(2 * np.pi * bin_of(tone) * np.arange(BURST) / BURST)


def sixteen_bits(sound: Sound) -> bytes:
    return bytes((sound * 32767).astype("<i2").tobytes())


def write_wave(path: Path, tone: int) -> None:
    """Write a tone as a mono file of 16 bits."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(sixteen_bits(burst(tone)))


def tones_at(sound: Sound, sample: int, count: int, loud: float) -> frozenset[int]:
    """Return which of the tones 0 to `count` - 1 begin at a sample; `loud` is the amplitude of one of them."""
    window = sound[sample : sample + BURST]
    spectrum = np.abs(np.fft.rfft(window, BURST)) * 2 / BURST
    return frozenset(tone for tone in range(count) if spectrum[bin_of(tone)] > loud * 0.4)


def timed(data: bytes, track: int) -> Iterator[tuple[int, int, Any]]:
    """Yield (sample, tick, message) of a track's channel messages in the order of the file, as mido reads it.

    The tempo is that of the first track, 120 a minute where it says none (SMF 1.0).
    """
    file = mido.MidiFile(file=BytesIO(data), charset="utf-8")
    starts, seconds, tempos = [0], [0.0], [500_000]
    for tick, message in _absolute(file.tracks[0]):
        if message.type == "set_tempo":
            seconds.append(seconds[-1] + mido.tick2second(tick - starts[-1], file.ticks_per_beat, tempos[-1]))
            starts.append(tick)
            tempos.append(message.tempo)
    for tick, message in _absolute(file.tracks[track]):
        if not message.is_meta:
            i = bisect_right(starts, tick) - 1
            time = seconds[i] + mido.tick2second(tick - starts[i], file.ticks_per_beat, tempos[i])
            yield round(time * RATE), tick, message


def _absolute(track: Sequence[Any]) -> Iterator[tuple[int, Any]]:
    tick = 0
    for message in track:
        tick += message.time
        yield tick, message


def is_on(message: Any) -> bool:
    return bool(message.type == "note_on" and message.velocity)
