"""Names, keys, chord symbols and charts for property tests."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from halfstep.meter import Meter
from halfstep.pitch import Name, Pitch
from halfstep.progression.chart import Bar, Chart, ChordAt, Feel
from halfstep.progression.key import Key, key_of
from halfstep.progression.symbol import ChordSymbol, parse_symbol

ROOTS = (
    *("C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb"),
    *("B", "Cb", "Fb", "E#", "B#"),
)
"""Every root a chart is likely to have: the seventeen of practice and four rare ones."""

COMMON = (
    *("", "m", "7", "maj7", "m7", "m7b5", "dim7", "6", "m6", "9", "m9", "maj9", "13", "sus4"),
    *("7sus4", "7b9", "7#9", "7#11", "7#5", "7alt", "m(maj7)", "6/9", "dim", "+", "maj7#11"),
)
"""Suffixes met in any book of charts."""

PIECES = (
    *("", "m", "maj7", "7", "9", "11", "13", "6", "6/9", "dim", "aug", "+", "ø", "°7", "alt"),
    *("sus4", "sus2", "b5", "#5", "b9", "#9", "#11", "b13", "add9", "add11", "add13", "addb9"),
    *("add3", "no3", "no5", "no1", "5", "mMaj7", "add7", "addb7", "b3", "maj9", "2", "4", "-5"),
    *("+5", "(maj7)", "add2", "add6", "omit5", "△7", "M7", "-", "mi7"),
)
"""What a suffix may be put together from, sense or not."""


def names(*, double: bool = False) -> st.SearchStrategy[Name]:
    """Spelled notes with one accidental at most, or two."""
    reach = 2 if double else 1
    return st.builds(Name, st.integers(0, 6), st.integers(-reach, reach))


def pitches(low: int = 2, high: int = 6) -> st.SearchStrategy[Pitch]:
    """Spelled notes in octaves ``low`` to ``high``."""
    return st.builds(Pitch, names(), st.integers(low, high))


def keys() -> st.SearchStrategy[Key]:
    """The thirty keys with seven accidentals or fewer."""
    return st.builds(lambda f, minor: key_of(f, minor=minor), st.integers(-7, 7), st.booleans())


def meters() -> st.SearchStrategy[Meter]:
    """Metres a chart is likely to have."""
    likely = ((4, 4), (3, 4), (2, 4), (2, 2), (5, 4), (7, 4), (6, 8), (9, 8), (12, 8), (7, 8))
    return st.sampled_from([Meter(count, unit) for count, unit in likely])


def symbol_texts() -> st.SearchStrategy[str]:
    """A root, a common suffix, perhaps a bass."""
    bass = st.one_of(st.just(""), st.sampled_from(ROOTS).map(lambda root: "/" + root))
    return st.builds(lambda *p: "".join(p), st.sampled_from(ROOTS), st.sampled_from(COMMON), bass)


def odd_symbol_texts() -> st.SearchStrategy[str]:
    """A root with pieces in any order; many make no sense."""
    pieces = st.lists(st.sampled_from(PIECES), max_size=4).map("".join)
    return st.builds(lambda root, suffix: root + suffix, st.sampled_from(ROOTS), pieces)


def symbols() -> st.SearchStrategy[ChordSymbol]:
    """Chord symbols of common kinds on any root."""
    return symbol_texts().map(parse_symbol)


@st.composite
def charts(draw: st.DrawFn, *, min_bars: int = 1, max_bars: int = 16) -> Chart:
    """Charts in one metre, one to four chords a bar."""
    meter = draw(meters())
    bars = []
    for number in range(1, draw(st.integers(min_bars, max_bars)) + 1):
        chords = draw(st.lists(symbols(), min_size=0 if number > 1 else 1, max_size=4))
        share = meter.bar_beats / max(1, len(chords))
        placed = tuple(ChordAt(symbol, turn * share) for turn, symbol in enumerate(chords))
        bars.append(Bar(number, meter, meter.bar_beats, placed, number))
    key = draw(st.one_of(st.none(), keys()))
    tempo = draw(st.one_of(st.none(), st.integers(40, 300).map(float)))
    feel = draw(st.sampled_from([None, *Feel]))
    return Chart("Evening Class", tuple(bars), key, tempo, feel)


def chart_texts() -> st.SearchStrategy[str]:
    """Bars of chords as a user types them."""
    bar = st.lists(symbol_texts(), min_size=1, max_size=4).map(" ".join)
    return st.lists(bar, min_size=1, max_size=12).map(lambda bars: "| " + " | ".join(bars) + " |")


def beats(most: int = 8) -> st.SearchStrategy[Fraction]:
    """Places in musical time, on a grid of sixteenths and triplets."""
    return st.integers(0, 12 * most).map(lambda twelfths: Fraction(twelfths, 12))
