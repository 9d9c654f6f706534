"""Problem codes of the checks of articulation maps."""

from __future__ import annotations

from rendering.problems import Code, Severity


def _code(severity: Severity, what: str, consequence: str, **example: str | int) -> Code:
    return Code(severity=severity, what=what, consequence=consequence, example=example)


def _told(what: str, consequence: str, **example: str | int) -> Code:
    return _code("error", what, consequence, **example)


def _warned(what: str, consequence: str, **example: str | int) -> Code:
    return _code("warning", what, consequence, **example)


FIELDS: dict[str, Code] = {
    "range-upside-down": _told(
        "the highest key {highest} lies below the lowest {lowest}", "nothing could be played", lowest=60, highest=48
    ),
    "range-apart": _warned(
        "the keys of {id} lie outside the map's own {lowest}–{highest}", "it is never played", id="“bowed”", lowest=55, highest=100
    ),
    "range-leaves-midi": _warned(
        "{id} is sent with the keys {low}–{high}, of which MIDI has 0–127 only",
        "notes beyond them stay silent",
        id="“bowed”",
        low=67,
        high=131,
    ),
    "band-upside-down": _told("the band ends at {high}, below its beginning {low}", "no value lies in it", low=64, high=32),
    "when-empty": _told("it begins at {low} and ends before {high}", "the articulation is never played", low=400, high=180),
    "lead-longer-than-note": _warned(
        "a lead of {lead} ms is longer than the shortest notes, of {ms} ms",
        "fast ones would be sent before their turn: leads get cut",
        lead=250,
        ms=180,
    ),
    "strike-without-key": _told(
        "the strike {sound} has no key and no range of its own", "the key to send is not known", sound="“drum.snare-drum”"
    ),
    "with-same-memory": _told(
        "{id} lives in the same memory, {memory}", "only one articulation of a memory is active at a time", id="“plucked”", memory="“bow”"
    ),
    "with-contradicts": _told(
        "{id} lives in the memory {memory}, as does {other}, which is needed too",
        "both cannot be active",
        id="“mute-on”",
        other="“mute-off”",
        memory="“mute”",
    ),
    "resets-own": _told("the articulation puts back its own memory, {memory}", "it would undo itself", memory="“bow”"),
    "default-needs-other": _told(
        "{id}, the default of the memory {memory}, needs {other}, which is the default of none",
        "not all defaults can be on at the start",
        id="“bowed”",
        memory="“bow”",
        other="“mute-on”",
    ),
    "alternates-doubled": _told("{id} is this articulation itself or stands here twice", "it cannot take turns with itself", id="“down”"),
    "alternates-apart": _told(
        "{id} lives in another memory, {memory}", "it cannot take turns with this articulation", id="“mute-on”", memory="“mute”"
    ),
    "alternates-cyclic": _told("{id} takes turns with others of its own", "whose turn it is cannot be told", id="“down”"),
}

USUAL: dict[str, Code] = {
    "range-below-usual": _code(
        "remark",
        "the range begins at {key}; the lowest note of {sound} is {usual} ({sources})",
        "an octave may have been misread",
        key=43,
        sound="“strings.violin”",
        usual=55,
        sources="Abjad, Wikipedia, music21",
    ),
    "range-above-usual": _code(
        "remark",
        "the range ends at {key}; the highest note of {sound} is {usual} ({sources})",
        "an octave may have been misread",
        key=115,
        sound="“strings.violin”",
        usual=103,
        sources="Abjad",
    ),
    "key-offset-unusual": _code(
        "remark",
        "the key offset is {offset}; to be played from written notes {sound} needs {usual} ({sources})",
        "notes may sound in the wrong octave",
        offset=-12,
        sound="“strings.contrabass”",
        usual=12,
        sources="Abjad, music21",
    ),
}

