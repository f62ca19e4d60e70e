"""Daily station files of the global historical network: fixed width ``.dly`` and by-station CSV, with their flags.

Layout (readme of GHCN-Daily, NOAA): a ``.dly`` line holds one element of one month, 31 groups of value, measurement
flag, quality flag and source flag. CSV comes as one value per line or as one line per day. Rain and temperature are in
tenths. A value counts when it is not -9999 and its quality flag is blank; a trace (measurement flag T) counts as 0, a
"missing presumed zero" (P) is kept as 0, and both are counted. An amount gathered over several days (MDPR, with its
number of days in DAPR) leaves its days missing: two days merged are not a dry and a wet one.
"""

from __future__ import annotations

import csv
import io
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError
from runoff.quantities import label

# element -> (quantity, factor to house units)
_ELEMENTS: dict[str, tuple[str, float]] = {
    "PRCP": ("rain", 0.1),
    "TMAX": ("tmax", 0.1),
    "TMIN": ("tmin", 0.1),
    "AWND": ("wind_speed", 0.1),
}
_GATHERED = ("MDPR", "DAPR")
_MISSING = -9999
_LINE = 269  # characters of a whole .dly line
WIND_HEIGHT_M = 10.0  # usual height of the network's anemometers


class _Values(NamedTuple):
    """All values of one element, in the order of the file."""

    date: np.ndarray
    value: np.ndarray
    measurement: np.ndarray
    quality: np.ndarray


def looks_like_dly(text: str) -> bool:
    """Tell a fixed-width file from its first line."""
    line = text[: text.find("\n")] if "\n" in text else text
    return len(line) >= 29 and line[11:17].isdigit() and line[17:21].strip().isalnum() and line[17:21].isupper()


def looks_like_station_csv(text: str) -> bool:
    """Tell a by-station CSV from its first line."""
    first = text.split("\n", 1)[0].strip().replace('"', "").split(",")
    one_value = len(first) >= 7 and first[1].isdigit() and len(first[1]) == 8 and first[2].isupper()
    return one_value or {"STATION", "DATE", "PRCP"} <= set(first)


def read_station_daily(text: str) -> xr.Dataset:
    """Read a daily station file from its text.

    Returns
    -------
    xarray.Dataset
        ``rain``, ``tmin``, ``tmax`` ... on a gapless daily axis, missing where the file has nothing usable. ``attrs``
        count traces, presumed zeros, values dropped for a quality flag and amounts gathered over several days.
    """
    if looks_like_dly(text):
        elements, place = _from_dly(text), {}
    else:
        elements, place = _from_csv(text)
    if "PRCP" not in elements:
        raise WeatherError(
            f"no rain (PRCP) in this station file; its elements are {', '.join(sorted(elements)) or 'none'}"
        )
    return _dataset(elements, place)


def _from_dly(text: str) -> dict[str, _Values]:
    lines = [line for line in text.splitlines() if line[17:21] in _ELEMENTS or line[17:21] in _GATHERED]
    short = next((n for n, line in enumerate(text.splitlines(), 1) if line.strip() and len(line) < 29), None)
    if short is not None:
        raise WeatherError(f"line {short} is cut short; the file did not arrive whole, fetch it again")
    found = {}
    for element in (*_ELEMENTS, *_GATHERED):
        own = [line for line in lines if line[17:21] == element]
        if own:
            found[element] = _months(own)
    return found


def _months(lines: list[str]) -> _Values:
    """Take the lines of one element apart, all at once."""
    block = np.frombuffer("".join(line.ljust(_LINE)[:_LINE] for line in lines).encode("latin-1"), dtype="S1")
    block = block.reshape(len(lines), _LINE)
    groups = np.ascontiguousarray(block[:, 21:]).reshape(len(lines), 31, 8)
    value = np.ascontiguousarray(groups[:, :, :5]).view("S5")[..., 0]
    value = np.where(np.char.strip(value) == b"", b"-9999", value).astype(int)
    month = np.array([f"{line[11:15]}-{line[15:17]}" for line in lines], dtype="datetime64[M]")
    date = month[:, None].astype("datetime64[D]") + np.arange(31)
    inside = date.astype("datetime64[M]") == month[:, None]  # the 31st of a short month is no day
    flags = [groups[:, :, k].astype("U1") for k in (5, 6)]
    return _Values(date[inside], value[inside], *(np.char.strip(flag)[inside] for flag in flags))


def _from_csv(text: str) -> tuple[dict[str, _Values], dict[str, float]]:
    first = text.split("\n", 1)[0]
    return _from_wide(text) if "STATION" in first else (_from_long(text), {})


