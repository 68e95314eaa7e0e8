"""Is a take half a tone flat, or in another key? What was meant to be played tells.

The sound alone gives a player's tuning up to whole semitones: 45 cents flat and 55 sharp
are the same. The written line, or the chart, has the right notes at one of them only.

Conventions: cents from 440 Hz, one figure for the whole take.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from math import exp, log

from halfstep.harmony.note_likelihoods import chord_family, log_shares
from halfstep.listen.heard_take import HeardTake
from halfstep.progression.chart import Chart, spans
from halfstep.progression.symbol import ChordSymbol

FARTHEST_CENTS = 100.0
"""Nobody plays a semitone or more off and means it."""
FEWEST_NOTES = 8
LINE_LEAD = 0.1
"""The share of notes by which the line must fit better at another tuning."""
CHART_LEAD = 6.0
"""The nats by which the chart must fit better at another tuning."""
_CLASSES = range(12)


def tuning_by_line(take: HeardTake, midis: Sequence[int]) -> float:
    """The tuning at which a take has most of the notes of a written line, octaves aside.

    Parameters
    ----------
    take : HeardTake
    midis : sequence of int
        The line, concert.
    """
    line = Counter(midi % 12 for midi in midis)
    played = _classes(take)
    scale = played.total() / max(line.total(), 1)

    def likeness(semitones: int) -> float:
        common = (min(played[(pc - semitones) % 12], scale * line[pc]) for pc in _CLASSES)
        return sum(common) / max(played.total(), 1)

    return _best(take, likeness, LINE_LEAD) if line else take.tuning_cents


def tuning_by_chart(take: HeardTake, chart: Chart) -> float:
    """The tuning at which a take's notes are likeliest over the chords of a chart together."""
    shares = _shares(chart)
    played = _classes(take)

    def likeness(semitones: int) -> float:
        return sum(count * log(shares[(pc + semitones) % 12]) for pc, count in played.items())

    return _best(take, likeness, CHART_LEAD) if shares else take.tuning_cents


def _best(take: HeardTake, likeness: Callable[[int], float], lead: float) -> float:
    """The tuning with the best likeness, if it is clearly better than that of the take.

    Notes that are named so many semitones higher were played on an instrument so much lower.
    """
    if len(take.notes) < FEWEST_NOTES:
        return take.tuning_cents
    others = [
        semitones
        for semitones in (-1, 1)
        if abs(take.tuning_cents - 100 * semitones) <= FARTHEST_CENTS
    ]
    best = max(others, key=likeness, default=0)
    clear = likeness(best) >= likeness(0) + lead
    return take.tuning_cents - 100 * best * clear


def _classes(take: HeardTake) -> Counter[int]:
    return Counter(note.midi % 12 for note in take.notes)


def _shares(chart: Chart) -> tuple[float, ...]:
    """How often each pitch class is played over a chart; empty where it has no chords."""
    totals = [0.0] * 12
    for span in spans(chart):
        for pc, share in enumerate(_of_chord(span.symbol)):
            totals[pc] += float(span.beats) * share
    whole = sum(totals)
    return tuple(total / whole for total in totals) if whole else ()


def _of_chord(symbol: ChordSymbol) -> Iterable[float]:
    family = chord_family(symbol)
    if family is None:
        return ()
    rows = log_shares(family, symbol.root.pitch_class)
    return (sum(exp(rows[12 * weight + pc]) for weight in range(3)) / 3 for pc in _CLASSES)
