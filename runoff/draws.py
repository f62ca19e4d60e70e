"""Chance in few lines: quantiles of the distributions that ranges are drawn from, and Latin hypercubes.

The numbers are those of `scipy.stats` to the last bit (held in the tests), without loading it: that takes longer than what
is drawn, and commands draw ranges every time they run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np


class Quantiles(Protocol):
    """A distribution, as far as drawing needs it."""

    def ppf(self, share: Any) -> Any:
        """Return the values below which shares of 0-1 lie."""


@dataclass(frozen=True)
class Even:
    """Every value from `low` to `high` is alike."""

    low: float
    high: float

    def ppf(self, share: Any) -> Any:
        """Return the values below which shares of 0-1 lie."""
        return np.asarray(share) * (self.high - self.low) + self.low


@dataclass(frozen=True)
class Triangle:
    """Rises from `low` to `typical` and falls to `high`."""

    low: float
    typical: float
    high: float

    def ppf(self, share: Any) -> Any:
        """Return the values below which shares of 0-1 lie."""
        share = np.asarray(share)
        width = self.high - self.low
        top = (self.typical - self.low) / width
        risen = np.where(share < top, np.sqrt(top * share), 1.0 - np.sqrt((1.0 - top) * (1.0 - share)))
        return risen * width + self.low


@dataclass(frozen=True)
class EvenByLogarithm:
    """Every power from `low` to `high`, both above 0, is alike."""

    low: float
    high: float

    def ppf(self, share: Any) -> Any:
        """Return the values below which shares of 0-1 lie."""
        low, high = np.log(self.low), np.log(self.high)
        return np.exp(low + np.asarray(share) * (high - low))


def normal_quantile(share: Any) -> Any:
    """Return the standard normal quantiles of shares of 0-1."""
    from scipy import special

    return special.ndtri(share)


def student_quantile(share: Any, degrees: float) -> Any:
    """Return the quantiles of Student's t with some degrees of freedom."""
    from scipy import special

    return special.stdtrit(degrees, share)


def latin_hypercube(members: int, dimensions: int, seed: int) -> np.ndarray:
    """Return points in the unit cube, ``(member, dimension)``: along every side one in each of `members` equal slices.

    McKay, Beckman and Conover 1979, Technometrics 21, 239-245.

    Parameters
    ----------
    members, dimensions
        Numbers of points and of sides of the cube.
    seed
        Seed of the generator; the same seed gives the same points.

    Returns
    -------
    numpy.ndarray
        Shares, 0-1, shape ``(member, dimension)``.
    """
    rng = np.random.default_rng(seed).spawn(1)[0]  # as scipy does, which was used before: the same seed, the same roofs
    within = rng.uniform(size=(members, dimensions))
    slices = np.tile(np.arange(1, members + 1), (dimensions, 1))
    for row in slices:
        rng.shuffle(row)
    return (slices.T - within) / members
