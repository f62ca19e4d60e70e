"""Plain tables: any separator, a column map with units, hourly and 5-minute steps too.

Nothing is guessed in silence. Dates must be ISO (2024-04-03) or plain digits (20240403); a text that could be two dates
is refused. A missing code, a trace, a decimal comma must be declared. All faults of a file come in one message with the
first line each.
"""

from __future__ import annotations

import csv
import functools
import io
from collections.abc import Mapping

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError, WeatherError, nearest, raise_faults
from runoff.quantities import QUANTITIES, label
from runoff.weather.files.stamps import read_stamps, where
from runoff.weather.files.table_cells import measurable, numbers
from runoff.weather.files.table_layout import TableLayout
from runoff.weather.record.house_units import quantity_in_name, to_house, unit_in_name
from runoff.weather.record.time_axis import moved, regular, stamp_words, step_hours, step_of

_TIMES = ("time", "date", "datetime", "timestamp")


def read_table(
    text: str,
    *,
    columns: Mapping[str, str | int] | None = None,
    units: Mapping[str, str] | None = None,
    layout: TableLayout | None = None,
) -> xr.Dataset:
    """Read a plain table from its text.

    Parameters
    ----------
    text
        The file.
    columns
        Column of each quantity and of ``time``, for example ``{"time": "DATE", "rain": "RR"}``. Default: columns called
        like house quantities with their unit, ``rain_mm`` or ``rain (mm)``, and ``time`` or ``date``.
    units
        Unit of each quantity, for example ``{"rain": "0.1 mm"}``; by default as the column name says.
    layout
        Separator, missing codes, stamps and so on.

    Raises
    ------
    WeatherError
        Naming every fault with its first line.
    """
    layout = layout or TableLayout()
    table = cells_of(text, layout)
    wanted, given_units = _columns(table, columns, units or {}, timed=layout.first_time is None)
    faults: list[str] = []
    time, clock = _times(table, wanted, layout, faults)
    hours = step_hours(time) if time is not None else 24.0
    values: dict[str, np.ndarray] = {}
    traces = 0
    for quantity, column in wanted.items():
        if quantity == "time":
            continue
        series, count = numbers(
            table[column], quantity, layout, faults,
            could_be=functools.partial(measurable, quantity=quantity, unit=given_units[quantity]),
            may_be_negative=QUANTITIES[quantity].low < 0.0,
        )  # fmt: skip
        traces += count if quantity == "rain" else 0
        try:
            values[quantity] = np.asarray(to_house(series, quantity, given_units[quantity], hours))
        except RunoffError as error:
            faults.append(f"{quantity}: {error}")
    _refuse_crossed(values, table, faults)
    raise_faults("table", faults, WeatherError)
    data = xr.Dataset({name: ("time", series) for name, series in values.items()}, coords={"time": ("time", time)})
    data = regular(_starts(data, layout))
    _refuse_lost_leap_days(data, table, layout)
    data.attrs.update(time_label=_label_words(layout), traces=traces)
    data.attrs.update({name: words for name, words in (("time_zone", clock), ("day_start", layout.day_start)) if words})
    if "wind_speed" in data and layout.wind_height_m is not None:
        data["wind_speed"].attrs["height_m"] = float(layout.wind_height_m)
    return label(data)


def _label_words(layout: TableLayout) -> str:
    if layout.first_time is not None:
        return f"start of the interval, counted from {layout.first_time} in steps of {layout.step}"
    return "start of the interval" if layout.stamp == "start" else "end of the interval, converted to start"


def cells_of(text: str, layout: TableLayout) -> pd.DataFrame:
    """Return the cells of a plain table as text; the index holds the number of each line in the file.

    Raises
    ------
    WeatherError
        When there are no lines of values, or lines have more or fewer cells than the first.
    """
    kept = [(n, line) for n, line in enumerate(text.splitlines(), 1) if n > layout.skip_lines and line.strip()]
    mark = layout.comment
    if mark and layout.header and layout.skip_lines and kept and kept[0][1].lstrip().startswith(mark):
        kept[0] = (kept[0][0], kept[0][1].lstrip()[len(mark) :])  # a header written as a comment
    if mark:
        kept = [(n, line) for n, line in kept if not line.lstrip().startswith(mark)]
    if len(kept) < (2 if layout.header else 1):
        raise WeatherError("table: no lines of values; the file is empty or all of it was passed over")
    separator = layout.separator or next((one for one in (";", "\t", ",") if one in kept[0][1]), ",")
    rows = kept[1:] if layout.header else kept
    width = len(next(csv.reader([kept[0][1]], delimiter=separator)))
    if any('"' in line for _, line in rows):
        counts = np.array([len(cells) for cells in csv.reader((line for _, line in rows), delimiter=separator)])
    else:
        counts = np.array([line.count(separator) + 1 for _, line in rows])
    uneven = [(rows[i], counts[i]) for i in np.flatnonzero(counts != width)]
    if uneven:
        (number, line), cells = uneven[0]
        count = f"{len(uneven)} lines have more or fewer (first " if len(uneven) > 1 else "1 line has more or fewer ("
        raise WeatherError(
            f'table: {width} cells are expected on each line, {count}line {number}: {cells}, "{line.strip()[:60]}"); a decimal '
            "comma beside a comma as separator, or a line cut short?"
        )
    names = _names(kept[0][1], separator) if layout.header else None
    table = pd.read_csv(
        io.StringIO("\n".join(line for _, line in rows)), sep=separator, header=None, names=names, dtype=str,
        keep_default_na=False, skipinitialspace=True, index_col=False,
    )  # fmt: skip
    table.index = pd.Index([n for n, _ in rows])
    return table


