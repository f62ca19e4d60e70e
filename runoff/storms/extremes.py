"""How rare is a rain: extreme-value distributions fitted to annual maxima, and return levels with their range.

Gumbel and the generalised extreme-value distribution (GEV), by L-moments, moments, the finite-sample frequency factor
or maximum likelihood. The shape of the GEV is given with a positive sign for a heavy upper tail; scipy uses the
opposite sign, and `_scipy_shape` is the only place that knows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import StormError, nearest
from runoff.storms._durations import words_of

if TYPE_CHECKING:
    import xarray as xr

DISTRIBUTIONS = ("gumbel", "gev")
METHODS = ("l-moments", "moments", "frequency-factor", "maximum-likelihood")
RETURN_PERIODS_YEARS = (2, 5, 10, 25, 50, 100)

# a in P = (m - a)/(n + 1 - 2a): FHWA HDS-2 (2002) eq. 4.20-4.21; USGS Techniques and Methods 4-B4
PLOTTING_CONSTANTS = {"weibull": 0.0, "beard": 0.30, "blom": 0.375, "cunnane": 0.4, "gringorten": 0.44, "hazen": 0.5}


@dataclass(frozen=True, kw_only=True)
class ExtremeFit:
    """A distribution of annual maxima.

    Parameters
    ----------
    distribution, method
        ``"gumbel"`` or ``"gev"``, and how it was fitted.
    location, scale
        mm.
    shape
        Zero for Gumbel; for the GEV positive means a heavy upper tail, negative an upper limit.
    years
        Number of annual maxima.
    """

    distribution: str
    method: str
    location: float
    scale: float
    shape: float
    years: int

    def return_level(self, return_period_years: Any) -> Any:
        """Return the depth, mm, that is reached or passed once in `return_period_years` on average (more than 1)."""
        periods = _checked_periods(return_period_years)
        return _levels(np.array([self.location, self.scale, self.shape]), periods)

    def return_period(self, depth_mm: Any) -> Any:
        """Return the return period, years, of a depth in mm; infinite beyond an upper limit."""
        from scipy import stats

        passed = stats.genextreme(_scipy_shape(self.shape), loc=self.location, scale=self.scale).sf(depth_mm)
        with np.errstate(divide="ignore"):
            return 1.0 / passed


def fit_extremes(
    maxima: Any, *, distribution: str = "gumbel", method: str = "l-moments", minimum_years: int = 10
) -> ExtremeFit:
    """Fit a distribution to annual maxima of one duration.

    Parameters
    ----------
    maxima
        One value per year, mm. NaN is left out.
    distribution
        ``"gumbel"`` or ``"gev"``.
    method
        ``"l-moments"`` (Hosking), ``"moments"`` (mean and standard deviation, infinite sample), ``"frequency-factor"``
        (Gumbel with mean and spread of the plotting positions of a sample of this size, FHWA HDS-2 2002, Table 4.12)
        or ``"maximum-likelihood"``. Moments and frequency factor are for Gumbel.
    minimum_years
        Fewer values than this are refused.

    Raises
    ------
    StormError
        For unknown names, too few years, or maxima that are all the same.

    Examples
    --------
    >>> fit = fit_extremes([21.0, 24, 26, 28, 31, 35, 38, 44, 52, 60], method="moments")
    >>> round(float(fit.return_level(100)), 1)
    75.8
    """
    _check_names(distribution, method)
    values = np.asarray(maxima, dtype=float).ravel()
    values = values[~np.isnan(values)]
    _check_sample(values, minimum_years, "fit_extremes")
    location, scale, shape = _parameters(values[None, :], distribution, method)[0]
    return ExtremeFit(
        distribution=distribution,
        method=method,
        location=float(location),
        scale=float(scale),
        shape=float(shape),
        years=values.size,
    )


def return_levels(
    maxima: xr.DataArray,
    *,
    return_periods_years: Sequence[float] = RETURN_PERIODS_YEARS,
    distribution: str = "gumbel",
    method: str = "l-moments",
    interval: float = 0.90,
    bootstrap: str = "resample",
    resamples: int = 500,
    seed: int = 0,
    minimum_years: int = 10,
) -> xr.Dataset:
    """Return depths by return period with a bootstrap interval, from annual maxima.

    Parameters
    ----------
    maxima
        ``annual_maximum`` on ``year`` and ``duration``, from `annual_maxima` or `read_annual_maxima`.
    return_periods_years
        Years, each more than 1.
    distribution, method, minimum_years
        As in `fit_extremes`.
    interval
        Share of the resamples inside the interval: 0.90 runs from the 5 % to the 95 % value.
    bootstrap
        ``"resample"`` draws years with replacement; ``"parametric"`` draws from the fitted distribution.
    resamples, seed
        Number of resamples and the seed of the generator: the same seed gives the same interval. Maximum likelihood of
        the GEV takes some hundredths of a second for each resample and duration.

    Returns
    -------
    xarray.Dataset
        ``depth``, ``depth_low``, ``depth_high`` (mm) on ``duration`` and ``return_period``; ``location``, ``scale``,
        ``shape`` and ``years`` on ``duration``.

    Raises
    ------
    StormError
        As in `fit_extremes`, naming the duration.
    """
    _check_names(distribution, method)
    if bootstrap not in ("resample", "parametric"):
        raise StormError(f'return_levels: bootstrap "{bootstrap}" is not known; known: resample, parametric')
    if not 0.0 < interval < 1.0:
        raise StormError(f"return_levels: interval {interval:g} must lie between 0 and 1, for example 0.90")
    periods = _checked_periods(return_periods_years)
    table = maxima.transpose("year", "duration")
    rng = np.random.default_rng(seed)
    rows = []
    for minutes, column in zip(table["duration"].values, table.values.T, strict=True):
        values = column[~np.isnan(column)]
        _check_sample(values, minimum_years, f"return_levels, {words_of(float(minutes))}")
        fitted = _parameters(values[None, :], distribution, method)[0]
        drawn = _drawn(values, fitted, bootstrap, resamples, rng)
        spread = _levels(_parameters(drawn, distribution, method)[:, :, None], periods)
        tails = np.quantile(spread, [(1 - interval) / 2, (1 + interval) / 2], axis=0)
        rows.append((_levels(fitted, periods), *tails, *fitted, values.size))
    origin = {"series": "annual-maximum", "source": maxima.attrs.get("source", "annual maxima")}
    levels = _labelled_levels(rows, table["duration"], periods, origin)
    longest = int(levels["years"].max())
    levels.attrs = {
        "distribution": distribution,
        "method": method,
        "interval": f"{interval:.0%}, bootstrap ({bootstrap}), {resamples} resamples, seed {seed}",
        "fixed_interval_correction": maxima.attrs.get("fixed_interval_correction", "none"),
        "dropped_years": maxima.attrs.get("dropped_years", "not stated"),
        "note": f"return periods beyond {longest} years rest on the distribution, not on measurement",
        **origin,
    }
    return levels


def _labelled_levels(
    rows: list[tuple[Any, ...]], durations: xr.DataArray, periods: np.ndarray, origin: dict[str, str]
) -> xr.Dataset:
    """Put the rows of `return_levels`, one per duration, into a Dataset."""
    import xarray as xr

    depth, low, high, location, scale, shape, years = (np.array(column) for column in zip(*rows, strict=True))
    both, depths = ("duration", "return_period"), {"units": "mm", **origin}
    return xr.Dataset(
        {
            "depth": (both, depth, {"long_name": "depth of rain", **depths}),
            "depth_low": (both, low, {"long_name": "lower end of the interval", **depths}),
            "depth_high": (both, high, {"long_name": "upper end of the interval", **depths}),
            "location": ("duration", location, {"units": "mm"}),
            "scale": ("duration", scale, {"units": "mm"}),
            "shape": ("duration", shape, {"units": "1", "long_name": "shape (positive: heavy upper tail)"}),
            "years": ("duration", years, {"units": "1", "long_name": "annual maxima used"}),
        },
        coords={
            "duration": durations,
            "return_period": ("return_period", periods, {"units": "years", "long_name": "return period"}),
        },
    )


def gumbel_frequency_factor(return_period_years: Any, years: int | None = None) -> Any:
    """Return K of ``x_T = mean + K s`` for the Gumbel distribution.

    Without `years`, ``K = -(sqrt(6)/pi)(0.5772 + ln ln(T/(T-1)))``. With it, ``K = (y_T - ybar_n)/sigma_n``, with mean
    and spread of the reduced variate at the Weibull positions of a sample of that size (FHWA HDS-2, 2002, Table 4.12).
    """
    variate = -np.log(-np.log1p(-1.0 / _checked_periods(return_period_years)))
    if years is None:
        return (variate - np.euler_gamma) * math.sqrt(6.0) / math.pi
    mean, spread = gumbel_sample_variate(years)
    return (variate - mean) / spread


def gumbel_sample_variate(years: int) -> tuple[float, float]:
    """Return mean and standard deviation of the Gumbel reduced variate at the Weibull positions of `years` values."""
    if years < 2:
        raise StormError(f"gumbel_sample_variate: {years} years; at least two are needed")
    variate = -np.log(-np.log(np.arange(1, years + 1) / (years + 1)))
    return float(variate.mean()), float(variate.std())


def gumbel_standard_error(standard_deviation: Any, return_period_years: Any, years: int) -> Any:
    """Return the standard error of a Gumbel return level fitted by moments.

    ``SE = s sqrt((1 + 1.1396 K + 1.1 K^2) / n)`` with the infinite-sample K. From memory (usual attribution: Kite
    1977); it reproduces the printed 95 % limits (1.96 SE) of the Canadian engineering-climate files.
    """
    factor = gumbel_frequency_factor(return_period_years)
    return standard_deviation * np.sqrt((1.0 + 1.1396 * factor + 1.1 * factor**2) / years)


def plotting_positions(count: int, *, formula: str = "cunnane") -> np.ndarray:
    """Return the probability of being passed of `count` values ranked from the largest: ``(m - a)/(n + 1 - 2a)``.

    Parameters
    ----------
    count
        Number of values.
    formula
        ``"weibull"``, ``"beard"``, ``"blom"``, ``"cunnane"``, ``"gringorten"`` or ``"hazen"``.
    """
    if formula not in PLOTTING_CONSTANTS:
        known = ", ".join(PLOTTING_CONSTANTS)
        raise StormError(
            f'plotting_positions: formula "{formula}" is not known{nearest(formula, PLOTTING_CONSTANTS)}; '
            f"known: {known}"
        )
    a = PLOTTING_CONSTANTS[formula]
    return (np.arange(1, count + 1) - a) / (count + 1 - 2 * a)


def annual_return_period(partial_return_period_years: Any) -> Any:
    """Return the annual-maximum return period of a partial-duration one: ``1/(1 - exp(-1/T))`` (HDS-2, Table 4.2)."""
    return -1.0 / np.expm1(-1.0 / np.asarray(partial_return_period_years, dtype=float))


def partial_return_period(annual_return_period_years: Any) -> Any:
    """Return the partial-duration return period of an annual-maximum one: ``-1/ln(1 - 1/T)`` (HDS-2, Table 4.2)."""
    return -1.0 / np.log1p(-1.0 / _checked_periods(annual_return_period_years))


def _scipy_shape(shape: Any) -> Any:
    """Turn the sign of the GEV shape between ours (positive: heavy tail) and scipy's, in either direction."""
    return -np.asarray(shape)


