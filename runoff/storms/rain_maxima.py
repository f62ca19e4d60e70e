"""The largest rains of a record: of each year for given durations, or of the whole record.

A reading covers an interval by the clock, and the largest rain of that length seldom keeps to it. Maxima over few readings
are therefore too small, by an eighth on average for a single one. The usual factors by number of readings are
`FIXED_INTERVAL_FACTORS`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import StormError
from runoff.given_kinds import refuse_other_kinds
from runoff.storms._durations import minutes_of, words_of
from runoff.storms._rain_series import RainSeries, rain_series

if TYPE_CHECKING:
    import xarray as xr

# Readings in the window, up to -> factor from maxima by the clock to true maxima: Hershfield (US Weather Bureau TP-40, 1961)
# and the WMO Guide to Hydrological Practices (WMO-168), from memory. Seven months of 5-minute rain at Singapore gave, as
# sums of monthly maxima of one, two and three clock hours, 1.13, 1.06 and 1.02. Named in the attributes wherever used.
FIXED_INTERVAL_FACTORS = {1: 1.13, 2: 1.04, 4: 1.03, 8: 1.02, 24: 1.01}


def annual_maxima(
    rain: xr.DataArray | xr.Dataset,
    durations: Sequence[Any],
    *,
    year_start_month: int = 1,
    allowed_missing: float = 0.0,
    fixed_interval_correction: bool = False,
) -> xr.DataArray:
    """Return the largest depth of each complete year for each duration.

    Parameters
    ----------
    rain
        A weather Dataset or its rain, mm per step, on a regular time axis; NaN where missing.
    durations
        For example ``["5min", "1h", "24h"]``; whole multiples of the step.
    year_start_month
        First month of the year; a year that starts after January goes by the calendar year in which it ends.
    allowed_missing
        Share of a year's steps that may be missing. A year with more is dropped and named; the default drops a year for
        one missing step, because the largest storm may hide there. Windows that touch a missing step never count.
    fixed_interval_correction
        Multiply maxima of windows of up to 24 readings by `FIXED_INTERVAL_FACTORS`: 1.13 for the 24 h of daily values or
        the 60 min of clock hours, 1.04 for two readings, 1.01 at 24. A longer window never keeps less than a shorter one.

    Returns
    -------
    xarray.DataArray
        ``annual_maximum`` in mm on ``year`` and ``duration`` (minutes). A window belongs to the year in which it ends;
        NaN where no window of that length is free of missing steps.
        Attributes: ``dropped_years``, ``years_without_rain``, ``years_with_gaps``, ``fixed_interval_correction``,
        ``source``; ``understated`` where single readings stand for the largest rain of their length.

    Raises
    ------
    StormError
        When a duration does not fit the step or no year is complete.
    """
    refuse_other_kinds("annual_maxima", durations=durations)
    import xarray as xr

    where = "annual_maxima"
    series = rain_series(rain, where)
    windows = _windows(durations, series, where)
    minutes = windows * series.step_min
    labels = _year_labels(series.times, year_start_month)
    kept, dropped = _complete_years(series, labels, year_start_month, allowed_missing)
    if not kept:
        raise StormError(
            f"{where}: no complete year in the record: {'; '.join(dropped[:5])}; fill the gaps, or pass "
            "allowed_missing (a share) to accept years with some missing steps"
        )
    begins = np.flatnonzero(np.diff(labels, prepend=labels[0] - 1))  # years follow one another
    is_kept = np.isin(labels[begins], kept)
    # the largest of what is known; NaN, not zero, when every window of the year touches a missing step
    depths = np.stack(
        [np.fmax.reduceat(_window_sums(series, int(window)), begins)[is_kept] for window in windows], axis=1
    )
    if fixed_interval_correction:
        depths = _corrected(depths, windows)
    dry = [str(year) for year, row in zip(kept, depths, strict=True) if np.nanmax(row, initial=0.0) == 0.0]
    shares = dict(zip(labels[begins].tolist(), _shares(series.missing, begins), strict=True))
    gaps = [f"{year} ({shares[year]:.1%})" for year in kept if shares[year] > 0.0]
    return xr.DataArray(
        depths,
        dims=("year", "duration"),
        coords={"year": kept, "duration": ("duration", minutes, {"units": "min", "long_name": "duration"})},
        name="annual_maximum",
        attrs={
            "units": "mm",
            "long_name": "largest depth of the year",
            "series": "annual-maximum",
            "source": series.source,
            "dropped_years": "; ".join(dropped) or "none",
            "years_without_rain": ", ".join(dry) or "none",
            "years_with_gaps": ", ".join(gaps) or "none",
            **_fixed_interval_words(windows, series.step_min, fixed_interval_correction),
        },
    )


def largest_depths(rain: xr.DataArray | xr.Dataset, durations: Sequence[Any]) -> xr.Dataset:
    """Return the largest depth of the whole record for each duration, and when it began.

    Parameters
    ----------
    rain
        A weather Dataset or its rain, mm per step, on a regular time axis; NaN where missing.
    durations
        For example ``["5min", "1h", "24h"]``; whole multiples of the step.

    Returns
    -------
    xarray.Dataset
        ``depth`` (mm) and ``start`` (start of the window) on ``duration`` (minutes); attribute ``windows_lost`` says
        how many windows were skipped because a step in them is missing.

    Raises
    ------
    StormError
        When a duration does not fit the step, or every window has missing steps.
    """
    import xarray as xr

    where = "largest_depths"
    refuse_other_kinds(where, durations=durations)
    series = rain_series(rain, where)
    windows = _windows(durations, series, where)
    depth, start, lost = [], [], []
    for window in windows:
        ended = _window_sums(series, int(window))
        if np.isnan(ended).all():
            raise StormError(f"{where}: every window of {words_of(window * series.step_min)} has missing steps")
        last = int(np.nanargmax(ended))
        depth.append(ended[last])
        start.append(series.times[last - int(window) + 1])
        lost.append(f"{words_of(window * series.step_min)}: {int(np.isnan(ended[int(window) - 1 :]).sum())}")
    minutes = windows * series.step_min
    return xr.Dataset(
        {
            "depth": ("duration", depth, {"units": "mm", "long_name": "largest depth of the record"}),
            "start": ("duration", np.array(start), {"long_name": "start of the window"}),
        },
        coords={"duration": ("duration", minutes, {"units": "min", "long_name": "duration"})},
        attrs={"source": series.source, "windows_lost": "; ".join(lost)},
    )


def _windows(durations: Sequence[Any], series: RainSeries, where: str) -> np.ndarray:
    """Return the durations as whole numbers of steps."""
    given = [durations] if isinstance(durations, str) else list(durations)
    if not given:
        raise StormError(f'{where}: no durations are given; name one or more, for example ["1h", "24h"]')
    windows = []
    for duration in given:
        minutes = minutes_of(duration, "duration", where)
        count = round(minutes / series.step_min)
        if count < 1 or abs(count * series.step_min - minutes) > 1e-9 * minutes:
            raise StormError(
                f"{where}: a duration of {words_of(minutes)} is not a whole number of steps "
                f"of {words_of(series.step_min)}"
            )
        if count > series.depth_mm.size:
            raise StormError(f"{where}: a duration of {words_of(minutes)} is longer than the record")
        windows.append(count)
    return np.array(windows)


def _window_sums(series: RainSeries, window: int) -> np.ndarray:
    """Return the depth of the window that ends with each step; NaN where it touches a missing step or the start."""
    missing = series.missing
    total = np.concatenate([[0.0], np.cumsum(np.where(missing, 0.0, series.depth_mm))])
    holes = np.concatenate([[0], np.cumsum(missing)])
    ended = np.full(series.depth_mm.size, np.nan)
    whole = holes[window:] == holes[:-window]
    ended[window - 1 :] = np.where(whole, total[window:] - total[:-window], np.nan)
    return ended


def _shares(flags: np.ndarray, begins: np.ndarray) -> list[float]:
    """Return the share of True in each stretch that starts at one of `begins`."""
    return (np.add.reduceat(flags, begins, dtype=float) / np.diff(begins, append=flags.size)).tolist()


def _year_labels(times: np.ndarray, first_month: int) -> np.ndarray:
    import xarray as xr

    when = xr.DataArray(times, dims="time").dt
    later = (when.month >= first_month) & (first_month > 1)
    return (when.year + later).values


def _complete_years(
    series: RainSeries, labels: np.ndarray, first_month: int, allowed: float
) -> tuple[list[int], list[str]]:
    """Return the years kept, and the dropped ones with the reason."""
    kept, dropped = [], []
    years, steps = np.unique(labels[~series.missing], return_counts=True)
    known = dict(zip(years.tolist(), steps.tolist(), strict=True))
    for year in np.unique(labels):
        expected = round(_year_minutes(int(year), first_month, series.times[0]) / series.step_min)
        present = known.get(int(year), 0)
        if expected - present <= allowed * expected:
            kept.append(int(year))
        else:
            dropped.append(f"{year} ({expected - present} of {expected} steps missing)")
    return kept, dropped


def _year_minutes(year: int, first_month: int, like: Any) -> float:
    """Return the length of a year in the calendar of `like`."""
    first = year - (first_month > 1)
    if isinstance(like, np.datetime64):
        length = np.datetime64(f"{first + 1:04d}-{first_month:02d}-01") - np.datetime64(
            f"{first:04d}-{first_month:02d}-01"
        )
        return float(length / np.timedelta64(1, "m"))
    calendar_time = type(like)
    return float(
        (calendar_time(first + 1, first_month, 1) - calendar_time(first, first_month, 1)).total_seconds() / 60.0
    )


def _fixed_interval_factor(readings: int) -> float:
    return next((factor for most, factor in FIXED_INTERVAL_FACTORS.items() if readings <= most), 1.0)


def _corrected(depths: np.ndarray, windows: np.ndarray) -> np.ndarray:
    """Return depths (years, windows) times their factors; a longer window holds at least what a shorter one does."""
    raised = depths * np.array([_fixed_interval_factor(int(window)) for window in windows])
    order = np.argsort(windows, kind="stable")
    raised[:, order] = np.fmax.accumulate(raised[:, order], axis=1)
    return np.where(np.isnan(depths), np.nan, raised)


def _fixed_interval_words(windows: np.ndarray, step_min: float, corrected: bool) -> dict[str, str]:
    """Return the attributes that name the factor used, or what is understated without it."""
    factors = {int(window): _fixed_interval_factor(int(window)) for window in windows}
    named = [f"{words_of(n * step_min)} multiplied by {factor:g}" for n, factor in factors.items() if factor > 1.0]
    source = "Hershfield 1961, from memory"
    if corrected:
        return {"fixed_interval_correction": f"{', '.join(named)} ({source})" if named else "none needed"}
    if 1 not in factors:
        return {"fixed_interval_correction": "none"}
    one = words_of(step_min)
    words = f"readings of {one} by the clock understate the largest {one} (usual factor {factors[1]:g}; {source})"
    return {"fixed_interval_correction": f"none; {words}", "understated": words}
