"""Where does bar 1 begin under notes that were read from a written line?

A place is as good as the share of notes that fall where the line has them, an octave apart or
not. Who reads in the wrong transposition has all of them equally far off: where few of those
written fall anywhere, and far more so many semitones higher, the line was read there.

A player who repeats bars or leaves some out is in two places of the line, and the longer part
need not be that in which the form is right. Where a recording is likely to begin with its
backing, the line is looked for there first: a stretch of it that lies there, and not in the
place where most notes lie, says that bar 1 does.

Conventions: beats are quarter notes, those of the notes from the start of the recording.

Source: the bounds were chosen on written etudes, as those of `halfstep.harmony.first_bar`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter

from halfstep.harmony.first_bar import (
    LEAST_NOTES,
    PLACES_A_BEAT,
    ExpectedStart,
    FirstBar,
    latest_place,
    places_apart,
)
from halfstep.harmony.line_over_chords import LineNote

CLEAR_SHARE, CLEAR_LEAD = 0.5, 0.15
"""The share of notes that must fall where a line has them, and its lead over other places."""
LEAST_STRETCH = 4.0
"""So many notes in a row are enough where the form is expected to begin."""
_ELSEWHERE = -0.5
"""What a note that falls in neither of two places takes from a stretch of notes in a row."""
_RISES = range(1, 12)
"""Semitones that a player may be off, octaves aside."""


@dataclass(frozen=True, slots=True)
class _NotePlaces:
    """Where bar 1 would begin by each note, in places around the form.

    Attributes
    ----------
    by_note : sequence of frozenset of int
    period : int
    shares : dict of int to float
        The share of notes that fall within a place of each that any note gives.
    """

    by_note: Sequence[frozenset[int]]
    period: int
    shares: dict[int, float]

    @property
    def best(self) -> int:
        """Where most notes fall."""
        return max(self.shares, key=self.shares.__getitem__, default=0)

    @property
    def best_share(self) -> float:
        """How many do, of all."""
        return self.shares.get(self.best, 0.0)

    def lead(self, place: int) -> float:
        """How much larger the share of a place is than that of any other, a beat or more away."""
        apart = (share for other, share in self.shares.items() if self.are_apart(other, place))
        return self.shares.get(place, 0.0) - max(apart, default=0.0)

    def are_apart(self, place: int, other: int) -> bool:
        """True for places that lie a beat or more from each other."""
        return places_apart(place, other, self.period) >= PLACES_A_BEAT

    def fits(self, place: int) -> list[bool]:
        """Which notes fall in a place."""
        around = _around(place, self.period)
        return [not around.isdisjoint(places) for places in self.by_note]


def first_bar_by_line(
    notes: Sequence[LineNote],
    line: Sequence[LineNote],
    form_beats: float,
    expected: ExpectedStart | None = None,
) -> FirstBar | None:
    """Where bar 1 begins when the notes were read from a line; None where there are too few.

    Parameters
    ----------
    notes, line : sequence of LineNote
        As they were played, and as they are written from bar 1.
    form_beats : float
        The length of a chorus, after which the line comes again.
    expected : ExpectedStart or None
        Where bar 1 begins if the recording begins with its backing.
    """
    if len(notes) < LEAST_NOTES or not line:
        return None
    places = _places_as_read(notes, line, round(form_beats * PLACES_A_BEAT))
    if expected and (bar := _expected_bar(places, expected)):
        return bar
    best, share = places.best, places.best_share
    at = latest_place(best / PLACES_A_BEAT, places.period / PLACES_A_BEAT, float(notes[0].onset))
    return FirstBar(at, share, share >= CLEAR_SHARE and places.lead(best) >= CLEAR_LEAD)


def _places_as_read(
    notes: Sequence[LineNote], line: Sequence[LineNote], period: int
) -> _NotePlaces:
    """Where bar 1 would begin by each note, in the transposition that the line was read in."""
    as_written = _note_places(notes, line, period, 0)
    if as_written.best_share >= CLEAR_SHARE:
        return as_written
    moved = (_note_places(notes, line, period, rise) for rise in _RISES)
    likeliest = max(moved, key=attrgetter("best_share"))
    least = max(CLEAR_SHARE, as_written.best_share + CLEAR_LEAD)
    return likeliest if likeliest.best_share >= least else as_written


def _note_places(
    notes: Sequence[LineNote], line: Sequence[LineNote], period: int, rise: int
) -> _NotePlaces:
    """Where bar 1 would begin by each note, were all played so many semitones too high."""
    onsets: dict[int, list[float]] = {}
    for written in line:
        onsets.setdefault((written.midi + rise) % 12, []).append(float(written.onset))
    by_note = [
        frozenset(
            round((float(note.onset) - onset) * PLACES_A_BEAT) % period
            for onset in onsets.get(note.midi % 12, ())
        )
        for note in notes
    ]
    votes = Counter(place for places in by_note for place in places)
    counts = {place: sum(votes[near] for near in _around(place, period)) for place in votes}
    shares = {place: min(1.0, count / len(notes)) for place, count in counts.items()}
    return _NotePlaces(by_note, period, shares)


def _around(place: int, period: int) -> set[int]:
    return {(place + step) % period for step in (-1, 0, 1)}


def _expected_bar(places: _NotePlaces, expected: ExpectedStart) -> FirstBar | None:
    """The expected place that the longest stretch falls in; None where all are short.

    What falls as well where most notes fall, a beat or more away, says nothing for it.
    """
    best = places.best
    at_best, nowhere = places.fits(best), [False] * len(places.by_note)

    def stretch(place: int) -> float:
        rival_fits = at_best if places.are_apart(place, best) else nowhere
        return _notes_in_a_row(places.fits(place), rival_fits)

    place = max(expected.places(), key=stretch)
    if stretch(place) < LEAST_STRETCH:
        return None
    share = sum(places.fits(place)) / len(places.by_note)
    return FirstBar(place / PLACES_A_BEAT, share, is_clear=True, is_expected=True)


def _notes_in_a_row(fits: Sequence[bool], rival_fits: Sequence[bool]) -> float:
    """Most notes in a row that fall in one place, less those that fall in its rival."""
    longest = in_a_row = 0.0
    for fit, rival_fit in zip(fits, rival_fits, strict=True):
        point = fit - rival_fit if fit or rival_fit else _ELSEWHERE
        in_a_row = max(0.0, in_a_row + point)
        longest = max(longest, in_a_row)
    return longest
