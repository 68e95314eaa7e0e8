"""A written ending: a bar at home after the last bar of the form, played the last time only.

The chart does not have it, and no chorus does: it stands beside the notes of a line, and
whoever writes, draws or plays the line puts it behind the last chorus.
"""

from fractions import Fraction
from typing import NamedTuple

from halfstep.etude.etude_notes import EtudeNote
from halfstep.progression.chart import Bar
from halfstep.progression.symbol import ChordSymbol


class WrittenEnding(NamedTuple):
    """The bar at home.

    Attributes
    ----------
    bar : Bar
        Its number is the one after the last bar of the form; it holds the home chord.
    start : Fraction
        Where it begins: the beats of the form.
    note : EtudeNote
        The closing note, held for the bar; its chord is the first that sounds in the form.
    """

    bar: Bar
    start: Fraction
    note: EtudeNote

    @property
    def symbol(self) -> ChordSymbol:
        """The home chord, in concert pitch."""
        return self.bar.chords[0].symbol
