"""When are chords struck, and how hard? Figures dealt bar by bar, laid over the changes.

No place in the bar is struck in three bars running, and no bar has the strokes of the bar
before it, where the style has another figure that fits. A chord is struck on its beginning,
an eighth before (then it is the coming chord that sounds) or within a beat after.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from random import Random

from halfstep.backing.bar_layout import BEAT, BarLayout, ChordTimeline
from halfstep.backing.bass import attempts_at, choruses_differ
from halfstep.backing.chord_scales import PitchClasses
from halfstep.backing.figures import Dealer, FigureTable, bar_strokes, finest_grid
from halfstep.backing.voice_leading import LaidChord, voiced
from halfstep.backing.voicings import Hands, Voicing
from halfstep.meter import EIGHTH
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Span

_TRIES_A_BAR = 24
_SPREAD = 4
_ON_THE_BEAT, _BETWEEN = 1, -1


@dataclass(frozen=True, slots=True)
class CompingStyle:
    """What is a style's own in the chords.

    Attributes
    ----------
    program : int
        General MIDI, from 0.
    figures : mapping
        ``x`` is a stroke, ``X`` one that is leant on.
    velocity : int
        The middle of what is played.
    hands : Hands
        How chords are laid.
    """

    program: int
    figures: FigureTable
    velocity: int = 66
    hands: Hands = field(default_factory=Hands)


@dataclass(frozen=True, slots=True)
class ChordStroke:
    """A chord that is struck.

    Attributes
    ----------
    onset, beats : Fraction
    span : Span
        The chord that sounds, which may begin an eighth later.
    is_accented : bool
    """

    onset: Fraction
    beats: Fraction
    span: Span
    is_accented: bool = False


def chords_part(
    bars: Sequence[BarLayout],
    chords: ChordTimeline,
    scales: Sequence[PitchClasses],
    *,
    style: CompingStyle,
    random: Random,
    quarter_s: float = 0.5,
) -> PlayedPart:
    """The chords for a block of choruses, no two of them alike.

    Parameters
    ----------
    bars : sequence of BarLayout
    chords : ChordTimeline
    scales : sequence of frozenset of int
        The scale over each of the chords.
    style : CompingStyle
    random : Random
    quarter_s : float
        Seconds in a beat: what is too quick for a hand is left out.
    """
    finest = finest_grid(quarter_s)
    for _ in range(attempts_at(bars)):
        strokes = list(comped(bars, chords, style=style, finest=finest, random=random))
        notes = tuple(_notes(bars, chords, scales, strokes, style, random))
        if choruses_differ(bars, notes):
            break
    return PlayedPart("chords", style.program, False, notes)


def _notes(
    bars: Sequence[BarLayout],
    chords: ChordTimeline,
    scales: Sequence[PitchClasses],
    strokes: Sequence[ChordStroke],
    style: CompingStyle,
    random: Random,
) -> Iterator[PlayedNote]:
    scale_of = dict(zip(chords.starts, scales, strict=True))
    rows = _rows(bars, strokes)
    laid = [LaidChord(row[0].span.symbol, scale_of[row[0].span.start]) for row in rows]
    for row, notes in zip(rows, voiced(laid, hands=style.hands, random=random), strict=True):
        for stroke in row:
            yield from _struck(stroke, notes, style, random)


def _struck(
    stroke: ChordStroke, notes: Voicing, style: CompingStyle, random: Random
) -> Iterator[PlayedNote]:
    """The notes of a stroke; the top one, which is the melody, a little louder."""
    weight = _ON_THE_BEAT if stroke.onset.denominator == 1 else _BETWEEN
    accent = 5 if stroke.is_accented else 0
    jitter = random.randint(-_SPREAD, _SPREAD) + random.randint(-_SPREAD, _SPREAD)
    velocity = style.velocity + weight + accent + jitter
    for midi in notes:
        loudness = velocity + (3 if midi == notes[-1] else random.randint(-2, 1))
        yield PlayedNote(stroke.onset, stroke.beats, midi, loudness)


def _rows(bars: Sequence[BarLayout], strokes: Sequence[ChordStroke]) -> list[list[ChordStroke]]:
    """The strokes by what is laid anew: each chord, and each bar that it lasts."""
    rows: list[list[ChordStroke]] = []
    bar_ends = iter(bar.end for bar in bars)
    end = next(bar_ends)
    for stroke in strokes:
        sounds_in = max(stroke.onset, stroke.span.start)
        crossed = sounds_in >= end
        while sounds_in >= end:
            end = next(bar_ends)
        if rows and not crossed and rows[-1][0].span == stroke.span:
            rows[-1].append(stroke)
        else:
            rows.append([stroke])
    return rows


def comped(
    bars: Sequence[BarLayout],
    chords: ChordTimeline,
    *,
    style: CompingStyle,
    finest: Fraction,
    random: Random,
) -> Iterator[ChordStroke]:
    """Every stroke of the block on a grid, in order; none where no chord sounds."""
    dealer: Dealer[str] = Dealer(random)

    def dealt(bar: BarLayout) -> Iterator[_Mark]:
        for stroke in bar_strokes(bar, style.figures, dealer, plain=_PLAIN):
            if stroke.fits(bar, finest):
                yield _Mark(stroke.onset, stroke.beats, stroke.sign == "X")

    marks = [mark for bar in _chosen(bars, chords, dealt, random) for mark in bar]
    ends = [*(mark.onset for mark in marks[1:]), bars[-1].end]
    for mark, following in zip(marks, ends, strict=False):
        span = _sounding(mark, chords)
        if span is not None:
            end = min(mark.onset + mark.beats, following, span.end)
            yield ChordStroke(mark.onset, end - mark.onset, span, mark.is_accented)


@dataclass(frozen=True, slots=True)
class _Mark:
    """A stroke before it is known what sounds."""

    onset: Fraction
    beats: Fraction
    is_accented: bool


def _sounding(mark: _Mark, chords: ChordTimeline) -> Span | None:
    """The chord of a stroke: the coming one where that is no more than an eighth away."""
    span = chords.at(mark.onset)
    if _is_early(mark.onset, span.end, chords) and span is not chords.spans[-1]:
        coming = chords.after(span)
        if not coming.symbol.silent:
            return coming
    return None if span.symbol.silent else span


def _chosen(
    bars: Sequence[BarLayout],
    chords: ChordTimeline,
    dealt: Callable[[BarLayout], Iterator[_Mark]],
    random: Random,
) -> Iterator[list[_Mark]]:
    """The marks of each bar, unlike those of the two bars before it."""
    past = _Past()
    for bar in bars:
        offers = []
        for attempt in range(_TRIES_A_BAR):
            marks_dealt = dealt(bar)
            if attempt >= _TRIES_A_BAR // 2:
                marks_dealt = past.thinned(marks_dealt, bar)
            marks = _with_changes(bar, marks_dealt, chords, random, past)
            offers.append((past.monotony(marks, bar), marks))
            if not offers[-1][0]:
                break
        marks = min(offers, key=lambda offer: offer[0])[1]
        past = past.then(marks, bar, chords)
        yield marks


@dataclass(frozen=True, slots=True)
class _Past:
    """Where the two bars before were struck, and whether the coming chord sounds already."""

    before_last: frozenset[Fraction] = frozenset()
    last: frozenset[Fraction] = frozenset()
    is_pushed: bool = False

    @property
    def worn(self) -> frozenset[Fraction]:
        """Places in the bar that were struck in both."""
        return self.last & self.before_last

    def thinned(self, dealt: Iterator[_Mark], bar: BarLayout) -> Iterator[_Mark]:
        """The marks of a bar without those that would come a third time."""
        return (mark for mark in dealt if mark.onset - bar.start not in self.worn)

    def monotony(self, marks: Sequence[_Mark], bar: BarLayout) -> int:
        """How much a bar is like those before it."""
        struck = _places(marks, bar)
        return 2 * len(struck & self.worn) + (bool(struck) and struck == self.last)

    def then(self, marks: Sequence[_Mark], bar: BarLayout, chords: ChordTimeline) -> _Past:
        """The past of the bar after."""
        is_pushed = any(_is_early(mark.onset, bar.end, chords) for mark in marks[-1:])
        return _Past(self.last, _places(marks, bar), is_pushed)


def _places(marks: Sequence[_Mark], bar: BarLayout) -> frozenset[Fraction]:
    return frozenset(mark.onset - bar.start for mark in marks)


_PLAIN = ("x", ".")


def _with_changes(
    bar: BarLayout,
    dealt: Iterator[_Mark],
    chords: ChordTimeline,
    random: Random,
    past: _Past,
) -> list[_Mark]:
    """The marks of a bar with one for each new chord that they would miss."""
    marks = {mark.onset: mark for mark in dealt}
    for span in chords.within(bar.start, bar.end):
        is_heard = past.is_pushed and span.start == bar.start
        until = min(span.end, span.start + BEAT)
        if span.symbol.silent or is_heard:
            continue
        if not any(
            span.start <= onset < until or _is_early(onset, span.start, chords) for onset in marks
        ):
            entries = _entries(span, bar, chords)
            fresh = [entry for entry in entries if entry - bar.start not in past.worn]
            onset = random.choice(fresh or entries)
            marks[onset] = _Mark(onset, min(BEAT, span.beats), False)
    return [marks[onset] for onset in sorted(marks)]


def _is_early(onset: Fraction, start: Fraction, chords: ChordTimeline) -> bool:
    """True for a stroke that anticipates the chord that begins at ``start``."""
    return 0 < start - onset <= EIGHTH and chords.at(onset).start != onset


def _entries(span: Span, bar: BarLayout, chords: ChordTimeline) -> list[Fraction]:
    """Where a chord may come in: as it begins, an eighth before or after."""
    early, late = span.start - EIGHTH, span.start + EIGHTH
    entries = [span.start]
    if early > bar.start and early > chords.at(early).start:
        entries.append(early)
    if late < min(span.end, bar.end):
        entries.append(late)
    return entries
