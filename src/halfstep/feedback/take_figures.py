"""A take in a few figures: how long it is, and what shares of it are as they were meant.

What findings tell one by one is summed up by whoever asks; these are figures that they do not
hold.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.feedback.echoes import echo_share
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.line_findings import line_share
from halfstep.feedback.motif_bars import BarNote, motif_bars


@dataclass(frozen=True, slots=True)
class ShareRight:
    """So many of so many.

    Attributes
    ----------
    right, of : int
    certainty : float
        How surely it is known, 0 to 1.
    """

    right: int
    of: int
    certainty: float


@dataclass(frozen=True, slots=True)
class TakeFigures:
    """A take in figures.

    Attributes
    ----------
    is_judged : bool
        False where something stands against judging any of it: then there is no share.
    choruses : float
        How many passes of the form are played, the last by how much of it is.
    certainty : float
        How surely its notes are heard, 0 to 1, on average.
    line : ShareRight or None
        Notes of the written line that are played as written; None for an improvised take.
    echo : ShareRight or None
        Notes played back; None without bars to do so in.
    motif : ShareRight or None
        Bars that carry the commonest figure, of those that sound; None without notes.
    """

    is_judged: bool
    choruses: float
    certainty: float
    line: ShareRight | None = None
    echo: ShareRight | None = None
    motif: ShareRight | None = None


def take_figures(feedback: Feedback) -> TakeFigures:
    """The figures of a take."""
    take = feedback.take
    heard = [note.certainty for note in take.notes]
    certainty = round(sum(heard) / len(heard), 3) if heard else 0.0
    choruses = _choruses(take)
    if not feedback.is_judged:
        return TakeFigures(False, choruses, certainty)
    line, echo = line_share(take), echo_share(take)
    return TakeFigures(
        True,
        choruses,
        certainty,
        line and ShareRight(*line, certainty),
        echo and ShareRight(*echo),
        _motif(take, certainty),
    )


def _choruses(take: JudgedTake) -> float:
    """Passes from the first note on, or from bar 1, to the last."""
    if not take.notes:
        return 0.0
    end = take.notes[-1].onset + take.notes[-1].beats
    return max(0.0, round((end - max(0.0, take.notes[0].onset)) / take.form.beats, 3))


def _motif(take: JudgedTake, certainty: float) -> ShareRight | None:
    notes = [BarNote(_bar(take, float(n.place)), n.place, n.midi) for n in take.notes]
    found = motif_bars([note for note in notes if note.bar > 0])
    return ShareRight(found.carried, found.sounding, certainty) if found.sounding else None


def _bar(take: JudgedTake, beats: float) -> int:
    """The bar of a place, counted on through all passes; below 1 before bar 1."""
    place = take.place_at(beats)
    return (place.chorus - 1) * len(take.form.bar_starts) + place.bar
