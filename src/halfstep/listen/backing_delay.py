"""How late is the backing in the take?

The program rendered the backing, so its sound is known to the sample. Both are laid over
each other at every lag; the tallest peaks are places where the backing may lie. At each of
them the backing explains so much of the take, and the place that explains most is taken,
unless others explain as much because the backing repeats itself: then the delay is known
but for a whole number of repeats. Where no peak stands out, the delay is not known.

Conventions
-----------
- Delays are seconds that the take's backing comes after the file's own, in true time.
- Evidence has no unit: about one for each band of frequencies where there is no backing.

Source: generalised least squares with the noise's own spectrum, from any handbook; the
figures below were chosen on made-up takes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from halfstep.listen.thin_sound import (
    BY_HALF,
    FRAME,
    THIN_RATE,
    WHOLLY,
    ThinSound,
    frame_window,
    likenesses,
    stretches,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float32]
    Complex = npt.NDArray[np.complex64]

CLEAR = 10.0
"""How far a peak must stand out, in standard deviations of its neighbourhood; takes without
the backing reach 6.3, the softest backings 17."""
_RIVAL = 6.0
"""From here on a lower peak is held against the tallest one."""
CLEAR_AT_OTHER_RATE = 14.0
"""The same where the rate is doubted: so many rates are tried that chance has more of them."""
OVERLAP_S = 2.0
"""Take and backing must share so much."""
PLACES = 12
"""How many peaks are looked into."""
_APART = THIN_RATE // 100
_AT_ONCE = 6
"""Stretches of a take that are laid over its backing in one go."""
_NEAR_TOP = 0.6
"""Peaks that much lower than the tallest are not where the backing lies."""
_PART = 4 * THIN_RATE
"""Thin samples whose evidence is taken together."""
_MOST_PARTS = 60
_HEARD = 0.1
_SILENT = 1e-5
"""Under that share of a take's power, its frequencies say nothing of the backing's place."""
_BANDS = 12
_AS_MUCH = 0.93
"""A place that explains that share of what the best one does may be it."""
_SURELY_MORE = 40.0
_IN_DISPUTE, _DISPUTED_SHARE = 0.1, 0.7
_ELSEWHERE = 150.0
"""Evidence in what the best place leaves unexplained, from which on the backing was looped."""
_RIVALS, _SURPLUS = 5, 0.15
"""How many other places are looked at, and how much more they may explain than is expected."""
_COVERING, _COVERED = 30, 3.0
"""How many frequencies on either side, 117 Hz, cover one in a lossy file, and from which share
of their mean power on it is half kept."""
_SAME_S = 0.004


@dataclass(frozen=True, slots=True)
class BackingDelay:
    """Where the backing lies in a take.

    Attributes
    ----------
    delay_s : float
    modulo_s : float or None
        The backing sounds alike every so many seconds as far as it is in the take, so that
        the true delay may be a number of these more or less; None where it is unmistakable.
    clock_ratio : float
        The true rate of the take over the one it was read at, 1 to within a thousandth: the
        clocks of two devices differ.
    clearness : float
        How far the best agreement stands out, in standard deviations.
    """

    delay_s: float
    modulo_s: float | None = None
    clock_ratio: float = 1.0
    clearness: float = 0.0


@dataclass(frozen=True, slots=True)
class _Peak:
    """A lag at which take and backing agree, in thin samples, and how much they do."""

    lag: float
    height: float
    clearness: float


def backing_delay(take: ThinSound, backing: ThinSound) -> BackingDelay | None:
    """Where the backing lies in the take; None where it is not found.

    Examples
    --------
    >>> silence = ThinSound(np.zeros(20_000, dtype=np.float16))
    >>> backing_delay(silence, silence) is None
    True
    """
    peaks = _peaks(take, backing)
    if not peaks:
        return _at_other_clock(take, backing)
    ratio = _clock_ratio(take, backing, peaks[0].lag)
    if ratio == 1:
        return _placed(take, backing, peaks)
    steady = take.at_rate(ratio)
    steady_peaks = _peaks(steady, backing)
    if not steady_peaks or steady_peaks[0].clearness < peaks[0].clearness:
        return _placed(take, backing, peaks)
    return _with_clock(_placed(steady, backing, steady_peaks), ratio)


def is_clearly_in(take: ThinSound, backing: ThinSound) -> bool:
    """True where the backing is in the take beyond doubt, by the clock that both have."""
    return bool(_peaks(take, backing))


def _with_clock(delay: BackingDelay | None, ratio: float) -> BackingDelay | None:
    return None if delay is None else replace(delay, clock_ratio=ratio)


# --- the peaks -------------------------------------------------------------------------------


def _peaks(take: ThinSound, backing: ThinSound) -> list[_Peak]:
    """The tallest peaks, the first one tallest."""
    tallest = _tallest(_joined(_agreements(take, backing, _RIVAL)))
    clear = any(peak.clearness >= CLEAR for peak in tallest)
    return tallest if clear and _shared_s(take, backing, tallest[0].lag) >= OVERLAP_S else []


def _agreements(take: ThinSound, backing: ThinSound, least: float) -> Iterator[tuple[int, _Peak]]:
    """Every clear peak, and where the stretch of the take begins in which it is one."""
    whole = stretches(take, len(backing))
    for done in range(0, len(whole), _AT_ONCE):
        some = whole[done : done + _AT_ONCE]
        for place, first, values in likenesses([stretch.sound for stretch in some], backing):
            start = some[place].start
            lags = _lags(some[place].sound, backing)
            for peak in _clear_peaks(first, values, lags, least):
                yield start, replace(peak, lag=start + peak.lag)


def _joined(agreements: Iterable[tuple[int, _Peak]]) -> Iterator[_Peak]:
    """Peaks at one lag of several stretches as one, as tall as all of them together."""
    together: dict[int, _Peak] = {}
    for start, peak in sorted(agreements, key=lambda agreement: agreement[1].lag):
        rivals = list(together.values())
        if start in together or (rivals and peak.lag - rivals[0].lag > _APART):
            yield _as_one(rivals)
            together = {}
        together[start] = peak
    if together:
        yield _as_one(list(together.values()))


def _as_one(peaks: Sequence[_Peak]) -> _Peak:
    clearest = max(peaks, key=lambda peak: peak.clearness)
    return replace(clearest, height=sum(peak.height for peak in peaks))


def _shared_s(take: ThinSound, backing: ThinSound, lag: float) -> float:
    return (min(len(take), lag + len(backing)) - max(0.0, lag)) / THIN_RATE


def _lags(take: ThinSound, backing: ThinSound) -> tuple[int, int]:
    """At which lags the two have anything in common."""
    shared = FRAME
    return shared - len(backing), len(take) - shared


def _tallest(candidates: Iterable[_Peak]) -> list[_Peak]:
    ordered = sorted(candidates, key=lambda peak: -peak.height)
    return [peak for peak in ordered if peak.height >= _NEAR_TOP * ordered[0].height][:PLACES]


def _clear_peaks(
    first: int, values: Floats, lags: tuple[int, int], least: float
) -> Iterator[_Peak]:
    """Peaks among values that begin at a lag, each the tallest within ten milliseconds."""
    begin, end = max(0, lags[0] - first), min(len(values), lags[1] - first)
    heights = np.abs(values[begin:end])
    if len(heights) < 3:
        return
    spread = _spread(heights)
    seconds = np.arange(0, len(heights), THIN_RATE)
    if not (np.maximum.reduceat(heights, seconds) >= least * spread).any():
        return
    clearness = heights / np.repeat(spread, THIN_RATE)[: len(heights)]
    clear = np.flatnonzero(clearness >= least)
    taken = np.zeros(len(heights), dtype=bool)
    for place in clear[np.argsort(-heights[clear])]:
        if not taken[place]:
            taken[max(0, place - _APART) : place + _APART] = True
            lag = first + begin + place + _between(heights, int(place))
            yield _Peak(lag, float(heights[place]), float(clearness[place]))


def _spread(heights: Floats) -> Floats:
    """The standard deviation of each second of values, with two more on either side."""
    seconds = -(-len(heights) // THIN_RATE)
    squares = np.zeros(seconds * THIN_RATE, dtype=np.float32)
    np.square(heights, out=squares[: len(heights)])
    counts = np.full(seconds, THIN_RATE, dtype=np.float32)
    counts[-1] -= len(squares) - len(heights)
    sums = np.stack([squares.reshape(seconds, -1).sum(axis=1), counts])
    power, count = (np.convolve(row, np.ones(5))[2 : 2 + seconds] for row in sums)
    return np.asarray(np.sqrt(power / count) + 1e-9, dtype=np.float32)


def _between(heights: Floats, best: int) -> float:
    """Where the top of the parabola through three values lies, from the middle one."""
    if not 0 < best < len(heights) - 1:
        return 0.0
    before, middle, after = (float(height) for height in heights[best - 1 : best + 2])
    curve = before - 2 * middle + after
    return (before - after) / (2 * curve) if curve < 0 else 0.0


# --- which of them ---------------------------------------------------------------------------


def _placed(take: ThinSound, backing: ThinSound, peaks: Sequence[_Peak]) -> BackingDelay | None:
    """Where the backing lies, of several peaks; None where the sound is some other band's."""
    lags = [peak.lag for peak in peaks]
    evidence = _evidence(take, backing, lags).until_it_stops()
    best = evidence.best
    likely_places = [place for place in range(len(peaks)) if evidence.may_be(place, best)]
    other_places = [
        place
        for place in range(len(peaks))
        if place != best and not evidence.explains_elsewhere(place, best)
    ]
    rivals = other_places[:_RIVALS]
    if rivals and not _agrees_elsewhere(take, backing, lags, evidence, rivals):
        return None
    delays_s = sorted((lags[place] / THIN_RATE for place in (best, *likely_places)), key=abs)
    clearness = max(peak.clearness for peak in peaks)
    return BackingDelay(delays_s[0], common_step_s(delays_s), clearness=clearness)


