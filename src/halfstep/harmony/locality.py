"""In which key is each chord? The path of local keys that explains the most.

Every chord is judged against 30 spelled keys (signatures of seven flats to seven
sharps, major and minor); the path with the least total cost is found exactly. A chord
costs what it has outside the key, a move between keys costs more than a passing
chromatic chord, and cadences are rewarded.

Conventions
-----------
- Costs have no unit; only their sum matters. The table of them stands first.
- A stated key pulls the path towards it but does not forbid leaving it.
- Spelling counts: a chart in G♭ is not explained by F♯.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

import numpy as np

from halfstep.harmony.tones import chord_tones
from halfstep.pitch import Degree, Name, name_at, parse_degrees, shown_alteration
from halfstep.progression.chart import Span
from halfstep.progression.key import Key, key_of
from halfstep.progression.symbol import ChordSymbol, Family

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
START = -0.6
"""For a local path that begins with the tonic of its first key."""
LONG, LONG_BEATS = 2.0, 4.0
"""A chord of more beats than the second weighs more, up to the first of them times as much:
there is time to hear what is outside the key."""
MOVE = 1.6
"""For leaving a key, and a little more for each fifth between the signatures."""
MOVE_FIFTH = 0.06
AWAY = 0.25
"""For each chord outside the home key."""
AT_HOME = -0.7
"""For a chart that rests on the tonic of its home key all the time; its share of it for less."""
BEGINS = -0.15
"""For a home key on whose tonic the chart begins."""
ENDS = -0.1
"""For one on whose tonic it ends."""
MINOR_HOME = 0.2
"""For a minor home key: its chords are those of the relative major."""
ABSENT = 3.0
"""For a home key on whose tonic the chart never rests, nor points to by II and V."""
MINOR_MADE_MAJOR = 1.0
"""For a chord with a major third on the tonic of a minor key."""

KEYS: tuple[Key, ...] = tuple(
    key_of(fifths, minor=minor) for minor in (False, True) for fifths in range(-7, 8)
)


@lru_cache(maxsize=64)
def _key_names(key: Key) -> tuple[frozenset[int], frozenset[int]]:
    """The key's notes on the line of fifths, and as pitch classes."""
    formula = "1 2 b3 4 5 b6 b7" if key.minor else "1 2 3 4 5 6 7"
    names = [key.tonic + degree.interval for degree in parse_degrees(formula)]
    return frozenset(n.fifths for n in names), frozenset(n.pitch_class for n in names)


_FLAT_SEVENTH = Degree(7, -1)
_MAJOR_SEVENTH = Degree(7)
_LEADING = {7, 11}
"""Roots, in semitones over the tonic, whose chords lead to a minor tonic."""


def _leads(symbol: ChordSymbol, following: ChordSymbol, key: Key) -> bool:
    """True for V and vii° of a minor key; a triad on V leads only where it resolves."""
    place = degree_in(symbol, key)
    if symbol.seventh == _MAJOR_SEVENTH:
        return False
    if place != 7 or symbol.seventh:
        return place in _LEADING
    return is_tonic(following, key) or (is_dominant(following) and degree_in(following, key) == 7)


def _raised(names: Sequence[Name], key: Key) -> list[Name]:
    """The notes among ``names`` that are the raised sixth or seventh of a minor key."""
    raised = {(key.tonic.pitch_class + semitones) % 12 for semitones in (9, 11)}
    return [name for name in names if name.pitch_class in raised]


def is_dominant(symbol: ChordSymbol) -> bool:
    """True for a chord with a major third (or fourth) and a minor seventh."""
    return symbol.family in {Family.MAJOR, Family.SUS4} and symbol.seventh == _FLAT_SEVENTH


def is_minor(symbol: ChordSymbol) -> bool:
    """True for a chord with a minor third."""
    return symbol.family in {Family.MINOR, Family.HALF_DIMINISHED, Family.DIMINISHED}


def falls_a_fifth(symbol: ChordSymbol, following: ChordSymbol) -> bool:
    """True when the next root lies a perfect fifth below, however spelled."""
    if symbol.silent or following.silent:
        return False
    return (following.root.pitch_class - symbol.root.pitch_class) % 12 == 5


def is_tonic(symbol: ChordSymbol, key: Key) -> bool:
    """True for the key's own chord; a dominant seventh is none."""
    if symbol.silent or symbol.root.pitch_class != key.tonic.pitch_class:
        return False
    if key.minor:
        return symbol.family is Family.MINOR
    return symbol.family is Family.MAJOR and not is_dominant(symbol)


def rests_as_seventh(symbol: ChordSymbol, following: ChordSymbol, key: Key) -> bool:
    """True for a dominant seventh on a major tonic that does not fall a fifth."""
    on_one = is_dominant(symbol) and degree_in(symbol, key) == 0 and not key.minor
    return on_one and not falls_a_fifth(symbol, following)


def degree_in(symbol: ChordSymbol, key: Key) -> int:
    """Semitones from the tonic up to the chord's root, 0 to 11."""
    return (symbol.root.pitch_class - key.tonic.pitch_class) % 12


