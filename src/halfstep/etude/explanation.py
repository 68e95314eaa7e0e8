"""What should the player know about this etude? Two or three sentences made from its notes.

Each step has sentences of its own, the most telling first; where fewer than two of them find
something to say of these notes, those that hold for any line fill in.
"""

from __future__ import annotations

from itertools import islice

from halfstep.etude.sentences import ANY, PartLine, PartReader
from halfstep.etude.written_etude import Etude


def explained(etude: Etude, part: PartReader) -> tuple[str, ...]:
    """Two or three sentences for the player; none for a line of rests.

    Parameters
    ----------
    etude : EtudeLine
    part : PartReader
        The part it is read from.
    """
    bars = tuple((bar, start) for bar, start in etude.analysis.chart.placed())
    notes = tuple(note for note in etude.notes if note.pitch)
    if not notes:
        return ()
    line = PartLine(etude, part, notes, bars)
    said = [told for sentence in etude.step.sentences if (told := sentence(line))]
    others = (sentence(line) for sentence in ANY)
    said += islice((told for told in others if told and told not in said), max(0, 2 - len(said)))
    return tuple(said)
