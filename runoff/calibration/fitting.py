"""Bounded least squares with ranges, and how well a model follows a measurement. No roofs here, only numbers."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np

from runoff.calibration.drifting_errors import Drift, drifting_covariance
from runoff.draws import latin_hypercube, student_quantile
from runoff.errors import RunoffError, nearest

METHODS = ("least squares", "differential evolution")
#: Closer to a bound than this share of the allowed range, a value counts as lying on it.
_ON_BOUND = 1e-4
#: Step of the slopes from which ranges are formed, share of the allowed range.
_SLOPE_STEP = 1e-3
#: Ranges go from 5 to 95 %, as everywhere in the package.
UPPER = 0.95
#: A direction whose squared slope is below this share of the steepest counts as flat: rounding, not information.
_FLAT = 1e-12

#: A search looks so far along each axis from where it ended that the sum of squares rises by about this share, and at most so
#: far of the allowed range (own choice: found the lowest place known in eight invented records of eight).
_RISE, _LOOKED_AT = 0.02, 0.25

Residuals = Callable[[np.ndarray], np.ndarray]


@dataclasses.dataclass(frozen=True)
class Estimate:
    """The values that fit best and how sure they are.

    Parameters
    ----------
    best
        Fitted values, shape ``(parameter,)``.
    low, high
        5-95 % range of each, cut at its bounds; missing for a value on a bound.
    on_bound
        ``"low"``, ``"high"`` or ``""``.
    felt
        Whether the residuals change with the value at all.
    spread
        Standard deviation of each; missing for a value on a bound or not felt.
    correlation
        Correlation of the estimates, shape ``(parameter, parameter)``; missing where there is no range.
    drift
        How the errors of the readings hang together, where their days were given.
    """

    best: np.ndarray
    low: np.ndarray
    high: np.ndarray
    on_bound: list[str]
    felt: np.ndarray
    spread: np.ndarray
    correlation: np.ndarray
    drift: Drift | None = None


def refuse_method(where: str, method: str) -> None:
    """Raise when a method is not known."""
    if method not in METHODS:
        raise RunoffError(
            f'{where}: method "{method}" is not known{nearest(method, METHODS)}; known: {", ".join(METHODS)}'
        )


def fit(
    residuals: Residuals,
    bounds: np.ndarray,
    start: np.ndarray,
    *,
    method: str = "least squares",
    seed: int = 1,
    uneven: bool = True,
    times: np.ndarray | None = None,
    trials: int = 24,
    quick: bool = False,
    neighbours: int | None = None,
) -> Estimate:
    """Find the values with the least sum of squared residuals within bounds.

    Parameters
    ----------
    residuals
        From values, shape ``(parameter,)``, to residuals, shape ``(reading,)``.
    bounds
        Lowest and highest values, in the units of the parameters, shape ``(parameter, 2)``.
    start
        A first guess, in the units of the parameters, shape ``(parameter,)``.
    method
        ``"least squares"`` starts a trust-region search from the best few of a spread of trial points, because stores
        that fill and spill make the sum of squares uneven. ``"differential evolution"`` searches the whole box first
        (slower, for many parameters).
    seed
        Seed of the trial points.
    uneven
        True when readings have unequal errors (overflow: large on wet days, none on dry ones). The range then rests on
        each difference by itself, raised where a few days carry the fit (Cribari-Neto 2004, Computational Statistics
        and Data Analysis 45, 215-233: HC4), which is rather too wide than too narrow; errors of neighbouring readings
        that hang together widen it further (Newey and West 1987, Econometrica 55, 703-708). Else on one error for all.
    times
        When each reading was taken, days, for readings with one error for all that may hang together: see `drifting_errors`.
    trials
        Trial points per parameter; 0 searches from `start` alone.
    quick
        Searches from two points instead of three and ends where a step gains less than a millionth: for models that take long.
    neighbours
        Over how many readings unequal errors may hang together; default by the length of the record.

    Returns
    -------
    Estimate
        Values with their ranges, in the units of the parameters, and how well they follow.
    """
    low, span = bounds[:, 0], bounds[:, 1] - bounds[:, 0]

    def scaled(unit: np.ndarray) -> np.ndarray:
        return residuals(low + unit * span)

    first = np.clip((start - low) / span, 0.0, 1.0)
    best = _search(scaled, first, method, seed, trials, quick)
    if uneven:
        best = _beyond_ridges(scaled, best, quick)
    return _with_ranges(scaled, best, low, span, uneven, times, neighbours)


def _search(scaled: Residuals, first: np.ndarray, method: str, seed: int, trials: int, quick: bool) -> np.ndarray:
    count = first.size
    if method == "differential evolution":
        from scipy.optimize import differential_evolution

        found = differential_evolution(
            lambda unit: float(np.sum(scaled(unit) ** 2)),
            [(0.0, 1.0)] * count,
            x0=first,
            rng=np.random.default_rng(seed),
            polish=False,
            tol=1e-6,
        )
        begins = [found.x]
    else:
        spread = latin_hypercube(trials * count, count, seed)
        ranked = sorted(spread, key=lambda unit: float(np.sum(scaled(unit) ** 2)))
        begins = [first, *ranked[: 1 if quick else 2]]
    ends = [_descent(scaled, unit, quick) for unit in begins]
    return min(ends, key=lambda end: float(end.cost)).x


def _descent(scaled: Residuals, begin: np.ndarray, quick: bool) -> Any:
    from scipy.optimize import least_squares

    small, gain = (1e-5, 1e-6) if quick else (1e-10, 1e-12)
    inside = np.clip(begin, 1e-6, 1.0 - 1e-6)
    return least_squares(scaled, inside, bounds=(0.0, 1.0), diff_step=1e-5, x_scale=0.1, xtol=small, ftol=gain)


def _beyond_ridges(scaled: Residuals, best: np.ndarray, quick: bool) -> np.ndarray:
    """Look on either side of where a search ended, and search on from the lowest place if it is lower.

    An event that begins or ceases to run off leaves a small ridge in the sum of squares, and a search stops before it.
    """
    left = scaled(best)
    lowest = float(left @ left)
    slopes = _slopes(scaled, best)
    size, direction = np.linalg.eigh(slopes.T @ slopes)
    if not lowest > 0.0 or size[-1] <= 0.0:
        return best
    # so far along each axis of the bowl that its sum of squares rises by a share
    reach = np.minimum(_LOOKED_AT, np.sqrt(_RISE * lowest / np.maximum(size, _FLAT * size[-1])))
    around = [
        np.clip(best + times * far * axis, 0.0, 1.0)
        for far, axis in zip(reach, direction.T, strict=True)
        for times in (-2.0, -1.0, -0.5, 0.5, 1.0, 2.0)
    ]
    sums = [float(np.sum(scaled(unit) ** 2)) for unit in around]
    # a place a little up a bowl may lie in one that is deeper: the lowest is always searched from
    end = _descent(scaled, around[int(np.argmin(sums))], quick)
    return end.x if 2.0 * float(end.cost) < lowest else best


def _slopes(scaled: Residuals, best: np.ndarray) -> np.ndarray:
    """Return the change of each residual with each value, of the allowed range, by differences across `best`."""
    columns = []
    for step in _SLOPE_STEP * np.eye(best.size):
        up, down = np.minimum(best + step, 1.0), np.maximum(best - step, 0.0)
        columns.append((scaled(up) - scaled(down)) / float((up - down).sum()))
    return np.column_stack(columns)


def _with_ranges(
    scaled: Residuals,
    best: np.ndarray,
    low: np.ndarray,
    span: np.ndarray,
    uneven: bool,
    times: np.ndarray | None,
    neighbours: int | None,
) -> Estimate:
    count = best.size
    on_bound = ["low" if unit < _ON_BOUND else "high" if unit > 1.0 - _ON_BOUND else "" for unit in best]
    left = scaled(best)
    slopes = _slopes(scaled, best)
    size = np.linalg.norm(slopes, axis=0)
    felt = size > 1e-9 * max(1.0, float(size.max()))
    used = felt & np.array([not bound for bound in on_bound])
    error = np.full(count, np.nan)
    correlation = np.full((count, count), np.nan)
    drift = None
    if used.any() and left.size > used.sum():
        covariance, drift = _covariance(slopes[:, used], left, uneven, times, neighbours)
        error[used] = np.sqrt(np.diag(covariance))
        with np.errstate(invalid="ignore", divide="ignore"):
            correlation[np.ix_(used, used)] = covariance / np.outer(error[used], error[used])
    half = float(student_quantile(UPPER, max(1, left.size - count))) * error
    lower, upper = np.clip(best - half, 0.0, 1.0), np.clip(best + half, 0.0, 1.0)
    lower[~felt], upper[~felt] = 0.0, 1.0  # anything within the bounds fits as well
    return Estimate(
        low + best * span, low + lower * span, low + upper * span, on_bound, felt, error * span, correlation, drift
    )


def _covariance(
    slopes: np.ndarray, left: np.ndarray, uneven: bool, times: np.ndarray | None, neighbours: int | None
) -> tuple[np.ndarray, Drift | None]:
    readings, count = slopes.shape
    size, direction = np.linalg.eigh(slopes.T @ slopes)
    flat = size < _FLAT * size[-1]
    bread = (direction[:, ~flat] / size[~flat]) @ direction[:, ~flat].T
    # along a flat direction nothing is known but the bounds: an error as large as the allowed range
    unknown = direction[:, flat] @ direction[:, flat].T
    if times is not None:
        covariance, drift = drifting_covariance(slopes, left, bread, times)
        return covariance + unknown, drift
    if not uneven:
        return bread * float(left @ left) / (readings - count) + unknown, None
    leverage = np.clip(np.einsum("ij,jk,ik->i", slopes, bread, slopes), 0.0, 1.0 - 1e-6)
    raised = left / (1.0 - leverage) ** np.minimum(2.0, 0.5 * leverage * readings / count)
    scores = slopes * raised[:, None]
    alone = bread @ scores.T @ scores @ bread
    together = bread @ _with_neighbours(scores, neighbours) @ bread
    # neighbours may only widen: readings that seem to balance each other out do so by chance
    wider = np.sqrt(np.maximum(1.0, np.diag(together) / np.maximum(np.diag(alone), 1e-300)))
    return alone * np.outer(wider, wider) + unknown, None


def _with_neighbours(scores: np.ndarray, neighbours: int | None) -> np.ndarray:
    """Return the sum of products of scores, with those of neighbours in falling weight (Newey and West 1987)."""
    total = scores.T @ scores
    reach = int(4.0 * (len(scores) / 100.0) ** (2.0 / 9.0)) if neighbours is None else min(neighbours, len(scores) - 1)
    for apart in range(1, reach + 1):
        products = scores[apart:].T @ scores[:-apart]
        total = total + (1.0 - apart / (reach + 1.0)) * (products + products.T)
    return total


def goodness(observed: np.ndarray, modelled: np.ndarray) -> dict[str, float]:
    """Return how well a model follows a measurement; pairs with a missing number are left out.

    Returns
    -------
    dict
        ``days`` compared; ``observed_mm`` and ``modelled_mm``, sums over them; ``nash_sutcliffe``, one minus the squared
        differences over those of the observed mean (1 = perfect, 0 = no better than the mean; Nash and Sutcliffe 1970,
        Journal of Hydrology 10, 282-290, Eq. 3); ``volume_error_percent``, positive when the model gives more; ``rmse_mm``.
    """
    known = np.isfinite(observed) & np.isfinite(modelled)
    seen, made = observed[known], modelled[known]
    if seen.size == 0:
        return {"days": 0} | dict.fromkeys(
            ("observed_mm", "modelled_mm", "nash_sutcliffe", "volume_error_percent", "rmse_mm"), np.nan
        )
    squares = float(np.sum((made - seen) ** 2))
    spread = float(np.sum((seen - seen.mean()) ** 2))
    total = float(seen.sum())
    return {
        "days": int(seen.size),
        "observed_mm": total,
        "modelled_mm": float(made.sum()),
        "nash_sutcliffe": 1.0 - squares / spread if spread > 0 else np.nan,
        "volume_error_percent": 100.0 * (float(made.sum()) - total) / total if total > 0 else np.nan,
        "rmse_mm": float(np.sqrt(squares / seen.size)),
    }
