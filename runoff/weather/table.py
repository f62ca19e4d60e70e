"""Plain tables: any separator, a column map with units, hourly and 5-minute steps too.

Nothing is guessed in silence. Dates must be ISO (2024-04-03) or plain digits (20240403); a text that could be two dates
is refused. A missing code, a trace, a decimal comma must be declared. All faults of a file come in one message with the
first line each.
"""

from __future__ import annotations

import csv
import dataclasses
import io
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError, WeatherError, nearest, raise_faults
from runoff.quantities import QUANTITIES, label
from runoff.weather.cells import numbers
from runoff.weather.house_units import quantity_in_name, to_house, unit_in_name
from runoff.weather.stamps import CALENDARS, read_stamps, where
from runoff.weather.time_axis import moved, regular, stamp_words, step_hours, step_of

_TIMES = ("time", "date", "datetime", "timestamp")


@dataclasses.dataclass(frozen=True, kw_only=True)
class TableLayout:
    """How a plain table is laid out.

    Parameters
    ----------
    separator
        Default: semicolon, tab or comma, as the header shows.
    decimal
        ``"."`` or ``","``.
    skip_lines
        Lines before the header (or before the first value, without a header).
    header
        Whether there is a line of column names; without one, columns go by number, from 0.
    comment
        Lines that begin with this are passed over; a header right after `skip_lines` may be written as a comment.
    missing
        Codes that mean missing, beside empty and NaN, for example ``[-9999]``.
    trace
        Texts that mean too little to measure, counted and taken as 0, for example ``["T"]``.
    stamp
        ``"start"`` or ``"end"`` of the interval the time names; ends are moved to starts.
    round_to
        Rounds stamps, for example ``"1min"``.
    time_zone
        The clock of the stamps: words that are kept (``"UTC+8"``, ``"CET"``), or a zone such as ``"Europe/Berlin"`` when
        the clock follows summer time; the stamps are then brought to standard time.
    day_start
        Time of day at which the days of a daily file begin, in words or as ``"07:00"``; kept in the attributes.
    calendar
        ``"standard"``, or a model's calendar: ``"noleap"`` (``"365_day"``), ``"360_day"``.
    first_time, step
        For a file of bare values: the start of the first interval and the step.
    wind_height_m
        Height of the anemometer, m; without it the wind is taken as measured at 2 m.
    """

    separator: str | None = None
    decimal: str = "."
    skip_lines: int = 0
    header: bool = True
    comment: str = "#"
    missing: Sequence[float] = ()
    trace: Sequence[str] = ()
    stamp: str = "start"
    round_to: str | None = None
    time_zone: str | None = None
    day_start: str | None = None
    calendar: str = "standard"
    first_time: str | None = None
    step: str | None = None
    wind_height_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be followed, all faults at once."""
        faults = []
        if self.decimal not in (".", ","):
            faults.append(f'decimal is "." or "," (given "{self.decimal}")')
        if self.stamp not in ("start", "end"):
            faults.append(f'stamp is "start" or "end" of the interval (given "{self.stamp}")')
        if self.calendar not in CALENDARS:
            faults.append(f'calendar "{self.calendar}" is not known; known: {", ".join(CALENDARS)}')
        if isinstance(self.trace, str) or isinstance(self.missing, str | int | float):
            faults.append('missing and trace are lists, missing=[-9999] and trace=["T"]')
        if (self.first_time is None) != (self.step is None):
            faults.append('first_time and step belong together, first_time="2006-01-01 00:00", step="1h"')
        raise_faults("layout", faults, WeatherError)


def layout_of(given: TableLayout | Mapping[str, object] | None) -> TableLayout:
    """Return a layout from what the user gave."""
    if given is None or isinstance(given, TableLayout):
        return given or TableLayout()
    known = [field.name for field in dataclasses.fields(TableLayout)]
    faults = [
        f'"{name}" is not known{nearest(name, known)}; known: {", ".join(known)}' for name in given if name not in known
    ]
    raise_faults("layout", faults, WeatherError)
    return TableLayout(**given)  # type: ignore[arg-type]


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
    table = _cells(text, layout)
    wanted, given_units = _columns(table, columns, units or {}, timed=layout.first_time is None)
    faults: list[str] = []
    time, clock = _times(table, wanted, layout, faults)
    hours = step_hours(time) if time is not None else 24.0
    values: dict[str, np.ndarray] = {}
    traces = 0
    for quantity, column in wanted.items():
        if quantity == "time":
            continue
        series, count = numbers(table[column], quantity, given_units[quantity], layout, faults)
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


def _cells(text: str, layout: TableLayout) -> pd.DataFrame:
    """Return the cells as text; the index holds the number of each line in the file."""
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
    index, clock = read_stamps(text, faults, calendar=layout.calendar, zone=layout.time_zone, round_to=layout.round_to)
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
