"""How sure is a figure that was measured on a few notes?

Conventions
-----------
- An interval holds the true value in 95 of 100 cases.
- The distribution is Student's t with so many degrees of freedom.

Source: t as a normal deviate by the approximation of Wallace (1959), from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import copysign, exp, hypot, log, sqrt
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_NORMAL = NormalDist()
_TWO_SIDED = 0.975
_TENTHS, _TENTHS_APART, _TENTHS_ERROR = (10, 90), 2.563, 0.89
"""The outer tenths of a distribution; how far they lie apart in standard deviations where it
is normal, and the standard error of that for one value, relative to it."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A measured figure.

    Attributes
    ----------
    value : float
    error : float
        Its standard error.
    freedom : float
        Degrees of freedom of the error.
    """

    value: float
    error: float
    freedom: float

    @property
    def interval(self) -> tuple[float, float]:
        """In which the true value lies in 95 of 100 cases."""
        reach = self.error * _t_quantile(_TWO_SIDED, self.freedom)
        return self.value - reach, self.value + reach

    def above(self, limit: float) -> float:
        """How likely the true value is above a limit, 0 to 1."""
        return _t_share((self.value - limit) / max(self.error, 1e-9), self.freedom)

    def below(self, limit: float) -> float:
        """How likely it is below."""
        return 1 - self.above(limit)

    def times(self, factor: float) -> Estimate:
        """The same in another unit."""
        return Estimate(self.value * factor, self.error * abs(factor), self.freedom)

    def with_error(self, error: float) -> Estimate:
        """The same with an error of another kind besides."""
        return replace(self, error=hypot(self.error, error))


def _t_share(t: float, freedom: float) -> float:
    """The share of a t distribution below a value."""
    deviate = _shrink(freedom) * sqrt(freedom * log(1 + t * t / freedom))
    return _NORMAL.cdf(copysign(deviate, t))


def _t_quantile(share: float, freedom: float) -> float:
    """The value below which a share of a t distribution lies, for shares over one half."""
    deviate = _NORMAL.inv_cdf(share) / _shrink(freedom)
    return sqrt(freedom * (exp(deviate * deviate / freedom) - 1))


def _shrink(freedom: float) -> float:
    return (8 * freedom + 1) / (8 * freedom + 3)


def spread_of(values: Floats) -> float:
    """The standard deviation by the outer tenths, which a few strays do not move."""
    low, high = np.percentile(values, _TENTHS)
    return float(high - low) / _TENTHS_APART


def middle_of(values: Floats, groups: Sequence[int]) -> Estimate:
    """The median of values that come in groups, each with a habit of its own.

    Parameters
    ----------
    values : float array, shape (values,)
    groups : sequence of int
        To which group each belongs, as the bars of a phrase.
    """
    single = 1.25 * max(spread_of(values), 1e-9) / sqrt(len(values))
    by_group = np.array(groups)
    means = [float(np.median(values[by_group == group])) for group in np.unique(by_group)]
    if len(means) < 3:
        return Estimate(float(np.median(values)), single, max(1.0, len(values) - 1))
    between = float(np.std(means, ddof=1)) / sqrt(len(means))
    return Estimate(float(np.median(values)), max(single, between), len(means) - 1)


def spread_estimate(values: Floats, error: float) -> Estimate:
    """The spread of values, that of the instrument they were measured with taken out.

    Parameters
    ----------
    values : float array, shape (values,)
    error : float
        Standard deviation of a single measurement.
    """
    whole = spread_of(values)
    spread = sqrt(max(0.0, whole * whole - error * error))
    # taking the error out leaves less that is as uncertain
    uncertain = _TENTHS_ERROR * whole / sqrt(len(values)) * whole / max(spread, 0.5 * whole, 1e-9)
    return Estimate(spread, uncertain, max(1.0, len(values) - 1))


def curve_estimates(x: Floats, y: Floats, weights: Floats) -> tuple[Estimate, ...]:
    """The three coefficients of a parabola through points that wander, lowest power first.

    Neighbouring points that stray to one side together make every coefficient less sure.

    Parameters
    ----------
    x, y, weights : float array, shape (points,)
        Four points or more.
    """
    powers = np.vander(x, 3, increasing=True)
    inverse = np.linalg.inv((powers * weights[:, None]).T @ powers)
    factors = inverse @ powers.T @ (weights * y)
    misses = np.sqrt(weights) * (y - powers @ factors)
    freedom = len(x) - 3
    variance = float(misses @ misses) / freedom
    alike = float(np.clip((misses[1:] @ misses[:-1]) / (misses @ misses + 1e-12), 0.0, 0.7))
    errors = np.sqrt(np.diag(inverse) * variance * (1 + alike) / (1 - alike))
    pairs = zip(factors, errors, strict=True)
    return tuple(Estimate(float(factor), float(error), freedom) for factor, error in pairs)
