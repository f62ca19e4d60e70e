"""Shapes of design storms: how a depth is spread over equal steps. Plain numbers, no labels.

Every function returns the depth (or share) of each step in order of time, so that sums are exact: a block is the
difference of a cumulative curve at its edges, never a sample of an intensity. Sources: NRCS (`nrcs_shares`),
alternating blocks (FHWA HDS-2, 2002), Euler type II (DWA-A 118, from memory), Keifer and Chu (1957).
"""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np

from runoff.storms.nrcs_ordinates import NRCS_ORDINATES

INTERPOLATIONS = ("linear", "monotone-cubic")


class DepthCurve(Protocol):
    """Anything that gives the depth, mm, of durations in minutes: a table column or a formula."""

    source: str
    return_period_years: Any

    def depth_mm(self, minutes: Any) -> np.ndarray:
        """Return depths, mm, of durations in minutes."""
        ...


def nrcs_shares(
    pattern: str, steps: int, *, window_steps: int | None = None, interpolation: str = "linear"
) -> np.ndarray:
    """Return the share of a 24-hour NRCS storm in each of `steps` equal steps, or in its most intense window.

    Parameters
    ----------
    pattern
        ``"type-I"``, ``"type-IA"``, ``"type-II"`` or ``"type-III"``.
    steps
        Number of equal steps in 24 hours.
    window_steps
        When given, only the window of that many steps that holds most rain, its shares scaled to a sum of one.
    interpolation
        ``"linear"`` between ordinates, or ``"monotone-cubic"`` (piecewise cubic Hermite, Fritsch and Carlson 1980).
        Both keep every ordinate.

    Returns
    -------
    numpy.ndarray
        Shares of the depth, sum 1, shape ``(steps,)``, or ``(window_steps,)`` for a window.

    Notes
    -----
    Sums between ordinates are those of the table either way. Straight lines spread the busiest stretch evenly and so
    understate the intensity of shorter times; the cubic gives it a crest, but where the crest lies inside the stretch is
    still an assumption (on Type III, with two equal quarter hours, it makes twin crests beside 12 h).
    """
    ordinates = NRCS_ORDINATES[pattern]
    edges = np.linspace(0.0, 24.0, steps + 1)
    if interpolation == "linear":
        cumulative = np.interp(edges, ordinates.hours, ordinates.shares)
    else:
        from scipy.interpolate import PchipInterpolator

        cumulative = PchipInterpolator(ordinates.hours, ordinates.shares)(edges)
    if window_steps is None:
        return np.diff(cumulative)
    held = cumulative[window_steps:] - cumulative[:-window_steps]
    best = np.flatnonzero(held > held.max() - 1e-9)  # equal windows occur between two ordinates: take the middle one
    first = int(best[best.size // 2])
    return np.diff(cumulative[first : first + window_steps + 1]) / held[first]


def ranked_blocks(curve: DepthCurve, steps: int, step_min: float) -> np.ndarray:
    """Return the increments of depth D(dt), D(2 dt) - D(dt), ..., in mm, sorted large to small.

    Parameters
    ----------
    curve
        Depth, mm, of a duration in minutes.
    steps
        Number of steps.
    step_min
        Length of a step, min.

    Returns
    -------
    numpy.ndarray
        Depths, mm, shape ``(steps,)``.
    """
    depths = depth_from_zero(curve, np.arange(1, steps + 1) * step_min)
    return np.sort(np.diff(depths, prepend=0.0))[::-1]


def alternating_blocks(ranked: np.ndarray) -> np.ndarray:
    """Arrange blocks with the largest in the middle and the rest by turns after and before it.

    The largest is block n/2 of an even number n (block 3 of 6), the middle one of an odd number; the second largest
    follows it, the third comes before it, and so on (FHWA HDS-2, 2002, Example 6.6).
    """
    count = ranked.size
    peak = (count + 1) // 2 - 1
    turn = np.arange(count)
    places = peak + np.where(turn % 2 == 1, (turn + 1) // 2, -(turn // 2))
    arranged = np.empty(count)
    arranged[places] = ranked
    return arranged


def euler_ii_blocks(ranked: np.ndarray, leading_blocks: int) -> np.ndarray:
    """Turn round the first `leading_blocks` of blocks sorted large to small: a rise to the peak, then a long fall."""
    return np.concatenate([ranked[:leading_blocks][::-1], ranked[leading_blocks:]])


def chicago_blocks(curve: DepthCurve, steps: int, step_min: float, peak_position: float) -> np.ndarray:
    """Return the blocks, mm, of the storm of Keifer and Chu (1957).

    With the peak at the share r of the storm's length, the depth within a time x before the peak is ``r D(x / r)``, and
    within x after it ``(1 - r) D(x / (1 - r))``; so every window that the peak divides as r to 1 - r holds the depth of
    its own duration.

    Parameters
    ----------
    curve
        Depth, mm, of a duration in minutes.
    steps
        Number of steps.
    step_min
        Length of a step, min.
    peak_position
        Where the peak lies, as a share of the storm's length, r: above 0 and below 1.

    Returns
    -------
    numpy.ndarray
        Depths, mm, in order of time, shape ``(steps,)``.
    """
    times = np.arange(steps + 1) * step_min
    peak = peak_position * times[-1]
    before = np.clip(peak - times, 0.0, None) / peak_position
    after = np.clip(times - peak, 0.0, None) / (1.0 - peak_position)
    # a peak meant to fall on the edge of a step may miss it by rounding
    before[before < 1e-9 * times[-1]] = 0.0
    after[after < 1e-9 * times[-1]] = 0.0
    part_before = peak_position * depth_from_zero(curve, before)
    part_after = (1.0 - peak_position) * depth_from_zero(curve, after)
    return np.diff(part_after - part_before)


def depth_from_zero(curve: DepthCurve, minutes: np.ndarray) -> np.ndarray:
    """Return the depth, mm, of durations from zero up.

    A table cannot say what falls in less than its first duration: below it rain is taken as steady, which understates the
    intensity of shorter times (the storm says so). A formula runs on to zero by itself.
    """
    shortest = getattr(curve, "durations_min", (0.0,))[0]
    within = np.maximum(minutes, shortest)
    depths = np.zeros(minutes.size)
    wanted = within > 0.0
    depths[wanted] = curve.depth_mm(within[wanted])
    return depths * np.divide(minutes, within, out=np.zeros(minutes.size), where=wanted)