def _from_long(text: str) -> dict[str, _Values]:
    names = ["station", "date", "element", "value", "measurement", "quality", "source", "time"]
    table = pd.read_csv(
        io.StringIO(text),
        header=None,
        names=names,
        dtype=str,
        keep_default_na=False,
        usecols=range(6),
        skipinitialspace=True,
    )
    stations = table["station"].unique()
    if len(stations) > 1:
        raise WeatherError(
            f"the file holds {len(stations)} stations ({', '.join(stations[:3])} ...); give the file of one station"
        )
    found = {}
    for element, own in table.groupby("element"):
        if element in _ELEMENTS or element in _GATHERED:
            date = pd.to_datetime(own["date"], format="%Y%m%d").to_numpy().astype("datetime64[D]")
            found[str(element)] = _Values(
                date,
                own["value"].astype(int).to_numpy(),
                own["measurement"].to_numpy(dtype="U1"),
                own["quality"].to_numpy(dtype="U1"),
            )
    return found


def _from_wide(text: str) -> tuple[dict[str, _Values], dict[str, float]]:
    rows = list(csv.DictReader(io.StringIO(text)))
    found, place = {}, {}
    for name, key in (("lat", "LATITUDE"), ("lon", "LONGITUDE"), ("elevation", "ELEVATION")):
        if rows and rows[0].get(key, "").strip():
            place[name] = float(rows[0][key])
    date = np.array([row["DATE"][:10] for row in rows], dtype="datetime64[D]")
    for element in (*_ELEMENTS, *_GATHERED):
        if rows and element in rows[0]:
            value = np.array([int(float(row[element])) if row[element].strip() else _MISSING for row in rows])
            flags = [f"{row.get(f'{element}_ATTRIBUTES') or ''},,".split(",") for row in rows]
            measurement, quality = (np.array([flag[k].strip() for flag in flags], dtype="U1") for k in (0, 1))
            found[element] = _Values(date, value, measurement, quality)
    return found, place


def _dataset(elements: dict[str, _Values], place: dict[str, float]) -> xr.Dataset:
    rain = elements["PRCP"]
    known = rain.date[rain.value != _MISSING]
    if known.size == 0:
        raise WeatherError("no usable rain (PRCP) in this station file")
    time = np.arange(known.min(), known.max() + 1)
    variables, dropped = {}, 0
    for element, (quantity, factor) in _ELEMENTS.items():
        if element not in elements:
            continue
        values = elements[element]
        _refuse_twice(element, values.date)
        held = values.value != _MISSING
        good = held & (values.quality == "")
        dropped += int((held & ~good).sum())
        within = good & (values.date >= time[0]) & (values.date <= time[-1])
        series = np.full(time.size, np.nan)
        # dividing by ten gives the nearest decimal; multiplying by 0.1 does not
        series[(values.date[within] - time[0]).astype(int)] = values.value[within] / round(1 / factor)
        variables[quantity] = ("time", series)
    data = xr.Dataset(variables, coords={"time": time.astype("datetime64[ns]"), **place})
    if "wind_speed" in data:
        data["wind_speed"].attrs["height_m"] = WIND_HEIGHT_M
    kept = (rain.value != _MISSING) & (rain.quality == "")
    data["rain_flag"] = ("time", _flags(rain, kept, time))
    data["rain_flag"].attrs = {"long_name": "measurement flag of rain: T trace, P missing presumed zero", "units": "1"}
    data.attrs.update(
        dropped_for_quality=dropped,
        gathered=_gathered(elements),
        time_label="day of observation",
        day_start="by the station's time of observation, usually morning or midnight",
    )
    return label(data)


def _refuse_twice(element: str, date: np.ndarray) -> None:
    unique, count = np.unique(date, return_counts=True)
    if (count > 1).any():
        raise WeatherError(
            f"{element} is given twice for {int((count > 1).sum())} days, first {unique[count > 1][0]}; keep one of them"
        )


def _flags(rain: _Values, kept: np.ndarray, time: np.ndarray) -> np.ndarray:
    flags = np.full(time.size, "", dtype="U1")
    flags[(rain.date[kept] - time[0]).astype(int)] = rain.measurement[kept]
    return flags


def _gathered(elements: dict[str, _Values]) -> str:
    """List amounts gathered over several days as ``last day, days, mm``, one per semicolon."""
    if "MDPR" not in elements:
        return ""
    amounts = elements["MDPR"]
    spans = elements.get("DAPR")
    days = dict(zip(spans.date, spans.value, strict=True)) if spans else {}
    good = (amounts.value != _MISSING) & (amounts.quality == "")
    return "; ".join(
        f"{date} {days.get(date, _MISSING) if days.get(date, _MISSING) != _MISSING else 'unknown'} {value / 10:.1f}"
        for date, value in zip(amounts.date[good], amounts.value[good], strict=True)
    )
