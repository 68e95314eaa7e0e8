"""Where does bar 1 begin under notes that were played to a chart?

Who plays with headphones leaves no backing in the recording; the tempo is known, the place
is not. Every place of the form, in twelfths of a beat, is tried under the notes: it is as
likely as they are, each over the chord that it falls on, less the mean over all chords
(`halfstep.harmony.note_likelihoods`), and each by how near to the beat or to the off-beat it
falls. A place where bar 1 is expected, since the recording is likely to begin with its backing,
is so much likelier than another.

A place is *clear* when no other, a beat or more away, comes near it. Places that a form which
repeats itself cannot tell apart are one place.

Conventions: beats are quarter notes, those of the notes from the start of the recording.

Source: the bounds were chosen on written etudes, where nine in ten are clear and none of them
wrong, and on 142 stretches of transcribed solos over their chords alone, where three in a
hundred are clear and none wrong: what is improvised seldom says which beat is the first.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from math import exp, log
from typing import NamedTuple

from halfstep.harmony.line_figures import mixture_of
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.note_likelihoods import chord_family, log_shares, weight_at
from halfstep.progression.chart import Chart, spans

PLACES_A_BEAT = 12
"""Places that are tried in a beat."""
LEAST_NOTES = 12
CLEAR_NATS = 8.0
"""How much likelier than any other a place over a chart must be."""
EXPECTED_NATS = 6.0
"""How much likelier bar 1 begins in a place where it is expected than in another."""
_EARLY_BEATS = 0.5
"""A player may begin so much before bar 1 and still be taken to begin in it."""
_ON_BEAT, _OFF_BEAT, _ANYWHERE = 0.5, 0.35, 0.15
_SPREAD, _OFF_SPREAD, _OFF_PLACE = 0.06, 0.08, 0.58
"""Where in a beat notes begin: shares, and in beats how far they spread and where off-beats
lie, between even and swung."""


class FirstBar(NamedTuple):
    """Where bar 1 begins.

    Attributes
    ----------
    beats : float
        From the start of the recording; negative where the form began before it.
    confidence : float
        0 to 1.
    is_clear : bool
    is_expected : bool
        It is where it was expected, which made it clear.
    """

    beats: float
    confidence: float
    is_clear: bool
    is_expected: bool = False


class ExpectedStart(NamedTuple):
    """Between which beats from the start of the recording bar 1 is likely to begin."""

    earliest: float
    latest: float

    def places(self) -> range:
        """The places between, in parts of a beat."""
        first, last = (round(beats * PLACES_A_BEAT) for beats in self)
        return range(first, last + 1)


def first_bar_over_chart(
    notes: Sequence[LineNote], chart: Chart, expected: ExpectedStart | None = None
) -> FirstBar | None:
    """Where bar 1 of a chart begins under the notes; None where there are too few of them.

    Parameters
    ----------
    notes : sequence of LineNote
        As they were played.
    chart : Chart
    expected : ExpectedStart or None
        Where bar 1 begins if the recording begins with its backing.
    """
    table = _table(chart)
    if len(notes) < LEAST_NOTES or not table:
        return None
    places = [(round(float(note.onset) * PLACES_A_BEAT), note.midi % 12) for note in notes]
    period = _period(table)
    nats = [_nats(table, places, start) for start in range(period)]
    if expected:
        place = max(expected.places(), key=lambda place: nats[place % period])
        lead = _lead(nats, place % period) + EXPECTED_NATS
        if lead >= CLEAR_NATS:
            at = place / PLACES_A_BEAT
            return FirstBar(at, _confidence(lead), is_clear=True, is_expected=True)
    best = max(range(period), key=nats.__getitem__)
    lead = _lead(nats, best)
    at = latest_place(best / PLACES_A_BEAT, period / PLACES_A_BEAT, float(notes[0].onset))
    return FirstBar(at, _confidence(lead), lead >= CLEAR_NATS)


def _lead(nats: Sequence[float], place: int) -> float:
    """How much likelier a place is than any other, a beat or more away."""
    apart = (n for at, n in enumerate(nats) if places_apart(at, place, len(nats)) >= PLACES_A_BEAT)
    return nats[place] - max(apart, default=0.0)


def _confidence(lead: float) -> float:
    return 1 / (1 + exp(-min(lead, 50.0) / 2))


def _table(chart: Chart) -> list[tuple[float, ...]]:
    """For each place of the form how likely each pitch class is there, in nats."""
    chords = spans(chart)
    mixture = mixture_of(chords)
    starts = [span.start for span in chords]
    table: list[tuple[float, ...]] = []
    for bar, begin in chart.placed():
        if bar.number < 1:
            continue
        unit = bar.meter.tempo_beats
        for step in range(int(bar.beats * PLACES_A_BEAT)):
            into = Fraction(step, PLACES_A_BEAT)
            chord = chords[bisect_right(starts, begin + into) - 1].symbol
            family = chord_family(chord)
            weight = weight_at(bar.meter, float(into))
            timing = _log_timing(float(into / unit) % 1)
            row = log_shares(family, chord.root.pitch_class) if family else mixture
            keys = range(12 * weight, 12 * weight + 12)
            table.append(tuple(row[key] - mixture[key] + timing for key in keys))
    return table


def _log_timing(phase: float) -> float:
    """How likely a note begins there in its beat, in nats, against anywhere."""
    near = min(phase, 1 - phase)
    on_beat = _bell(near, _SPREAD)
    off_beat = _bell(phase - _OFF_PLACE, _OFF_SPREAD)
    return log(_ON_BEAT * on_beat + _OFF_BEAT * off_beat + _ANYWHERE)


def _bell(away: float, spread: float) -> float:
    return exp(-((away / spread) ** 2) / 2) / (spread * 2.5066)


def _nats(
    table: Sequence[tuple[float, ...]], places: Sequence[tuple[int, int]], start: int
) -> float:
    size = len(table)
    return sum(table[(place - start) % size][pitch_class] for place, pitch_class in places)


def _period(table: Sequence[tuple[float, ...]]) -> int:
    """The length after which the form comes again."""
    size = len(table)
    shifts = (n for n in range(PLACES_A_BEAT, size, PLACES_A_BEAT) if size % n == 0)
    return next((n for n in shifts if table[n:] == table[:-n]), size)


def places_apart(place: int, other: int, period: int) -> int:
    """How far two places lie apart, the short way round."""
    away = (place - other) % period
    return min(away, period - away)


def latest_place(place: float, period: float, first_onset: float) -> float:
    """The last such place that the first note does not come long before."""
    return place + (first_onset + _EARLY_BEATS - place) // period * period
