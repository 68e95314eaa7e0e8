"""What is each note of a take to its chord? Degree, role, and the name the player reads.

Conventions
-----------
- A note belongs to the chord that `halfstep.harmony.line_over_chords` gives it to, so that
  an anticipation counts to the chord that follows.
- A note that leads to another one, or belongs to the chord before, is named as such only
  where it is no tone of its own chord; an enclosure is named with all its notes.
- Degrees are counted over the chord's root as its tones and scale spell them, others by the
  nearest alteration in common use (♭2 ♭3 ♯4 ♭6 ♭7).
- A name is that of the chord or its scale; of an old note that of the old scale; what leads
  by a half step is spelled by its goal.

Source: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import LaidTake
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.chart_sounds import ChangeSounds, ChordSounds
from halfstep.harmony.leading_notes import Leading
from halfstep.harmony.notes_over import USUAL_DEGREES, degree_over
from halfstep.part.approach_spelling import neighbour_name
from halfstep.part.played_names import name_over
from halfstep.part.take_part import spelled
from halfstep.part.transposed_part import Part
from halfstep.pitch import Degree, Name, Pitch, pitch_near, practical


class NoteRole(StrEnum):
    """What a note is to its chord, by the names it is stored under."""

    CHORD_TONE = "chord-tone"
    SCALE_TONE = "scale-tone"
    ANTICIPATION = "anticipation"
    APPROACH = "approach"
    ENCLOSURE = "enclosure"
    PASSING = "passing"
    BLUE_NOTE = "blue-note"
    OLD_NOTE = "old-note"
    COLOUR = "colour"
    OUTSIDE = "outside"
    NO_CHORD = "no-chord"
    BEFORE_FORM = "before-form"


@dataclass(frozen=True, slots=True)
class RoledNote:
    """A note of a take over its chord.

    Attributes
    ----------
    note : TakeNote
    pitch : Pitch
        Written.
    role : NoteRole
    chord : int or None
        Its place in the analysis; None before the form and without a chord.
    degree : Degree or None
        Over the chord's root.
    """

    note: TakeNote
    pitch: Pitch
    role: NoteRole
    chord: int | None = None
    degree: Degree | None = None


_NEAR = 1e-6
_BY_LEADING = {
    Leading.APPROACH: NoteRole.APPROACH,
    Leading.ENCLOSURE: NoteRole.ENCLOSURE,
    Leading.PASSING: NoteRole.PASSING,
}


@lru_cache(maxsize=1)
def note_roles(taken: LaidTake) -> tuple[RoledNote, ...]:
    """Every note of a take with its chord, its degree and its role, side by side with its notes.

    Whatever names a note of the take, a finding, the page or the data, has the name from here.
    Kept for the take that is judged, of which craft is found and data are made.
    """
    take, over_chords = taken.take, iter(laid_roles(taken))
    return tuple(
        RoledNote(note, _by_key(take, note), NoteRole.BEFORE_FORM)
        if note.place < 0
        else next(over_chords)
        for note in take.notes
    )


@lru_cache(maxsize=1)
def laid_roles(taken: LaidTake) -> tuple[RoledNote, ...]:
    """The same of the notes from bar 1 on, side by side with those of the laid take."""
    return tuple(_RoleReader(taken).notes())


def _by_key(take: JudgedTake, note: TakeNote) -> Pitch:
    """A pitch by the signature alone."""
    return spelled(note.midi + take.part.interval.semitones, take.part.key.fifths)


class _RoleReader:
    """Reads the notes over chords from the last to the first, since a goal names its approach."""

    def __init__(self, taken: LaidTake) -> None:
        self._take = taken.take
        self._taken = taken
        self._names: dict[tuple[int, int], Name | None] = {}

    def notes(self) -> list[RoledNote]:
        """In order."""
        roled: list[RoledNote] = []
        for place in range(len(self._taken.notes) - 1, -1, -1):
            roled.append(self._roled(place, roled))
        return roled[::-1]

    def _roled(self, place: int, after: list[RoledNote]) -> RoledNote:
        note = self._taken.notes[place]
        stretch = self._taken.laid.stretches[self._taken.laid.stretch_of(place)]
        sounds = self._taken.sounds.chords[stretch.chord]
        if sounds is None:
            return RoledNote(note, _by_key(self._take, note), NoteRole.NO_CHORD)
        role, chord = self._role(place, sounds), self._take.analysis.chords[stretch.chord]
        written = note.midi + self._take.part.interval.semitones
        pitch = pitch_near(self._name(place, role, after), written)
        return RoledNote(note, pitch, role, stretch.chord, degree_over(chord, note.midi % 12))

    def _role(self, place: int, chord: ChordSounds) -> NoteRole:
        pitch_class = self._taken.notes[place].midi % 12
        leading = self._taken.leading[place]
        if leading is Leading.ENCLOSURE:
            return NoteRole.ENCLOSURE
        if self._anticipates(place, chord):
            return NoteRole.ANTICIPATION
        if pitch_class in chord.tones:
            return NoteRole.CHORD_TONE
        if leading and not (pitch_class in chord.scale and leading is Leading.PASSING):
            return _BY_LEADING[leading]
        return self._standing_role(place, pitch_class, chord)

    def _anticipates(self, place: int, chord: ChordSounds) -> bool:
        """True for a note in the half beat before a chord that it belongs to, or that it tells."""
        laid = self._taken.laid
        stretch, onset = laid.stretch_of(place), laid.places.onsets[place]
        if onset < laid.stretches[stretch].start - _NEAR:
            return laid.line[place].midi % 12 in chord.scale
        is_late = onset >= laid.ends[stretch] - laid.unit_at(place) / 2 - _NEAR
        if not is_late or stretch + 1 == len(laid.stretches) or self._taken.leading[place]:
            return False
        change = self._change_into(stretch + 1)
        return change is not None and laid.line[place].midi % 12 in change.telling

    def _standing_role(self, place: int, pitch_class: int, chord: ChordSounds) -> NoteRole:
        """The role of a note that is no chord tone and leads nowhere."""
        if pitch_class in chord.scale:
            return NoteRole.SCALE_TONE
        if pitch_class in self._taken.sounds.blue:
            return NoteRole.BLUE_NOTE
        change = self._change_into(self._taken.laid.stretch_of(place))
        if change and change.stays(pitch_class, self._classes_over(place)):
            return NoteRole.OLD_NOTE
        is_colour = any(pitch_class in other for other in chord.others)
        return NoteRole.COLOUR if is_colour else NoteRole.OUTSIDE

    def _change_into(self, stretch: int) -> ChangeSounds | None:
        """What differs between a chord and the one before; None without two chords."""
        if not stretch:
            return None
        old, new = self._taken.laid.stretches[stretch - 1 : stretch + 1]
        return self._taken.sounds.change(old.chord, new.chord)

    def _classes_over(self, place: int) -> set[int]:
        """All that is played over the chord of a note, without what leads on."""
        laid, leading = self._taken.laid, self._taken.leading
        stretch = laid.stretch_of(place)
        notes = range(laid.firsts[stretch], laid.firsts[stretch + 1])
        return {laid.line[note].midi % 12 for note in notes if not leading[note]}

    def _name(self, place: int, role: NoteRole, after: list[RoledNote]) -> Name:
        """The written name of a note: by its chord, its goal, the old scale or the blues."""
        laid, part = self._taken.laid, self._take.part
        pitch_class, stretch = self._taken.notes[place].midi % 12, laid.stretch_of(place)
        chord = laid.stretches[stretch].chord
        names = [self._name_over(chord, pitch_class), self._name_by_goal(place, after)]
        if role is NoteRole.OLD_NOTE:
            names.append(self._name_over(laid.stretches[stretch - 1].chord, pitch_class))
        if role is NoteRole.BLUE_NOTE:
            names.append(_blue_name(part, pitch_class))
        return next((name for name in names if name), _default_name(part, chord, pitch_class))

    def _name_over(self, chord: int, pitch_class: int) -> Name | None:
        """`name_over`, worked out once for each note of a chord."""
        if (chord, pitch_class) not in self._names:
            self._names[chord, pitch_class] = name_over(self._take.part, chord, pitch_class)
        return self._names[chord, pitch_class]

    def _name_by_goal(self, place: int, after: list[RoledNote]) -> Name | None:
        """The name of a note that leads by a half step; None for any other."""
        if not (self._taken.leading[place] and after):
            return None
        written = self._taken.notes[place].midi + self._take.part.interval.semitones
        return neighbour_name(written, self._goal(after))

    def _goal(self, after: list[RoledNote]) -> Pitch:
        """The pitch that a note leads to: behind the rest of an enclosure."""
        behind = (note for note in reversed(after) if note.role is not NoteRole.ENCLOSURE)
        return next(behind, after[-1]).pitch


def _blue_name(part: Part, pitch_class: int) -> Name | None:
    written = _written_class(part, pitch_class)
    names = (name for scale in part.blues_scales() for name in scale.names)
    return next((name for name in names if name.pitch_class == written), None)


def _written_class(part: Part, pitch_class: int) -> int:
    return (pitch_class + part.interval.semitones) % 12


def _default_name(part: Part, chord: int, pitch_class: int) -> Name:
    """A name by the degree in common use."""
    root = part.symbol(chord).root
    above = (_written_class(part, pitch_class) - root.pitch_class) % 12
    return practical(root + USUAL_DEGREES[above].interval)
