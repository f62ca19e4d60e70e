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
import re
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError, raise_faults
from runoff.quantities import label
from runoff.weather.record.time_axis import counted

# element -> quantity; all are whole numbers of tenths (mm, degC, m/s)
_ELEMENTS = {"PRCP": "rain", "TMAX": "tmax", "TMIN": "tmin", "AWND": "wind_speed"}
_PER_UNIT = 10
_GATHERED = ("MDPR", "DAPR")
_READ = (*_ELEMENTS, *_GATHERED)
_MISSING = -9999
_LINE = 269  # characters of a whole .dly line
_FLAGS = 3  # trailing blanks that an editor may have cut off
WIND_HEIGHT_M = 10.0  # usual height of the network's anemometers


class _Values(NamedTuple):
    """All values of one element, in the order of the file."""

    date: np.ndarray
    value: np.ndarray
    measurement: np.ndarray
    quality: np.ndarray

    @property
    def held(self) -> np.ndarray:
        """Whether there is a value at all."""
        return self.value != _MISSING

    @property
    def good(self) -> np.ndarray:
        """Whether the value passed the source's own checks."""
        return self.held & (self.quality == "")


def looks_like_dly(text: str) -> bool:
    """Tell a fixed-width file from its first line."""
    return re.match(r"[A-Z]{2}[A-Z0-9_\-]{9}\d{6}[A-Z]{2}[A-Z0-9]{2}[ \-\d]{5}", text) is not None


def looks_like_station_csv(text: str) -> bool:
    """Tell a by-station CSV from its first line."""
    first = [cell.strip() for cell in text.split("\n", 1)[0].replace('"', "").split(",")]
    one_value = len(first) >= 6 and re.fullmatch(r"\d{8}", first[1]) is not None and first[2].isupper()
    return one_value or _is_long_header(first) or {"STATION", "DATE", "PRCP"} <= set(first)


def _is_long_header(cells: list[str]) -> bool:
    return len(cells) >= 6 and cells[0].upper() in ("ID", "STATION") and cells[2].upper() == "ELEMENT"


def read_station_daily(text: str) -> xr.Dataset:
    """Read a daily station file from its text.

    Returns
    -------
    xarray.Dataset
        ``rain``, ``tmin``, ``tmax``, ``wind_speed`` on a gapless daily axis, missing where the file has nothing usable,
        and ``rain_flag``. ``attrs`` count values dropped for a quality flag and list amounts gathered over several days.

    Raises
    ------
    WeatherError
        Naming every fault: lines cut short, several stations, no rain, days given twice, text for numbers.
    """
    place: dict[str, float] = {}
    if looks_like_dly(text):
        station, elements = _from_dly(text)
    elif "DATE" in text.split("\n", 1)[0] and not _is_long_header(text.split("\n", 1)[0].replace('"', "").split(",")):
        station, elements, place = _from_wide(text)
    else:
        station, elements = _from_long(text)
    if "PRCP" not in elements or not elements["PRCP"].held.any():
        raise WeatherError(
            "there is no rain (PRCP) in this station file; elements that were read: "
            f"{', '.join(name for name in _READ if name in elements) or 'none'}"
        )
    raise_faults("station file", _twice(elements), WeatherError)
    data = _dataset(elements, place)
    data.attrs["title"] = f"station {station}"
    return data


def _from_dly(text: str) -> tuple[str, dict[str, _Values]]:
    numbered = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    own = [(n, line) for n, line in numbered if line[17:21] in _READ]
    faults = []
    short = [n for n, line in numbered if len(line) < (_LINE - _FLAGS if line[17:21] in _READ else 21)]
    if short:
        faults.append(
            f"{counted(len(short), 'line')} cut short (first line {short[0]}: {len(text.splitlines()[short[0] - 1])} of {_LINE} characters); "
            "the file did not arrive whole, fetch it again"
        )
    stations = list(dict.fromkeys(line[:11] for _, line in numbered))
    if len(stations) > 1:
        faults.append(f"{len(stations)} stations in one file ({', '.join(stations[:3])}); give the file of one station")
    undated = [n for n, line in own if not re.fullmatch(r"\d{4}(0[1-9]|1[0-2])", line[11:17])]
    if undated:
        faults.append(
            f"{counted(len(undated), 'line')} without year and month in columns 12-17 (first line {undated[0]})"
        )
    raise_faults("station file", faults, WeatherError)
    found = {}
    for element in _READ:
        lines = [(n, line) for n, line in own if line[17:21] == element]
        if lines:
            found[element] = _months(element, lines, faults)
    raise_faults("station file", faults, WeatherError)
    return stations[0], found


