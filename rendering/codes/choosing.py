"""Problem codes of perform, assign, resolve, schedule and the playback proof."""

from __future__ import annotations

from rendering.problems import Code

CHOOSING: dict[str, Code] = {
    # perform
    "no-tempo": Code(severity="remark", what="no tempo is written", consequence="played at 120 quarter notes a minute"),
    "too-long": Code(
        severity="error",
        what="as played it lasts {quarters} quarter notes, and at {ppq} ticks each a MIDI file can hold {most}",
        consequence="nothing is rendered",
        example={"quarters": 400_000, "ppq": 960, "most": 139_810},
    ),
    "hairpin-without-goal": Code(
        severity="remark", what="no dynamic follows this hairpin within a beat", consequence="it goes one step, from p to mp say"
    ),
    "tie-without-stop": Code(
        severity="remark", what="a tie starts here and none stops at the next note", consequence="the two are played as one note"
    ),
    "tempo-not-played": Code(
        severity="remark",
        what="the score changes its tempo {count} times, and another tempo was chosen",
        consequence="those changes are not played",
        example={"count": 4},
    ),
    "state-inside-tie": Code(
        severity="remark",
        what="the technique changes inside a tie",
        consequence="no sample can change so: {done}",
        example={"done": "it waits"},
    ),
    # assign
    "no-such-part": Code(
        severity="error",
        what="no part is called “{name}”",
        consequence="nothing is rendered; the parts are {parts}",
        example={"name": "Violin 3", "parts": "P1 “Violin 1”, P2 “Violin 2”"},
    ),
    "ambiguous-map": Code(
        severity="error",
        what="several maps fit its sound {sound} equally well: {maps}",
        consequence="nothing is rendered; name the part with its map",
        example={"sound": "strings.violin", "maps": "Bowed A, Bowed B"},
    ),
    "sound-guessed": Code(
        severity="warning",
        what="neither a sound, a program nor a known name says what instrument this is",
        consequence="played by {map}",
        example={"map": "General MIDI, Acoustic Grand Piano"},
    ),
    "part-without-track": Code(
        severity="error",
        what="no track of the template plays its sound ({sound})",
        consequence="the part is silent",
        example={"sound": "brass.trombone"},
    ),
    "ambiguous-track": Code(
        severity="error",
        what="several tracks fit it equally well: {tracks}",
        consequence="played by {track} alone; an assignment can say which is meant",
        example={"tracks": "Violins, Violins B", "track": "Violins"},
    ),
    "no-channel-left": Code(
        severity="error",
        what="the map {map} names all sixteen channels of a port",
        consequence="nothing is rendered; its track needs one of its own",
        example={"map": "Chamber Violins"},
    ),
    "channels-clash": Code(
        severity="error",
        what="the tracks “{first}” and “{second}” both use channel {channel} of port {port}",
        consequence="nothing is rendered; each would hear the other's notes and switches",
        example={"first": "Violins 1", "second": "Violins 2", "channel": 2, "port": 1},
    ),
    "link-not-free": Code(
        severity="error",
        what="the map of “{track}” sends notes by “{label}” to the track “{other}”, which is not there or plays a part of its own",
        consequence="nothing is rendered; link it to an empty track",
        example={"track": "Violins 1", "label": "mutes", "other": "violins-1-mutes"},
    ),
    "no-such-track": Code(
        severity="error",
        what="the assignment names a track “{track}” that the template does not have",
        consequence="nothing is played there",
        example={"track": "violins-b"},
    ),
    # resolve
    "mark-plain": Code(
        severity="warning",
        what="{map} cannot play {mark}",
        consequence="played as {played}",
        example={"map": "Chamber Violins", "mark": "col legno battuto", "played": "Bowed"},
    ),
    "mark-stand-in": Code(
        severity="remark",
        what="{map} has no {mark}",
        consequence="{played} stands in for it",
        example={"map": "Chamber Violins", "mark": "flautando", "played": "Sul tasto"},
    ),
    "key-outside-range": Code(
        severity="warning",
        what="key {key} is outside the range of {map}, {lowest} to {highest}",
        consequence="sent all the same; it may not sound",
        example={"key": 54, "map": "Chamber Violins", "lowest": 55, "highest": 100},
    ),
    "key-outside-midi": Code(
        severity="error",
        what="key {key} would be sent as a key outside 0–127 by {map}",
        consequence="the note is silent",
        example={"key": 120, "map": "Contrabasses"},
    ),
    "note-on-switch-key": Code(
        severity="error",
        what="key {key} is a switch of {map}",
        consequence="the note is silent, for it would change the articulation",
        example={"key": 24, "map": "Chamber Violins"},
    ),
    "key-outside-zone": Code(
        severity="error",
        what="key {key} lies outside the keys on which {map} plays this articulation",
        consequence="the note is silent, for it would play another one, or none",
        example={"key": 100, "map": "Chamber Violins"},
    ),
    "strike-unknown": Code(
        severity="error",
        what="{map} has no entry for this percussion instrument",
        consequence="the note is silent",
        example={"map": "General MIDI: drums", "key": 36},
    ),
    # ornaments
    "not-written-out": Code(
        severity="warning",
        what="no sample plays {mark}, and it cannot be written out: {why}",
        consequence="the note is played without it",
        example={"mark": "trill whole", "why": "the note is too short"},
    ),
    # schedule
    "lead-cut": Code(
        severity="warning",
        what="its lead would bring it before the note ahead of it, or before the start",
        consequence="its lead is cut, it is heard late",
    ),
    "onset-moved": Code(
        severity="warning",
        what="another note of this channel begins with it on another articulation",
        consequence="sent a tick after it",
    ),
    "overlap-cut": Code(
        severity="warning",
        what="the articulation after it would change it while it sounds",
        consequence="it ends where the next note is sent",
    ),
    "join-lost": Code(
        severity="warning",
        what="the note to which a slur joins it is cut short by another voice or another articulation",
        consequence="struck anew, and heard late by the difference of the leads",
    ),
    "loudness-shared": Code(
        severity="warning",
        what="another voice of this channel wants another level at the same moment",
        consequence="both sound at the higher one",
    ),
    "unison-merged": Code(
        severity="remark",
        what="two voices strike this key together on one channel",
        consequence="they sound as one note, to the later end, at the higher level",
    ),
    # proof
    "proof-disagrees": Code(
        severity="error",
        what="the simulated listener hears something else: {heard}",
        consequence="the files are not proven; please report it",
        example={"heard": "5 ticks late"},
    ),
    # the command line
    "usage": Code(
        severity="error",
        what="{why}",
        consequence="nothing was done; see {command} --help",
        example={"why": "the following arguments are required: SCORE", "command": "python -m rendering render"},
    ),
    "tempo-outside": Code(
        severity="error",
        what="the tempo {tempo} is not from 4 to 960 quarters a minute",
        consequence="nothing was done",
        example={"tempo": "0"},
    ),
    "file-unreadable": Code(
        severity="error",
        what="the file cannot be read: {why}",
        consequence="nothing was done",
        example={"why": "no such file or directory"},
    ),
    "file-unwritable": Code(
        severity="error",
        what="it cannot be written: {why}",
        consequence="nothing was written",
        example={"why": "permission denied"},
    ),
    "which-channel": Code(
        severity="error",
        what="the map names channels of its own, and the file plays on several others: {channels}",
        consequence="nothing was listened to; --channel says which is the track's",
        example={"channels": "1, 2"},
    ),
    "folder-not-empty": Code(
        severity="error", what="the folder holds something already", consequence="nothing was written; name a new or an empty one"
    ),
    "map-unusable": Code(
        severity="error", what="the map has {count} errors", consequence="nothing is rendered with it", example={"count": 2}
    ),
    "map-not-a-file": Code(
        severity="error",
        what="its track {track} does not name its map by file",
        consequence="nothing is rendered; on the command line maps are files beside the template",
        example={"track": "violins-1"},
    ),
}
