"""Problem codes of documents: reading them, and the checks of maps and templates."""

from __future__ import annotations

from rendering.codes.maps import MAPS
from rendering.codes.pencil import PENCIL_DOCUMENTS
from rendering.problems import Code, Severity

REFUSED = "the document is not accepted"
UUID = "an id is expected, such as f81d4fae-7dec-11d0-a765-00a0c91e6bf6"  # the example of RFC 4122 (from memory)
MOMENT = "a date and time with its offset is expected, such as 2026-03-01T12:00:00Z"


def _code(severity: Severity, what: str, consequence: str, **example: str | int) -> Code:
    return Code(severity=severity, what=what, consequence=consequence, example=example)


def _shape(what: str, **example: str | int) -> Code:
    return _code("error", what, REFUSED, **example)


SHAPE: dict[str, Code] = {
    "not-json": _shape("this is not JSON: {why}", why="line 3, column 5 cannot be read"),
    "too-deep": _shape("it is nested more than {deepest} levels deep", deepest=64),
    "key-unprintable": _shape("the field name {field} holds a control character", field="“na�me”"),
    "duplicate-key": _shape("the field {field} stands here more than once", field="“name”"),
    "too-many-values": _shape("it holds {held} values, and {most} are allowed", held=120_000, most=100_000),
    "more-problems": _code("error", "{count} further problems are not listed", "repair these first, then read it again", count=40),
    "shape.missing": _shape("{field} is missing", field="“name”"),
    "shape.extra-forbidden": _shape("the field {field} is not known here", field="“colour”"),
    "shape.literal-error": _shape("the value must be {expected}", expected="'C3', 'C4' or 'C5'"),
    "shape.greater-than-equal": _shape("the number must be {ge} or more", ge=0),
    "shape.less-than-equal": _shape("the number must be {le} or less", le=127),
    "shape.too-short": _shape("the list must have {min_length} or more items", min_length=1),
    "shape.too-long": _shape("the list must have {max_length} items at most", max_length=2),
    "shape.string-too-long": _shape("the text must have {max_length} characters at most", max_length=200),
    "shape.string-too-short": _shape("the text must have {min_length} characters or more", min_length=1),
    "shape.int-type": _shape("a whole number is expected"),
    "shape.string-type": _shape("a text is expected"),
    "shape.bool-type": _shape("true or false is expected"),
    "shape.tuple-type": _shape("a list is expected"),
    "shape.dict-type": _shape("an object is expected"),
    "shape.model-type": _shape("an object is expected"),
    "shape.uuid-type": _shape(UUID),
    "shape.uuid-parsing": _shape(UUID),
    "shape.datetime-type": _shape(MOMENT),
    "shape.datetime-parsing": _shape(MOMENT),
    "shape.datetime-from-date-parsing": _shape(MOMENT),
    "shape.timezone-naive": _shape(MOMENT),
    "shape.other": _shape("this value is not allowed here"),
    "control-character": _shape("the text holds a control character or a line break"),
    "blank-text": _shape("the text is empty or begins or ends with a space"),
    "id-spelling": _shape("an id is 1 to 64 letters, digits, “-”, “_” and “.”"),
    "sound-spelling": _shape("a sound is words of small letters, digits and “-”, joined by “.”, such as strings.violin"),
    "key-name": _shape("{text} is no key: a number 0–127 or a name such as C1, F#3 or Bb-1 is expected", text="“H4”"),
    "key-range": _shape(
        "the key {text} is {c3} if C3 is key 60, {c4} if C4 is and {c5} if C5 is; read with {middle_c} it is outside 0–127",
        text="“C10”",
        c3=144,
        c4=132,
        c5=120,
        middle_c="C4",
    ),
    "unknown-mark": _shape(
        "there is no mark {text}; the nearest are {nearest}", text="“stacato”", nearest="staccato, staccatissimo, legato"
    ),
    "trigger-kind": _shape("a trigger has exactly one of keyswitch, controller, program, channel, velocities, shift and track"),
    "value-kind": _shape("a controller's value is a number 0–127 or a band of two"),
    "loudness-kind": _shape("“by” must be velocity, controller or both"),
    "loudness-points": _shape("the levels of the points must rise from each to the next"),
    "velocity-twice": _shape("velocity and velocity_points exclude each other"),
    "map-reference": _shape("a map is named by exactly one of id, digest and file"),
}

REFERENCES: dict[str, Code] = {
    "memory-doubled": _shape("another memory already has the id {id}", id="“bow”"),
    "articulation-doubled": _shape("another articulation already has the id {id}", id="“bowed”"),
    "default-unknown": _shape("the default of the memory {memory} is {id}, which is no articulation here", id="“bowd”", memory="“bow”"),
    "default-elsewhere": _shape(
        "the default of the memory {memory} is {id}, which lives in another memory", id="“mute-off”", memory="“bow”"
    ),
    "memory-unknown": _shape("there is no memory {memory}", memory="“bw”"),
    "articulation-unknown": _shape("there is no articulation {id}", id="“mute-onn”"),
}

TEMPLATES: dict[str, Code] = {
    "track-doubled": _shape("another track already has the id {text}", text="“v1”"),
    "track-name-doubled": _code(
        "warning", "another track is already called {text}", "the two cannot be told apart in the sequencer", text="“Violins I”"
    ),
    "channel-taken": _code(
        "error",
        "the track {track} claims channel {channel} of port {port}, which the track {first} has",
        "each would hear the other's notes and switches",
        track="“Violins II”",
        first="“Violins I”",
        channel=1,
        port=1,
    ),
    "link-missing": _code(
        "error",
        "the map of {track} sends notes to {label}, which no link binds to a track",
        "those notes have nowhere to go",
        label="“mutes”",
        track="“Violins I”",
    ),
    "link-unknown": _code(
        "error", "the link {label} names the track {id}, which is not here", "its notes have nowhere to go", label="“mutes”", id="“v9”"
    ),
    "link-to-itself": _code(
        "error",
        "the link {label} leads back to {track}",
        "the articulation could not be told from the others",
        label="“mutes”",
        track="“Violins I”",
    ),
    "offset-onto-switch": _code(
        "error",
        "the key offset {offset} of the track {track} moves notes onto the switch key {key} of its map",
        "such a note would switch, so it stays silent",
        offset=-12,
        track="“Violins I”",
        key=48,
    ),
    "link-idle": _code("warning", "no map here has the label {label}", "the link does nothing", label="“mutes”"),
}

SCORES: dict[str, Code] = {
    "score-measures": _shape("measure {number} does not begin where the one before it ends, or its ordinal is not its place", number="12"),
    "score-itinerary": _shape("measures {first} to {last} are not a run of the {measures} measures", first=3, last=9, measures=8),
    "score-order": _shape("it begins at {offset}, before the one ahead of it at {before}", offset=480, before=960),
    "score-outside": _shape("the note ends at {stop}, and the last measure at {end}", stop=8640, end=7680),
    "score-backwards": _shape("it ends at {stop}, before it begins at {start}", start=960, stop=480),
    "score-part": _shape("a part before this one has the id {id} too", id="“P1”"),
    "score-duration": _shape("grace notes, and no others, have the duration 0; this one has {duration}", duration=0),
    "score-instrument": _shape("the part has no instrument {index}, for it has {count}", index=2, count=1),
    "score-mark": _shape("{mark} is a name for maps; a score says which of {marks}", mark="trill", marks="trill half, trill whole"),
}

DOCUMENTS: dict[str, Code] = {**SHAPE, **REFERENCES, **TEMPLATES, **MAPS, **SCORES, **PENCIL_DOCUMENTS}
