"""Is a take played over these chords at all? Held against the same chords at other places.

What is played over a chart fits it better than it fits the same chords in another key or some
bars away: they are as many, and of the same kinds. What was played over other chords fits
better elsewhere. So does a take that was read in another transposition, or that slips: put
right, it fits nowhere better than at its place, and there as well as takes of these chords do.

Conventions: layouts are so many bars late and so many semitones high; likelihoods are in nats
a note.

Source: the bounds were chosen on written lines over charts of their own and over others, also
of the same key, and on solos of players: of stretches of 8 to 32 bars those that seem elsewhere
are one in nine, one in six by narrower bounds that told no more lines over other chords.
"""

from __future__ import annotations

from halfstep.feedback.chord_fit import Floats, counted, has_few_degrees, kinds_laid, plain_nats
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote

FEWEST_NOTES = 24
FEWEST_BARS = 4
MOST_DEFICIT, DEFICIT_NATS = 0.08, 4.0
"""How much better a take of these chords fits elsewhere than at its place, for each note and in
all: few notes fit better somewhere by chance."""
_SAME = 0.01
_LEAST_TONES = 0.6
"""Of the notes on a beat of a take that was put right, the share that are tones of their chord: so
are those of 168 in 175 lines with one note in ten wrong, and of 15 in 113 over other chords that
seem to be read wrong or to slip."""


def fits_chart(take: JudgedTake, meant: JudgedTake) -> bool:
    """False where a take was played over other chords; True where that cannot be said.

    Parameters
    ----------
    take, meant : JudgedTake
        As it was played; and with its transposition and slips of the form put right, where
        there are any.
    """
    if len(take.notes) < FEWEST_NOTES or len(take.chart.form) < FEWEST_BARS:
        return True
    if has_few_degrees(take):
        return True
    if _deficit(layout_nats(take)) <= MOST_DEFICIT + DEFICIT_NATS / len(take.notes):
        return True
    is_put_right = meant.notes != take.notes and _deficit(layout_nats(meant)) <= _SAME
    return is_put_right and _tones_on_beat(meant) >= _LEAST_TONES


def is_best_bar(take: JudgedTake, semitones: int) -> bool:
    """True where a take, so many semitones lower, fits at its place as well as any bars away."""
    return _deficit(layout_nats(take)[:, semitones % 12, None]) <= _BEST_BAR


_BEST_BAR = 0.03


def _deficit(nats: Floats) -> float:
    """How much better notes fit elsewhere than at their place.

    Parameters
    ----------
    nats : (bars, semitones) floats
    """
    return float(nats.max() - nats[0, 0])


def _tones_on_beat(take: JudgedTake) -> float:
    """The share of notes on a beat that are tones of their chord."""
    kinds = kinds_laid(take, [0.0], [0])[0, :, 0]
    on_beat = [
        kind for kind, note in zip(kinds, take.notes, strict=True) if _is_on_beat(take, note)
    ]
    return on_beat.count(0) / max(1, len(on_beat))


def _is_on_beat(take: JudgedTake, note: TakeNote) -> bool:
    return note.place % take.form.cell == 0


def layout_nats(take: JudgedTake) -> Floats:
    """How well the notes fit, were they so many bars earlier and so many semitones lower.

    Returns
    -------
    (bars, 12) floats
    """
    kinds = kinds_laid(take, take.form.bar_starts, range(12))
    return plain_nats(counted(kinds).mean(axis=1))
