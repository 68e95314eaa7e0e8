"""Which notes may the hands lay for a chord? Its tones without the root, with what colours it.

A voicing holds the third (or what stands for it) and the seventh or sixth, what the symbol
alters or adds, then colours that the symbol leaves open and the scale over it has: 9 and 13
on a dominant, 9 on a minor or major seventh and on a sixth. Fifth and root come where notes
are wanting. Nothing argues with the symbol: no third in a suspension, no natural fifth or
ninth in alt, no seventh beside a sixth, no natural eleventh over a major third. The two top
notes are never a semitone apart.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, combinations, pairwise, product

from halfstep.backing.chord_scales import PitchClasses
from halfstep.harmony.tones import chord_degrees
from halfstep.pitch import Degree, parse_degrees
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

LOW, HIGH = 48, 72
"""C3 to C5, as MIDI numbers."""

Voicing = tuple[int, ...]
"""MIDI numbers, lowest first."""

Degrees = frozenset[Degree]


@dataclass(frozen=True, slots=True)
class Hands:
    """How a player lays a chord.

    Attributes
    ----------
    fewest, most : int
        Notes at a time.
    colour : float
        What a colour that the symbol does not ask for is worth; negative where it is not
        wanted.
    middle : float
        The height, as a MIDI number, that a voicing likes to lie about.
    narrowest, widest : int
        Semitones between neighbouring notes.
    """

    fewest: int = 3
    most: int = 4
    colour: float = 1.5
    middle: float = 60.0
    narrowest: int = 1
    widest: int = 9


PLAIN = Hands(colour=-9.0)
"""Tones of the symbol alone."""

_OPEN_COLOURS = {
    "dominant": parse_degrees("9 13"),
    "minor seventh": parse_degrees("9"),
    "major seventh": parse_degrees("9 13"),
    "sixth": parse_degrees("9"),
    "suspended seventh": parse_degrees("9 13"),
}
"""What a kind of chord leaves open to the player."""

_ALTERED_FIFTHS, _ALTERED_NINTHS = parse_degrees("b5 b13"), parse_degrees("b9 #9")


def open_colours(symbol: ChordSymbol, scale: PitchClasses) -> tuple[Degree, ...]:
    """Colours that a symbol does not name and that fit it and the scale over it.

    >>> from halfstep.harmony.scales import scale_over
    >>> from halfstep.progression.symbol import parse_symbol
    >>> mixolydian = scale_over(parse_symbol("C").root, "Mixolydian").pitch_classes
    >>> [str(degree) for degree in open_colours(parse_symbol("C7"), mixolydian)]
    ['9', '13']
    """
    if symbol.alt or symbol.bass or symbol.omitted or symbol.added:
        return ()
    stated = {degree.number for degree in (*symbol.altered, *chord_degrees(symbol))}
    return tuple(
        degree
        for degree in _OPEN_COLOURS.get(_kind(symbol), ())
        if degree.number not in stated
        and (symbol.root + degree.interval).pitch_class in scale
        and not (degree.number == 13 and Degree(5, 1) in symbol.altered)
    )


def _kind(symbol: ChordSymbol) -> str:
    """The kind of chord as `_OPEN_COLOURS` names it; empty where it leaves nothing open."""
    if symbol.family in {Family.MAJOR, Family.MINOR} and symbol.sixth:
        return "sixth"
    if symbol.family is Family.MAJOR and symbol.seventh == Degree(7):
        return "major seventh"
    if symbol.family in {Family.MAJOR, Family.AUGMENTED} and symbol.seventh == Degree(7, -1):
        return "dominant"
    if symbol.family is Family.SUS4 and symbol.seventh == Degree(7, -1):
        return "suspended seventh"
    return "minor seventh" if symbol.family is Family.MINOR and symbol.seventh else ""


def tone_sets(symbol: ChordSymbol, scale: PitchClasses, hands: Hands) -> Iterator[Degrees]:
    """The sets of degrees that stand for a chord, each note once."""
    if symbol.silent:
        return
    for needed in _needed(symbol):
        spare = [*open_colours(symbol, scale), *_fillers(symbol, needed)]
        fewest = max(0, hands.fewest - len(needed))
        most = max(fewest, hands.most - len(needed))
        for size in range(min(fewest, len(spare)), min(most, len(spare)) + 1):
            for more in combinations(spare, size):
                yield needed | frozenset(more)


def _needed(symbol: ChordSymbol) -> Iterator[Degrees]:
    """What a chord is not itself without: the certain tones, with one of each open choice."""
    if symbol.alt:
        for fifth, ninth in product(_ALTERED_FIFTHS, _ALTERED_NINTHS):
            yield frozenset({Degree(3), Degree(7, -1), fifth, ninth})
            yield frozenset({Degree(3), Degree(7, -1), ninth})
        return
    yield frozenset(degree for degree in chord_degrees(symbol) if _rank(degree, symbol) < _FIFTH)


def _fillers(symbol: ChordSymbol, needed: Degrees) -> list[Degree]:
    """Fifth and root, which come where notes are wanting."""
    if symbol.alt:
        return []
    return [degree for degree in chord_degrees(symbol) if degree not in needed]


_FIFTH, _ROOT = 3, 4


def _rank(degree: Degree, symbol: ChordSymbol) -> int:
    """How much a chord needs a degree; 0 most."""
    if degree.number in {2, 3, 4}:
        return 0
    if degree.number in {6, 7}:
        return 1
    if degree.number > 7 or degree in symbol.altered:
        return 2
    if degree.number == 5:
        return 2 if degree.alteration else _FIFTH
    return _ROOT


@lru_cache(maxsize=4096)
def voicings(
    symbol: ChordSymbol, scale: PitchClasses = frozenset(), hands: Hands = PLAIN
) -> tuple[tuple[Voicing, float], ...]:
    """Ways to lay a chord with what speaks against each, the best first; none for silence.

    Of those with the same top note only the best few are kept, so that a top line has notes
    to choose from.
    """
    costs: dict[Voicing, float] = {}
    for degrees in tone_sets(symbol, scale, hands):
        set_cost = _set_cost(symbol, scale, degrees, hands)
        for notes in _laid(symbol, degrees):
            if _is_playable(notes, hands):
                cost = set_cost + _lay_cost(notes, hands)
                costs[notes] = min(cost, costs.get(notes, cost))
    if not costs and not symbol.silent and hands is not _ANY_HANDS:
        return voicings(symbol, scale, _ANY_HANDS)
    return tuple(_best_by_top(costs))


_ANY_HANDS = Hands(fewest=2, most=7, colour=-9.0, widest=24)
_KEPT_BY_TOP = 4


def _best_by_top(costs: dict[Voicing, float]) -> Iterator[tuple[Voicing, float]]:
    kept: dict[int, int] = {}
    for notes, cost in sorted(costs.items(), key=lambda laid: (laid[1], laid[0])):
        if kept.get(notes[-1], 0) < _KEPT_BY_TOP:
            kept[notes[-1]] = kept.get(notes[-1], 0) + 1
            yield notes, cost


def _laid(symbol: ChordSymbol, degrees: Iterable[Degree]) -> Iterator[Voicing]:
    """Every way to place the degrees in the range, each once; fewer than three are doubled."""
    classes = {(symbol.root + degree.interval).pitch_class for degree in degrees}
    options = [[midi for midi in range(LOW, HIGH + 1) if midi % 12 == c] for c in classes]
    if len(classes) >= _FEWEST:
        yield from (tuple(sorted(notes)) for notes in product(*options))
        return
    for notes in combinations(
        sorted(chain.from_iterable(options)), _FEWEST - 1 + len(classes) // 2
    ):
        if {midi % 12 for midi in notes} == classes:
            yield notes


_FEWEST = 3  # notes that a chord has; one note alone is doubled at the octave


def _is_playable(notes: Voicing, hands: Hands) -> bool:
    gaps = [above - below for below, above in pairwise(notes)]
    if not gaps:
        return True
    fits = all(hands.narrowest <= gap <= hands.widest for gap in gaps)
    return fits and gaps[-1] > 1 and sum(gaps) <= _WIDEST_SPAN


_WIDEST_SPAN, _MINOR_NINTH = 19, 13


def _set_cost(symbol: ChordSymbol, scale: PitchClasses, degrees: Degrees, hands: Hands) -> float:
    """What speaks against a set of degrees: colours that are not wanted, a root in it."""
    coloured = len(degrees & set(open_colours(symbol, scale)))
    has_root = any(degree.number == 1 for degree in degrees) and symbol.bass is None
    return 0.8 * has_root - hands.colour * coloured


def _lay_cost(notes: Voicing, hands: Hands) -> float:
    """What speaks against a voicing by itself: its place, clusters, mud, minor ninths."""
    gaps = [above - below for below, above in pairwise(notes)]
    place = abs(sum(notes) / len(notes) - hands.middle) * 0.25
    clusters = 1.5 * sum(gap == 1 for gap in gaps) + 0.5 * sum(gap == 2 for gap in gaps)
    mud = 3.0 * (gaps[0] < 3 and notes[0] < 53) if gaps else 0.0
    rubs = 4.0 * sum(b - a == _MINOR_NINTH for a, b in combinations(notes, 2))
    return place + clusters + mud + rubs


def motion(old: Voicing, new: Voicing) -> float:
    """Semitones the voices move, each of the fuller chord to its nearest place."""
    if len(old) == len(new):
        return float(sum(abs(a - b) for a, b in zip(old, new, strict=True)))
    few, many = sorted((old, new), key=len)
    return float(sum(min(abs(a - b) for b in few) for a in many))
