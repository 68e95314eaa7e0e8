"""On which side, flats or sharps, does each chord of a moved chart stand?

A chart is moved by one interval, so that spelling keeps its meaning. Where that would be
hard to read a stretch turns to its other spelling, a diminished second away:

- A local key is spelled as one region, on the side with fewer signs. With six it stands near
  the home key, or on the side that was typed where both are about as near; else in flats.
  Seven are taken in place of five near the home key, where the roots are those of that key.
  The home key, and the keys that share its signature, stay as they are.
- No root is E♯, B♯, F♭ or C♭ unless the signature has it, and none has a double sign.
- A dominant and the chord it falls a fifth to, and ii before it, stand on one side.
- A root stands near its key on the line of fifths; a dominant that falls a half step is
  named a letter above its goal, a diminished chord that rises one a letter below.

Where not all of this can be had, the cheapest spelling of the whole loop is found exactly.
What does not move is left as it was typed.

Source: common practice, no source; flats at six as in any table of transpositions.
"""

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from halfstep.harmony.chord_in_key import is_dominant, is_minor
from halfstep.loop_search import cheapest_loop
from halfstep.pitch import Interval, Name, is_odd, name_at, turn_of
from halfstep.progression.key import Key, key_of
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

ODD = 100.0
"""For a root E♯, B♯, F♭ or C♭ that the signature lacks."""
BROKEN = 8.0
"""For ii and V, or V and its goal, on two sides."""
MIXED = 4.0
"""For two such chords of which one is in flats and one in sharps, beyond that."""
SEVEN_SIGNS = 5.0
"""For a region near the home key with seven signs."""
SCALE_DEGREE = 3.0
"""For a degree of the local key under another name than the key's."""
HOME_DEGREE = 2.0
"""For a degree of the home key under another name than that key's."""
DOUBLE_BASS = 4.0
"""For a bass with a double sign."""
LEADING = 1.5
"""For a half step of roots that lead to each other written on one letter."""
FAR = 1.0
"""For another root more than six fifths from its key."""
RESPELLED = 0.4
"""For a root on another side than what was typed."""
KEY_RESPELLED = 0.3
"""For a region on another side than what was typed."""
DISTANCE = 0.1
"""For each fifth between a region and the home key."""
SHARPS = 0.05
"""For a region in sharps."""

_MOST_SIGNS = 7
_TURN = 12
"""Fifths between two spellings of one sound."""
_PLAIN = range(-8, 13)
"""Names with one sign at most on the line of fifths, from F♭ to B♯."""
_NEAR, _MIDDLE = 6, 1
"""Chromatic roots lie so many fifths from their tonic; and the middle of ♭II to ♯V."""
_FIFTH_DOWN, _HALF_STEP_DOWN = -1, 5
"""On the line of fifths, to the letter a fourth above and to the one below."""
_MAJOR = frozenset(place % _TURN for place in range(-1, 6))
_MINOR = frozenset(place % _TURN for place in range(-4, 3))
_RAISED = frozenset({3, 5})
"""The degrees of a key in fifths from its tonic; the raised sixth and seventh of minor are
roots of diminished chords alone."""


class KeyedChord(NamedTuple):
    """A chord and its local key."""

    symbol: ChordSymbol
    key: Key


class Side(NamedTuple):
    """How a chord is written: its root, and its local key.

    Attributes
    ----------
    root : Name
    key : Key
    turns : int
        Diminished seconds up from where the interval alone puts the root: 1 for a turn to
        flats.
    """

    root: Name
    key: Key
    turns: int


def sides(chords: Sequence[KeyedChord], home: Key, interval: Interval) -> tuple[Side, ...]:
    """How each chord of a chart is written an interval higher.

    Parameters
    ----------
    chords : sequence of KeyedChord
        As they are played, around the loop.
    home : Key
        The chart's own, before it is moved.
    interval : Interval
    """
    if interval.fifths == 0:
        return tuple(Side(chord.symbol.root, chord.key + interval, 0) for chord in chords)
    moved = [KeyedChord(chord.symbol.moved(interval), chord.key + interval) for chord in chords]
    reader = _Reader(moved, home + interval)
    return tuple(cheapest_loop([reader.offers(place) for place in range(len(moved))], reader.step))


def near_key(key: Key, home: Key) -> Key:
    """A key on the side that a chart in ``home`` has it on.

    >>> str(near_key(key_of(7), key_of(3))), str(near_key(key_of(-6), key_of(2)))
    ('D♭ major', 'F♯ major')
    """
    return min(_sides_of(key, home), key=lambda offer: _key_cost(offer, key, home))


def turns_near(root: Name, home: Key) -> int:
    """The turn that brings a root near to a key, under a name that reads well there."""
    names = [name for name in _names(root) if not _is_odd_in(name, home)]
    middle = home.tonic.fifths + _MIDDLE
    nearest = min(names, key=lambda name: abs(name.fifths - middle))
    return _turns(root, nearest)


