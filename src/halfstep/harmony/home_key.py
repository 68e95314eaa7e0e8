"""Which key explains a whole chart best?

What a chord costs in a key counts by the time that it lasts, so a chart played twice has
the same home; the share of the time at rest on the tonic counts as well, and where the
chart begins and ends. Between equal keys the one with fewer accidentals wins.

Sums are rounded once, so that no order of adding decides between equal keys.

Source: common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from itertools import pairwise
from math import fsum
from operator import mul
from typing import NamedTuple, TypeVar

from halfstep.harmony.key_costs import (
    MINOR_MADE_MAJOR,
    OUTSIDE,
    CandidateKeys,
    ChordNotes,
    KeyNotes,
    Row,
    blues_keys,
    chord_notes,
    every_key,
    is_five,
    is_two_to_five,
    key_costs,
    opens_on_tonic,
    rests_with_seventh,
)
from halfstep.harmony.local_keys import local_keys
from halfstep.harmony.modes import modal_home, modes_of_their_own
from halfstep.progression.chart import Span
from halfstep.progression.key import Key, key_of
from halfstep.progression.quality import Family

AT_HOME = -0.7
"""For a chart that rests on the tonic of its home key all the time; its share of it for less."""
BEGINS = -0.15
"""For a home key on whose tonic the chart begins."""
ENDS, ENDS_CADENCE = -0.1, -0.2
"""For one on whose tonic it ends, and where its dominant leads there."""
MINOR_HOME = 0.2
"""For a minor home key: its chords are those of the relative major."""
FRAME = -0.2
"""For the local key in which a chart both begins and ends, the one or the other on its tonic."""
ABSENT = 3.0
"""For a home key on whose tonic the chart never rests, nor points to by II and V."""
ACCIDENTAL = 0.001
"""For each accidental of its signature."""

Thing = TypeVar("Thing", bound=Hashable)

Pair = tuple[ChordNotes, ChordNotes]
"""A chord and the next one."""


def home_key(spans: Sequence[Span]) -> Key:
    """The one key or mode that explains a whole chart best; C major where no chord sounds.

    Where each chord has a mode of its own, that of the first.
    """
    played = [span for span in spans if not span.symbol.silent]
    if not played:
        return key_of(0)
    modes = modes_of_their_own(played)
    modal = modes[0] if modes else modal_home(played)
    return modal or _home_in_key(played)


def _home_in_key(played: Sequence[Span]) -> Key:
    symbols, beats = [span.symbol for span in played], [float(span.beats) for span in played]
    offered = every_key()
    course = _course([chord_notes(symbol) for symbol in symbols], beats)
    chord_costs = _mean_costs(key_costs(symbols, offered), beats)
    blues = blues_keys(symbols, offered)
    regions = _region_costs(played, offered)
    costs = [
        chord_cost + region_cost + _home_cost(course, key, is_blues=is_blues)
        for chord_cost, region_cost, key, is_blues in zip(
            chord_costs, regions, offered.notes, blues, strict=True
        )
    ]
    return offered.keys[costs.index(min(costs))]


def _region_costs(spans: Sequence[Span], offered: CandidateKeys) -> list[float]:
    """What the local keys say for each home: whether they begin and end in it."""
    path = local_keys(spans, None, candidate_keys=offered)
    ends = chord_notes(spans[0].symbol), chord_notes(spans[-1].symbol)
    return [
        FRAME * (path[0] == key == path[-1] and _framed(ends, notes))
        for key, notes in zip(offered.keys, offered.notes, strict=True)
    ]


def _framed(ends: Pair, key: KeyNotes) -> bool:
    """True where the first or the last chord is the tonic, and neither that of the parallel key."""
    on_tonic = [chord for chord in ends if chord.root == key.tonic]
    return bool(on_tonic) and all(chord.rests_in(key) for chord in on_tonic)


def _mean_costs(rows: Sequence[Row], beats: Sequence[float]) -> list[float]:
    """For each key the mean of what the chords cost in it, by how long they last."""
    weights = _beats_of(rows, beats)
    total = fsum(beats)
    columns = zip(*weights, strict=True)
    return [fsum(map(mul, column, weights.values())) / total for column in columns]


def _beats_of(things: Iterable[Thing], beats: Iterable[float]) -> dict[Thing, float]:
    """How long each different thing lasts in all."""
    sums: dict[Thing, float] = defaultdict(float)
    for thing, length_beats in zip(things, beats, strict=True):
        sums[thing] += length_beats
    return sums


class _Course(NamedTuple):
    """What follows what in a chart, and for how long.

    Attributes
    ----------
    first, second, penultimate, last : ChordNotes
        All the same where there is but one.
    neighbours : frozenset of Pair
        The pairs from first to last.
    shares : dict of Pair to float
        For how much of the time a chord lasts before its next; the first follows the last.
    last_share : float
        For how much of it the last chord lasts where it ends the chart.
    """

    first: ChordNotes
    second: ChordNotes
    penultimate: ChordNotes
    last: ChordNotes
    neighbours: frozenset[Pair]
    shares: dict[Pair, float]
    last_share: float


def _course(chords: Sequence[ChordNotes], beats: Sequence[float]) -> _Course:
    total = fsum(beats)
    lengths = _beats_of(pairwise([*chords, chords[0]]), beats)
    return _Course(
        first=chords[0],
        second=chords[1 % len(chords)],
        penultimate=chords[-2 % len(chords)],
        last=chords[-1],
        neighbours=frozenset(pairwise(chords)),
        shares={pair: length_beats / total for pair, length_beats in lengths.items()},
        last_share=beats[-1] / total,
    )


def _home_cost(course: _Course, key: KeyNotes, *, is_blues: bool) -> float:
    """What its tonic, wherever it is played, says for a home key."""
    blues = is_blues and course.first.dominant and course.first.root == key.tonic
    begins = blues or opens_on_tonic(course.first, course.second, key)
    share = fsum(share for pair, share in course.shares.items() if _rests(*pair, key, blues=blues))
    ends = _rests(course.last, course.first, key, blues=blues)
    cost = ACCIDENTAL * abs(key.fifths) + MINOR_HOME * key.minor
    if begins and key.minor and course.last.root == key.tonic and not ends:
        # a minor chart may end with a major third
        ends, share = True, share + course.last_share
        cost -= (OUTSIDE + MINOR_MADE_MAJOR) * course.last_share
    cost += AT_HOME * share + BEGINS * begins
    cost += (ENDS_CADENCE if is_five(course.penultimate, key) else ENDS) * ends
    return cost + ABSENT * (not begins and not share and not _is_pointed_to(course, key))


def _rests(chord: ChordNotes, following: ChordNotes, key: KeyNotes, *, blues: bool) -> bool:
    """True for the tonic, for I7 that does not fall a fifth, and for I7 and IV7 of a blues."""
    return chord.rests_in(key) or rests_with_seventh(chord, following, key, blues=blues)


def _is_pointed_to(course: _Course, key: KeyNotes) -> bool:
    """True when II and V of the key follow each other."""
    return any(
        is_two_to_five(two, five, key) and (two.family is Family.HALF_DIMINISHED) == key.minor
        for two, five in course.neighbours
    )
