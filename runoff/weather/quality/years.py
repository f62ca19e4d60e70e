"""The years of a record: their totals, what is missing of each, and the longest stretch that lacks nothing."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from runoff.saying.scales import shown, unit_shown
from runoff.saying.tables import Table
from runoff.time_steps import time_step
from runoff.weather.quality.day_by_day import Days
from runoff.weather.record.time_axis import counted, stamp_words


class Stretch(NamedTuple):
    """The longest part of a record on which nothing that a run needs is missing: its ends and its length in years."""

    start: str
    end: str
    years: float
    whole_years: tuple[int, int] | None

    @property
    def flags(self) -> str:
        """The stretch as the command line takes it: whole years where there are any."""
        first, last = self.whole_years or (self.start, self.end)
        return f"--start {first} --end {last}"


def yearly_totals(data: xr.Dataset) -> pd.DataFrame:
    """Return rain by calendar year.

    Parameters
    ----------
    data
        One record along ``time``, house units, values in memory.

    Returns
    -------
    pandas.DataFrame
        Index ``year``; ``rain_mm`` of what is known, ``steps``, ``missing`` (steps of the record, or days that the year
        begins or ends without) and ``is_complete``.
    """
    index: Any = data.indexes["time"]
    per_day = max(1, round(24.0 / time_step(data["time"]).hours))
    table = pd.DataFrame({"year": np.asarray(index.year), "rain": data["rain"].to_numpy()}).groupby("year")["rain"]
    whole = pd.Series({year: _days_in(year, data) * per_day for year in table.size().index})
    years = pd.DataFrame({"rain_mm": table.sum(min_count=1), "steps": table.size()})
    years["missing"] = (whole - table.count()).clip(lower=0).astype(int)
    years["is_complete"] = years["missing"] == 0
    years.index.name = "year"
    return years


def _days_in(year: int, data: xr.Dataset) -> int:
    calendar = str(data["time"].dt.calendar)
    if calendar == "360_day":
        return 360
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0) and calendar not in ("noleap", "365_day")
    return 366 if leap or calendar == "all_leap" else 365


def longest_stretch(data: xr.Dataset) -> Stretch | None:
    """Return the longest part on which rain and what evapotranspiration is formed from are all known; None without any."""
    known = data["rain"].notnull().to_numpy()
    for name in ("tmin", "tmax", "tmean"):
        if name in data and not _is_given(data):
            known &= data[name].notnull().to_numpy()
    if _is_given(data):
        known &= data["reference_et"].notnull().to_numpy()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], known.astype(int), [0]])))
    if not edges.size:
        return None
    starts, ends = edges[::2], edges[1::2]
    longest = int((ends - starts).argmax())
    first, last = int(starts[longest]), int(ends[longest]) - 1
    stamps = data["time"].to_numpy()
    years = (last - first + 1) * time_step(data["time"]).hours / 24.0 / 365.25
    part = data.isel(time=slice(first, last + 1))
    return Stretch(stamp_words(stamps[first])[:10], stamp_words(stamps[last])[:10], years, _whole_years(part))


def _is_given(data: xr.Dataset) -> bool:
    return "reference_et" in data and str(data["reference_et"].attrs.get("method", "given")).startswith("given")


def _whole_years(part: xr.Dataset) -> tuple[int, int] | None:
    """Return the first and the last year of which a stretch holds every day, or None."""
    totals = yearly_totals(part)
    complete = totals.index[totals["is_complete"]]
    return (int(complete[0]), int(complete[-1])) if len(complete) else None


def years_table(years: pd.DataFrame, units: str = "si") -> Table:
    """Return the totals of the years as a table, ten years a line; what is missing stands in brackets behind."""
    cells = {
        year: _total_words(total, units) + (f" ({missing})" if missing else "")
        for year, total, missing in zip(years.index, years["rain_mm"], years["missing"], strict=True)
    }
    decades = sorted({year // 10 for year in cells})
    rows = [[f"{ten * 10}-{ten * 10 + 9}", *(cells.get(ten * 10 + k, "") for k in range(10))] for ten in decades]
    unit = unit_shown("mm", "yearly depth", units)
    title = f"Rain of the years, {unit}; in brackets the steps that are missing of a year"
    return Table(head=["", *(f"..{k}" for k in range(10))], rows=rows, title=title)


def _total_words(total: float, units: str) -> str:
    """Return the rain of a year as a number without a comma, like the year beside it."""
    said = shown(total, "mm", "yearly depth", units)
    return said.text.replace(",", "")


def complete_words(data: xr.Dataset, days: Days) -> tuple[str, str]:
    """Return in words how many years are whole, and which stretch to take where they are not all."""
    years = yearly_totals(data)
    complete = years["is_complete"]
    totals = years["rain_mm"][complete]
    spread = f", {totals.min():.0f} to {totals.max():.0f} mm" if len(totals) else ""
    found = f"{int(complete.sum())} of {counted(len(years), 'calendar year')} complete{spread}"
    stretch = longest_stretch(data)
    if stretch is None or (complete.all() and days.known.all()):
        return found, ""
    return (
        f"{found}; longest stretch without a gap {stretch.start} to {stretch.end} ({stretch.years:.1f} years)",
        stretch.flags,
    )
