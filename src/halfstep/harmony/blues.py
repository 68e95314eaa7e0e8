"""Is it a blues? And which scales colour one?

In a major blues I and IV carry a minor seventh and rest all the same; a minor blues stays
on i, iv and what leads to V. The blues scales of the home key lie over either: their notes
are played against any of its chords, the chord tones first.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from halfstep.harmony.chord_in_key import degree_in, is_dominant, is_minor, is_tonic
from halfstep.harmony.scales import Scale, scale_over
from halfstep.progression.chart import Span
from halfstep.progression.key import Key
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

BLUES_BARS = frozenset({8, 12, 16, 24})
"""Lengths of the form in common use."""
AT_HOME_SHARE = 0.7
"""Of its time a minor blues spends at least so much on i, iv and V."""
_HOME_PLACES = frozenset({0, 5, 7})


def blues_tonics(symbols: Sequence[ChordSymbol]) -> frozenset[int]:
    """The pitch classes on which the chords make a major blues.

    I and IV are dominant sevenths, I rests so more often than without its seventh, and the
    chart begins on I7 or falls back to it from IV7; one that begins on what would be IV7
    does so by way of ♯iv°.
    """
    sounding = [symbol for symbol in symbols if not symbol.silent]
    sevenths = [symbol.root.pitch_class for symbol in sounding if is_dominant(symbol)]
    tonics = {root for root in sevenths if (root + 5) % 12 in sevenths}
    return frozenset(root for root in tonics if _is_home_of_blues(root, sounding))


def _is_home_of_blues(root: int, symbols: Sequence[ChordSymbol]) -> bool:
    on_root = [symbol for symbol in symbols if symbol.root.pitch_class == root]
    sevenths = sum(map(is_dominant, on_root))
    major = sum(symbol.family is Family.MAJOR for symbol in on_root)
    first = (symbols[0].root.pitch_class - root) % 12
    begins = first == 0 and is_dominant(symbols[0])
    return 2 * sevenths > major and (begins or _falls_back(root, symbols, directly=first != 5))


def _falls_back(root: int, symbols: Sequence[ChordSymbol], *, directly: bool) -> bool:
    """True where IV7 goes to I7 by way of ♯iv°, or directly."""
    places = [
        ((symbol.root.pitch_class - root) % 12, is_dominant(symbol), symbol.family)
        for symbol in symbols
    ]
    four, raised, one = (
        (5, True, Family.MAJOR),
        (6, False, Family.DIMINISHED),
        (0, True, Family.MAJOR),
    )
    if (four, raised, one) in zip(places, places[1:], places[2:], strict=False):
        return True
    return directly and (four, one) in pairwise(places)


def is_minor_blues(spans: Sequence[Span], home: Key, *, bars: int) -> bool:
    """True for a minor key over a form of blues, at home on i, iv and V.

    It begins on i, and falls back to it from iv.
    """
    if not home.minor or bars not in BLUES_BARS or not is_tonic(spans[0].symbol, home):
        return False
    beats = sum(span.beats for span in spans if degree_in(span.symbol, home) in _HOME_PLACES)
    places = [degree_in(span.symbol, home) for span in spans if is_minor(span.symbol)]
    falls_back = (5, 0) in pairwise(places)
    return falls_back and beats >= AT_HOME_SHARE * float(spans[-1].end - spans[0].start)


def blues_scales(home: Key) -> tuple[Scale, ...]:
    """The scales that colour a blues: the minor one, and over a major home the major one."""
    labels = ("minor blues",) if home.minor else ("minor blues", "major blues")
    return tuple(scale_over(home.tonic, label) for label in labels)
