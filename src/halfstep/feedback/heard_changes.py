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

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp

from halfstep.feedback.findings import Finding, FindingKind, PassPlace
from halfstep.feedback.laid_take import LaidTake
from halfstep.feedback.outside_play import OutsidePlay, outside_play
from halfstep.harmony.chord_arrivals import (
    HEARD,
    JUDGED,
    ChangeVerdict,
    ChordArrival,
)

_BY_THE_LINE = "the written line does not make it heard"
_FAULTS = {ChangeVerdict.EARLY, ChangeVerdict.LATE, ChangeVerdict.MISSED}
_TOLD, _KEPT, _BY_FIT = 0.98, 0.95, 0.85
"""How sure a verdict can be by a note that tells the new chord, by one of the old that stays,
and by what fits better alone."""
_NATS = 1.5
"""The lead at which doubt falls to a third."""


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

    @property
    def is_judged(self) -> bool:
        """True where it was judged, and where there was something to hear."""
        return self.verdict in JUDGED

    @property
    def is_on_time(self) -> bool:
        """True where the new chord was heard when it came."""
        return self.verdict is ChangeVerdict.ON_TIME


@lru_cache(maxsize=1)
def heard_changes(taken: LaidTake) -> tuple[HeardChange, ...]:
    """Every change of every pass that is played in, in order.

    Kept for the take that is judged, of which findings and the list of changes are made.
    """
    beats = taken.take.form.beats
    unheard = {
        arrival.onset % beats
        for arrival in taken.written_arrivals
        if arrival.verdict in JUDGED and arrival.verdict is not ChangeVerdict.ON_TIME
    }
    play = outside_play(taken)
    return tuple(
        _heard_change(taken, arrival, play, is_asked=arrival.onset % beats not in unheard)
        for arrival in taken.arrivals
    )


def change_findings(taken: LaidTake) -> Iterator[Finding]:
    """What there is to say of the changes: heard, and when, or missed."""
    take = taken.take
    for change in heard_changes(taken):
        if change.verdict not in JUDGED:
            continue
        is_heard = change.verdict in HEARD
        yield Finding(
            kind=FindingKind.CHANGE_HEARD if is_heard else FindingKind.CHANGE_MISSED,
            fault=change.verdict is not ChangeVerdict.ON_TIME,
            place=change.place,
            time_s=take.time_s(change.onset),
            certainty=change.certainty,
            chord=take.part.symbol(change.chord).ascii,
            beats_late=change.beats_late if is_heard else None,
        )


def _heard_change(
    taken: LaidTake, arrival: ChordArrival, play: OutsidePlay, *, is_asked: bool
) -> HeardChange:
    change = HeardChange(
        taken.take.place_at(arrival.onset),
        arrival.onset,
        arrival.new_chord,
        arrival.verdict,
        arrival.beats_late,
        _certainty(taken, arrival, play),
        arrival.reason,
    )
    if is_asked or arrival.verdict not in _FAULTS:
        return change
    unasked = ChangeVerdict.NOT_JUDGED
    return replace(change, verdict=unasked, beats_late=0.0, certainty=1.0, reason=_BY_THE_LINE)


# How sure


def _certainty(taken: LaidTake, arrival: ChordArrival, play: OutsidePlay) -> float:
    """How likely a verdict is true; that nothing differs is a fact of the chart."""
    if arrival.verdict not in JUDGED:
        return 1.0
    evidence = _evidence(arrival)
    if arrival.verdict in _FAULTS:
        evidence *= play.mistaken if arrival.kept else play.inside
    return round(evidence * _surely_heard(taken, arrival), 3)


def _evidence(arrival: ChordArrival) -> float:
    """How much room the notes leave for another verdict, if they were heard rightly."""
    match arrival.verdict:
        case ChangeVerdict.ON_TIME:
            return _TOLD if arrival.telling is not None else _surer(arrival.evidence_nats)
        case ChangeVerdict.EARLY:
            return _KEPT * _surer(arrival.evidence_nats)
        case _:
            by_fit = _BY_FIT * _surer(arrival.evidence_nats)
            return max(by_fit, _KEPT * bool(arrival.kept))


def _surer(nats: float) -> float:
    """From a half, where notes say nothing, to one."""
    return 1 - 0.5 * exp(-max(nats, 0.0) / _NATS)


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
