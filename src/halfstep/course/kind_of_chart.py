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
    progression : int or None
        Which of the unit's progressions it is, with chords of whatever colour; None for another.
    tonic : int or None
        Where that one's C lies, on the cycle of fifths from C.
    """

    unit: CourseUnit
    likeness: float
    progression: int | None = None
    tonic: int | None = None


def kind_of_chart(chart: Chart, course: Course) -> ChartKind | None:
    """The unit of a course that a chart belongs to; None for a chart unlike them all."""
    profile = _profile(chart)
    if profile is None:
        return None
    kinds = [
        _kind(profile, unit, place, other)
        for unit, place, other in _course_profiles(course)
        if other.metre == profile.metre
    ]
    best = max(kinds, key=_by_likeness, default=None)
    if best is None or (profile.metre == _COMMON_TIME and best.likeness < ALIKE):
        return None
    progressions = (k for k in kinds if k.unit is best.unit and k.progression is not None)
    return max(progressions, key=_by_likeness, default=best)._replace(likeness=best.likeness)


def _kind(profile: _Profile, unit: CourseUnit, place: int, other: _Profile) -> ChartKind:
    """What a chart would be as one progression of a unit."""
    likeness = _likeness(profile, other)
    if not _is_played(other.outline, profile.outline):
        return ChartKind(unit, likeness)
    fifths = 7 * (profile.root - other.root)
    return ChartKind(unit, likeness, place, (fifths + 5) % 12 - 5)


def _by_likeness(kind: ChartKind) -> float:
    return kind.likeness


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
    root : int
        The pitch class of its first root.
    outline : tuple
        Of all its chords, however often they are played: how far the root lies from the first, and
        how long it sounds.
    """

    metre: tuple[int, int]
    shape: tuple[tuple[object, ...], ...]
    steps: Steps
    beats: float
    root: int
    outline: tuple[tuple[object, ...], ...]


@lru_cache(maxsize=4)
def _course_profiles(course: Course) -> tuple[tuple[CourseUnit, int, _Profile], ...]:
    """Each progression of a course: its unit, its place in that, its profile."""
    profiles = (
        (unit, place, _profile(chart))
        for unit in course.units
        for place, chart in enumerate(unit_charts(unit))
    )
    return tuple((unit, place, profile) for unit, place, profile in profiles if profile)


def _profile(chart: Chart) -> _Profile | None:
    """The profile of a chart; None without a chord."""
    sounding = [span for span in spans(chart) if not span.symbol.silent]
    if not sounding:
        return None
    rows = _rows(sounding)
    shape = tuple(rows[: _period(rows)])
    return _Profile(
        metre=(chart.meter.count, chart.meter.unit),
        shape=shape,
        steps=_steps(sounding),
        beats=float(sum(span.beats for span in sounding[: len(shape)])),
        root=sounding[0].symbol.root.pitch_class,
        outline=tuple((rise, beats) for rise, _, _, beats in rows),
    )


# The same chords


def _rows(sounding: Sequence[Span]) -> list[tuple[object, ...]]:
    """Each chord in any key."""
    first = sounding[0].symbol.root.pitch_class
    return [
        (
            (span.symbol.root.pitch_class - first) % 12,
            span.symbol.quality,
            _bass(span.symbol),
            span.beats,
        )
        for span in sounding
    ]


def _is_played(part: tuple[object, ...], whole: tuple[object, ...]) -> bool:
    """Whether the whole is the part once, or several times."""
    return bool(part) and whole == part * (len(whole) // len(part))


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
