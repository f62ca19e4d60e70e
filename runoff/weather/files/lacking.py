"""Why no way of reading a table was found: it is monthly, it has no rain, or no column of dates.

Nothing here is used to read a file; it only serves to say what is lacking.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from pathlib import Path

import numpy as np

from runoff.errors import RunoffError, WeatherError, shown
from runoff.file_bytes import read_bytes, unpacked
from runoff.weather.files.column_guesses import guess_columns
from runoff.weather.files.reading import is_netcdf, text_of
from runoff.weather.files.stamp_guesses import guess_stamps
from runoff.weather.files.table_shape import TableShape, find_shape

_LEAST_MONTHS = 6  # lines that follow each other month by month
_FOLLOWING = 0.9  # of the lines: months may be absent
_YEAR_AND_MONTH = re.compile(r"(1[789]\d{2}|20\d{2}|21\d{2})[-/.]?(0?[1-9]|1[0-2])")
_MONTH_NAMES = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_LONG_STEP_DAYS = 27.0
_TOO_LONG = (
    "A water balance needs daily values or shorter steps: monthly rain cannot fill and drain a roof. Ask whoever keeps the "
    "record for its daily file."
)


def what_is_lacking(path: str | Path) -> str:
    """Say why no way of reading a table was found.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    str
        A sentence or two; empty for what is no table, of which the reader has said all there is to say.
    """
    shape = _shape_of(path)
    if shape is None:
        return ""
    monthly = _monthly(shape)
    if monthly:
        return f"This is a monthly record: {monthly}. {_TOO_LONG}"
    stamps = guess_stamps(shape)
    if stamps is None:
        return (
            ""
            if len(shape.rows) < _LEAST_MONTHS
            else "No column looks like a date, and no head gives a first time and a step."
        )
    columns = guess_columns(shape, set(stamps.places), stamps.per_day)
    if any(column.quantity == "rain" for column in columns):
        return (
            "Something in it may be rain, but no way of reading it so works: name the columns and the layout yourself, and see that "
            "it is rain."
        )
    others = ", ".join(f"{column.quantity} ({_called(shape, column.at)})" for column in columns)
    known = f"; what could be recognised: {others}" if others else ""
    return f"It has dates, but no column looks like rain{known}. A water balance needs rain: take a file that holds it."


def unread_columns(path: str | Path, known: Collection[str]) -> dict[str, str]:
    """Return columns of a table that was read which look like quantities it was not read for.

    Parameters
    ----------
    path
        The file.
    known
        Quantities that were read.

    Returns
    -------
    dict of str to str
        Quantity -> name of the column; empty for files of other kinds and for tables without names.
    """
    shape = _shape_of(path)
    stamps = guess_stamps(shape) if shape else None
    if shape is None or stamps is None or not shape.names:
        return {}
    columns = guess_columns(shape, set(stamps.places), stamps.per_day)
    return {one.quantity: shape.names[one.at] for one in columns if one.quantity not in known}


def _shape_of(path: str | Path) -> TableShape | None:
    """Return how the table in a file is laid out; None where there is none, or the file cannot be read as text."""
    try:
        raw = read_bytes(Path(path), "weather file", WeatherError, stays_on_disk=is_netcdf)
        if raw is None or is_netcdf(raw):
            return None
        return find_shape(text_of(unpacked(raw, "weather file", WeatherError)))
    except RunoffError:
        return None


def _called(shape: TableShape, at: int) -> str:
    return f'"{shown(shape.names[at])}"' if shape.names else f"column {at}, from 0"


def _monthly(shape: TableShape) -> str:
    """Return in words how the table shows that its lines are months; nothing where it does not."""
    if shape.names and len([name for name in shape.names if name.strip().lower()[:3] in _MONTH_NAMES]) >= len(
        _MONTH_NAMES
    ):
        return "one line a year, with a column for each month"
    for months in (*_one_column(shape), *_two_columns(shape)):
        if len(months) >= _LEAST_MONTHS and float((np.diff(months) == 1).mean()) >= _FOLLOWING:
            return f"one line a month, the first {months[0] // 12}-{months[0] % 12 + 1:02d}"
    stamps = guess_stamps(shape)
    if stamps is not None and stamps.per_day < 1.0 / _LONG_STEP_DAYS:
        return f"its lines are {1.0 / stamps.per_day:.0f} days apart"
    return ""


def _one_column(shape: TableShape) -> list[np.ndarray]:
    """Return the months, counted from the year 0, of each column that holds year and month in one."""
    found = []
    for at in range(len(shape.rows[0])):
        parts = [_YEAR_AND_MONTH.fullmatch(row[at]) for row in shape.rows]
        if all(parts):
            found.append(np.array([int(one[1]) * 12 + int(one[2]) - 1 for one in parts if one]))
    return found


def _two_columns(shape: TableShape) -> list[np.ndarray]:
    """The same of each pair of neighbouring columns that hold a year and a month."""
    found = []
    for at in range(len(shape.rows[0]) - 1):
        if all(
            row[at].isdecimal() and row[at + 1].isdecimal() and len(row[at]) <= 4 and len(row[at + 1]) <= 2
            for row in shape.rows
        ):
            years, months = (np.array([int(row[k]) for row in shape.rows]) for k in (at, at + 1))
            if (years >= 1700).all() and (years < 2200).all() and (months >= 1).all() and (months <= 12).all():
                found.append(years * 12 + months - 1)
    return found
