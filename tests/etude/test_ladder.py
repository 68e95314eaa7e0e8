"""The ladder climbs: each step is no easier than the one before, and each level harder.

The measure is that of ``bench/ladder.py``: units of common practice, no source.
"""

from __future__ import annotations

from types import ModuleType

import pytest
from typed_lines import typed

from halfstep.etude.steps import STEPS
from halfstep.level import Level
from outside_scripts import BENCH, script

FALLING = "key: F\n| C7 | F7 |"
TITLES = ("ii-V-I", "minor ii-V-i")


@pytest.fixture(scope="module")
def ladder() -> ModuleType:
    script(BENCH / "etudes.py")
    return script(BENCH / "ladder.py")


def figures(ladder: ModuleType, line: str) -> dict[str, float]:
    etude, _ = typed("arpeggio", FALLING, line, instrument="alto-sax")
    return dict(zip(ladder.NAMES, ladder.figures(etude), strict=True))


@pytest.mark.slow
def test_no_step_is_easier_than_the_one_before_unless_it_stands_apart(ladder: ModuleType) -> None:
    """Alto saxophone over two charts; the bench has eight."""
    table = ladder.difficulties(titles=TITLES)
    sums = {step.name: [sum(row) for row in rows] for step, rows in table}
    assert ladder.falls(sums) == {}
    assert set(ladder.easier_levels(sums)) <= set(ladder.APART)


def test_few_steps_stand_apart_each_with_its_reason(ladder: ModuleType) -> None:
    names = [step.name for step in STEPS]
    assert set(ladder.APART) < set(names)
    assert len(ladder.APART) < len(names) / 3
    assert all(len(reason.split()) > 4 for reason in ladder.APART.values())


def test_a_fall_is_told_with_its_level_and_what_stands_apart_is_no_measure(
    ladder: ModuleType,
) -> None:
    sums = {
        "arpeggio": [1.0, 2.0, 3.0], "guide-tones": [0.5, 0.5, 0.5],
        "approach-notes": [1.0, 1.8, 3.0], "chorus": [0.95, 2.5, 3.5],
    }  # fmt: skip
    assert ladder.falls(sums) == {"approach-notes": [Level.INTERMEDIATE]}
    assert ladder.easier_levels({"arpeggio": [2.0, 1.5, 3.0], "chorus": [1.0, 1.0, 1.0]}) == [
        "arpeggio"
    ]


def test_a_note_struck_again_makes_no_interval_smaller(ladder: ModuleType) -> None:
    once = figures(ladder, "C5- E5- G4- Bb4- | F4----,")
    again = figures(ladder, "C5 C5 E5 E5 G4 G4 Bb4 Bb4 | F4----,")
    assert again["intervals"] == once["intervals"]
    assert again["density"] > once["density"]


def test_what_makes_a_line_harder(ladder: ModuleType) -> None:
    plain = figures(ladder, "C5- G4- E4- G4- | F4----,")
    held = figures(ladder, "C5 G4- E4 G4- E4- | F4----,")
    late = figures(ladder, "C5- G4- r E4 G4- | F4----,")
    assert plain["syncopation"] == 0
    assert held["syncopation"] == pytest.approx(1 / 6 / 0.25)
    assert late["syncopation"] == pytest.approx(1 / 5 / 0.25)
    assert plain["chromatics"] == 0
    scale = figures(ladder, "C5- A4- E4- G4- | F4----,")
    outside = figures(ladder, "C5- Ab4- E4- G4- | F4----,")
    assert 0 < scale["chromatics"] < outside["chromatics"]
    assert figures(ladder, "C5- G4- E4- C4- | F4----,")["range"] > plain["range"]


def test_the_break_is_hard_to_cross_only_where_there_is_no_time(ladder: ModuleType) -> None:
    """The alto saxophone's lies between written C♯5 and D5, E4 and F4 in concert pitch."""
    slow = figures(ladder, "E4- G4- E4- G4- | F4----,")
    quick = figures(ladder, "E4 G4 E4 G4 E4 G4 E4 G4 | F4----,")
    assert slow["fingering"] == 0
    assert quick["fingering"] > 1
