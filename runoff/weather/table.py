"""Plain tables: any separator, a column map with units, hourly and 5-minute steps too.

Nothing is guessed in silence. Dates must be ISO (2024-04-03) or plain digits (20240403); a text that could be two dates
is refused. A missing code, a trace, a decimal comma must be declared. All faults of a file come in one message with the
first line each.
"""

from __future__ import annotations

import dataclasses
import io
import re
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError, WeatherError, nearest, raise_faults
from runoff.quantities import QUANTITIES, label
from runoff.units import convert

_ENDINGS = {"mm": "mm", "in": "in", "m": "m", "c": "degC", "f": "degF", "k": "K"}
_EMPTY = {"", "na", "nan", "null", "none"}
_ISO = re.compile(r"^\d{4}-\d{2}-\d{2}([T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?)?([+-]\d{2}:?\d{2}|Z)?$")
_DIGITS = re.compile(r"^\d{8}(\d{2}(\d{2})?)?$")
_SUSPECT_CODES = (-9999.0, -999.0, -999.9, -99.9, -99.0, 9999.0, 999.9)
_DEPTHS = {"rain", "reference_et"}
# quantities that a table may give in a unit of depth per step; everything else follows `runoff.quantities`


@dataclasses.dataclass(frozen=True, kw_only=True)
class TableLayout:
    """How a plain table is laid out.

    Parameters
    ----------
    separator
        Default: comma, semicolon or tab, as the header shows.
    decimal
        ``"."`` or ``","``.
    skip_lines
        Lines before the header (or before the first value, without a header).
    header
        Whether there is a line of column names; without one, columns go by number, from 0.
    comment
        Lines that begin with this are passed over.
    missing
        Codes that mean missing, beside empty and NaN, for example ``[-9999]``.
    trace
        Texts that mean too little to measure, counted and taken as 0, for example ``["T"]``.
    stamp
        ``"start"`` or ``"end"`` of the interval the time names; ends are moved to starts.
    round_to
        Rounds stamps, for example ``"1min"``.
    time_zone
        Zone of the stamps, when it matters (kept in the attributes); stamps with an offset are brought to it.
    first_time, step
        For a file of bare values: the start of the first interval and the step.
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
    first_time: str | None = None
    step: str | None = None


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
        like house quantities with their unit, ``rain_mm``, ``tmin_c``, and ``time`` or ``date``.
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
    time = _times(table, wanted, layout, faults)
    values, counts = {}, {}
    for quantity, column in wanted.items():
        if quantity != "time":
            series, traces = _numbers(table[column], quantity, given_units.get(quantity), layout, faults)
            values[quantity] = _house_units(series, quantity, given_units.get(quantity), faults)
            counts[quantity] = traces
    raise_faults("table", faults, WeatherError)
    data = _regular(time, values, layout)
    data.attrs.update(
        time_label="start of the interval" if layout.stamp == "start" else "end of the interval, converted to start",
        traces=int(counts.get("rain", 0)),
    )
    if layout.time_zone:
        data.attrs["time_zone"] = layout.time_zone
    return label(data)


def _cells(text: str, layout: TableLayout) -> pd.DataFrame:
    """Return the cells as text; the index holds the number of each line in the file."""
    lines = text.splitlines()
    kept = [(n, line) for n, line in enumerate(lines, 1) if n > layout.skip_lines and line.strip()]
    if (
        layout.header
        and kept
        and layout.skip_lines
        and layout.comment
        and kept[0][1].lstrip().startswith(layout.comment)
    ):
        kept[0] = (kept[0][0], kept[0][1].lstrip()[len(layout.comment) :])  # a header written as a comment
    kept = [(n, line) for n, line in kept if not (layout.comment and line.lstrip().startswith(layout.comment))]
    if not kept or (layout.header and len(kept) < 2):
        raise WeatherError("table: no lines of values; the file is empty or all of it was passed over")
    separator = layout.separator or _separator(kept[0][1])
    names = [cell.strip().strip('"') for cell in kept[0][1].split(separator)] if layout.header else None
    if names and len(set(names)) < len(names):
        names = [
            name if names.count(name) == 1 or names.index(name) == i else f"{name}.{i}" for i, name in enumerate(names)
        ]
    rows = kept[1:] if layout.header else kept
    table = pd.read_csv(
        io.StringIO("\n".join(line for _, line in rows)), sep=separator, header=None, names=names, dtype=str,
        keep_default_na=False, skipinitialspace=True, index_col=False,
    )  # fmt: skip
    table.index = pd.Index([n for n, _ in rows])
    return table


def _separator(line: str) -> str:
    for mark in (";", "\t", ","):
        if mark in line:
            return mark
    return ","


def _columns(
    table: pd.DataFrame, columns: Mapping[str, str | int] | None, units: Mapping[str, str], *, timed: bool
) -> tuple[dict[str, str | int], dict[str, str]]:
    found: dict[str, str | int] = {}
    known_units = dict(units)
    names = list(table.columns)
    if columns:
        faults = []
        for quantity, column in columns.items():
            if quantity != "time" and quantity not in QUANTITIES:
                faults.append(f'"{quantity}" is not a quantity{nearest(quantity, QUANTITIES)}')
            elif column not in names:
                faults.append(
                    f'there is no column "{column}"{nearest(str(column), map(str, names))}; columns are {", ".join(map(str, names))}'
                )
            else:
                found[quantity] = column
        raise_faults("table", faults, WeatherError)
    for name in names:
        lower = str(name).lower()
        quantity, _, ending = lower.rpartition("_")
        if lower in ("time", "date", "datetime") and "time" not in found:
            found["time"] = name
        elif columns is None and lower in QUANTITIES:
            found[lower] = name
        elif columns is None and quantity in QUANTITIES and ending in _ENDINGS:
            found[quantity] = name
            known_units.setdefault(quantity, _ENDINGS[ending])
    if "rain" not in found or (timed and "time" not in found):
        lacking = " and ".join(name for name in ("time", "rain") if name not in found)
        raise WeatherError(
            f"table: no column is known as {lacking}; columns are {', '.join(map(str, names))}. Say which, for example "
            'columns={"time": "DATE", "rain": "RR"}, units={"rain": "mm"}'
        )
    return found, known_units


def _times(
    table: pd.DataFrame, wanted: Mapping[str, str | int], layout: TableLayout, faults: list[str]
) -> pd.DatetimeIndex:
    if layout.first_time is not None:
        if layout.step is None:
            raise WeatherError('table: first_time= needs step=, for example step="1h"')
        return pd.date_range(layout.first_time, periods=len(table), freq=layout.step)
    text = table[wanted["time"]].str.strip()
    bad = text[~(text.str.match(_ISO) | text.str.match(_DIGITS))]
    if len(bad):
        faults.append(_date_fault(bad))
        return pd.DatetimeIndex([])
    hours24 = text[
        text.str.contains(r"[T ]24:", regex=True)
        | ((text.str.len() == 10) & text.str.isdigit() & text.str.endswith("24"))
    ]
    if len(hours24):
        faults.append(
            f'time: hour 24 on {len(hours24)} lines (first line {hours24.index[0]}: "{hours24.iloc[0]}"); write 00:00 of the next day'
        )
        return pd.DatetimeIndex([])
    offset = text.str.extract(r"([+-]\d{2}:?\d{2}|Z)$")[0]
    if len(set(offset.fillna(""))) > 1:
        faults.append("time: stamps carry different offsets from UTC; bring all to local standard time")
        return pd.DatetimeIndex([])
    digits = bool(text.str.match(_DIGITS).all())
    pattern = {8: "%Y%m%d", 10: "%Y%m%d%H", 12: "%Y%m%d%H%M"}[len(text.iloc[0])] if digits else "ISO8601"
    stamps = pd.to_datetime(text, format=pattern, errors="coerce")
    if stamps.isna().any():
        first = stamps.isna().idxmax()
        faults.append(f'time: no such date on line {first}: "{text[first]}"')
        return pd.DatetimeIndex([])
    index = pd.DatetimeIndex(stamps)
    if index.tz is not None:  # standard time without a zone; the offset is the same on every line
        index = index.tz_localize(None)
    if layout.round_to:
        index = index.round(layout.round_to)
    if index.has_duplicates:
        twice = index[index.duplicated()]
        faults.append(
            f"time: {len(twice)} stamps are given twice, first {twice[0]:%Y-%m-%d %H:%M}; keep one line of each"
        )
    return index


def _date_fault(bad: pd.Series) -> str:
    first = bad.iloc[0]
    where = f'on {len(bad)} lines (first line {bad.index[0]}: "{first}")'
    if re.match(r"^\d{1,2}[./-]\d{1,2}[./-]\d{2,4}", first):
        return f"time: dates {where} can be read two ways; write them as year-month-day, 2024-04-03"
    return f"time: dates {where} cannot be read; write them as 2024-04-03, with a time as 2024-04-03 15:00"


def _numbers(
    cells: pd.Series, quantity: str, unit: str | None, layout: TableLayout, faults: list[str]
) -> tuple[np.ndarray, int]:
    """Return the numbers of a column, missing where declared, and the count of traces."""
    text = cells.str.strip()
    traces = text.isin([str(one) for one in layout.trace])
    if layout.decimal == ",":
        text = text.str.replace(",", ".", regex=False)
    empty = text.str.lower().isin(_EMPTY)
    number = pd.to_numeric(text.where(~empty & ~traces), errors="coerce")
    bad = text[number.isna() & ~empty & ~traces]
    if len(bad):
        faults.append(_number_fault(bad, quantity))
    number = number.mask(number.isin([float(code) for code in layout.missing]))
    number = number.mask(traces, 0.0)
    floor = QUANTITIES[quantity].low
    for code in _SUSPECT_CODES:
        coded = number[number == code]
        if len(coded) and not _plausible(code, quantity, unit):
            faults.append(
                f"{quantity}: {code:g} on {len(coded)} lines (first line {coded.index[0]}) looks like a code for missing; "
                f"declare it with missing=[{code:g}]"
            )
            number = number.mask(number == code)
    negative = number[number < 0]
    if floor == 0.0 and len(negative):
        faults.append(
            f"{quantity}: negative on {len(negative)} lines (first line {negative.index[0]}: {negative.iloc[0]:g}); a missing "
            "value is left empty, or its code declared with missing=[...]"
        )
    return number.to_numpy(dtype=float), int(traces.sum())


def _plausible(value: float, quantity: str, unit: str | None) -> bool:
    """Tell whether a raw number could be a measurement: -99 tenths of a degree is a cold day, -99 degrees is a code."""
    known = QUANTITIES[quantity]
    try:
        return known.low <= float(convert(value, unit or known.units, known.units)) <= known.high
    except RunoffError:
        return True  # the unit itself is at fault and is reported as such


def _number_fault(bad: pd.Series, quantity: str) -> str:
    first = bad.iloc[0]
    where = f'on {len(bad)} lines (first line {bad.index[0]}: "{first}")'
    if first.upper() == "T":
        return f'{quantity}: traces {where}; say what they mean with trace=["T"] (counted, taken as 0)'
    if re.match(r"^-?\d+,\d+$", first):
        return f'{quantity}: decimal commas {where}; declare them with decimal="," (and a separator that is no comma)'
    return f"{quantity}: no number {where}; numbers carry no unit, missing values are left empty"


def _house_units(series: np.ndarray, quantity: str, unit: str | None, faults: list[str]) -> np.ndarray:
    wanted = QUANTITIES[quantity].units
    if unit is None:
        faults.append(f'{quantity}: its unit is not known; give units={{"{quantity}": "{wanted}"}}')
        return series
    try:
        return np.asarray(convert(series, unit, wanted))
    except RunoffError as error:
        faults.append(f"{quantity}: {error}")
        return series


def _regular(time: pd.DatetimeIndex, values: Mapping[str, np.ndarray], layout: TableLayout) -> xr.Dataset:
    """Put the values on a regular axis with missing values for the gaps."""
    frame = pd.DataFrame(dict(values), index=time).sort_index()
    if len(frame) > 1:
        steps = frame.index[1:] - frame.index[:-1]
        step = steps.value_counts().idxmax()
        whole = pd.date_range(frame.index[0], frame.index[-1], freq=step)
        off = frame.index.difference(whole)
        if len(off):
            raise WeatherError(
                f"table: {len(off)} stamps do not fall on a regular step of {step}, first {off[0]:%Y-%m-%d %H:%M:%S}; round them "
                'with round_to="1min", or bring the file to regular steps'
            )
        frame = frame.reindex(whole)
        if layout.stamp == "end":
            frame.index = frame.index - step
        elif layout.stamp != "start":
            raise WeatherError(f'table: stamp is "start" or "end" of the interval (given "{layout.stamp}")')
    return xr.Dataset(
        {name: ("time", frame[name].to_numpy()) for name in frame},
        coords={"time": frame.index.to_numpy().astype("datetime64[ns]")},
    )
