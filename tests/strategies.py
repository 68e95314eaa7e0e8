"""Names, keys, chord symbols and charts for property tests."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from halfstep.meter import Feel, Meter
from halfstep.pitch import Name, Pitch
from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.key import Key, key_of
from halfstep.progression.sheet import (
    LeadSheet,
    Marks,
    SheetNote,
    WrittenBar,
    keys_where_they_change,
)
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


def modal_keys(most: int = 7) -> st.SearchStrategy[Key]:
    """Keys of all seven modes with ``most`` accidentals or fewer."""
    modes = ("major", "minor", "dorian", "phrygian", "lydian", "mixolydian", "locrian")
    return st.builds(
        lambda fifths, mode: key_of(fifths, mode=mode),
        st.integers(-most, most),
        st.sampled_from(modes),
    )


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


LENGTHS = tuple(map(Fraction, ("4", "3", "2", "3/2", "1", "1/2", "1/3", "2/3", "1/4", "5/4")))
"""Lengths of melody notes, triplets among them."""

GROUPED = (Meter(7, 4, (2, 2, 3)), Meter(5, 4, (2, 3)), Meter(8, 8, (3, 3, 2)))
"""Metres whose grouping is stated."""


@st.composite
def melodies(draw: st.DrawFn, length: Fraction) -> tuple[SheetNote, ...]:
    """Notes and rests, in order, that fit in a bar."""
    notes, at = [], Fraction(0)
    for beats in draw(st.lists(st.sampled_from(LENGTHS), max_size=6)):
        if at + beats <= length and draw(st.booleans()):
            notes.append(SheetNote(at, beats, draw(pitches(3, 6))))
        at += beats
    return tuple(notes)


@st.composite
def road_marks(draw: st.DrawFn) -> Marks:
    """Signs of any kind on one bar; most bars have none."""
    if draw(st.integers(0, 2)):
        return Marks()
    signs = ("segno", "coda", "to_coda", "fine", "da_capo", "dal_segno")
    given = draw(st.sets(st.sampled_from(signs), max_size=2))
    return Marks(
        draw(st.booleans()),
        draw(st.sampled_from([0, 0, 1, 2, 3, 4])),
        draw(st.sampled_from([(), (), (1,), (2,), (1, 2), (1, 3)])),
        draw(st.booleans()),
        **dict.fromkeys(given, True),
    )


@st.composite
def written_bars(draw: st.DrawFn, number: int) -> WrittenBar:
    """A bar of a page: whole or not, with chords, melody and signs at their places."""
    meter = draw(st.one_of(meters(), st.sampled_from(GROUPED)))
    short = draw(st.integers(0, 3)) == 0
    length = draw(st.sampled_from([Fraction(1), Fraction(3, 2)])) if short else meter.bar_beats
    places = sorted(draw(st.sets(st.integers(0, int(length * 12) - 1), max_size=4)))
    chords: list[ChordAt] = []
    for place in places:
        symbol = draw(symbols())
        if not chords or chords[-1].symbol != symbol:
            chords.append(ChordAt(symbol, Fraction(place, 12)))
    return WrittenBar(
        draw(st.sampled_from([str(number), str(number), f"X{number}"])),
        meter,
        length,
        tuple(chords),
        draw(road_marks()),
        draw(st.booleans()),
        draw(st.sampled_from(["", "", "A", "Bridge"])),
        draw(melodies(length)),
        draw(st.one_of(st.none(), modal_keys(6))),
    )


@st.composite
def sheets(draw: st.DrawFn, *, max_bars: int = 6) -> LeadSheet:
    """Lead sheets with all that a page can hold, sense or not."""
    first = draw(st.integers(0, 1))
    count = draw(st.integers(1, max_bars))
    bars = [draw(written_bars(number)) for number in range(first, first + count)]
    bars[0] = bars[0]._replace(key=None)
    if not any(bar.chords for bar in bars):
        bars[0] = bars[0]._replace(chords=(ChordAt(draw(symbols()), Fraction(0)),))
    key = draw(modal_keys(6))
    return LeadSheet(
        "Evening Class",
        tuple(keys_where_they_change(bars, key)),
        key,
        draw(st.one_of(st.none(), st.integers(40, 300).map(float))),
        draw(st.sampled_from([None, *Feel])),
    )
