"""Problem codes of the readers, annotate and unfold."""

from __future__ import annotations

from rendering.problems import Code

REFUSED = "nothing is read"

READING: dict[str, Code] = {
    # Refusals: nothing can be produced.
    "empty-file": Code(severity="error", what="the file is empty", consequence=REFUSED),
    "file-too-large": Code(
        severity="error",
        what="the file has {count} bytes, {most} are allowed",
        consequence=REFUSED,
        example={"count": 40000000, "most": 33554432},
    ),
    "unknown-format": Code(
        severity="error",
        what="this is {what}, no MusicXML and no Standard MIDI File",
        consequence=REFUSED,
        example={"what": "a PNG picture"},
    ),
    "midi-not-read": Code(severity="error", what="this is a MIDI sketch, not a MusicXML score", consequence=REFUSED),
    "broken-zip": Code(severity="error", what="the compressed file is damaged", consequence=REFUSED),
    "no-score-in-zip": Code(severity="error", what="the compressed file holds no score", consequence=REFUSED),
    "too-many-entries": Code(
        severity="error",
        what="the compressed file holds {count} files, {most} are allowed",
        consequence=REFUSED,
        example={"count": 500, "most": 200},
    ),
    "unpacked-too-large": Code(
        severity="error",
        what="the score unpacks to more than the {most} bytes allowed",
        consequence=REFUSED,
        example={"most": 134217728},
    ),
    "packed-too-tight": Code(
        severity="error",
        what="the score unpacks to more than {most} times its packed size",
        consequence=REFUSED,
        example={"most": 200},
    ),
    "broken-xml": Code(
        severity="error",
        what="the XML is broken in line {line} ({text})",
        consequence=REFUSED,
        example={"line": 12, "text": "Opening and ending tag mismatch: note line 10 and measure"},
    ),
    "entities-declared": Code(severity="error", what="the document declares entities of its own", consequence=REFUSED),
    "xml-too-deep": Code(severity="error", what="elements are nested more than {most} deep", consequence=REFUSED, example={"most": 256}),
    "not-a-score": Code(
        severity="error",
        what="the document is a <{tag}>, not a MusicXML score",
        consequence=REFUSED,
        example={"tag": "html"},
    ),
    "too-many-parts": Code(
        severity="error",
        what="the score has more than the {most} parts allowed",
        consequence=REFUSED,
        example={"most": 200},
    ),
    "too-many-notes": Code(
        severity="error",
        what="the score has more than the {most} notes allowed",
        consequence=REFUSED,
        example={"most": 300000},
    ),
    "too-many-voices": Code(
        severity="error",
        what="a part has more than the {most} voices allowed",
        consequence=REFUSED,
        example={"most": 200},
    ),
    "too-many-signs": Code(
        severity="error",
        what="a part has more than the {most} directions allowed",
        consequence=REFUSED,
        example={"most": 300000},
    ),
    "too-many-measures-played": Code(
        severity="error",
        what="with its repeats the score would play more than the {most} measures allowed",
        consequence=REFUSED,
        example={"most": 20000},
    ),
    # What a file says amiss, and what is done about it.
    "part-not-listed": Code(
        severity="warning",
        what='part "{id}" is not in the part list, or comes twice',
        consequence='it is read as "{name}"',
        example={"id": "P9", "name": "P9"},
    ),
    "bad-divisions": Code(
        severity="error",
        what='divisions "{text}" are no usable number',
        consequence="the divisions before go on",
        example={"text": "0"},
    ),
    "divisions-too-fine": Code(
        severity="warning",
        what="{divisions} divisions a quarter do not fit the grid of the other divisions",
        consequence="times are rounded inside each measure",
        example={"divisions": "10007"},
    ),
    "bad-duration": Code(
        severity="error",
        what='duration "{text}" is no usable number',
        consequence="it is taken as 0",
        example={"text": "-4"},
    ),
    "bad-pitch": Code(
        severity="error",
        what='pitch "{text}" cannot be read',
        consequence="middle C is played",
        example={"text": "H 0 4"},
    ),
    "pitch-out-of-range": Code(
        severity="error",
        what="pitch {text} is outside what MIDI can play",
        consequence="the nearest key is played",
        example={"text": "C11"},
    ),
    "bad-number": Code(severity="warning", what='"{text}" is no number', consequence="it is left out", example={"text": "loud"}),
    "bad-meter": Code(
        severity="error",
        what="time signature {text} makes no sense",
        consequence="the meter before goes on",
        example={"text": "0/0"},
    ),
    "meter-of-nothing": Code(
        severity="error",
        what="time signature {text} has neither beats nor a beat",
        consequence="the score is refused, for its measures cannot be told",
        example={"text": "0/0"},
    ),
    "bad-transposition": Code(severity="error", what="the transposition cannot be read", consequence="the one before goes on"),
    "note-without-length": Code(severity="warning", what="a note has no length", consequence="it is not played"),
    "backup-too-far": Code(
        severity="warning",
        what="a backup leads to before the measure",
        consequence="it ends at the start of the measure",
    ),
    "unknown-instrument": Code(
        severity="warning",
        what='a note names instrument "{id}", which its part does not have',
        consequence="the part's first instrument plays it",
        example={"id": "P1-I9"},
    ),
    "no-meter": Code(severity="remark", what="no time signature is written", consequence="4/4 is assumed"),
    "measure-length": Code(
        severity="remark",
        what="the length of the measure is {holds} in quarters, its meter {meter}",
        consequence="it lasts as long as what it holds",
        example={"holds": "7/2", "meter": "4/4"},
    ),
    "slur-not-ended": Code(severity="remark", what="a slur starts and does not end", consequence="it is left out"),
    "slur-not-started": Code(severity="remark", what="a slur ends and did not start", consequence="it is left out"),
    "hairpin-not-started": Code(severity="remark", what="a hairpin ends and did not start", consequence="it is left out"),
    "hairpin-not-ended": Code(severity="remark", what="a hairpin starts and does not end", consequence="it is left out"),
    "hairpin-without-length": Code(severity="remark", what="a hairpin ends where it starts", consequence="it is left out"),
    "relative-dynamic": Code(
        severity="remark",
        what="words ask for more or less than the dynamic before",
        consequence="it is one step (1/8) louder or softer",
    ),
    "tempo-guessed": Code(
        severity="remark",
        what='"{text}" names a tempo without a number',
        consequence="{speed} quarters a minute are played, the middle of its usual range",
        example={"text": "Andante", "speed": "84"},
    ),
    "tempo-range": Code(
        severity="remark",
        what="the tempo is a range, {text}",
        consequence="its middle is played, {speed} quarters a minute",
        example={"text": "96-104", "speed": "100"},
    ),
    "tempo-bent": Code(
        severity="remark",
        what='"{text}" does not say how far the tempo changes',
        consequence="it goes to {percent} % of the tempo before",
        example={"text": "rit.", "percent": 75},
    ),
    "held-for-all": Code(
        severity="remark",
        what="a fermata or caesura stops the time",
        consequence="all parts take {times} times as long there",
        example={"times": "2"},
    ),
    "swung": Code(
        severity="remark",
        what="pairs of notes are swung",
        consequence="all parts play them {first} to {second}",
        example={"first": 4, "second": 2},
    ),
    "swell-without-end": Code(
        severity="remark",
        what="cresc. or dim. in words, and no dynamic follows it",
        consequence="it is left out",
    ),
    "wording-from-memory": Code(
        severity="remark",
        what='"{text}" is read from common usage, no source confirms it',
        consequence="it acts all the same",
        example={"text": "alla punta"},
    ),
    "part-measure-length": Code(
        severity="remark",
        what="the part fills {holds} of the {lasts} quarters of the measure",
        consequence="the rest of the measure is silent, bar lines stay together",
        example={"holds": "1", "lasts": "3/2"},
    ),
    "endings-make-no-sense": Code(
        severity="warning",
        what="with the endings as they stand some measures would never be played",
        consequence="repeats are played without them",
    ),
    "repeats-make-no-sense": Code(
        severity="warning",
        what="with the repeats and jumps as they stand some measures would never be played",
        consequence="the score is played straight through",
    ),
    "no-dynamic": Code(severity="remark", what="no dynamic is written here", consequence="mf is played up to the first one"),
    "repeat-inside-measure": Code(
        severity="warning",
        what="a repeat stands in the middle of the measure",
        consequence="it is taken at the end of the measure",
    ),
    "jump-without-target": Code(
        severity="warning",
        what="a jump to the {kind} does not find it, or finds more than one",
        consequence="the music goes on",
        example={"kind": "segno"},
    ),
}
