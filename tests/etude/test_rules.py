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

from halfstep.etude.etude_brief import Brief
from halfstep.etude.palette import chord_palettes
from halfstep.etude.rule_check import breaches
from halfstep.etude.rules import (
    BREATHES,
    BREATHES_IN_RESTS,
    ENDS_AT_HOME,
    EVERY_STEP,
    HIGH_POINT,
    LineRule,
    LocalRule,
)
from halfstep.etude.slots import line_slots
from halfstep.etude.steps import STEPS
from halfstep.harmony.analysis import analyse
from halfstep.progression.chart import Chart


@dataclass(frozen=True)
class Example:
    """A line that keeps every rule and one that breaks this rule.

    ``step`` is the step the rule belongs to; rules for every step are tried in one.
    """

    step: str
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
SCALE = "C4 D4 E4 F4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 D5 E5-,"
TURNING = "C4 D4 E4 G4 E4! D4 F4 G4 | A4 C5 D5 A4! F4--,"
ONE_LINE = "C5 Bb4 A4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"
LATE = "A4 B4 C5 D5 E5 D5 C5-, | A4 G4 A4 B4 C5--,"
GUIDES = "E4--{0} G4 E4 G4 F4 | Eb4----{0},"
QUARTERS = "C4- D4-{1} E4-{1} G4-{1} | F4- G4-{1} A4-{1} C5-{1} |"
CHROMATIC = "a leading note that is to be chromatic comes from outside the scale"
CELLS = "C4 D4 E4 G4 G4 E4 D4 C4 | F4 G4 A4 C5 A4 G4 F4-,"
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
    Example("arpeggio", "every note is in range and in the scale of the moment", MAJOR, ARPEGGIO,
            "C4 Eb4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example("arpeggio", "the line ends on a note of a beat or more", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5- A4 F4,"),
    Example("arpeggio", "a breath is taken in a rest, or from a note of a beat or more", MAJOR,
            ARPEGGIO, "C4 E4 G4 B4, G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example("arpeggio", "a beginner does not cross the register break after an eighth or less",
            MAJOR, "C4/ E4/ G4/ B4/ G4 E4 C4- | F4 A4 C5/ E5/ C5 A4 F4-,",
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4/ C5 E5 C5 A4 F4-,"),
    Example("scale", "an avoid note never sits on a strong beat", MAJOR, SCALE,
            "C4 C4 D4 E4 F4 G4 A4 B4 | F4 G4 A4 B4 C5 D5 E5-,"),
    Example("arpeggio", "a leap larger than a fifth turns back", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | C5 E5 C5 A4 F4 A4 C5-,"),
    Example("arpeggio", "the last note is a tone of the arpeggio", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 G4-,"),
    Example("arpeggio", "the bars add up", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4--,"),
    Example("arpeggio", "every written note is in the player's range", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 A5 C5 A4-,"),
    Example("arpeggio", "every note is spelled within its scale", MAJOR, ARPEGGIO,
            "C4 E4 G4 Cb5 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example("arpeggio", "no note is held across a change that it clashes with",
            "key: C\n| C7 | Fm7 |", "C4 E4 G4 Bb4 G4 E4 C4- | F4 Ab4 C5 Eb5 C5 Ab4 F4-,",
            "C4 E4 G4 Bb4 G4 C4 E4-- Ab4 C5 Ab4 F4-,"),
    Example("arpeggio", "a phrase ends where the player can breathe", MAJOR, ARPEGGIO,
            "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-"),
    # 1 arpeggio
    Example("arpeggio", "no more than two equal notes in a row", MAJOR, ARPEGGIO,
            "C4 C4 C4 E4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example("arpeggio", "only tones of the arpeggio", MAJOR, ARPEGGIO,
            "C4 D4 E4 G4 B4 G4 E4- | F4 A4 C5 E5 C5 A4 F4-,"),
    Example("arpeggio", "the arpeggio's tones in order", MAJOR, ARPEGGIO,
            "C4 G4 E4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-,"),
    # 2 arpeggio in rhythm
    Example("arpeggio-in-rhythm", "only tones of the arpeggio", MAJOR, RHYTHM,
            "C4- C4 D4 E4- G4- | F4 F4 A4- C5 C5 E5-,"),
    Example("arpeggio-in-rhythm", "the arpeggio's tones in order", MAJOR, RHYTHM,
            "C4- C4 G4 E4- B4- | F4 F4 A4- C5 C5 E5-,"),
    Example("arpeggio-in-rhythm", "the rhythm varies from chord to chord", MAJOR, RHYTHM,
            "C4- C4 E4 G4- B4- | F4- F4 A4 C5- E5-,"),
    Example("arpeggio-in-rhythm", "tones are repeated", MAJOR, RHYTHM,
            "C4- E4 G4 B4- G4- | F4 A4 C5- E5 C5 A4-,"),
    # 3 broken arpeggio
    Example("broken-arpeggio", "no more than two equal notes in a row", FALLING, BROKEN,
            "C5 G4 G4 G4 Bb4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"),
    Example("broken-arpeggio", "only tones of the arpeggio", FALLING, BROKEN,
            "C5 G4 D4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"),
    Example("broken-arpeggio", "tones out of order", FALLING, BROKEN,
            "C5 Bb4 G4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"),
    Example("broken-arpeggio", "the nearest chord tone across the change", FALLING, BROKEN,
            "C5 G4 E4 Bb4 G4 C5 Bb4 E4 | A4 F4 C5 Eb5 F4--,"),
    # 4 scale
    Example("scale", "no more than two equal notes in a row", MAJOR, SCALE,
            "C4 C4 C4 D4 E4 D4 C4 D4 | F4 G4 A4 B4 C5 D5 E5-,"),
    Example("scale", "the scale's notes in order", MAJOR, SCALE,
            "C4 D4 F4 E4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 D5 E5-,"),
    # 5 turning scale
    Example("turning-scale", "no more than two equal notes in a row", FALLING, TURNING,
            "C4 D4 E4 G4 E4! E4 E4 G4 | A4 C5 D5 A4! F4--,"),
    Example("turning-scale",
        "steps and thirds in the scale, skips only to chord tones", FALLING, TURNING,
            "C4 D4 E4 G4 E4! D4 A4 G4 | A4 C5 D5 A4! F4--,"),
    Example("turning-scale", "the line turns", FALLING, TURNING,
            "C4 D4 E4 G4 E4! D4 F4 G4 | A4 C5 D5 Eb5! F4--,"),
    Example("turning-scale", "no more than seven notes in one direction", FALLING, TURNING,
            "C4 D4 E4 F4 G4 A4 Bb4 C5 | A4 C5 D5 A4! F4--,"),
    # 6 one line
    Example("one-line", "no more than two equal notes in a row", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 G4 G4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example("one-line",
        "steps and thirds in the scale, skips only to chord tones", FALLING, ONE_LINE,
            "C5 Bb4 A4 D4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example("one-line", "a chord tone on every strong beat", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 F4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example("one-line", "the line goes on across the change by step or third", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 E4 D4 F4 G4 | C5 Eb5 D5 C5 A4--,"),
    Example("one-line", "the direction goes on across the change", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 E4 F4 D4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example("one-line",
        "the changing note is heard at the change or right after", FALLING, ONE_LINE,
            "C5 Bb4 A4 G4 E4 F4 D4 E4 | F4 G4 A4 G4 F4--,"),
    Example("one-line",
        "a changing note that no strong beat may hold is heard on the first weak one",
            CLOSING, LATE, "A4 B4 C5 D5 E5 D5 C5-, | A4 B4 G4 B4 C5--,", tempo_bpm=30.0),
    # 7 guide tones
    Example("guide-tones", "a chord begins with its third or seventh", FALLING, GUIDES,
            "G4--{0} A4 C5 G4 F4 | Eb4----{0},"),
    Example("guide-tones",
        "the notes between lead by step into the next guide tone", FALLING, GUIDES,
            "E4--{0} G4 E4 D4 C4 | Eb4----{0},"),
    Example("guide-tones", "no leap wider than a sixth between guide tones", FALLING, GUIDES,
            "E4--{0} D5 G4 E4 F4 | Eb4----{0},"),
    Example("guide-tones", "guide tones go to the nearest of the next chord", FALLING, GUIDES,
            "E4--{0} G4 E4 G4 Bb4 | A4----{0},"),
    Example("guide-tones", "over one chord a guide tone is held, or the other one follows",
            "key: F\n| C7 | % |", "E4--{0} G4 E4 G4 A4 | Bb4----{0},",
            "E4--{0} G4 E4 G4 F4 | E4----{0},"),
    Example("guide-tones",
        "a guide tone is held for half of its chord's stay in the bar", FALLING, GUIDES,
            "E4-{0} G4 E4 F4 E4 G4 F4 | Eb4----{0},"),
    # 8 cells
    Example("cells", "no more than two equal notes in a row", FALLING, CELLS,
            "C4 D4 E4 G4 G4 G4 E4 D4 | F4 G4 A4 C5 A4 G4 F4-,"),
    Example("cells", "only the root, second, third and fifth", FALLING, CELLS,
            "C4 D4 E4 F4 G4 E4 D4 C4 | F4 G4 A4 C5 A4 G4 F4-,"),
    Example("cells", "every cell is 1 2 3 5 or a mirror form of it", FALLING, CELLS,
            "C4 E4 D4 G4 G4 E4 D4 C4 | F4 G4 A4 C5 A4 G4 F4-,"),
    Example("cells", "two cells of one chord do not go the same way in a row", FALLING, CELLS,
            "C4 D4 E4 G4 C4 D4 E4 G4 | F4 G4 A4 C5 A4 G4 F4-,"),
    # 9 approach notes
    Example("approach-notes",
        "only a note that leads to another leaves the scale", FALLING, APPROACH,
            "C5 Bb4 G4 Ab4 G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example("approach-notes", "a chord tone on every strong beat", FALLING, APPROACH,
            "C5 Bb4 G4 F4 D4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example("approach-notes",
        "the weak note before a chord tone is its neighbour", FALLING, APPROACH,
            "C5 Bb4 G4 Ab4~ G4 F4 E4 C4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example("approach-notes", CHROMATIC, FALLING,
            "C5 Bb4 G4 Ab4~= G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,",
            "C5 Bb4 G4 A4~= G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example("approach-notes", "no leap wider than a sixth, and no note twice", FALLING, APPROACH,
            "C5 C5 G4 Ab4~ G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    Example("approach-notes", "no more than two equal notes in a row", FALLING, APPROACH,
            "C5 G4 G4 G4 G4 F4 E4 D4~ | Eb4 E4~ F4 Bb4 A4--,"),
    # 10 enclosures
    Example("enclosures", "only a note that leads to another leaves the scale", FALLING, ENCLOSURE,
            "C5 Ab4 A4( F#4) G4 F4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example("enclosures", "a chord tone on every strong beat", FALLING, ENCLOSURE,
            "C5 Bb4 G4( E4) F4 D4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example("enclosures", "a note above and a note below lead to the tone", FALLING, ENCLOSURE,
            "C5 Bb4 A4( Ab4) G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example("enclosures", "where there is room for one, it is a neighbour", FALLING, ENCLOSURE,
            "C5 Bb4 A4( F#4) G4 E4 F4 C4~ | Eb4 F4 G4( E4) F4--,"),
    Example("enclosures", CHROMATIC, FALLING,
            "C5 Bb4 A4( F#4)= G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,",
            "C5 Bb4 A4( F4)= G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example("enclosures", "no leap wider than a sixth, and no note twice", FALLING, ENCLOSURE,
            "C5 C5 A4( F#4) G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    Example("enclosures", "no more than two equal notes in a row", FALLING, ENCLOSURE,
            "G4 G4 G4( F#4) G4 E4 F4( D4) | Eb4 F4 G4( E4) F4--,"),
    # 11 motif
    Example("motif", "no more than two equal notes in a row", FALLING, FIGURE,
            "C4- C4{1} C4{1} G4--{1} | F4- G4{1} A4{1} C5--{1},"),
    Example("motif", "the figure begins on a chord tone", FALLING, FIGURE,
            "D4- E4{1} F4{1} G4--{1} | F4- G4{1} A4{1} C5--{1},"),
    Example("motif", "the figure keeps its directions", FALLING, FIGURE,
            "C4- D4{1} E4{1} C4--{1} | F4- G4{1} A4{1} C5--{1},"),
    Example("motif", "in a third of the bars the figure is exact", FALLING,
            "C4- D4{1}= E4{1}= G4--{2}= | F4- G4{1} A4{1} C5--{2},",
            "C4- D4{1}= E4{1}= G4--{1}= | F4- G4{1} A4{1} C5--{2},"),
    Example("motif", "past the middle the figure comes late once", "key: F\n| C7 | F7 | C7 | F7 |",
            f"{QUARTERS} r- C4- D4-{{1}} E4-{{1}} | F4- G4-{{1}} A4--{{1}},",
            f"{QUARTERS} C4- D4-{{1}} E4-{{1}} G4-{{1}} | F4- G4-{{1}} A4--{{1}},"),
    Example("motif", "no leap is wider than an octave", FALLING, FIGURE,
            "C4- D4{1} E4{1} G4--{1} | A5- Bb5{1} C6{1} Eb6--{1},"),
    # 12 call and response
    Example("call-and-response", "no more than two equal notes in a row", FALLING, CALL,
            "C5 G4 G4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example("call-and-response",
        "steps and thirds in the scale, skips only to chord tones", FALLING, CALL,
            "C5 Bb4 A4 D4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
    Example("call-and-response", "a call that is not answered ends on a chord tone", FALLING, CALL,
            "C5 Bb4 A4 G4 E4 G4 F4 D4, | Eb4 F4 G4 A4 F4--,"),
    Example("call-and-response",
        "a call that is answered does not end on the root", FALLING, ASKING,
            "C5 Bb4 A4 G4 E4 D4 C4-{9}, | Eb4 F4 G4 A4 F4--,"),
    # 13 chorus
    Example("chorus",
        "only a note that moves on may leave the scale", FALLING, CHORUS,
            "Db5 Bb4 A4 G4 E4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"),
    Example("chorus", "a note from outside moves on by step into the scale", FALLING, CHORUS,
            "C5 Bb4 A4 G4 E4 F#4* C4 E4 | Eb4 E4* F4 A4 F4--,"),
    Example("chorus",
        "on a strong beat stands a tone of the chord, or a note that goes to one by step",
            FALLING, CHORUS, "C5 Bb4 A4 G4 D4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"),
    Example("chorus", "no leap is wider than an octave", FALLING, CHORUS,
            "C5 Bb4 A4 G4 E4 F#4* G4 Bb5 | Eb4 E4* F4 A4 F4--,"),
    Example("chorus", "no more than two equal notes in a row", FALLING, CHORUS,
            "C5 Bb4 Bb4 Bb4 E4 F#4* G4 E4 | Eb4 E4* F4 A4 F4--,"),
    # before the first step
    Example("rhythm", "the note stays as long as the chord does", FALLING, ONE_NOTE,
            "G4- G4 G4 A4- G4- | G4- G4- G4--,"),
    Example("echo", "what is played fits where it is played back", FALLING, ECHO,
            "C5 G4 D4 Bb4 C5-- | F4 C5 A4 Eb5 F4--,"),
    Example("echo", "no more than two equal notes in a row", FALLING, ECHO,
            "C5 G4 G4 G4 C5-- | F4 C5 A4 Eb5 F4--,"),
    Example("question",
        "steps and thirds in the scale, skips only to chord tones", FALLING, QUESTION,
            "C5 Bb4 A4 D4 E4 D4 E4-{9}, | Eb4 F4 G4 A4 F4--,"),
    Example("question", "no more than two equal notes in a row", FALLING, QUESTION,
            "C5 G4 G4 G4 E4 G4 E4-{9}, | Eb4 F4 G4 A4 F4--,"),
    Example("question", "a question ends on a chord tone that is not the root", FALLING, QUESTION,
            "C5 Bb4 A4 G4 E4 D4 C4-{9}, | Eb4 F4 G4 A4 F4--,"),
    Example("question", "the last answer ends on the root", FALLING, QUESTION,
            "C5 Bb4 A4 G4 E4 G4 E4-{9}, | Eb4 F4 G4 F4 A4--,"),
    Example("root-third", "only the root and the third", FALLING, TWO_NOTES,
            "C4- E4 C4 G4- C4- | F4- A4- F4--,"),
    # a high point
    *(Example(step, HIGH_POINT.text, FALLING, good, bad) for step, good, bad in (
          ("broken-arpeggio", BROKEN.replace("Eb5", "Eb5@"), BROKEN.replace("E4 Bb4", "E4 Bb4@")),
          ("turning-scale", TURNING.replace("D5", "D5@"), TURNING.replace("C5", "C5@")),
          ("one-line", ONE_LINE.replace("C5", "C5@"), ONE_LINE.replace("Bb4", "Bb4@")),
          ("approach-notes", APPROACH.replace("C5", "C5@"), APPROACH.replace("C5 Bb4", "C5 Bb4@")),
          ("enclosures", ENCLOSURE.replace("C5", "C5@"), ENCLOSURE.replace("Bb4 A4", "Bb4@ A4")),
          ("motif", FIGURE.replace("C5--{1},", "C5--{1},@"), FIGURE.replace("E4{1}", "E4{1}@")),
          ("chorus", CHORUS.replace("C5", "C5@"), CHORUS.replace("Bb4", "Bb4@")),
      )),
    *(Example(step, "every note is in range and in the scale of the moment", chart, good, bad)
      for step, chart, good, bad in (
          ("rhythm", FALLING, ONE_NOTE, "Ab4- Ab4 Ab4 Ab4- Ab4- | Ab4- Ab4- A4--,"),
          ("echo", FALLING, ECHO, "C5 G4 Eb4 Bb4 C5-- | F4 C5 A4 Eb5 F4--,"),
          ("question", FALLING, QUESTION, "C5 Bb4 Ab4 G4 E4 G4 E4-{9}, | Eb4 F4 G4 A4 F4--,"),
          ("root-third", FALLING, TWO_NOTES, "C4- Eb4 C4 E4- C4- | F4- A4- F4--,"),
          ("arpeggio-in-rhythm", MAJOR, RHYTHM, "C4- C4 Eb4 G4- B4- | F4 F4 A4- C5 C5 E5-,"),
          ("broken-arpeggio", FALLING, BROKEN, "C5 G4 Eb4 Bb4 G4 C5 Bb4 E4 | F4 C5 A4 Eb5 F4--,"),
          ("scale", MAJOR, SCALE, "C4 D4 Eb4 F4 G4 A4 B4 C5 | F4 G4 A4 B4 C5 D5 E5-,"),
          ("turning-scale", FALLING, TURNING, "C4 Db4 E4 G4 E4! D4 F4 G4 | A4 C5 D5 A4! F4--,"),
          ("one-line", FALLING, ONE_LINE, "C5 Bb4 Ab4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
          ("guide-tones", FALLING, GUIDES, "E4--{0} Ab4 E4 G4 F4 | Eb4----{0},"),
          ("cells", FALLING, CELLS, "C4 Db4 E4 G4 G4 E4 D4 C4 | F4 G4 A4 C5 A4 G4 F4-,"),
          ("motif", FALLING, FIGURE, "C4- Db4{1} E4{1} G4--{1} | F4- G4{1} A4{1} C5--{1},"),
          ("call-and-response", FALLING, CALL, "C5 Bb4 Ab4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,"),
      )),
)  # fmt: skip


FOR_ALL = (*EVERY_STEP, BREATHES, BREATHES_IN_RESTS)


def _name(example: Example) -> str:
    return f"{example.step}-{example.rule}"


def broken(example: Example, line: str) -> list[str]:
    """The rules that a line breaks in the place of the example."""
    etude, slots = typed(example.step, example.chart, line, tempo_bpm=example.tempo_bpm)
    return [breach.rule for breach in breaches(etude, slots)]


@pytest.mark.sampled
@pytest.mark.parametrize("example", EXAMPLES, ids=_name)
def test_a_good_line_keeps_every_rule(example: Example) -> None:
    assert broken(example, example.good) == []


@pytest.mark.sampled
@pytest.mark.parametrize("example", EXAMPLES, ids=_name)
def test_a_bad_line_is_told_the_rule_it_breaks(example: Example) -> None:
    assert example.rule in broken(example, example.bad)


def test_every_rule_has_a_line_that_breaks_it() -> None:
    shown = {(example.step, example.rule) for example in EXAMPLES}
    of_steps = {(step.name, rule.text) for step in STEPS for rule in step.rules}
    assert of_steps - shown == set()
    of_lines = {rule.text for rule in FOR_ALL if rule is not ENDS_AT_HOME}  # that one: see endings
    assert of_lines <= {rule for _, rule in shown}
    known = {text for _, text in of_steps} | {rule.text for rule in FOR_ALL}
    assert {rule for _, rule in shown} <= known


def test_a_gap_and_an_overlap_do_not_add_up() -> None:
    etude, slots = typed("arpeggio", MAJOR, ARPEGGIO)
    for beats in (Fraction(1, 4), Fraction(3, 4)):
        notes = (etude.notes[0]._replace(beats=beats), *etude.notes[1:])
        found = breaches(replace(etude, notes=notes), slots)
        assert ("the bars add up", etude.notes[1]) in [(each.rule, each.note) for each in found]


def test_a_line_that_starts_late_does_not_add_up() -> None:
    etude, slots = typed("arpeggio", MAJOR, ARPEGGIO)
    found = breaches(replace(etude, notes=etude.notes[1:]), slots[1:])
    assert "the bars add up" in [each.rule for each in found]


def test_a_breach_shows_the_note() -> None:
    example = next(each for each in EXAMPLES if each.rule == "a chord tone on every strong beat")
    etude, slots = typed("one-line", example.chart, example.bad)
    found = [each.note for each in breaches(etude, slots) if each.rule == example.rule]
    assert [str(note.pitch) for note in found] == ["F4"]


def test_a_rest_cuts_the_line_for_every_local_rule() -> None:
    """A leap over a rest is no leap, and three equal notes with a rest are not in a row."""
    chart = "key: F\n| C7 . . N.C. | C7 |"
    line = "C5 Bb4 G4 E4 G4 C5 r- | C4 E4 G4 Bb4 G4 E4 C4-,"
    etude, slots = typed("arpeggio", chart, line)
    assert "a leap larger than a fifth turns back" not in [
        each.rule for each in breaches(etude, slots)
    ]


def test_players_without_breath_need_no_breath() -> None:
    line = "C4 E4 G4 B4 G4 E4 C4- | F4 A4 C5 E5 C5 A4 F4-"
    assert breaches(*typed("arpeggio", MAJOR, line, instrument="piano")) == []


def test_in_a_quick_change_the_direction_may_turn() -> None:
    """A chord shorter than two beats is only passed through."""
    chart = "key: F\n| C7 . . F7 | C7 |"
    line = "C5 Bb4 A4 G4 E4 G4 F4 A4 | G4 E4 D4 G4 C5--,"
    assert "the direction goes on across the change" not in [
        each.rule for each in breaches(*typed("one-line", chart, line))
    ]


LOCAL = {
    (step.name, rule.text): rule
    for step in STEPS
    for rule in step.every_rule
    if isinstance(rule, LocalRule)
}


@pytest.mark.slow
@given(etude_charts(), briefs(), st.sampled_from(sorted(LOCAL)), st.data())
@settings(max_examples=80)
def test_a_rule_says_the_same_of_all_notes_at_once_and_of_three(
    chart: Chart, brief: Brief, which: tuple[str, str], data: st.DataObject
) -> None:
    """The search's mask and the check are one function; both uses agree."""
    rule = LOCAL[which]
    analysis = analyse(chart, level=brief.level)
    slots = line_slots(analysis, brief, chord_palettes(analysis, brief))
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
    for rule in (rule for step in STEPS for rule in step.every_rule):
        assert isinstance(rule, LineRule | LocalRule)
        assert rule.text == rule.text.strip(" .")
        assert rule.text[0].islower()
    assert len({rule.text for rule in FOR_ALL}) == len(EVERY_STEP) + 1  # one for breathing
