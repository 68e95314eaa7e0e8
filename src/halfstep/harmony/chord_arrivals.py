"""When is a new chord heard in a line: on time, early, late, or not at all?

- A changing note *tells* the new chord: it is in its scale and not in the old one's. Where
  no note of the two scales differs, *nothing differs*, and nothing is judged.
- The *change test*: the notes of the last four beats of the old chord, taken together, are
  likelier over the old one, and those of the first four beats of the new one over the new.
- A change is *on time* where the test holds at its first beat, or where a note tells the new
  chord less than a beat after it. Up to half a beat before is on time too: an anticipation.
- It is *late* where the test fails and the first note that tells it comes a beat or more
  after. What is played before that note must not fit the new chord better: who rests first,
  or plays its tones alone, is not late. An old note that stays among it, where all of it is
  clearly likelier over the old chord, fails the test as well.
- It is *early* where a note that leads nowhere tells it more than half a beat before, all
  that is played from there on sounds in the new chord and goes on into it, and the test does
  not fail there. Where it fails at the change itself, the notes beside that one count too.
  After a chord that was missed nothing is early: the line was in another chord all the time.
- It is *missed* where no note tells it before the chord ends: an old note stays, or the
  line had the chance, a bar and three notes of it, and clearly fits the old chord. Where the
  scales differ by notes that are not played, the tones of the new chord tell it, once the
  line is clearly likelier over it.

Conventions
-----------
- The likelihoods are those of `halfstep.harmony.note_likelihoods`; what a chord has, and what
  is a colour of it, say `halfstep.harmony.chart_sounds`. A line is read as
  `halfstep.harmony.line_over_chords` lays it.
- The windows of the test are counted in beats of the metre (a dotted quarter in 6/8) and
  end where the old chord began and the new one ends. It needs `MIN_SIDE` notes a side;
  with fewer, those over the new chord alone are asked.
- An old note *stays* where it is not in the new scale, no colour of the new chord, and leads
  nowhere, on a beat or half a beat long.

Source: the change test was tried on made-up lines over 342 charts; `tests/harmony` repeats
that table. The rest is common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import log
from typing import NamedTuple

from halfstep.harmony.chart_sounds import ChangeSounds, ChartSounds
from halfstep.harmony.leading_notes import Leading
from halfstep.harmony.line_over_chords import LineBar, LineOverChords, Row
from halfstep.progression.symbol import ChordSymbol

MIN_SIDE = 3
"""Notes on each side of a change that the test is made of."""
SIDE_BEATS = 4
CLEAR_NATS = log(2)
"""How much likelier notes must be over one chord than over another: twice."""
_MISSED_NATS = log(2)
"""How much likelier over the old chord a line is that never tells the new one."""
ANTICIPATION_BEATS = 0.5
LATE_BEATS = 1.0
_NEAR = 1e-6


class ChangeVerdict(StrEnum):
    """What is heard of a change, by the names it is stored under."""

    ON_TIME = "on-time"
    EARLY = "early"
    LATE = "late"
    MISSED = "missed"
    NOTHING_DIFFERS = "nothing-differs"
    NOT_JUDGED = "not-judged"


HEARD = frozenset({ChangeVerdict.ON_TIME, ChangeVerdict.EARLY, ChangeVerdict.LATE})
"""The verdicts on a change that is heard."""
JUDGED = HEARD | {ChangeVerdict.MISSED}


@dataclass(frozen=True, slots=True)
class ChordArrival:
    """A change of chord under a line.

    Attributes
    ----------
    old, new : ChordSymbol
    old_chord, new_chord : int
        Their places among the chords of the form.
    onset : float
        Quarter notes from the start of the line's bar 1.
    bar : int
        Of the line, from 1, all choruses counted.
    beat : float
        In the bar, from 1, in pulses of the metre.
    spelled : bool or None
        The change test holds at the change; None where it cannot be made.
    verdict : ChangeVerdict
    beats_late : float
        Pulses after the change at which a note tells it, before it negative; 0 where none
        does, or the test holds without it.
    reason : str
        Why it is not judged.
    telling : int or None
        The first note that tells the new chord.
    kept : tuple of int
        Notes of the old scale that stay.
    first, stop : int
        The notes over the new chord.
    evidence_nats : float
        How much likelier the notes that decide are over the chord that they are heard as: the
        new one where it is on time or early, the old one where it is late or missed.
    """

    old: ChordSymbol
    new: ChordSymbol
    old_chord: int
    new_chord: int
    onset: float
    bar: int
    beat: float
    spelled: bool | None
    verdict: ChangeVerdict
    beats_late: float = 0.0
    reason: str = ""
    telling: int | None = None
    kept: tuple[int, ...] = ()
    first: int = 0
    stop: int = 0
    evidence_nats: float = 0.0


def chord_arrivals(
    laid: LineOverChords, sounds: ChartSounds, leading: Sequence[Leading]
) -> Iterator[ChordArrival]:
    """What is heard of each change under a line; beside ``N.C.`` there is none.

    Parameters
    ----------
    laid : LineOverChords
    sounds : ChartSounds
        Of the same chart.
    leading : sequence of Leading
        How each note of the line leads on.
    """
    starts = [bar.start for bar in laid.bars]
    is_old_heard = True
    for place, (old, new) in enumerate(pairwise(laid.stretches), 1):
        change = sounds.change(old.chord, new.chord)
        if change and old.row and new.row:
            number = bisect_right(starts, new.start + _NEAR)
            rows = old.row, new.row
            around = _Around(
                laid, leading, change, place, *rows, new.start, number, is_old_heard=is_old_heard
            )
            arrival = around.arrival()
            is_old_heard = arrival.verdict is not ChangeVerdict.MISSED
            yield arrival


# One change


class _Around(NamedTuple):
    """The notes around a change.

    Attributes
    ----------
    place : int
        Of the new chord among the stretches.
    old, new : Row
    start : float
        Of the new chord.
    number : int
        The bar that it begins in, from 1.
    is_old_heard : bool
        False where the old chord was missed: what is played over it is of the one before.
    """

    laid: LineOverChords
    leading: Sequence[Leading]
    sounds: ChangeSounds
    place: int
    old: Row
    new: Row
    start: float
    number: int
    is_old_heard: bool

    def arrival(self) -> ChordArrival:
        """What is heard of the change."""
        old, new = self.laid.stretches[self.place - 1 : self.place + 1]
        verdict, beats_late, reason = self.verdict()
        return ChordArrival(
            old=old.symbol,
            new=new.symbol,
            old_chord=old.chord,
            new_chord=new.chord,
            onset=self.start,
            bar=self.number,
            beat=(self.start - self._bar.start) / float(self._bar.meter.pulse_beats) + 1,
            spelled=self.spelled(),
            verdict=verdict,
            beats_late=beats_late,
            reason=reason,
            telling=self._told_by(),
            kept=self.kept(),
            first=self.first,
            stop=self.stop,
            evidence_nats=self._evidence(verdict),
        )

    @property
    def first(self) -> int:
        """The first note of the new chord."""
        return self.laid.firsts[self.place]

    @property
    def stop(self) -> int:
        """The first note after it."""
        return self.laid.firsts[self.place + 1]

    @property
    def unit(self) -> float:
        """A beat, in quarter notes."""
        return self._bar.unit

    @property
    def beat(self) -> float:
        """What is early and late by: a beat, and a pulse of the metre where that is longer."""
        return max(self.unit, float(self._bar.meter.pulse_beats))

    @property
    def _bar(self) -> LineBar:
        return self.laid.bars[self.number - 1]

    # The change test

    def spelled(self) -> bool | None:
        """Whether the change test holds; None where it cannot be made."""
        return None if self.old == self.new else self._holds_at(self.first, self.start)

    def _holds_at(self, cut: int, at: float) -> bool | None:
        """The two-sided test, with the new chord beginning at a note."""
        left, right = self._sides(cut, at)
        if min(cut - left, right - cut) < MIN_SIDE:
            return None
        return self._lead(left, cut) < 0 < self._lead(cut, right)

    def _sides(self, cut: int, at: float) -> tuple[int, int]:
        onsets, reach = self.laid.places.onsets, SIDE_BEATS * self.unit
        left = max(self.laid.firsts[self.place - 1], bisect_left(onsets, at - reach))
        right = min(self.stop, bisect_left(onsets, at + reach))
        return min(left, cut), max(right, cut)

    def _lead(self, first: int, stop: int) -> float:
        """How much likelier some notes are over the new chord, in nats."""
        keys = self.laid.places.keys[first:stop]
        return sum(self.new[key] - self.old[key] for key in keys)

    def fit_nats(self) -> float:
        """How much likelier the first beats of the new chord are over it than over the old."""
        return self._lead(self.first, self._sides(self.first, self.start)[1])

    # Notes that tell

    def telling(self) -> int | None:
        """The first note over the new chord that tells it."""
        notes = range(self.first, self.stop)
        return next((note for note in notes if self._class(note) in self.sounds.telling), None)

    def _told_by(self) -> int | None:
        """The note that tells the new chord, a tone of it where no other does."""
        note = self.telling()
        return self._first_clear_tone() if note is None else note

    def kept(self) -> tuple[int, ...]:
        """The notes of the old scale that stay over the new chord."""
        notes = range(self.first, self.stop)
        played = {self._class(note) for note in notes if not self.leading[note]}
        return tuple(
            note
            for note in notes
            if self.sounds.stays(self._class(note), played) and self._has_weight(note)
        )

    def _has_weight(self, note: int) -> bool:
        """True for a note that leads nowhere, on a beat or half a beat long."""
        return self.laid.has_weight(note) and not self.leading[note]

    def _class(self, note: int) -> int:
        return self.laid.line[note].midi % 12

    def _beats(self, note: int) -> float:
        """Pulses after the change."""
        beats = self.laid.places.onsets[note] - self.start
        return round(beats / float(self._bar.meter.pulse_beats), 3)

    # The verdict

    def verdict(self) -> tuple[ChangeVerdict, float, str]:
        """What is heard, how many pulses after the change, and why it is not judged."""
        if not (self.sounds.telling or self.sounds.leaving):
            return ChangeVerdict.NOTHING_DIFFERS, 0.0, ""
        early = self._early()
        if early is not None:
            return ChangeVerdict.EARLY, self._beats(early), ""
        if self.first == self.stop:
            return ChangeVerdict.NOT_JUDGED, 0.0, "nothing is played over the new chord"
        note = self.telling()
        return self._untold() if note is None else self._told_at(note)

    def _evidence(self, verdict: ChangeVerdict) -> float:
        """How much likelier the notes that decide are over the chord they are heard as."""
        match verdict:
            case ChangeVerdict.EARLY:
                return self._lead(self._early() or self.first, self.first)
            case ChangeVerdict.LATE:
                return -self._lead(self.first, self._told_by() or self.first)
            case ChangeVerdict.MISSED:
                return -self._lead(self.first, self.stop)
            case _:
                return self.fit_nats()

    def _told_at(self, note: int) -> tuple[ChangeVerdict, float, str]:
        """Of a change that a note tells."""
        beats = self._beats(note)
        late = self.laid.places.onsets[note] - self.start >= LATE_BEATS * self.beat - _NEAR
        if not late:
            return ChangeVerdict.ON_TIME, beats, ""
        if self._is_hidden_until(note):
            return ChangeVerdict.LATE, beats, ""
        return ChangeVerdict.ON_TIME, 0.0, ""

    def _is_hidden_until(self, note: int) -> bool:
        """True where what is played over the new chord before a note is not heard as it."""
        lead = self._lead(self.first, note)
        if self._all_tones(note) or lead > 0:
            return False
        stays = lead <= -CLEAR_NATS and any(kept < note for kept in self.kept())
        return stays or not self._fits()

    def _untold(self) -> tuple[ChangeVerdict, float, str]:
        """Of a change that no note tells by itself."""
        tone = self._first_clear_tone()
        if tone is not None:
            return self._told_at(tone)
        if self.kept():
            return ChangeVerdict.MISSED, 0.0, ""
        if self._fits() or self.fit_nats() > 0:
            return ChangeVerdict.ON_TIME, 0.0, ""
        if self._all_tones(self.stop):
            return ChangeVerdict.NOT_JUDGED, 0.0, "tones of the new chord that the old one has too"
        if self.sounds.telling and self._belongs_to_the_old():
            return ChangeVerdict.MISSED, 0.0, ""
        return ChangeVerdict.NOT_JUDGED, 0.0, "too few notes to tell the new chord from the old"

    def _first_clear_tone(self) -> int | None:
        """The first tone of the new chord alone from which on it is clearly heard."""
        begin = max(self.kept(), default=self.first - 1) + 1
        tones = (n for n in range(begin, self.stop) if self._class(n) in self.sounds.new_tones)
        return next((n for n in tones if self._lead(n, self.stop) >= CLEAR_NATS), None)

    def _all_tones(self, stop: int) -> bool:
        """True where what is played over the new chord up to a note are its tones alone."""
        return all(self._class(note) in self.sounds.new.tones for note in range(self.first, stop))

    def _fits(self) -> bool:
        """The test at the change; with few notes before it, of those after it alone."""
        holds = self.spelled()
        return self.fit_nats() > 0 if holds is None else holds

    def _belongs_to_the_old(self) -> bool:
        """True where a line that had the chance to tell the new chord is clearly of the old."""
        classes = {self._class(note) for note in range(self.first, self.stop)}
        lasts = self.laid.ends[self.place] - self.start >= self._bar.beats
        is_line = lasts and len(classes) >= MIN_SIDE
        return is_line and self._lead(self.first, self.stop) <= -_MISSED_NATS

    def _early(self) -> int | None:
        """The note before the change at which the new chord is heard; None where it is not.

        That is the first that tells it; where the test fails at the change, the first of those
        around it that are likelier over the new chord together.
        """
        run = self._run_before()
        telling = [note for note in run if self._tells(note)]
        if not (telling and self.is_old_heard and self._goes_on()):
            return None
        begin = self._likeliest_cut(run) if self.spelled() is False else telling[0]
        begin = min(begin, telling[0])
        onset = self.laid.places.onsets[begin]
        is_early = onset < self.start - ANTICIPATION_BEATS * self.beat - _NEAR
        is_clear = self._lead(begin, self.first) > 0
        fails = self._holds_at(begin, onset) is False
        return begin if is_early and is_clear and not fails else None

    def _goes_on(self) -> bool:
        """True where the new chord is heard from its first beat on too."""
        note = self.telling()
        is_told = note is not None and self._beats(note) < LATE_BEATS - _NEAR
        return is_told or self.fit_nats() > 0

    def _run_before(self) -> range:
        """The last notes before the change, as far back as all of them sound in the new chord.

        They go on into it without a rest of more than a beat.
        """
        first = self._sides(self.first, self.start)[0]
        begin = self.first
        while begin > first and self._goes_on_from(begin - 1):
            begin -= 1
        return range(begin, self.first)

    def _goes_on_from(self, note: int) -> bool:
        """True for a note that sounds in the new chord, or leads on, with the next a beat away."""
        is_inside = self._class(note) in self.sounds.new.scale or bool(self.leading[note])
        return is_inside and self.laid.gap(note) <= self.unit + _NEAR

    def _likeliest_cut(self, run: range) -> int:
        """The note from which on a run is likeliest over the new chord."""
        return max(run, key=lambda note: self._lead(note, self.first))

    def _tells(self, note: int) -> bool:
        """True for a note of the new chord alone that leads nowhere."""
        return self._class(note) in self.sounds.telling and not self.leading[note]
