"""Chance in few lines: quantiles of the distributions that ranges are drawn from, and Latin hypercubes.

The numbers are those of `scipy.stats`, drawn ones to the last bit and quantiles of Student's t to twelve digits (held in the tests), without
loading scipy: that takes twice as long as loading numpy, and commands draw ranges every time they run.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Protocol

import numpy as np

#: Cells in which the density of Student's t is summed up, so many times the spread of a normal one wide at most, and steps.
_CELLS, _FARTHEST, _MOST_STEPS = 256, 40.0, 60
#: Gauss's rule of five points.
_NODES = (
    np.array([-1.0, -1.0, 0.0, 1.0, 1.0])
    * np.sqrt(5.0 + np.array([2.0, -2.0, 0.0, -2.0, 2.0]) * np.sqrt(10.0 / 7.0))
    / 3.0
)
_WEIGHTS = (
    np.array([322.0, 322.0, 512.0, 322.0, 322.0]) / 900.0
    + np.array([-13.0, 13.0, 0.0, 13.0, -13.0]) * np.sqrt(70.0) / 900.0
)


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


def normal_quantile(share: float) -> float:
    """Return the standard normal quantile of a share between 0 and 1."""
    return NormalDist().inv_cdf(share)


def student_quantile(share: Any, degrees: float) -> Any:
    """Return the quantiles of Student's t with some degrees of freedom.

    With ``t = sqrt(degrees) tan(angle)`` the density is a power of a cosine (Abramowitz and Stegun 1964, section 26.7). It is
    summed up in cells, the cell of each share is looked up, and Newton's steps climb from its beginning.

    Parameters
    ----------
    share
        Shares, between 0 and 1.
    degrees
        Degrees of freedom, at least 1, a number without unit.

    Returns
    -------
    float or numpy.ndarray
        In the shape of `share`.
    """
    beyond = np.asarray(share, dtype=float) - 0.5
    to_density = math.exp(math.lgamma(degrees / 2.0) - math.lgamma((degrees + 1.0) / 2.0)) * math.sqrt(math.pi)
    edges = np.linspace(0.0, min(math.pi / 2.0, _FARTHEST / math.sqrt(degrees)), _CELLS + 1)

    def risen(begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        half = (end - begin)[..., None] / 2.0
        powers = np.cos(begin[..., None] + half * (1.0 + _NODES)) ** (degrees - 1.0)
        area: np.ndarray = half[..., 0] * (powers @ _WEIGHTS)
        return area

    before = np.concatenate([[0.0], np.cumsum(risen(edges[:-1], edges[1:]))])[:-1]
    wanted = to_density * np.abs(beyond)
    cell = np.searchsorted(before, wanted, side="right") - 1
    angle = begin = edges[cell]
    for _ in range(_MOST_STEPS):
        step = (wanted - before[cell] - risen(begin, angle)) / np.cos(angle) ** (degrees - 1.0)
        angle = angle + step
        if np.all(np.abs(step) <= 1e-15 * angle):
            break
    return np.copysign(math.sqrt(degrees) * np.tan(angle), beyond)


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
