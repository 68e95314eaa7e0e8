"""Which key explains a whole chart best?

What a chord costs in a key counts by the time that it lasts, so a chart played twice has
the same home; the share of the time at rest on the tonic counts as well, and where the
chart begins and ends. Between equal keys the one with fewer accidentals wins.

Sums are rounded once, so that no order of adding decides between equal keys.

Source: common practice, no source.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from itertools import groupby, pairwise
from math import fsum
from operator import mul
from typing import NamedTuple, TypeVar

from halfstep.harmony.key_costs import (
    MINOR_MADE_MAJOR,
    OUTSIDE,
    ChordNotes,
    KeyNotes,
    goes_on_as_two,
    is_five,
    is_two_to_five,
    opens_on_tonic,
    rests_with_seventh,
)
from halfstep.harmony.key_table import KeyTable, key_table
from halfstep.harmony.local_keys import keys_without_home
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
CLOSE, CLOSE_SHARE = -0.1, 0.25
"""For the key of the last cadence where a chart goes on from there to its top, so late in it."""
FRAME = -0.2
"""For the local key in which a chart both begins and ends, the one or the other on its tonic."""
STAYS = -0.2
"""For the tonic whose local keys, major and minor, are those of the whole chart; its share of
it for less."""
NEVER = 0.2
"""For a tonic in whose keys it never is: the mean of two keys is the home of neither."""
RAISED, RAISED_BARS = frozenset({1, 2}), 8
"""A chart whose end is so many semitones higher, for so many bars, is in the key before."""
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
    return home_in(key_table(spans)) if spans else key_of(0)


def home_in(table: KeyTable) -> Key:
    """The same, from what its chords cost in each key."""
    played = [span for span in table.spans if not span.symbol.silent]
    if not played:
        return key_of(0)
    modes = modes_of_their_own(played)
    modal = modes[0] if modes else modal_home(played)
    return modal or _home_in_key(table)


def _home_in_key(table: KeyTable) -> Key:
    path = keys_without_home(table)
    raised = _raised_from(table.spans, path)
    if raised:
        return home_key(table.spans[:raised])
    course = _course(table)
    costs = [
        chord_cost + region_cost + _home_cost(course, key, is_blues=is_blues)
        for chord_cost, region_cost, key, is_blues in zip(
            _mean_costs(table),
            _region_costs(table, path, course),
            table.offered.notes,
            table.blues,
            strict=True,
        )
    ]
    return table.offered.keys[costs.index(min(costs))]


def _raised_from(spans: Sequence[Span], path: Sequence[Key]) -> int | None:
    """The first chord of an end that is the beginning's key a half or a whole step higher."""
    runs = [(key, len(list(run))) for key, run in groupby(path)]
    (last, count), earlier = runs[-1], [key for key, _ in runs[:-1]]
    if not earlier or last in earlier or earlier[0] != earlier[-1]:
        return None
    rise = (last.tonic.pitch_class - earlier[0].tonic.pitch_class) % 12
    first = len(spans) - count
    long = spans[-1].bar - spans[first].bar + 1 >= RAISED_BARS
    return first if long and rise in RAISED and last.minor == earlier[0].minor else None


def _region_costs(table: KeyTable, path: Sequence[Key], course: "_Course") -> list[float]:
    """What the local keys say for each home, however spelled: do they stay, begin and end there?"""
    sounds = [(key.tonic.pitch_class, key.minor) for key in path]
    beats = _beats_of([tonic for tonic, _ in sounds], [float(span.beats) for span in table.spans])
    total = fsum(beats.values())
    frame = sounds[0] if sounds[0] == sounds[-1] else None
    ends = course.first, course.last
    return [
        (STAYS * beats[key.tonic] / total if key.tonic in beats else NEVER)
        + FRAME * ((key.tonic, key.minor) == frame and _framed(ends, key))
        for key in table.offered.notes
    ]


def _framed(ends: Pair, key: KeyNotes) -> bool:
    """True where the first or the last chord is the tonic, and neither that of the parallel key."""
    on_tonic = [chord for chord in ends if chord.root == key.tonic]
    return bool(on_tonic) and all(chord.rests_in(key) for chord in on_tonic)


def _mean_costs(table: KeyTable) -> list[float]:
    """For each key the mean of what the chords cost in it, by how long they last."""
    beats = [float(span.beats) * (not span.symbol.silent) for span in table.spans]
    weights = _beats_of(table.costs, beats)
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
    """What follows what in a chart, and for how long; silence is left out.

    Attributes
    ----------
    first, second, penultimate, last : ChordNotes
        All the same where there is but one.
    shares : dict of int to dict of Pair to float
        For each root, for how much of the time a chord on it lasts before its next; the
        first follows the last.
    last_share : float
        For how much of it the last chord lasts where it ends the chart.
    pointing : tuple of Pair
        A minor chord and the dominant a fifth below it, which point to a key.
    close : ChordNotes or None
        The tonic of the last cadence, where that comes late.
    """

    first: ChordNotes
    second: ChordNotes
    penultimate: ChordNotes
    last: ChordNotes
    shares: dict[int, dict[Pair, float]]
    last_share: float
    pointing: tuple[Pair, ...]
    close: ChordNotes | None