SWITCHES: dict[str, Code] = {
    "range-missing": _told("the map has key switches but no range", "every key could be a note, so that notes would switch"),
    "switch-in-range": _told(
        "the key {key} is a switch and lies among the keys that {id} sends for notes",
        "such a note would switch, so it stays silent",
        key=60,
        id="“bowed”",
    ),
    "damp-in-range": _told(
        "the key {key} damps and lies among the keys that {id} sends for notes", "such a note would damp", key=60, id="“crash”"
    ),
    "key-two-ways": _told(
        "the key {key} is {way} here and {other} before", "the sampler does one of the two only", key=24, way="held", other="latched"
    ),
    "toggle-held": _told("the key {key} is a toggle and held", "a toggle acts when it is pressed, not while it is down", key=24),
    "latch-ambiguous": _told(
        "the key {key} stands at different places among the switches of the memory {memory}",
        "what it selects cannot be told",
        key=24,
        memory="“bow”",
    ),
    "switch-in-two-memories": _told(
        "{switch} switches the memories {one} and {other}",
        "neither can be changed without the other",
        switch="controller 20",
        one="“bow”",
        other="“mute”",
    ),
    "note-trigger-in-two-memories": _told(
        "the memories {one} and {other} both use {switch}", "one note cannot serve both", switch="velocities", one="“bow”", other="“mute”"
    ),
    "trigger-twice": _told(
        "{switch} stands here for the second time in this articulation", "only one of the two could hold", switch="channel"
    ),
    "together-idle": _warned("together is said of fewer than two switches", "it changes nothing"),
    "together-toggle": _told("a toggle is among the switches that are sent together", "sent again it would switch back"),
    "together-mixed": _told(
        "the page key {key} also begins the switches of {id}, which are sent together",
        "these must be sent together too",
        key=24,
        id="“spiccato”",
    ),
    "too-many-triggers": _told(
        "{id} needs {count} events in order, with those of what it needs",
        "a tick has places for {most}",
        id="“spiccato”",
        count=14,
        most=13,
    ),
    "default-held": _told("{id} is a default and needs the key {key} held", "it is not on at the start", id="“bowed”", key=24),
    "controller-reserved": _told("controller {number} is a channel mode message", "it would silence or reset the instrument", number=123),
    "controller-two-uses": _told(
        "controller {number} is a switch and also carries loudness or silence", "each would disturb the other", number=11
    ),
    "bank-controller": _told(
        "controller {number} selects a bank and is a switch beside program changes",
        "the next program would come from the bank it names",
        number=0,
    ),
    "bank-unsaid": _told(
        "{field} is given for other programs and not for program {program}",
        "it would come from whichever bank was used before",
        field="“bank_lsb”",
        program=40,
    ),
    "pedal-controller": _warned("controller {number} is a pedal and a switch", "pedal marks of the score would switch", number=64),
}

STATES: dict[str, Code] = {
    "controller-bands-overlap": _told(
        "{id} and {other} share the values {low}–{high} of controller {number}",
        "both would be selected",
        id="“spiccato”",
        other="“bowed”",
        low=16,
        high=20,
        number=20,
    ),
    "zones-overlap": _told(
        "{id} and {other} share the sent keys {low}–{high}", "both would be selected", id="“plucked”", other="“bowed”", low=72, high=79
    ),
    "velocities-overlap": _told(
        "{id} and {other} share the velocities {low}–{high}", "both would be selected", id="“spiccato”", other="“bowed”", low=60, high=64
    ),
    "two-selected": _told(
        "what selects {id} can leave {other} selected too", "which of the two sounds cannot be told", id="“spiccato”", other="“bowed”"
    ),
    "still-selected": _told(
        "nothing ends {other} when {id} is selected", "once {other} was heard, {id} never is", id="“bowed”", other="“spiccato”"
    ),
    "notes-taken": _told(
        "{other} is selected by keys or velocities with which {id} is played",
        "such notes are heard as {other}",
        id="“any drum”",
        other="“side drum”",
    ),
    "velocity-gap": _warned(
        "no articulation of the memory {memory} has the velocities {low}–{high}", "a band may be missing", memory="“bow”", low=65, high=79
    ),
}

PLAYS: dict[str, Code] = {
    "plays-contradict": _warned(
        "{one} and {other} exclude each other", "no note asks for both", one="“sul tasto”", other="“sul ponticello”"
    ),
    "plays-doubled": _warned("{marks}: these marks stand here twice", "the second changes nothing", marks="staccato"),
    "default-plays-marks": _warned(
        "the default {id} plays {marks}", "unmarked notes sound so too, without being asked", id="“bowed”", marks="legato"
    ),
    "equal-rivals": _warned(
        "{other} comes first and plays {marks} wherever {id} could",
        "{id} is never chosen for that",
        id="“short”",
        other="“spiccato”",
        marks="staccato",
    ),
    "articulation-unreachable": _warned(
        "{id} plays no marks, has no condition and is named by no other", "it is never played", id="“spare”"
    ),
    "stand-in-doubled": _warned("an earlier rule is for {mark} already", "this one is not used", mark="“flautando”"),
    "stand-in-cyclic": _told(
        "{mark} would be played as {use}, and that as {mark} again", "the rules never end", mark="“flautando”", use="sul tasto"
    ),
    "stand-in-idle": _warned("no articulation plays {mark}", "it never stands in", mark="“sul tasto”"),
}

MAPS: dict[str, Code] = {**FIELDS, **USUAL, **SWITCHES, **STATES, **PLAYS}
