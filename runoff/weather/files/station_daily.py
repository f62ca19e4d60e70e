"""Daily station files of the global historical network: fixed width ``.dly`` and by-station CSV, with their flags.

Layout (readme of GHCN-Daily, NOAA): a ``.dly`` line holds one element of one month, 31 groups of value, measurement
flag, quality flag and source flag. CSV comes as one value per line or as one line per day. Rain and temperature are in
tenths. A value counts when it is not -9999 and its quality flag is blank; a trace (measurement flag T) counts as 0, a
"missing presumed zero" (P) is kept as 0, and both are counted. An amount gathered over several days (MDPR, with its
number of days in DAPR) leaves its days missing: two days merged are not a dry and a wet one.
"""

from __future__ import annotations

import collections
import csv
import io
import re
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError, raise_faults, shown
from runoff.quantities import label
from runoff.weather.files.several_sites import several_words
from runoff.weather.files.stamps import FIRST_YEAR, LAST_YEAR
from runoff.weather.record.time_axis import counted

# element -> quantity; all are whole numbers of tenths (mm, degC, m/s)
_ELEMENTS = {"PRCP": "rain", "TMAX": "tmax", "TMIN": "tmin", "AWND": "wind_speed"}
_PER_UNIT = 10
_GATHERED = ("MDPR", "DAPR")
_READ = (*_ELEMENTS, *_GATHERED)
_MISSING = -9999
_WHOLE = r"-?[0-9]{1,6}"
_WIDE = {"STATION", "DATE", "LATITUDE", "LONGITUDE", "ELEVATION", *_READ}
_MOVED_DEG = 0.2
_MOST_GATHERED = 31  # days under one amount
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
    if looks_like_dly(text.lstrip()):
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
    data.attrs["title"] = f"station {shown(station)}"
    return data


def _from_dly(text: str) -> tuple[str, dict[str, _Values]]:
    numbered = [(n, line) for n, line in enumerate(text.split("\n"), 1) if line.strip()]
    own = [(n, line) for n, line in numbered if line[17:21] in _READ]
    faults = []
    short = [n for n, line in numbered if len(line) < (_LINE - _FLAGS if line[17:21] in _READ else 21)]
    if short:
        faults.append(
            f"{counted(len(short), 'line')} cut short (first line {short[0]}: {len(text.split(chr(10))[short[0] - 1])} of {_LINE} characters); "
            "the file did not arrive whole, fetch it again"
        )
    stations = list(dict.fromkeys(line[:11] for _, line in numbered))
    if len(stations) > 1:
        faults.append(several_words(stations, "stations"))
    long = [n for n, line in own if len(line.rstrip()) > _LINE]
    if long:
        faults.append(
            f"{counted(len(long), 'line')} longer than {_LINE} characters (first line {long[0]}); values may have shifted, fetch it again"
        )
    undated = [n for n, line in own if not re.fullmatch(r"[0-9]{4}(0[1-9]|1[0-2])", line[11:17])]
    if undated:
        faults.append(
            f"{counted(len(undated), 'line')} without year and month in columns 12-17 (first line {undated[0]})"
        )
    else:
        faults += _odd_years([(n, int(line[11:15])) for n, line in own])
    raise_faults("station file", faults, WeatherError)
    found = {}
    for element in _READ:
        lines = [(n, line) for n, line in own if line[17:21] == element]
        if lines:
            found[element] = _months(element, lines, faults)
    raise_faults("station file", faults, WeatherError)
    return stations[0], found


def _odd_years(years: list[tuple[int, int]]) -> list[str]:
    """Refuse years in which nobody measured: they are slips, and would not fit the dates of the package."""
    odd = [(n, year) for n, year in years if not FIRST_YEAR <= year <= LAST_YEAR]
    if not odd:
        return []
    return [
        f"years outside {FIRST_YEAR} to {LAST_YEAR} on {counted(len(odd), 'line')} (first line {odd[0][0]}: {odd[0][1]}); a mistyped year?"
    ]


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
            f'"{shown(lines[row][1][21 + 8 * day : 26 + 8 * day])}")'
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
    blank = characters == ord(" ")
    # a number is blanks, perhaps a minus, then digits to the end: what follows a minus or a digit is a digit
    broken = ((digit | minus)[..., :-1] & ~digit[..., 1:]).any(axis=-1)
    odd = ~(digit | minus | blank).all(axis=-1) | broken | ~digit[..., -1]
    return np.where(minus.any(axis=-1), -value, value), odd


