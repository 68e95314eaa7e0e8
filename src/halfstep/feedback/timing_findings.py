"""What of a player's time is to be mended: late or early, uneven, faster, slower, straight, swung?

Each figure has an interval, and is told where that leaves no room for what players do by
custom or for what nobody hears.

Conventions: tempi in quarter notes a minute, milliseconds later positive, percent of the
tempo faster positive; a place off the beat in percent of the beat, even eighths at 50.

Sources
-------
- Lateness by custom: `LAGS_MS`, `LAG_SHARES`, counted on 12,619 pairs of eighths of
  saxophonists in the derived tables of transcribed solos (MIT); Nelias et al. 2022 have 30 ms
  at 150 bpm.
- Swing of soloists: `SOLO_RATIOS`, counted on the same tables; Corcoran & Frieler 2021
  (abstract) have 1.3:1 on average. From 220 bpm on even eighths are the custom.
- What is heard: Drake & Botte 1993 find a tempo another one from about 2 % on (from memory);
  a bass or guitar is heard beside the drums from 31-35 ms (a preprint on groove perception).
- How unevenly good players play: six transcribed solos of 115-290 bpm spread by 23-35 ms.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator

from halfstep.feedback.beat_timing import (
    BeatTiming,
    beat_timing,
    drift_curve,
    eighth_pairs,
)
from halfstep.feedback.estimate import Estimate, Floats, middle_of, spread_estimate, spread_of
from halfstep.feedback.findings import Finding, FindingKind, Unit
from halfstep.feedback.judged_take import JudgedTake
from halfstep.meter import Feel

LAGS_MS = (60.0, 41.0, 35.0, 29.0, 16.0, 7.0)
_LAGS_FROM_BPM = (130, 160, 190, 220, 260)
LAG_SHARES = (0.10, 0.07, 0.03)
_SHARES_FROM_BPM = (220, 260)
"""How late a swinging saxophonist's notes on the beat are by custom, by tempo: counted, and in
round shares of the beat."""
SOLO_RATIOS = (1.33, 1.29, 1.26)
_RATIOS_FROM_BPM = (130, 190)
"""Long eighth over short eighth of soloists, by tempo."""
EVEN_FROM_BPM = 220
_HEARD_MS = 12.0
"""A tendency is heard from here on."""
_DELAY_MS = 5.0
"""Standard error of a delay and of the ear together: a mean is right to within 10 ms."""
_UNEVEN_MS, _UNEVEN_SHARE = 30.0, 0.055
"""Who spreads by no more, in milliseconds or as a share of the beat, plays as good players do."""
_HEARD_TEMPO = 2.0
"""Percent by which a tempo must change to be heard without another beside it."""
_APART_MS = 100.0
"""What a player and the band must come apart by: three times what is heard at all, since players
stray and come back."""
_LEAST_COUNTED = 0.6
"""Of the notes: where most stand between beats and halves, in double time or in runs, too little
is known of what was meant."""
_LEAST_SHARE = 0.4
"""A tempo that is known no better than that is one that strays, and drifts nowhere."""
_TOO_WIDE = 0.11
"""Where notes spread farther, in cells, places are too often mistaken for a mean to be told."""
_FAR, _CLOSE = 0.25, 0.06
"""Who is so far from the beat, in cells, may be near the next place, unless notes lie close."""
_SWUNG_PLACE = 0.55
"""Farther from 0.5 the off-beat of even eighths lies with nobody who means them so."""
_SURELY_EVEN, _ON_TIME = 0.52, 0.04
"""Off-beats that lie so near the middle of two beats, or both on time to so much of a beat, are no
soloist's who is late on the beat alone."""
_FEWEST_NOTES, _FEWEST_PAIRS = 16, 15
_ON_BEAT_NOTES = 8
_TO_NORMAL = 1.645
"""Standard deviations from the middle of a normal distribution to its 95th percentile."""


def timing_findings(take: JudgedTake) -> Iterator[Finding]:
    """All that is to be mended of a player's time."""
    timing = beat_timing(take)
    least = 0.0 if take.alignment else _LEAST_COUNTED * len(take.notes)
    if len(timing) < max(_FEWEST_NOTES, least):
        return
    if take.clock.is_steady:
        yield from _about_the_beat(take, timing)
    elif timing.cell == 1:
        yield from _eighths(take, timing, is_placed=False)


def _about_the_beat(take: JudgedTake, timing: BeatTiming) -> Iterator[Finding]:
    """The same of a recording that does not jump."""
    steady_ms = timing.steady_ms
    yield from _uneven(take, steady_ms)
    drift = [*_tempo_drift(take, timing)]
    if spread_of(steady_ms) <= _TOO_WIDE * timing.cell * timing.quarter_ms:
        # who is early because of rushing is told of that alone
        yield from drift or _offset(take, timing)
    if timing.cell == 1:
        yield from _eighths(take, timing, is_placed=take.clock.is_offset_known and not drift)


def _quarter_ms(take: JudgedTake) -> float:
    return 1000 * take.clock.quarter_s


def _bpm(take: JudgedTake) -> float:
    return 60 / take.clock.quarter_s


