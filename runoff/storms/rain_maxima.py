"""The largest rains of a record: of each year for given durations, or of the whole record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import StormError
from runoff.storms._durations import minutes_of, words_of
from runoff.storms._rain_series import RainSeries, rain_series

if TYPE_CHECKING:
    import xarray as xr

# A day by the clock seldom holds the largest 24 hours. The usual factor from one fixed daily reading to the largest
# 24 hours, from memory (common practice in rain-frequency atlases); it is named in the attributes wherever it is used.
FIXED_INTERVAL_FACTOR_24H = 1.13
_DAY_MIN = 1440.0


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
        Multiply 24-hour maxima of daily values by 1.13, because a day by the clock seldom holds the largest 24 hours.

    Returns
    -------
    xarray.DataArray
        ``annual_maximum`` in mm on ``year`` and ``duration`` (minutes). A window belongs to the year in which it ends;
        NaN where no window of that length is free of missing steps.
        Attributes: ``dropped_years``, ``fixed_interval_correction``, ``source``.

    Raises
    ------
    StormError
        When a duration does not fit the step or no year is complete.
    """
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
    sums = [_window_sums(series, int(window)) for window in windows]
    depths = np.array([[_largest(ended[labels == year]) for ended in sums] for year in kept])
    factor, words = _fixed_interval(minutes, series.step_min, fixed_interval_correction)
    return xr.DataArray(
        depths * factor,
        dims=("year", "duration"),
        coords={"year": kept, "duration": ("duration", minutes, {"units": "min", "long_name": "duration"})},
        name="annual_maximum",
        attrs={
            "units": "mm",
            "long_name": "largest depth of the year",
            "series": "annual-maximum",
            "source": series.source,
            "dropped_years": "; ".join(dropped) or "none",
            "fixed_interval_correction": words,
        },
    )


def largest_windows(rain: xr.DataArray | xr.Dataset, durations: Sequence[Any]) -> xr.Dataset:
    """Return the largest depth of the whole record for each duration, and when it began.

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

    where = "largest_windows"
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


def _largest(depths: np.ndarray) -> float:
    """Return the largest depth; NaN, not zero, when every window of the year touches a missing step."""
    known = depths[~np.isnan(depths)]
    return float(known.max()) if known.size else float("nan")


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
    for year in np.unique(labels):
        expected = round(_year_minutes(int(year), first_month, series.times[0]) / series.step_min)
        present = int((~series.missing[labels == year]).sum())
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


def _fixed_interval(minutes: np.ndarray, step_min: float, asked: bool) -> tuple[np.ndarray, str]:
    """Return the factor of each duration, and the words for the attribute."""
    one_reading = (minutes == _DAY_MIN) & (step_min == _DAY_MIN)
    if asked and not one_reading.any():
        raise StormError(
            "annual_maxima: fixed_interval_correction is for 24 h windows of daily values; this record has steps of "
            f"{words_of(step_min)} and durations of {', '.join(words_of(m) for m in minutes)}; leave it out"
        )
    if asked:
        return np.where(one_reading, FIXED_INTERVAL_FACTOR_24H, 1.0), f"24 h multiplied by {FIXED_INTERVAL_FACTOR_24H}"
    words = "none"
    if one_reading.any():
        words = f"none; days by the clock understate the largest 24 h (usual factor {FIXED_INTERVAL_FACTOR_24H})"
    return np.ones(minutes.size), words