def _course(table: KeyTable) -> _Course:
    sounding = [
        (chord, float(span.beats))
        for chord, span in zip(table.chords, table.spans, strict=True)
        if not chord.silent
    ]
    chords, beats = [chord for chord, _ in sounding], [length for _, length in sounding]
    total = fsum(beats)
    lengths = _beats_of(pairwise([*chords, chords[0]]), beats)
    shares: dict[int, dict[Pair, float]] = defaultdict(dict)
    for pair, length_beats in lengths.items():
        shares[pair[0].root][pair] = length_beats / total
    return _Course(
        first=chords[0],
        second=chords[1 % len(chords)],
        penultimate=chords[-2 % len(chords)],
        last=chords[-1],
        shares=shares,
        last_share=beats[-1] / total,
        pointing=tuple(pair for pair in set(pairwise(chords)) if _is_two_to_a_five(*pair)),
        close=_close(chords, beats),
    )


def _is_two_to_a_five(two: ChordNotes, five: ChordNotes) -> bool:
    return two.minor and five.dominant and two.rise_to(five) == 5


def _close(chords: Sequence[ChordNotes], beats: Sequence[float]) -> ChordNotes | None:
    """The tonic of the last cadence where that comes late in the chart."""
    left = CLOSE_SHARE * fsum(beats)
    following = [*chords[1:], chords[0]]
    for place in range(len(chords) - 1, 0, -1):
        left -= beats[place]
        if left < 0:
            return None
        if _closes(chords[place - 1], chords[place], following[place]):
            return chords[place]
    return None


def _closes(five: ChordNotes, chord: ChordNotes, following: ChordNotes) -> bool:
    """True for a tonic after V or its tritone substitute, in whatever key."""
    rests = chord.rests_in_major or chord.rests_in_minor
    if not rests or goes_on_as_two(chord, following):
        return False
    rise = five.rise_to(chord)
    if five.dominant:
        return rise in {5, 11}
    triad = five.family is Family.MAJOR and five.seventh is None and chord.rests_in_minor
    leads = five.family in {Family.DIMINISHED, Family.HALF_DIMINISHED}
    return (triad and rise == 5) or (leads and rise == 1)


def _home_cost(course: _Course, key: KeyNotes, *, is_blues: bool) -> float:
    """What its tonic, wherever it is played, says for a home key."""
    blues = is_blues and course.first.dominant and course.first.root == key.tonic
    begins = blues or opens_on_tonic(course.first, course.second, key)
    share = _share_at_rest(course, key, blues=blues)
    ends = _rests(course.last, course.first, key, blues=blues)
    cost = ACCIDENTAL * abs(key.fifths) + MINOR_HOME * key.minor
    if begins and key.minor and course.last.root == key.tonic and not ends:
        # a minor chart may end with a major third
        ends, share = True, share + course.last_share
        cost -= (OUTSIDE + MINOR_MADE_MAJOR) * course.last_share
    cost += AT_HOME * share + BEGINS * begins
    if ends:
        cost += ENDS_CADENCE if is_five(course.penultimate, key) else ENDS
    elif course.close and course.close.rests_in(key):
        cost += CLOSE
    return cost + ABSENT * (not begins and not share and not _is_pointed_to(course, key))


def _share_at_rest(course: _Course, key: KeyNotes, *, blues: bool) -> float:
    """For how much of the time the chart rests on the tonic, or on IV7 of a blues."""
    roots = (key.tonic, (key.tonic + 5) % 12) if blues else (key.tonic,)
    return fsum(
        share
        for root in roots
        for pair, share in course.shares.get(root, {}).items()
        if _rests(*pair, key, blues=blues)
    )


def _rests(chord: ChordNotes, following: ChordNotes, key: KeyNotes, *, blues: bool) -> bool:
    """True for the tonic, for I7 that does not fall a fifth, and for I7 and IV7 of a blues."""
    return chord.rests_in(key) or rests_with_seventh(chord, following, key, blues=blues)


def _is_pointed_to(course: _Course, key: KeyNotes) -> bool:
    """True when II and V of the key follow each other."""
    return any(
        is_two_to_five(two, five, key) and (two.family is Family.HALF_DIMINISHED) == key.minor
        for two, five in course.pointing
    )
