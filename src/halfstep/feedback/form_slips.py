"""Is the player in another bar than the band? Told once, and what follows is judged as meant.

- Against a written line, the notes themselves say where the player is: where they follow the
  line a whole number of bars from the clock, that is a slip.
- Over chords alone each bar is likelier so many bars earlier or later; a path through the
  bars that changes seldom is found exactly. A bar may be of the chord before as well, for a
  change may be missed beside a slip; where it fits both ways, the slip has not begun.

Conventions: bars late are positive; a player two bars late plays in bar 5 what bar 3 asks.
Only forms whose bars are all of one length can be tried over chords alone.

Source: common practice, no source; the bounds were chosen on written etudes and on solos of
players, none of whom may be told that they slipped.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from statistics import median

import numpy as np

from halfstep.feedback.chord_fit import Floats, counted, fitted, has_few_degrees, kinds_laid
from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.line_alignment import APART_BEATS, Alignment, Match
from halfstep.feedback.take_note import TakeNote

MOST_BARS = 4
"""A slip over chords alone is looked for so many bars around."""
SWITCH_NATS = 6.0
"""How much likelier the notes must be somewhere else before a slip is taken to begin or end."""
CLEAR_NATS, NATS_A_NOTE = 12.0, 0.46
"""How much likelier they must be in all, and for each note, where they are taken to be."""
MISSED_NATS = 3.0
"""What it costs that the change into a bar was missed: no slip, though it may look like one."""
_COSTS = np.array([0.0, MISSED_NATS])[:, None, None]
FEWEST_BARS = 3
"""A slip over chords alone lasts so many bars at least."""
FEWEST_NOTES = 6
"""A slip from the line lasts so many notes at least."""
FEWEST_PITCHES = 5
"""Over chords alone a figure of fewer different notes says too little."""
_WHOLE = 0.2
"""The share of a bar that a slip of the line may lie from a whole number of bars."""
_NEAR = 1e-9


@dataclass(frozen=True, slots=True)
class FormSlip:
    """A stretch in which the player is in another bar than the band.

    Attributes
    ----------
    first, last : int
        Places of its first and last note among the take's.
    bars : int
        How many bars late; negative where early.
    beats : float
        The same in quarter notes.
    certainty : float
    """

    first: int
    last: int
    bars: int
    beats: float
    certainty: float


def take_out_slips(take: JudgedTake) -> tuple[JudgedTake, tuple[Finding, ...]]:
    """The take with its notes where they were meant, and what is told of that."""
    slips = tuple(_slips(take))
    notes = list(take.notes)
    for slip in slips:
        for place in range(slip.first, slip.last + 1):
            notes[place] = _moved(notes[place], slip.beats)
    findings = tuple(_slip_finding(take, slip) for slip in slips)
    return replace(take, notes=tuple(notes)) if slips else take, findings


def _moved(note: TakeNote, beats: float) -> TakeNote:
    exact = Fraction(beats).limit_denominator(48)
    return replace(note, onset=note.onset - beats, place=note.place - exact)


def _slip_finding(take: JudgedTake, slip: FormSlip) -> Finding:
    first, last = take.notes[slip.first], take.notes[slip.last]
    return Finding(
        kind=FindingKind.FORM_SLIP,
        fault=True,
        place=take.place_at(float(first.place)),
        time_s=take.time_s(first.sounded),
        certainty=slip.certainty,
        bars=slip.bars,
        until=take.place_at(float(last.place)),
    )


def _slips(take: JudgedTake) -> Iterator[FormSlip]:
    if take.alignment is not None:
        return _slips_from_line(take, take.alignment)
    return _slips_from_chords(take)


# By the line


def _slips_from_line(take: JudgedTake, alignment: Alignment) -> Iterator[FormSlip]:
    """Stretches of the line that lie whole bars from the clock."""
    bar = _bar_beats(take)
    for late, matches in steady_stretches(alignment):
        bars = round(late / bar)
        if bars and len(matches) >= FEWEST_NOTES and abs(late / bar - bars) <= _WHOLE:
            yield FormSlip(matches[0].heard, matches[-1].heard, bars, bars * bar, 0.97)


def steady_stretches(alignment: Alignment) -> Iterator[tuple[float, list[Match]]]:
    """Matches that lie equally far from the clock, and how far in quarter notes."""
    stretch: list[Match] = []
    for match in alignment.matches:
        if stretch and abs(alignment.late(match) - alignment.late(stretch[-1])) > APART_BEATS:
            yield median(map(alignment.late, stretch)), stretch
            stretch = []
        stretch.append(match)
    if stretch:
        yield median(map(alignment.late, stretch)), stretch


def _bar_beats(take: JudgedTake) -> float:
    """The length that most bars of the form have, in quarter notes."""
    return float(median(bar.beats for bar in take.chart.form))


# Over chords alone


def _slips_from_chords(take: JudgedTake) -> Iterator[FormSlip]:
    bar, shifts = _bar_beats(take), _shifts(len(take.chart.form))
    notes_by_bar = _by_bar(take.notes, bar)
    if len({bar.beats for bar in take.chart.form}) > 1 or has_few_degrees(take):
        return
    counts = _counts(take, notes_by_bar, [shift * bar for shift in shifts])
    bars = np.arange(len(notes_by_bar))

    def likeliest(nats: Floats) -> tuple[list[int], Floats]:
        readings = nats - _COSTS
        path = _likeliest_path(readings.max(axis=0))
        return path, counts[readings.argmax(axis=0)[bars, path], bars, path].sum(axis=0)

    path, (nats, _) = fitted(counts, likeliest)
    for place, stretch in _stretches(path):
        gain = float((nats[stretch, place] - nats[stretch, 0]).sum())
        notes = [note for number in stretch for note in notes_by_bar[number]]
        pitches = {take.notes[note].midi % 12 for note in notes}
        is_clear = gain >= max(CLEAR_NATS, NATS_A_NOTE * len(notes))
        if place and is_clear and len(stretch) >= FEWEST_BARS and len(pitches) >= FEWEST_PITCHES:
            certainty = min(0.99, 0.5 + gain / 40)
            late = shifts[place]
            yield FormSlip(notes[0], notes[-1], late, late * bar, certainty)


def _shifts(bars: int) -> list[int]:
    """Bars late that may be told apart in a form, none first."""
    most = min(MOST_BARS, (bars - 1) // 2)
    return [0, *(sign * count for count in range(1, most + 1) for sign in (1, -1))]


def _by_bar(notes: Sequence[TakeNote], bar: float) -> list[list[int]]:
    """The places of the notes of each bar in which something is played."""
    keyed = groupby(range(len(notes)), key=lambda place: int(notes[place].onset // bar))
    return [list(places) for _, places in keyed]


def _counts(
    take: JudgedTake, notes_by_bar: Sequence[Sequence[int]], lates: Sequence[float]
) -> Floats:
    """For each bar how many notes are of each kind, were they so many quarter notes late.

    Returns
    -------
    (2, bars, lates, KINDS) floats
        Over the chords that are meant, and over the chord before each, were its change missed.
    """
    return np.stack([_counts_over(take, notes_by_bar, lates, before) for before in range(2)])


def _counts_over(
    take: JudgedTake, notes_by_bar: Sequence[Sequence[int]], lates: Sequence[float], before: int
) -> Floats:
    """The same over chords so many before those that are meant, (bars, lates, KINDS)."""
    of_notes = counted(kinds_laid(take, lates, [0], chords_late=before)[:, :, 0])
    return np.stack([of_notes[:, places].sum(axis=1) for places in notes_by_bar])


def _likeliest_path(nats: Floats) -> list[int]:
    """The likeliest shift of each bar, with few changes; the first is none.

    Parameters
    ----------
    nats : (bars, shifts) floats
    """
    totals = nats[0] - SWITCH_NATS * (np.arange(nats.shape[1]) > 0)
    origins = []
    for row in nats[1:]:
        best = totals.argmax()
        stays = totals > totals[best] - SWITCH_NATS + _NEAR
        origins.append(np.where(stays, np.arange(len(row)), best))
        totals = np.where(stays, totals, totals[best] - SWITCH_NATS) + row
    path = [int(totals.argmax())]
    for origin in reversed(origins):
        path.append(int(origin[path[-1]]))
    return path[::-1]


def _stretches(path: Sequence[int]) -> Iterator[tuple[int, list[int]]]:
    for shift, group in groupby(enumerate(path), key=lambda pair: pair[1]):
        yield shift, [place for place, _ in group]