def _agrees_elsewhere(
    take: ThinSound,
    backing: ThinSound,
    lags: Sequence[float],
    evidence: _Evidence,
    rivals: Sequence[int],
) -> bool:
    """True where other places explain as little of the take as of the backing itself.

    Two bands may share their drums and their tempo. Then all places on which the drums fall
    together explain as much, also those that the backing's other parts tell apart. Only what
    a lossy file keeps is compared: the take may hold another file of the same sound.
    """
    best, parts = evidence.best, len(evidence.cross)
    places = [lags[place] for place in (best, *rivals)]
    take_evidence, backing_evidence = (
        _evidence(take, backing, places, kept_at=lags[best], of_backing=of_backing).first_parts(
            parts
        )
        for of_backing in (False, True)
    )
    surplus = [
        take_evidence.share(place, 0) - take_evidence.expected_share(backing_evidence, place, 0)
        for place in range(1, len(places))
    ]
    return float(np.median(surplus)) < _SURPLUS


def common_step_s(delays_s: Sequence[float]) -> float | None:
    """The longest time of which all differences are multiples; None for a single delay.

    >>> common_step_s([2.0, 10.0, -14.0]), common_step_s([2.0])
    (8.0, None)
    """
    step_s = 0.0
    for delay_s in delays_s[1:]:
        rest_s = abs(delay_s - delays_s[0])
        while rest_s > _SAME_S:
            step_s, rest_s = rest_s, abs(step_s - rest_s * round(step_s / rest_s))
    return step_s or None


