"""Filling gaps: only when asked, by a named method, counted and recorded."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError, nearest, raise_faults

#: What each method does, in the words that are printed and kept.
RAIN_METHODS = {
    "zero": "missing steps taken as dry (as asked; it lowers rain and overflow)",
    "monthly-mean": "missing steps given the mean rain of their month of the year (the total is kept, no step is wet or dry)",
    "same-day-of-other-years": "missing steps given the rain of the same date in the nearest year that has it",
    "spread-gathered": "amounts gathered over several days spread evenly over those days",
}
SMOOTH_METHODS = {
    "interpolate": "straight line between the steps around the gap",
    "monthly-mean": "missing steps given the mean of their month of the year",
}
_TEMPERATURES = ("tmin", "tmax", "tmean", "dew_point")


def fill_gaps(
    weather: xr.Dataset, *, rain: str | None = None, temperature: str | None = None, reference_et: str | None = None
) -> xr.Dataset:
    """Return the weather with its gaps filled by named methods.

    Parameters
    ----------
    weather
        A record on ``time``, missing values as NaN.
    rain
        ``zero``, ``monthly-mean``, ``same-day-of-other-years`` or ``spread-gathered``; several joined by ``+`` apply one
        after the other.
    temperature
        ``interpolate`` or ``monthly-mean``. A ``reference_et`` formed from temperatures is dropped where it has gaps, so
        that it is formed again.
    reference_et
        ``interpolate`` or ``monthly-mean``, for a given series.

    Returns
    -------
    xarray.Dataset
        ``attrs["fill"]`` says what was filled, how often, how and the longest gap. Gaps that a method cannot fill (no line
        beyond the ends of a record) stay missing.

    Raises
    ------
    WeatherError
        When a method is not known, or there is nothing to apply it to.
    """
    asked = [("rain", one.strip(), RAIN_METHODS) for one in (rain or "").split("+") if one.strip()]
    asked += [("temperature", temperature, SMOOTH_METHODS)] if temperature else []
    asked += [("reference_et", reference_et, SMOOTH_METHODS)] if reference_et else []
    faults = []
    for quantity, method, known in asked:
        if method not in known:
            faults.append(f'{quantity}="{method}" is not known{nearest(method, known)}; known: {", ".join(known)}')
        if not _names(weather, quantity):
            faults.append(f"there is no {quantity} in the weather to fill")
        if method == "spread-gathered" and not weather.attrs.get("gathered"):
            faults.append('rain="spread-gathered": the record holds no amounts gathered over several days')
    raise_faults("fill_gaps", faults, WeatherError)
    filled, notes = weather.copy(), []
    for quantity, method, known in asked:
        for name in _names(filled, quantity):
            before = filled[name].isnull()
            filled[name] = _filled(filled, name, method).assign_attrs(filled[name].attrs)
            count = int(before.sum()) - int(filled[name].isnull().sum())
            if count:
                notes.append(f"{name}: {count} filled (longest gap {_longest_gap(before)}), {known[method]}")
    formed = "reference_et" in filled and not filled["reference_et"].attrs.get("method", "given").startswith("given")
    if temperature and formed and bool(filled["reference_et"].isnull().any()):
        filled = filled.drop_vars("reference_et")
    if notes:
        filled.attrs["fill"] = "; ".join([text for text in (weather.attrs.get("fill", ""), *notes) if text])
    return filled


def _names(weather: xr.Dataset, quantity: str) -> list[str]:
    names = _TEMPERATURES if quantity == "temperature" else (quantity,)
    return [name for name in names if name in weather]


def _longest_gap(missing: xr.DataArray) -> int:
    """Return the longest run of missing steps, in any cell."""
    flags = missing.transpose(..., "time").to_numpy().reshape(-1, missing.sizes["time"])
    longest = 0
    for row in flags:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
        longest = max(longest, int((edges[1::2] - edges[::2]).max(initial=0)))
    return longest


def _filled(weather: xr.Dataset, name: str, method: str) -> xr.DataArray:
    series = weather[name]
    if method == "zero":
        return series.fillna(0.0)
    if method == "monthly-mean":
        mean = series.groupby("time.month").mean("time")
        months = mean.reindex(month=np.arange(1, 13))
        return series.fillna(months.sel(month=series["time"].dt.month).drop_vars("month"))
    if method == "interpolate":
        return series.interpolate_na("time", use_coordinate=False)  # the steps are regular
    if method == "spread-gathered":
        return _along_time(series, lambda values: _spread(values, series["time"], str(weather.attrs["gathered"])))
    return _along_time(series, lambda values: _from_other_years(values, series["time"]))


def _along_time(series: xr.DataArray, function: Callable[[np.ndarray], np.ndarray]) -> xr.DataArray:
    """Apply a function of one series to every cell."""
    return xr.apply_ufunc(
        function, series, input_core_dims=[["time"]], output_core_dims=[["time"]], vectorize=True,
        dask="parallelized", output_dtypes=[float],
    ).transpose(*series.dims)  # fmt: skip


def _from_other_years(values: np.ndarray, time: xr.DataArray) -> np.ndarray:
    """Take the same date and time of day of the nearest year that has it; the earlier of two alike."""
    result = values.copy()
    dates = time.dt
    key = ((dates.month * 100 + dates.day) * 10000 + dates.hour * 100 + dates.minute).to_numpy()
    year = dates.year.to_numpy()
    known = ~np.isnan(values)
    alike = {one: places[known[places]] for one, places in pd.Series(np.arange(key.size)).groupby(key).indices.items()}
    for i in np.flatnonzero(~known):
        same = alike[key[i]]
        if same.size:
            result[i] = values[same[np.abs(year[same] - year[i]).argmin()]]
    return result


def _spread(values: np.ndarray, time: xr.DataArray, gathered: str) -> np.ndarray:
    """Spread each gathered amount over its days, where all of them are missing."""
    result = values.copy()
    days = time.to_numpy().astype("datetime64[D]")
    for entry in (one for one in gathered.split("; ") if one):
        last, count, amount = entry.split(" ")
        if count == "unknown":
            continue  # nobody says how many days it covers
        inside = (days <= np.datetime64(last)) & (days > np.datetime64(last) - int(count))
        if inside.any() and np.isnan(values[inside]).all():
            result[inside] = float(amount) / int(count)
    return result