def _chord_cost(
    before: ChordSymbol, symbol: ChordSymbol, following: ChordSymbol, key: Key, *, blues: bool
) -> float:
    """What the chord costs in the key, seeing where it comes from and goes."""
    if symbol.silent:
        return 0.0
    spelled, sounding = _key_names(key)
    names = [tone.name for tone in chord_tones(symbol) if tone.degree.number <= 9]
    outside = sum(name.pitch_class not in sounding for name in names)
    misspelled = sum(name.fifths not in spelled for name in names) - outside
    cost = OUTSIDE * outside + MISSPELLED * misspelled
    if is_tonic(symbol, key):
        cost += TONIC
    place = degree_in(symbol, key)
    turned_major = key.minor and place == 0 and not is_minor(symbol)
    if key.minor and (_leads(symbol, following, key) or is_tonic(symbol, key)):
        # the raised sixth and seventh of a minor key are at home on i, V and vii°
        cost -= OUTSIDE * len(_raised(names, key))
    if _is_applied(symbol, following, key):
        cost = min(cost, APPLIED + MISSPELLED * misspelled)
    if is_dominant(symbol):
        if (blues and place in {0, 5}) or rests_as_seventh(symbol, following, key):
            cost = min(cost, BLUES + MISSPELLED * misspelled)
    if place == 7 and is_dominant(symbol):
        cost = min(cost, MISSPELLED * misspelled)
        cost += _cadence_cost(before, following, key, blues=blues)
    if place == 2 and is_minor(symbol) and degree_in(following, key) == 7:
        if is_dominant(following):
            cost += PREPARED
            if (symbol.family is Family.HALF_DIMINISHED) != key.minor:
                cost += OUTSIDE / 2
    return cost + MINOR_MADE_MAJOR * turned_major


def _is_applied(symbol: ChordSymbol, following: ChordSymbol, key: Key) -> bool:
    """True for a chord that leads to the next one from outside the key."""
    if following.silent:
        return False
    rise = (following.root.pitch_class - symbol.root.pitch_class) % 12
    place = degree_in(symbol, key)
    if is_dominant(symbol):
        flat_seven = place == 10 and degree_in(following, key) == 0
        to_its_two = rise == 0 and is_minor(following)
        return rise in {5, 11} or to_its_two or (flat_seven and not key.minor)
    if symbol.family is Family.DIMINISHED:
        return rise in {0, 1, 11}
    borrowed = place == 5 and is_minor(symbol) and not key.minor
    flat_seven = is_dominant(following) and degree_in(following, key) == 10
    return borrowed and (flat_seven or is_tonic(following, key))


def _cadence_cost(before: ChordSymbol, following: ChordSymbol, key: Key, *, blues: bool) -> float:
    """What is granted to V7 between its neighbours."""
    cost = 0.0
    resolves = is_tonic(following, key)
    if resolves:
        cost += CADENCE
    elif blues and not following.silent and degree_in(following, key) == 0:
        cost += CADENCE / 2
    if resolves and is_minor(before) and degree_in(before, key) == 2:
        cost += FULL_CADENCE
    return cost