class _Reader(NamedTuple):
    """Someone who reads a chart that was moved, and what is hard to read of it.

    Attributes
    ----------
    chords : sequence of KeyedChord
        With the spelling that the interval alone gives.
    home : Key
        Of the moved chart.
    """

    chords: Sequence[KeyedChord]
    home: Key

    def offers(self, place: int) -> list[tuple[Side, float]]:
        """The ways to write a chord, with what each costs by itself."""
        symbol, key = self.chords[place]
        return [
            (side, self._cost(symbol, side))
            for side_key in _sides_of(key, self.home)
            for name in ([symbol.root] if symbol.silent else _names(symbol.root))
            for side in [Side(name, side_key, _turns(symbol.root, name))]
        ]

    def step(self, place: int, side: Side, following: Side) -> float:
        """What it costs that a chord and the next one stand as they do."""
        chord, next_chord = self.chords[place], self.chords[(place + 1) % len(self.chords)]
        if chord.key != next_chord.key:
            key_cost = _key_cost(following.key, next_chord.key, self.home)
        else:
            key_cost = 0.0 if side.key == following.key else inf
        rise = following.root.fifths - side.root.fifths
        rule = _rise(chord.symbol, next_chord.symbol)
        if rule is None or rise == rule:
            return key_cost
        if rule != _FIFTH_DOWN:
            return key_cost + LEADING
        mixed = side.root.alteration * following.root.alteration < 0
        return key_cost + BROKEN + MIXED * mixed

    def _cost(self, symbol: ChordSymbol, side: Side) -> float:
        if symbol.silent:
            return 0.0
        bass = symbol.bass + turn_of(side.turns) if symbol.bass else side.root
        return (
            _distance_cost(symbol, side, side.key, degree_cost=SCALE_DEGREE, cost=FAR)
            + _distance_cost(symbol, side, self.home, degree_cost=HOME_DEGREE)
            + ODD * _is_odd_in(side.root, self.home)
            + DOUBLE_BASS * (abs(bass.alteration) > 1)
            + RESPELLED * (side.turns != 0)
        )


def _names(root: Name) -> list[Name]:
    """The names of a sound with one sign at most."""
    return [name_at(place) for place in _PLAIN if (place - root.fifths) % _TURN == 0]


def _turns(root: Name, name: Name) -> int:
    return (root.fifths - name.fifths) // _TURN


def _sides_of(key: Key, home: Key) -> list[Key]:
    """The spellings of a key that are read, flats first."""
    places = range(-_MOST_SIGNS, _MOST_SIGNS + 1)
    same = [n for n in places if (n - key.fifths) % _TURN == 0]
    fewest = min(map(abs, same))
    read = [n for n in same if abs(n) == fewest or abs(n - home.fifths) <= 2]
    return [key] if key.fifths == home.fifths else [key_of(n, mode=key.mode) for n in read]


def _key_cost(side: Key, typed: Key, home: Key) -> float:
    """What it costs that a region stands on a side."""
    return (
        DISTANCE * abs(side.fifths - home.fifths)
        + KEY_RESPELLED * (side.fifths != typed.fifths)
        + SHARPS * (side.fifths > 0)
        + SEVEN_SIGNS * (abs(side.fifths) == _MOST_SIGNS)
    )


def _distance_cost(
    symbol: ChordSymbol, side: Side, key: Key, *, degree_cost: float, cost: float = 0.0
) -> float:
    """What it costs that a root is far from a key: as one of its degrees, and as another."""
    away = side.root.fifths - key.tonic.fifths
    if abs(away) <= _NEAR:
        return 0.0
    diminished = symbol.family in {Family.DIMINISHED, Family.HALF_DIMINISHED}
    minor = _MINOR | _RAISED if diminished else _MINOR
    return degree_cost if away % _TURN in (minor if key.minor else _MAJOR) else cost


def _is_odd_in(name: Name, home: Key) -> bool:
    """True for E♯, B♯, F♭ and C♭ where the signature lacks them."""
    in_signature = home.fifths - 1 <= name.fifths <= home.fifths + 5
    return is_odd(name) and not in_signature


def _rise(symbol: ChordSymbol, following: ChordSymbol) -> int | None:
    """In fifths, how the root goes on where it leads to the next; None elsewhere."""
    if symbol.silent or following.silent:
        return None
    semitones = (following.root.pitch_class - symbol.root.pitch_class) % 12
    dominant, two = is_dominant(symbol), is_minor(symbol) and is_dominant(following)
    if semitones == 5 and (dominant or two):
        return _FIFTH_DOWN
    if semitones == 11 and dominant:
        return _HALF_STEP_DOWN
    return -_HALF_STEP_DOWN if semitones == 1 and symbol.family is Family.DIMINISHED else None
