"""Problem codes of sketches, pencil marks and writers."""

from __future__ import annotations

from rendering.problems import Code

WRITING: dict[str, Code] = {
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