@dataclass(frozen=True, slots=True, eq=False)
class _Evidence:
    """How well the backing explains each part of a take from each place.

    Attributes
    ----------
    cross : complex array, shape (parts, places, bands)
        What take and backing have in common, over the power of the take.
    power : float array, shape (parts, places, bands)
        The backing's, over that of the take.
    """

    cross: npt.NDArray[np.complex128]
    power: npt.NDArray[np.float64]

    @property
    def best(self) -> int:
        """The place that explains most; where several do, the one that fits most closely."""
        piecemeal = self.piecemeal()
        as_much = piecemeal >= _AS_MUCH * piecemeal.max()
        return int(np.argmax(np.where(as_much, self.explained(), -1)))

    def explained(self, parts: slice | npt.NDArray[np.bool_] = slice(None)) -> Floats:
        """The evidence for each place, the backing being as loud in all of these parts."""
        cross, power = self.cross[parts].sum(axis=0), self.power[parts].sum(axis=0)
        return np.asarray((np.abs(cross) ** 2 / (power + 1e-9)).sum(axis=-1))

    def piecemeal(self) -> Floats:
        """The evidence for each place, however loud the backing is in which part."""
        return np.asarray(self._by_part().sum(axis=0))

    def until_it_stops(self) -> _Evidence:
        """Without what follows the last part in which the backing is heard.

        A backing may be stopped before its end, so that its silence there says nothing.
        """
        by_part = self._by_part().max(axis=1)
        end = int(np.flatnonzero(by_part >= _HEARD * by_part.max())[-1]) + 1
        return self.first_parts(end)

    def first_parts(self, end: int) -> _Evidence:
        """Of so many parts."""
        return _Evidence(self.cross[:end], self.power[:end])

    def _by_part(self) -> Floats:
        return np.asarray((np.abs(self.cross) ** 2 / (self.power + 1e-9)).sum(axis=-1))

    def share(self, place: int, best: int) -> float:
        """What a place explains of what the best one does, where both sound."""
        totals = self.explained(self._shared_parts(place, best))
        return float(totals[place] / (totals[best] + 1e-9))

    def expected_share(self, of_backing: _Evidence, place: int, best: int) -> float:
        """The same of the backing itself, each band counting as it does in the take.

        Parameters
        ----------
        of_backing : _Evidence
            Of the backing where it lies at the best place, which is its first.
        """
        parts = of_backing._shared_parts(place, 0)
        cross, power = (of_backing.cross[parts].sum(axis=0), of_backing.power[parts].sum(axis=0))
        alike = np.abs(cross[place]) ** 2 / (power[place] * power[0] + 1e-9)
        bands = np.abs(self.cross[:, best].sum(axis=0)) ** 2
        bands /= self.power[:, best].sum(axis=0) + 1e-9
        return float(np.sum(bands * alike) / (np.sum(bands) + 1e-9))

    def _shared_parts(self, place: int, best: int) -> npt.NDArray[np.bool_]:
        sounding = self.power.sum(axis=-1) > 0
        return np.asarray(sounding[:, place] & sounding[:, best])

    def may_be(self, place: int, best: int) -> bool:
        """True where a place is as likely as the best one."""
        if place == best:
            return False
        if self.explains_elsewhere(place, best):
            return True
        disputed = self._disputed(place, best)
        comparisons = (
            (self.piecemeal(), _AS_MUCH),
            (self.explained(), _AS_MUCH),
            (self.explained(disputed), _DISPUTED_SHARE),
        )
        return not any(
            self._surely_less(totals[place], totals[best], share) for totals, share in comparisons
        )

    @staticmethod
    def _surely_less(less: float, more: float, share: float) -> bool:
        return less < share * more and more - less > _SURELY_MORE

    def _disputed(self, place: int, best: int) -> npt.NDArray[np.bool_]:
        """The parts in which two places do not sound alike."""
        crosses = self.cross[:, best], self.cross[:, place]
        powers = self.power[:, best] + 1e-9, self.power[:, place] + 1e-9
        difference = np.abs(crosses[0] - crosses[1]) ** 2 / (powers[0] + powers[1])
        total = sum(
            np.abs(cross) ** 2 / power for cross, power in zip(crosses, powers, strict=True)
        )
        return np.asarray(difference.sum(axis=-1) > _IN_DISPUTE * np.sum(total, axis=-1))

    def explains_elsewhere(self, place: int, best: int) -> bool:
        """True where a place explains what lies before or behind the best one."""
        outside = self.power[:, best].sum(axis=-1) < 1e-6 * self.power.sum(axis=(1, 2)) + 1e-9
        inside = max(1, np.count_nonzero(~outside))
        usual = self.explained()[best] / inside
        least = max(_ELSEWHERE, 0.25 * usual * np.count_nonzero(outside))
        return bool(self.explained(outside)[place] > least)