def _names(line: str, separator: str) -> list[str]:
    names = [cell.strip() for cell in next(csv.reader([line], delimiter=separator, skipinitialspace=True))]
    return [name if names.count(name) == 1 or names.index(name) == i else f"{name}.{i}" for i, name in enumerate(names)]


def _columns(
    table: pd.DataFrame, columns: Mapping[str, str | int] | None, units: Mapping[str, str], *, timed: bool
) -> tuple[dict[str, str | int], dict[str, str]]:
    """Return the column and the unit of each quantity."""
    names = list(table.columns)
    listed = ", ".join(f'"{name}"' if not str(name).strip() else str(name) for name in names)
    found: dict[str, str | int] = {}
    said: dict[str, str] = {}
    faults = [
        f'units: "{name}" is not a quantity{nearest(name, QUANTITIES)}' for name in units if name not in QUANTITIES
    ]
    for quantity, column in (columns or {}).items():
        if quantity != "time" and quantity not in QUANTITIES:
            faults.append(f'columns: "{quantity}" is not a quantity{nearest(quantity, QUANTITIES)}')
        elif column not in names:
            faults.append(f'there is no column "{column}"{nearest(str(column), map(str, names))}; columns are {listed}')
        else:
            found[quantity] = column
            said[quantity] = unit_in_name(str(column), quantity) if quantity != "time" else ""
    raise_faults("table", faults, WeatherError)
    for name in names:
        if str(name).strip().lower() in _TIMES and "time" not in found:
            found["time"] = name
        elif columns is None and (known := quantity_in_name(str(name))) and known[0] not in found:
            found[known[0]], said[known[0]] = name, known[1]
    lacking = [] if columns or "rain" in found else ["rain"]
    lacking = (["time"] if timed and "time" not in found else []) + lacking
    if lacking:
        raise WeatherError(
            f"table: no column is known as {' and '.join(lacking)}; columns are {listed}. Say which, for example "
            'columns={"time": "DATE", "rain": "RR"}, units={"rain": "mm"}'
        )
    return found, {**said, **units}


def _times(
    table: pd.DataFrame, wanted: Mapping[str, str | int], layout: TableLayout, faults: list[str]
) -> tuple[pd.Index | None, str]:
    if layout.first_time is not None:
        try:
            return pd.date_range(layout.first_time, periods=len(table), freq=layout.step), layout.time_zone or ""
        except ValueError as error:
            raise WeatherError(f"layout: first_time and step cannot be followed ({error})") from None
    text = table[wanted["time"]]
    index, clock = read_stamps(
        text, faults, calendar=layout.calendar, zone=layout.time_zone, round_to=layout.round_to, dates=layout.dates
    )
    if index is not None and index.has_duplicates:
        twice = text[index.duplicated()]
        faults.append(f"time: stamps given twice {where(twice)}; keep one line of each")
        return None, ""
    return index, clock


def _refuse_crossed(values: Mapping[str, np.ndarray], table: pd.DataFrame, faults: list[str]) -> None:
    """Refuse lowest temperatures above the highest: a table is mended where it is wrong."""
    if not {"tmin", "tmax"} <= set(values):
        return
    crossed = np.flatnonzero(values["tmin"] > values["tmax"])
    if crossed.size:
        i = crossed[0]
        swapped = "; are the two columns swapped?" if crossed.size > len(table) / 2 else "; mend or empty these lines"
        faults.append(
            f"tmin is above tmax on {crossed.size} of {len(table)} lines (first line {table.index[i]}: {values['tmin'][i]:g} and "
            f"{values['tmax'][i]:g} degC){swapped}"
        )


def _starts(data: xr.Dataset, layout: TableLayout) -> xr.Dataset:
    """Move stamps of ends to the starts of their intervals."""
    if layout.stamp == "start":
        return data
    index = data.indexes["time"]
    return data.assign_coords(time=moved(index, -step_of(index)))


def _refuse_lost_leap_days(data: xr.Dataset, table: pd.DataFrame, layout: TableLayout) -> None:
    """Refuse real dates without any 29 February: years of a model, or a day that was thrown away."""
    index = data.indexes["time"]
    if layout.calendar != "standard" or step_hours(index) != 24.0 or not data.attrs["absent_steps"]:
        return
    leap = ((data["time"].dt.month == 2) & (data["time"].dt.day == 29)).to_numpy()
    empty = np.all([data[name].isnull().to_numpy() for name in data.data_vars], axis=0)
    if leap.any() and empty[leap].all() and int(empty.sum()) == int(leap.sum()) == data.attrs["absent_steps"]:
        raise WeatherError(
            f"table: 29 February is absent in every leap year (first {stamp_words(index[leap][0])}) and nothing else is; for years of "
            '365 days say calendar="noleap", else put the days back'
        )
