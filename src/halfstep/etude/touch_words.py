"""What should its player know of how a line is touched? One sentence, made from its marks.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice

from halfstep.etude.articulation import Articulation
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words, capital
from halfstep.etude.sentences import EXAMPLES, PartLine
from halfstep.etude.touches import Touch, line_articulation, touches
from halfstep.score import Mark

_SLURS = {
    Articulation.SWUNG: "tongue the off-beat notes and slur them into the beat under a bow",
    Articulation.EVEN: "slur what is under one bow, and tongue its first note",
    Articulation.LEGATO: "play as one breath of sound what is under one bow",
}


def touched(line: PartLine) -> str:
    """How a line is tongued, and where its other marks stand; empty where it has none."""
    articulation = line_articulation(line.etude)
    if articulation is Articulation.PLAIN:
        return ""
    every = line.etude.every_note
    notes = [(note, touch) for note, touch in zip(every, touches(line.etude), strict=True)]
    slurs = any(Mark.SLUR in touch.marks for _, touch in notes)
    clauses = [_SLURS[articulation] if slurs else "tongue every note", *_others(line, notes)]
    return f"{capital('; '.join(clauses))}."


def _others(line: PartLine, notes: Sequence[tuple[EtudeNote, Touch]]) -> Iterator[str]:
    """Accents, ghost notes, scoops and falls, as far as there are any."""
    marked = {
        mark: [note for note, touch in notes if mark in touch.marks and note.end > 0]
        for mark in (Mark.ACCENT, Mark.GHOST, Mark.SCOOP, Mark.FALL)
    }
    if marked[Mark.ACCENT]:
        bars = list(dict.fromkeys(map(line.bar, marked[Mark.ACCENT])))
        such = ", as" if len(bars) > EXAMPLES else ""
        yield f"lean on the accents{such} in {bars_in_words(islice(bars, EXAMPLES))}"
    if marked[Mark.GHOST]:
        yield "what stands in parentheses is barely sounded"
    if marked[Mark.SCOOP]:
        yield f"scoop into the note in {bars_in_words(map(line.bar, marked[Mark.SCOOP]))}"
    if marked[Mark.FALL]:
        yield f"let the last note fall away in {bars_in_words(map(line.bar, marked[Mark.FALL]))}"