def _levels(parameters: np.ndarray, periods: np.ndarray) -> np.ndarray:
    from scipy import stats

    location, scale, shape = parameters if parameters.ndim == 1 else np.moveaxis(parameters, 1, 0)
    return stats.genextreme.isf(1.0 / periods, _scipy_shape(shape), loc=location, scale=scale)


def _drawn(
    values: np.ndarray, fitted: np.ndarray, bootstrap: str, resamples: int, rng: np.random.Generator
) -> np.ndarray:
    if bootstrap == "resample":
        return rng.choice(values, size=(resamples, values.size))
    from scipy import stats

    location, scale, shape = fitted
    return stats.genextreme.rvs(
        _scipy_shape(shape), loc=location, scale=scale, size=(resamples, values.size), random_state=rng
    )


def _parameters(samples: np.ndarray, distribution: str, method: str) -> np.ndarray:
    """Return location, scale and shape of each row of `samples`, as an array (rows, 3)."""
    if method == "maximum-likelihood":
        return np.array([_likelihood(row, distribution) for row in samples])
    if method == "l-moments":
        return _l_moments(samples, distribution)
    mean, spread = samples.mean(axis=1), samples.std(axis=1, ddof=1)
    if method == "frequency-factor":
        variate_mean, variate_spread = gumbel_sample_variate(samples.shape[1])
    else:
        variate_mean, variate_spread = np.euler_gamma, math.pi / math.sqrt(6.0)
    scale = spread / variate_spread
    return np.stack([mean - variate_mean * scale, scale, np.zeros_like(mean)], axis=1)