def _from_long(text: str) -> tuple[str, dict[str, _Values]]:
    lines = text.rstrip("\n").split("\n")
    header = _is_long_header(lines[0].replace('"', "").split(","))
    names = ["station", "date", "element", "value", "measurement", "quality"]
    few = dict.fromkeys(("station", "element", "measurement", "quality"), "category")  # few words on very many lines
    faults = _uneven(lines)
    raise_faults("station file", faults, WeatherError)
    try:
        table = pd.read_csv(
            io.StringIO(text), header=None, skiprows=1 if header else 0, names=names, usecols=range(6),
            dtype={**few, "date": "str", "value": "str"}, keep_default_na=False, skipinitialspace=True, skip_blank_lines=False,
        )  # fmt: skip
    except (pd.errors.ParserError, ValueError) as error:
        raise WeatherError(f"station file: its lines cannot be split into cells ({shown(error)})") from None
    table.index += 2 if header else 1
    blank = table["station"].isna() | (table["station"] == "")
    nameless = table[blank & (table["element"].notna() & (table["element"] != ""))]
    if len(nameless):
        faults.append(f"no station on {counted(len(nameless), 'line')} (first line {nameless.index[0]})")
    table = table[~blank]
    stations = table["station"].unique().tolist()
    if not stations:
        raise WeatherError("the file has no lines of values")
    if len(stations) > 1:
        faults.append(several_words(stations, "stations"))
    own = table[table["element"].isin(_READ)]
    date, wrong = _dates(own["date"], r"[0-9]{8}", "%Y%m%d")
    faults += wrong + _odd_cells(own["value"], _WHOLE, "no whole number")
    raise_faults("station file", faults, WeatherError)
    value = own["value"].astype(int)
    found = {}
    for element, part in own.groupby("element", observed=True):
        flags = (_flags_of(part[name]) for name in ("measurement", "quality"))
        days = date[part.index].to_numpy().astype("datetime64[D]")
        found[str(element)] = _Values(days, value[part.index].to_numpy(), *flags)
    return str(stations[0]), found


def _uneven(lines: list[str]) -> list[str]:
    """Refuse lines with more or fewer cells than the first: their flags would shift or be lost."""
    if not any('"' in line for line in lines):
        split = [(n, line.count(",") + 1) for n, line in enumerate(lines, 1) if line and not line.isspace()]
    else:
        split = [(n, len(cells)) for n, cells in enumerate(_rows(lines), 1) if cells]
    expected = split[0][1]
    odd = [(n, count) for n, count in split if count != expected]
    if not odd:
        return []
    n, count = odd[0]
    return [
        f"{expected} cells are expected on each line, {counted(len(odd), 'line')} {'has' if len(odd) == 1 else 'have'} more or fewer "
        f'(first line {n}: {count}, "{shown(lines[n - 1])}"); a line cut short, or quotation marks lost?'
    ]


def _rows(lines: list[str]) -> Iterator[list[str]]:
    """Give the cells of each line; a quotation mark that is never closed is refused where it stands."""
    for n, line in enumerate(lines, 1):
        if '"' not in line:
            yield line.split(",") if line.strip() else []
        elif line.count('"') % 2:
            raise WeatherError(f"station file: a quotation mark on line {n} is never closed")
        else:
            yield next(csv.reader([line], skipinitialspace=True))


def _dates(cells: pd.Series, form: str, pattern: str) -> tuple[pd.Series, list[str]]:
    """Return days from their text, and what is wrong with it."""
    codes, words = pd.factorize(cells.fillna(""))  # a day comes once for every element
    once = pd.Series(words, dtype=str)
    formed = once.str.fullmatch(form)
    years = once.str.slice(0, 4).where(formed, "2000").astype(int)
    within = years.between(FIRST_YEAR, LAST_YEAR)
    days = pd.to_datetime(once.where(formed & within), format=pattern, errors="coerce")
    odd = pd.Series(~within.to_numpy()[codes], index=cells.index)
    faults = _odd_years(list(zip(map(int, cells.index[odd]), cells[odd].str.slice(0, 4).astype(int), strict=True)))
    dates = pd.Series(days.to_numpy()[codes], index=cells.index)
    return dates, faults + _odd_cells(cells[dates.isna() & ~odd], "", "no date")


def _odd_cells(cells: pd.Series, form: str, words: str) -> list[str]:
    odd = cells
    if form:
        codes, texts = pd.factorize(cells.fillna(""))
        odd = cells[~pd.Series(texts, dtype=str).str.fullmatch(form).to_numpy(dtype=bool)[codes]]
    if not len(odd):
        return []
    return [f'{words} on {counted(len(odd), "line")} (first line {odd.index[0]}: "{shown(odd.iloc[0])}")']


def _flags_of(cells: pd.Series) -> np.ndarray:
    """Return the flags of a column of categories, empty where there is none."""
    words = np.array([*(str(word).strip() for word in cells.cat.categories), ""], dtype="U1")
    return words[cells.cat.codes.to_numpy()]  # code -1, no cell, takes the last


