"""Two bars that ask, on a chord tone but not the root; two bars for an answer.

The last answer is written out and ends on the root.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfstep.etude.calls import ASKS, CALL_BARS, asks, call_bars, off_root
from halfstep.etude.costs import (
    NEAR_MIDDLE,
    NEAR_REACH,
    Cost,
    new_note_first,
    of_notes,
    pauses,
    returning,
    stepwise,
    tells,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.layouts import in_rhythm, tried_again
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.played_back import (
    clashes_back,
    echo_notices,
    with_echoes,
)
from halfstep.etude.rules import (
    IN_SCALE,
    MOVES_IN_SCALE,
    NOT_THREE_EQUAL,
    LocalRule,
    is_last,
    palette_at,
)
from halfstep.etude.sentences import PartLine, answer_bars
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream


def question_layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """Two bars that ask, two that are left; the last answer is written."""
    bars = len(analysis.chart.form)
    calls = call_bars(bars)
    asking = frozenset(n for n in calls if n + 1 not in calls and n < bars)
    played = asked_bars(analysis)
    slots = in_rhythm(analysis, brief, palettes, rng, played, closing=asking)
    ends = {start + bar.beats for bar, start in analysis.chart.placed() if bar.number in asking}
    slots = [_asking(slot, brief) if slot.onset + slot.beats in ends else slot for slot in slots]
    return with_echoes(slots, analysis, played)


def asked_bars(analysis: Analysis) -> set[int]:
    """The bars that are written: the questions, and the last answer."""
    bars = len(analysis.chart.form)
    return call_bars(bars) | {*range(max(1, bars - CALL_BARS + 1), bars + 1)}


def _asking(slot: Slot, brief: Brief) -> Slot:
    """The end of a question, if it sounds."""
    breath = brief.instrument.breath
    return slot._replace(motif=ASKS, closes=True, breath=breath) if slot.palette else slot


def on_root(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The root, where the player has it."""
    palette = palette_at(slots[0])
    root = palette.open & (np.arange(128) % 12 == palette.root_class)
    return (root if root.any() else palette.core)[midis[0]]


def question_open(line: PartLine) -> str:
    """What keeps a question open."""
    last = line.phrases()[0][-1]
    if not last.degree or last.degree.number == 1 or _is_home(line, last):
        return ""
    return (
        f"The first question stays open on {line.name(last)} in {line.place(last)}, "
        f"the {line.role(last)}."
    )


def answer_closes(line: PartLine) -> str:
    """Where the last answer comes home."""
    last = line.notes[-1]
    if not last.degree or last.degree.number != 1:
        return ""
    name, place = line.name(last), line.place(last)
    if _is_home(line, last):
        return f"The last answer comes home to {name} in {place}."
    return f"The last answer closes on {name} in {place}, the {line.role(last)}."


def _is_home(line: PartLine, note: EtudeNote) -> bool:
    home = line.etude.analysis.home.tonic
    return note.pitch is not None and note.pitch.name.pitch_class == home.pitch_class


STEP = Step(
    name="question",
    title="Question and answer",
    task="Two bars ask, two bars answer. Hear how the question stays open and "
    "the answer comes home.",
    writing=NoteByNote(
        layouts=tried_again(question_layout),
        costs=(
            of_notes(2, stepwise, 0.8),
            Cost(1, tells, 0.5),
            Cost(1, new_note_first, 0.6),
            Cost(1, pauses, 0.6),
            of_notes(3, returning, 0.8),
            Cost(1, clashes_back, 30.0),  # far above all else
        ),
        contour=NEAR_MIDDLE,
        reach=NEAR_REACH,
        notices=echo_notices(asked_bars),
    ),
    rules=(
        IN_SCALE,
        MOVES_IN_SCALE,
        NOT_THREE_EQUAL,
        LocalRule("a question ends on a chord tone that is not the root", 1, off_root, asks),
        LocalRule("the last answer ends on the root", 1, on_root, is_last),
    ),
    sentences=(question_open, answer_closes, answer_bars),
    stream=98,
)
