"""Every rule of the vocabulary is kept by a line that keeps it and named for one that breaks it.

The rules that steps of a lesson have too are tried there, those of chords in their own module.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest
from typed_lines import typed

from halfstep.etude.rule_check import breaches
from halfstep.etude.rules import EVERY_STEP, IN_SCALE, NOT_THREE_EQUAL, WITHIN_OCTAVE, LocalRule
from halfstep.etude.steps import VOCABULARY, find_step
from halfstep.level import Level


class Example(NamedTuple):
    """A line that keeps every rule of a step, and lines that break one rule each."""

    step: str
    chart: str
    good: str
    bad: dict[str, str]


TWO = "key: C\n| Dm7 | G7 |"
BLUES = "key: C\n| C7 | F7 |"
BEBOP = "F4{0} E4 D4{0} C4 B3{0} C4 D4{0} E4 | G4{0} G#4 A4{0} B4 C5--{0},"
HOME = "key: C\n| G7 | Cmaj7 |"
EXAMPLES = (
    Example("plain-guide-tones", "key: C\n| Dm7 | % | G7 |", "F4---- | C5---- | B4----,", {
        "every note is a third or a seventh": "A4---- | C5---- | B4----,",
        "guide tones go to the nearest": "F4---- | C5---- | F4----,",
        "over one chord a guide tone is held": "C5---- | C5---- | B4----,",
    }),
    Example("inversions", TWO, "D4 F4 A4 C5 F4 A4 C5 D5 | F5 D5 B4 G4 D5 B4 G4-,", {
        "only tones of the arpeggio": "D4 F4 G4 C5 F4 A4 C5 D5 | F5 D5 B4 G4 D5 B4 G4-,",
        "every bar goes through the inversions": (
            "D4 A4 F4 C5 F4 A4 C5 D5 | F5 D5 B4 G4 D5 B4 G4-,"
        ),
    }),
    Example("pentatonics", TWO, "D4 F4 G4 A4 F4 G4 A4 C5 | D5 B4 A4 G4 B4 A4 G4-,", {
        "every bar is made of the figure": "D4 G4 F4 A4 F4 G4 A4 C5 | D5 B4 A4 G4 B4 A4 G4-,",
    }),
    Example("blues-scale", BLUES, "G4 F4 Eb4 C4 G4 Gb4 F4 Eb4 | F4 Eb4 C4 Bb3 C4--,", {
        "to one of the next two notes of the scale": (
            "C4 Gb4 F4 Eb4 G4 Gb4 F4 Eb4 | F4 Eb4 C4 Bb3 C4--,"
        ),
        "the flat fifth passes": "G4 Gb4 Eb4 C4 G4 Gb4 F4 Eb4 | F4 Eb4 C4 Bb3 C4--,",
        "the flat fifth is neither held": "G4 F4 Gb4- G4 Gb4 F4 Eb4 | F4 Eb4 C4 Bb3 C4--,",
    }),
    Example("digital-patterns", TWO, "D4 E4 F4 A4 D5 A4 F4 E4 | D5 B4 A4 G4 D4 G4 B4-,", {
        "every bar is made of the pattern": "D4 E4 F4 A4 D5 F4 A4 E4 | D5 B4 A4 G4 D4 G4 B4-,",
    }),
    Example("sequence", TWO, "D4 E4 F4 D4 E4 F4 G4 E4 | G4 A4 B4 G4 A4 B4 D5-,", {
        "every bar repeats the figure": "D4 E4 F4 D4 F4 G4 A4 F4 | G4 A4 B4 G4 A4 B4 D5-,",
    }),
    Example("sequence-through-keys", TWO, "D4 E4 F4 A4 B4 A4 F4 E4 | G4 A4 B4 D5 E5 D5 B4-,", {
        "every bar has the figure": "D4 E4 F4 A4 F4 E4 D4 E4 | G4 A4 B4 D5 E5 D5 B4-,",
    }),
    Example("scale-in-thirds", TWO, "D4 F4 E4 G4 F4 A4 G4 B4 | B4 G4 A4 F4 G4 E4 D4-,", {
        "every bar goes through its scale in thirds": (
            "D4 F4 E4 A4 F4 A4 G4 B4 | B4 G4 A4 F4 G4 E4 D4-,"
        ),
    }),
    Example("scale-in-fourths", TWO, "D4 G4 E4 A4 F4 B4 G4 C5 | D5 A4 C5 G4 B4 F4 G4-,", {
        "every bar goes through its scale in fourths": (
            "D4 G4 E4 A4 F4 A4 G4 C5 | D5 A4 C5 G4 B4 F4 G4-,"
        ),
    }),
    Example("bebop-scales", HOME, BEBOP, {
        "a tone of the chord stands on every beat": (
            "F4{0} E4 D4{0} C4 B3{0} A3 B3{0} C4 | D4{0} E4 F4{0} G4 E4--{0},"
        ),
        "from note to note of the scale": (
            "F4{0} D4 B3{0} C4 B3{0} C4 D4{0} E4 | G4{0} G#4 A4{0} B4 C5--{0},"
        ),
        "into a new chord by a fifth or less": (
            "F4{0} E4 D4{0} C4 B3{0} C4 D4{0} E4 | C5{0} B4 A4{0} B4 C5--{0},"
        ),
    }),
    Example("triad-pairs", TWO, "F4 A4 C5- G4 B4 D5- | F4 A4 D5- E4 G4 B4-,", {
        "every bar goes from one triad": "F4 A4 C5- A4 C5 F4- | F4 A4 D5- E4 G4 B4-,",
    }),
    Example("quartal-cells", TWO, "D4 G4 C5- E4 A4 D5- | B3 E4 A4- A3 D4 G4-,", {
        "every bar is made of cells of fourths": "D4 G4 B4- E4 A4 D5- | B3 E4 A4- A3 D4 G4-,",
    }),
    Example("walking-bass", TWO, "D4- F4- A4- Ab4-~ | G4- A4- B4- D5-,", {
        "a chord begins on its root": "F4- E4- D4- C5-~ | B4- G4- B4- D5-,",
        "the last note before a new chord": "D4- F4- A4- C5-~ | G4- A4- B4- D5-,",
        "no note twice": "D4- D4- A4- Ab4-~ | G4- A4- B4- D5-,",
        "a chord tone on every strong beat": "D4- F4- E4- Ab4-~ | G4- A4- B4- D5-,",
        "only a note that leads to another": "D4- F#4- A4- Ab4-~ | G4- A4- B4- D5-,",
    }),
)  # fmt: skip
SHARED = {rule.text for rule in (*EVERY_STEP, IN_SCALE, NOT_THREE_EQUAL, WITHIN_OCTAVE)}
IN_THREES = {"triad-pairs", "quartal-cells"}
"""Those that intermediate players have in triplets, which cannot be typed."""
NAMES = [example.step for example in EXAMPLES]


def broken(example: Example, line: str) -> list[str]:
    """The rules that a line breaks, each once."""
    level = Level.BEGINNER if example.step in IN_THREES else Level.INTERMEDIATE
    etude, slots = typed(example.step, example.chart, line, level=level)
    return list(dict.fromkeys(breach.rule for breach in breaches(etude, slots)))


@pytest.mark.parametrize("example", EXAMPLES, ids=NAMES)
def test_a_line_that_keeps_every_rule_breaks_none(example: Example) -> None:
    assert broken(example, example.good) == []


@pytest.mark.parametrize("example", EXAMPLES, ids=NAMES)
def test_a_line_that_breaks_a_rule_is_told_which(example: Example) -> None:
    for rule, line in example.bad.items():
        assert any(text.startswith(rule) for text in broken(example, line)), rule


@pytest.mark.parametrize("example", EXAMPLES, ids=NAMES)
def test_a_rule_says_the_same_of_all_notes_at_once_and_of_each(example: Example) -> None:
    """The search's mask and the check of the line are one function."""
    level = Level.BEGINNER if example.step in IN_THREES else Level.INTERMEDIATE
    _, slots = typed(example.step, example.chart, example.good, level=level)
    grid = np.arange(55, 76)
    for rule in find_step(example.step).rules:
        if not isinstance(rule, LocalRule):
            continue
        for end in range(rule.width, len(slots) + 1):
            window = slots[end - rule.width : end]
            if not rule.applies(window):
                continue
            mask = np.broadcast_to(
                rule.holds(window, np.ix_(*[grid] * rule.width)), (len(grid),) * rule.width
            )
            for place in ((3, 5, 7), (10, 9, 10), (0, 12, 4)):
                notes = [np.asarray(grid[at]) for at in place[: rule.width]]
                assert bool(rule.holds(window, notes)) == bool(mask[place[: rule.width]])


def test_every_rule_of_the_vocabulary_has_a_line_that_breaks_it() -> None:
    examples = {example.step: example for example in EXAMPLES}
    lines = [step for step in VOCABULARY if not step.in_chords]
    assert list(examples) == [step.name for step in lines]
    for step in lines:
        for rule in step.rules:
            told = any(rule.text.startswith(start) for start in examples[step.name].bad)
            assert told or rule.text in SHARED, rule.text
