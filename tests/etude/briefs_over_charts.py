"""What is asked for, with all that is worked out before a line is written.

Everything is worked out once for all tests, of charts typed by hand.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from halfstep.etude.etude_brief import Brief
from halfstep.etude.palette import Palette, chord_palettes
from halfstep.etude.slots import Piece, Slot, phrase_ends, pieces
from halfstep.etude.step import NoteByNote
from halfstep.etude.steps import find_step
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.pitch import parse_pitch
from halfstep.random_stream import RandomStream
from typed_charts import read_chart_text


class BriefOverChart(NamedTuple):
    """A chart explained, a brief, and the palettes of the chords for that brief."""

    analysis: Analysis
    brief: Brief
    palettes: tuple[Palette | None, ...]

    @property
    def cut(self) -> list[Piece]:
        return pieces(self.analysis)

    @property
    def ends(self) -> set[int]:
        return phrase_ends(self.analysis, self.brief)

    def palette(self, chord: int) -> Palette:
        palette = self.palettes[chord]
        assert palette is not None
        return palette


@cache
def brief_over(
    chart: str,
    *,
    instrument: str = "piano",
    level: str = "intermediate",
    tempo_bpm: float = 120.0,
    seed: int = 0,
    low: str = "C0",
    high: str = "C9",
    known: str = "",
    feel: Feel = Feel.SWING,
) -> BriefOverChart:
    """A chart as typed for one player; ``low``, ``high`` and ``known`` are concert notes."""
    analysis = analyse(read_chart_text(chart), level=Level(level))
    limits = parse_pitch(low).midi, parse_pitch(high).midi
    notes = frozenset(parse_pitch(name).midi for name in known.split()) if known else None
    brief = Brief(INSTRUMENTS[instrument], Level(level), tempo_bpm, seed, limits, notes, feel=feel)
    return BriefOverChart(analysis, brief, chord_palettes(analysis, brief))


def slots_laid_out(step: str, request: BriefOverChart, seed: int = 0) -> list[Slot]:
    """The first layout of a step that is written note by note."""
    writing = find_step(step).writing
    assert isinstance(writing, NoteByNote)
    rng = RandomStream(seed)
    layouts = writing.layouts(request.analysis, request.brief, request.palettes, rng, [])
    return next(iter(layouts))


def midis_of(names: str) -> list[int]:
    """MIDI numbers of notes typed by name."""
    return [parse_pitch(name).midi for name in names.split()]
