"""What is the nearest brief that works, when one does not?

Tried in order of closeness: known notes with one more, the nearest first, or as many as
it takes up to four; limits that are wider by semitones, up to a fifth; the next level.

Conventions
-----------
- Of notes that do not suffice alone, the one that lets the line come furthest is added.
- Only briefs that the search has carried through to the end are offered.
- A long chart is tried over its first bars, and only what works there over all of it.
- The work is bounded by `MOST_BARS`, not by a clock: the same brief has the same offer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from halfstep.errors import BriefError
from halfstep.etude.blocked import Blocked
from halfstep.etude.frame import NAMES_OF_SOUND, Slot, palettes
from halfstep.etude.lines import line_step
from halfstep.etude.parts import Brief, Etude
from halfstep.etude.placing import run_step
from halfstep.etude.tables import RUN_LAYOUTS, STEP_RULES
from halfstep.harmony.analysis import Analysis
from halfstep.instruments import Level
from halfstep.pitch import UNISON, pitch_near

MOST_NOTES = 4
NEAR_NOTES = 10
"""Unknown notes that are tried at a time, nearest first."""
FIFTH = 7
HEAD_BARS = 12
"""Bars of a longer chart that a brief is tried over first."""
MOST_BARS = 1000
"""Bars that are written in search of an offer, in all."""
NOWHERE = Fraction(-1_000_000)


def filled_slots(
    step: int, analysis: Analysis, brief: Brief, heard: Sequence[Etude] = ()
) -> tuple[list[Slot], list[int | None]]:
    """The slots of a step and the concert MIDI number for each, None for a rest.

    Raises
    ------
    BriefError
        `Blocked` when the rules leave no line.
    """
    rng = np.random.default_rng([brief.seed, step % 100])  # a pre-step is below 1
    make = run_step if step in RUN_LAYOUTS else line_step
    return make(step, analysis, brief, palettes(analysis, brief), rng, heard)


def nearest_brief(step: int, analysis: Analysis, brief: Brief) -> Brief | None:
    """The closest brief for which the step can be written; None when none was found."""
    trials = _Trials(analysis)
    if brief.known is not None and (more := _with_notes(step, brief, trials)):
        return more
    wider = (*_with_range(brief), *_with_level(brief))
    return next((each for each in wider if trials.reach(step, each) is None), None)


def _with_notes(step: int, brief: Brief, trials: _Trials) -> Brief | None:
    """The brief with the fewest known notes added that make it work."""
    for _ in range(MOST_NOTES):
        best, furthest = None, NOWHERE
        for note in _unknown(brief)[:NEAR_NOTES]:
            wider = replace(brief, known=frozenset({*(brief.known or ()), note}))
            reach = trials.reach(step, wider)
            if reach is None:
                return wider
            if reach > furthest:
                best, furthest = wider, reach
        if best is None:
            return None
        brief = best
    return None


def _unknown(brief: Brief) -> list[int]:
    """Notes in range that are not known, those nearest to a known one first."""
    known = brief.known or frozenset()
    notes = [n for n in range(brief.concert_low, brief.concert_high + 1) if n not in known]
    return sorted(notes, key=lambda note: (min((abs(note - k) for k in known), default=0), note))


def _with_range(brief: Brief) -> Iterator[Brief]:
    """The brief with wider limits, where they give the player more notes."""
    low, high = brief.limits
    seen = {_notes_of(brief)}
    for more in range(1, FIFTH + 1):
        for limits in ((low, high + more), (low - more, high), (low - more, high + more)):
            wider = replace(brief, limits=limits)
            if _notes_of(wider) not in seen:
                seen.add(_notes_of(wider))
                yield wider


def _notes_of(brief: Brief) -> frozenset[int]:
    """The MIDI numbers that the player has."""
    notes = frozenset(range(brief.concert_low, brief.concert_high + 1))
    return notes if brief.known is None else notes & brief.known


def _with_level(brief: Brief) -> Iterator[Brief]:
    levels = list(Level)
    for level in levels[levels.index(brief.level) + 1 :]:
        yield replace(brief, level=level)


class _Trials:
    """Briefs tried over one chart, as many as there is time for."""

    def __init__(self, analysis: Analysis) -> None:
        self._analysis = analysis
        self._tones = [tones for _, tones in _sounding(analysis)]
        self._head = _head(analysis)
        self._bars_left = MOST_BARS

    def reach(self, step: int, brief: Brief) -> Fraction | None:
        """The beat that a line can come to; None for the end.

        Below 0 for as many chords as have no note at all; `NOWHERE` when time is up.
        """
        classes = {note % 12 for note in _notes_of(brief)}
        if missing := sum(not tones & classes for tones in self._tones):
            return Fraction(-missing)
        if self._head is not None and not brief.pinned:
            reach = self._filled(step, self._head.analysis, brief)
            if reach is not None and reach < self._head.sure:
                return reach
        return self._filled(step, self._analysis, brief)

    def _filled(self, step: int, analysis: Analysis, brief: Brief) -> Fraction | None:
        self._bars_left -= len(analysis.chart.form)
        if self._bars_left < 0:
            return NOWHERE
        try:
            filled_slots(step, analysis, brief)
        except Blocked as blocked:
            return blocked.onset
        except BriefError:
            return Fraction(0)
        return None


@dataclass(frozen=True, slots=True)
class _Head:
    """The first bars of a chart; before the beat ``sure`` nothing feels that they end."""

    analysis: Analysis
    sure: Fraction


def _head(analysis: Analysis) -> _Head | None:
    """The chart up to the first chord that starts with a bar after `HEAD_BARS`."""
    chart = analysis.chart
    starts = {start: bar.number for bar, start in chart.placed()}
    for index, here in enumerate(analysis.chords):
        number = starts.get(here.span.start, 0)
        if number > HEAD_BARS:
            bars = tuple(bar for bar in chart.bars if bar.number < number)
            cut = replace(chart, bars=bars)
            chords, changes = analysis.chords[:index], analysis.changes[:index]
            head = replace(analysis, chart=cut, chords=chords, changes=changes)
            return _Head(head, chords[-1].span.start)
    return None


def _sounding(analysis: Analysis) -> list[tuple[int, set[int]]]:
    """The chords that sound, by index, and the pitch classes of their arpeggios."""
    chords = [(n, here) for n, here in enumerate(analysis.chords) if not here.silent]
    return [(n, {tone.name.pitch_class for tone in here.core}) for n, here in chords]


def advised(error: BriefError, step: int, analysis: Analysis, brief: Brief) -> str:
    """What the error says, with the bar, and what would work instead."""
    if isinstance(error, Blocked):
        said = error.said(_bar_at(analysis, error.onset))
    elif not (said := _toneless(analysis, brief)):
        return str(error)
    nearest = nearest_brief(step, analysis, brief)
    if nearest:
        return f"{said}; {_offer(brief, nearest, analysis)}"
    other = nearest_step(step, analysis, brief)
    return f"{said}; leave it out" + (f", or take step {other}, which works" if other else "")


def _toneless(analysis: Analysis, brief: Brief) -> str:
    """That the player has no tone of a chord; empty when there is one of each."""
    classes = {note % 12 for note in _notes_of(brief)}
    bare = next((n for n, tones in _sounding(analysis) if not tones & classes), None)
    if bare is None:
        return ""
    span = analysis.chords[bare].span
    place = f"of {brief.instrument.key} at level {brief.level}"
    if brief.known is None:
        return f"no note of {span.symbol} lies in the range {place} (bar {span.bar})"
    return (
        f"no note of {span.symbol} in bar {span.bar} is among the notes known in the range {place}"
    )


def nearest_step(step: int, analysis: Analysis, brief: Brief) -> int | None:
    """The last step before this one that works as the brief is; None when there is none."""
    trials = _Trials(analysis)
    before = (other for other in range(step - 1, 0, -1) if other in STEP_RULES)
    return next((other for other in before if trials.reach(other, brief) is None), None)


def _bar_at(analysis: Analysis, onset: Fraction) -> int:
    return max(bar.number for bar, start in analysis.chart.placed() if start <= onset)


def _offer(brief: Brief, nearest: Brief, analysis: Analysis) -> str:
    """What the nearest brief has that the other has not, in words."""
    if nearest.level != brief.level:
        return f"it works at level {nearest.level}"
    written = "" if brief.instrument.rise == UNISON else "written "
    if nearest.known != brief.known:
        new = sorted((nearest.known or frozenset()) - (brief.known or frozenset()))
        named = " and ".join(_named(brief, midi, analysis) for midi in new)
        return f"it works with {written}{named} added"
    ends = (nearest.concert_low, nearest.concert_high)
    low, high = (_named(brief, midi, analysis) for midi in ends)
    return f"it works with the range from {written}{low} to {high}"


def _named(brief: Brief, midi: int, analysis: Analysis) -> str:
    """A note as the player reads it, spelled as the chart's first scale with it does."""
    names = (name for here in analysis.chords if not here.silent for name in here.scale.names)
    fitting = (name for name in names if name.pitch_class == midi % 12)
    pitch = pitch_near(next(fitting, NAMES_OF_SOUND[midi % 12]), midi)
    return str(brief.instrument.written(pitch))
