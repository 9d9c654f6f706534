"""Standard MIDI Files: written, read and shown as text; bytes in, bytes out."""
