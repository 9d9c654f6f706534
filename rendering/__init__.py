"""The engine: bytes and documents in, MIDI bytes and a report out.

Pure: no Django, no files, no network, no clock, no randomness without a seed.
"""