def _l_moments(samples: np.ndarray, distribution: str) -> np.ndarray:
    from scipy import special, stats

    first, second, skew = stats.lmoment(samples, order=[1, 2, 3], axis=1)
    if distribution == "gumbel":
        scale = second / math.log(2.0)
        return np.stack([first - np.euler_gamma * scale, scale, np.zeros_like(scale)], axis=1)
    k = _gev_k(skew)
    gamma = special.gamma(1.0 + k)
    scale = second * k / (-np.expm1(-k * math.log(2.0)) * gamma)
    return np.stack([first - scale * (1.0 - gamma) / k, scale, _scipy_shape(k)], axis=1)


def _gev_k(skew: np.ndarray) -> np.ndarray:
    """Solve ``2 (1 - 3^-k)/(1 - 2^-k) - 3 = L-skewness`` for k (scipy's sign), from Hosking's approximate root."""
    from scipy.optimize import newton

    def difference(k: np.ndarray) -> np.ndarray:
        return 2.0 * np.expm1(-k * math.log(3.0)) / np.expm1(-k * math.log(2.0)) - 3.0 - skew

    c = 2.0 / (3.0 + skew) - math.log(2.0) / math.log(3.0)
    start = 7.8590 * c + 2.9554 * c**2
    start = np.where(np.abs(start) < 1e-6, 1e-6, start)
    found = np.asarray(newton(difference, start, tol=1e-12, maxiter=100))
    return np.where(np.abs(found) < 1e-9, 1e-9, found)


