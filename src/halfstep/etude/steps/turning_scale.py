"""Mostly steps, with turns and a few skips to chord tones.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from halfstep.etude.costs import (
    Cost,
    beyond_step,
    comes_to_rest,
    new_note_first,
    of_notes,
    pauses,
    recovering,
    returning,
    rooted,
    skipping,
    tells,
    turning,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words, capital, degree_word, listing, texts_in_bars
from halfstep.etude.layouts import stretches, tried_again
from halfstep.etude.line_rhythm import with_rhythm
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rules import (
    HIGH_POINT,
    IN_SCALE,
    MOVES_IN_SCALE,
    NOT_THREE_EQUAL,
    LineRule,
    LocalRule,
    at_change,
    sounding_stretches,
)
from halfstep.etude.sentences import EXAMPLES, PartLine, size_of_move, written_pitch
from halfstep.etude.slots import Slot, line_slots
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream
from halfstep.wording import joined_by_and

OFTEN = 1.2
"""How often eighths give way to another rhythm."""
LONGEST_RUN = 7
"""Notes in one direction before a turning line must have turned."""


def turning_line(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """A line in a rhythm for the level that must turn every three to six notes."""
    slots = with_rhythm(line_slots(analysis, brief, palettes), analysis, brief, rng, often=OFTEN)
    return with_turns(slots, rng)


def with_turns(slots: Sequence[Slot], rng: RandomStream) -> list[Slot]:
    """Choose where a turning line must have turned: every three to six notes."""
    marked = list(slots)
    for start, stop in stretches(slots):
        place = start + rng.integers(3, 7)
        while place < stop:
            marked[place] = marked[place]._replace(turn=True)
            place += rng.integers(3, 7)
    return marked


def turned(_slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """The line turned at the middle note."""
    first, second, third = midis
    return np.asarray((third - second) * (second - first) < 0)


def _to_turn(slots: Sequence[Slot]) -> bool:
    return slots[-1].turn


def keeps_turning(etude: EtudeLine) -> Iterator[EtudeNote]:
    """No more than seven notes run in one direction."""
    for stretch in sounding_stretches(etude):
        direction, run = 0, 1
        for (_, old), (note, new) in pairwise(stretch):
            now = int(np.sign(new.midi - old.midi))
            run = run + 1 if now == direction else 2
            direction = now
            if run > LONGEST_RUN:
                yield note


def skips(line: PartLine) -> str:
    """Where a line of steps leaps to a chord tone."""
    joined = line.joined()
    skipping_pairs = [both for both in joined if _is_skip(line, *both)]
    shown = [
        (f"{line.name(o)} to {line.name(n)}", line.bar(n)) for o, n in skipping_pairs[:EXAMPLES]
    ]
    if not shown:
        return ""
    skips = "the skips" if len(skipping_pairs) > 1 else "the skip"
    which = f"{skips} to see ahead" if len(skipping_pairs) == len(shown) else "the first skips"
    text = f"{which} {'are' if len(skipping_pairs) > 1 else 'is'} {listing(texts_in_bars(shown))}."
    return (
        f"Most of it is steps; {text}" if 2 * len(skipping_pairs) < len(joined) else capital(text)
    )


def _is_skip(line: PartLine, old: EtudeNote, new: EtudeNote) -> bool:
    """True for a third or more; an augmented second is a step of its scale."""
    letters = written_pitch(line, new).staff_step - written_pitch(line, old).staff_step
    return size_of_move(line, old, new) > 2 and abs(letters) > 1


def first_notes(line: PartLine) -> str:
    """Where chords are entered on another tone than the root."""
    firsts = [notes[0] for notes in line.by_chord()]
    by_word: dict[str, list[EtudeNote]] = {}
    for note in [n for n in firsts if n.degree and n.degree.number != 1][:EXAMPLES]:
        by_word.setdefault(degree_word(note.degree) if note.degree else "", []).append(note)
    texts = []
    for word, notes in by_word.items():
        symbols = list(dict.fromkeys(str(line.part.symbol(note.chord)) for note in notes))
        whose = "its" if len(symbols) == 1 else "their"
        texts.append(
            f"{joined_by_and(symbols)} in {bars_in_words(map(line.bar, notes))} on {whose} {word}"
        )
    return f"Not every chord starts on its root: {listing(texts)}." if texts else ""


STEP = Step(
    name="turning-scale",
    title="Turning scale",
    task="Mostly steps, with turns and a few skips to chord tones. It need not start on the root.",
    writing=NoteByNote(
        layouts=tried_again(turning_line),
        costs=(
            of_notes(2, skipping, 1.0),
            of_notes(2, beyond_step, 0.7, at_change),
            Cost(1, tells, 0.8),  # little: it is about moving
            Cost(1, new_note_first, 0.6),
            Cost(1, rooted, 0.9),  # no rule binds the strong beats
            Cost(1, pauses, 1.0),
            Cost(1, comes_to_rest, 1.0),
            of_notes(3, turning, 0.4),
            of_notes(3, returning, 1.0),
            of_notes(3, recovering, 0.3),  # in solos after 68 % of the leaps
        ),
    ),
    rules=(
        HIGH_POINT,
        IN_SCALE,
        NOT_THREE_EQUAL,
        MOVES_IN_SCALE,
        LocalRule("the line turns", 3, turned, _to_turn),
        LineRule("no more than seven notes in one direction", keeps_turning),
    ),
    sentences=(skips, first_notes),
)
