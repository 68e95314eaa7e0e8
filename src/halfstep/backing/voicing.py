"""What do the hands play, and when? Chords in three or four notes, near each other.

A voicing holds the third (or what stands for it) and the seventh or sixth, then the
colours the symbol names, then fifth and root where notes are wanting. The root is
otherwise left to the bass. Among the ways to lay those tones between C3 and C5 the
search takes the ones that move least from chord to chord and back to the first.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, product
from random import Random

from halfstep.backing.bar_layout import BEAT, BarLayout, ChordTimeline
from halfstep.harmony.tones import chord_degrees
from halfstep.loop_search import Weighed, cheapest_loop
from halfstep.meter import EIGHTH
from halfstep.pitch import Degree
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Span
from halfstep.progression.symbol import ChordSymbol

LOW, HIGH = 48, 72
"""C3 to C5, as MIDI numbers."""

Voicing = tuple[int, ...]
"""MIDI numbers, lowest first."""

_MOST_TONES = 4
_FEWEST_TONES = 3
_MIDDLE = 60
_WIDEST_GAP = 9
_KEPT = 16  # voicings of a chord that the search looks at, the best placed ones
_ALTERED_COLOURS = (Degree(13, -1), Degree(9, 1))


def voiced_degrees(symbol: ChordSymbol) -> tuple[Degree, ...]:
    """The degrees that are played for a symbol, at most four; none for silence.

    >>> from halfstep.progression.symbol import parse_symbol
    >>> [str(degree) for degree in voiced_degrees(parse_symbol("C13"))]
    ['3', '♭7', '13', '9']
    """
    degrees = list(chord_degrees(symbol))
    if symbol.alt:
        degrees += _ALTERED_COLOURS
    ranked = sorted(degrees, key=lambda degree: (_rank(degree, symbol), -degree.number))
    needed = [degree for degree in ranked if _rank(degree, symbol) < _FIFTH_RANK]
    wanted = max(_FEWEST_TONES, len(needed))
    if symbol.bass and symbol.bass != symbol.root:
        wanted += 1  # the bass has left the root, so a hand takes it
    chosen: dict[int, Degree] = {}
    for degree in ranked[: min(wanted, _MOST_TONES)]:
        chosen.setdefault(degree.semitones, degree)
    return tuple(chosen.values())


_FIFTH_RANK, _ROOT_RANK = 3, 4


def _rank(degree: Degree, symbol: ChordSymbol) -> int:
    """How much a chord needs a degree; 0 most."""
    if degree.number in {2, 3, 4}:
        return 0
    if degree.number in {6, 7}:
        return 1
    if degree.number > 7 or degree in symbol.altered:
        return 2
    if degree.number == 5:
        return 2 if degree.alteration else _FIFTH_RANK
    return _ROOT_RANK


def voicings(symbol: ChordSymbol) -> list[Weighed[Voicing]]:
    """Every way to lay a chord's tones in the range, the best placed first, with its cost."""
    classes = [(symbol.root + d.interval).pitch_class for d in voiced_degrees(symbol)]
    options = [[midi for midi in range(LOW, HIGH + 1) if midi % 12 == c] for c in classes]
    laid = {tuple(sorted(notes)) for notes in product(*options)}
    weighed = sorted(((notes, _lay_cost(notes)) for notes in laid), key=lambda w: (w[1], w[0]))
    return weighed[:_KEPT]


def _lay_cost(notes: Voicing) -> float:
    """What speaks against a voicing by itself: its place, wide gaps, clusters, mud."""
    gaps = [above - below for below, above in pairwise(notes)]
    place = abs(sum(notes) / len(notes) - _MIDDLE) * 0.5
    wide = 6.0 * sum(gap > _WIDEST_GAP for gap in gaps)
    clusters = 3.0 * sum(gap == 1 for gap in gaps) + 4.0 * sum(gap <= 2 for gap in gaps[1:][-1:])
    mud = 3.0 * (gaps[0] < 3 and notes[0] < 53) if gaps else 0.0
    return place + wide + clusters + mud


def motion(old: Voicing, new: Voicing) -> float:
    """Semitones the voices move, each of the fuller chord to its nearest place."""
    if len(old) == len(new):
        return float(sum(abs(a - b) for a, b in zip(old, new, strict=True)))
    few, many = sorted((old, new), key=len)
    return float(sum(min(abs(a - b) for b in few) for a in many))


def voiced(chords: ChordTimeline) -> dict[Span, Voicing]:
    """A voicing for each chord that sounds, by the least motion."""
    sounding = [span for span in chords.spans if not span.symbol.silent]
    layers = [voicings(span.symbol) for span in sounding]
    path = cheapest_loop(layers, lambda _n, a, b: motion(a, b))
    return dict(zip(sounding, path, strict=True))