def _from_wide(text: str) -> tuple[str, dict[str, _Values], dict[str, float]]:
    lines = text.rstrip("\n").split("\n")
    numbered = [(n, [cell.strip() for cell in cells]) for n, cells in enumerate(_rows(lines), 1) if cells]
    header, rows = numbered[0][1], numbered[1:]
    if not rows:
        raise WeatherError("the file has a header and no lines of values")
    faults = _uneven(lines)
    twice = [
        name for name, count in collections.Counter(header).items() if count > 1 and name.partition("_")[0] in _WIDE
    ]
    if twice:
        faults.append(f"the header names {', '.join(map(shown, twice))} more than once; keep one of each")
    raise_faults("station file", faults, WeatherError)
    number = pd.Index([n for n, _ in rows])
    table = {name: pd.Series([cells[at] for _, cells in rows], index=number) for at, name in enumerate(header)}
    stations = table["STATION"].unique().tolist()
    if len(stations) > 1:
        faults.append(several_words(stations, "stations"))
    stamps, wrong = _dates(table["DATE"], r"[0-9]{4}-[0-9]{2}-[0-9]{2}", "%Y-%m-%d")
    faults += wrong
    place = _place_in(table, faults)
    found = {}
    for element in _READ:
        if element in table:
            found[element] = _wide_values(element, table, stamps, faults)
    raise_faults("station file", faults, WeatherError)
    return str(stations[0]), found, place


def _place_in(table: dict[str, pd.Series], faults: list[str]) -> dict[str, float]:
    """Return the place that the lines give; a station that moves far is two stations."""
    place = {}
    for name, key, most in (("lat", "LATITUDE", 90.0), ("lon", "LONGITUDE", 180.0), ("elevation", "ELEVATION", 9000.0)):
        given = table[key][table[key] != ""] if key in table else pd.Series(dtype=str)
        values = pd.to_numeric(given, errors="coerce")
        odd = given[values.isna() | (values.abs() > most)]
        if len(odd):
            faults += _odd_cells(odd, "", f"no {key.lower()}")
        elif len(values):
            place[name] = float(values.iloc[-1])
            if name != "elevation" and float(values.max() - values.min()) > _MOVED_DEG:
                faults.append(
                    f"{key} runs from {values.min():g} to {values.max():g}: the station moved far, or this is more than one; give the years or lines of one place"
                )
    return place


def _wide_values(element: str, table: dict[str, pd.Series], stamps: pd.Series, faults: list[str]) -> _Values:
    cells = table[element]
    there = cells != ""
    odd = cells[there & ~cells.str.fullmatch(_WHOLE)]
    if len(odd):
        faults.append(
            f'{element}: no whole number on {counted(len(odd), "line")} (first line {odd.index[0]}: "{shown(odd.iloc[0])}"); this is not '
            'the form in tenths: say what the columns are, columns={"time": "DATE", "rain": "PRCP"}, units={"rain": "in"}'
        )
        cells, there = cells.mask(cells.index.isin(odd.index), ""), there & ~cells.index.isin(odd.index)
    flags = table.get(f"{element}_ATTRIBUTES")
    marks = [["", ""]] * len(cells)
    if flags is not None:
        short = flags[(flags != "") & (flags.str.count(",") < 2)]
        if len(short):
            faults += _odd_cells(short, "", f"{element}_ATTRIBUTES: not the three flags of a value")
        marks = [(flag if flag else ",,").split(",") for flag in flags]
    measurement, quality = (
        np.array([mark[k].strip() if len(mark) > k else "" for mark in marks], dtype="U1") for k in (0, 1)
    )
    value = pd.to_numeric(cells.where(there, str(_MISSING))).to_numpy().astype(int)
    return _Values(stamps.to_numpy().astype("datetime64[D]"), value, measurement, quality)


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
        if element in elements and elements[element].held.any():  # a column of another station's may be empty
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

    Where nobody says how many days it was (no DAPR), the missing days right before it lie under it; where none is missing,
    the dry days before it do, back to the last amount, since at least one of them must. Returns the amounts as ``last day, days, mm`` joined by semicolons, and how many
    days had held a value.
    """
    if "MDPR" not in elements:
        return "", 0
    amounts, spans = elements["MDPR"], elements.get("DAPR")
    days = dict(zip(spans.date[spans.good], spans.value[spans.good], strict=True)) if spans else {}
    entries, overruled = [], 0
    for date, value in zip(amounts.date[amounts.good], amounts.value[amounts.good], strict=True):
        count = days.get(date, 0)
        if not 1 <= count <= _MOST_GATHERED:
            last = int((date - time[0]).astype(int))
            reach = rain[max(0, last - _MOST_GATHERED) : max(0, last)][::-1]
            apart = np.isfinite(reach) if reach.size and np.isnan(reach[0]) else reach > 0
            before = int(apart.argmax()) if apart.any() else reach.size
            under = (time <= date) & (time >= date - before)
        else:
            under = (time <= date) & (time > date - int(count))
        overruled += int(np.isfinite(rain[under]).sum())
        rain[under] = np.nan
        entries.append(f"{date} {count if 1 <= count <= _MOST_GATHERED else 'unknown'} {value / _PER_UNIT:.1f}")
    return "; ".join(entries), overruled
