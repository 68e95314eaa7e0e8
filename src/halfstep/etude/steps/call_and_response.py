"""Two bars played, two bars left for the player, over the same changes.

A call asks: it ends on a held tone of its chord that is not the root. Only where the form
itself ends on a call may that one come home.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from halfstep.etude.calls import ASKS, asks, off_root
from halfstep.etude.costs import (
    Cost,
    leaping_twice,
    lingering,
    new_note_first,
    of_notes,
    pauses,
    returning,
    rooted,
    skipping,
    tells,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.layouts import in_rhythm, tried_again
from halfstep.etude.palette import Palette
from halfstep.etude.played_back import (
    calls_that_fit,
    clashes_back,
    echo_notices,
    with_echoes,
)
from halfstep.etude.rules import IN_SCALE, MOVES_IN_SCALE, NOT_THREE_EQUAL, LocalRule, chord_tone
from halfstep.etude.sentences import PartLine, answer_bars, highest, written_pitch
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream


def layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """Calls in a rhythm that varies, and rests for the answers."""
    calls = calls_that_fit(analysis)
    slots = in_rhythm(analysis, brief, palettes, rng, calls, whole_rests=True)
    slots = with_echoes(slots, analysis, calls)
    for place, (slot, after) in enumerate(pairwise(slots)):
        if slot.palette is not None and after.palette is None:
            slots[place] = slot._replace(motif=ASKS)
    return slots


def _ends_call(slots: Sequence[Slot]) -> bool:
    return slots[0].closes and not asks(slots)


def call_ends(line: PartLine) -> str:
    """The note an answer can begin from."""
    last = line.phrases()[0][-1]
    if not last.degree:
        return ""
    text = f"The first call ends on {line.name(last)}, the {line.role(last)}"
    return f"{text}: {_answer_from(line, last)}." if _answer_from(line, last) else f"{text}."


def _answer_from(line: PartLine, last: EtudeNote) -> str:
    """What to do with the end of a call in the answer; empty where nothing is near."""
    after = next(end for bar, start in line.bars if (end := start + bar.beats) >= last.end)
    chords = line.etude.analysis.chords
    spans = [(n, following) for n, following in enumerate(chords) if following.span.end > after]
    if not spans or spans[0][1].silent or not last.pitch:
        return ""
    chord, following = spans[0]
    if last.pitch.name.pitch_class in {name.pitch_class for name in following.scale.names}:
        return "keep it in your ear and begin your answer there"
    change = line.part.change(chord) if chord == last.chord + 1 else None
    for motion in (*change.half_steps, *change.steps) if change else ():
        if motion.old.pitch_class == written_pitch(line, last).name.pitch_class:
            symbol = line.part.symbol(chord)
            return f"over {symbol} it becomes {motion.new}, and your answer can begin there"
    return ""


STEP = Step(
    name="call-and-response",
    title="Call and response",
    task="Play two bars, then answer them with two of your own over the same changes.",
    writing=NoteByNote(
        layouts=tried_again(layout),
        costs=(
            of_notes(2, skipping, 0.8),
            Cost(1, tells, 1.9),
            Cost(1, rooted, 0.6),
            Cost(1, new_note_first, 1.0),
            Cost(1, pauses, 1.0),
            Cost(1, lingering, 2.0),
            of_notes(3, returning, 0.8),
            of_notes(3, leaping_twice, 0.8),
            Cost(1, clashes_back, 30.0),  # far above all else
        ),
        notices=echo_notices(calls_that_fit),
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        MOVES_IN_SCALE,
        LocalRule("a call that is not answered ends on a chord tone", 1, chord_tone, _ends_call),
        LocalRule("a call that is answered does not end on the root", 1, off_root, asks),
    ),
    sentences=(answer_bars, call_ends, highest),
)
