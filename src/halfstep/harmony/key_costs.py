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

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from halfstep.harmony.blues import blues_tonics
from halfstep.harmony.chord_in_key import can_be_tonic, is_dominant, is_minor
from halfstep.harmony.tones import chord_tones
from halfstep.pitch import parse_degrees
from halfstep.progression.key import Key, key_of
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

OUTSIDE = 1.0
"""For a chord tone that the key does not hold."""
MISSPELLED = 0.25
"""For a chord with tones that the key holds under other names."""
APPLIED = 0.6
"""For a chord that leads on, whatever it has outside: a dominant that falls a fifth or a half
step and the ii before it, a diminished seventh a half step away, iv and ♭VII7 before I."""
BORROWED = 0.7
"""For a chord of the parallel minor in a major key."""
LED_TO = 0.3
"""For a chord from outside the key to which its own dominant has led, as to a tonic."""
BLUES = 0.4
"""For a dominant seventh at rest on I, outside a blues; in one it is at home."""
TONIC = -0.3
"""For coming to the tonic chord."""
ARRIVAL = -1.0
"""For the tonic right after its dominant: a cadence weighs more than notes that keys share."""
PREPARED = -0.4
"""For II to V."""
FULL_CADENCE = -0.6
"""For the V between II and I."""
MINOR_MADE_MAJOR = 1.0
"""For a chord with a major third at rest on the tonic of a minor key."""

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
    parallel : frozenset of int
        The notes of the minor key on its tonic, as pitch classes.
    seventh_rests : bool
        True for Mixolydian, whose tonic chord has a minor seventh.
    """

    tonic: int
    minor: bool
    fifths: int
    spelled: frozenset[int]
    sounding: frozenset[int]
    raised: tuple[int, int]
    parallel: frozenset[int]
    seventh_rests: bool


_MINOR = parse_degrees("1 2 b3 4 5 b6 b7")


def _key_notes(key: Key) -> KeyNotes:
    spelled = range(key.fifths - 1, key.fifths + 6)
    tonic = key.tonic.pitch_class
    return KeyNotes(
        tonic,
        key.minor,
        key.fifths,
        frozenset(spelled),
        frozenset(7 * fifths % 12 for fifths in spelled),
        ((tonic + 9) % 12, (tonic + 11) % 12),
        frozenset((tonic + degree.semitones) % 12 for degree in _MINOR),
        key.mode == "mixolydian",
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


@lru_cache(maxsize=64)
def keys_with(home: Key | None) -> CandidateKeys:
    """Every key, and the home key where that is in another mode."""
    offered = every_key()
    if home is None or home in offered.keys:
        return offered
    return candidates([*offered.keys, home])


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

    def rise_to(self, following: "ChordNotes") -> int:
        """Semitones from the root up to that of another chord, 0 to 11."""
        return (following.root - self.root) % 12


@lru_cache(maxsize=4096)
def chord_notes(symbol: ChordSymbol) -> ChordNotes:
    """What the costs ask of a chord; a major triad over its minor seventh is a dominant."""
    names = [tone.name for tone in chord_tones(symbol) if tone.degree.number <= 9]
    over_seventh = _over_its_seventh(symbol)
    alteration = symbol.seventh.alteration if symbol.seventh else None
    return ChordNotes(
        symbol.root.pitch_class,
        tuple(name.pitch_class for name in names),
        tuple(name.fifths for name in names),
        symbol.silent,
        is_dominant(symbol) or over_seventh,
        is_minor(symbol),
        can_be_tonic(symbol, minor=False) and not over_seventh,
        can_be_tonic(symbol, minor=True),
        symbol.family,
        -1 if over_seventh else alteration,
    )


def _over_its_seventh(symbol: ChordSymbol) -> bool:
    """True for a major triad whose bass is its minor seventh, such as C/B♭."""
    if symbol.bass is None or symbol.family is not Family.MAJOR or symbol.seventh:
        return False
    return (symbol.bass.pitch_class - symbol.root.pitch_class) % 12 == 10


class Passage(NamedTuple):
    """A chord between its neighbours.

    Attributes
    ----------
    before, chord, following : ChordNotes
    goal : ChordNotes
        The next chord on another root; the following one where there is none.
    """

    before: ChordNotes
    chord: ChordNotes
    following: ChordNotes
    goal: ChordNotes


def key_costs(
    symbols: Sequence[ChordSymbol], candidate_keys: CandidateKeys, blues: tuple[bool, ...]
) -> list[Row]:
    """What each chord costs in each key, the last one going on to the first.

    Parameters
    ----------
    symbols : sequence of ChordSymbol
    candidate_keys : CandidateKeys
    blues : tuple of bool
        For each key whether the chords make a blues in it; see `blues_keys`.
    """
    before, following = [symbols[-1], *symbols[:-1]], [*symbols[1:], symbols[0]]
    return [
        _row(*neighbours, candidate_keys, blues)
        for neighbours in zip(before, symbols, following, _goals(symbols), strict=True)
    ]


def _goals(symbols: Sequence[ChordSymbol]) -> list[ChordSymbol]:
    """For each chord the next one on another root, around the loop."""
    goals: list[ChordSymbol] = []
    goal = following = symbols[0]
    for symbol in reversed([*symbols, *symbols]):
        if symbol.root.pitch_class != following.root.pitch_class or following.silent:
            goal = following
        goals.append(goal)
        following = symbol
    return goals[: len(symbols) - 1 : -1]


def blues_keys(
    symbols: Sequence[ChordSymbol], candidate_keys: CandidateKeys, *, home: Key | None = None
) -> tuple[bool, ...]:
    """For each key whether the chords make a major blues in it.

    Where the home key is known, a blues is one in that key and in no other.
    """
    tonics = blues_tonics(symbols)
    return tuple(
        not notes.minor and notes.tonic in tonics and home in {None, key}
        for key, notes in zip(candidate_keys.keys, candidate_keys.notes, strict=True)
    )


@lru_cache(maxsize=8192)
def _row(
    before: ChordSymbol,
    symbol: ChordSymbol,
    following: ChordSymbol,
    goal: ChordSymbol,
    candidate_keys: CandidateKeys,
    blues: tuple[bool, ...],
) -> Row:
    if symbol.silent:
        return (0.0,) * len(blues)
    passage = Passage(*map(chord_notes, (before, symbol, following, goal)))
    return tuple(
        _chord_cost(passage, key, blues=is_blues)
        for key, is_blues in zip(candidate_keys.notes, blues, strict=True)
    )


def _chord_cost(passage: Passage, key: KeyNotes, *, blues: bool) -> float:
    """What a chord costs in a key, seeing where it comes from and goes."""
    chord = passage.chord
    outside = sum(note not in key.sounding for note in chord.classes)
    renamed = sum(note not in key.spelled for note in chord.fifths) > outside
    misspelled = MISSPELLED * renamed
    cost = OUTSIDE * outside + misspelled
    rests = chord.rests_in(key) and not goes_on_as_two(chord, passage.following)
    if key.minor and (rests or _leads(passage, key)):
        # the raised sixth and seventh of a minor key are at home on i, IV7, V and vii°
        cost -= OUTSIDE * sum(note in key.raised for note in chord.classes)
    if _is_applied(passage, key):
        cost = min(cost, APPLIED + misspelled)
    if (
        key.minor
        and chord.place_in(key) == 10
        and chord.dominant
        and chord.rise_to(passage.goal) == 5
    ):
        cost += APPLIED  # V7 of the relative major, whose notes are all in the key
    if not key.minor and all(note in key.parallel for note in chord.classes):
        cost = min(cost, BORROWED + misspelled)
    elif outside and _is_led_to(passage):
        cost += LED_TO
    if rests_with_seventh(chord, passage.goal, key, blues=blues):
        at_home = blues or key.seventh_rests
        cost = min(cost, BLUES * (not at_home) + misspelled)
        rests = at_home and chord.root == key.tonic
    comes_from_elsewhere = passage.before.silent or passage.before.root != chord.root
    if rests and comes_from_elsewhere:
        arrival = ARRIVAL / 2 if chord.dominant else ARRIVAL
        cost += TONIC + arrival * is_five(passage.before, key)
    cost = _in_cadence(cost, misspelled, passage, key)
    return cost + MINOR_MADE_MAJOR * _turns_major(passage, key)


def _is_led_to(passage: Passage) -> bool:
    """True for a chord that could be a tonic, after the dominant a fifth above it."""
    before, chord = passage.before, passage.chord
    could_rest = chord.rests_in_major or chord.rests_in_minor
    return could_rest and before.dominant and before.rise_to(chord) == 5


def goes_on_as_two(chord: ChordNotes, following: ChordNotes) -> bool:
    """True for a minor seventh that is II of the dominant after it, or of its substitute."""
    is_two = chord.seventh == -1 and chord.minor and following.dominant
    return is_two and chord.rise_to(following) in {5, 11}


def is_five(chord: ChordNotes, key: KeyNotes) -> bool:
    """True for a chord that leads to the tonic as its dominant: V7, vii° or viiø.

    A triad on V does in minor, where it has the leading tone; in major it may as well be I
    before IV.
    """
    if chord.silent:
        return False
    if chord.place_in(key) == 11:
        return chord.family in {Family.DIMINISHED, Family.HALF_DIMINISHED}
    triad = chord.family in {Family.MAJOR, Family.AUGMENTED} and chord.seventh is None
    return chord.place_in(key) == 7 and (chord.dominant or (triad and key.minor))


def _turns_major(passage: Passage, key: KeyNotes) -> bool:
    """True for a major third on the tonic of a minor key, unless it leads to IV."""
    if not key.minor or passage.chord.place_in(key) != 0 or passage.chord.minor:
        return False
    return not (passage.chord.dominant and passage.chord.rise_to(passage.goal) == 5)


def _in_cadence(cost: float, misspelled: float, passage: Passage, key: KeyNotes) -> float:
    """The cost of a chord with what is granted to V7 and to the II before it."""
    before, chord, following, goal = passage
    if chord.place_in(key) == 7 and chord.dominant:
        prepared = before.minor and before.place_in(key) == 2
        return min(cost, misspelled) + FULL_CADENCE * (prepared and goal.rests_in(key))
    if is_five_after_four(before, chord, key) and goal.rests_in(key):
        cost += FULL_CADENCE
    if is_two_to_five(chord, following, key):
        cost += PREPARED
        if (chord.family is Family.HALF_DIMINISHED) != key.minor:
            cost += OUTSIDE / 4
    return cost


def is_five_after_four(before: ChordNotes, chord: ChordNotes, key: KeyNotes) -> bool:
    """True for a triad on V of a major key after IV or ii: the two name the key."""
    triad = chord.family is Family.MAJOR and chord.seventh is None and not key.minor
    prepared = before.place_in(key) == (2 if before.minor else 5)
    return triad and chord.place_in(key) == 7 and prepared and not before.silent


def is_two_to_five(chord: ChordNotes, following: ChordNotes, key: KeyNotes) -> bool:
    """True for a minor chord on II before a dominant seventh on V."""
    is_two = chord.minor and chord.place_in(key) == 2
    return is_two and following.dominant and following.place_in(key) == 7


def _leads(passage: Passage, key: KeyNotes) -> bool:
    """True for V and vii° of a minor key, and for IV7 that falls back to i.

    A triad on V leads only where it resolves.
    """
    chord, goal = passage.chord, passage.goal
    place = chord.place_in(key)
    if chord.seventh == 0:
        return False
    if place == 5:
        return chord.dominant and goal.rests_in(key)
    if place != 7 or chord.seventh is not None:
        return place in {7, 11}
    following = passage.following
    return goal.rests_in(key) or (following.dominant and following.place_in(key) == 7)


def rests_with_seventh(chord: ChordNotes, goal: ChordNotes, key: KeyNotes, *, blues: bool) -> bool:
    """True for a dominant seventh that is I or IV of a blues, or I and does not fall a fifth."""
    if not chord.dominant:
        return False
    place = chord.place_in(key)
    if blues and place in {0, 5}:
        return True
    falls = not goal.silent and chord.rise_to(goal) == 5
    return place == 0 and not key.minor and not falls


def _is_applied(passage: Passage, key: KeyNotes) -> bool:
    """True for a chord that leads on from outside the key."""
    _, chord, following, goal = passage
    if following.silent:
        return False
    if chord.dominant:
        flat_seven = chord.place_in(key) == 10 and goal.root == key.tonic
        to_its_two = chord.rise_to(following) == 0 and following.minor
        return chord.rise_to(goal) in {5, 11} or to_its_two or (flat_seven and not key.minor)
    if chord.family is Family.DIMINISHED:
        return chord.rise_to(following) in {0, 1, 11}
    if chord.minor and following.dominant and chord.rise_to(following) == 5:
        return True
    borrowed = chord.minor and chord.place_in(key) == 5 and not key.minor
    return borrowed and following.rests_in(key)


def opens_on_tonic(first: ChordNotes, second: ChordNotes, key: KeyNotes) -> bool:
    """True when the first chord is the tonic; a minor seventh that is II of a V7 is none."""
    return first.rests_in(key) and not goes_on_as_two(first, second)
