"""At each change of each pass, is the new chord heard, and when?

The verdict is that of `halfstep.harmony.chord_arrivals`, the same that measures a written
line; the take is read on the places that a player counts on.

Conventions
-----------
- Where the take follows a written line that does not make a change heard in time itself, the
  player is not judged by it.
- The certainty is how surely the notes that decide were heard, times how much room the
  verdict leaves: many notes that agree, and far from the limit of another verdict.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import exp

from halfstep.feedback.findings import Finding, FindingKind, PassPlace
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import LaidTake, laid_take
from halfstep.harmony.chord_arrivals import (
    HEARD,
    JUDGED,
    ChangeVerdict,
    ChordArrival,
    chord_arrivals,
)
from halfstep.harmony.line_over_chords import LineNote, line_over_chords

_BY_THE_LINE = "the written line does not make it heard"
_FULL_NATS = 1.5
"""A lead at which more notes that agree make a verdict hardly surer."""


@dataclass(frozen=True, slots=True)
class HeardChange:
    """A change of chord under a take.

    Attributes
    ----------
    place : PassPlace
        Where the new chord begins.
    onset : float
        The same in quarter notes from bar 1 of the first pass.
    chord : int
        The place of the new chord in the analysis.
    verdict : ChangeVerdict
    beats_late : float
        Pulses after the chord's first beat at which it is heard, before it negative; 0 where
        it is not heard or not judged.
    certainty : float
        0 to 1.
    reason : str
        Why it was not judged.
    """

    place: PassPlace
    onset: float
    chord: int
    verdict: ChangeVerdict
    beats_late: float = 0.0
    certainty: float = 1.0
    reason: str = ""


def heard_changes(take: JudgedTake) -> tuple[HeardChange, ...]:
    """Every change of every pass that is played in, in order."""
    taken = laid_take(take)
    unheard = _unheard_in_line(take)
    return tuple(
        _heard_change(take, taken, arrival, unheard)
        for arrival in chord_arrivals(taken.laid, take.analysis)
    )


def change_findings(take: JudgedTake) -> Iterator[Finding]:
    """What there is to say of the changes: heard, and when, or missed."""
    for change in heard_changes(take):
        if change.verdict not in JUDGED:
            continue
        is_heard = change.verdict in HEARD
        yield Finding(
            kind=FindingKind.CHANGE_HEARD if is_heard else FindingKind.CHANGE_MISSED,
            fault=change.verdict is not ChangeVerdict.ON_TIME,
            place=change.place,
            time_s=take.time_s(change.onset),
            certainty=change.certainty,
            chord=str(take.part.symbol(change.chord)),
            beats_late=change.beats_late if is_heard else None,
        )


def _heard_change(
    take: JudgedTake, taken: LaidTake, arrival: ChordArrival, unheard: Mapping[float, object]
) -> HeardChange:
    change = HeardChange(
        take.place_at(arrival.onset),
        arrival.onset,
        arrival.new_chord,
        arrival.verdict,
        arrival.beats_late,
        _certainty(taken, arrival),
        arrival.reason,
    )
    is_asked = arrival.onset % take.form.beats not in unheard
    if is_asked or change.verdict in {ChangeVerdict.ON_TIME, ChangeVerdict.NOTHING_DIFFERS}:
        return change
    unasked = ChangeVerdict.NOT_JUDGED
    return replace(change, verdict=unasked, beats_late=0.0, reason=_BY_THE_LINE)


def _unheard_in_line(take: JudgedTake) -> dict[float, ChangeVerdict]:
    """The changes that the written line does not make heard in time, by where they are."""
    line = [
        LineNote(float(note.onset), float(note.beats), note.pitch.midi)
        for note in take.line
        if note.pitch and note.onset >= 0
    ]
    if not line:
        return {}
    laid = line_over_chords(line, take.chart)
    return {
        arrival.onset % take.form.beats: arrival.verdict
        for arrival in chord_arrivals(laid, take.analysis)
        if arrival.verdict in JUDGED and arrival.verdict is not ChangeVerdict.ON_TIME
    }


# How sure


def _certainty(taken: LaidTake, arrival: ChordArrival) -> float:
    """How likely a verdict is true; that nothing differs is a fact of the chart."""
    if arrival.verdict not in JUDGED:
        return 1.0
    ear = _surely_heard(taken, arrival)
    return round(ear * _room(arrival), 3)


def _surely_heard(taken: LaidTake, arrival: ChordArrival) -> float:
    """How surely the notes that decide were heard."""
    deciding = arrival.kept if arrival.verdict is ChangeVerdict.MISSED else ()
    notes = [taken.notes[note].certainty for note in (*deciding, *_telling(arrival))]
    return max(notes, default=_mean_certainty(taken, arrival))


def _telling(arrival: ChordArrival) -> tuple[int, ...]:
    return () if arrival.telling is None else (arrival.telling,)


def _mean_certainty(taken: LaidTake, arrival: ChordArrival) -> float:
    """Of the notes over the new chord, where none of them decides alone."""
    notes = taken.notes[arrival.first : arrival.stop]
    return sum(note.certainty for note in notes) / max(len(notes), 1)


def _room(arrival: ChordArrival) -> float:
    """How much room a verdict leaves for another one, from its evidence in nats."""
    against = arrival.verdict in {ChangeVerdict.MISSED, ChangeVerdict.LATE}
    lead = -arrival.fit_nats if against else arrival.fit_nats
    by_notes = 1 / (1 + exp(-(lead + 1.0) / _FULL_NATS * 2))
    decides = arrival.telling is not None or arrival.kept
    return max(by_notes, 0.9) if decides else by_notes
