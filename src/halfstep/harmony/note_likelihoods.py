"""Which notes do good players play over a chord? Shares counted on solos.

`SHARES` says how often each of the twelve notes above the root was played, for five
families of chords and three places in the bar. It is what `halfstep.harmony.outline`
holds a line against.

Conventions
-----------
- The families are those of the count. What it has no word for stands where it put it:
  a triad without a third or with a raised fifth goes with the dominants. A natural
  seventh or a sixth makes any other such chord a major one: ``C+maj7``, ``C6sus4``.
- Minor with a natural seventh or a sixth is minor, the altered dominant a dominant.
- The count was made in 4/4: beats 1 and 3, beats 2 and 4, and all between. Elsewhere a
  strong beat stands for the first, another beat for the second. In compound metres the
  beats are the pulses, and every other one is strong.

Source: counted on 427 transcribed solos in 4/4 (182,666 notes, those over ``N.C.`` left
out) from the tables derived by the authors of the jazzodata repository (commit 0dc98cf, MIT).
"""

from __future__ import annotations

from enum import IntEnum, StrEnum
from functools import lru_cache
from math import log

from halfstep.meter import Meter
from halfstep.pitch import Degree
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol


class ChordFamily(StrEnum):
    """The kinds of chord that were counted apart."""

    MAJOR = "maj"
    DOMINANT = "dom"
    MINOR = "min"
    HALF_DIMINISHED = "hdim"
    DIMINISHED = "dim"


class Weight(IntEnum):
    """The places in the bar that were counted apart; the place of each in `SHARES`."""

    STRONG = 0
    BEAT = 1
    OFF = 2


# fmt: off
_PER_TEN_THOUSAND = {
    ChordFamily.MAJOR: (
        (1689, 204, 1132, 437, 1605, 549, 350, 1913, 207, 789, 265, 861),
        (1392, 243, 1138, 451, 1521, 609, 341, 1547, 230, 1154, 350, 1024),
        (1409, 275, 1163, 463, 1366, 661, 449, 1573, 333, 982, 362, 965),
    ),
    ChordFamily.DOMINANT: (
        (1523, 488, 886, 598, 1172, 743, 416, 1320, 504, 873, 1132, 344),
        (1478, 477, 911, 533, 1086, 798, 415, 1307, 509, 876, 1230, 382),
        (1351, 550, 963, 570, 922, 883, 495, 1277, 558, 866, 1081, 484),
    ),
    ChordFamily.MINOR: (
        (1455, 375, 937, 1573, 306, 1192, 418, 1417, 389, 707, 794, 436),
        (1456, 385, 966, 1449, 282, 1003, 375, 1456, 414, 772, 998, 445),
        (1304, 394, 1045, 1314, 396, 1136, 428, 1396, 467, 681, 963, 476),
    ),
    ChordFamily.HALF_DIMINISHED: (
        (1188, 847, 253, 1416, 442, 1391, 1429, 316, 771, 493, 1037, 417),
        (1099, 824, 385, 1429, 536, 1209, 948, 385, 838, 783, 1126, 440),
        (998, 865, 493, 1450, 434, 1382, 1091, 406, 824, 545, 1088, 425),
    ),
    ChordFamily.DIMINISHED: (
        (820, 726, 749, 890, 445, 328, 1241, 632, 1148, 1194, 375, 1452),
        (703, 703, 469, 1224, 1068, 365, 1146, 599, 807, 1198, 599, 1120),
        (1004, 637, 688, 878, 734, 476, 1279, 688, 889, 1239, 585, 901),
    ),
}
# fmt: on

SHARES = {
    family: tuple(tuple(count / 10_000 for count in row) for row in rows)
    for family, rows in _PER_TEN_THOUSAND.items()
}
"""Shares of the notes 0 to 11 semitones above the root, a row for each `Weight`."""

NEAR_BEATS = 0.125
"""A note less than this from a beat stands on it: nobody plays to the millisecond."""

_OF_FRAME = {
    Family.MINOR: ChordFamily.MINOR,
    Family.HALF_DIMINISHED: ChordFamily.HALF_DIMINISHED,
    Family.DIMINISHED: ChordFamily.DIMINISHED,
}


def chord_family(symbol: ChordSymbol) -> ChordFamily | None:
    """The family a chord was counted in; None for ``N.C.``

    >>> from halfstep.progression.symbol import parse_symbol
    >>> [str(chord_family(parse_symbol(text))) for text in ("Cm6", "C7alt", "Csus4", "C+maj7")]
    ['min', 'dom', 'dom', 'maj']
    """
    if symbol.silent:
        return None
    if symbol.family in _OF_FRAME:
        return _OF_FRAME[symbol.family]
    if symbol.seventh == Degree(7) or (symbol.sixth and not symbol.seventh):
        return ChordFamily.MAJOR
    plain = symbol.family is Family.MAJOR and not symbol.seventh
    return ChordFamily.MAJOR if plain else ChordFamily.DOMINANT


@lru_cache(maxsize=4096)
def weight_at(meter: Meter, beats: float) -> Weight:
    """The weight of a place in the bar, ``beats`` quarter notes from its start.

    >>> [weight_at(Meter(3, 4), n / 2).name for n in range(4)]
    ['STRONG', 'OFF', 'BEAT', 'OFF']
    """
    unit = float(meter.tempo_beats)
    at = on_beat(beats, unit)
    if at is None:
        return Weight.OFF
    strong = at / unit % 2 == 0 if meter.compound else at in meter.strong_beats
    return Weight.STRONG if strong else Weight.BEAT


def on_beat(beats: float, unit: float) -> float | None:
    """The beat that a place in the bar stands on; None between beats.

    Parameters
    ----------
    beats, unit : float
        The place and the length of a beat, both in quarter notes.
    """
    at = round(beats / unit) * unit
    return at if abs(beats - at) < NEAR_BEATS * unit else None


@lru_cache(maxsize=128)
def log_shares(family: ChordFamily, root_class: int) -> tuple[float, ...]:
    """Log-likelihood in nats of each pitch class over a chord, at ``12 * weight + class``.

    Parameters
    ----------
    family : ChordFamily
    root_class : int
        Pitch class of the root, 0 for C.
    """
    return tuple(log(row[(pc - root_class) % 12]) for row in SHARES[family] for pc in range(12))
