"""Is every fault of a typed chart seen, at its place?"""

from __future__ import annotations

import pytest

from halfstep.progression.chart_faults import MOST_FAULTS, chart_faults


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("| Dm7 | G7 |", []),
        ("| Xx | Dm7 | Yy |", [(1, 3), (1, 14)]),
        ("key: F\n\n| Dm7 |\n| C7# |", [(4, 5)]),
        ("tempo: fast\nkey: Q\n| Dm7 |", [(1, 8), (2, 6)]),
        ("| {what} Dm7 | {5/0} Q |", [(1, 3), (1, 16), (1, 22)]),
        ("| 💥 | Zx |", [(1, 3), (1, 7)]),
        ("where: here\n| Dm7 | ? |", [(1, 1), (2, 9)]),
        ("", [(None, None)]),
        ("|: C :|x99\n" * 99, [(None, None)]),
    ],
)
def test_each_fault_has_its_place(text: str, places: list[tuple[int | None, int | None]]) -> None:
    assert [(fault.line, fault.column) for fault in chart_faults(text)] == places


def test_of_many_faults_some_are_enough() -> None:
    assert len(chart_faults("| Xx " * 100)) == MOST_FAULTS


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("time: 5/4\n| C |", "write meter: 5/4"),
        ("bpm: 90\n| C |", "write tempo: 90"),
        ("5/4 | C |", "{5/4}"),
        ("|: C | [1. G7 :| 2. C |", "1. or 2."),
        ("X: 1\nT: Attic\nK: G\n| C |", ".abc"),
    ],
)
def test_what_many_would_type_is_answered_with_what_to_type(text: str, advice: str) -> None:
    [fault] = chart_faults(text)
    assert advice in fault.message
