"""What does a chord cost in a key? The table of costs, and a row of them for each chord.

A chord is judged between its neighbours against spelled keys: it costs what it has
outside the key, less where it leads somewhere, and cadences are rewarded.

Conventions
-----------
- Costs have no unit; only their sum matters. The table of them stands first.
- Spelling counts: a chart in G♭ is not explained by F♯.
- Chords follow each other around the loop.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from halfstep.harmony.chord_in_key import can_be_tonic, is_dominant, is_minor
from halfstep.harmony.tones import chord_tones
from halfstep.pitch import parse_degrees
from halfstep.progression.key import Key, key_of
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

OUTSIDE = 1.0
"""For a chord tone that the key does not hold."""
MISSPELLED = 0.25
"""For one that the key holds under another name."""
APPLIED = 0.6
"""For a chord that leads to the next one, whatever it has outside: a dominant that falls a
fifth or a half step, a diminished seventh a half step away, iv and ♭VII7 before I."""
BLUES = 0.4
"""For a dominant seventh on I or IV, in a key where the chart has both."""
TONIC = -0.3
"""For the tonic chord."""
CADENCE = -1.0
"""For V7 to I."""
PREPARED = -0.4
"""For II to V."""
FULL_CADENCE = -0.6
"""For II to V to I, beyond the two."""
MINOR_MADE_MAJOR = 1.0
"""For a chord with a major third on the tonic of a minor key."""

Row = tuple[float, ...]
"""What a chord costs in each of the keys."""


class KeyNotes(NamedTuple):
    """A key as the costs look at it.

    Attributes
    ----------
    tonic : int
        Pitch class.
    minor : bool
    fifths : int
        The signature.
    spelled : frozenset of int
        Its notes on the line of fifths.
    sounding : frozenset of int
        Its notes as pitch classes.
    raised : tuple of int
        Pitch classes of the raised sixth and seventh.
    """

    tonic: int
    minor: bool
    fifths: int
    spelled: frozenset[int]
    sounding: frozenset[int]
    raised: tuple[int, int]


_MAJOR, _MINOR = parse_degrees("1 2 3 4 5 6 7"), parse_degrees("1 2 b3 4 5 b6 b7")


def _key_notes(key: Key) -> KeyNotes:
    names = [key.tonic + degree.interval for degree in (_MINOR if key.minor else _MAJOR)]
    tonic = key.tonic.pitch_class
    return KeyNotes(
        tonic,
        key.minor,
        key.fifths,
        frozenset(name.fifths for name in names),
        frozenset(name.pitch_class for name in names),
        ((tonic + 9) % 12, (tonic + 11) % 12),
    )


@dataclass(frozen=True, slots=True, eq=False)
class CandidateKeys:
    """The keys that chords are judged against, in the order that decides between equals."""

    keys: tuple[Key, ...]
    notes: tuple[KeyNotes, ...]


def candidates(keys: Sequence[Key]) -> CandidateKeys:
    """Keys to judge chords against."""
    return CandidateKeys(tuple(keys), tuple(map(_key_notes, keys)))


@lru_cache(maxsize=1)
def every_key() -> CandidateKeys:
    """The thirty keys with signatures of seven flats to seven sharps, first the major ones."""
    return candidates(
        [key_of(fifths, minor=minor) for minor in (False, True) for fifths in range(-7, 8)]
    )


class ChordNotes(NamedTuple):
    """A chord as the costs look at it.

    Attributes
    ----------
    root : int
        Pitch class.
    classes, fifths : tuple of int
        Its tones up to the ninth, as pitch classes and on the line of fifths.
    silent, dominant, minor : bool
    rests_in_major, rests_in_minor : bool
        True where it can be the tonic of such a key.
    family : Family
    seventh : int or None
        Its alteration: 0 for a major seventh, -1 for a minor one.
    """

    root: int
    classes: tuple[int, ...]
    fifths: tuple[int, ...]
    silent: bool
    dominant: bool
    minor: bool
    rests_in_major: bool
    rests_in_minor: bool
    family: Family
    seventh: int | None

    def rests_in(self, key: KeyNotes) -> bool:
        """True for the key's own chord."""
        rests = self.rests_in_minor if key.minor else self.rests_in_major
        return rests and self.root == key.tonic

    def place_in(self, key: KeyNotes) -> int:
        """Semitones from the tonic up to the root, 0 to 11."""
        return (self.root - key.tonic) % 12

    def rise_to(self, following: ChordNotes) -> int:
        """Semitones from the root up to that of another chord, 0 to 11."""
        return (following.root - self.root) % 12


@lru_cache(maxsize=4096)
def chord_notes(symbol: ChordSymbol) -> ChordNotes:
    """What the costs ask of a chord."""
    names = [tone.name for tone in chord_tones(symbol) if tone.degree.number <= 9]
    return ChordNotes(
        symbol.root.pitch_class,
        tuple(name.pitch_class for name in names),
        tuple(name.fifths for name in names),
        symbol.silent,
        is_dominant(symbol),
        is_minor(symbol),
        can_be_tonic(symbol, minor=False),
        can_be_tonic(symbol, minor=True),
        symbol.family,
        symbol.seventh.alteration if symbol.seventh else None,
    )


class Passage(NamedTuple):
    """A chord between its neighbours."""

    before: ChordNotes
    chord: ChordNotes
    following: ChordNotes