def customary_lag_ms(take: JudgedTake) -> float:
    """How late notes on the beat are by custom."""
    if take.feel is not Feel.SWING or take.form.cell != 1:
        return 0.0
    bpm = _bpm(take)
    share = LAG_SHARES[bisect_right(_SHARES_FROM_BPM, bpm)]
    return max(LAGS_MS[bisect_right(_LAGS_FROM_BPM, bpm)], share * _quarter_ms(take))


def _offset(take: JudgedTake, timing: BeatTiming) -> Iterator[Finding]:
    if not take.clock.is_offset_known or timing.on_beat.sum() < _ON_BEAT_NOTES:
        return
    late, cell_ms = timing.on_beat_ms().with_error(_DELAY_MS), timing.cell * timing.quarter_ms
    if abs(late.value) > _FAR * cell_ms and spread_of(timing.steady_ms) > _CLOSE * cell_ms:
        return
    low, high = late.interval
    if low > (latest := customary_lag_ms(take) + _HEARD_MS):
        yield _finding(take, FindingKind.OFFSET, late, Unit.MS, late.above(latest))
    elif high < -_HEARD_MS:
        yield _finding(take, FindingKind.OFFSET, late, Unit.MS, late.below(-_HEARD_MS))


def _uneven(take: JudgedTake, steady_ms: Floats) -> Iterator[Finding]:
    ear_ms = take.errors.onset_spread_ms / _TO_NORMAL
    spread = spread_estimate(steady_ms, ear_ms)
    limit = max(_UNEVEN_MS, _UNEVEN_SHARE * _quarter_ms(take))
    if spread.interval[0] > limit:
        yield _finding(take, FindingKind.UNEVEN, spread, Unit.MS, spread.above(limit))


def _tempo_drift(take: JudgedTake, timing: BeatTiming) -> Iterator[Finding]:
    """Faster or slower than the band, or at the end of a take alone than at its beginning."""
    curve = drift_curve(timing)
    if curve is None:
        return
    beside_band = take.clock.has_backing
    length_ms = timing.quarter_ms * float(timing.beats[-1] - timing.beats[0])
    faster = curve[1 if beside_band else 2].times(-(100 if beside_band else 200) / length_ms)
    limit = 100 * _APART_MS / length_ms if beside_band else _HEARD_TEMPO
    limit = max(limit, _LEAST_SHARE * abs(faster.value))
    low, high = faster.interval
    if low > limit:
        yield _finding(take, FindingKind.RUSHING, faster, Unit.PERCENT, faster.above(limit))
    elif high < -limit:
        yield _finding(take, FindingKind.DRAGGING, faster, Unit.PERCENT, faster.below(-limit))


def _eighths(take: JudgedTake, timing: BeatTiming, *, is_placed: bool) -> Iterator[Finding]:
    """Even where the feel swings, or the other way.

    Parameters
    ----------
    take : JudgedTake
    timing : BeatTiming
    is_placed : bool
        How late notes are means something throughout the take.
    """
    pairs = eighth_pairs(take)
    bpm = _bpm(take)
    if len(pairs) < _FEWEST_PAIRS or bpm >= EVEN_FROM_BPM:
        return
    place = middle_of(pairs, range(len(pairs)))
    # the ear's error is one of the ratio r, and the place is r / (1 + r)
    place = place.with_error(take.errors.swing_sd(bpm) * (1 - place.value) ** 2)
    low, high = place.interval
    if take.feel is Feel.SWING and high < (limit := _straight_limit(bpm)):
        if _may_be_laid_back(high, timing, is_placed=is_placed):
            return
        yield _in_percent(take, FindingKind.STRAIGHT, place, place.below(limit))
    elif take.feel is Feel.STRAIGHT and low > _SWUNG_PLACE:
        yield _in_percent(take, FindingKind.SWUNG, place, place.above(_SWUNG_PLACE))


def _may_be_laid_back(place: float, timing: BeatTiming, *, is_placed: bool) -> bool:
    """True where eighths may be even because only those on the beat are late, by custom.

    Parameters
    ----------
    place : float
        The latest that off-beats may lie between two beats.
    timing : BeatTiming
    is_placed : bool
        How late notes are means something throughout the take.
    """
    late_ms = abs(timing.on_beat_ms().value), abs(timing.off_beat_ms() or 0.0)
    if is_placed and max(late_ms) <= _ON_TIME * timing.quarter_ms:
        return False
    return place > _SURELY_EVEN


def _straight_limit(bpm: float) -> float:
    """Half of the way from even eighths to those of soloists at a tempo."""
    ratio = SOLO_RATIOS[bisect_right(_RATIOS_FROM_BPM, bpm)]
    return (0.5 + ratio / (1 + ratio)) / 2


def _in_percent(take: JudgedTake, kind: FindingKind, place: Estimate, certainty: float) -> Finding:
    return _finding(take, kind, place.times(100), Unit.PERCENT, certainty)


def _finding(
    take: JudgedTake, kind: FindingKind, estimate: Estimate, unit: Unit, certainty: float
) -> Finding:
    """What holds from the first note of a take to the last."""
    first, last = take.notes[0], take.notes[-1]
    low, high = estimate.interval
    return Finding(
        kind=kind,
        fault=True,
        place=take.place_at(first.onset),
        until=take.place_at(last.onset),
        time_s=take.time_s(first.sounded),
        certainty=round(certainty, 3),
        amount=round(estimate.value, 1),
        unit=unit,
        interval=(round(low, 1), round(high, 1)),
    )
