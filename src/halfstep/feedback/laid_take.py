"""A take as a line over its chords, read as a written line is: changes, and what leads on.

Conventions
-----------
- Notes stand on the places that a player counts on. Those before bar 1 are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.chart_sounds import ChartSounds
from halfstep.harmony.chord_arrivals import ChordArrival, chord_arrivals
from halfstep.harmony.leading_notes import Leading, leading_notes
from halfstep.harmony.line_over_chords import LineNote, LineOverChords, line_over_chords
from halfstep.harmony.outline import arrivals_in


@dataclass(frozen=True, slots=True, eq=False)
class LaidTake:
    """A take laid over its chords, from bar 1 on; equal to itself alone.

    Attributes
    ----------
    take : JudgedTake
    notes : tuple of TakeNote
        Those from bar 1 on, side by side with the notes of `laid`.
    laid : LineOverChords
        Up to the end of the last pass that is begun.
    sounds : ChartSounds
    leading : tuple of Leading
        How each note leads on.
    arrivals : tuple of ChordArrival
        What is heard of each change.
    written : LineOverChords or None
        The written line as it comes round, twice; None where the take is improvised.
    written_arrivals : tuple of ChordArrival
        What is heard of each change of that, in its second pass.
    """

    take: JudgedTake
    notes: tuple[TakeNote, ...]
    laid: LineOverChords
    sounds: ChartSounds
    leading: tuple[Leading, ...]
    arrivals: tuple[ChordArrival, ...]
    written: LineOverChords | None
    written_arrivals: tuple[ChordArrival, ...]


def laid_take(take: JudgedTake) -> LaidTake:
    """Lay a take over its chords."""
    notes = tuple(note for note in take.notes if note.place >= 0)
    line = [LineNote(float(note.place), note.beats, note.midi) for note in notes]
    laid = line_over_chords(line, take.chart, until=_end_of_pass(take, notes))
    sounds = ChartSounds(take.analysis)
    leading = leading_notes(laid, sounds)
    arrivals = tuple(chord_arrivals(laid, sounds, leading))
    written = _written_line(take)
    written_arrivals = _second_pass(take, written, sounds) if written else ()
    return LaidTake(take, notes, laid, sounds, leading, arrivals, written, written_arrivals)


def _written_line(take: JudgedTake) -> LineOverChords | None:
    """The written line over its chords, twice, from bar 1 on; None where there is none."""
    line = [
        LineNote(float(note.onset), float(note.beats), note.pitch.midi)
        for note in take.line
        if note.pitch and note.onset >= 0
    ]
    if not line:
        return None
    again = [note._replace(onset=note.onset + take.form.beats) for note in line]
    return line_over_chords([*line, *again], take.chart, until=2 * take.form.beats)


def _second_pass(
    take: JudgedTake, laid: LineOverChords, sounds: ChartSounds
) -> tuple[ChordArrival, ...]:
    """What is heard of each change of a line in its second pass."""
    arrivals = arrivals_in(laid, sounds)
    return tuple(arrival for arrival in arrivals if arrival.onset >= take.form.beats - _NEAR)


_NEAR = 1e-6


def _end_of_pass(take: JudgedTake, notes: tuple[TakeNote, ...]) -> float:
    """Where the pass ends that the last note is played in; 0 without notes.

    One note alone behind a pass ends it, as a last one on the next beat 1 does.
    """
    passes = [take.place_at(float(note.place)).chorus for note in notes[-2:]]
    return passes[0] * take.form.beats if passes else 0.0