def _likelihood(values: np.ndarray, distribution: str) -> tuple[float, float, float]:
    from scipy import stats

    if distribution == "gumbel":
        location, scale = stats.gumbel_r.fit(values)
        return float(location), float(scale), 0.0
    location, scale, shape = _l_moments(values[None, :], "gev")[0]  # a start near the answer keeps the search short
    found, location, scale = stats.genextreme.fit(values, _scipy_shape(shape), loc=location, scale=scale)
    return float(location), float(scale), float(_scipy_shape(found))


def _checked_periods(return_period_years: Any) -> np.ndarray:
    periods = np.asarray(return_period_years, dtype=float)
    if not (periods > 1.0).all():
        bad = periods.ravel()[int(np.argmin(periods))]
        raise StormError(
            f"return period {bad:g} years must be more than 1; annual maxima say nothing about more frequent rain"
        )
    return periods


def _check_names(distribution: str, method: str) -> None:
    for what, given, known in (("distribution", distribution, DISTRIBUTIONS), ("method", method, METHODS)):
        if given not in known:
            raise StormError(f'{what} "{given}" is not known{nearest(given, known)}; known: {", ".join(known)}')
    if distribution == "gev" and method in ("moments", "frequency-factor"):
        raise StormError(f'method "{method}" is for gumbel; fit the gev by "l-moments" or "maximum-likelihood"')


def _check_sample(values: np.ndarray, minimum_years: int, where: str) -> None:
    if values.size < minimum_years:
        raise StormError(
            f"{where}: {values.size} annual maxima, at least {minimum_years} are needed; use a longer record or a "
            "published depth-duration table (minimum_years lowers the limit, at your own risk)"
        )
    if values.size < 2 or values.min() == values.max():
        raise StormError(f"{where}: the annual maxima are all the same; there is no spread to fit")
