"""Every rule is kept by a line that keeps it and named for one that breaks it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
import pytest
from etude_charts import briefs, etude_charts
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from typed_lines import typed

from halfstep.etude.check import breaches
from halfstep.etude.frame import line_slots, palettes
from halfstep.etude.parts import Brief
from halfstep.etude.rules import EVERY_STEP, LineRule, LocalRule
from halfstep.etude.tables import STEP_RULES
from halfstep.harmony.analysis import analyse
from halfstep.progression.chart import Chart


@dataclass(frozen=True)
class Example:
    """A line that keeps every rule and one that breaks this rule.

    ``step`` is the step the rule belongs to; rules for every step are tried in one.
    """

    step: int
    rule: str
    chart: str
    good: str
    bad: str
    tempo_bpm: float = 200.0


MAJOR = "key: C\n| Cmaj7 | Fmaj7 |"
FALLING = "key: F\n| C7 | F7 |"
CLOSING = "key: C\n| Am6 . . Am | Am |"
ARPEGGIO = "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"
RHYTHM = "C4- C4 E4 G4- B4- | F4 F4 A4- C5 C5 E5-,"
BROKEN = "C5 G4 E4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"
SCALE = "C4 D4 E4 F4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 D5 E5 F5,"
TURNING = "C4 D4 E4 G4 E4! D4 F4 G4 | A4 C5 D5 A4! F4--,"
ONE_LINE = "C5 Bb4 A4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"
LATE = "A4 B4 C5 D5 E5 D5 C5-, | A4 G4 A4 B4 C5--,"
GUIDES = "E4--{0} G4 E4 G4 F4 | Eb4----{0},"
CELLS = "C4 D4 E4 G4 G4 E4 D4 C4 | F4 G4 A4 C5 C5 A4 G4 F4,"
APPROACH = "C5 Bb4 G4 Ab4~ G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"
ENCLOSURE = "C5 Bb4 A4( F#4) G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"
FIGURE = "C4- D4{1} E4{1} G4--{1} | F4- G4{1} A4{1} C5--{1},"
CALL = "C5 Bb4 A4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"
ASKING = "C5 Bb4 A4 G4 E4 D4 E4-{9}, | Eb4 F4 G4 A4 F4--,"
ONE_NOTE = "G4- G4 G4 G4- G4- | A4- A4- A4--,"
ECHO = "C5 G4 E4 Bb4 C5-- | F4 C5 A4 Eb5 F4--,"
QUESTION = "C5 Bb4 A4 G4 E4 G4 E4-{9}, | Eb4 F4 G4 A4 F4--,"
TWO_NOTES = "C4- E4 C4 E4- C4- | F4- A4- F4--,"
CHORUS = "C5 Bb4 A4 G4 E4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"

EXAMPLES = (
    # for every step
    Example(1, "every note is in range and in the scale of the moment", MAJOR, ARPEGGIO,
            "C4 Eb4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example(4, "an avoid note never sits on a strong beat", MAJOR, SCALE,
            "C4 C4 D4 E4 F4 G4 A4 B4 | F4 G4 A4 B4 C5 D5 E5 F5,"),
    Example(1, "a leap larger than a fifth turns back", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | C5 E5 C5 A4 F4 A4 C5-,"),
    Example(1, "the last note is a tone of the arpeggio", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 G4-,"),
    Example(1, "the bars add up", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4--,"),
    Example(1, "every written note is in the player's range", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 A5 C5 A4-,"),
    Example(1, "every note is spelled within its scale", MAJOR, ARPEGGIO,
            "C4 E4 G4 Cb5 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example(1, "no note is held across a change that it clashes with",
            "key: C\n| C7 | Fm7 |", "C4 E4 G4 Bb4 G4 E4 C4- | F4 Ab4 C5 Eb5 C5 Ab4 F4-,",
            "C4 E4 G4 Bb4 G4 C4 E4-- Ab4 C5 Ab4 F4-,"),
    Example(1, "a phrase ends where the player can breathe", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-"),
    # 1 arpeggio
    Example(1, "no more than two equal notes in a row", MAJOR, ARPEGGIO,
            "C4 C4 C4 E4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example(1, "only tones of the arpeggio", MAJOR, ARPEGGIO,
            "C4 D4 E4 G4 B4 G4 E4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example(1, "the arpeggio's tones in order", MAJOR, ARPEGGIO,
            "C4 G4 E4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    # 2 arpeggio in rhythm
    Example(2, "only tones of the arpeggio", MAJOR, RHYTHM,
            "C4- C4 D4 E4- G4- | F4 F4 A4- C5 C5 E5-,"),
    Example(2, "the arpeggio's tones in order", MAJOR, RHYTHM,
            "C4- C4 G4 E4- B4- | F4 F4 A4- C5 C5 E5-,"),
    Example(2, "the rhythm varies from chord to chord", MAJOR, RHYTHM,
            "C4- C4 E4 G4- B4- | F4- F4 A4 C5- E5-,"),
    Example(2, "tones are repeated", MAJOR, RHYTHM,
            "C4- E4 G4 B4- G4- | F4 A4 C5- E5 C5 A4-,"),
    # 3 broken arpeggio
    Example(3, "no more than two equal notes in a row", FALLING, BROKEN,
            "C5 G4 G4 G4 Bb4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"),
    Example(3, "only tones of the arpeggio", FALLING, BROKEN,
            "C5 G4 D4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"),
    Example(3, "tones out of order", FALLING, BROKEN,
            "C5 Bb4 G4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"),
    Example(3, "the nearest chord tone across the change", FALLING, BROKEN,
            "C5 G4 E4 Bb4 G4 C5 Bb4 E4 | A4 F4 C5 Eb5 F4--,"),
    # 4 scale
    Example(4, "no more than two equal notes in a row", MAJOR, SCALE,
            "C4 C4 C4 D4 E4 D4 C4 D4 | F4 G4 A4 B4 C5 D5 E5 F5,"),
    Example(4, "the scale's notes in order", MAJOR, SCALE,
            "C4 D4 F4 E4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 D5 E5 F5,"),
    # 5 turning scale
    Example(5, "no more than two equal notes in a row", FALLING, TURNING,
            "C4 D4 E4 G4 E4! E4 E4 G4 | A4 C5 D5 A4! F4--,"),
    Example(5, "steps and thirds in the scale, skips only to chord tones", FALLING, TURNING,
            "C4 D4 E4 G4 E4! D4 A4 G4 | A4 C5 D5 A4! F4--,"),
    Example(5, "the line turns", FALLING, TURNING,
            "C4 D4 E4 G4 E4! D4 F4 G4 | A4 C5 D5 Eb5! F4--,"),
    Example(5, "no more than seven notes in one direction", FALLING, TURNING,
            "C4 D4 E4 F4 G4 A4 Bb4 C5 | A4 C5 D5 A4! F4--,"),
    # 6 one line
    Example(6, "no more than two equal notes in a row", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 G4 G4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example(6, "steps and thirds in the scale, skips only to chord tones", FALLING, ONE_LINE,
            "C5 Bb4 A4 D4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example(6, "a chord tone on every strong beat", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 F4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example(6, "the line goes on across the change by step or third", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 E4 D4 F4 G4 | C5 Eb5 D5 C5 A4--,"),
    Example(6, "the direction goes on across the change", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 E4 F4 D4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example(6, "the changing note is heard at the change or right after", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 E4 F4 D4 E4 | F4 G4 A4 G4 F4--,"),
    Example(6, "a changing note that no strong beat may hold is heard on the first weak one",
            CLOSING, LATE, "A4 B4 C5 D5 E5 D5 C5-, | A4 B4 G4 B4 C5--,", tempo_bpm=30.0),
    # 7 guide tones
    Example(7, "a chord begins with its third or seventh", FALLING, GUIDES,
            "G4--{0} A4 C5 G4 F4 | Eb4----{0},"),
    Example(7, "the notes between lead by step into the next guide tone", FALLING, GUIDES,
            "E4--{0} G4 E4 D4 C4 | Eb4----{0},"),
    Example(7, "no leap wider than a sixth between guide tones", FALLING, GUIDES,
            "E4--{0} D5 G4 E4 F4 | Eb4----{0},"),
    Example(7, "guide tones go to the nearest of the next chord", FALLING, GUIDES,
            "E4--{0} G4 E4 G4 Bb4 | A4----{0},"),
    Example(7, "over one chord a guide tone is held, or the other one follows",
            "key: F\n| C7 | % |", "E4--{0} G4 E4 G4 A4 | Bb4----{0},",
            "E4--{0} G4 E4 G4 F4 | E4----{0},"),
    Example(7, "a guide tone is held for half of its chord's stay in the bar", FALLING, GUIDES,
            "E4-{0} G4 E4 F4 E4 G4 F4 | Eb4----{0},"),
    # 8 cells
    Example(8, "no more than two equal notes in a row", FALLING, CELLS,
            "C4 D4 E4 G4 G4 G4 E4 D4 | F4 G4 A4 C5 C5 A4 G4 F4,"),
    Example(8, "only the root, second, third and fifth", FALLING, CELLS,
            "C4 D4 E4 F4 G4 E4 D4 C4 | F4 G4 A4 C5 C5 A4 G4 F4,"),
    Example(8, "every cell is 1 2 3 5 or a mirror form of it", FALLING, CELLS,
            "C4 E4 D4 G4 G4 E4 D4 C4 | F4 G4 A4 C5 C5 A4 G4 F4,"),
    Example(8, "two cells of one chord do not go the same way in a row", FALLING, CELLS,
            "C4 D4 E4 G4 C4 D4 E4 G4 | F4 G4 A4 C5 C5 A4 G4 F4,"),
    # 9 approach notes
    Example(9, "only a note that leads to another leaves the scale", FALLING, APPROACH,
            "C5 Bb4 G4 Ab4 G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example(9, "a chord tone on every strong beat", FALLING, APPROACH,
            "C5 Bb4 G4 F4 D4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example(9, "the weak note before a chord tone is its neighbour", FALLING, APPROACH,
            "C5 Bb4 G4 Ab4~ G4 F4 E4 C4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example(9, "no leap wider than a sixth, and no note twice", FALLING, APPROACH,
            "C5 C5 G4 Ab4~ G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example(9, "no more than two equal notes in a row", FALLING, APPROACH,
            "C5 G4 G4 G4 G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    # 10 enclosures
    Example(10, "only a note that leads to another leaves the scale", FALLING, ENCLOSURE,
            "C5 Ab4 A4( F#4) G4 F4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example(10, "a chord tone on every strong beat", FALLING, ENCLOSURE,
            "C5 Bb4 G4( E4) F4 D4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example(10, "a note above and a note below lead to the tone", FALLING, ENCLOSURE,
            "C5 Bb4 A4( Ab4) G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example(10, "where there is room for one, it is a neighbour", FALLING, ENCLOSURE,
            "C5 Bb4 A4( F#4) G4 E4 F4 C4~ | Eb4 F4 G4( E4) F4--,"),
    Example(10, "no leap wider than a sixth, and no note twice", FALLING, ENCLOSURE,
            "C5 C5 A4( F#4) G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example(10, "no more than two equal notes in a row", FALLING, ENCLOSURE,
            "G4 G4 G4( F#4) G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    # 11 motif
    Example(11, "no more than two equal notes in a row", FALLING, FIGURE,
            "C4- C4{1} C4{1} G4--{1} | F4- G4{1} A4{1} C5--{1},"),
    Example(11, "the figure begins on a chord tone", FALLING, FIGURE,
            "D4- E4{1} F4{1} G4--{1} | F4- G4{1} A4{1} C5--{1},"),
    Example(11, "the figure keeps its directions", FALLING, FIGURE,
            "C4- D4{1} E4{1} C4--{1} | F4- G4{1} A4{1} C5--{1},"),
    Example(11, "no leap is wider than an octave", FALLING, FIGURE,
            "C4- D4{1} E4{1} G4--{1} | A5- Bb5{1} C6{1} Eb6--{1},"),
    # 12 call and response
    Example(12, "no more than two equal notes in a row", FALLING, CALL,
            "C5 G4 G4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example(12, "steps and thirds in the scale, skips only to chord tones", FALLING, CALL,
            "C5 Bb4 A4 D4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example(12, "a call ends on a chord tone", FALLING, CALL,
            "C5 Bb4 A4 G4 E4 G4 F4 D4, | Eb4 F4 G4 A4 F4--,"),
    Example(12, "a call that is answered does not end on the root", FALLING, ASKING,
            "C5 Bb4 A4 G4 E4 D4 C4-{9}, | Eb4 F4 G4 A4 F4--,"),
    # 13 chorus
    Example(13, "only a note off the beat, or one that leans, may leave the scale", FALLING, CHORUS,
            "Db5 Bb4 A4 G4 E4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"),
    Example(13, "a note from outside moves on by step into the scale", FALLING, CHORUS,
            "C5 Bb4 A4 G4 E4 F#4* C4 E4 | Eb4 E4* F4 A4 F4--,"),
    Example(13, "on a strong beat stands a tone of the chord, or a note that goes to one by step",
            FALLING, CHORUS, "C5 Bb4 A4 G4 D4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"),
    Example(13, "no leap is wider than an octave", FALLING, CHORUS,
            "C5 Bb4 A4 G4 E4 F#4* G4 Bb5 | Eb4 E4* F4 A4 F4--,"),
    Example(13, "no more than two equal notes in a row", FALLING, CHORUS,
            "C5 Bb4 Bb4 Bb4 E4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"),
    # before the first step
    Example(-4, "the note stays as long as the chord does", FALLING, ONE_NOTE,
            "G4- G4 G4 A4- G4- | G4- G4- G4--,"),
    Example(-3, "only tones of the arpeggio", FALLING, ECHO,
            "C5 G4 D4 Bb4 C5-- | F4 C5 A4 Eb5 F4--,"),
    Example(-3, "no more than two equal notes in a row", FALLING, ECHO,
            "C5 G4 G4 G4 C5-- | F4 C5 A4 Eb5 F4--,"),
    Example(-2, "steps and thirds in the scale, skips only to chord tones", FALLING, QUESTION,
            "C5 Bb4 A4 D4 E4 D4 E4-{9}, | Eb4 F4 G4 A4 F4--,"),
    Example(-2, "no more than two equal notes in a row", FALLING, QUESTION,
            "C5 G4 G4 G4 E4 G4 E4-{9}, | Eb4 F4 G4 A4 F4--,"),
    Example(-2, "a question ends on a chord tone that is not the root", FALLING, QUESTION,
            "C5 Bb4 A4 G4 E4 D4 C4-{9}, | Eb4 F4 G4 A4 F4--,"),
    Example(-2, "the last answer ends on the root", FALLING, QUESTION,
            "C5 Bb4 A4 G4 E4 G4 E4-{9}, | Eb4 F4 G4 F4 A4--,"),
    Example(-1, "only the root and the third", FALLING, TWO_NOTES,
            "C4- E4 C4 G4- C4- | F4- A4- F4--,"),
    *(Example(step, "every note is in range and in the scale of the moment", chart, good, bad)
      for step, chart, good, bad in (
          (-4, FALLING, ONE_NOTE, "Ab4- Ab4 Ab4 Ab4- Ab4- | Ab4- Ab4- A4--,"),
          (-3, FALLING, ECHO, "C5 G4 Eb4 Bb4 C5-- | F4 C5 A4 Eb5 F4--,"),
          (-2, FALLING, QUESTION, "C5 Bb4 Ab4 G4 E4 G4 E4-{9}, | Eb4 F4 G4 A4 F4--,"),
          (-1, FALLING, TWO_NOTES, "C4- Eb4 C4 E4- C4- | F4- A4- F4--,"),
          (2, MAJOR, RHYTHM, "C4- C4 Eb4 G4- B4- | F4 F4 A4- C5 C5 E5-,"),
          (3, FALLING, BROKEN, "C5 G4 Eb4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"),
          (4, MAJOR, SCALE, "C4 D4 Eb4 F4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 D5 E5 F5,"),
          (5, FALLING, TURNING, "C4 Db4 E4 G4 E4! D4 F4 G4 | A4 C5 D5 A4! F4--,"),
          (6, FALLING, ONE_LINE, "C5 Bb4 Ab4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
          (7, FALLING, GUIDES, "E4--{0} Ab4 E4 G4 F4 | Eb4----{0},"),
          (8, FALLING, CELLS, "C4 Db4 E4 G4 G4 E4 D4 C4 | F4 G4 A4 C5 C5 A4 G4 F4,"),
          (11, FALLING, FIGURE, "C4- Db4{1} E4{1} G4--{1} | F4- G4{1} A4{1} C5--{1},"),
          (12, FALLING, CALL, "C5 Bb4 Ab4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
      )),
)  # fmt: skip


def _name(example: Example) -> str:
    return f"{example.step}-{example.rule}"


def broken(example: Example, line: str) -> list[str]:
    """The rules that a line breaks in the place of the example."""
    etude, slots = typed(example.step, example.chart, line, tempo_bpm=example.tempo_bpm)
    return [breach.rule for breach in breaches(etude, slots)]


@pytest.mark.parametrize("example", EXAMPLES, ids=_name)
def test_a_good_line_keeps_every_rule(example: Example) -> None:
    assert broken(example, example.good) == []


@pytest.mark.parametrize("example", EXAMPLES, ids=_name)
def test_a_bad_line_is_told_the_rule_it_breaks(example: Example) -> None:
    assert example.rule in broken(example, example.bad)


def test_every_rule_has_a_line_that_breaks_it() -> None:
    shown = {(example.step, example.rule) for example in EXAMPLES}
    of_steps = {(step, rule.text) for step, rules in STEP_RULES.items() for rule in rules}
    assert of_steps - shown == set()
    assert {rule.text for rule in EVERY_STEP} <= {rule for _, rule in shown}
    known = {text for _, text in of_steps} | {rule.text for rule in EVERY_STEP}
    assert {rule for _, rule in shown} <= known


def test_a_gap_and_an_overlap_do_not_add_up() -> None:
    etude, slots = typed(1, MAJOR, ARPEGGIO)
    for beats in (Fraction(1, 4), Fraction(3, 4)):
        notes = (replace(etude.notes[0], beats=beats), *etude.notes[1:])
        found = breaches(replace(etude, notes=notes), slots)
        assert ("the bars add up", etude.notes[1]) in [(each.rule, each.note) for each in found]


def test_a_line_that_starts_late_does_not_add_up() -> None:
    etude, slots = typed(1, MAJOR, ARPEGGIO)
    found = breaches(replace(etude, notes=etude.notes[1:]), slots[1:])
    assert "the bars add up" in [each.rule for each in found]


def test_a_breach_shows_the_note() -> None:
    example = next(each for each in EXAMPLES if each.rule == "a chord tone on every strong beat")
    etude, slots = typed(6, example.chart, example.bad)
    found = [each.note for each in breaches(etude, slots) if each.rule == example.rule]
    assert [str(note.pitch) for note in found] == ["F4"]


def test_a_rest_cuts_the_line_for_every_local_rule() -> None:
    """A leap over a rest is no leap, and three equal notes with a rest are not in a row."""
    chart = "key: F\n| C7 . . N.C. | C7 |"
    line = "C5 Bb4 G4 E4 G4 C5 r- | C4 E4 G4 Bb4 G4 E4 C4-,"
    etude, slots = typed(1, chart, line)
    assert "a leap larger than a fifth turns back" not in [
        each.rule for each in breaches(etude, slots)
    ]


def test_players_without_breath_need_no_breath() -> None:
    line = "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-"
    assert breaches(*typed(1, MAJOR, line, instrument="piano")) == []


def test_in_a_quick_change_the_direction_may_turn() -> None:
    """A chord shorter than two beats is only passed through."""
    chart = "key: F\n| C7 . . F7 | C7 |"
    line = "C5 Bb4 A4 G4 E4 G4 F4 A4 | G4 E4 D4 G4 C5--,"
    assert "the direction goes on across the change" not in [
        each.rule for each in breaches(*typed(6, chart, line))
    ]


LOCAL = {
    (step, rule.text): rule
    for step, rules in STEP_RULES.items()
    for rule in (*EVERY_STEP, *rules)
    if isinstance(rule, LocalRule)
}


@given(etude_charts(), briefs(), st.sampled_from(sorted(LOCAL)), st.data())
@settings(max_examples=80)
def test_a_rule_says_the_same_of_all_notes_at_once_and_of_three(
    chart: Chart, brief: Brief, which: tuple[int, str], data: st.DataObject
) -> None:
    """The search's mask and the check are one function; both uses agree."""
    rule = LOCAL[which]
    analysis = analyse(chart, level=brief.level)
    slots = line_slots(analysis, brief, palettes(analysis, brief))
    ends = range(rule.width, len(slots) + 1)
    windows = [slots[end - rule.width : end] for end in ends]
    windows = [w for w in windows if all(slot.palette for slot in w) and rule.applies(w)]
    assume(windows)
    window = data.draw(st.sampled_from(windows))
    grid = np.arange(brief.concert_low, brief.concert_high + 1)
    axes = np.ix_(*[grid] * rule.width)
    mask = np.broadcast_to(rule.holds(window, axes), (len(grid),) * rule.width)
    for _ in range(10):
        place = tuple(data.draw(st.integers(0, len(grid) - 1)) for _ in axes)
        notes = [np.asarray(grid[at]) for at in place]
        assert bool(rule.holds(window, notes)) == bool(mask[place])


def test_every_rule_says_what_it_is() -> None:
    """Each text is a phrase of its own, printed when a rule blocks a request."""
    rules = [*EVERY_STEP, *(rule for rules in STEP_RULES.values() for rule in rules)]
    for rule in rules:
        assert isinstance(rule, LineRule | LocalRule)
        assert rule.text == rule.text.strip(" .")
        assert rule.text[0].islower()
    assert len({rule.text for rule in EVERY_STEP}) == len(EVERY_STEP)
