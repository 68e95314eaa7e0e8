"""What does a call meet where it is played back? Bars, and the notes that fit there too.

A call is heard over its own chords and played back over those of the bars that follow it, so
its notes belong to both. Where two bars at a time leave too few such notes, one bar is played
and one is left; where nothing fits at all, the teacher is told.

Conventions
-----------
- A note fits a chord as one of its tones, or as a note of its scale that does not lie a half
  step above a tone of the arpeggio.
- Bars are called by their numbers in the form.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

import numpy as np

from halfstep.etude.calls import CALL_BARS, call_bars, fitting_back, plays_back, rubbing
from halfstep.etude.costs import Amounts
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice, notice_of_each
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.palette import Flags, Midis, Palette
from halfstep.etude.rules import palette_at
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoticesOf
from halfstep.harmony.analysis import AnalysedChord, Analysis

Classes = frozenset[int]
EVERY_CLASS: Classes = frozenset(range(12))
ENOUGH = 2
"""Notes, octaves aside, that a call needs to move at all."""
MOST_CALLS = 256
"""Chords of calls whose notes are kept."""
CallBars = Callable[[Analysis], set[int]]


def fitting_classes(chord: AnalysedChord) -> Classes:
    """Pitch classes that fit a chord; all of them where there is none."""
    if chord.silent:
        return EVERY_CLASS
    tones = {tone.name.pitch_class for tone in chord.tones}
    rubbing = {(tone.name.pitch_class + 1) % 12 for tone in chord.core}
    return frozenset(tones | (set(chord.scale.pitch_classes) - rubbing))


def answers(played: set[int], bars: int) -> dict[int, int]:
    """The bar in which each bar that is played is played back, where one is left for it.

    >>> answers({1, 2, 5}, 6), answers({1, 2}, 3)
    ({1: 3, 2: 4, 5: 6}, {1: 3})
    """
    backs: dict[int, int] = {}
    for number in sorted(played):
        first = next(n for n in range(number, 0, -1) if n - 1 not in played)
        stop = next(n for n in range(number, bars + 2) if n not in played)
        back = number + stop - first
        if back <= bars and not played & set(range(stop, back + 1)):
            backs[number] = back
    return backs


def calls_by_twos(analysis: Analysis) -> set[int]:
    """The bars that are played, two of every four."""
    return call_bars(len(analysis.chart.form))


def calls_that_fit(analysis: Analysis) -> set[int]:
    """The bars that are played: two of every four, or every other one where that fits better."""
    played = calls_by_twos(analysis)
    for first in _split_groups(analysis):
        played = played - {first + 1} | {first + 2}
    return played


def _split_groups(analysis: Analysis) -> Iterator[int]:
    """The first bars of groups in which one bar at a time fits better than two."""
    size = 2 * CALL_BARS
    chart = _ChordsInTime(analysis)
    for first in range(1, len(analysis.chart.form) - size + 2, size):
        both = min(_shared(chart, n, n + CALL_BARS) for n in (first, first + 1))
        if both < ENOUGH and both < min(_shared(chart, n, n + 1) for n in (first, first + 2)):
            yield first


def _shared(chart: _ChordsInTime, stated: int, back: int) -> int:
    """The fewest notes that fit both a chord in a bar and one where that is played back."""
    start, end = chart.bounds[stated]
    later = chart.bounds[back][0] - start
    counts = [
        len(chart.fitting[place] & chart.fitting[over])
        for low, high, place in chart.sounding(start, end)
        for _, _, over in chart.sounding(low + later, high + later)
    ]
    return min(counts, default=ENOUGH)


class _ChordsInTime:
    """The chords of a chart by their places, and where its bars begin and end.

    Attributes
    ----------
    bounds : dict of int to (Fraction, Fraction)
        Where each bar begins and ends, in beats, by its number.
    fitting : list of frozenset of int
        The pitch classes that fit each chord.
    """

    def __init__(self, analysis: Analysis) -> None:
        placed = analysis.chart.placed()
        self.bounds = {bar.number: (start, start + bar.beats) for bar, start in placed}
        self.fitting = [fitting_classes(chord) for chord in analysis.chords]
        self._chords = analysis.chords
        self._starts = [chord.span.start for chord in analysis.chords]

    def sounding(self, start: Fraction, end: Fraction) -> Iterator[tuple[Fraction, Fraction, int]]:
        """The places of the chords between two beats, each with its part of the time.

        Silence is none.
        """
        first = max(0, bisect_right(self._starts, start) - 1)
        for place in range(first, bisect_left(self._starts, end)):
            chord = self._chords[place]
            low, high = max(start, chord.span.start), min(end, chord.span.end)
            if low < high and not chord.silent:
                yield low, high, place


class _Echoes(_ChordsInTime):
    """Where notes are played back, and what fits there."""

    def __init__(self, analysis: Analysis, played: set[int]) -> None:
        super().__init__(analysis)
        self._backs = answers(played, len(analysis.chart.form))
        self._numbers = list(self.bounds)
        self._bar_starts = [start for start, _ in self.bounds.values()]

    def bar(self, onset: Fraction) -> int:
        """The number of the bar that a note begins in."""
        return self._numbers[bisect_right(self._bar_starts, onset) - 1]

    def places(self, onset: Fraction, beats: Fraction) -> list[int]:
        """The chords that a note meets where it is played back; none where it is not."""
        number = self.bar(onset)
        if number not in self._backs:
            return []
        start, end = self.bounds[self._backs[number]]
        at = onset - self.bounds[number][0] + start
        return [place for _, _, place in self.sounding(at, min(end, at + beats))]


def with_echoes(slots: Sequence[Slot], analysis: Analysis, played: set[int]) -> list[Slot]:
    """The slots, each with the pitch classes that fit where it is played back."""
    echoes = _Echoes(analysis, played)
    marked = []
    for slot in slots:
        over = echoes.places(slot.onset, slot.beats) if slot.palette else []
        classes = EVERY_CLASS.intersection(*(echoes.fitting[place] for place in over))
        marked.append(slot._replace(echo=classes if over else None))
    return marked


def fits_back(slots: Sequence[Slot], midis: Sequence[Midis]) -> Flags:
    """A tone of the arpeggio that fits where it is played back, or a note of both scales.

    Where nothing is in both a tone of the arpeggio stands alone.
    """
    return _call_notes(slots[0])[midis[0]]


def _call_notes(slot: Slot) -> Flags:
    return _fitting_notes(palette_at(slot), slot.echo)


@lru_cache(MOST_CALLS)
def _fitting_notes(palette: Palette, echo: frozenset[int] | None) -> Flags:
    """What may stand over a chord where those pitch classes fit back; asked for again and again."""
    back = fitting_back(echo)
    for notes in (palette.core & back, palette.scale & ~rubbing(palette) & back):
        if _class_count(notes) >= ENOUGH:
            return notes
    return notes if notes.any() else palette.core


def _class_count(notes: Flags) -> int:
    """How many different notes there are, octaves aside."""
    return len(set((np.flatnonzero(notes) % 12).tolist()))


def has_choice(slots: Sequence[Slot]) -> bool:
    """False for places of a call that a single note fits, octaves aside.

    Where the player stays on one side of the register break, it may be a single one there.
    """
    return all(_is_enough(palette_at(slot), slot.echo, slot.barrier) for slot in slots)


@lru_cache(MOST_CALLS)
def _is_enough(palette: Palette, echo: frozenset[int] | None, barrier: int | None) -> bool:
    """True where two notes fit a call, on each side of a break that is not crossed."""
    notes = _fitting_notes(palette, echo)
    below = np.arange(128) <= (127 if barrier is None else barrier)
    sides = [side for side in (notes & below, notes & ~below) if side.any()]
    return all(_class_count(side) >= ENOUGH for side in sides)


def clashes_back(slots: Sequence[Slot], midis: Sequence[Midis]) -> Amounts:
    """A note that does not fit where it is played back costs one."""
    return np.where(plays_back(slots[0])[midis[0]], 0.0, 1.0)


def echo_notices(calls: CallBars) -> NoticesOf:
    """Where one bar is played at a time, and what fits no chord where it is played back."""

    def notices(
        analysis: Analysis, _brief: Brief, notes: Sequence[EtudeNote]
    ) -> tuple[Notice, ...]:
        played = calls(analysis)
        leads = {
            _ONE_AT_A_TIME: list(_split(analysis, played)),
            _RHYTHM_ALONE: list(_unfitting(analysis, played, notes)),
        }
        return tuple(notice_of_each(lead, texts) for lead, texts in leads.items() if texts)

    return notices


_ONE_AT_A_TIME = "where two bars do not fit when they come back, one is played and one is yours"
_RHYTHM_ALONE = (
    "where a note does not fit the chord it comes back over, play its rhythm on a chord tone"
)


def _split(analysis: Analysis, played: set[int]) -> Iterator[tuple[int, str]]:
    chart = _ChordsInTime(analysis)
    for first in (n for n in _split_groups(analysis) if n + 1 not in played):
        chords = [place for _, _, place in chart.sounding(*chart.bounds[first + CALL_BARS])]
        yield chords[0], f"bars {first}–{first + 2 * CALL_BARS - 1} over {{}}"


def _unfitting(
    analysis: Analysis, played: set[int], notes: Sequence[EtudeNote]
) -> Iterator[tuple[int, str]]:
    echoes = _Echoes(analysis, played)
    places: dict[tuple[int, int], None] = {}
    for note in notes:
        for place in echoes.places(note.onset, note.beats) if note.pitch else ():
            if note.pitch and note.pitch.midi % 12 not in echoes.fitting[place]:
                places[echoes.bar(note.onset), place] = None
    for number, chord_index in places:
        yield chord_index, f"bar {number} over {{}}"
