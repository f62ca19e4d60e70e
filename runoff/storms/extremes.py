"""How rare is a rain: extreme-value distributions fitted to annual maxima, and return levels with their range.

Gumbel and the generalised extreme-value distribution (GEV), by L-moments, moments, the finite-sample frequency factor
or maximum likelihood. The shape of the GEV is given with a positive sign for a heavy upper tail; scipy uses the
opposite sign.

Years without any rain belong to no such distribution: it is fitted to the others, and a depth is passed with
``(1 - p0)`` times their probability, p0 being the share of years without rain (the conditional probability adjustment of
US Bulletin 17B, 1982, appendix 5, from memory; HDS-2 2002 treats years without flood the same way).
"""

from __future__ import annotations

import functools
import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import RunoffWarning, StormError, nearest
from runoff.given_kinds import refuse_other_kinds
from runoff.saying.scales import both
from runoff.storms._durations import words_of
from runoff.storms.level_intervals import BOOTSTRAPS, HEAVY_TAIL, Intervals, fixed_shape_fit, standard_levels
from runoff.storms.ranks import plotting_positions

if TYPE_CHECKING:
    import xarray as xr

DISTRIBUTIONS = ("gumbel", "gev")
METHODS = ("l-moments", "moments", "frequency-factor", "maximum-likelihood")
RETURN_PERIODS_YEARS = (2, 5, 10, 25, 50, 100)
# drawn from shape 0.15, a fitted GEV is heavier than Gumbel in 9 of 10 records of 60 years, in 8 of 10 of 30 (own trial)
_YEARS_THAT_TELL_TAILS = 60
_CERTAIN = 1.0 - 1e-12  # a level passed every year is no level of the distribution; it is set to zero afterwards


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
    dry_share
        Share of the years that had no rain at all; the distribution is that of the others.
    """

    distribution: str
    method: str
    location: float
    scale: float
    shape: float
    years: int
    dry_share: float = 0.0

    def return_level(self, return_period_years: Any) -> Any:
        """Return the depth, mm, that is reached or passed once in `return_period_years` on average (more than 1)."""
        exceedance = _exceedance(_checked_periods(return_period_years), self.dry_share)
        return _depths(np.array([self.location, self.scale, self.shape]), exceedance)

    def return_period(self, depth_mm: Any) -> Any:
        """Return the return period, years, of a depth in mm; infinite beyond an upper limit."""
        from scipy import stats

        passed = stats.genextreme(-self.shape, loc=self.location, scale=self.scale).sf(depth_mm)
        with np.errstate(divide="ignore"):
            return 1.0 / (passed * (1.0 - self.dry_share))


def fit_extremes(
    depths_mm: Any, *, distribution: str = "gumbel", method: str = "l-moments", minimum_years: int = 10
) -> ExtremeFit:
    """Fit a distribution to annual maxima of one duration.

    Parameters
    ----------
    depths_mm
        The largest depth of each year for one duration, mm: one value per year. NaN is left out.
    distribution
        ``"gumbel"`` or ``"gev"``.
    method
        ``"l-moments"`` (Hosking), ``"moments"`` (mean and standard deviation, infinite sample), ``"frequency-factor"``
        (Gumbel with mean and spread of the plotting positions of a sample of this size, FHWA HDS-2 2002, Table 4.12)
        or ``"maximum-likelihood"``. Moments and frequency factor are for Gumbel.
    minimum_years
        Fewer values than this, years without rain left out, are refused.

    Returns
    -------
    ExtremeFit
        ``return_level(years)`` gives the depth of a return period, ``return_period(depth)`` how rare a depth is.

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
    refuse_other_kinds("fit_extremes", depths_mm=depths_mm)
    return fit_of(depths_mm, distribution, method, minimum_years, "fit_extremes")


def fit_of(depths_mm: Any, distribution: str, method: str, minimum_years: int, where: str) -> ExtremeFit:
    """Return what `fit_extremes` does; an error names `where` first.

    Parameters
    ----------
    depths_mm, distribution, method, minimum_years
        As in `fit_extremes`.
    where
        The call, for messages.

    Returns
    -------
    ExtremeFit
        Location and scale in mm, shape without unit.

    Raises
    ------
    StormError
        As `fit_extremes`.
    """
    _check_names(distribution, method)
    wet, years = _wet_years(depths_mm, minimum_years, where)
    location, scale, shape = _parameters(wet[None, :], distribution, method)[0]
    return ExtremeFit(
        distribution=distribution,
        method=method,
        location=float(location),
        scale=float(scale),
        shape=float(shape),
        years=years,
        dry_share=1.0 - wet.size / years,
    )


