"""Filling gaps: only when asked, by a named method, counted and recorded."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.errors import WeatherError, nearest, raise_faults

#: What each method does, in the words that are printed and kept.
RAIN_METHODS = {
    "zero": "missing days taken as dry (you asked for it; it lowers rain and overflow)",
    "monthly-mean": "missing days given the mean rain of their month of the year",
    "same-day-of-other-years": "missing days given the rain of the same date in the nearest year that has it",
    "spread-gathered": "amounts gathered over several days spread evenly over those days",
}
TEMPERATURE_METHODS = {
    "interpolate": "straight line between the days around the gap",
    "monthly-mean": "missing days given the mean of their month of the year",
}
_TEMPERATURES = ("tmin", "tmax", "tmean")


def fill_gaps(weather: xr.Dataset, *, rain: str | None = None, temperature: str | None = None) -> xr.Dataset:
    """Return the weather with its gaps filled by named methods.

    Parameters
    ----------
    weather
        A record on ``time``, missing values as NaN.
    rain
        ``zero``, ``monthly-mean``, ``same-day-of-other-years`` or ``spread-gathered``; several joined by ``+`` apply one
        after the other.
    temperature
        ``interpolate`` or ``monthly-mean``; a formed ``reference_et`` is dropped, so that it is formed again.

    Returns
    -------
    xarray.Dataset
        ``attrs["fill"]`` says what was filled, how often and how.

    Raises
    ------
    WeatherError
        When a method is not known, or a gap cannot be filled by it.
    """
    faults = []
    steps = [("rain", one, RAIN_METHODS) for one in (rain or "").split("+") if one]
    steps += [("temperature", temperature, TEMPERATURE_METHODS)] if temperature else []
    for quantity, method, known in steps:
        if method not in known:
            faults.append(
                f'{quantity} method "{method}" is not known{nearest(str(method), known)}; known: {", ".join(known)}'
            )
    raise_faults("fill_gaps", faults, WeatherError)
    filled, notes = weather.copy(), []
    for quantity, method, known in steps:
        names = ["rain"] if quantity == "rain" else [name for name in _TEMPERATURES if name in filled]
        for name in names:
            before = int(filled[name].isnull().sum())
            filled[name] = _filled(filled, name, str(method))
            count = before - int(filled[name].isnull().sum())
            if count:
                notes.append(f"{name}: {count} filled, {known[str(method)]}")
    if temperature and "reference_et" in filled and filled["reference_et"].isnull().any():
        filled = filled.drop_vars("reference_et")
    if notes:
        filled.attrs["fill"] = "; ".join([text for text in (weather.attrs.get("fill", ""), *notes) if text])
    return filled


def _filled(weather: xr.Dataset, name: str, method: str) -> xr.DataArray:
    series = weather[name]
    if method == "zero":
        result = series.fillna(0.0)
    elif method == "monthly-mean":
        mean = series.groupby("time.month").mean("time")
        result = series.fillna(mean.sel(month=series["time"].dt.month).drop_vars("month"))
    elif method == "interpolate":
        result = series.interpolate_na("time", use_coordinate=True)
    elif method == "spread-gathered":
        result = _spread(series, str(weather.attrs.get("gathered", "")))
    else:
        result = _from_other_years(series)
    result.attrs = series.attrs
    return result


def _from_other_years(series: xr.DataArray) -> xr.DataArray:
    """Take the same date of the nearest year that has it."""
    values = series.to_numpy().copy()
    key = series["time"].dt.month.to_numpy() * 100 + series["time"].dt.day.to_numpy()
    year = series["time"].dt.year.to_numpy()
    for i in np.flatnonzero(np.isnan(series.to_numpy())):
        same = np.flatnonzero((key == key[i]) & ~np.isnan(series.to_numpy()))
        if same.size:
            values[i] = series.to_numpy()[same[np.abs(year[same] - year[i]).argmin()]]
    return series.copy(data=values)


def _spread(series: xr.DataArray, gathered: str) -> xr.DataArray:
    """Spread each gathered amount over its days, where all of them are missing."""
    values = series.to_numpy().copy()
    days = series["time"].to_numpy().astype("datetime64[D]")
    for entry in (one for one in gathered.split("; ") if one):
        last, count, amount = entry.split(" ")
        if count == "unknown":
            continue  # nobody says how many days it covers
        inside = (days <= np.datetime64(last)) & (days > np.datetime64(last) - int(count))
        if inside.any() and np.isnan(values[inside]).all():
            values[inside] = float(amount) / int(count)
    return series.copy(data=values)