def _evidence(
    take: ThinSound,
    backing: ThinSound,
    lags: Sequence[float],
    *,
    kept_at: float | None = None,
    of_backing: bool = False,
) -> _Evidence:
    """The evidence for each lag in the take.

    Parameters
    ----------
    kept_at : float, optional
        At this lag the backing lies, and frequencies count as a lossy file of it keeps them.
    of_backing : bool
        The evidence is sought in the backing as it lies there, not in the take.
    """
    starts = _parts(len(take), len(backing), lags)
    shape = (len(starts), len(lags), _BANDS)
    cross, power = np.zeros(shape, dtype=np.complex128), np.zeros(shape)
    loudness = _mean_power(take)
    for part, start in enumerate(starts):
        samples = max(FRAME, min(_PART, len(take) - start))
        mic = _frames(take.piece(start, samples))
        weight = 1 / (_smoothed(mic) + _SILENT * loudness)
        if kept_at is not None:
            under = _laid_under(backing, kept_at, start, samples)
            weight *= _kept_share(under)
            mic = under if of_backing else mic
        for place, lag in enumerate(lags):
            if lag - samples < start < lag + len(backing):
                band = _laid_under(backing, lag, start, samples)
                cross[part, place] = _banded((mic * np.conj(band) * weight).sum(axis=0))
                power[part, place] = _banded((np.abs(band) ** 2 * weight).sum(axis=0))
    return _Evidence(cross, power)


