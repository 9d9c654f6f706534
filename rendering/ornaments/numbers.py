"""The numbers of what is written out, all of them; each with where it comes from."""

from __future__ import annotations

from typing import NamedTuple


class Numbers(NamedTuple):
    """How fast and in which shares marks are written out; milliseconds unless said.

    "ours" is this project's choice. "trill-sound" is a default of MusicXML 4.0's attribute group of that
    name: the places of the second and the last beat, in thousandths of the note.
    """

    shortest: int = 40  # ours: a note that would be shorter is not written out; as of any shortened note
    trill: int = 80  # ours: a note of a trill or shake, about
    figure: int = 80  # ours: the longest that a note of a mordent, slide or delayed turn lasts
    turn: int = 160  # ours: the longest that a note of a turn lasts
    mordent_beat: int = 120  # trill-sound: a mordent's second beat at 12 %, its last, the third, at 24 %
    turn_beat: int = 250  # trill-sound: of four beats the second at 25 %, the last at 75 %
    tremolo: int = 75  # ours: a stroke of an unmeasured tremolo, about
    alternation: int = 80  # ours: a note of an unmeasured tremolo between two notes, about
    measured: int = 150  # ours: from here on a repeat of three strokes and more is counted
    roll: int = 60  # ours: a stroke of a roll, about
    flutter: int = 45  # ours: a pulse of flutter-tonguing, about
    bisbigliando: int = 120  # ours: a note of a bisbigliando, about
    arpeggio: int = 40  # ours: from one note of a rolled chord to the next
    grace_stroke: int = 35  # ours: each stroke before the beat of a flam, drag or ruff
    least_stroke: int = 10  # ours: such a stroke is not written out in less
    glissando: int = 120  # ours: the longest that a note of a glissando lasts, the first one apart
    least_glissando: int = 15  # ours: a faster glissando is not written out


OURS = Numbers()