def _months(element: str, lines: list[tuple[int, str]], faults: list[str]) -> _Values:
    """Take the lines of one element apart, all at once."""
    raw = "".join(line.ljust(_LINE)[:_LINE] for _, line in lines).encode("latin-1", "replace")
    groups = np.frombuffer(raw, dtype="uint8").reshape(len(lines), _LINE)[:, 21:].reshape(len(lines), 31, 8)
    value, odd = _whole_numbers(groups[:, :, :5])
    month = np.array([f"{line[11:15]}-{line[15:17]}" for _, line in lines], dtype="datetime64[M]")
    date = month[:, None].astype("datetime64[D]") + np.arange(31)
    inside = date.astype("datetime64[M]") == month[:, None]  # the 31st of a short month is no day
    if (odd & inside).any():
        row, day = np.argwhere(odd & inside)[0]
        faults.append(
            f"{element}: no whole number on {counted(int((odd & inside).sum()), 'day')}, first {date[row, day]} (line {lines[row][0]}: "
            f'"{lines[row][1][21 + 8 * day : 26 + 8 * day]}")'
        )
    flags = []
    for position in (5, 6):
        flag = np.ascontiguousarray(groups[:, :, position])[inside]
        flags.append(np.where(flag == ord(" "), 0, flag).astype("uint32").view("U1"))
    return _Values(date[inside], value[inside], *flags)


