"""What is the nearest brief that works, when one does not?

Tried in order of closeness: known notes with one more, the nearest first, or as many as
it takes up to four; limits that are wider by semitones, up to a fifth; the next level; an
earlier step; all notes of the range instead of the known ones.

Conventions
-----------
- Of notes that do not suffice alone, the one that lets the line come furthest is added.
- Only briefs that the search has carried through to the end are offered.
- Names are those that the player reads, of notes and of chords.
- A long chart is tried over its first bars, and only what works there over all of it.
- The work is bounded by `MOST_BARS`, not by a clock: the same brief has the same offer.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from halfstep.errors import BriefError
from halfstep.etude.blocked import Blocked
from halfstep.etude.chart_number import chart_number
from halfstep.etude.cost_tables import CostTables
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.note_search import search_notes
from halfstep.etude.palette import NAMES_OF_SOUND, chord_palettes
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.sentences import WrittenPart
from halfstep.etude.slots import Slot
from halfstep.etude.step import InRuns, Step
from halfstep.etude.steps import STEPS_AND_VOCABULARY
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.level import Level
from halfstep.pitch import UNISON, Pitch, pitch_near
from halfstep.random_stream import RandomStream

MOST_NOTES = 4
NEAR_NOTES = 10
"""Unknown notes that are tried at a time, nearest first."""
FIFTH = 7
EVERY_NOTE = (0, 127)
HEAD_BARS = 12
"""Bars of a longer chart that a brief is tried over first."""
MOST_BARS = 1000
"""Bars that are written in search of an offer, in all."""
NOWHERE = Fraction(-1_000_000)


class Offer(NamedTuple):
    """What works instead.

    Attributes
    ----------
    step : Step
    brief : Brief
    """

    step: Step
    brief: Brief


class Impossible(BriefError):
    """A step cannot be written as it is asked for.

    Parameters
    ----------
    reason : str
        What blocks; ``{chord}`` stands where the chord's symbol belongs.
    chord : int
        Index of the chord.
    wanted : Offer
    analysis : Analysis
    offer : Offer or None
        What works; None when nothing near was found.
    """

    def __init__(
        self, reason: str, chord: int, wanted: Offer, analysis: Analysis, offer: Offer | None
    ) -> None:
        self.reason = reason
        self.chord = chord
        self.wanted = wanted
        self.analysis = analysis
        self.offer = offer
        super().__init__(reason)

    @property
    def marked_text(self) -> str:
        """What blocks and what works, in concert pitch."""
        symbol = self.analysis.chords[self.chord].span.symbol
        return f"{self.reason.format(chord=symbol)}; {self._offered(None)}"

    def sentence(self, part: WrittenPart) -> str:
        """What blocks and what works, in the names that a player reads."""
        return f"{self.reason.format(chord=part.symbol(self.chord))}; {self._offered(part)}"

    def new_notes(self, part: WrittenPart | None = None) -> list[Pitch]:
        """The written notes that are offered beside the known ones."""
        if self.offer is None or self.offer.brief.known is None:
            return []
        new = self.offer.brief.known - (self.wanted.brief.known or frozenset())
        return [self.written(midi, part) for midi in sorted(new)]

    def written(self, midi: int, part: WrittenPart | None = None) -> Pitch:
        """A concert note as the player reads it, spelled as a scale of the chart does."""
        chords = (n for n, chord in enumerate(self.analysis.chords) if not chord.silent)
        spelled = (
            (chord, name)
            for chord in chords
            for name in self.analysis.chords[chord].scale.names
            if name.pitch_class == midi % 12
        )
        chord, name = next(spelled, (0, NAMES_OF_SOUND[midi % 12]))
        pitch = pitch_near(name, midi)
        read = part.pitch(EtudeNote(NOWHERE, Fraction(1), pitch, chord)) if part else None
        return read or self.wanted.brief.instrument.written(pitch)

    def _offered(self, part: WrittenPart | None) -> str:
        """What the offer has that was not asked for, in words."""
        if self.offer is None:
            return "nothing near it works; try other notes, a wider range or another step"
        brief, wanted = self.offer.brief, self.wanted.brief
        if self.offer.step != self.wanted.step:
            return f"step {self.offer.step.short_name} works"
        if brief.level != wanted.level:
            return f"it works at level {brief.level}"
        written = "" if wanted.instrument.rise == UNISON else "written "
        if brief.known is None and wanted.known is not None:
            low, high = (self.written(n, part) for n in (brief.concert_low, brief.concert_high))
            return f"it works with all notes from {written}{low} to {high}"
        if brief.known != wanted.known:
            return f"it works with {written}{_and(self.new_notes(part))} added"
        low, high = (self.written(n, part) for n in (brief.concert_low, brief.concert_high))
        return f"it works with the range from {written}{low} to {high}"


def _and(pitches: Sequence[Pitch]) -> str:
    names = [str(pitch) for pitch in pitches]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def filled_slots(
    step: Step,
    analysis: Analysis,
    brief: Brief,
    priors: Sequence[PriorNotes] = (),
    tables: CostTables | None = None,
) -> tuple[list[Slot], list[int | None]]:
    """The slots of a step and the concert MIDI number for each, None for a rest.

    Parameters
    ----------
    step : Step
    analysis : Analysis
    brief : Brief
        Both as the step takes them.
    priors : sequence of PriorNotes
    tables : CostTables or None
        Those of the step and of the brief with another seed, if they are made already.

    Raises
    ------
    BriefError
        `Blocked` when the rules leave no line.
    """
    palettes, rng = chord_palettes(analysis, brief), _rng(step, analysis, brief)
    if isinstance(step.writing, InRuns):
        from halfstep.etude.run_search import search_runs

        return search_runs(step, step.writing, analysis, brief, palettes, rng, priors)
    return search_notes(step, step.writing, analysis, brief, palettes, rng, priors, tables)


def nearest_offer(step: Step, analysis: Analysis, brief: Brief) -> Offer | None:
    """The closest of what works: another brief, or else an earlier step."""
    if nearest := nearest_brief(step, analysis, brief):
        return Offer(step, nearest)
    if (other := nearest_step(step, analysis, brief)) is not None:
        return Offer(other, brief)
    free = replace(brief, known=None)
    works = brief.known is not None and _Trials(analysis).reach(step, free) is None
    return Offer(step, free) if works else None


def _rng(step: Step, analysis: Analysis, brief: Brief) -> RandomStream:
    return step.rng(brief.seed, chart_number(analysis.chart.form))


def nearest_brief(step: Step, analysis: Analysis, brief: Brief) -> Brief | None:
    """The closest brief for which the step can be written; None when none was found."""
    trials = _Trials(analysis)
    if brief.known is not None and (more := _with_notes(step, brief, trials)):
        return more
    for wider in _with_range(brief):
        if trials.reach(step, wider) is None:
            return wider
    for higher in _with_level(brief):
        if trials.at_level(higher.level).reach(step, higher) is None:
            return higher
    return None


def _with_notes(step: Step, brief: Brief, trials: _Trials) -> Brief | None:
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

    def at_level(self, level: Level) -> _Trials:
        """Trials over the chart as it is explained at another level."""
        trials = _Trials(analyse(self._analysis.chart, level=level))
        trials._bars_left = self._bars_left
        return trials

    def reach(self, step: Step, brief: Brief) -> Fraction | None:
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

    def _filled(self, step: Step, analysis: Analysis, brief: Brief) -> Fraction | None:
        self._bars_left -= len(analysis.chart.form)
        if self._bars_left < 0:
            return NOWHERE
        try:
            filled_slots(step, step.explained(analysis), step.brief_for(brief))
        except Blocked as blocked:
            return blocked.onset
        except BriefError:
            return Fraction(0)
        return None


class _Head(NamedTuple):
    """The first bars of a chart; before the beat ``sure`` nothing feels that they end."""

    analysis: Analysis
    sure: Fraction


def _head(analysis: Analysis) -> _Head | None:
    """The chart up to the first chord that starts with a bar after `HEAD_BARS`."""
    chart = analysis.chart
    starts = {start: bar.number for bar, start in chart.placed()}
    for index, chord in enumerate(analysis.chords):
        number = starts.get(chord.span.start, 0)
        if number > HEAD_BARS:
            bars = tuple(bar for bar in chart.bars if bar.number < number)
            cut = replace(chart, bars=bars)
            chords, changes = analysis.chords[:index], analysis.changes[:index]
            head = analysis._replace(chart=cut, chords=chords, changes=changes)
            return _Head(head, chords[-1].span.start)
    return None


def _sounding(analysis: Analysis) -> list[tuple[int, set[int]]]:
    """The chords that sound, by index, and the pitch classes of their arpeggios."""
    chords = [(n, chord) for n, chord in enumerate(analysis.chords) if not chord.silent]
    return [(n, {tone.name.pitch_class for tone in chord.core}) for n, chord in chords]


def impossible(error: BriefError, step: Step, analysis: Analysis, brief: Brief) -> BriefError:
    """The error with its place, and with what would work instead."""
    if isinstance(error, Blocked):
        text, chord = (
            error.sentence(_bar_at(analysis, error.onset)),
            _chord_at(analysis, error.onset),
        )
    elif (bare := _bare_chord(analysis, brief)) is not None:
        text, chord = _toneless(analysis, brief, bare), bare
    else:
        return error
    offer = nearest_offer(step, analysis, brief)
    return Impossible(text, chord, Offer(step, brief), analysis, offer)


def _bare_chord(analysis: Analysis, brief: Brief) -> int | None:
    """The first chord that the player has no tone of; None when there is one of each."""
    classes = {note % 12 for note in _notes_of(brief)}
    return next((n for n, tones in _sounding(analysis) if not tones & classes), None)


def _toneless(analysis: Analysis, brief: Brief, chord: int) -> str:
    """That the player has no tone of a chord."""
    bar = analysis.chords[chord].span.bar
    player = f"{brief.instrument.key} at level {brief.level}"
    place = f"the range of {player}"
    if brief.known is not None:
        return f"none of the notes known in {place} is a tone of {{chord}} (bar {bar})"
    if _notes_of(brief) != _notes_of(replace(brief, limits=EVERY_NOTE)):
        place = "the range asked for"
    return f"no note of {{chord}} lies in {place} (bar {bar})"


def nearest_step(step: Step, analysis: Analysis, brief: Brief) -> Step | None:
    """The last step before this one that works as the brief is; None when there is none."""
    trials = _Trials(analysis)
    earlier = reversed(STEPS_AND_VOCABULARY[: STEPS_AND_VOCABULARY.index(step)])
    return next((other for other in earlier if trials.reach(other, brief) is None), None)


def _bar_at(analysis: Analysis, onset: Fraction) -> int:
    return max(bar.number for bar, start in analysis.chart.placed() if start <= onset)


def _chord_at(analysis: Analysis, onset: Fraction) -> int:
    return max(0, bisect_right([chord.span.start for chord in analysis.chords], onset) - 1)
