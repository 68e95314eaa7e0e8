"""What does each chord of a chart cost in each key, by itself and for as long as it lasts?

The table is made once for a chart: its home key and the key of each chord are read from it.

Source: common practice, no source.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from operator import add
from typing import NamedTuple

from halfstep.harmony.key_costs import (
    CandidateKeys,
    ChordNotes,
    Row,
    blues_keys,
    chord_notes,
    key_costs,
    keys_with,
)
from halfstep.progression.chart import Span
from halfstep.progression.key import Key
from halfstep.progression.symbol import ChordSymbol

LONG, LONG_BEATS = 2.0, 4.0
"""A chord of more beats than the second weighs more, up to the first of them times as much:
there is time to hear what is outside the key."""
MOST = 3.0
"""The most that a chord costs by its length, less than to leave a key for it and come back."""
SECTION_BARS = 8
CLOSES = -0.5
"""For the tonic as the last chord of a section."""


class KeyTable(NamedTuple):
    """The chords of a chart and what they cost in each key.

    Attributes
    ----------
    spans : tuple of Span
        At least one.
    chords : tuple of ChordNotes
        One for each span.
    offered : CandidateKeys
    blues : tuple of bool
        For each key whether the chords make a blues in it.
    costs, weighed : tuple of Row
        What each chord costs in each key: by itself, and for as long as it lasts, with what
        it is worth to end a section.
    """

    spans: tuple[Span, ...]
    chords: tuple[ChordNotes, ...]
    offered: CandidateKeys
    blues: tuple[bool, ...]
    costs: tuple[Row, ...]
    weighed: tuple[Row, ...]

    def at_home(self, home: Key) -> "KeyTable":
        """The table for a home key: a blues is one in that key and in no other."""
        offered = keys_with(home)
        if offered is not self.offered:
            return key_table(self.spans, home=home)
        pairs = zip(self.blues, offered.keys, strict=True)
        blues = tuple([is_blues and key == home for is_blues, key in pairs])
        return self if blues == self.blues else _table(self.spans, offered, blues)


def key_table(
    spans: Sequence[Span], *, home: Key | None = None, candidate_keys: CandidateKeys | None = None
) -> KeyTable:
    """What the chords of a chart cost in each key.

    Parameters
    ----------
    spans : sequence of Span
        At least one.
    home : Key, optional
        Where it is known, a blues is one in that key and in no other.
    candidate_keys : CandidateKeys, optional
        All thirty keys, and the home key in its mode, unless given.
    """
    offered = candidate_keys or keys_with(home)
    blues = blues_keys([span.symbol for span in spans], offered, home=home)
    return _table(spans, offered, blues)


def _table(spans: Sequence[Span], offered: CandidateKeys, blues: tuple[bool, ...]) -> KeyTable:
    symbols = [span.symbol for span in spans]
    costs = key_costs(symbols, offered, blues)
    weighed = map(_weighed, costs, [float(span.beats) for span in spans])
    return KeyTable(
        spans=tuple(spans),
        chords=tuple(map(chord_notes, symbols)),
        offered=offered,
        blues=blues,
        costs=tuple(costs),
        weighed=tuple(_closed(weighed, spans, offered)),
    )


def _weighed(row: Row, length_beats: float) -> Row:
    """The row of a chord with what is outside a key, by its length."""
    if length_beats <= LONG_BEATS:
        return row
    weight = min(length_beats / LONG_BEATS, LONG)
    return tuple([max(cost, min(cost * weight, MOST)) for cost in row])


def _closed(rows: Iterator[Row], spans: Sequence[Span], offered: CandidateKeys) -> Iterator[Row]:
    """The rows with what it is worth to end a section on the tonic."""
    for row, span, following in zip(rows, spans, (*spans[1:], None), strict=True):
        if following is None or begins(following, SECTION_BARS):
            yield tuple(map(add, row, _closing(span.symbol, offered)))
        else:
            yield row


@lru_cache(maxsize=1024)
def _closing(symbol: ChordSymbol, offered: CandidateKeys) -> Row:
    chord = chord_notes(symbol)
    return tuple([CLOSES * chord.rests_in(key) for key in offered.notes])


def begins(span: Span, bars: int) -> bool:
    """True for a chord with which a group of so many bars begins."""
    return span.at == 0 and (span.bar - 1) % bars == 0
