"""How far a return level may be off: intervals by resampling, and tails heavier than the fitted one.

A fit to few years is uncertain in two ways. The sample is small: for a distribution of location and scale with a given
tail, ``(fitted level - level) / fitted scale`` has a spread that depends on the number of years alone, so drawing from the
standard distribution gives an interval that covers what it says (a parametric bootstrap of a pivot; Efron and Tibshirani
1993, from memory). And the tail may be heavier than the fitted one, which no short record can rule out: the interval is
joined with that of a tail of shape `HEAVY_TAIL`.

Drawing years of the record with replacement gives too narrow an interval: of a nominal 90 % it holds 70 % at 10 years and
83 % at 30 where the truth is Gumbel, and half of the worlds for the 100-year level of a tail of shape 0.15. The interval
here holds 94 to 98 % of Gumbel worlds, 89 to 95 % at shape 0.15 and 85 to 88 % at 0.20, from 10 to 60 years
(``tests/trials/extreme_intervals.py``, 1000 worlds a row).
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from typing import Any

import numpy as np

# Long daily records of rain have GEV shapes of 0.1 to 0.15 on average (usual attributions: Koutsoyiannis 2004, Papalexiou
# and Koutsoyiannis 2013; from memory), so it widens intervals and never decides a level.
HEAVY_TAIL = 0.15
BOOTSTRAPS = ("parametric", "resample")

Fit = Callable[[np.ndarray], np.ndarray]  # samples (rows, years) -> location, scale, shape (rows, 3)


def standard_levels(exceedance: Any, shape: Any) -> np.ndarray:
    """Return levels of a GEV with location 0 and scale 1 that are passed with the given probabilities.

    The shape is positive for a heavy upper tail, zero for Gumbel.
    """
    from scipy import stats

    return stats.genextreme.isf(exceedance, -np.asarray(shape))


def fixed_shape_fit(samples: np.ndarray, shape: float) -> np.ndarray:
    """Return location, scale and the given shape of each row of `samples`, by its first two L-moments (Hosking 1990)."""
    from scipy import special, stats

    first, second = stats.lmoment(samples, order=[1, 2], axis=1)
    if shape == 0.0:
        scale = second / math.log(2.0)
        location = first - np.euler_gamma * scale
    else:
        gamma = special.gamma(1.0 - shape)
        scale = second * shape / (math.expm1(shape * math.log(2.0)) * gamma)
        location = first - scale * (gamma - 1.0) / shape
    return np.stack([location, scale, np.full_like(scale, shape)], axis=1)


class Intervals:
    """Intervals of the return levels of several samples, with draws shared between samples of one size.

    Parameters
    ----------
    fit
        The fit whose level is judged.
    exact_shape
        The shape when `fit` does not estimate it (0 for Gumbel), or None.
    interval
        Share inside, for example 0.90.
    heavier_tail
        Shape of the heavier tail the interval also has to cover, or None.
    draws, seed
        Number of samples drawn, and the seed.
    """

    def __init__(
        self,
        fit: Fit,
        *,
        exact_shape: float | None,
        interval: float,
        heavier_tail: float | None,
        draws: int,
        seed: int,
    ) -> None:
        self.fit, self.draws, self.seed = fit, draws, seed
        self.ends = np.array([(1.0 - interval) / 2.0, (1.0 + interval) / 2.0])
        self.tails: list[tuple[Fit, float | None]] = [(fit, exact_shape)]
        if heavier_tail is not None:
            # a fitted shape of few years is itself unsure, so Gumbel is joined as well
            beside = (heavier_tail,) if exact_shape is not None else (0.0, heavier_tail)
            self.tails += [(functools.partial(fixed_shape_fit, shape=shape), shape) for shape in beside]
        self._errors: dict[tuple[Any, ...], np.ndarray] = {}

    def parametric(self, values: np.ndarray, fitted: np.ndarray, exceedance: np.ndarray) -> np.ndarray:
        """Return low and high ends (2, return periods) that hold for the fitted tail and for the heavier one.

        Parameters
        ----------
        values
            The annual maxima, in any unit; the interval has the same.
        fitted
            Location and scale in their unit, and shape (a number), fitted to them.
        exceedance
            Probabilities of being passed in a year, one per return period.

        Returns
        -------
        numpy.ndarray
            Levels in the unit of `values`, shape ``(2, return period)``: the low ends, then the high ones.
        """
        found = [
            self._percentiles(values.size, fitted, exceedance)
            if shape is None
            else self._pivot(values, fit, shape, exceedance)
            for fit, shape in self.tails
        ]
        low, high = np.moveaxis(np.array(found), 1, 0)
        return np.array([low.min(axis=0), high.max(axis=0)])

    def resampled(self, values: np.ndarray, exceedance: np.ndarray) -> np.ndarray:
        """Return low and high ends from years drawn with replacement."""
        drawn = np.random.default_rng([self.seed, values.size]).choice(values, size=(self.draws, values.size))
        return np.quantile(_levels(self.fit(drawn), exceedance), self.ends, axis=0)

    def _standard_draws(self, years: int, shape: float) -> np.ndarray:
        from scipy import stats

        rng = np.random.default_rng([self.seed, years])
        return stats.genextreme.rvs(-shape, size=(self.draws, years), random_state=rng)

    def _pivot(self, values: np.ndarray, fit: Fit, shape: float, exceedance: np.ndarray) -> np.ndarray:
        key = (values.size, shape, *exceedance.tolist())
        if key not in self._errors:
            drawn = fit(self._standard_draws(values.size, shape))
            off = _levels(drawn, exceedance) - standard_levels(exceedance, shape)
            self._errors[key] = np.quantile(off / drawn[:, 1:2], self.ends, axis=0)
        own = fit(values[None, :])
        return _levels(own, exceedance) - own[0, 1] * self._errors[key][::-1]

    def _percentiles(self, years: int, fitted: np.ndarray, exceedance: np.ndarray) -> np.ndarray:
        location, scale, shape = fitted
        drawn = location + scale * self._standard_draws(years, shape)
        return np.quantile(_levels(self.fit(drawn), exceedance), self.ends, axis=0)


def _levels(parameters: np.ndarray, exceedance: np.ndarray) -> np.ndarray:
    location, scale, shape = (column[:, None] for column in parameters.T)
    return location + scale * standard_levels(exceedance, shape)
