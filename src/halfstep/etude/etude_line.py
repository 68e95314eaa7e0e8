"""What is written: a line of notes over a chart for a brief, and what its teacher should know."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.written_ending import WrittenEnding
from halfstep.harmony.analysis import Analysis
from halfstep.progression.symbol import ChordSymbol


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the teacher should know about one chord.

    ``text`` has a place for the chord's symbol, so that each part can name its own.
    """

    chord: int
    text: str

    def sentence(self, symbol: ChordSymbol) -> str:
        """The sentence about that symbol."""
        return self.text.format(chord=symbol)


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
    """

    analysis: Analysis
    brief: Brief
    notes: tuple[EtudeNote, ...]
    ending: WrittenEnding | None = None

    @property
    def every_note(self) -> tuple[EtudeNote, ...]:
        """The notes of the form, and the one that is held at the end."""
        return (*self.notes, self.ending.note) if self.ending else self.notes
