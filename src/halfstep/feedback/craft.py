"""What is done with craft: approaches, enclosures, anticipations, blue notes. Never a fault.

Conventions
-----------
- An approach is told where it comes from outside the scale of its chord; of two in a row
  the first. An enclosure stands at its first note.
- A blue note is told once for each chord that it colours. One that does not move on by a step
  within `UNRESOLVED_BEATS` gets a word.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import LaidTake
from halfstep.feedback.note_roles import NoteRole, RoledNote, note_roles

UNRESOLVED_BEATS = 2
UNRESOLVED = "a blue note that does not move on"
_KINDS = {
    NoteRole.APPROACH: FindingKind.APPROACH,
    NoteRole.ENCLOSURE: FindingKind.ENCLOSURE,
    NoteRole.ANTICIPATION: FindingKind.ANTICIPATION,
    NoteRole.BLUE_NOTE: FindingKind.BLUE_NOTE,
}
_IN_GROUPS = {NoteRole.APPROACH, NoteRole.ENCLOSURE, NoteRole.BLUE_NOTE}
"""Roles of which neighbours are one stroke."""
_STEP = 2
"""Semitones."""


def craft_findings(taken: LaidTake) -> Iterator[Finding]:
    """Each stroke of craft, by its first note."""
    take, roled = taken.take, note_roles(taken)
    for place, note in enumerate(roled):
        if note.role in _KINDS and _is_stroke(take, roled, place):
            yield _finding(take, roled, place)


def _is_stroke(take: JudgedTake, roled: Sequence[RoledNote], place: int) -> bool:
    """True for the first note of a stroke that is worth a word."""
    note = roled[place]
    if note.role is NoteRole.APPROACH and _is_in_scale(take, note):
        return False
    if note.role is NoteRole.BLUE_NOTE and not _is_unresolved(roled, place):
        return not any(_is_same_colour(note, other) for other in roled[:place])
    return not (note.role in _IN_GROUPS and place and roled[place - 1].role is note.role)


def _is_in_scale(take: JudgedTake, note: RoledNote) -> bool:
    if note.chord is None:
        return False
    return note.note.midi % 12 in take.analysis.chords[note.chord].scale.pitch_classes


def _is_same_colour(note: RoledNote, other: RoledNote) -> bool:
    """True for the same blue note over the same chord, whichever pass it is."""
    are_blue = other.role is note.role is NoteRole.BLUE_NOTE
    return are_blue and other.chord == note.chord and other.pitch.name == note.pitch.name


def _is_unresolved(roled: Sequence[RoledNote], place: int) -> bool:
    """True for a blue note after which no step comes within two quarter notes."""
    note = roled[place].note
    for other in roled[place + 1 :]:
        if other.note.place - note.place >= UNRESOLVED_BEATS:
            break
        if 0 < abs(other.note.midi - note.midi) <= _STEP:
            return False
    return roled[place].role is NoteRole.BLUE_NOTE


def _finding(take: JudgedTake, roled: Sequence[RoledNote], place: int) -> Finding:
    note = roled[place]
    assert note.chord is not None
    return Finding(
        kind=_KINDS[note.role],
        fault=False,
        place=take.place_at(float(note.note.place)),
        time_s=take.time_s(note.note.sounded),
        certainty=round(note.note.certainty, 3),
        note=note.pitch,
        chord=take.part.symbol(note.chord).ascii,
        reason=UNRESOLVED if _is_unresolved(roled, place) else "",
    )
