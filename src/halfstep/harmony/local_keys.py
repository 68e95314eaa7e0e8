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

from halfstep.harmony.chord_in_key import is_tonic
from halfstep.harmony.key_costs import (
    CandidateKeys,
    Row,
    chord_notes,
    every_key,
    key_costs,
    opens_on_tonic,
)
from halfstep.progression.chart import Span
from halfstep.progression.key import Key, key_of
from halfstep.progression.symbol import ChordSymbol

START = -0.6
"""For a path that begins with the tonic of its first key."""
LONG, LONG_BEATS = 2.0, 4.0
"""A chord of more beats than the second weighs more, up to the first of them times as much:
there is time to hear what is outside the key."""
MOVE = 1.6
"""For leaving a key, and a little more for each fifth between the signatures."""
MOVE_FIFTH = 0.06
AWAY = 0.25
"""For each chord outside the home key."""
AWAY_AT_START = 0.5
"""For a start outside the home key, in moves, where the first chord is not the home tonic:
a chart that does not begin on its tonic may well begin on its way home."""
_ROUNDING = 1e-9
"""More than sums of costs can be wrong by."""


def local_keys(
    spans: Sequence[Span], home: Key, *, candidate_keys: CandidateKeys | None = None
) -> tuple[Key, ...]:
    """The key of each chord: the cheapest path from the home key, found exactly.

    Parameters
    ----------
    spans : sequence of Span
        At least one.
    home : Key
    candidate_keys : CandidateKeys, optional
        All thirty keys unless given.

    Returns
    -------
    tuple of Key
        One for each span.
    """
    offered = candidate_keys or every_key()
    if home not in offered.keys:  # the scales of a church mode are those of its signature
        home = key_of(home.fifths)
    symbols = [span.symbol for span in spans]
    away = [AWAY * (key != home) for key in offered.keys]
    rows = _weighed(key_costs(symbols, offered), spans, away)
    start = _with_start(next(rows), symbols, home, offered)
    path = cheapest_places(start, rows, move_costs(offered))
    return tuple(offered.keys[place] for place in path)


def _weighed(rows: Sequence[Row], spans: Sequence[Span], away: Sequence[float]) -> Iterator[Row]:
    """The rows with what it costs to be away from home, by how long each chord lasts."""
    for row, span in zip(rows, spans, strict=True):
        weight = min(max(float(span.beats) / LONG_BEATS, 1.0), LONG)
        yield tuple([(cost + far) * weight for cost, far in zip(row, away, strict=True)])


def _with_start(row: Row, symbols: Sequence[ChordSymbol], home: Key, offered: CandidateKeys) -> Row:
    """The first row with what it costs, or is worth, to begin there."""
    if home in offered.keys:
        weight = 1.0 if is_tonic(symbols[0], home) else AWAY_AT_START
        moves = move_costs(offered)[offered.keys.index(home)]
        row = tuple([cost + weight * move for cost, move in zip(row, moves, strict=True)])
    first, second = chord_notes(symbols[0]), chord_notes(symbols[1 % len(symbols)])
    return tuple(
        cost + START * opens_on_tonic(first, second, key)
        for cost, key in zip(row, offered.notes, strict=True)
    )


@lru_cache(maxsize=8)
def move_costs(offered: CandidateKeys) -> tuple[Row, ...]:
    """What it costs to go from one key to another, the same both ways; 0 for staying."""
    places = range(len(offered.notes))
    fifths = [key.fifths for key in offered.notes]
    return tuple(
        tuple([0.0 if a == b else MOVE + MOVE_FIFTH * abs(fifths[a] - fifths[b]) for b in places])
        for a in places
    )


def cheapest_places(start: Row, rows: Iterable[Row], moves: Sequence[Row]) -> list[int]:
    """The path of least total cost, as a place in each row; of equal costs the first.

    Parameters
    ----------
    start : Row
        Costs of the first step by place.
    rows : iterable of Row
        Costs of each further step.
    moves : sequence of Row
        What it costs to go from one place to another, the same both ways: 0 for staying,
        else at least `MOVE`.
    """
    spread = max(0.0, max(map(max, moves)) - MOVE) + _ROUNDING
    totals: list[Row] = [start]
    for row in rows:
        totals.append(tuple(map(add, _reached(totals[-1], moves, spread), row)))
    place = _first_least(totals.pop())
    path = [place]
    for total in reversed(totals):
        place = _first_least(tuple(map(add, total, moves[place])))
        path.append(place)
    return path[::-1]


def _reached(total: Row, moves: Sequence[Row], spread: float) -> Iterable[float]:
    """The least total with which each place is reached from any.

    Nothing is gained by leaving a place that costs more than the cheapest one by all that
    moves differ: few are left to look at.
    """
    least = min(total)
    left = [
        [cost + move for move in moves[place]]
        for place, cost in enumerate(total)
        if cost <= least + spread
    ]
    return map(min, total, *left)


def _first_least(costs: Row) -> int:
    return costs.index(min(costs))