def return_levels(
    maxima: xr.DataArray,
    *,
    return_periods_years: Sequence[float] = RETURN_PERIODS_YEARS,
    distribution: str = "gumbel",
    method: str = "l-moments",
    interval: float = 0.90,
    bootstrap: str = "parametric",
    heavier_tail: float | None = HEAVY_TAIL,
    resamples: int = 1000,
    seed: int = 0,
    minimum_years: int = 10,
) -> xr.Dataset:
    """Return depths by return period with an interval, from annual maxima.

    Parameters
    ----------
    maxima
        ``annual_maximum`` on ``year`` and ``duration``, from `annual_maxima` or `read_annual_maxima`.
    return_periods_years
        Years, each more than 1.
    distribution, method, minimum_years
        As in `fit_extremes`.
    interval
        Share of cases in which the true level should lie inside: 0.90 leaves 5 % on either side.
    bootstrap
        ``"parametric"`` draws from the distribution; the interval of Gumbel is exact for a Gumbel truth, whatever the
        number of years. ``"resample"`` draws years with replacement and is too narrow (`runoff.storms.level_intervals`).
    heavier_tail
        Shape parameter (a number without unit) of a tail heavier than the fitted one that the parametric interval has to cover as well (more than 0); the
        default is what long records of rain have on average. None leaves the fitted distribution alone.
    resamples, seed
        Number of resamples and the seed of the generator: the same seed gives the same interval. Maximum likelihood of
        the GEV takes some hundredths of a second for each resample and duration.

    Returns
    -------
    xarray.Dataset
        ``depth``, ``depth_low``, ``depth_high`` (mm) on ``duration`` and ``return_period``; ``depth_heavier_tail``, what
        the depth would be if the tail had that shape; ``location``, ``scale``, ``shape``, ``years`` and
        ``years_without_rain`` on ``duration``. Attributes: ``interval``, ``tail_risk``, ``record_risk`` in words.

    Raises
    ------
    StormError
        As in `fit_extremes`, naming the duration.

    Warns
    -----
    RunoffWarning
        When the maxima are those of single readings by the clock, which understate the largest rain of that length.
    """
    refuse_other_kinds("return_levels", maxima=maxima)
    _check_names(distribution, method)
    _check_interval(bootstrap, interval, heavier_tail)
    periods = _checked_periods(return_periods_years)
    table = maxima_table(maxima, "return_levels")
    _warn_of_clock_readings(maxima)
    intervals = Intervals(
        functools.partial(_parameters, distribution=distribution, method=method),
        exact_shape=0.0 if distribution == "gumbel" else None,
        interval=interval,
        heavier_tail=heavier_tail,
        draws=resamples,
        seed=seed,
    )
    rows = []
    for minutes, column in zip(table["duration"].values, table.values.T, strict=True):
        wet, years = _wet_years(column, minimum_years, f"return_levels, {words_of(float(minutes))}")
        exceedance = _exceedance(periods, 1.0 - wet.size / years)
        fitted = _parameters(wet[None, :], distribution, method)[0]
        if bootstrap == "resample":
            ends = intervals.resampled(wet, np.minimum(exceedance, _CERTAIN))
        else:
            ends = intervals.parametric(wet, fitted, np.minimum(exceedance, _CERTAIN))
        heavy = fixed_shape_fit(wet[None, :], heavier_tail or HEAVY_TAIL)[0]
        ends = np.where(exceedance < 1.0, np.maximum(ends, 0.0), 0.0)
        rows.append((_depths(fitted, exceedance), *ends, _depths(heavy, exceedance), *fitted, years, years - wet.size))
    origin = {"series": "annual-maximum", "source": maxima.attrs.get("source", "annual maxima")}
    levels = _labelled_levels(rows, table["duration"], periods, origin)
    how = f"{bootstrap} resampling, {resamples} resamples, seed {seed}"
    joined = heavier_tail is not None and bootstrap == "parametric"
    beside = f"; joined with that of a tail of shape {heavier_tail:g}" if joined else ""
    levels.attrs = {
        "distribution": distribution,
        "method": method,
        "interval": f"{interval:.0%}, {how}{beside}",
        "fixed_interval_correction": maxima.attrs.get("fixed_interval_correction", "not stated"),
        "dropped_years": maxima.attrs.get("dropped_years", "not stated"),
        **_risks(levels, distribution, heavier_tail or HEAVY_TAIL),
        **origin,
    }
    return levels


