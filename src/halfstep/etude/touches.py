"""How is each note of a line touched? Slurs, accents, ghost notes and dynamics, by rule.

The notes are chosen before, and none is changed here: the same line has the same marks, whoever
wrote or edited it. Which rules there are stands in `halfstep.etude.articulation`.

Conventions
-----------
- A phrase is what is played without a rest or a breath. Its first note is tongued, and its last.
- A note that repeats the one before is tongued, and so is one that lies farther away than is
  slurred.
- What is to be heard is not hidden: in swing an accented note, and a changing note on a strong
  beat, is tongued; no changing note is a ghost.
- Scoops and falls are for who can bend a note, eight bars apart at least.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence, Set
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from halfstep.etude.articulation import TOUCH_RULES, Articulation, TouchRules, articulation_of
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.meter import EIGHTH, Feel
from halfstep.progression.chart import Bar
from halfstep.score import Dynamic, Mark

_BENDS_APART = 8
"""Bars between two scoops, or two falls."""
_FEWEST = 4
"""Notes of a phrase whose top is accented."""


class Touch(NamedTuple):
    """How a note is touched.

    Attributes
    ----------
    marks : Mark
        Those of articulation; a slur goes from the note to the next.
    dynamic : Dynamic or None
        What begins with it; None goes on.
    """

    marks: Mark = Mark.NONE
    dynamic: Dynamic | None = None


UNTOUCHED = Touch()


class _PlacedNote(NamedTuple):
    """A note that sounds, its place in the line, its bar and where it stands there."""

    place: int
    note: EtudeNote
    bar: Bar
    at: Fraction

    @property
    def midi(self) -> int:
        assert self.note.pitch
        return self.note.pitch.midi

    @property
    def part(self) -> Fraction:
        """How far into a pulse it begins, in beats."""
        return self.at % self.bar.meter.pulse_beats

    @property
    def strong(self) -> bool:
        """True on a strong beat."""
        return self.at in self.bar.meter.strong_beats

    @property
    def held_over(self) -> bool:
        """True where it begins off the pulse and is held into the next."""
        return self.part > 0 and self.part + self.note.beats > self.bar.meter.pulse_beats


_Phrase = Sequence[_PlacedNote]


def line_articulation(line: EtudeLine) -> Articulation:
    """How a line is tongued: as its brief says, or by its feel and its tempo."""
    brief, meter = line.brief, line.analysis.chart.meter
    if any(note.below for note in line.notes):  # chords are struck, whatever a line would do
        return Articulation.PLAIN
    if brief.articulation is not None:
        return brief.articulation
    feel = brief.feel if meter.swings else Feel.STRAIGHT
    return articulation_of(feel, brief.tempo_bpm * float(meter.tempo_beats))


def touches(line: EtudeLine) -> tuple[Touch, ...]:
    """How each note of `EtudeLine.every_note` is touched, in their order."""
    notes = line.every_note
    articulation = line_articulation(line)
    if articulation is Articulation.PLAIN:
        return (UNTOUCHED,) * len(notes)
    rules = TOUCH_RULES[articulation][line.brief.level]
    phrases = list(_phrases(line))
    marks = [Mark.NONE] * len(notes)
    for phrase in phrases:
        for placed, mark in zip(phrase, _phrase_marks(phrase, rules), strict=True):
            marks[placed.place] = mark
    if rules.bends and line.brief.instrument.breath:
        _add_bends(marks, phrases)
    dynamics = _dynamics(phrases, articulation) if rules.dynamics else {}
    return tuple(Touch(mark, dynamics.get(place)) for place, mark in enumerate(marks))


def _phrases(line: EtudeLine) -> Iterator[_Phrase]:
    """The notes that are played in one breath, with their bars."""
    bars = list(line.analysis.chart.placed())
    if line.ending:
        bars.append((line.ending.bar, line.ending.start))
    starts = [start for _, start in bars]
    phrase: list[_PlacedNote] = []
    for place, note in enumerate(line.every_note):
        if phrase and (note.pitch is None or phrase[-1].note.breath):
            yield phrase
            phrase = []
        if note.pitch is not None:
            bar, start = bars[max(0, bisect_right(starts, note.onset) - 1)]
            phrase.append(_PlacedNote(place, note, bar, note.onset - start))
    if phrase:
        yield phrase


# A phrase


def _phrase_marks(phrase: _Phrase, rules: TouchRules) -> list[Mark]:
    accented = _accented(phrase, rules) if rules.accents else set()
    marks = [Mark.SLUR if slurs else Mark.NONE for slurs in _slurs(phrase, rules, accented)]
    ghosts = _ghosts(phrase, rules.ghost_below) if rules.ghost_below else set()
    for n, placed in enumerate(phrase):
        if n in accented:
            marks[n] |= Mark.ACCENT
        elif n in ghosts:
            marks[n] |= Mark.GHOST
        if rules.tenuto and n and placed.midi == phrase[n - 1].midi:
            marks[n] |= Mark.TENUTO
    last = phrase[-1]
    if rules.staccato and last.part > 0 and last.note.beats <= EIGHTH:
        marks[-1] |= Mark.STACCATO
    return marks


def _slurs(phrase: _Phrase, rules: TouchRules, accented: Set[int]) -> Iterator[bool]:
    """For each note whether it is slurred to the next; the last of a phrase is tongued."""
    last = len(phrase) - 1
    for n, (one, other) in enumerate(pairwise(phrase)):
        near = 0 < abs(one.midi - other.midi) <= rules.widest
        spoken = n + 1 in accented or (other.strong and other.note.changing)
        tongued = n + 1 == last or (rules.pulses is None and spoken)
        yield near and not tongued and _reaches(one, other, rules)
    yield False


def _reaches(one: _PlacedNote, other: _PlacedNote, rules: TouchRules) -> bool:
    """Whether a slur goes from a note to the next by where they stand."""
    if rules.pulses is not None:
        begins = one.strong if rules.strong_only else True
        return begins and _group(one, rules.pulses) == _group(other, rules.pulses)
    if rules.strong_only and not other.strong:
        return False
    if other.part > 0:  # inside a beat of triplets or sixteenths
        return one.note.beats < EIGHTH
    return one.part > 0 and one.note.beats <= EIGHTH <= other.note.beats


def _group(placed: _PlacedNote, pulses: Fraction) -> tuple[int, int]:
    """Which stretch of so many pulses a note begins in; groups where units are no pulses."""
    meter = placed.bar.meter
    if meter.unit >= 8 and not meter.compound:
        return placed.bar.number, bisect_right(meter.strong_beats, placed.at)
    return placed.bar.number, int(placed.at // (meter.pulse_beats * pulses))


def _accented(phrase: _Phrase, rules: TouchRules) -> set[int]:
    """The notes that come early or between the beats, and tops of the line."""
    early = {n for n, placed in enumerate(phrase) if placed.held_over}
    if len(phrase) < _FEWEST:
        return early
    heights = [placed.midi for placed in phrase]
    tops = [n for n in range(1, len(phrase) - 1) if heights[n - 1] < heights[n] > heights[n + 1]]
    highest = max(heights)
    chosen = [n for n in tops if heights[n] == highest][:1]
    if rules.climb is not None:
        chosen += [n for n in tops if heights[n] - _valley(heights, n) >= rules.climb]
    return early | set(chosen)


def _valley(heights: Sequence[int], top: int) -> int:
    """How low the line was from which it rises to a top without turning."""
    n = top
    while n and heights[n - 1] < heights[n]:
        n -= 1
    return heights[n]


def _ghosts(phrase: _Phrase, below: int) -> set[int]:
    """Short notes off the beat that lie low between two higher ones."""
    return {
        n
        for n in range(1, len(phrase) - 1)
        if phrase[n].part > 0 and phrase[n].note.beats <= EIGHTH and not phrase[n].note.changing
        if min(phrase[n - 1].midi, phrase[n + 1].midi) - phrase[n].midi >= below
    }


# The whole line


def _add_bends(marks: list[Mark], phrases: Sequence[_Phrase]) -> None:
    """A scoop into a long note that is tongued, a fall from the end of a phrase that lies high."""
    since = {Mark.SCOOP: -_BENDS_APART, Mark.FALL: -_BENDS_APART}
    for phrase in phrases:
        slurred = {other.place for one, other in pairwise(phrase) if Mark.SLUR in marks[one.place]}
        middle = sorted(placed.midi for placed in phrase)[len(phrase) // 2]
        for placed in phrase:
            if placed.note.beats < 1 or placed.midi < middle:
                continue
            kind = Mark.FALL if placed is phrase[-1] else Mark.SCOOP
            fits = phrase is not phrases[-1] if kind is Mark.FALL else placed.place not in slurred
            if fits and placed.bar.number - since[kind] >= _BENDS_APART:
                marks[placed.place] |= kind
                since[kind] = placed.bar.number


_LEVELS = {
    Articulation.SWUNG: (Dynamic.MEZZO_PIANO, Dynamic.MEZZO_FORTE, Dynamic.FORTE),
    Articulation.EVEN: (Dynamic.MEZZO_PIANO, Dynamic.MEZZO_FORTE, Dynamic.FORTE),
    Articulation.LEGATO: (Dynamic.PIANO, Dynamic.MEZZO_PIANO, Dynamic.MEZZO_FORTE),
}


def _dynamics(phrases: Sequence[_Phrase], articulation: Articulation) -> dict[int, Dynamic]:
    """What begins at each phrase: soft first, the phrase of the highest note loud, then between.

    Where the first phrase has the highest note all of it is between.
    """
    soft, between, loud = _LEVELS[articulation]
    tops = [max(placed.midi for placed in phrase) for phrase in phrases]
    summit = tops.index(max(tops)) if tops else 0
    plan = {0: soft, 1: between, summit: loud, summit + 1: between} if summit else {0: between}
    begun: dict[int, Dynamic] = {}
    level: Dynamic | None = None
    for number, phrase in enumerate(phrases):
        if plan.get(number, level) is not level:
            level = plan[number]
            begun[phrase[0].place] = level
    return begun
