"""Is it a blues? And which scales colour one?

In a major blues I and IV carry a minor seventh and rest all the same; a minor blues stays
on i, iv and what leads to V. The blues scales of the home key lie over either: their notes
are played against any of its chords, the chord tones first.

Source: common practice, no source.
"""

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby, pairwise
from operator import attrgetter
from typing import NamedTuple

from halfstep.harmony.chord_in_key import degree_in, is_dominant, is_minor, is_tonic
from halfstep.harmony.scales import Scale, scale_over
from halfstep.progression.chart import Span
from halfstep.progression.key import Key
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

BLUES_BARS = frozenset({8, 12, 16, 24})
"""Lengths of the form in common use."""
AT_HOME_SHARE = 0.7
"""Of its time a minor blues spends at least so much on i, iv and V."""
_HOME_PLACES = frozenset({0, 5, 7})


class _BluesSound(NamedTuple):
    """What a blues asks of a chord: its root, as a pitch class, and its kind."""

    root: int
    dominant: bool
    family: Family


class _BluesTurns(NamedTuple):
    """What follows what in a chart, each counted.

    Attributes
    ----------
    first : _BluesSound
    sounds : Counter of _BluesSound
    triples : Counter of three _BluesSound
    roots : Counter of three int
        A root with the next two others, around the loop; of dominant sevenths alone.
    """

    first: _BluesSound
    sounds: Counter[_BluesSound]
    triples: Counter[tuple[_BluesSound, _BluesSound, _BluesSound]]
    roots: Counter[tuple[int, int, int]]

    def is_blues_on(self, root: int) -> bool:
        """True where I7 rests on a root more often than I, and IV7 comes back to it."""
        on_root = [(sound, count) for sound, count in self.sounds.items() if sound.root == root]
        sevenths = sum(count for sound, count in on_root if sound.dominant)
        majors = sum(count for sound, count in on_root if sound.family is Family.MAJOR)
        return 2 * sevenths > majors and (self._begins_on(root) or self._falls_back_to(root))

    def _begins_on(self, root: int) -> bool:
        """True where the chart begins on I7 and IV7 is no more often on its way elsewhere."""
        if not (self.first.dominant and self.first.root == root):
            return False
        flat_seven = (root + 10) % 12
        on_its_way = Counter[bool]()
        for (one, two, three), count in self.roots.items():
            if one == (root + 5) % 12:
                on_its_way[two == flat_seven and three != root] += count
        return on_its_way[True] <= on_its_way[False]

    def _falls_back_to(self, root: int) -> bool:
        """True where IV7 goes to I7 by way of ♯iv°, or directly."""
        one, four = (_BluesSound(place % 12, True, Family.MAJOR) for place in (root, root + 5))
        raised = _BluesSound((root + 6) % 12, False, Family.DIMINISHED)
        directly = self.first.root != four.root and any(
            (four, one) == triple[:2] for triple in self.triples
        )
        return directly or (four, raised, one) in self.triples


def blues_tonics(symbols: Sequence[ChordSymbol]) -> frozenset[int]:
    """The pitch classes on which the chords make a major blues.

    I and IV are dominant sevenths, I rests so more often than without its seventh, and the
    chart begins on I7 or falls back to it from IV7; one that begins on what would be IV7
    does so by way of ♯iv°. A circle of dominants that begins on I7 is none: its IV7 goes on
    to ♭VII, and not from there to I.
    """
    sounds = [_sound(symbol) for symbol in symbols if not symbol.silent]
    sevenths = {sound.root for sound in sounds if sound.dominant}
    tonics = {root for root in sevenths if (root + 5) % 12 in sevenths}
    return frozenset(filter(_turns(sounds).is_blues_on, tonics)) if tonics else frozenset()


def _turns(sounds: Sequence[_BluesSound]) -> _BluesTurns:
    groups = [(root, [*group]) for root, group in groupby(sounds, key=attrgetter("root"))]
    roots = [root for root, _ in groups]
    following = zip(groups, roots[1:] + roots[:1], roots[2:] + roots[:2], strict=True)
    return _BluesTurns(
        sounds[0],
        Counter(sounds),
        Counter(zip(sounds, sounds[1:], [*sounds[2:], sounds[0]], strict=False)),
        Counter(
            (root, two, three)
            for (root, group), two, three in following
            if any(sound.dominant for sound in group)
        ),
    )


@lru_cache(maxsize=1024)
def _sound(symbol: ChordSymbol) -> _BluesSound:
    return _BluesSound(symbol.root.pitch_class, is_dominant(symbol), symbol.family)


def is_minor_blues(spans: Sequence[Span], home: Key, *, bars: int) -> bool:
    """True for a minor key over a form of blues, at home on i, iv and V.

    It begins on i, and falls back to it from iv.
    """
    if not home.minor or bars not in BLUES_BARS or not is_tonic(spans[0].symbol, home):
        return False
    beats = sum(span.beats for span in spans if degree_in(span.symbol, home) in _HOME_PLACES)
    places = [degree_in(span.symbol, home) for span in spans if is_minor(span.symbol)]
    falls_back = (5, 0) in pairwise(places)
    return falls_back and beats >= AT_HOME_SHARE * float(spans[-1].end - spans[0].start)


def blues_scales(home: Key) -> tuple[Scale, ...]:
    """The scales that colour a blues: the minor one, and over a major home the major one."""
    labels = ("minor blues",) if home.minor else ("minor blues", "major blues")
    return tuple(scale_over(home.tonic, label) for label in labels)
