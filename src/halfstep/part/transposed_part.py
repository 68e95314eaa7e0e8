"""A lesson in one player's written pitch.

A part is moved by one interval, so that spelling keeps its meaning. Where that would give a
signature of more than six accidentals, or six sharps, the whole part turns to the other
spelling; a region or a chord that would be hard to read turns by itself, with its notes
(`halfstep.part.spelling`).

On the staff a note with a double sign is printed as its practical neighbour (A for B𝄫);
tables keep the proper spelling.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from halfstep.harmony.analysis import Analysis
from halfstep.harmony.changes import Change, Motion, change_between, guide_tones
from halfstep.harmony.function import ChordPlace
from halfstep.harmony.scale_choice import Reason
from halfstep.harmony.scales import Scale
from halfstep.instruments import Instrument
from halfstep.part.approach_spelling import approach_pitches
from halfstep.part.spelling import KeyedChord, Side, near_key, sides, turns_near
from halfstep.part.transposition import interval_for
from halfstep.part.written_music import page_turns
from halfstep.pitch import UNISON, Interval, Name, Pitch, practical, practical_pitch, turn_of
from halfstep.progression.chart import Bar
from halfstep.progression.key import Key
from halfstep.progression.symbol import ChordSymbol

if TYPE_CHECKING:
    from halfstep.etude.etude_notes import EtudeNote
    from halfstep.harmony.key_signatures import Signature


@dataclass(frozen=True, slots=True)
class Part:
    """How one player's part is written.

    Attributes
    ----------
    instrument : Instrument
    key : Key
        Written home key.
    interval : Interval
        From concert up to written, the turn of the whole part included.
    analysis : Analysis
        In concert pitch.
    turns : tuple of int
        For each chord the diminished seconds that it is turned by besides.
    local_keys : tuple of Key
        The written local key of each chord.
    approaches : dict of Fraction to Pitch
        In the part of a line: the pitches of notes that are spelled by their goal, by onset.
    strict : bool
        Chord tones and scales keep a letter for each degree, double signs too; without it
        they are named as they are read at sight.
    """

    instrument: Instrument
    key: Key
    interval: Interval
    analysis: Analysis
    turns: tuple[int, ...]
    local_keys: tuple[Key, ...]
    approaches: dict[Fraction, Pitch] = field(default_factory=dict, compare=False)
    strict: bool = False

    def interval_at(self, chord: int) -> Interval:
        """From concert up to written for one chord of the analysis."""
        return self.interval + turn_of(self.turns[chord])

    def signature(self, signature: Signature) -> Key:
        """The written major key of a signature."""
        return near_key(signature.key + self.interval, self.key)

    def place(self, chord: int) -> ChordPlace:
        """A chord between its neighbours, as the player reads them."""
        place, following = self.analysis.chords[chord].function.place, (chord + 1) % len(self.turns)
        return place._replace(
            symbol=self.symbol(chord),
            before=self.symbol(chord - 1),
            after=self.symbol(following),
            key=self.local_keys[chord],
            key_before=self.local_keys[chord - 1] if place.key_before else None,
            key_after=self.local_keys[following] if place.key_after else None,
        )

    def role_in_words(self, chord: int) -> str:
        """What a chord does here, in written names."""
        return self.analysis.chords[chord].function._replace(place=self.place(chord)).sentence()

    def in_words(self, reason: Reason, chord: int) -> str:
        """A reason for what is said of a chord, in written names."""
        return reason._replace(place=self.place(chord)).sentence()

    def symbol(self, chord: int) -> ChordSymbol:
        """The written symbol of a chord, with the writer's own look where nothing moves."""
        symbol = self.analysis.chords[chord].span.symbol
        interval = self.interval_at(chord)
        return symbol if interval == UNISON else symbol.moved(interval)

    def symbol_elsewhere(self, symbol: ChordSymbol) -> ChordSymbol:
        """The written symbol of a chord that may stand in another chart of the same key."""
        chords = enumerate(self.analysis.chords)
        place = next((n for n, chord in chords if chord.span.symbol == symbol), None)
        if place is not None or self.interval.fifths == 0:
            return symbol if place is None else self.symbol(place)
        turns = turns_near(symbol.root + self.interval, self.key)
        return symbol.moved(self.interval + turn_of(turns))

    def scale(self, chord: int) -> Scale:
        """The written scale of a chord."""
        scale = self.analysis.chords[chord].scale.moved(self.interval_at(chord))
        return scale if self.strict else scale.readable

    def blues_scales(self) -> tuple[Scale, ...]:
        """The written scales that colour a blues as a whole; none over other charts."""
        scales = (scale.moved(self.interval) for scale in self.analysis.blues_scales)
        return tuple(scales if self.strict else (scale.readable for scale in scales))

    def names(self, chord: int) -> tuple[Name, ...]:
        """The written tones of a chord."""
        interval = self.interval_at(chord)
        names = (tone.name + interval for tone in self.analysis.chords[chord].tones)
        return tuple(names if self.strict else map(practical, names))

    def change(self, chord: int) -> Change | None:
        """What changes into a chord, in written names."""
        if self.analysis.changing_into(chord) is None:
            return None
        return self.change_from((chord - 1) % len(self.analysis.chords), chord)

    def change_from(self, before: int, chord: int) -> Change | None:
        """What changes where a chord follows another one, in written names; None in silence."""
        if any(self.analysis.chords[place].silent for place in (before, chord)):
            return None
        return change_between(self.scale(before), self.scale(chord))

    def guides(self, chord: int) -> tuple[Name, ...]:
        """The written guide tones of a chord; none in silence."""
        analysed = self.analysis.chords[chord]
        interval = self.interval_at(chord)
        return () if analysed.silent else tuple(tone.name + interval for tone in analysed.guides)

    def guide_tones(self, chord: int) -> tuple[Motion, ...]:
        """How the guide tones of the chord before go to those of a chord, in written names."""
        return self.guide_tones_from((chord - 1) % len(self.analysis.chords), chord)

    def guide_tones_from(self, before: int, chord: int) -> tuple[Motion, ...]:
        """How the guide tones of one chord go to those of another one, in written names."""
        return guide_tones(self.guides(before), self.guides(chord))

    def pitch(self, note: EtudeNote) -> Pitch | None:
        """What the player reads for a note; None for a rest."""
        if note.pitch is None:
            return None
        plain = practical_pitch(note.pitch + self.interval_at(note.chord))
        return self.approaches.get(note.onset, plain)

    def below(self, note: EtudeNote) -> tuple[Pitch, ...]:
        """What the player reads on the stem of a note below it, the highest first."""
        interval = self.interval_at(note.chord)
        return tuple(practical_pitch(head + interval) for head in note.below)

    def of_line(self, notes: Sequence[EtudeNote]) -> Part:
        """The part in which the approach notes of a line are spelled by their goals."""
        plain = replace(self, approaches={}, strict=True)
        return replace(self, approaches=approach_pitches(notes, plain.pitch, plain.names))


