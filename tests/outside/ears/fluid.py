"""Programs, banks and channels as FluidSynth plays them from our MIDI, one tone a bank and program."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from tests.outside.ears.sf2 import sound_font
from tests.outside.ears.tones import BURST, RATE, Sound, is_on, timed, tones_at

ABSENT = "the fluidsynth program is not installed"


class HeardProgram(NamedTuple):
    """One note of a track and the (bank, program) pairs whose tones begin with it; bank = 128 * MSB + LSB."""

    tick: int
    channel: int
    key: int
    programs: frozenset[tuple[int, int]]


def absent() -> bool:
    return shutil.which("fluidsynth") is None


def play_programs(data: bytes, presets: Sequence[tuple[int, int]], track: int) -> list[HeardProgram]:
    """Return each note of MIDI track `track` (from 0) with the programs heard, in the order of the file.

    `presets` are (bank, program); all notes of the file sound, those of the track are looked at. FluidSynth
    plays in real time units of 64 samples, so a tone may begin that much later than its note.
    """
    sound = _played(data, presets)
    found = []
    for sample, tick, message in timed(data, track):
        if is_on(message):
            tones = tones_at(sound, sample, len(presets), 0.1)
            found.append(HeardProgram(tick, message.channel, message.note, frozenset(presets[tone] for tone in tones)))
    return found


def _played(data: bytes, presets: Sequence[tuple[int, int]]) -> Sound:
    """Return the left channel of what FluidSynth renders, without reverb and chorus."""
    with tempfile.TemporaryDirectory() as folder:
        font, midi, raw = (Path(folder) / name for name in ("tones.sf2", "tones.mid", "tones.raw"))
        font.write_bytes(sound_font(presets))
        midi.write_bytes(data)
        words = ["fluidsynth", "-ni", "-R", "0", "-C", "0", "-r", str(RATE), "-g", "0.5", "-T", "raw", "-O", "s16", "-F", str(raw)]
        words += ["-o", "synth.midi-bank-select=mma"]  # both bank bytes count, as in MIDI 1.0
        subprocess.run([*words, str(font), str(midi)], check=True, capture_output=True, timeout=60)
        sound = np.frombuffer(raw.read_bytes(), dtype="<i2").astype(np.float64)[::2] / 32768
    return np.concatenate([sound, np.zeros(2 * BURST)])
