"""Takes as notes, for the tests of feedback: a written line played by an invented student.

No sound is made: the notes are what a perfect ear would give. Faults are planted by what
changes the list of notes.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.steps import find_step
from halfstep.feedback.form_places import form_places
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_clock import TakeClock
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.listen.heard_take import HeardNote
from halfstep.listen.known_errors import known_errors
from halfstep.meter import Feel
from halfstep.part.transposed_part import part_for
from typed_charts import read_chart_text

CHARTS = {
    "evening class": "key: F\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |",
    "twelve bars": (
        "key: Bb\n| Bb7 | Eb7 | Bb7 | Fm7 Bb7 | Eb7 | Edim7 | Bb7 | Dm7b5 G7b9 "
        "| Cm7 | F7 | Bb7 G7 | Cm7 F7 |"
    ),
    "minor": "key: Cm\n| Cm6 | Fm7 | Dm7b5 G7b9 | Cm6 | Abmaj7 | Dbmaj7#11 | G7alt | Cm(maj7) |",
    "waltz": "meter: 3/4\nkey: G\n| Gmaj7 | Em7 | Am7 | D7 | Bm7 | E7b9 | Am7 | D7 |",
}
"""Progressions made up for these tests."""


@dataclass(frozen=True, slots=True)
class PlayedTone:
    """One note that a student plays: quarter notes from bar 1, and concert pitch."""

    onset: float
    beats: float
    midi: int


@cache
def line_of(
    step: str, chart: str, *, instrument: str = "alto-sax", seed: int = 1
) -> tuple[Analysis, tuple[EtudeNote, ...]]:
    """A step written over one of the charts."""
    analysis = analyse(read_chart_text(CHARTS.get(chart, chart)))
    brief = Brief(INSTRUMENTS[instrument], Level.INTERMEDIATE, 120.0, seed)
    return analysis, write_etude(find_step(step), analysis, brief).notes


def played(
    analysis: Analysis,
    line: Sequence[EtudeNote],
    *,
    passes: int = 1,
    swing: float = 0.5,
    spread: float = 0.0,
    seed: int = 0,
) -> list[PlayedTone]:
    """A line as it stands, its off-beats at ``swing`` of the beat, onsets spread in beats."""
    rng = random.Random(seed)
    form = float(analysis.chart.beats)
    return [
        PlayedTone(
            turn * form + _swung(note.onset, swing) + rng.gauss(0, spread),
            float(note.beats) * 0.9,
            note.pitch.midi,
        )
        for turn in range(passes)
        for note in line
        if note.pitch is not None
    ]


def _swung(onset: Fraction, swing: float) -> float:
    whole, part = divmod(onset, 1)
    return float(whole) + (swing if part == Fraction(1, 2) else float(part))


def take_of(
    tones: Sequence[PlayedTone],
    analysis: Analysis,
    *,
    instrument: str = "alto-sax",
    line: tuple[EtudeNote, ...] = (),
    bpm: float = 120.0,
    is_offset_known: bool = True,
    feel: Feel = Feel.STRAIGHT,
    certainty: float = 0.99,
) -> JudgedTake:
    """What an ear that hears everything makes of those notes."""
    clock = TakeClock(60 / bpm, 1.0, is_offset_known)
    tones = sorted(tones, key=lambda tone: tone.onset)
    notes = tuple(
        TakeNote(
            tone.onset,
            tone.beats,
            Fraction(round(4 * tone.onset), 4),
            tone.midi,
            tone.onset,
            HeardNote(
                clock.time_s(tone.onset),
                clock.time_s(tone.onset + tone.beats),
                tone.midi,
                0.0,
                -20.0,
                certainty,
                float(tone.midi),
            ),
        )
        for tone in tones
    )
    end = max((tone.onset + tone.beats for tone in tones), default=0.0) + 1.0
    return JudgedTake(
        notes=notes,
        end=end,
        clock=clock,
        part=part_for(analysis, INSTRUMENTS[instrument]),
        form=form_places(analysis),
        level=Level.INTERMEDIATE,
        feel=feel,
        line=line,
        errors=known_errors(instrument),
    )


def moved(tones: Sequence[PlayedTone], first: int, beats: float) -> list[PlayedTone]:
    """All from one note on, so many quarter notes later."""
    later = [replace(tone, onset=tone.onset + beats) for tone in tones[first:]]
    return [*tones[:first], *later]
