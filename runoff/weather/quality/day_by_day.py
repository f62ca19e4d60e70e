"""One record as the days the checks look at: dates, sums of rain, means of temperature; what is known of each."""

from __future__ import annotations

import dataclasses
import functools
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.time_steps import time_step

_KNOWN_SHARE = 0.5  # a day that lacks a few steps still tells the size of its rain


@dataclasses.dataclass(frozen=True)
class Days:
    """Days of one record.

    Parameters
    ----------
    year, month, day
        Date of each day, shape ``(day,)``.
    rain
        Sum of the day, mm; NaN where less than half of it is known.
    mean
        Mean temperature, degC; None where the record has none.
    """

    year: np.ndarray
    month: np.ndarray
    day: np.ndarray
    rain: np.ndarray
    mean: np.ndarray | None = None

    @classmethod
    def of(cls, data: xr.Dataset) -> Days:
        """Take the days out of a record along ``time`` alone, house units, values in memory."""
        index: Any = data.indexes["time"]
        per_day = max(1, round(24.0 / time_step(data["time"]).hours))
        rain = data["rain"].to_numpy().astype(float)
        if per_day == 1:
            year, month, day = (np.asarray(getattr(index, part)) for part in ("year", "month", "day"))
            return cls(year, month, day, rain, _mean_temperature(data))
        number = np.asarray(index.year) * 512 + np.asarray(index.month) * 32 + np.asarray(index.day)
        starts = np.flatnonzero(np.diff(number, prepend=number[0] - 1))
        known = np.add.reduceat(np.isfinite(rain).astype(float), starts)
        sums = np.add.reduceat(np.nan_to_num(rain), starts)
        sums[known < _KNOWN_SHARE * per_day] = np.nan
        first: Any = index[starts]
        year, month, day = (np.asarray(getattr(first, part)) for part in ("year", "month", "day"))
        warmth = _mean_temperature(data)
        mean = None if warmth is None else np.add.reduceat(warmth, starts) / np.diff(np.append(starts, rain.size))
        return cls(year, month, day, sums, mean)

    @functools.cached_property
    def known(self) -> np.ndarray:
        """Whether the rain of a day is known."""
        return np.isfinite(self.rain)

    def words(self, position: int) -> str:
        """Return the date of a day in words."""
        return f"{self.year[position]:04d}-{self.month[position]:02d}-{self.day[position]:02d}"

    def block(self, months: int) -> np.ndarray:
        """Return the number of the block of so many months that each day lies in, counted from the year 0."""
        return (self.year * 12 + self.month - 1) // months

    def table(self, **columns: Any) -> pd.DataFrame:
        """Return columns of one value a day as a table, without days of unknown rain."""
        return pd.DataFrame({"rain": self.rain, **columns})[self.known]


def _mean_temperature(data: xr.Dataset) -> np.ndarray | None:
    if "tmean" in data:
        return data["tmean"].to_numpy().astype(float)
    if {"tmin", "tmax"} <= set(data.data_vars):
        return (data["tmin"].to_numpy() + data["tmax"].to_numpy()) / 2.0
    return None