def _laid_under(backing: ThinSound, lag: float, start: int, samples: int) -> Complex:
    """The frames of the backing under a part of the take."""
    whole = int(np.floor(lag))
    return _frames(backing.piece(start - whole, samples)) * _late(lag - whole)


def _mean_power(sound: ThinSound) -> float:
    """Of a bin of its frames, over the whole sound."""
    pieces = (sound.piece(first, _PART) for first in range(0, len(sound), _PART))
    return FRAME / 2 * sum(float(np.square(piece).sum()) for piece in pieces) / len(sound) + 1e-12


def _parts(take: int, backing: int, lags: Sequence[float]) -> list[int]:
    """Where the parts begin that are looked at: all, or the edges of places and some more."""
    starts = [
        start
        for start in range(0, take, _PART)
        if any(lag - _PART < start < lag + backing for lag in lags)
    ]
    if len(starts) <= _MOST_PARTS:
        return starts
    edges = [edge for lag in lags for edge in (lag, lag + backing)]
    near = {start for start in starts if any(abs(start - edge) < 2 * _PART for edge in edges)}
    return sorted(near | set(starts[:: -(-len(starts) // _MOST_PARTS)]))


def _kept_share(frames: Complex) -> Floats:
    """How much of each frequency a lossy file keeps: little of what its neighbours cover."""
    power = _smoothed(frames)
    around = np.pad(power, ((0, 0), (_COVERING + 1, _COVERING)), mode="edge")
    sums = np.cumsum(around, axis=1, dtype=np.float64)
    width = 2 * _COVERING + 1
    covering = (sums[:, width:] - sums[:, :-width]) / width
    return np.asarray(power / (power + _COVERED * covering + 1e-12), dtype=np.float32)


def _frames(sound: Floats) -> Complex:
    views = np.lib.stride_tricks.sliding_window_view(sound, FRAME)[:: FRAME // 2]
    return np.asarray(np.fft.rfft(views * frame_window()))


def _late(samples: float) -> Complex:
    """What delays a frame by a part of a sample."""
    places = np.arange(FRAME // 2 + 1) / FRAME
    return np.asarray(np.exp(-2j * np.pi * places * samples), dtype=np.complex64)


def _smoothed(frames: Complex) -> Floats:
    """The power of each frequency, over three frames and five bins."""
    power = np.square(np.abs(frames))
    wide = np.pad(power, ((1, 1), (2, 2)), mode="edge")
    rows = wide[:-2] + wide[1:-1] + wide[2:]
    bins = power.shape[1]
    smooth = sum(rows[:, place : place + bins] for place in range(5)) / 15
    return np.asarray(smooth, dtype=np.float32)


@lru_cache(maxsize=1)
def _edges() -> npt.NDArray[np.int64]:
    return np.unique(np.round(np.geomspace(8, 0.9 * FRAME / 2, _BANDS + 1)).astype(np.int64))


def _banded(values: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
    edges = _edges()
    return np.asarray(np.add.reduceat(values[: edges[-1]], edges[:-1]))


# --- clocks and rates ------------------------------------------------------------------------

_FOLLOWED = 4 * THIN_RATE
_FOLLOWED_PARTS = 24
_ASTRAY = THIN_RATE // 20
"""How far from its lag the backing is followed."""
_CLEARLY_FOLLOWED = 6.0
_LEAST_CLOCK = 4e-6
CLOCKS = (1 - 1e-4, 1 - 5e-5, 1 + 5e-5, 1 + 1e-4)
CLOCK_S = 20.0
"""How much of a take is tried at each clock: not enough to be smeared by half a step of them."""


def _clock_ratio(take: ThinSound, backing: ThinSound, lag: float) -> float:
    """How the lag moves through the take, as the rate that keeps it still; 1 where it does."""
    begin, end = max(0, int(lag)), min(len(take), int(lag) + len(backing))
    if end - begin < 3 * _FOLLOWED:
        return 1.0
    starts = np.linspace(begin, end - _FOLLOWED, min(_FOLLOWED_PARTS, (end - begin) // _FOLLOWED))
    points = [
        (start + _FOLLOWED / 2, moved)
        for start in starts.astype(int)
        if (moved := moved_by(take, backing, int(start), round(lag))) is not None
    ]
    if len(points) < 3:
        return 1.0
    slope = _slope(*np.array(points).T)
    return 1 + slope if _LEAST_CLOCK < abs(slope) < 1e-3 else 1.0


def moved_by(
    take: ThinSound,
    backing: ThinSound,
    start: int,
    lag: int,
    *,
    samples: int = _FOLLOWED,
    astray: int = _ASTRAY,
) -> float | None:
    """By how many samples more than a lag the backing is late in a part of a take.

    None where that is unclear.

    Parameters
    ----------
    take, backing : ThinSound
    start : int
        Where in the take the part begins.
    lag : int
    samples : int
        How long the part is.
    astray : int
        How far from the lag the backing is looked for.
    """
    size = 2 * samples
    mic = np.fft.rfft(take.whitened(start, samples, WHOLLY), size)
    under = np.fft.rfft(backing.whitened(start - lag, samples, BY_HALF), size)
    values = np.roll(np.fft.irfft(mic * np.conj(under), size), samples)
    heights = np.abs(values[samples - astray : samples + astray + 1])
    best = int(np.argmax(heights))
    spread = float(np.sqrt(np.mean(np.square(values[samples // 2 : 3 * samples // 2]))))
    if heights[best] < _CLEARLY_FOLLOWED * spread:
        return None
    return best - astray + _between(heights, best)


def _slope(places: npt.NDArray[np.float64], moves: npt.NDArray[np.float64]) -> float:
    """The middle slope between any two points (Theil 1950, Sen 1968, from memory)."""
    first, second = np.triu_indices(len(places), 1)
    return float(np.median((moves[second] - moves[first]) / (places[second] - places[first])))


def _at_other_clock(take: ThinSound, backing: ThinSound) -> BackingDelay | None:
    """Where the backing lies when the clocks of two devices smear it over many lags."""
    ratio = _steadying_clock(take, backing)
    if ratio is None:
        return None
    steady = take.at_rate(ratio)
    peaks = _peaks(steady, backing)
    if not peaks:
        return None
    ratio *= _clock_ratio(steady, backing, peaks[0].lag)
    steady = take.at_rate(ratio)
    return _with_clock(_placed(steady, backing, _peaks(steady, backing)), ratio)


def _steadying_clock(take: ThinSound, backing: ThinSound) -> float | None:
    """The clock by which a part of the take agrees most clearly; None where it does by none."""
    if take.length_s < CLOCK_S:
        return None
    part = take.cut((take.length_s - CLOCK_S) / 2, CLOCK_S)
    return _clearest({ratio: part.at_rate(ratio) for ratio in CLOCKS}, backing)


def _clearest(parts: Mapping[float, ThinSound], backing: ThinSound) -> float | None:
    """The rate at which both agree most clearly; None where they are clear at none."""
    ratios = list(parts)
    best, clearness = None, CLEAR_AT_OTHER_RATE
    for place, first, values in likenesses(list(parts.values()), backing):
        lags = _lags(parts[ratios[place]], backing)
        for peak in _clear_peaks(first, values, lags, clearness):
            if peak.clearness > clearness:
                best, clearness = ratios[place], peak.clearness
    return best


RATES = (48_000, 44_100, 32_000, 22_050, 16_000)
"""What the true rate of a file may be that declares another."""
RATE_S, RATE_MORE_S = 10.0, 4.0
"""How much of the take is tried at each rate, and how much more of the backing."""


def true_rate_ratio(take: ThinSound, backing: ThinSound, declared: int) -> float | None:
    """The rate at which the backing is beyond doubt in the beginning of a take, over its own.

    Parameters
    ----------
    declared : int
        Samples a second, as the take's file has it.

    Returns
    -------
    float or None
        One of `RATES` over the declared one; None where the backing is found at none of them.
    """
    ratios = [rate / declared for rate in RATES if rate != declared]
    parts = {ratio: take.cut(0.0, RATE_S * ratio).at_rate(ratio) for ratio in ratios}
    beginning = backing.cut(0.0, min(take.length_s, RATE_S) + RATE_MORE_S)
    return _clearest(parts, beginning)