def part_for(analysis: Analysis, instrument: Instrument) -> Part:
    """The part of an instrument: interval, written key, and the side of each chord."""
    interval = interval_for(analysis.home, instrument)
    keyed = [KeyedChord(chord.span.symbol, chord.key) for chord in analysis.chords]
    chosen = sides(keyed, analysis.home, interval)
    return Part(
        instrument,
        key=analysis.home + interval,
        interval=interval,
        analysis=analysis,
        turns=tuple(_page_turns(analysis, chosen)),
        local_keys=tuple(side.key for side in chosen),
    )


def _page_turns(analysis: Analysis, chosen: Sequence[Side]) -> Iterator[int]:
    """The turn of each chord as its page has it, the same whenever a bar is played."""
    spans = [chord.span for chord in analysis.chords]
    page = page_turns(analysis.chart, spans, chosen)
    bars = {bar.number: (bar.written, start) for bar, start in analysis.chart.placed()}
    for span, side in zip(spans, chosen, strict=True):
        number, start = bars[span.bar]
        place = number, span.start - start, span.symbol.root
        yield page.get(place, side.turns)


def chords_in_bars(
    analysis: Analysis,
) -> Iterator[tuple[Bar, Fraction, list[tuple[Fraction, int]]]]:
    """Each bar of the form, its start, and the symbols written in it by chord index."""
    starts = [analysed.span.start for analysed in analysis.chords]
    for bar, start in analysis.chart.placed():
        if bar.number >= 1:
            written = [(c.at, bisect_right(starts, start + c.at) - 1) for c in bar.chords]
            yield bar, start, written
