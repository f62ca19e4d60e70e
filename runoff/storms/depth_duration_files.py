"""Depth-duration tables and annual maxima read from files.

Three layouts are recognised by their text, not by their name:

- the comma-separated text of NOAA Atlas 14: header lines, then a line ``by duration for ARI (years):`` with the return
  periods, then one row per duration (``5-min:, 0.279, ...``);
- the engineering-climate text file of Environment and Climate Change Canada: Latin-1, tables 1 (annual maxima), 2a
  (amounts) and 2b (rates with 95 % limits), -99.9 for missing;
- a plain CSV: first column the duration, header ``duration`` and the return periods in years.
"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import numpy as np

from runoff.errors import MissingFileError, StormError, shown
from runoff.file_bytes import decoded, read_bytes, shown_name, unpacked
from runoff.given_kinds import refuse_other_kinds
from runoff.sample_files import sample_folder
from runoff.storms._durations import minutes_of
from runoff.storms.depth_duration import DepthDurationTable

if TYPE_CHECKING:
    import xarray as xr

_CANADA_MISSING = -99.9
_CANADA_MARK = "Short Duration Rainfall Intensity-Duration-Frequency Data"
_CANADA_DURATION = re.compile(r"\d+ (?:min|h)\b")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_ATLAS_HEADER = re.compile(r"by duration for (?P<kind>ARI|AEP)[^:]*:", re.IGNORECASE)
_LATITUDE = re.compile(r"latitude\s*[:=]\s*(-?\d+(?:\.\d+)?)", re.IGNORECASE)
_LATITUDE_MINUTES = re.compile(r"Latitude:\s*(?P<degrees>\d+)\s+(?P<minutes>\d+)'\s*(?P<side>[NS])")
_UNIT_WORDS = {
    ("inches", "depth"): "in",
    ("millimeters", "depth"): "mm",
    ("inches", "intensity"): "in/h",
    ("millimeters", "intensity"): "mm/h",
}


def open_sample_depth_duration() -> DepthDurationTable:
    """Return the depth-duration table of Ostrey, an invented town.

    Examples
    --------
    >>> open_sample_depth_duration().return_periods_years
    (2.0, 5.0, 10.0, 25.0, 50.0, 100.0)
    """
    name = "ostrey_depth_duration.csv"
    return read_depth_duration(sample_folder() / name, source=f"{name} (invented)")


def read_depth_duration(
    path: str | Path, *, units: str | None = None, series: str | None = None, source: str | None = None
) -> DepthDurationTable:
    """Read a depth-duration-frequency table from a station file or a plain CSV.

    Parameters
    ----------
    path
        A NOAA Atlas 14 text, a Canadian engineering-climate text, or a CSV whose header is ``duration`` and the
        return periods, for example ``duration,2,10,100``. Lines that start with ``#`` are comments; ``# latitude: 45.5``
        says where the table holds.
    units
        ``"mm"``, ``"in"``, ``"mm/h"`` or ``"in/h"``. Needed for a CSV that does not say (a comment such as
        ``# units: mm`` says it); station files say it themselves.
    series
        ``"annual-maximum"`` or ``"partial-duration"``, when the file does not say. Default for a CSV: annual maximum.
    source
        Words for reports; default is the file name, with the station where the file names it.

    Returns
    -------
    DepthDurationTable
        Depths (mm) by duration (min) and return period (years).

    Raises
    ------
    StormError
        When the layout is not known or the table has faults, all of them in one message.
    """
    refuse_other_kinds("read_depth_duration", path=path)
    path = Path(path)
    text = _text_of(path)
    if _CANADA_MARK in text:
        return _canadian_table(text, source or f"{path.name} ({_canadian_station(text)})")
    if _ATLAS_HEADER.search(text):
        return _atlas_table(text, units, series, source or path.name)
    return _plain_table(text, units, series, source or path.name)


def read_annual_maxima(path: str | Path) -> xr.DataArray:
    """Read table 1 of a Canadian engineering-climate file: the largest depth of each year and duration.

    Parameters
    ----------
    path
        The text file of one station.

    Returns
    -------
    xarray.DataArray
        ``annual_maximum`` in mm on ``year`` and ``duration`` (minutes); NaN where the file has -99.9.

    Raises
    ------
    StormError
        When the file is of another kind.
    """
    import xarray as xr

    refuse_other_kinds("read_annual_maxima", path=path)
    path = Path(path)
    text = _text_of(path)
    if _CANADA_MARK not in text:
        raise StormError(
            f"{path.name}: no table of annual maxima found; this reader knows the Canadian engineering-climate text"
        )
    table = _section(text, "Table 1 ", "# Yrs.")
    minutes = _canadian_durations(table)
    rows = [[float(number) for number in _NUMBER.findall(line)] for line in table if re.match(r"\s+\d{4}\s", line)]
    bad = [str(int(row[0])) for row in rows if len(row) != len(minutes) + 1]
    if bad:
        raise StormError(
            f"{path.name}: table 1 has the wrong number of values in {', '.join(bad)}; expected {len(minutes)}"
        )
    values = np.array(rows)
    depths = np.where(values[:, 1:] == _CANADA_MISSING, np.nan, values[:, 1:])
    return xr.DataArray(
        depths,
        dims=("year", "duration"),
        coords={
            "year": values[:, 0].astype(int),
            "duration": ("duration", minutes, {"units": "min", "long_name": "duration"}),
        },
        name="annual_maximum",
        attrs={
            "units": "mm",
            "long_name": "largest depth of the year",
            "series": "annual-maximum",
            "source": f"{path.name} ({_canadian_station(text)})",
        },
    )


def _latitude(head: str) -> float | None:
    """Return the latitude, degrees north, that the head of a file names, or None."""
    minutes = _LATITUDE_MINUTES.search(head)
    if minutes:
        degrees = float(minutes["degrees"]) + float(minutes["minutes"]) / 60.0
        return -degrees if minutes["side"] == "S" else degrees
    decimal = _LATITUDE.search(head)
    return float(decimal[1]) if decimal else None


def _as_rows(values: np.ndarray) -> tuple[tuple[float, ...], ...]:
    return tuple(map(tuple, values.tolist()))


def _text_of(path: Path) -> str:
    try:
        raw = read_bytes(path, "depth-duration file", StormError)
        return decoded(unpacked(raw or b"", "depth-duration file", StormError), StormError)
    except MissingFileError:
        raise StormError(f"{path}: there is no such file") from None
    except StormError as error:
        raise StormError(f"{shown_name(path)}: {error}") from None


# --- Canadian engineering-climate text


def _section(text: str, title: str, end: str) -> list[str]:
    """Return the lines from the one that starts with `title` to the one that holds `end`."""
    lines = text.split("\n")
    starts = [number for number, line in enumerate(lines) if line.startswith(title)]
    if not starts:
        raise StormError(
            f'engineering-climate file: "{title.strip()}" not found; the file is cut short or of another kind'
        )
    body = lines[starts[0] :]
    for number, line in enumerate(body):
        if number and end in line:
            return body[:number]
    return body


def _canadian_station(text: str) -> str:
    for line in text.split("\n")[10:20]:
        if line.strip() and not line.startswith("="):
            return " ".join(line.split())
    return "station not named"


def _canadian_durations(table: list[str]) -> list[float]:
    header = next(line for line in table if len(_CANADA_DURATION.findall(line)) > 1)
    return [minutes_of(words, "duration", "table 1") for words in _CANADA_DURATION.findall(header)]


def _canadian_rows(table: list[str]) -> tuple[list[float], dict[str, list[float]], list[list[float]]]:
    """Return return periods, duration -> values, and the +/- rows of table 2a or 2b."""
    header = next(line for line in table if line.lstrip().startswith("Duration/"))
    years = [float(number) for number in _NUMBER.findall(header)]
    values: dict[str, list[float]] = {}
    half_widths = []
    for line in table:
        numbers = [float(number) for number in _NUMBER.findall(line.replace("+/-", " "))]
        duration = _CANADA_DURATION.match(line.strip())
        if duration:
            values[duration.group()] = numbers[1 : len(years) + 1]
        elif "+/-" in line:
            half_widths.append(numbers[: len(years)])
    return years, values, half_widths


def _canadian_table(text: str, source: str) -> DepthDurationTable:
    years, amounts, _ = _canadian_rows(_section(text, "Table 2a", "Table 2b"))
    _, rates, limits = _canadian_rows(_section(text, "Table 2b", "Table 3"))
    notes = ["Gumbel by the method of moments, printed by the source with 95 % limits"]
    depths, half_widths = {}, []
    for (words, row), limit in zip(amounts.items(), limits, strict=True):
        if all(value == _CANADA_MISSING for value in row):
            notes.append(f"{words}: no amounts in the file (-99.9), row left out")
            continue
        hours = minutes_of(words, "duration", source) / 60.0
        _check_rates(words, hours, row, rates.get(words, []), source)
        depths[words] = [math.nan if value == _CANADA_MISSING else value for value in row]
        half_widths.append(tuple(value * hours for value in limit))
    table = DepthDurationTable.from_rows(
        depths,
        return_periods_years=years,
        units="mm",
        source=source,
        latitude_deg=_latitude(text.partition(_CANADA_MARK)[2]),
        notes=notes,
    )
    middle, half = np.array(table.depths_mm), np.array(half_widths)
    return replace(table, low_mm=_as_rows(np.maximum(middle - half, 0.0)), high_mm=_as_rows(middle + half))


def _check_rates(words: str, hours: float, amounts: list[float], rates: list[float], source: str) -> None:
    """Refuse a file whose amounts (2a) and rates (2b) tell different stories; both are rounded to 0.1."""
    slack = 0.05 * hours + 0.05 + 1e-9
    for amount, rate in zip(amounts, rates, strict=True):
        if _CANADA_MISSING not in (amount, rate) and abs(rate * hours - amount) > slack:
            raise StormError(
                f"{source}: {words}: table 2a has {amount:g} mm, table 2b {rate:g} mm/h, which makes "
                f"{rate * hours:.4g} mm; the two must agree, so the file is damaged"
            )


# --- NOAA Atlas 14 text


def _atlas_table(text: str, units: str | None, series: str | None, source: str) -> DepthDurationTable:
    lines = [line.strip() for line in text.split("\n")]
    start = next(number for number, line in enumerate(lines) if _ATLAS_HEADER.search(line))
    head = " ".join(lines[:start]).lower()
    heading = _ATLAS_HEADER.search(lines[start])
    is_annual = heading is not None and heading["kind"].upper() == "AEP"
    fractions = [cell.strip() for cell in lines[start].split(":", 1)[1].split(",") if cell.strip()]
    years = [float(cell.rpartition("/")[2]) for cell in fractions]
    rows: dict[str, list[float]] = {}
    after = ""
    for line in lines[start + 1 :]:
        label, _, values = line.partition(":")
        if _ATLAS_HEADER.search(line):
            break
        if not re.fullmatch(r"\d+-(min|hr|day)", label.strip()):
            after = after or line  # blank lines between rows end nothing; words do
        elif after or label.strip() in rows:
            where = f'stands after "{after[:60]}"' if after else "is given twice"
            raise StormError(f"{source}: row {label.strip()} {where}; one table without other text in it is needed")
        else:
            rows[label.strip()] = [_cell(cell) for cell in values.split(",") if cell.strip()]
    if units is None:
        kind = "intensity" if "intensity" in head else "depth"
        found = [unit for (word, meant), unit in _UNIT_WORDS.items() if word in head and meant == kind]
        units = found[0] if len(found) == 1 else _refuse_unitless(source)
    if series is None:
        series = "annual-maximum" if is_annual or "annual maximum" in head else "partial-duration"
    return DepthDurationTable.from_rows(
        rows,
        return_periods_years=years,
        units=units,
        series=series,
        source=source,
        latitude_deg=_latitude("\n".join(lines[:start])),
    )


# --- plain CSV


def _plain_table(text: str, units: str | None, series: str | None, source: str) -> DepthDurationTable:
    comments = " ".join(line for line in text.split("\n") if line.startswith("#"))
    lines = [line for line in text.split("\n") if line.strip() and not line.startswith("#")]
    try:
        rows = list(csv.reader(lines))
    except csv.Error as error:
        raise StormError(f"{source}: its lines cannot be split into cells ({error})") from None
    if not rows or not rows[0][0].strip().lower().startswith("duration"):
        first = shown(rows[0][0].strip()) if rows else "nothing"
        raise StormError(
            f'{source}: the header starts with "{first}"; a depth-duration file starts with "duration" and the return '
            "periods in years, for example: duration,2,10,100; what is said about the table stands in lines that start with #"
        )
    years = [_return_period(cell, source) for cell in rows[0][1:]]
    if not years:
        raise StormError(f"{source}: the header names no return periods; write for example: duration,2,10,100")
    said = re.search(r"units?\s*[:=]\s*(\S+)", comments)
    units = units or (said.group(1).rstrip(",;") if said else None) or _refuse_unitless(source)
    said = re.search(r"annual[- ]maxim|partial[- ]duration", comments, re.IGNORECASE)
    series = series or ("partial-duration" if said and said.group().lower().startswith("partial") else "annual-maximum")
    named = re.fullmatch(r"duration[ _]\(?(min|h)\)?", rows[0][0].strip().lower())
    suffix = f" {named.group(1)}" if named else ""
    if len(rows) < 2:
        raise StormError(f"{source}: there is a header and no row below it; each row is a duration and its depths")
    table = {f"{row[0].strip()}{suffix}": [_cell(cell) for cell in row[1:]] for row in rows[1:]}
    if len(table) < len(rows) - 1:
        repeated = sorted({row[0] for row in rows[1:] if [other[0] for other in rows].count(row[0]) > 1})
        raise StormError(
            f"{source}: duration {', '.join(map(shown, repeated))} is given twice; keep one row per duration"
        )
    return DepthDurationTable.from_rows(
        table,
        return_periods_years=years,
        units=units,
        series=series,
        source=source,
        latitude_deg=_latitude("\n".join(line for line in text.split("\n") if line.startswith("#"))),
    )


def _return_period(cell: str, source: str) -> float:
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:-?\s*(?:yrs?|years?|a))?", cell.strip())
    if not match:
        raise StormError(
            f'{source}: header cell "{shown(cell.strip())}" is not a return period in years; '
            "write for example: duration,2,10,100"
        )
    return float(match.group(1))


def _cell(text: str) -> float:
    """Return a number; anything else is a missing value, which the table then refuses by name."""
    try:
        return float(text)
    except ValueError:
        return math.nan


def _refuse_unitless(source: str) -> NoReturn:
    raise StormError(
        f'{source}: the file does not say its units; give units="mm" or "in" (or "mm/h", "in/h" for intensities)'
    )