Stroke = tuple[Fraction, Fraction]
"""Onset and length in beats."""

Rhythm = tuple[Stroke, ...]
"""The strokes of a bar."""


@dataclass(frozen=True, slots=True)
class CompingStyle:
    """What is a style's own in the chords.

    Attributes
    ----------
    program : int
        General MIDI, from 0.
    velocity : int
        The middle of what is played.
    rhythms : callable
        The rhythms that fit a bar that is counted in quarters or longer.
    """

    program: int
    velocity: int
    rhythms: Callable[[BarLayout], list[Rhythm]]


def chords_part(
    bars: Sequence[BarLayout], chords: ChordTimeline, *, style: CompingStyle, random: Random
) -> PlayedPart:
    """The chords for one chorus."""
    laid = voiced(chords)
    notes = []
    for onset, beats in comped(bars, chords, style=style, random=random):
        span = chords.at(onset)
        if span in laid:
            velocity = style.velocity + random.randint(-4, 4)
            notes += [PlayedNote(onset, beats, midi, velocity) for midi in laid[span]]
    return PlayedPart("chords", style.program, False, tuple(notes))


def comped(
    bars: Sequence[BarLayout], chords: ChordTimeline, *, style: CompingStyle, random: Random
) -> Iterator[Stroke]:
    """When chords are struck: a rhythm for each bar, and every change within a beat."""
    last: Rhythm = ()
    for bar in bars:
        fitting = _in_eighths(bar) if bar.meter.unit > 4 else style.rhythms(bar)
        rhythms = [rhythm for rhythm in fitting if _moved(rhythm, bar) != last]
        rhythm = random.choice(rhythms or fitting)
        last = _moved(rhythm, bar)
        yield from _with_changes(rhythm, bar, chords)


def _moved(rhythm: Sequence[Stroke], bar: BarLayout) -> Rhythm:
    """A rhythm counted from its bar, so that bars can be compared."""
    return tuple((onset - bar.start, beats) for onset, beats in rhythm)


def _with_changes(rhythm: Rhythm, bar: BarLayout, chords: ChordTimeline) -> Iterator[Stroke]:
    """The rhythm with a stroke for each new chord that it would miss, none held across."""
    onsets = dict(rhythm)
    for span in chords.within(bar.start, bar.end):
        if not any(span.start <= onset < min(span.end, span.start + BEAT) for onset in onsets):
            onsets[span.start] = min(BEAT, span.beats)
    placed = sorted(onsets)
    for onset, following in zip(placed, [*placed[1:], bar.end], strict=True):
        end = min(onset + onsets[onset], following, chords.at(onset).end)
        yield onset, end - onset


def _in_eighths(bar: BarLayout) -> list[Rhythm]:
    """Metres counted in eighths or shorter: held, group by group, or lifted."""
    return [_held(bar), _by_groups(bar), *_lifted(bar)]


def even_rhythms(bar: BarLayout) -> list[Rhythm]:
    """Held chords, one to a group, or one that comes again an eighth before its group ends."""
    return [_held(bar), _charleston(bar), _by_groups(bar), *_lifted(bar)]


def off_beat_rhythms(bar: BarLayout) -> list[Rhythm]:
    """Chords between the beats of the groups, late ones, and held ones."""
    first = bar.groups[0]
    after = tuple(
        (group.start + BEAT, EIGHTH) for group in bar.groups if group.start + BEAT < bar.end
    )
    pushed = first.end - EIGHTH
    late = ((pushed, BEAT),) if len(bar.groups) > 1 else ((first.start + BEAT, EIGHTH),)
    held = _held(bar)
    return [
        _charleston(bar), after or held, late if late[0][0] < bar.end else held, held,
        *_lifted(bar),
    ]  # fmt: skip


def _held(bar: BarLayout) -> Rhythm:
    return ((bar.start, bar.beats),)


def _by_groups(bar: BarLayout) -> Rhythm:
    return tuple((group.start, min(BEAT, group.beats)) for group in bar.groups)


def _charleston(bar: BarLayout) -> Rhythm:
    """A chord on the bar's start and one an eighth before its first group ends."""
    first = bar.groups[0]
    if first.beats <= BEAT:
        return _held(bar)
    return (first.start, BEAT), (first.end - EIGHTH, EIGHTH)


def _lifted(bar: BarLayout) -> list[Rhythm]:
    """A chord on the bar's start and a short one that lifts out of its last group."""
    last = bar.groups[-1]
    lift = last.end - EIGHTH
    if lift <= bar.start:
        return []
    return [((bar.start, min(BEAT, lift - bar.start)), (lift, EIGHTH))]
