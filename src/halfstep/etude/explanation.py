"""What should the player know about this etude? A few sentences made from its notes and marks.

Each step has sentences of its own, the most telling first; where fewer than two of them find
something to say of these notes, those that hold for any line fill in. What is played the last
time only is said last.
"""

from __future__ import annotations

from itertools import islice

from halfstep.etude.sentences import ANY, PartLine, WrittenPart, the_last_time
from halfstep.etude.touch_words import touched
from halfstep.etude.written_etude import ExerciseLine

FEWEST, MOST = 2, 3
"""Sentences on the notes that are looked for; those of a step may be more, with that of an ending
three."""


def explained(etude: ExerciseLine, part: WrittenPart) -> tuple[str, ...]:
    """Two to four sentences for the player; none for a line of rests.

    Parameters
    ----------
    etude : ExerciseLine
    part : WrittenPart
        The part it is read from.
    """
    bars = tuple((bar, start) for bar, start in etude.analysis.chart.placed())
    notes = tuple(note for note in etude.notes if note.pitch)
    if not notes:
        return ()
    line = PartLine(etude, part.of_line(etude.notes), notes, bars)
    sentences = list(filter(None, (sentence(line) for sentence in etude.step.sentences)))
    more = (text for sentence in ANY if (text := sentence(line)) and text not in sentences)
    sentences += islice(more, max(0, FEWEST - len(sentences)))
    last = list(filter(None, [the_last_time(line)]))
    touch = filter(None, [touched(line)])
    return (*sentences[: MOST - len(last)], *last, *touch)
