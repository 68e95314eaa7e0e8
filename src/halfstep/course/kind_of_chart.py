"""To which unit of a course does a chart belong? By its root motions, chord qualities and metre.

A chart that is one of the course's progressions, in any key and played as often as one likes, is
of that unit. Any other is held against each progression: both are seen as steps from chord to
chord (how far the root goes, from what kind of chord to what kind), around the loop too, weighted
by how long they take. What two charts share of these is how alike they are, less where one is much
longer than the other. In three, five or seven the metre is the kind, and the chords only say
which of the units in it.

Source: common practice, no source; the bounds were chosen on the course itself, each progression
held against the others (`tests/course/test_kind_of_chart.py`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from halfstep.course.unit import Course, CourseUnit
from halfstep.pitch import Degree
from halfstep.progression.chart import Chart, Span, spans
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

ALIKE = 0.45
"""How alike a chart and a progression must be, 0 to 1."""
LONGER = 0.25
"""How much it counts that one is longer: the power of the ratio of their lengths."""
_COMMON_TIME = (4, 4)
_MINOR = {Family.MINOR: "minor", Family.HALF_DIMINISHED: "half-diminished"}

Steps = dict[tuple[int, str, str], float]
"""How much of each step from chord to chord: semitones up to the next root, and the kinds."""


class ChartKind(NamedTuple):
    """Which unit a chart belongs to.

    Attributes
    ----------
    unit : CourseUnit
    likeness : float
        1 for a progression of the unit itself.
    """

    unit: CourseUnit
    likeness: float


def kind_of_chart(chart: Chart, course: Course) -> ChartKind | None:
    """The unit of a course that a chart belongs to; None for a chart unlike them all."""
    profile = _profile(chart)
    if profile is None:
        return None
    kinds = [
        ChartKind(unit, _likeness(profile, other))
        for unit, other in _course_profiles(course)
        if other.metre == profile.metre
    ]
    best = max(kinds, key=lambda kind: kind.likeness, default=None)
    is_kind = best is not None and (profile.metre != _COMMON_TIME or best.likeness >= ALIKE)
    return best if is_kind else None


def unit_charts(unit: CourseUnit) -> tuple[Chart, ...]:
    """The progressions of a unit as they are played, in its home key."""
    return tuple(played(read_sheet_text(item.chart)) for item in unit.progressions)


class _Profile(NamedTuple):
    """What of a chart is held against others.

    Attributes
    ----------
    metre : (int, int)
        However it is grouped.
    shape : tuple
        Its chords in any key: once through, however often they are played.
    steps : Steps
        As shares of the time, which add up to 1.
    beats : float
        How long it is, once through.
    """

    metre: tuple[int, int]
    shape: tuple[tuple[object, ...], ...]
    steps: Steps
    beats: float


@lru_cache(maxsize=4)
def _course_profiles(course: Course) -> tuple[tuple[CourseUnit, _Profile], ...]:
    profiles = ((unit, _profile(chart)) for unit in course.units for chart in unit_charts(unit))
    return tuple((unit, profile) for unit, profile in profiles if profile)


def _profile(chart: Chart) -> _Profile | None:
    """The profile of a chart; None without a chord."""
    sounding = [span for span in spans(chart) if not span.symbol.silent]
    if not sounding:
        return None
    shape = _shape(sounding)
    beats = float(sum(span.beats for span in sounding[: len(shape)]))
    metre = chart.meter.count, chart.meter.unit
    return _Profile(metre, shape, _steps(sounding), beats)


# The same chords


def _shape(sounding: Sequence[Span]) -> tuple[tuple[object, ...], ...]:
    first = sounding[0].symbol.root.pitch_class
    rows = [
        (
            (span.symbol.root.pitch_class - first) % 12,
            span.symbol.quality,
            _bass(span.symbol),
            span.beats,
        )
        for span in sounding
    ]
    return tuple(rows[: _period(rows)])


def _bass(symbol: ChordSymbol) -> int | None:
    """Semitones from the root up to the bass; None for none."""
    bass = symbol.bass
    return None if bass is None else (bass.pitch_class - symbol.root.pitch_class) % 12


def _period(rows: Sequence[object]) -> int:
    """How many come before all begins again."""
    count = len(rows)
    lengths = (n for n in range(1, count + 1) if count % n == 0)
    return next(n for n in lengths if list(rows[:n]) * (count // n) == list(rows))


# Like chords


def _likeness(profile: _Profile, other: _Profile) -> float:
    """How alike two charts are, 0 to 1."""
    if profile.shape == other.shape:
        return 1.0
    shares = ((share, other.steps.get(step, 0.0)) for step, share in profile.steps.items())
    lengths = sorted((profile.beats, other.beats))
    return sum(map(min, shares)) * float((lengths[0] / lengths[1]) ** LONGER)


def _steps(sounding: Sequence[Span]) -> Steps:
    beats = float(sum(span.beats for span in sounding))
    steps: Steps = defaultdict(float)
    for span, following in pairwise((*sounding, sounding[0])):
        rise = (following.symbol.root.pitch_class - span.symbol.root.pitch_class) % 12
        kinds = chord_kind(span.symbol), chord_kind(following.symbol)
        steps[rise, *kinds] += float(span.beats) / beats
    return steps


def chord_kind(symbol: ChordSymbol) -> str:
    """What kind of chord it is, its colours aside: major, minor, dominant and so on.

    >>> from halfstep.progression.symbol import parse_symbol
    >>> [chord_kind(parse_symbol(text)) for text in ("C6", "Cm9", "C13", "Cm7b5", "C7sus4", "C°7")]
    ['major', 'minor', 'dominant', 'half-diminished', 'suspended', 'diminished']
    """
    if symbol.family in {Family.SUS4, Family.SUS2}:
        return "suspended"
    if symbol.family in _MINOR:
        return _MINOR[symbol.family]
    if symbol.family is Family.DIMINISHED:
        return "diminished"
    return "dominant" if symbol.seventh == Degree(7, -1) else "major"