def _whole_numbers(characters: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return right-aligned numbers from their characters (last axis), and where there is something else."""
    digit = (characters >= ord("0")) & (characters <= ord("9"))
    minus = characters == ord("-")
    powers = 10 ** np.arange(characters.shape[-1] - 1, -1, -1)
    value = (np.where(digit, characters.astype(int) - ord("0"), 0) * powers).sum(axis=-1)
    odd = ~(digit | minus | (characters == ord(" "))).all(axis=-1) | (minus.sum(axis=-1) > 1) | ~digit[..., -1]
    return np.where(minus.any(axis=-1), -value, value), odd


def _from_long(text: str) -> tuple[str, dict[str, _Values]]:
    header = _is_long_header(text.split("\n", 1)[0].replace('"', "").split(","))
    names = ["station", "date", "element", "value", "measurement", "quality"]
    few = dict.fromkeys(("station", "element", "measurement", "quality"), "category")  # few words on very many lines
    table = pd.read_csv(
        io.StringIO(text), header=None, skiprows=1 if header else 0, names=names, usecols=range(6),
        dtype={**few, "date": "str", "value": "str"}, keep_default_na=False, skipinitialspace=True, skip_blank_lines=False,
    )  # fmt: skip
    table.index += 2 if header else 1
    table = table[table["station"].notna() & (table["station"] != "")]
    faults = []
    stations = table["station"].unique().tolist()
    if len(stations) > 1:
        faults.append(f"{len(stations)} stations in one file ({', '.join(stations[:3])}); give the file of one station")
    own = table[table["element"].isin(_READ)]
    date = pd.to_datetime(own["date"], format="%Y%m%d", errors="coerce")
    value = pd.to_numeric(own["value"], errors="coerce")
    value = value.where(value == value.round())
    for words, cells in (("no date", own["date"][date.isna()]), ("no whole number", own["value"][value.isna()])):
        if len(cells):
            faults.append(f'{words} on {counted(len(cells), "line")} (first line {cells.index[0]}: "{cells.iloc[0]}")')
    raise_faults("station file", faults, WeatherError)
    found = {}
    for element, part in own.groupby("element", observed=True):
        flags = (_flags_of(part[name]) for name in ("measurement", "quality"))
        days = date[part.index].to_numpy().astype("datetime64[D]")
        found[str(element)] = _Values(days, value[part.index].to_numpy().astype(int), *flags)
    return str(stations[0]), found


def _flags_of(cells: pd.Series) -> np.ndarray:
    """Return the flags of a column of categories, empty where there is none."""
    words = np.array([*(str(word).strip() for word in cells.cat.categories), ""], dtype="U1")
    return words[cells.cat.codes.to_numpy()]  # code -1, no cell, takes the last


def _from_wide(text: str) -> tuple[str, dict[str, _Values], dict[str, float]]:
    rows = list(csv.DictReader(io.StringIO(text), skipinitialspace=True))
    if not rows:
        raise WeatherError("the file has a header and no lines of values")
    faults = []
    stations = list(dict.fromkeys(row["STATION"] for row in rows))
    if len(stations) > 1:
        faults.append(f"{len(stations)} stations in one file ({', '.join(stations[:3])}); give the file of one station")
    place = {}
    for name, key in (("lat", "LATITUDE"), ("lon", "LONGITUDE"), ("elevation", "ELEVATION")):
        if (rows[0].get(key) or "").strip():
            place[name] = float(rows[0][key])
    stamps = pd.to_datetime(pd.Series([row["DATE"] for row in rows]), format="%Y-%m-%d", errors="coerce")
    if stamps.isna().any():
        first = int(stamps.isna().to_numpy().argmax())
        faults.append(
            f'no date on {counted(int(stamps.isna().sum()), "line")} (first line {first + 2}: "{rows[first]["DATE"]}")'
        )
    values = {}
    for element in _READ:
        if element in rows[0]:
            cells = pd.Series([(row[element] or "").strip() for row in rows])
            whole = cells.str.fullmatch(r"-?\d+")
            odd = cells[~whole & (cells != "")]
            if len(odd):
                faults.append(
                    f'{element}: no whole number on {counted(len(odd), "line")} (first line {odd.index[0] + 2}: "{odd.iloc[0]}"); this is not '
                    'the form in tenths: say what the columns are, columns={"time": "DATE", "rain": "PRCP"}, units={"rain": "in"}'
                )
            values[element] = pd.to_numeric(cells.where(whole), errors="coerce").fillna(_MISSING).to_numpy().astype(int)
    raise_faults("station file", faults, WeatherError)
    found = {}
    for element, numbers in values.items():
        flags = [f"{row.get(f'{element}_ATTRIBUTES') or ''},,".split(",") for row in rows]
        measurement, quality = (np.array([flag[k].strip() for flag in flags], dtype="U1") for k in (0, 1))
        found[element] = _Values(stamps.to_numpy().astype("datetime64[D]"), numbers, measurement, quality)
    return stations[0], found, place


def _twice(elements: dict[str, _Values]) -> list[str]:
    faults = []
    for element, values in elements.items():
        unique, count = np.unique(values.date, return_counts=True)
        if (count > 1).any():
            faults.append(
                f"{element} is given twice for {counted(int((count > 1).sum()), 'day')}, first {unique[count > 1][0]}; keep one of them"
            )
    return faults


def _dataset(elements: dict[str, _Values], place: dict[str, float]) -> xr.Dataset:
    rain = elements["PRCP"]
    known = rain.date[rain.held]
    time = np.arange(known.min(), known.max() + 1)
    variables = {}
    for element, quantity in _ELEMENTS.items():
        if element in elements:
            values = elements[element]
            within = values.good & (values.date >= time[0]) & (values.date <= time[-1])
            series = np.full(time.size, np.nan)
            # dividing by ten gives the nearest decimal; multiplying by 0.1 does not
            series[(values.date[within] - time[0]).astype(int)] = values.value[within] / _PER_UNIT
            variables[quantity] = ("time", series)
    data = xr.Dataset(variables, coords={"time": time.astype("datetime64[ns]"), **place})
    if "wind_speed" in data:
        data["wind_speed"].attrs["height_m"] = WIND_HEIGHT_M
    gathered, overruled = _set_gathered_missing(elements, data["rain"].to_numpy(), time)
    flags = np.full(time.size, "", dtype="U1")
    flags[(rain.date[rain.good] - time[0]).astype(int)] = rain.measurement[rain.good]
    data["rain_flag"] = ("time", np.where(np.isnan(data["rain"]), "", flags))
    data["rain_flag"].attrs = {"long_name": "measurement flag of rain: T trace, P missing presumed zero"}
    data.attrs.update(
        dropped_for_quality=sum(
            int((values.held & ~values.good).sum()) for name, values in elements.items() if name in _ELEMENTS
        ),
        rain_dropped_for_quality=int((rain.held & ~rain.good).sum()),
        gathered=gathered,
        gathered_overruled=overruled,
        time_label="day of observation",
        time_zone="local time of the station",
        day_start="by the station's time of observation, usually morning or midnight",
    )
    return label(data)


def _set_gathered_missing(elements: dict[str, _Values], rain: np.ndarray, time: np.ndarray) -> tuple[str, int]:
    """Set the days under an amount gathered over several days missing, in place: they are not known to be dry.

    Returns the amounts as ``last day, days, mm`` joined by semicolons, and how many days had held a value.
    """
    if "MDPR" not in elements:
        return "", 0
    amounts, spans = elements["MDPR"], elements.get("DAPR")
    days = dict(zip(spans.date[spans.good], spans.value[spans.good], strict=True)) if spans else {}
    entries, overruled = [], 0
    for date, value in zip(amounts.date[amounts.good], amounts.value[amounts.good], strict=True):
        count = days.get(date)
        under = (time <= date) & (time > date - int(count or 1))
        overruled += int(np.isfinite(rain[under]).sum())
        rain[under] = np.nan
        entries.append(f"{date} {count if count else 'unknown'} {value / _PER_UNIT:.1f}")
    return "; ".join(entries), overruled
