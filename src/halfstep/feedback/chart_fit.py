"""Is a take played over these chords at all? Held against the same chords at other places.

What is played over a chart fits it better than it fits the same chords in another key or some
bars away: they are as many, and of the same kinds. What was played over other chords fits at
its own place no better than elsewhere.

Conventions: layouts are so many bars late and so many semitones high; likelihoods are in nats
a note.

Source: the bounds were chosen on written lines over charts of their own and over others, and
on 75 solos of players, of whom one in fifty goes so far outside that nobody could say.
"""

from __future__ import annotations

from halfstep.feedback.chord_fit import Floats, counted, kinds_laid, plain_nats
from halfstep.feedback.judged_take import JudgedTake

FEWEST_NOTES = 24
FEWEST_BARS = 4
LEAST_RANK = 0.9
"""The share of the other layouts that a take of these chords fits worse."""
MOST_DEFICIT = 0.12
"""How much better than at its place a take of these chords fits elsewhere."""


def fits_chart(take: JudgedTake) -> bool:
    """False where a take was played over other chords; True where that cannot be said."""
    if len(take.notes) < FEWEST_NOTES or len(take.chart.form) < FEWEST_BARS:
        return True
    nats = layout_nats(take)
    at_place = nats[0, 0]
    rank = float((nats < at_place - 1e-9).mean()) + 1 / nats.size
    return rank >= LEAST_RANK or float(nats.max() - at_place) <= MOST_DEFICIT


def is_best_bar(take: JudgedTake, semitones: int) -> bool:
    """True where a take, so many semitones lower, fits at its place as well as any bars away."""
    nats = layout_nats(take)[:, semitones % 12]
    return bool(nats[0] >= nats.max() - MOST_DEFICIT / 4)


def layout_nats(take: JudgedTake) -> Floats:
    """How well the notes fit, were they so many bars earlier and so many semitones lower.

    Returns
    -------
    (bars, 12) floats
    """
    kinds = kinds_laid(take, take.form.bar_starts, range(12))
    return plain_nats(counted(kinds).mean(axis=1))
