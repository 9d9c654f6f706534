"""Problem codes of Standard MIDI Files and of listening to them."""

from __future__ import annotations

from rendering.problems import Code

MIDI: dict[str, Code] = {
    # Standard MIDI Files
    "midi-no-header": Code(severity="error", what="no MThd chunk at the start", consequence="nothing was read"),
    "midi-truncated": Code(
        severity="error",
        what="the data end at byte {byte}, in the middle of something",
        consequence="nothing was read",
        example={"byte": 22},
    ),
    "midi-format": Code(
        severity="error", what="format {number}, and only 0 and 1 play as one piece", consequence="nothing was read", example={"number": 2}
    ),
    "midi-frames": Code(
        severity="error",
        what="time in frames ({frames} a second, {ticks} ticks each), without quarter notes",
        consequence="nothing was read",
        example={"frames": 30, "ticks": 80},
    ),
    "midi-no-division": Code(severity="error", what="no ticks per quarter note", consequence="nothing was read"),
    "midi-no-status": Code(
        severity="error", what="byte {byte} is data where a first status is due", consequence="nothing was read", example={"byte": 1}
    ),
    "midi-data-byte": Code(
        severity="error", what="a status before byte {byte}, where data are due", consequence="nothing was read", example={"byte": 9}
    ),
    "midi-status-byte": Code(
        severity="error",
        what="byte {byte} is {status}, which begins no event of a file",
        consequence="nothing was read",
        example={"byte": 1, "status": "F8"},
    ),
    "midi-long-number": Code(
        severity="error", what="the number at byte {byte} has more than four bytes", consequence="nothing was read", example={"byte": 0}
    ),
    "midi-running-status": Code(
        severity="warning",
        what="byte {byte} relies on the status before a meta event",
        consequence="that status was taken, though the event had cancelled it",
        example={"byte": 14},
    ),
    "midi-no-end": Code(severity="warning", what="no end of track", consequence="the track ends with its last event"),
    "midi-track-count": Code(
        severity="warning",
        what="the header states {stated} tracks, there are {found}",
        consequence="those that are there were read",
        example={"stated": 4, "found": 3},
    ),
    # Listening to MIDI
    "midi-nobody-hears": Code(
        severity="warning",
        what="{count} notes on port {port}, channel {channel}, which no map belongs to",
        consequence="they were not listened to",
        example={"count": 12, "port": 1, "channel": 5},
    ),
    "midi-stuck-note": Code(
        severity="error",
        what="key {key} on channel {channel}, down at tick {tick}, never comes up",
        consequence="it sounds to the end of the track",
        example={"key": 60, "channel": 1, "tick": 3840},
    ),
    "midi-doubled-note": Code(
        severity="error",
        what="key {key} on channel {channel} goes down at tick {tick} and was down already",
        consequence="the earlier note ends there",
        example={"key": 60, "channel": 1, "tick": 3840},
    ),
    "midi-empty-note": Code(
        severity="error",
        what="key {key} on channel {channel} comes up at tick {tick}, at which it went down",
        consequence="the note has no length",
        example={"key": 60, "channel": 1, "tick": 3840},
    ),
    "midi-off-without-on": Code(
        severity="warning",
        what="key {key} on channel {channel} comes up at tick {tick} and was not down",
        consequence="nothing ends",
        example={"key": 60, "channel": 1, "tick": 3840},
    ),
    "midi-trailing-bytes": Code(
        severity="remark", what="{count} bytes after the end", consequence="they were passed over", example={"count": 2}
    ),
}
