"""When does each player of the band really play? Every one has a clock of his own.

The drums keep the tempo; bass and chords follow them, each with a swing, a lag and a
spread. `in_time` moves the notes of a part to where its player puts them.

Conventions
-----------
- What is moved is `PlayedNote.late_s`; onsets and lengths in beats stay as written.
- Only pairs swing: the half of a quarter, or of an eighth where sixteenths swing. Triplets
  stay where they are, other places move with their pair.
- What is struck together stays together, but for the fingers of a chord, the feet and hands
  of a drummer.
- The first note of all is never early: what plays it begins there.
- The same part, clock and seed give the same times.

Source: the drums' and the bass's swing `halfstep.backing.swing_tables`; bass after drums by
3.4 ms on average with a standard deviation of 20 (counted on the same trios), here 3 and 12;
the lag of the chords and the spread of the drums are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from math import exp
from random import Random
from statistics import NormalDist

from halfstep.backing.swing_tables import BASS, PIANO, RIDE, SIXTEENTHS, TRIPLETS, SwingTable
from halfstep.meter import EIGHTH, Clock
from halfstep.played import PlayedNote, PlayedPart

BEAT = Fraction(1)
_EVEN = 1.0
_LEAST_RATIO, _MOST_RATIO = 1.0, 4.5
_NORMAL = NormalDist()
_ROUND = 16
_FARTHEST = 2.5
"""No time is more standard deviations off than this: a stroke farther off is a mistake."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerTime:
    """The clock of a player.

    Attributes
    ----------
    swing : SwingTable or None
        None plays even.
    pair : Fraction
        What is parted in long and short, in beats.
    lag_s, spread_s : float
        How late the player is on average, and the standard deviation.
    together_s : float
        The standard deviation among notes that are struck together.
    """

    swing: SwingTable | None = None
    pair: Fraction = BEAT
    lag_s: float = 0.0
    spread_s: float
    together_s: float = 0.002


@dataclass(frozen=True, slots=True)
class BandTime:
    """The clocks of the band.

    Attributes
    ----------
    drums, bass, chords : PlayerTime
    """

    drums: PlayerTime
    bass: PlayerTime
    chords: PlayerTime

    def of(self, part_name: str) -> PlayerTime:
        """The clock of a part by its name."""
        return {"drums": self.drums, "bass": self.bass, "chords": self.chords}[part_name]


def _band_time(
    drums: SwingTable | None,
    bass: SwingTable | None,
    chords: SwingTable | None,
    *,
    pair: Fraction = BEAT,
    spread_s: float = 0.012,
) -> BandTime:
    return BandTime(
        PlayerTime(swing=drums, pair=pair, spread_s=0.004),
        PlayerTime(swing=bass, pair=pair, lag_s=0.003, spread_s=spread_s),
        PlayerTime(swing=chords, pair=pair, lag_s=0.004, spread_s=spread_s, together_s=0.004),
    )


SWING_TIME = _band_time(RIDE, BASS, PIANO)
SHUFFLE_TIME = _band_time(TRIPLETS, TRIPLETS, TRIPLETS, spread_s=0.011)
EVEN_TIME = _band_time(None, None, None, spread_s=0.011)
SWUNG_SIXTEENTHS_TIME = _band_time(SIXTEENTHS, SIXTEENTHS, SIXTEENTHS, pair=EIGHTH, spread_s=0.011)


def in_time(
    part: PlayedPart, *, time: PlayerTime, clock: Clock, swings: bool, random: Random
) -> PlayedPart:
    """A part where its player puts it.

    Parameters
    ----------
    part : PlayedPart
        Notes in order of onset.
    time : PlayerTime
    clock : Clock
        That of the whole band, against which notes are late; its swing is not the player's.
    swings : bool
        Whether the metre has pairs, see `halfstep.meter.Meter.swings`.
    random : Random
    """
    table = time.swing if swings else None
    median_and_spread = table.at(clock.beats_per_minute) if table else (_EVEN, 0.0)
    ratios = _PairRatios(*median_and_spread, random)
    return replace(part, notes=tuple(_moved_notes(part.notes, time, clock, ratios, random)))


def _moved_notes(
    notes: Sequence[PlayedNote],
    time: PlayerTime,
    clock: Clock,
    ratios: _PairRatios,
    random: Random,
) -> Iterator[PlayedNote]:
    for onset, struck in groupby(notes, key=lambda note: note.onset):
        place_s = _pair_place(onset, time.pair, ratios) * clock.beat_s
        late_s = place_s - clock.seconds(onset) + time.lag_s + near(random, time.spread_s)
        for note in struck:
            note_s = late_s + near(random, time.together_s)
            yield replace(note, late_s=max(note_s, 0.0) if onset == 0 else note_s)


def _pair_place(onset: Fraction, pair: Fraction, ratios: _PairRatios) -> float:
    """Where a place is played, in beats of even length."""
    number = onset // pair
    part = (onset - number * pair) / pair
    if not part or part.denominator % 3 == 0:
        return float(onset)
    middle = ratios.middle(number)
    if part <= EIGHTH:
        moved = float(part) * 2 * middle
    else:
        moved = middle + (float(part) * 2 - 1) * (1 - middle)
    return float(number * pair) + moved * float(pair)


class _PairRatios:
    """The swing of one pair after another, spread about its median.

    Of every `_ROUND` pairs each takes another of as many equal parts of the distribution, in an
    order of its own: so median and spread are kept by eight bars as by eighty.
    """

    def __init__(self, median: float, spread: float, random: Random) -> None:
        self._median, self._spread = median, spread
        self._random = random
        self._number: int | None = None
        self._ratio = median
        self._parts: list[int] = []

    def middle(self, number: int) -> float:
        """Where a pair is parted, 0 to 1; asked in order."""
        if number != self._number:
            self._number = number
            self._ratio = self._next_ratio()
        return self._ratio / (self._ratio + 1.0)

    def _next_ratio(self) -> float:
        if not self._parts:
            self._parts = self._random.sample(range(_ROUND), _ROUND)
        share = (self._parts.pop() + self._random.uniform(0.05, 0.95)) / _ROUND
        ratio = self._median * exp(self._spread * _NORMAL.inv_cdf(share))
        return min(_MOST_RATIO, max(_LEAST_RATIO, ratio))


def near(random: Random, spread_s: float) -> float:
    """A normal draw that is never very far off."""
    return spread_s * min(_FARTHEST, max(-_FARTHEST, random.gauss(0.0, 1.0)))
