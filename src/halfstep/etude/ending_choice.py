"""Which bar ends a line at home, and on which note?

Where a form leads back to the tonic at the top, the line may come to rest on that chord once
the last chorus is over: root, third or fifth, held for a bar. The note is reached from the
line's last one by a step or a small leap, and keeps the rules of a line: in range, among the
notes that are known, back after a leap, and for a beginner not over the break in a hurry.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.high_point import has_high_point
from halfstep.etude.rules import CLOSING_DEGREES, FIFTH
from halfstep.etude.run_notices import hurried_crossings
from halfstep.etude.step import Step
from halfstep.etude.written_ending import WrittenEnding
from halfstep.harmony.analysis import Analysis
from halfstep.harmony.form_end import FormEnd, first_chord, form_end, last_chord
from halfstep.pitch import pitch_near
from halfstep.progression.chart import Bar, ChordAt

_MOVE_COSTS = (3.0, 0.0, 0.0, 1.0, 1.0, 1.5, 2.5, 2.5)
"""What it costs to come from so many semitones away: a step costs nothing, no move most."""
_DEGREE_COSTS = {1: 0.0, 3: 0.7, 5: 1.2}
"""The root closes most, the fifth least."""

AS_HIGH = 4.0
"""For a closing note that reaches the highest of the line, or passes it."""

_NONE_ADDED = {
    FormEnd.AT_HOME: "the form ends at home, on {chord}: no ending is added",
    FormEnd.BEGINS_AWAY: "the form begins on {chord}, not on its home chord, and does not lead "
    "home: no ending is added",
    FormEnd.NO_HOME: "each chord has a mode of its own and there is no home to end on: no ending "
    "is added",
}


def may_end(step: Step, brief: Brief) -> bool:
    """True where an ending is wanted: by whoever asks, or of itself by a step that is performed."""
    return step.is_performed if brief.ending is None else brief.ending


def none_added(analysis: Analysis) -> Notice | None:
    """Why no line over a chart has an ending; None where one can have it."""
    end = form_end(analysis)
    if end is FormEnd.LEADS_HOME:
        return None
    chord = last_chord(analysis) if end is FormEnd.AT_HOME else first_chord(analysis)
    return Notice(chord, _NONE_ADDED[end])


def none_reached(analysis: Analysis) -> Notice:
    """Why a line has no ending though its form leads home."""
    return Notice(
        first_chord(analysis),
        "no ending is added: root, third and fifth of {chord} are too far from the last note, or "
        "not among the notes to use",
    )


def ending_after(
    notes: Sequence[EtudeNote], analysis: Analysis, brief: Brief
) -> WrittenEnding | None:
    """The ending of a line over a form that leads home.

    None where no closing note can be reached, or the line is silent.
    """
    sounding = [note for note in notes if note.pitch]
    if not sounding:
        return None
    bar, start = bar_at_home(analysis), analysis.chart.beats
    closes = [
        note
        for note in _closing_notes(analysis, start, bar.beats)
        if note.pitch and brief.has(note.pitch.midi) and _keeps(sounding, note, brief)
    ]
    top = max(note.pitch.midi for note in sounding if note.pitch)
    top = top if has_high_point(analysis, notes) else 127
    best = min(closes, key=lambda note: _cost(sounding[-1], note, top), default=None)
    return WrittenEnding(bar, start, best) if best else None


def bar_at_home(analysis: Analysis) -> Bar:
    """The bar after the form, whole and in the metre that the form ends in."""
    last = analysis.chart.form[-1]
    span = analysis.chords[first_chord(analysis)].span
    chord = ChordAt(span.symbol.on_its_root, Fraction(0), span.scale)
    return Bar(last.number + 1, last.meter, last.meter.bar_beats, (chord,), last.written + 1)


def _closing_notes(analysis: Analysis, start: Fraction, beats: Fraction) -> Iterator[EtudeNote]:
    """Root, third and fifth of the home chord in every octave, the lowest first."""
    home = first_chord(analysis)
    change = analysis.changing_into(home)
    new = {name.pitch_class for name in change.changing_notes} if change else set()
    for tone in analysis.chords[home].core:
        if tone.degree.number in CLOSING_DEGREES:
            for midi in range(tone.name.pitch_class, 128, 12):
                pitch, is_new = pitch_near(tone.name, midi), tone.name.pitch_class in new
                yield EtudeNote(start, beats, pitch, home, tone.degree, changing=is_new)


def _keeps(sounding: Sequence[EtudeNote], close: EtudeNote, brief: Brief) -> bool:
    """True for a note that is near, turns back after a leap, and crosses no break in a hurry."""
    midis = [note.pitch.midi for note in (*sounding[-2:], close) if note.pitch]
    leap, move = midis[-2] - midis[0], midis[-1] - midis[-2]
    turns = abs(leap) <= FIFTH or move * leap < 0
    return abs(move) <= FIFTH and turns and not hurried_crossings([sounding[-1], close], brief)


def _cost(last: EtudeNote, close: EtudeNote, top: int) -> float:
    """What speaks against a closing note: a wide move, a tone that closes less, a high point."""
    if not (last.pitch and close.pitch and close.degree):
        return 0.0
    move = abs(close.pitch.midi - last.pitch.midi)
    highest = AS_HIGH * (close.pitch.midi >= top)
    return _MOVE_COSTS[move] + _DEGREE_COSTS[close.degree.number] + highest