def maxima_table(maxima: xr.DataArray, where: str) -> xr.DataArray:
    """Return annual maxima on ``year`` and ``duration``, in this order; `where` is what an error names first.

    Raises
    ------
    StormError
        When there is no year or no duration.
    """
    table = maxima.transpose("year", "duration")
    if 0 in table.shape:
        raise StormError(
            f"{where}: {table.sizes['year']} years and {table.sizes['duration']} durations; there is nothing to fit"
        )
    return table


def _risks(levels: xr.Dataset, distribution: str, shape: float) -> dict[str, str]:
    """Return in words what a short record and too light a tail can do to the rarest depth."""
    rarest, shortest = levels.isel(return_period=-1), levels.isel(return_period=-1, duration=0)
    more = (rarest["depth_heavier_tail"] / rarest["depth"]).fillna(-1.0).to_numpy()
    at = rarest.isel(duration=int(more.argmax()))
    years, period = int(levels["years"].max()), float(levels["return_period"][-1])
    dry = int(levels["years_without_rain"].max())
    record = (
        f"{years} years: return periods beyond that rest on the distribution, not on measurement; the "
        f"{period:g}-year depth of {words_of(float(shortest['duration']))} lies between "
        f"{both(float(shortest['depth_low']), 'mm')} and {both(float(shortest['depth_high']), 'mm')}"
    )
    if dry:
        record += f"; {dry} year(s) without rain at all, fitted apart: a gauge out of order looks the same"
    tail = f"the fitted {distribution} is no lighter than a tail of shape {shape:g}, usual for rain"
    if more.max() > 1.0:
        tail = (
            f"with a tail of shape {shape:g}, usual for rain, in place of the fitted {distribution} the {period:g}-year depth "
            f"of {words_of(float(at['duration']))} is {both(float(at['depth_heavier_tail']), 'mm')}, not {both(float(at['depth']), 'mm')}"
            f"{f'; {years} years seldom tell the two apart' if years < _YEARS_THAT_TELL_TAILS else ''}"
        )
    return {"record_risk": record, "tail_risk": tail}


def _labelled_levels(
    rows: list[tuple[Any, ...]], durations: xr.DataArray, periods: np.ndarray, origin: dict[str, str]
) -> xr.Dataset:
    """Put the rows of `return_levels`, one per duration, into a Dataset."""
    import xarray as xr

    columns = (np.array(column) for column in zip(*rows, strict=True))
    depth, low, high, heavier, location, scale, shape, years, dry = columns
    both, depths = ("duration", "return_period"), {"units": "mm", **origin}
    return xr.Dataset(
        {
            "depth": (both, depth, {"long_name": "depth of rain", **depths}),
            "depth_low": (both, low, {"long_name": "lower end of the interval", **depths}),
            "depth_high": (both, high, {"long_name": "upper end of the interval", **depths}),
            "depth_heavier_tail": (both, heavier, {"long_name": "depth of rain with a heavier tail", **depths}),
            "location": ("duration", location, {"units": "mm"}),
            "scale": ("duration", scale, {"units": "mm"}),
            "shape": ("duration", shape, {"units": "1", "long_name": "shape (positive: heavy upper tail)"}),
            "years": ("duration", years, {"units": "1", "long_name": "annual maxima used"}),
            "years_without_rain": ("duration", dry, {"units": "1", "long_name": "years without any rain among them"}),
        },
        coords={
            "duration": durations,
            "return_period": ("return_period", periods, {"units": "years", "long_name": "return period"}),
        },
    )


def _gumbel_sample_variate(years: int) -> tuple[float, float]:
    """Return mean and standard deviation of the Gumbel reduced variate at the Weibull positions of `years` values."""
    variate = -np.log(-np.log1p(-plotting_positions(years, "weibull")))
    return float(variate.mean()), float(variate.std())


