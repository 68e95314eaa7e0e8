"""What does a verdict say of how well something goes? Odds of each verdict, and what they teach.

How well a skill goes at a tempo is a number, the log odds that it is clean. A belief about it
is a Gaussian; a verdict turns it into another curve, whose mean and variance make the next
Gaussian (moment matching, also called assumed density filtering; Minka 2001). The curve is
summed at the nodes of Gauss and Hermite.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from math import exp, pi, sqrt

from halfstep.practice.evidence import Verdict

NEARLY_WIDTH = 1.5
"""Log odds between clean and not yet: as wide a step lies *nearly*."""

MISHEARD = {
    Verdict.CLEAN: (0.93, 0.10, 0.02),
    Verdict.NEARLY: (0.06, 0.80, 0.10),
    Verdict.NOT_YET: (0.01, 0.10, 0.88),
}
"""How often each verdict is told of what is truly clean, nearly, not yet: about one fault in
ten is missed, and .07 choruses have one that is none, as measured for feedback."""

_NODES = (
    (-3.75043971772574, 0.000548268855972217),
    (-2.36675941073454, 0.0307571239675865),
    (-1.15440539473997, 0.240123178605013),
    (0.0, 0.457142857142857),
    (1.15440539473997, 0.240123178605013),
    (2.36675941073454, 0.0307571239675865),
    (3.75043971772574, 0.000548268855972217),
)  # of a Gaussian of mean 0 and variance 1: places and weights, in `numpy.polynomial.hermite_e`


def chance_of(mean: float, variance: float) -> float:
    """How likely clean is when its log odds are only believed: MacKay's average (1992)."""
    return 1 / (1 + exp(-_held(mean / sqrt(1 + pi * variance / 8))))


def _held(log_odds: float) -> float:
    """Log odds within what a float can raise e to."""
    return max(-60.0, min(60.0, log_odds))


def verdict_odds(log_odds: float, verdict: Verdict) -> float:
    """How likely the verdict is where the log odds of clean are known, 0 to 1."""
    odds = _odds(verdict)
    return odds[0] + _share_above(odds, exp(-_held(log_odds)))


@cache
def _odds(verdict: Verdict) -> tuple[float, float, float]:
    """The share told of what is nearly, and how much more is told of clean, and of not yet."""
    as_clean, as_nearly, as_below = MISHEARD[verdict]
    return as_nearly, as_clean - as_nearly, as_below - as_nearly


_NEARLY_ODDS = exp(NEARLY_WIDTH)


def _share_above(odds: tuple[float, float, float], against: float) -> float:
    """What clean and not yet add to the share, by the odds against clean."""
    return odds[1] / (1 + against) + odds[2] * against / (against + _NEARLY_ODDS)


def learnt(mean: float, variance: float, verdict: Verdict, weight: float) -> tuple[float, float]:
    """Mean and variance after a verdict that is known as surely as ``weight`` says, 0 to 1.

    With certainty 0 it might have been any of the three, and teaches nothing.
    """
    spread = sqrt(variance)
    odds = _odds(verdict)
    sure = weight * odds[0] + (1 - weight) / len(Verdict)
    mean, held = _held(mean), min(spread, 10.0)
    curve = [
        (
            mean + spread * node,
            share * (sure + weight * _share_above(odds, exp(-mean - held * node))),
        )
        for node, share in _NODES
    ]
    return _moments(curve)


def _moments(curve: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """Mean and variance of weighted places."""
    total = first = second = 0.0
    for at, share in curve:
        total += share
        first += share * at
        second += share * at * at
    mean = first / total
    return mean, second / total - mean * mean
