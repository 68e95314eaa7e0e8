"""In which key is each chord? The path of local keys that explains the most.

Every chord is judged against the candidate keys; a move between keys costs more than a
passing chromatic chord, and the path with the least total cost is found exactly.

Conventions
-----------
- A stated key pulls the path towards it but does not forbid leaving it.
- Of two keys that cost the same, the earlier candidate is taken.

Source: common practice, no source. The path is found as in Viterbi 1967.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from operator import add

from halfstep.harmony.key_costs import (
    CandidateKeys,
    Row,
    blues_keys,
    chord_notes,
    key_costs,
    keys_with,
    opens_on_tonic,
)
from halfstep.progression.chart import Span
from halfstep.progression.key import Key
from halfstep.progression.symbol import ChordSymbol

START = -0.6
"""For a path that begins with the tonic of its first key."""
LONG, LONG_BEATS = 2.0, 4.0
"""A chord of more beats than the second weighs more, up to the first of them times as much:
there is time to hear what is outside the key."""
MOVE = 2.5
"""For leaving a key within a phrase: more than a visit by one II and V saves."""
MOVE_FIFTH = 0.06
"""For each fifth between the signatures, beside it."""
SECTION, SECTION_BARS = 0.6, 8
PHRASE, PHRASE_BARS = 0.85, 4
"""A move costs so much of it where a section or a phrase of so many bars begins."""
CLOSES = -0.5
"""For the tonic as the last chord of a section."""
MOST = 3.0
"""The most that a chord costs by its length, less than to leave a key for it and come back."""
AWAY = 0.02
"""For each chord outside the home key."""
AWAY_AT_START = 0.5
"""For a start outside the home key, in moves, where the first chord is not the home tonic:
a chart that does not begin on its tonic may well begin on its way home."""
_ROUNDING = 1e-9
"""More than sums of costs can be wrong by."""


def local_keys(
    spans: Sequence[Span], home: Key | None, *, candidate_keys: CandidateKeys | None = None
) -> tuple[Key, ...]:
    """The key of each chord: the cheapest path from the home key, found exactly.

    Parameters
    ----------
    spans : sequence of Span
        At least one.
    home : Key or None
        None where it is not known: the path then begins anywhere.
    candidate_keys : CandidateKeys, optional
        All thirty keys, and the home key in its mode, unless given.

    Returns
    -------
    tuple of Key
        One for each span.
    """
    offered = candidate_keys or keys_with(home)
    symbols = [span.symbol for span in spans]
    away = [AWAY * (home is not None and key != home) for key in offered.keys]
    first, *rows = _closed(
        _weighed(key_costs(symbols, offered, home=home), spans, away), spans, offered
    )
    start = _with_start(first, symbols, home, offered)
    around = rows if home is None else [*rows, first]  # the end leads back to the top
    moves = [move_cost(span) for span in (*spans[1:], spans[0])]
    path = cheapest_places(start, around, moves[: len(around)], distances(offered))
    return tuple(offered.keys[place] for place in path[: len(spans)])


def _weighed(rows: Sequence[Row], spans: Sequence[Span], away: Sequence[float]) -> Iterator[Row]:
    """The rows with what it costs to be away from home; what is outside a key, by its length."""
    for row, span in zip(rows, spans, strict=True):
        weight = min(max(float(span.beats) / LONG_BEATS, 1.0), LONG)
        yield tuple(
            [max(cost, min(cost * weight, MOST)) + far for cost, far in zip(row, away, strict=True)]
        )


def _closed(rows: Iterator[Row], spans: Sequence[Span], offered: CandidateKeys) -> Iterator[Row]:
    """The rows with what it is worth to end a section on the tonic."""
    for row, span, following in zip(rows, spans, (*spans[1:], None), strict=True):
        if following is None or _begins(following, SECTION_BARS):
            yield tuple(map(add, row, _closing(span.symbol, offered)))
        else:
            yield row


@lru_cache(maxsize=1024)
def _closing(symbol: ChordSymbol, offered: CandidateKeys) -> Row:
    chord = chord_notes(symbol)
    return tuple([CLOSES * chord.rests_in(key) for key in offered.notes])


def _begins(span: Span, bars: int) -> bool:
    """True for a chord with which a group of so many bars begins."""
    return span.at == 0 and (span.bar - 1) % bars == 0


def _with_start(
    row: Row, symbols: Sequence[ChordSymbol], home: Key | None, offered: CandidateKeys
) -> Row:
    """The first row with what it costs, or is worth, to begin there."""
    first, second = chord_notes(symbols[0]), chord_notes(symbols[1 % len(symbols)])
    opens = [opens_on_tonic(first, second, key) for key in offered.notes]
    if home and home in offered.keys:
        place = offered.keys.index(home)
        in_blues = first.dominant and first.root == home.tonic.pitch_class
        at_home = opens[place] or (in_blues and blues_keys(symbols, offered)[place])
        weight = 1.0 if at_home else AWAY_AT_START
        moves = [MOVE * (n != place) + far for n, far in enumerate(distances(offered)[place])]
        row = tuple([cost + weight * move for cost, move in zip(row, moves, strict=True)])
    return tuple([cost + START * is_open for cost, is_open in zip(row, opens, strict=True)])


@lru_cache(maxsize=8)
def distances(offered: CandidateKeys) -> tuple[Row, ...]:
    """What the way from one key to another costs beside the move, the same both ways."""
    fifths = [key.fifths for key in offered.notes]
    return tuple(tuple([MOVE_FIFTH * abs(one - two) for two in fifths]) for one in fifths)


def move_cost(span: Span) -> float:
    """What a move costs where a chord begins, beside how far it goes."""
    if _begins(span, SECTION_BARS):
        return SECTION * MOVE
    return PHRASE * MOVE if _begins(span, PHRASE_BARS) else MOVE


def cheapest_places(
    start: Row, rows: Iterable[Row], moves: Sequence[float], distances: Sequence[Row]
) -> list[int]:
    """The path of least total cost, as a place in each row; of equal costs the first.

    Parameters
    ----------
    start : Row
        Costs of the first step by place.
    rows : iterable of Row
        Costs of each further step.
    moves : sequence of float
        What it costs to leave a place before each further step; over 0.
    distances : sequence of Row
        What it costs beside that to go from one place to another, the same both ways.
    """
    spread = max(map(max, distances)) + _ROUNDING
    totals: list[Row] = [start]
    for row, move in zip(rows, moves, strict=True):
        totals.append(tuple(map(add, _reached(totals[-1], move, distances, spread), row)))
    path = [_first_least(totals.pop())]
    for total, move in zip(reversed(totals), reversed(moves), strict=True):
        path.append(_source(total, move, distances[path[-1]], path[-1]))
    return path[::-1]


def _reached(total: Row, move: float, distances: Sequence[Row], spread: float) -> Iterable[float]:
    """The least total with which each place is reached from any.

    Nothing is gained by leaving a place that costs more than the cheapest one by all that
    distances differ: few are left to look at.
    """
    least = min(total)
    left = [
        [cost + move + far for far in distances[place]]
        for place, cost in enumerate(total)
        if cost <= least + spread
    ]
    return map(min, total, *left)


def _source(total: Row, move: float, distances: Row, place: int) -> int:
    """The place from which another is reached at the least cost."""
    costs = [cost + move + far for cost, far in zip(total, distances, strict=True)]
    costs[place] = total[place]
    return _first_least(costs)


def _first_least(costs: Sequence[float]) -> int:
    return costs.index(min(costs))
