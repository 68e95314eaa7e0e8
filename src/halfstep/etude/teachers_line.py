"""A teacher's own line as an exercise: each note over its chord, spelled and marked as an etude's.

Conventions
-----------
- A note belongs to the chord that `halfstep.harmony.line_over_chords` gives it to; what
  precedes bar 1 is read over the first chord.
- The first hearing of a changing note in its chord is marked. Of what leads on, enclosures are,
  and notes from outside the scale that go by a half step to the next within a beat.
- No breath is marked, no slur and no accent: they are the teacher's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from halfstep.etude.articulation import Articulation
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.octave_moves import line_in_range
from halfstep.etude.palette import NAMES_OF_SOUND
from halfstep.etude.step import Exercise
from halfstep.etude.written_etude import ExerciseLine
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.chart_sounds import ChartSounds
from halfstep.harmony.leading_notes import Leading, leading_notes
from halfstep.harmony.line_over_chords import LineNote, LineOverChords, line_over_chords
from halfstep.harmony.notes_over import concert_name, degree_over
from halfstep.pitch import pitch_near

EXAMPLE = Exercise(
    name="example",
    title="The teacher’s line",
    task="Hear it first, then play it over the backing, slowly before fast.",
    sentences=(),
)


@dataclass(frozen=True, slots=True)
class TeachersLine:
    """A line that a teacher played or wrote, over the chart of a lesson.

    Attributes
    ----------
    notes : tuple of LineNote
        Concert pitch, one at a time, in beats from the start of bar 1; those of a pickup are
        negative. All within one chorus.
    measure : str
        How well it spells the changes, in words.
    notices : tuple of str
        What was not certain about it, or was left out.
    """

    notes: tuple[LineNote, ...]
    measure: str
    notices: tuple[str, ...] = ()


def exercise_of(line: TeachersLine, analysis: Analysis, brief: Brief) -> ExerciseLine:
    """A teacher's line in one player's range."""
    chart = analysis.chart
    placed = line_in_range(line.notes, brief, chart)
    early = [note for note in placed.notes if note.onset < 0]
    laid = line_over_chords(placed.notes[len(early) :], chart, until=float(chart.beats))
    pickup = tuple(_with_rests([_over(note, 0, analysis) for note in early]))
    start = max([Fraction(0), *(note.end for note in pickup)])
    return ExerciseLine(
        step=EXAMPLE,
        analysis=analysis,
        brief=replace(brief, articulation=Articulation.PLAIN),
        notes=tuple(_with_rests(_over_chords(laid, analysis), start, chart.beats)),
        pickup=pickup,
        notices=tuple(Notice(0, text) for text in placed.notices),
    )


def _over_chords(laid: LineOverChords, analysis: Analysis) -> list[EtudeNote]:
    """The notes of a line from bar 1 on, marked."""
    sounds = ChartSounds(analysis)
    leading = leading_notes(laid, sounds)
    chords = [laid.stretches[laid.stretch_of(place)].chord for place in range(len(laid.line))]
    notes = [_over(note, chord, analysis) for note, chord in zip(laid.line, chords, strict=True)]
    fresh = _changing(notes, analysis)
    return [
        note._replace(
            changing=place in fresh, approach=_approach(notes[place : place + 2], lead, sounds)
        )
        for place, (note, lead) in enumerate(zip(notes, leading, strict=True))
    ]


def _over(note: LineNote, chord: int, analysis: Analysis) -> EtudeNote:
    """A note over a chord, spelled; over none it has a usual name and no degree."""
    analysed, pitch_class = analysis.chords[chord], note.midi % 12
    name, degree = NAMES_OF_SOUND[pitch_class], None
    if not analysed.silent:
        name, degree = concert_name(analysed, pitch_class), degree_over(analysed, pitch_class)
    onset, beats = Fraction(note.onset), Fraction(note.beats)
    return EtudeNote(onset, beats, pitch_near(name, note.midi), chord, degree)


def _changing(notes: Sequence[EtudeNote], analysis: Analysis) -> set[int]:
    """The places of the notes in which a changing note is first heard in its chord."""
    first: dict[tuple[int, int], int] = {}
    for place, note in enumerate(notes):
        change = analysis.changing_into(note.chord) if note.chord else None
        new = {name.pitch_class for name in change.changing_notes} if change else set()
        if _midi(note) % 12 in new:
            first.setdefault((note.chord, _midi(note) % 12), place)
    return set(first.values())


def _approach(notes: Sequence[EtudeNote], leading: Leading, sounds: ChartSounds) -> Approach:
    """The mark of a note that another may follow."""
    if leading is Leading.ENCLOSURE:
        return Approach.ENCLOSURE
    chord = sounds.chords[notes[0].chord]
    if chord is None or _midi(notes[0]) % 12 in chord.scale or len(notes) < 2:
        return Approach.NONE
    is_near = abs(_midi(notes[0]) - _midi(notes[1])) == 1
    is_soon = notes[1].onset - notes[0].onset <= 1
    return Approach.CHROMATIC if is_near and is_soon else Approach.NONE


def _midi(note: EtudeNote) -> int:
    assert note.pitch
    return note.pitch.midi


def _with_rests(
    notes: Sequence[EtudeNote], start: Fraction | None = None, end: Fraction | None = None
) -> Iterator[EtudeNote]:
    """The notes without gaps between them, nor before and behind them where places are given."""
    reached, chord = start, 0
    for note in notes:
        if reached is not None and note.onset > reached:
            yield EtudeNote(reached, note.onset - reached, None, chord)
        yield note
        reached, chord = note.end, note.chord
    if reached is not None and end is not None and reached < end:
        yield EtudeNote(reached, end - reached, None, chord)
