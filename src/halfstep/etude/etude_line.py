"""What is written: a line of notes over a chart for a brief, and what its teacher should know."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.written_ending import WrittenEnding
from halfstep.harmony.analysis import Analysis
from halfstep.progression.symbol import ChordSymbol


class Notice(NamedTuple):
    """Something the teacher should know about a chord, or about several.

    ``text`` has a place for the chord's symbol, and numbered ones for those of ``chords``, so
    that each part can name its own.
    """

    chord: int
    text: str
    chords: tuple[int, ...] = ()

    def sentence(self, symbol: Callable[[int], ChordSymbol]) -> str:
        """The sentence with each chord's symbol, which is looked up by its place."""
        return self.text.format(*map(symbol, self.chords), chord=symbol(self.chord))


def notice_of_each(lead: str, texts: Sequence[tuple[int, str]]) -> Notice:
    """What holds for several chords, said once: ``lead: C7 in bar 2 on its 3rd, F7 …``.

    Parameters
    ----------
    lead : str
    texts : sequence of (int, str)
        Each chord, and what is said of it, with a place ``{}`` for its symbol.
    """
    numbered = (text.replace("{}", f"{{{n}}}") for n, (_, text) in enumerate(texts))
    chords = tuple(chord for chord, _ in texts)
    return Notice(chords[0], f"{lead}: {', '.join(numbered)}", chords)


@dataclass(frozen=True, slots=True)
class EtudeLine:
    """Notes over a chart, whatever step asks for them: what rules and sentences look at.

    Attributes
    ----------
    analysis : Analysis
    brief : Brief
    notes : tuple of EtudeNote
        In order, without gaps, over the whole form.
    ending : WrittenEnding or None
        What is played after them the last time; None where the form is the whole.
    pickup : tuple of EtudeNote
        What is played before them the first time, without gaps.
    """

    analysis: Analysis
    brief: Brief
    notes: tuple[EtudeNote, ...]
    ending: WrittenEnding | None = None
    pickup: tuple[EtudeNote, ...] = ()

    @property
    def every_note(self) -> tuple[EtudeNote, ...]:
        """The notes of the form, those before it, and the one that is held at the end."""
        notes = (*self.pickup, *self.notes)
        return (*notes, self.ending.note) if self.ending else notes
