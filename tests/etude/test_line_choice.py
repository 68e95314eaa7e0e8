"""Which of the drawn lines is taken, and how it is asked to be unlike what stands already."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from briefs_over_charts import brief_over, midis_of

from halfstep.etude.line_choice import MOST_DRAWN, Work, best_drawn, outline_of_lines
from halfstep.etude.prior_notes import Line, PriorNotes
from halfstep.etude.slots import Slot
from halfstep.harmony.line_figures import plain_arpeggio

CHART = brief_over("key: C\n| Dm7 | G7 | Cmaj7 | Cmaj7 |").analysis.chart
ARPEGGIOS: Line = [*midis_of("D4 F4 A4 C5 G4 B4 D5 F5 C4 E4 G4 B4 B4 G4 E4 C4")]
SHARED: Line = [*midis_of("D4 E4 G4 A4 A4 G4 E4 D4 E4 D4 A4 G4 G4 A4 D4 E4")]
"""Notes of the key that belong to no chord more than to another."""


def quarters(count: int) -> list[Slot]:
    return [Slot(Fraction(n), Fraction(1), None, strong=False, entry=0) for n in range(count)]


def drawn(least: float | None, lines: Sequence[Line]) -> tuple[Line, list[int]]:
    """The line that is taken, and how many priors each draw was given."""
    given_priors: list[int] = []

    def draw(priors: Sequence[PriorNotes]) -> Line:
        given_priors.append(len(priors))
        return lines[min(len(given_priors), len(lines)) - 1]

    def redraw(line: Line, _priors: Sequence[PriorNotes]) -> Line:
        return line

    slots = quarters(16)
    told = outline_of_lines(slots, CHART)
    return best_drawn(least, draw, redraw, slots, CHART, told, Work()), given_priors


def test_where_nothing_is_asked_the_first_line_is_taken() -> None:
    assert drawn(None, [SHARED, ARPEGGIOS]) == (SHARED, [0])


def test_a_line_that_tells_too_little_is_drawn_again() -> None:
    line, priors = drawn(0.8, [SHARED, SHARED, ARPEGGIOS])
    assert line == ARPEGGIOS
    assert priors == [0, 0, 0]


def test_a_bar_for_the_third_time_is_drawn_again_whatever_it_tells() -> None:
    again: Line = [*midis_of("D4 F4 A4 C5") * 3, *midis_of("C4 E4 G4 B4")]
    line, priors = drawn(None, [again, ARPEGGIOS])
    assert line == ARPEGGIOS
    assert priors == [0, 1]


def test_the_plain_arpeggio_is_what_outlines_are_measured_by() -> None:
    plain = plain_arpeggio(CHART)
    slots = [
        Slot(Fraction(note.onset), Fraction(note.beats), None, strong=False, entry=0)
        for note in plain
    ]
    line: Line = [note.midi for note in plain]
    assert outline_of_lines(slots, CHART)(line) == pytest.approx(1.0)


def test_a_line_that_is_too_long_to_be_drawn_again_is_not_measured() -> None:
    slots = quarters(MOST_DRAWN + 1)
    assert outline_of_lines(slots, CHART)([60] * (MOST_DRAWN + 1)) is None
    assert outline_of_lines(quarters(4), CHART)([None] * 4) is None


def test_rests_are_no_notes_of_the_outline() -> None:
    sparse: Line = [midi if n % 4 == 1 else None for n, midi in enumerate(ARPEGGIOS)]
    slots = quarters(16)
    alone = [slot for slot, midi in zip(slots, sparse, strict=True) if midi is not None]
    notes: Line = [midi for midi in sparse if midi is not None]
    assert outline_of_lines(slots, CHART)(sparse) == outline_of_lines(alone, CHART)(notes)