def _exceedance(periods: np.ndarray, dry_share: float) -> np.ndarray:
    """Return the probability that a year with rain passes the level of each return period; 1 and more: the level is 0."""
    return 1.0 / (periods * (1.0 - dry_share))


def _depths(parameters: np.ndarray, exceedance: np.ndarray) -> np.ndarray:
    location, scale, shape = parameters
    depths = location + scale * standard_levels(np.minimum(exceedance, _CERTAIN), shape)
    return np.where(exceedance < 1.0, np.maximum(depths, 0.0), 0.0)


def _parameters(samples: np.ndarray, distribution: str, method: str) -> np.ndarray:
    """Return location, scale and shape of each row of `samples`, as an array (rows, 3)."""
    if method == "maximum-likelihood":
        return np.array([_likelihood(row, distribution) for row in samples])
    if method == "l-moments":
        return fixed_shape_fit(samples, 0.0) if distribution == "gumbel" else _gev_l_moments(samples)
    mean, spread = samples.mean(axis=1), samples.std(axis=1, ddof=1)
    if method == "frequency-factor":
        variate_mean, variate_spread = _gumbel_sample_variate(samples.shape[1])
    else:
        variate_mean, variate_spread = np.euler_gamma, math.pi / math.sqrt(6.0)
    scale = spread / variate_spread
    return np.stack([mean - variate_mean * scale, scale, np.zeros_like(mean)], axis=1)


def _gev_l_moments(samples: np.ndarray) -> np.ndarray:
    from scipy import special, stats

    first, second, skew = stats.lmoment(samples, order=[1, 2, 3], axis=1)
    k = _gev_k(skew)
    gamma = special.gamma(1.0 + k)
    scale = second * k / (-np.expm1(-k * math.log(2.0)) * gamma)
    return np.stack([first - scale * (1.0 - gamma) / k, scale, -k], axis=1)


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
    location, scale, shape = _gev_l_moments(values[None, :])[0]  # a start near the answer keeps the search short
    found, location, scale = stats.genextreme.fit(values, -shape, loc=location, scale=scale)
    return float(location), float(scale), float(-found)


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


def _check_interval(bootstrap: str, interval: float, heavier_tail: float | None) -> None:
    if bootstrap not in BOOTSTRAPS:
        raise StormError(
            f'return_levels: bootstrap "{bootstrap}" is not known{nearest(bootstrap, BOOTSTRAPS)}; '
            f"known: {', '.join(BOOTSTRAPS)}"
        )
    if not 0.0 < interval < 1.0:
        raise StormError(f"return_levels: interval {interval:g} must lie between 0 and 1, for example 0.90")
    if heavier_tail is not None and not 0.0 < heavier_tail < 0.5:
        raise StormError(
            f"return_levels: heavier_tail {heavier_tail:g} must lie between 0 and 0.5 (a GEV shape, {HEAVY_TAIL:g} by "
            "default); None leaves the fitted distribution alone"
        )


def _warn_of_clock_readings(maxima: xr.DataArray) -> None:
    understated = maxima.attrs.get("understated", "")
    if understated:
        warnings.warn(
            f"return_levels: {understated}; pass fixed_interval_correction=True to annual_maxima",
            RunoffWarning,
            stacklevel=3,
        )


def _wet_years(maxima: Any, minimum_years: int, where: str) -> tuple[np.ndarray, int]:
    """Return the maxima of the years with rain, and the number of all years."""
    values = np.asarray(maxima, dtype=float).ravel()
    values = values[~np.isnan(values)]
    if (values < 0.0).any():
        raise StormError(f"{where}: {int((values < 0.0).sum())} annual maxima are below zero; rain cannot be negative")
    wet = values[values > 0.0]
    without = f" with rain (and {values.size - wet.size} without)" if wet.size < values.size else ""
    if wet.size < minimum_years:
        raise StormError(
            f"{where}: {wet.size} annual maxima{without}, at least {minimum_years} are needed; use a longer record or a "
            "published depth-duration table (minimum_years lowers the limit, at your own risk)"
        )
    if wet.size < 2 or wet.min() == wet.max():
        raise StormError(f"{where}: the annual maxima are all the same; there is no spread to fit")
    return wet, values.size
