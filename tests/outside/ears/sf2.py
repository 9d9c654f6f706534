"""A smallest possible SoundFont 2: one preset a (bank, program), one pure tone a preset.

Source: SoundFont Technical Specification 2.01 (from memory of its record layouts; FluidSynth reads it).
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

from tests.outside.ears.tones import BURST, RATE, burst, sixteen_bits

INSTRUMENT, SAMPLE_ID, SCALE_TUNING = 41, 53, 56
VIBRATO_TO_PITCH, ATTENUATION = 6, 48
# Sources that act on every note unless a zone says otherwise: velocity, controllers 7, 11 and 1.
DEFAULTS = ((0x0502, ATTENUATION), (0x0587, ATTENUATION), (0x058B, ATTENUATION), (0x0081, VIBRATO_TO_PITCH))
GUARD = 46  # zero samples that follow every sample (specification: 46 of them)
PAUSE = BURST  # silence at the end of a sample, so that its release never sounds


def sound_font(presets: Sequence[tuple[int, int]]) -> bytes:
    """Return a SoundFont in which preset `n` (bank, program) plays tone `n` on every key, equally loud."""
    count = len(presets)
    samples = b"".join(sixteen_bits(burst(tone)) + bytes(2 * (PAUSE + GUARD)) for tone in range(count))
    info = _list(b"INFO", _chunk(b"ifil", struct.pack("<HH", 2, 1)), _chunk(b"isng", b"EMU8000\0"), _chunk(b"INAM", b"Tones\0"))
    data = _list(b"sdta", _chunk(b"smpl", samples))
    return _chunk(b"RIFF", b"sfbk" + info + data + _list(b"pdta", *_hydra(presets)))


def _chunk(name: bytes, body: bytes) -> bytes:
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def _list(name: bytes, *chunks: bytes) -> bytes:
    return _chunk(b"LIST", name + b"".join(chunks))


def _hydra(presets: Sequence[tuple[int, int]]) -> list[bytes]:
    """Return the nine tables, each with its closing record."""
    count = len(presets)
    end = count
    heads = [_preset(f"tone {n}", program, bank, n) for n, (bank, program) in enumerate(presets)] + [_preset("EOP", 0, 0, end)]
    instruments = [struct.pack("<20sH", f"tone {n}".encode(), n) for n in range(count)] + [struct.pack("<20sH", b"EOI", end)]
    zones = [struct.pack("<HH", 2 * n, len(DEFAULTS) * n) for n in range(count + 1)]
    in_zones = b"".join(struct.pack("<HhHh", SCALE_TUNING, 0, SAMPLE_ID, n) for n in range(count)) + bytes(4)
    flat = b"".join(struct.pack("<HHhHH", source, target, 0, 0, 0) for source, target in DEFAULTS) * count + bytes(10)
    bags = [struct.pack("<HH", n, 0) for n in range(count + 1)]
    in_bags = b"".join(struct.pack("<Hh", INSTRUMENT, n) for n in range(count)) + bytes(4)
    headers = b"".join(_sample(n) for n in range(count)) + struct.pack("<20sIIIIIBbHH", b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0)
    return [
        _chunk(b"phdr", b"".join(heads)), _chunk(b"pbag", b"".join(bags)), _chunk(b"pmod", bytes(10)), _chunk(b"pgen", in_bags),
        _chunk(b"inst", b"".join(instruments)), _chunk(b"ibag", b"".join(zones)), _chunk(b"imod", flat), _chunk(b"igen", in_zones),
        _chunk(b"shdr", headers),
    ]  # fmt: skip


def _preset(name: str, program: int, bank: int, bag: int) -> bytes:
    return struct.pack("<20sHHHIII", name.encode(), program, bank, bag, 0, 0, 0)


def _sample(n: int) -> bytes:
    start = n * (BURST + PAUSE + GUARD)
    stop = start + BURST + PAUSE
    return struct.pack("<20sIIIIIBbHH", f"tone {n}".encode(), start, stop, start, stop, RATE, 60, 0, 0, 1)
