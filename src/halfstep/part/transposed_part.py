"""A lesson in one player's written pitch.

A part is moved as a whole by one interval, so that spelling keeps its meaning. Where
that would give a signature of more than six accidentals, or six sharps, the whole part
turns to the other spelling; a single chord whose root would need a double sign turns by
itself, with its notes.

On the staff a note with a double sign is printed as its practical neighbour (A for B𝄫);
tables keep the proper spelling.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from halfstep.harmony.analysis import Analysis
from halfstep.harmony.changes import Change, Motion, change_between, guide_tones
from halfstep.harmony.key_signatures import Signature
from halfstep.harmony.scales import Scale
from halfstep.instruments import Instrument
from halfstep.part.transposition import interval_for, turn_for, turn_of
from halfstep.pitch import UNISON, Interval, Name, Pitch, practical_pitch
from halfstep.progression.chart import Bar
from halfstep.progression.key import Key
from halfstep.progression.symbol import ChordSymbol

if TYPE_CHECKING:
    from halfstep.etude.etude_notes import EtudeNote

_TOO_MANY = 7
"""Accidentals of a local key that a part turns away from."""


@dataclass(frozen=True, slots=True)
class Part:
    """How one player's part is written.

    Attributes
    ----------
    instrument : Instrument
    key : Key
        Written home key.
    interval : Interval
        From concert up to written, the turn of spelling included.
    analysis : Analysis
        In concert pitch.
    """

    instrument: Instrument
    key: Key
    interval: Interval
    analysis: Analysis

    def interval_at(self, chord: int) -> Interval:
        """From concert up to written for one chord of the analysis.

        A chord turns by itself where its root would have a double sign, or where its local
        key would need seven accidentals or more.
        """
        analysed = self.analysis.chords[chord]
        root = analysed.span.symbol.root + self.interval
        turn = turn_for(root)
        if turn == UNISON and (away := self._turn_of_key(analysed.key)) != UNISON:
            turn = away if abs((root + away).alteration) <= 1 else UNISON
        return self.interval + turn

    def _turn_of_key(self, key: Key) -> Interval:
        """The turn that frees a local key, not the part's own, of seven accidentals."""
        fifths = (key + self.interval).fifths
        if abs(fifths) < _TOO_MANY or key.fifths == self.analysis.home.fifths:
            return UNISON
        return turn_of(1 if fifths > 0 else -1)

    def local_key(self, chord: int) -> Key:
        """The written local key of a chord."""
        key = self.analysis.chords[chord].key
        return (key + self.interval) + self._turn_of_key(key)

    def signature(self, signature: Signature) -> Key:
        """The written major key of a signature."""
        return (signature.key + self.interval) + self._turn_of_key(signature.key)

    def symbol(self, chord: int) -> ChordSymbol:
        """The written symbol of a chord, with the writer's own look where nothing moves."""
        symbol = self.analysis.chords[chord].span.symbol
        interval = self.interval_at(chord)
        return symbol if interval == Interval(0, 0) else symbol.moved(interval)

    def scale(self, chord: int) -> Scale:
        """The written scale of a chord."""
        return self.analysis.chords[chord].scale.moved(self.interval_at(chord))

    def names(self, chord: int) -> tuple[Name, ...]:
        """The written tones of a chord, properly spelled."""
        interval = self.interval_at(chord)
        return tuple(tone.name + interval for tone in self.analysis.chords[chord].tones)

    def change(self, chord: int) -> Change | None:
        """What changes into a chord, in written names."""
        if self.analysis.changing_into(chord) is None:
            return None
        before = (chord - 1) % len(self.analysis.chords)
        return change_between(self.scale(before), self.scale(chord))

    def guides(self, chord: int) -> tuple[Name, ...]:
        """The written guide tones of a chord; none in silence."""
        analysed = self.analysis.chords[chord]
        interval = self.interval_at(chord)
        return () if analysed.silent else tuple(tone.name + interval for tone in analysed.guides)

    def guide_tones(self, chord: int) -> tuple[Motion, ...]:
        """How the guide tones of the chord before go to those of a chord, in written names."""
        before = (chord - 1) % len(self.analysis.chords)
        return guide_tones(self.guides(before), self.guides(chord))

    def pitch(self, note: EtudeNote) -> Pitch | None:
        """What the player reads for a note; None for a rest."""
        if note.pitch is None:
            return None
        return practical_pitch(note.pitch + self.interval_at(note.chord))


def part_for(analysis: Analysis, instrument: Instrument) -> Part:
    """The part of an instrument: interval and written key."""
    interval = interval_for(analysis.home, instrument)
    key = analysis.home + interval
    return Part(instrument, key, interval, analysis)


def chords_in_bars(
    analysis: Analysis,
) -> Iterator[tuple[Bar, Fraction, list[tuple[Fraction, int]]]]:
    """Each bar of the form, its start, and the symbols written in it by chord index."""
    starts = [analysed.span.start for analysed in analysis.chords]
    for bar, start in analysis.chart.placed():
        if bar.number >= 1:
            written = [(c.at, bisect_right(starts, start + c.at) - 1) for c in bar.chords]
            yield bar, start, written
