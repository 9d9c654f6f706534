"""Problem codes of sketches, pencil marks and writers."""

from __future__ import annotations

from rendering.problems import Code

WRITING: dict[str, Code] = {
    # Reading a sketch
    "bad-grid": Code(
        severity="error",
        what='"{text}" is no grid: "none", "1/16", "1/16+1/24", steps of a whole note down to 1/192',
        consequence="nothing is read",
        example={"text": "sixteenths"},
    ),
    "grid-unused": Code(
        severity="remark",
        what="a grid was asked for, and this is no MIDI sketch",
        consequence="the rhythm stays as it is written",
    ),
    "grid-too-fine": Code(
        severity="error",
        what="meters and grid do not fit {division} ticks a quarter",
        consequence="nothing is read",
        example={"division": 32749},
    ),
    "meter-inside-measure": Code(
        severity="remark",
        what="a new time signature stands inside the measure of {meter}",
        consequence="the measure ends there",
        example={"meter": "4/4"},
    ),
    "sketch-without-notes": Code(severity="warning", what="no track holds a note", consequence="nothing is played"),
    "set-to-grid": Code(
        severity="remark",
        what="{moved} of {count} notes do not begin on the grid, the furthest off by {furthest} of a quarter",
        consequence="they were moved to it",
        example={"moved": 31, "count": 64, "furthest": "1/24"},
    ),
    "grid-merged": Code(
        severity="warning",
        what="{count} notes fall on the grid line of another note of their key",
        consequence="the two are one note",
        example={"count": 2},
    ),
    "switches-left-out": Code(
        severity="warning",
        what="{count} notes, far outside the others and very short, look like switches of a sampler (keys {keys})",
        consequence="they are left out",
        example={"count": 12, "keys": "24, 25"},
    ),
    "notes-doubled": Code(
        severity="remark",
        what="{count} notes are struck while their key is still down",
        consequence="the note before ends there",
        example={"count": 2},
    ),
    "notes-stuck": Code(
        severity="warning",
        what="{count} notes never end",
        consequence="they sound to the end of their track",
        example={"count": 1},
    ),
    "notes-stray": Code(
        severity="remark",
        what="{count} notes end that have not begun",
        consequence="nothing ends",
        example={"count": 3},
    ),
    "notes-empty": Code(
        severity="remark",
        what="{count} notes end where they begin",
        consequence="they last one tick",
        example={"count": 1},
    ),
    "messages-left-out": Code(
        severity="remark",
        what="{count} messages shape the sound ({what})",
        consequence="they are not taken over",
        example={"count": 240, "what": "controller 1, controller 11, pitch bend"},
    ),
    # Writing a score as MusicXML
    "repeats-written-straight": Code(
        severity="remark",
        what="repeat signs cannot say in which order the measures are played",
        consequence="each measure is written as often as it is played",
    ),
    "written-otherwise": Code(
        severity="warning",
        what="MusicXML has no way to write this as it is ({what})",
        consequence="it reads back otherwise",
        example={"what": "marks legato+spiccato as legato"},
    ),
}
