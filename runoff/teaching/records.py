"""Which days of a record a lesson shows, and what it says to a record that it cannot show."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.time_steps import time_step

_SHORTEST_YEAR = 360  # a calendar may have years of 360 days


def require_one_daily_record(weather: xr.Dataset) -> None:
    """Refuse what cannot be played day by day.

    Raises
    ------
    RunoffError
        For a grid, several places or steps other than a day.
    """
    if weather["rain"].ndim != 1:
        raise RunoffError(
            f"the lesson shows one roof in one place; the record has the dimensions {', '.join(map(str, weather['rain'].dims))}"
        )
    if not time_step(weather["time"]).daily:
        raise RunoffError("the lesson plays day by day: give a daily record")


def is_southern(weather: xr.Dataset) -> bool:
    """Tell whether the place lies south of the equator, as far as the record says."""
    return "lat" in weather.coords and weather["lat"].ndim == 0 and float(weather["lat"]) < 0.0


def from_autumn_to_summer(weather: xr.Dataset, year: int | None) -> xr.Dataset:
    """Return one year from the first of September on (of March in the south): leaves fall early, plants grow late in it.

    Parameters
    ----------
    weather
        A daily record of one place.
    year
        The calendar year in which it begins; default the last one of which the record has every day.

    Raises
    ------
    RunoffError
        When the record cannot be played, or does not have the whole year.
    """
    require_one_daily_record(weather)
    if year is not None and (isinstance(year, bool) or not isinstance(year, int)):
        raise RunoffError(f'lesson: year is a whole number, for example 2014 (given "{year}")')
    stamps: Any = weather["time"].to_index()
    month = 3 if is_southern(weather) else 9
    first_month, before = ("March", "February") if month == 3 else ("September", "August")
    begins = np.flatnonzero((np.asarray(stamps.month) == month) & (np.asarray(stamps.day) == 1))
    years = {int(stamps[i].year): int(i) for i in begins}
    last_months = [(int(s.year), int(s.month)) for s in stamps]
    whole = {
        one: (i, end)
        for one, i in years.items()
        if (end := _end_of(last_months, i, (one + 1, month))) - i >= _SHORTEST_YEAR
    }
    if not whole:
        raise RunoffError(
            f"the lesson plays one year, from 1 {first_month} to the end of {before}; the record ({_span(stamps)}) has no such "
            "year whole"
        )
    chosen = max(whole) if year is None else year
    if chosen not in whole:
        raise RunoffError(
            f"the lesson plays one year, from 1 {first_month} {chosen} to the end of {before} {chosen + 1}; the record ({_span(stamps)}) "
            f"does not have it whole. Years that it has: {min(whole)} to {max(whole)}"
        )
    first, end = whole[chosen]
    return weather.isel(time=slice(first, end))


def _end_of(months: list[tuple[int, int]], first: int, stop: tuple[int, int]) -> int:
    """Return the step after the last one before the month `stop`; the first step where the record ends earlier."""
    end = first
    while end < len(months) and months[end] < stop:
        end += 1
    whole = end < len(months) or months[-1] == ((stop[0], stop[1] - 1))
    return end if whole else first


def _span(stamps: Any) -> str:
    return f"{str(stamps[0])[:10]} to {str(stamps[-1])[:10]}"
