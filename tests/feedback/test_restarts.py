"""Is each chord begun again from its root? A habit, told once; a phrase on a root is none."""

from __future__ import annotations

from fractions import Fraction

import pytest

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.findings import Finding
from halfstep.feedback.laid_take import laid_take
from halfstep.feedback.restarts import chord_entries, restart_findings
from halfstep.part.take_part import spelled
from typed_takes import take_of, typed_line

CHART = "key: F\n| Fmaj7 | Gm7 | Am7 | Bbmaj7 | Gm7 | C7 | Fmaj7 | C7 |"
FROM_ROOTS = [
    "F4 G4 A4 C5 . . . .", "G4 A4 Bb4 D5 . . . .", "A4 Bb4 C5 E5 . . . .", "Bb4 C5 D5 F5 . . . .",
    "G4 A4 Bb4 D5 . . . .", "C5 D5 E5 G5 . . . .", "F4 G4 A4 C5 . . . .", "C5 D5 E5 G5 . . . .",
]  # fmt: skip
ON_LINE = [
    "F4 A4 C5 E5 D5 C5 Bb4 A4", "Bb4 D5 F5 D5 C5 Bb4 A4 G4", "E4 G4 A4 C5 E5 C5 Bb4 C5",
    "D5 F5 D5 C5 Bb4 A4 G4 A4", "Bb4 A4 G4 F4 G4 Bb4 D5 F5", "E5 D5 C5 Bb4 A4 G4 E4 G4",
    "A4 C5 E5 C5 A4 F4 E4 F4", "E4 G4 Bb4 D5 C5 Bb4 A4 G4",
]  # fmt: skip


def told(*bars: str, written: bool = False) -> list[Finding]:
    take = take_of(typed_line(*bars), CHART, written=asked(*bars) if written else ())
    return [*restart_findings(laid_take(take))]


def asked(*bars: str) -> list[EtudeNote]:
    return [
        EtudeNote(Fraction(n.onset), Fraction(n.beats), spelled(n.midi, -1), int(n.onset // 4))
        for n in typed_line(*bars)
    ]


def test_the_habit_is_told_once_with_its_bars() -> None:
    (finding,) = told(*FROM_ROOTS)
    assert (finding.place.bar, finding.bars, finding.fault) == (2, 7, True)
    assert finding.until
    assert finding.until.bar == 8
    assert finding.certainty > 0.9


def test_a_written_line_that_begins_again_where_it_comes_round_asks_for_that() -> None:
    """Its bar 1 leaps to the root, from the last bar of the pass before."""
    once = FROM_ROOTS[6:]
    laid = laid_take(take_of(typed_line(*once), "key: F\n| Fmaj7 | C7 |", written=asked(*once)))
    assert laid.written
    begun = [e.start for e in chord_entries(laid.written) if e.begins_again]
    assert begun == [4.0, 8.0, 12.0]


def test_a_line_that_goes_on_has_no_habit() -> None:
    assert told(*ON_LINE) == []


def test_a_phrase_that_happens_to_begin_on_a_root_is_none() -> None:
    """Twice in eight bars, after a rest."""
    bars = [*ON_LINE]
    bars[2] = "A4 C5 E5 C5 Bb4 A4 G4 A4"
    bars[1] = "Bb4 D5 F5 D5 C5 Bb4 . ."
    bars[6] = "F4 A4 C5 E5 C5 A4 F4 E4"
    assert told(*bars) == []


def test_a_root_that_a_step_leads_to_is_no_restart() -> None:
    """The scale runs down into each root."""
    chart_line = [
        "F4 A4 C5 E5 D5 C5 Bb4 A4", "G4 Bb4 D5 F5 D5 C5 Bb4 Bb4", "A4 C5 E5 G5 E5 D5 C5 C5",
        "Bb4 D5 F5 D5 C5 Bb4 A4 A4", "G4 Bb4 D5 F5 G5 E5 D5 D5", "C5 E5 G5 Bb5 A5 G5 E5 E5",
        "F5 E5 C5 A4 C5 E5 D5 D5", "C5 E5 G5 E5 D5 C5 Bb4 A4",
    ]  # fmt: skip
    assert told(*chart_line) == []


def test_a_step_that_asks_for_roots_is_not_blamed() -> None:
    assert told(*FROM_ROOTS, written=True) == []


@pytest.mark.parametrize("count", [1, 2])
def test_a_few_changes_are_no_habit(count: int) -> None:
    assert told(*FROM_ROOTS[: count + 1]) == []
