"""How does a written line sound, before anyone places it in time? Lengths, loudness, slurs, bends.

Conventions
-----------
- Velocity 88 is mezzo-forte; the marks of `halfstep.etude.touches` move it, and a changing note is
  a little louder than its neighbours.
- A line without marks leaves it to its player what is tongued.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from halfstep.etude.articulation import Articulation
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.touches import Touch, line_articulation, touches
from halfstep.played import Bend, PlayedNote, PlayedPart, Slur
from halfstep.score import Dynamic, Mark

LINE_VELOCITY = 88
_CHANGING, _ACCENTED, _GHOSTED = 16, 14, -36
_OF_DYNAMIC = {
    Dynamic.PIANO: -14, Dynamic.MEZZO_PIANO: -7, Dynamic.MEZZO_FORTE: 0, Dynamic.FORTE: 8,
}  # fmt: skip
_LOUDEST = 118
_BREATH_SHARE = Fraction(3, 4)
"""How much of a note before a breath sounds."""
_STACCATO_SHARE = Fraction(1, 2)
_TONGUE_BEATS, _TONGUE_SHARE = Fraction(1, 16), Fraction(1, 4)
"""What the tongue takes of the note before it where no clock says: so much, or that part of it."""
_BENDS = {Mark.SCOOP: Bend.SCOOP, Mark.FALL: Bend.FALL}


def played_line(etude: EtudeLine) -> PlayedPart:
    """An etude as it sounds, with its ending; breaths taken."""
    notes = tuple(_notes(etude.every_note, touches(etude)))
    if line_articulation(etude) is Articulation.PLAIN:
        notes = tuple(replace(note, slur=None) for note in notes)
    return PlayedPart("line", etude.brief.instrument.program, False, notes)


def _notes(notes: Sequence[EtudeNote], touched: Sequence[Touch]) -> Iterator[PlayedNote]:
    level, slurred = 0, False
    for note, touch in zip(notes, touched, strict=True):
        if touch.dynamic:
            level = _OF_DYNAMIC[touch.dynamic]
        slur = Slur.FROM if slurred else Slur.NONE
        slurred = Mark.SLUR in touch.marks
        if note.pitch is None:
            continue
        slur |= Slur.INTO if slurred else Slur.NONE
        for head in (note.pitch, *note.below):
            yield PlayedNote(
                note.onset,
                note.beats * _sounding_share(note, touch.marks),
                head.midi,
                min(_LOUDEST, LINE_VELOCITY + level + _emphasis(note, touch.marks)),
                slur=slur,
                bend=next((bend for mark, bend in _BENDS.items() if mark in touch.marks), None),
            )


def _sounding_share(note: EtudeNote, marks: Mark) -> Fraction:
    if Mark.STACCATO in marks:
        return _STACCATO_SHARE
    return _BREATH_SHARE if note.breath else Fraction(1)


def _emphasis(note: EtudeNote, marks: Mark) -> int:
    """What a note is louder by than its neighbours."""
    if Mark.GHOST in marks:
        return _GHOSTED
    return max(_CHANGING * note.changing, _ACCENTED * (Mark.ACCENT in marks))


def parted(line: PlayedPart) -> PlayedPart:
    """A line whose tongued notes are parted from those before them, in exact beats."""
    pairs = pairwise(line.notes)
    return replace(line, notes=(*(_before(*pair) for pair in pairs), *line.notes[-1:]))


def _before(note: PlayedNote, following: PlayedNote) -> PlayedNote:
    tongued = following.slur is not None and Slur.FROM not in following.slur
    if not tongued or following.onset > note.onset + note.beats:
        return note
    return replace(note, beats=note.beats - min(_TONGUE_BEATS, note.beats * _TONGUE_SHARE))
