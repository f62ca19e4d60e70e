"""Measured overflow: read from a file, brought to one value per day. A day without a reading is missing, never zero."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pandas.tseries.frequencies import to_offset

from runoff.calibration.logs import Entry, Log, log_text, per_step, read_log
from runoff.errors import RunoffError, raise_faults
from runoff.given_kinds import refuse_other_kinds
from runoff.units import convert
from runoff.weather.files.table_layout import TableLayout, layout_of
from runoff.weather.record.drifting_clock import daily_sums, on_regular_steps
from runoff.weather.record.time_axis import ONE_DAY, counted, stamp_words, step_of, step_words

#: Overflow of the invented monitored roof, beside the other sample files.
OBSERVED_FILE = "ostrey_monitored_roof.csv"
#: What a log of overflow may hold beside other columns, which are left alone.
OVERFLOW_ENTRY = Entry(
    name="overflow",
    headings=("overflow", "roof_overflow", "runoff"),
    dimensions=("depth", "intensity", "volume", "flow"),
    units=("mm", "in", "L", "m3", "gal", "mm/h", "L/s"),
    needed=True,
)
#: Rain of the roof's own gauge, which a log may hold beside the overflow.
RAIN_ENTRY = Entry(
    name="rain",
    headings=("rain", "roof_rain", "rainfall"),
    dimensions=("depth", "intensity"),
    units=("mm", "in", "mm/h"),
)


def read_observed(
    path: str | Path,
    *,
    column: str | None = None,
    units: str | None = None,
    time_column: str | None = None,
    layout: TableLayout | Mapping[str, Any] | None = None,
    area_m2: float | None = None,
) -> pd.Series:
    """Read measured overflow from a log: a time and an amount on each line, daily or at shorter steps.

    Parameters
    ----------
    path
        The file, plain or gzipped.
    column
        Heading of the overflow; default the column called ``overflow``, ``roof_overflow`` or ``runoff`` with its unit, as
        ``overflow_mm`` or ``overflow (L/s)``.
    units
        Unit of the overflow; default as its heading says. Depth, intensity, volume or flow.
    time_column
        Heading of the time; default ``date``, ``time``, ``datetime`` or ``timestamp``.
    layout
        Separator, decimal comma, order of the parts of a date, ends or starts of steps and so on: `runoff.TableLayout`.
    area_m2
        Area that drains to the gauge, m2: turns volumes and flows into depths.

    Returns
    -------
    pandas.Series
        Overflow, mm per step, at the start of each step. An empty field is missing, never zero.

    Raises
    ------
    RunoffError
        Naming every fault of the file at once.
    """
    refuse_other_kinds("read_observed", path=path)
    log = _log_of(path, [OVERFLOW_ENTRY], {"overflow": column, "time": time_column}, {"overflow": units}, layout)
    return _series(log, "overflow", layout_of(layout), area_m2).rename("observed")


def read_overflow_and_rain(
    path: str | Path,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    layout: TableLayout | Mapping[str, Any] | None = None,
    area_m2: float | None = None,
) -> tuple[pd.Series, pd.Series | None]:
    """Read a log once for the overflow, and for the rain that the roof's own gauge wrote beside it.

    Parameters
    ----------
    path, layout, area_m2
        As in `read_observed`.
    columns
        Headings of ``overflow``, ``rain`` and ``time``, where they go by other names than the default: for rain, ``rain`` with its
        unit as in ``rain_mm``.
    units
        Units of ``overflow`` and ``rain``, where their headings do not say them.

    Returns
    -------
    observed
        As `read_observed` returns it.
    rain
        Rain, mm per step, at the start of each step; missing stays missing. None where the log has no column of rain.

    Raises
    ------
    RunoffError
        Naming every fault of the file at once.
    """
    rain = dataclasses.replace(RAIN_ENTRY, needed="rain" in (columns or {}))
    log = _log_of(path, [OVERFLOW_ENTRY, rain], columns or {}, units or {}, layout)
    observed = _series(log, "overflow", layout_of(layout), area_m2).rename("observed")
    return observed, _series(log, "rain", layout_of(layout), None) if "rain" in log.table else None


def _log_of(
    path: str | Path,
    entries: list[Entry],
    columns: Mapping[str, str | None],
    units: Mapping[str, str | None],
    layout: TableLayout | Mapping[str, Any] | None,
) -> Log:
    path = Path(path)
    return read_log(
        log_text(path), path.name, entries,
        columns={name: heading for name, heading in columns.items() if heading is not None},
        units={name: unit for name, unit in units.items() if unit is not None}, layout=layout_of(layout),
    )  # fmt: skip


def _series(log: Log, name: str, layout: TableLayout, area_m2: float | None) -> pd.Series:
    """Return a column of a log, mm per step, at the start of each step."""
    step = step_of(log.table.index)
    try:
        depths = per_step(
            log.table[name].to_numpy(),
            log.units[name],
            step_hours=step / pd.Timedelta("1h"),
            area_m2=area_m2,
            what=name,
        )
    except RunoffError as error:
        raise RunoffError(f"{log.name}: {error}") from None
    index = pd.DatetimeIndex(log.table.index)
    index = index - step if layout.stamp == "end" else index
    return pd.Series(depths, index=index.rename("date"), name=name)


def sample_observations() -> pd.Series:
    """Return the overflow of the invented monitored roof of Ostrey, mm per day over the whole roof."""
    from runoff.sample_files import sample_folder

    return read_observed(sample_folder() / OBSERVED_FILE)


def observed_days(observed: Any, start: str | None = None, end: str | None = None) -> pd.Series:
    """Return measured overflow as one value per day, mm, or say all that is wrong with it.

    Parameters
    ----------
    observed
        pandas Series on dates (mm) or xarray DataArray on ``time`` (mm, or with units). Steps shorter than a day are
        summed; a day with a missing step is missing.
    start, end
        First and last day used.

    Returns
    -------
    pandas.Series
        mm a day, on dates; NaN where missing.

    Raises
    ------
    RunoffError
        When it is no overflow, or two values are of one day.
    """
    amounts = amounts_of(observed)
    if is_finer_than_a_day(amounts):
        days = daily_sums(amounts)
    else:
        days = amounts.set_axis(pd.DatetimeIndex(amounts.index).floor("D"))
        _refuse_days_given_twice(days)
    return days.loc[start:end].rename("observed")


def observed_steps(observed: Any, step: pd.Timedelta, start: str | None = None, end: str | None = None) -> pd.Series:
    """Return measured overflow at regular steps no finer than those of the weather, mm per step.

    Parameters
    ----------
    observed
        As in `observed_days`, at steps shorter than a day.
    step
        Step of the weather: a finer record is summed to it, a coarser one stays.
    start, end
        First and last day used.

    Returns
    -------
    pandas.Series
        mm per step at regular steps; NaN where missing.

    Raises
    ------
    RunoffError
        When the steps of record and weather do not go into each other.
    """
    amounts = on_regular_steps(amounts_of(observed))
    own = step_of(amounts.index)
    if own < step and step % own == pd.Timedelta(0):
        whole = amounts.groupby(pd.DatetimeIndex(amounts.index).floor(step))
        amounts = whole.sum().where(whole.count() == step / own).asfreq(to_offset(step))
    elif own % step != pd.Timedelta(0):
        raise RunoffError(
            f"fit_roof: the record is in steps of {step_words(own / ONE_DAY)}, the weather of {step_words(step / ONE_DAY)}; one must be "
            "a multiple of the other"
        )
    return amounts.asfreq(to_offset(max(own, step))).loc[start:end].rename("observed")


def is_finer_than_a_day(amounts: pd.Series) -> bool:
    """Tell whether a record has steps shorter than a day."""
    return len(amounts) > 1 and step_of(amounts.index) < ONE_DAY


def amounts_of(observed: Any) -> pd.Series:
    """Return a record as a pandas Series in mm, in order of time; see `observed_days`."""
    if hasattr(observed, "to_series"):
        unit = observed.attrs.get("units", "mm")
        observed = observed.to_series()
        observed = observed if unit == "mm" else convert(observed, unit, "mm")
    if not isinstance(observed, pd.Series) or not isinstance(observed.index, pd.DatetimeIndex):
        raise RunoffError(
            "fit_roof: observed must be a pandas Series on dates, or a DataArray on time, of overflow in mm per step"
        )
    amounts = observed.astype(float).sort_index()
    _refuse_wrong_amounts(amounts)
    return amounts


def _refuse_wrong_amounts(amounts: pd.Series) -> None:
    faults = []
    twice = amounts.index[amounts.index.duplicated()]
    if len(twice):
        faults.append(
            f"observed holds {counted(len(twice), 'stamp')} more than once, the first {stamp_words(twice[0])}; keep one of each"
        )
    wrong = amounts[(amounts < 0) | np.isinf(amounts)]
    if len(wrong):
        faults.append(
            f"observed is negative or infinite at {counted(len(wrong), 'stamp')}, the first {stamp_words(wrong.index[0])} "
            f"({wrong.iloc[0]:g} mm); write a missing value as NaN"
        )
    raise_faults("fit_roof", faults)


def _refuse_days_given_twice(days: pd.Series) -> None:
    twice = days.index[days.index.duplicated()]
    if len(twice):
        raise RunoffError(
            f"fit_roof: observed holds {counted(len(twice), 'day')} more than once, the first {twice[0].date()}, though most "
            "steps are a day long; give every day once, or a record at regular shorter steps"
        )
