"""Where the intervals of a CF file begin: from its time bounds, which must be sound, or from its stamps."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError
from runoff.weather.record.time_axis import ONE_DAY, STEP_HOURS, counted, moved, stamp_words, step_of, step_words

_SLACK = 1e-3  # of a step: bounds kept as days in single precision are not exact


def interval_starts(opened: xr.Dataset, stamp: str | None) -> tuple[xr.DataArray, str]:
    """Return the starts of the intervals, and in words where they come from.

    Parameters
    ----------
    opened
        The file, its times decoded.
    stamp
        ``"start"`` or ``"end"``: what the stamps of a file without time bounds mark, where whoever reads it says so.

    Raises
    ------
    WeatherError
        When there are no dates, or bounds that run backwards, overlap, leave parts of the time out or lie beside their
        stamps; or when the file holds a mean year (a climatology) and no record.
    """
    time = _dates(opened)
    bounds = opened.get(str(opened["time"].attrs.get("bounds", "time_bnds")))
    if bounds is not None and bounds.ndim == 2 and bounds.shape[1] == 2 and bounds.dtype.kind == time.dtype.kind:
        ends = [_whole_seconds(xr.DataArray(bounds.to_numpy()[:, k], dims="time")).to_numpy() for k in (0, 1)]
        starts, step = _from_bounds(np.stack(ends, axis=1), time)
        return _labelled(starts, step), "start of the interval, from the time bounds"
    if time.size == 1 and not _is_day(time):
        raise WeatherError(
            f"time: a single step at {stamp_words(time.to_numpy()[0])} without time bounds does not say how long it is"
        )
    if step_of(time) == ONE_DAY and bool((time.dt.hour == 12).all()):
        return _labelled(time.dt.floor("D").to_numpy()), "midday stamps, converted to the start of the day"
    if stamp == "end":
        moved_back = _labelled(moved(time.to_index(), -step_of(time)).to_numpy())
        return moved_back, "end of the interval, as stated; converted to start"
    if stamp == "start":
        return time, "start of the interval, as stated"
    return time, "start of the interval, as stamped; assumed: the file has no time bounds"


def _dates(opened: xr.Dataset) -> xr.DataArray:
    """Return the stamps, or say why they are none."""
    given = opened["time"]
    if "climatology" in given.attrs:
        raise WeatherError(
            "it holds a mean year (its time has climatology bounds), not a record; a mean year has neither storms nor dry spells"
        )
    if given.dtype.kind not in "MO" or not given.size:
        raise WeatherError('its `time` holds no dates; the attribute units must read like "days since 1990-01-01"')
    missing = int(given.isnull().sum())
    if missing:
        raise WeatherError(f"time: {counted(missing, 'step')} without a date")
    time = given.reset_coords(drop=True)
    time.attrs = {}
    return _whole_seconds(time)


def _whole_seconds(time: xr.DataArray) -> xr.DataArray:
    """Take off what is left of days kept as broken numbers: 01:00:00.000001 is one o'clock."""
    if not bool((time.dt.microsecond > 0).any()):
        return time
    rounded = time.dt.round("s")
    off = np.abs(_lengths(rounded.to_numpy(), time.to_numpy()))
    return _labelled(rounded.to_numpy()) if bool((off < 1e6).all()) else time


def _is_day(time: xr.DataArray) -> bool:
    """Tell whether a single stamp is that of a day: midnight, or midday as models write it."""
    first = time.dt
    return bool(((first.hour % 12 == 0) & (first.minute == 0) & (first.second == 0)).all())


def _from_bounds(bounds: np.ndarray, time: xr.DataArray) -> tuple[np.ndarray, pd.Timedelta]:
    """Return start and length of the intervals; refuse bounds that no record can have."""
    low, high = bounds[:, 0], bounds[:, 1]
    stamps = time.to_numpy()
    if pd.isna(low).any() or pd.isna(high).any():
        raise WeatherError(f"time: {counted(int((pd.isna(low) | pd.isna(high)).sum()), 'interval')} without bounds")
    order = np.argsort(low, kind="stable")
    low, high, stamps = low[order], high[order], stamps[order]
    width = _lengths(high, low)
    backwards = np.flatnonzero(width <= 0)
    if backwards.size:
        raise WeatherError(
            f"time: the bounds of {counted(backwards.size, 'interval')} run backwards or are empty, first "
            f"{_pair(low, high, backwards[0])}; the start comes first"
        )
    step = pd.Timedelta(int(np.median(width)), "ns")
    slack = int(_SLACK * step.value)
    overlapping = np.flatnonzero(_lengths(high[:-1], low[1:]) > slack)
    if overlapping.size:
        i = overlapping[0]
        raise WeatherError(
            f"time: {counted(overlapping.size, 'interval')} overlap the next, first {_pair(low, high, i)} and {_pair(low, high, i + 1)}; "
            "rain of the overlap would count twice"
        )
    beside = np.flatnonzero((_lengths(low, stamps) > slack) | (_lengths(stamps, high) > slack))
    if beside.size:
        i = beside[0]
        raise WeatherError(
            f"time: {counted(beside.size, 'stamp')} outside their bounds, first {stamp_words(stamps[i])} with {_pair(low, high, i)}"
        )
    paces = _lengths(low[1:], low[:-1])
    pace = pd.Timedelta(int(np.median(paces)) if paces.size else step.value, "ns")
    if step <= ONE_DAY and abs((pace - step).value) > slack:
        raise WeatherError(
            f"time: each value covers {step_words(step / ONE_DAY)} and they follow each other every {step_words(pace / ONE_DAY)}; what "
            "fell in between is not known"
        )
    return bounds[:, 0], step


def _lengths(late: np.ndarray, early: np.ndarray) -> np.ndarray:
    """Return the time from one to the other, ns, on any calendar."""
    gap = late - early
    if gap.dtype.kind == "m":
        return gap.astype("timedelta64[ns]").astype("int64")
    return np.array([one.total_seconds() * 1e9 for one in gap]).astype("int64")


def _pair(low: np.ndarray, high: np.ndarray, i: int) -> str:
    return f"{stamp_words(low[i])} to {stamp_words(high[i])}"


def _labelled(starts: np.ndarray, step: pd.Timedelta | None = None) -> xr.DataArray:
    time = xr.DataArray(starts, dims="time")
    if step is not None and starts.size == 1:
        time.attrs[STEP_HOURS] = step / pd.Timedelta("1h")
    return time.assign_coords(time=time)
