"""Filling gaps: only when asked, by a named method, counted and recorded."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError, nearest, raise_faults
from runoff.given_kinds import refuse_other_kinds

#: What each method does, to the record and to the retention that follows, in the words that are printed and kept. The
#: points are those of two records of 30 years (an invented one, New York) with a tenth of their days taken out.
RAIN_METHODS = {
    "zero": "missing steps taken as dry (as asked): it lowers rain and overflow and raises retention, by 1 to 3 points where a tenth of the days was missing",
    "monthly-mean": "missing steps given the mean rain of their month of the year: the total is kept, but drizzle without storms "
    "raises retention, by 2 to 3 points where a tenth of the days was missing",
    "same-day-of-other-years": "missing steps given the rain of the same date in the nearest year that has it: dry days and "
    "storms are kept, retention rises by up to 1 point where a tenth of the days was missing; single storms are not real",
    "spread-gathered": "amounts gathered over several days spread evenly over those days: the total is kept, storms among them "
    "are flattened, retention rises by about 1 point where a third of the days was gathered",
}
SMOOTH_METHODS = {
    "interpolate": "straight line between the steps around the gap; evapotranspiration of a gap of days is kept, of months it is not",
    "monthly-mean": "missing steps given the mean of their month of the year; the season is kept, warm and cold days are not",
}
#: What may be filled beside rain: a word, and the quantities it stands for.
_SMOOTH = {
    "temperature": ("tmin", "tmax", "tmean", "dew_point"),
    "wind": ("wind_speed",),
    "humidity": ("humidity", "humidity_min", "humidity_max", "vapour_pressure"),
    "radiation": ("solar_radiation", "sunshine_hours"),
    "reference_et": ("reference_et",),
}
FILLABLE = ("rain", *_SMOOTH)


def fill_gaps(
    weather: xr.Dataset,
    *,
    rain: str | None = None,
    temperature: str | None = None,
    wind: str | None = None,
    humidity: str | None = None,
    radiation: str | None = None,
    reference_et: str | None = None,
) -> xr.Dataset:
    """Return the weather with its gaps filled by named methods; another period without gaps is the better way.

    Parameters
    ----------
    weather
        A record on ``time``, missing values as NaN.
    rain
        ``zero``, ``monthly-mean``, ``same-day-of-other-years`` or ``spread-gathered``; several joined by ``+`` apply one
        after the other.
    temperature, wind, humidity, radiation
        ``interpolate`` or ``monthly-mean``. A ``reference_et`` that was formed from them is dropped, so that it is formed
        again.
    reference_et
        ``interpolate`` or ``monthly-mean``, for a given series.

    Returns
    -------
    xarray.Dataset
        ``attrs["fill"]`` says what was filled, how often, how, the longest gap and what it does to retention. Gaps that a method cannot fill (no line
        beyond the ends of a record) stay missing.

    Raises
    ------
    WeatherError
        When a method is not known, or there is nothing to apply it to.
    """
    refuse_other_kinds("fill_gaps", weather=weather)
    asked = [("rain", one.strip(), RAIN_METHODS) for one in (rain or "").split("+") if one.strip()]
    smooth = {
        "temperature": temperature, "wind": wind, "humidity": humidity, "radiation": radiation, "reference_et": reference_et,
    }  # fmt: skip
    asked += [(word, method, SMOOTH_METHODS) for word, method in smooth.items() if method]
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
    if formed and any(smooth[word] for word in ("temperature", "wind", "humidity", "radiation")):
        filled = filled.drop_vars("reference_et")
    if notes:
        filled.attrs["fill"] = "; ".join([text for text in (weather.attrs.get("fill", ""), *notes) if text])
    return filled


def _names(weather: xr.Dataset, quantity: str) -> list[str]:
    return [name for name in _SMOOTH.get(quantity, (quantity,)) if name in weather]


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
