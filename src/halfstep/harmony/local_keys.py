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

from collections.abc import Iterable, Sequence
from functools import lru_cache
from operator import add

from halfstep.harmony.key_costs import CandidateKeys, Row, opens_on_tonic
from halfstep.harmony.key_table import SECTION_BARS, KeyTable, begins, key_table
from halfstep.progression.chart import Span
from halfstep.progression.key import Key

START = -0.6
"""For a path that begins with the tonic of its first key."""
MOVE = 2.5
"""For leaving a key within a phrase: more than a visit by one II and V saves."""
MOVE_FIFTH = 0.06
"""For each fifth between the signatures, beside it."""
SECTION = 0.6
PHRASE, PHRASE_BARS = 0.85, 4
"""A move costs so much of it where a section or a phrase of so many bars begins."""
HOME = -0.02
"""For each chord in the home key."""
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
        All thirty keys, and the home key in its mode, unless given.

    Returns
    -------
    tuple of Key
        One for each span.
    """
    return keys_from_home(key_table(spans, home=home, candidate_keys=candidate_keys), home)


def keys_from_home(table: KeyTable, home: Key) -> tuple[Key, ...]:
    """The key of each chord on the cheapest path that begins at home and comes back to it.

    A home key that is not among those offered pulls nowhere.
    """
    rows, start = table.weighed, _opened(table)
    if home in table.offered.keys:
        place = table.offered.keys.index(home)
        rows = tuple([(*row[:place], row[place] + HOME, *row[place + 1 :]) for row in rows])
        start = _from_home(start, table, place)
    return _cheapest_keys(table, start, (*rows[1:], rows[0]))  # the end leads back to the top


def keys_without_home(table: KeyTable) -> tuple[Key, ...]:
    """The key of each chord on the cheapest path, wherever that begins and ends."""
    return _cheapest_keys(table, _opened(table), table.weighed[1:])


def _cheapest_keys(table: KeyTable, start: Row, rows: Sequence[Row]) -> tuple[Key, ...]:
    spans, offered = table.spans, table.offered
    moves = [move_cost(span) for span in (*spans[1:], spans[0])]
    path = cheapest_places(start, rows, moves[: len(rows)], distances(offered))
    return tuple(offered.keys[place] for place in path[: len(spans)])


def _opened(table: KeyTable) -> Row:
    """The first row with what it is worth to begin on the tonic."""
    opens = zip(table.weighed[0], _opens(table), strict=True)
    return tuple([cost + START * is_open for cost, is_open in opens])


def _opens(table: KeyTable) -> list[bool]:
    first, second = table.chords[0], table.chords[1 % len(table.chords)]
    return [opens_on_tonic(first, second, key) for key in table.offered.notes]


def _from_home(start: Row, table: KeyTable, place: int) -> Row:
    """The first row with what it costs to begin away from home, which has that place in it."""
    first, home = table.chords[0], table.offered.notes[place]
    in_blues = table.blues[place] and first.dominant and first.root == home.tonic
    weight = 1.0 if in_blues or _opens(table)[place] else AWAY_AT_START
    far = distances(table.offered)[place]
    at_home = start[place] + HOME
    moves = [cost + weight * (MOVE + way) for cost, way in zip(start, far, strict=True)]
    return (*moves[:place], at_home, *moves[place + 1 :])


@lru_cache(maxsize=8)
def distances(offered: CandidateKeys) -> tuple[Row, ...]:
    """What the way from one key to another costs beside the move, the same both ways."""
    fifths = [key.fifths for key in offered.notes]
    return tuple(tuple([MOVE_FIFTH * abs(one - two) for two in fifths]) for one in fifths)


def move_cost(span: Span) -> float:
    """What a move costs where a chord begins, beside how far it goes."""
    if begins(span, SECTION_BARS):
        return SECTION * MOVE
    return PHRASE * MOVE if begins(span, PHRASE_BARS) else MOVE


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