def _cost_table(
    symbols: Sequence[ChordSymbol],
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Costs by chord and key."""
    before, following = [symbols[-1], *symbols[:-1]], [*symbols[1:], symbols[0]]
    blues = tuple(is_blues(symbols, key) for key in KEYS)
    return np.array([_row(*three, blues) for three in zip(before, symbols, following, strict=True)])


@lru_cache(maxsize=8192)
def _row(
    before: ChordSymbol, symbol: ChordSymbol, following: ChordSymbol, blues: tuple[bool, ...]
) -> tuple[float, ...]:
    """What a chord costs in each key, between its neighbours."""
    return tuple(
        _chord_cost(before, symbol, following, key, blues=is_blue)
        for key, is_blue in zip(KEYS, blues, strict=True)
    )


def home_key(spans: Sequence[Span]) -> Key:
    """The one key that explains a whole chart best.

    What a chord costs counts by the time that it lasts, so a chart played twice has the
    same home; the share of the time at rest on the tonic counts as well, and where the
    chart begins and ends. Between equal keys the one with fewer accidentals wins.
    """
    played = [span for span in spans if not span.symbol.silent]
    if not played:
        return KEYS[7]
    symbols = [span.symbol for span in played]
    beats = np.array([float(span.beats) for span in played])
    share = beats / beats.sum()
    total = share @ _cost_table(symbols)
    total += [_home_cost(symbols, share, key) for key in KEYS]
    return KEYS[int(np.argmin(total))]


def _home_cost(
    symbols: Sequence[ChordSymbol], share: np.ndarray[tuple[int], np.dtype[np.float64]], key: Key
) -> float:
    """What its tonic, wherever it is played, says for a home key."""
    blues = _opens_blues(symbols, key)
    begins = blues or _opens(symbols, key)
    rests = [_rests(*pair, key, blues=blues) for pair in pairwise([*symbols, symbols[0]])]
    cost = 0.001 * abs(key.fifths) + MINOR_HOME * key.minor
    if begins and key.minor and degree_in(symbols[-1], key) == 0 and not rests[-1]:
        rests[-1] = True  # a minor chart may end with a major third
        cost -= (OUTSIDE + MINOR_MADE_MAJOR) * float(share[-1])
    cost += AT_HOME * float(share @ rests) + BEGINS * begins + ENDS * rests[-1]
    return cost + ABSENT * (not begins and not any(rests) and not _is_pointed_to(symbols, key))


def _rests(symbol: ChordSymbol, following: ChordSymbol, key: Key, *, blues: bool) -> bool:
    """True for the tonic, for I7 that does not fall a fifth, and for I7 and IV7 of a blues."""
    if blues and is_dominant(symbol) and degree_in(symbol, key) in {0, 5}:
        return True
    return is_tonic(symbol, key) or rests_as_seventh(symbol, following, key)


def _opens_blues(symbols: Sequence[ChordSymbol], key: Key) -> bool:
    """True when the chart begins with I7 and has IV7 as well."""
    first = symbols[0]
    return is_dominant(first) and degree_in(first, key) == 0 and is_blues(symbols, key)


def _opens(symbols: Sequence[ChordSymbol], key: Key) -> bool:
    """True when the first chord is the tonic; a minor seventh that is II of a V7 is none."""
    first, second = symbols[0], symbols[1 % len(symbols)]
    is_two = first.seventh == _FLAT_SEVENTH and is_minor(first) and is_dominant(second)
    return is_tonic(first, key) and not (is_two and falls_a_fifth(first, second))


def _is_pointed_to(symbols: Sequence[ChordSymbol], key: Key) -> bool:
    """True when II and V of the key follow each other."""
    return any(
        is_minor(two)
        and degree_in(two, key) == 2
        and (two.family is Family.HALF_DIMINISHED) == key.minor
        and is_dominant(five)
        and degree_in(five, key) == 7
        for two, five in pairwise(symbols)
    )


def is_blues(symbols: Sequence[ChordSymbol], key: Key) -> bool:
    """True when both I and IV of a major key are dominant sevenths."""
    places = {degree_in(symbol, key) for symbol in symbols if is_dominant(symbol)}
    return not key.minor and {0, 5} <= places


def _start_weight(symbols: Sequence[ChordSymbol], home: Key) -> float:
    """What a start outside the home key costs, in moves.

    A chart that does not begin on its tonic may well begin on its way home.
    """
    return 1.0 if is_tonic(symbols[0], home) else 0.5


def local_keys(spans: Sequence[Span], home: Key) -> tuple[Key, ...]:
    """The key of each chord: the cheapest path from the home key, found exactly.

    Returns
    -------
    tuple of Key
        One for each span.
    """
    symbols = [span.symbol for span in spans]
    if home not in KEYS:  # the scales of a church mode are those of its signature
        home = key_of(home.fifths)
    stay = np.clip([float(span.beats) / LONG_BEATS for span in spans], 1.0, LONG)
    costs = (_cost_table(symbols) + AWAY * np.array([key != home for key in KEYS])) * stay[:, None]
    moves = np.array(
        [
            [0.0 if a == b else MOVE + MOVE_FIFTH * abs(a.fifths - b.fifths) for b in KEYS]
            for a in KEYS
        ]
    )
    best = costs[0]
    if home in KEYS:
        best = best + _start_weight(symbols, home) * moves[KEYS.index(home)]
    best = best + START * np.array([_opens(symbols, key) for key in KEYS])
    came_from = []
    for row in costs[1:]:
        reach = best[:, None] + moves
        came_from.append(reach.argmin(axis=0))
        best = reach.min(axis=0) + row
    path = [int(best.argmin())]
    for sources in reversed(came_from):
        path.append(int(sources[path[-1]]))
    return tuple(KEYS[index] for index in reversed(path))


_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")


def numeral_of(root: Name, key: Key) -> str:
    """The degree the root is spelled as; one past ♭V or ♯VI is named by its sound.

    >>> numeral_of(Name(0, 1), KEYS[7]), numeral_of(Name(1, -1), KEYS[7])
    ('♯I', '♭II')
    """
    away = root.fifths - key.tonic.fifths
    if not -6 <= away <= 10:
        away = (away + 5) % 12 - 5
    degree = name_at(away)
    return shown_alteration(degree.alteration) + _ROMAN[degree.letter]


def numeral(symbol: ChordSymbol, key: Key) -> str:
    """The chord's roman numeral in the key, small for a minor third.

    >>> from halfstep.progression.symbol import parse_symbol
    >>> numeral(parse_symbol("Dm7"), KEYS[7])
    'ii7'
    """
    if symbol.silent:
        return "N.C."
    text = numeral_of(symbol.root, key)
    if is_minor(symbol):
        text = text.lower()
    quality = "" if symbol.family is Family.MINOR else symbol.quality_text
    return text + quality + symbol.extension_text
