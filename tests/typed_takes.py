"""Takes without sound: the notes of a line as a player's, over a chart typed by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import cache

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.form_places import form_places
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_clock import TakeClock
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.listen.known_errors import ANY
from halfstep.meter import Feel
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch
from typed_charts import read_chart_text

QUARTER_S = 0.5


@cache
def analysed(chart: str) -> Analysis:
    return analyse(read_chart_text(chart))


def typed_line(*groups: str, beats: Fraction = Fraction(1, 2)) -> list[LineNote]:
    """Notes of one length after another; a dot is a rest, a dash holds the note before it."""
    notes: list[LineNote] = []
    for place, word in enumerate(" ".join(groups).split()):
        if word == "-":
            notes[-1] = notes[-1]._replace(beats=notes[-1].beats + beats)
        elif word != ".":
            notes.append(LineNote(place * beats, beats, parse_pitch(word).midi))
    return notes


def take_of(
    line: Iterable[LineNote],
    chart: str | Analysis,
    *,
    instrument: str = "piano",
    level: Level = Level.INTERMEDIATE,
    written: Sequence[EtudeNote] = (),
) -> JudgedTake:
    """A line as it would be judged if it had been heard without a fault."""
    analysis = analysed(chart) if isinstance(chart, str) else chart
    notes = [
        TakeNote(float(onset), float(beats), Fraction(onset), midi, float(onset))
        for onset, beats, midi in line
    ]
    return JudgedTake(
        notes=tuple(notes),
        end=max((note.onset + note.beats for note in notes), default=0.0),
        clock=TakeClock(QUARTER_S, 0.0, is_offset_known=True),
        part=part_for(analysis, INSTRUMENTS[instrument]),
        form=form_places(analysis),
        level=level,
        feel=Feel.SWING,
        line=tuple(written),
        errors=ANY,
    )