def key_costs(symbols: Sequence[ChordSymbol], candidate_keys: CandidateKeys) -> list[Row]:
    """What each chord costs in each key, the last one going on to the first."""
    before, following = [symbols[-1], *symbols[:-1]], [*symbols[1:], symbols[0]]
    blues = blues_keys(symbols, candidate_keys)
    return [
        _row(*neighbours, candidate_keys, blues)
        for neighbours in zip(before, symbols, following, strict=True)
    ]


def blues_keys(symbols: Sequence[ChordSymbol], candidate_keys: CandidateKeys) -> tuple[bool, ...]:
    """For each key whether the chords make a blues in it: I and IV are dominant sevenths."""
    roots = {chord.root for chord in map(chord_notes, set(symbols)) if chord.dominant}
    return tuple(
        not key.minor and {key.tonic, (key.tonic + 5) % 12} <= roots for key in candidate_keys.notes
    )


@lru_cache(maxsize=8192)
def _row(
    before: ChordSymbol,
    symbol: ChordSymbol,
    following: ChordSymbol,
    candidate_keys: CandidateKeys,
    blues: tuple[bool, ...],
) -> Row:
    if symbol.silent:
        return (0.0,) * len(blues)
    passage = Passage(chord_notes(before), chord_notes(symbol), chord_notes(following))
    return tuple(
        _chord_cost(passage, key, blues=is_blues)
        for key, is_blues in zip(candidate_keys.notes, blues, strict=True)
    )


def _chord_cost(passage: Passage, key: KeyNotes, *, blues: bool) -> float:
    """What a chord costs in a key, seeing where it comes from and goes."""
    _, chord, following = passage
    outside = sum(note not in key.sounding for note in chord.classes)
    misspelled = MISSPELLED * (sum(note not in key.spelled for note in chord.fifths) - outside)
    cost = OUTSIDE * outside + misspelled
    rests = chord.rests_in(key)
    if rests:
        cost += TONIC
    if key.minor and (rests or _leads(chord, following, key)):
        # the raised sixth and seventh of a minor key are at home on i, V and vii°
        cost -= OUTSIDE * sum(note in key.raised for note in chord.classes)
    if _is_applied(chord, following, key):
        cost = min(cost, APPLIED + misspelled)
    if rests_with_seventh(chord, following, key, blues=blues):
        cost = min(cost, BLUES + misspelled)
    cost = _in_cadence(cost, misspelled, passage, key, blues=blues)
    turned_major = key.minor and chord.place_in(key) == 0 and not chord.minor
    return cost + MINOR_MADE_MAJOR * turned_major


def _in_cadence(
    cost: float, misspelled: float, passage: Passage, key: KeyNotes, *, blues: bool
) -> float:
    """The cost of a chord with what is granted to V7 and to the II before it."""
    _, chord, following = passage
    place = chord.place_in(key)
    if place == 7 and chord.dominant:
        return min(cost, misspelled) + _cadence_cost(passage, key, blues=blues)
    if is_two_to_five(chord, following, key):
        cost += PREPARED
        if (chord.family is Family.HALF_DIMINISHED) != key.minor:
            cost += OUTSIDE / 2
    return cost


def is_two_to_five(chord: ChordNotes, following: ChordNotes, key: KeyNotes) -> bool:
    """True for a minor chord on II before a dominant seventh on V."""
    is_two = chord.minor and chord.place_in(key) == 2
    return is_two and following.dominant and following.place_in(key) == 7


def _leads(chord: ChordNotes, following: ChordNotes, key: KeyNotes) -> bool:
    """True for V and vii° of a minor key; a triad on V leads only where it resolves."""
    place = chord.place_in(key)
    if chord.seventh == 0:
        return False
    if place != 7 or chord.seventh is not None:
        return place in {7, 11}
    return following.rests_in(key) or (following.dominant and following.place_in(key) == 7)


def rests_with_seventh(
    chord: ChordNotes, following: ChordNotes, key: KeyNotes, *, blues: bool
) -> bool:
    """True for a dominant seventh that is I or IV of a blues, or I and does not fall a fifth."""
    if not chord.dominant:
        return False
    place = chord.place_in(key)
    if blues and place in {0, 5}:
        return True
    falls = not following.silent and chord.rise_to(following) == 5
    return place == 0 and not key.minor and not falls


def _is_applied(chord: ChordNotes, following: ChordNotes, key: KeyNotes) -> bool:
    """True for a chord that leads to the next one from outside the key."""
    if following.silent:
        return False
    rise = chord.rise_to(following)
    if chord.dominant:
        flat_seven = chord.place_in(key) == 10 and following.root == key.tonic
        to_its_two = rise == 0 and following.minor
        return rise in {5, 11} or to_its_two or (flat_seven and not key.minor)
    if chord.family is Family.DIMINISHED:
        return rise in {0, 1, 11}
    borrowed = chord.minor and chord.place_in(key) == 5 and not key.minor
    flat_seven = following.dominant and following.place_in(key) == 10
    return borrowed and (flat_seven or following.rests_in(key))


def _cadence_cost(passage: Passage, key: KeyNotes, *, blues: bool) -> float:
    """What is granted to V7 between its neighbours."""
    before, _, following = passage
    if following.rests_in(key):
        prepared = before.minor and before.place_in(key) == 2
        return CADENCE + FULL_CADENCE if prepared else CADENCE
    arrives = blues and not following.silent and following.root == key.tonic
    return CADENCE / 2 if arrives else 0.0


def opens_on_tonic(first: ChordNotes, second: ChordNotes, key: KeyNotes) -> bool:
    """True when the first chord is the tonic; a minor seventh that is II of a V7 is none."""
    is_two = first.seventh == -1 and first.minor and second.dominant
    return first.rests_in(key) and not (is_two and first.rise_to(second) == 5)
