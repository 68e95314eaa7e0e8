"""A given line in each player's range: whole where it can be, else phrase by phrase."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.etude_brief import Brief
from halfstep.etude.octave_moves import line_in_range, phrases_of
from halfstep.harmony.line_over_chords import LineNote
from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.level import Level
from typed_charts import load_chart

FORM = load_chart("| Dm7 | G7 | Cmaj7 | A7 |")
PLAYERS = [(player, level) for player in INSTRUMENTS.values() for level in Level]


def line(*midis: int | None) -> list[LineNote]:
    """Quarter notes; None rests."""
    return [
        LineNote(Fraction(place), Fraction(1), midi)
        for place, midi in enumerate(midis)
        if midi is not None
    ]


@pytest.mark.parametrize(("player", "level"), PLAYERS)
def test_a_fifth_from_anywhere_lies_in_every_range_a_whole_line_octaves_apart(
    player: Instrument, level: Level
) -> None:
    """Every player of every level has an octave and a fifth but those who know five notes."""
    brief = Brief(player, level, 100.0)
    room = brief.concert_high - brief.concert_low
    for lowest in range(30, 90, 7):
        notes = line(lowest, lowest + min(7, room - 11), lowest + 1)
        placed = line_in_range(notes, brief, FORM)
        assert all(brief.has(note.midi) for note in placed.notes)
        assert len({b.midi - a.midi for a, b in zip(notes, placed.notes, strict=True)}) == 1


def test_a_line_in_the_range_stays_where_it_sounds() -> None:
    notes = line(67, 69, 71, 72)
    placed = line_in_range(notes, Brief(INSTRUMENTS["flute"], Level.ADVANCED, 100.0), FORM)
    assert (list(placed.notes), placed.notices) == (notes, ())


def test_a_phrase_that_lies_beyond_is_moved_whole_and_the_rest_is_not() -> None:
    """A beginner on the trumpet has no note over the written C5's neighbourhood."""
    brief = Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 100.0)
    low, high = brief.concert_low, brief.concert_high
    notes = line(low, low + 2, low + 4, None, None, high + 2, high + 4, high + 2)
    placed = line_in_range(notes, brief, FORM)
    assert [note.midi for note in placed.notes[:3]] == [low, low + 2, low + 4]
    assert [note.midi for note in placed.notes[3:]] == [high - 10, high - 8, high - 10]
    assert placed.notices == (
        "the phrase in bar 2 is moved by octaves: the whole is too wide for the range",
    )


def test_what_lies_beyond_the_range_in_any_octave_is_left_and_said() -> None:
    brief = Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 100.0)
    low, high = brief.concert_low, brief.concert_high
    placed = line_in_range(line(low, high, high + 5, low), brief, FORM)
    assert [note.midi for note in placed.notes] == [low, high, high + 5, low]
    assert placed.notices == ("1 note in bar 1 lies beyond the range of the level, beginner",)


@given(st.lists(st.one_of(st.none(), st.integers(40, 90)), min_size=1, max_size=16))
def test_a_line_keeps_its_pitch_classes_and_each_phrase_its_intervals(
    midis: list[int | None],
) -> None:
    notes = line(*midis)
    if not notes:
        return
    brief = Brief(INSTRUMENTS["tenor-sax"], Level.INTERMEDIATE, 100.0)
    placed = line_in_range(notes, brief, FORM).notes
    assert [note.midi % 12 for note in placed] == [note.midi % 12 for note in notes]
    old, new = phrases_of(notes, 1.0), phrases_of(placed, 1.0)
    for before, after in zip(old, new, strict=True):
        steps = [[b.midi - a.midi for a, b in pairwise(phrase)] for phrase in (before, after)]
        assert steps[0] == steps[1]
