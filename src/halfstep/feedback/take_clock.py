"""Where heard seconds become beats: the one place where a take's times meet written time.

A take is counted on one steady clock: that of the backing that sounds in it, the one that
was said, or the tempo that a player alone really keeps (`kept_quarter_s`). From there a slow
drift of the player is followed, so that bars stay right over minutes; where the half of a
beat is played is measured; and every note gets the place that it was meant on.

Conventions: beats are quarter notes from the start of bar 1 of the first pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from halfstep.feedback.beat_following import (
    Floats,
    eighth_timing,
    player_leads,
    quarter_timing,
    smooth_leads,
)
from halfstep.feedback.form_places import FormPlaces
from halfstep.feedback.place_search import CellPlaces, PlayedGrid, nearest_places
from halfstep.feedback.take_note import TakeNote
from halfstep.listen.heard_take import HeardNote
from halfstep.meter import Feel
from halfstep.tempo_map import TempoMap


@dataclass(frozen=True, slots=True)
class TakeClock:
    """The steady clock of a take.

    Attributes
    ----------
    quarter_s : float
        Seconds in a quarter note; where the tempo rises, in the middle one.
    form_s : float
        Where in the recording bar 1 of the first pass begins.
    is_offset_known : bool
        True where that is known by the backing or was said, so that early and late mean
        something; False where it was found from the notes themselves.
    has_backing : bool
        True where the backing sounds in the take, so that its tempo is that of the player.
    tempi : TempoMap or None
        From bar 1 on, where each chorus has a tempo of its own.
    rate_ratio : float
        The true rate of the recording over the one that its file declares.
    is_steady : bool
        False where the recording jumps, so that what lies behind does not lie where it was played.
    """

    quarter_s: float
    form_s: float
    is_offset_known: bool
    has_backing: bool = False
    tempi: TempoMap | None = None
    rate_ratio: float = 1.0
    is_steady: bool = True

    def beats(self, time_s: float) -> float:
        """Quarter notes after the start of bar 1, at a time of the true rate."""
        if self.tempi is None:
            return (time_s - self.form_s) / self.quarter_s
        return self.tempi.beats(time_s - self.form_s)

    def time_s(self, beats: float) -> float:
        """Seconds from the start of the recording, of the true rate."""
        if self.tempi is None:
            return self.form_s + beats * self.quarter_s
        return self.form_s + self.tempi.seconds(beats)


_HALF, _SWUNG_HALF = 0.5, 0.58
"""Where the half of a beat is played, until the take says it."""
_NEAREST_HALF, _FARTHEST_HALF = 0.45, 0.74
_FEWEST = 4
"""Notes of a kind that say where it is played."""
_SPREAD, _SPREAD_S, _WIDEST = 0.06, 0.02, 0.14
"""How far notes scatter about their places: in cells, in seconds, and at most, in cells."""
_ROUNDS, _SETTLED = 2, 0.04
"""How often places are sought, and how little in cells may move for them to stay."""
_MOST_OFFSET = 0.25
"""What lies farther from the clock, in cells, is no habit of the player but a drift."""


def clocked_notes(
    notes: Sequence[HeardNote], clock: TakeClock, *, form: FormPlaces, feel: Feel
) -> tuple[TakeNote, ...]:
    """The notes in beats, each with the place that it was meant on.

    Parameters
    ----------
    notes : sequence of HeardNote
        In order of onset.
    clock : TakeClock
    form : FormPlaces
    feel : Feel
        How eighths are meant to fall: what is assumed where the take has too few of them.
    """
    if not notes:
        return ()
    cell = form.cell
    sounded = np.array([clock.beats(note.onset_s) for note in notes])
    reading = _read(sounded / float(cell), clock, cell, feel)
    drifts = float(cell) * (reading.leads - _offset(reading.leads, clock))
    rows = zip(notes, sounded, drifts, *reading.places, strict=True)
    return tuple(
        TakeNote(
            onset=float(at - drift),
            beats=clock.beats(note.offset_s) - float(at),
            place=cell * (number + inside),
            midi=note.midi,
            sounded=float(at),
            sound=note,
        )
        for note, at, drift, number, inside in rows
    )


def _offset(leads: Floats, clock: TakeClock) -> float:
    """What of the leads is no drift: how late the player is throughout, where that is known."""
    if not clock.is_offset_known:
        return 0.0
    return float(np.clip(np.median(leads), -_MOST_OFFSET, _MOST_OFFSET))


@dataclass(frozen=True, slots=True, eq=False)
class _Reading:
    """Notes on their places, and how late the player was about each, both in cells."""

    places: CellPlaces
    leads: Floats


def _read(positions: Floats, clock: TakeClock, cell: Fraction, feel: Feel) -> _Reading:
    """The notes of a take in cells."""
    is_quarter, cell_s = cell == 1, float(cell) * clock.quarter_s
    spread = min(_WIDEST, float(np.hypot(_SPREAD, _SPREAD_S / cell_s)))
    timing = quarter_timing(spread) if is_quarter else eighth_timing(spread)
    usual = _SWUNG_HALF if is_quarter and feel is Feel.SWING else _HALF
    leads = player_leads(positions, timing, has_backing=clock.has_backing)
    leads = smooth_leads(positions, leads)
    half = _half_by_phase((positions - leads) % 1, usual) if is_quarter else usual
    for _ in range(_ROUNDS):
        grid, before = PlayedGrid(half, spread, in_quarters=is_quarter), leads
        places = nearest_places(positions - leads, grid)
        leads = smooth_leads(positions, positions - places.played(grid))
        half = _half_by_place(positions - leads, places, half) if is_quarter else usual
        if np.abs(leads - before).max() + abs(half - grid.half) < _SETTLED:
            break
    return _Reading(places, leads)


def _half_by_phase(phases: Floats, usual: float) -> float:
    """Where the half of a cell is played, by all notes that lie near it."""
    on_cell = (phases[(phases < 0.2) | (phases > 0.8)] + 0.5) % 1 - 0.5
    off_cell = phases[(phases > 0.38) & (phases < 0.78)]
    return _half(on_cell, off_cell, usual)


def _half_by_place(positions: Floats, places: CellPlaces, usual: float) -> float:
    """The same by the notes that are meant there."""
    away = positions - np.array(places.cells)
    inside = places.inside_floats()
    return _half(away[inside == 0], away[inside == 0.5], usual)


def _half(on_cell: Floats, off_cell: Floats, usual: float) -> float:
    if min(len(on_cell), len(off_cell)) < _FEWEST:
        return usual
    half = float(np.median(off_cell) - np.median(on_cell))
    return min(_FARTHEST_HALF, max(_NEAREST_HALF, half))
