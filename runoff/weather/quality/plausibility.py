"""Is the rain in the unit it is said to be? The annual total against the latitude, and the record against itself.

A wrong unit scales every amount and leaves the number of wet days alone. So a record is doubted when it rains on many
days of the year and even the wettest day of a mean year brings next to nothing (inches, cm, metres or mm/h read as mm),
or when a year brings more than falls anywhere at this latitude (tenths of mm read as mm). The limits are own choices,
wide enough for deserts and for all but a handful of the wettest places on earth.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from runoff.weather.record.time_axis import step_hours

#: A year wetter than this is met at a handful of places on earth; a mean this dry only in deserts.
WETTEST_YEAR_MM, DRIEST_YEAR_MM = 6000.0, 20.0
_LEAST_DAYS = 300  # fewer known days say nothing about a year
_POLAR_DEG = 60.0  # beyond, snow is light and frequent, and a year under 150 mm is usual
_SCANT_YEAR_MM, _SCANT_DAY_MM, _OFTEN_DAYS = 150.0, 5.0, 40.0
_GREAT_DAY_MM = 250.0  # a mean annual largest day above this is met on typhoon coasts and mountains only
TRUSTED = "unit_trusted"  # attribute set by read_weather(..., trust_unit=True)


class RainStatistics(NamedTuple):
    """What the doubt rests on, all per year: total (mm), wet days, largest day (mm); and whether all values are whole."""

    annual_mm: float
    wet_days: float
    largest_day_mm: float
    is_whole: bool
    known_days: int


class Doubt(NamedTuple):
    """A verdict (good, look, stop), what was found and what to do."""

    verdict: str
    found: str
    advice: str = ""


def doubt_of_unit(rain: xr.DataArray, latitude: float | None, *, trusted: bool = False) -> Doubt:
    """Judge the unit of one rain series.

    Parameters
    ----------
    rain
        mm per step on ``time``, steps of a day or shorter; missing values as NaN.
    latitude
        Degrees; None when not known (the wettest band is taken).
    trusted
        The user has confirmed the unit: what would stop is only pointed out.
    """
    facts = rain_statistics(rain)
    if not bool(rain.notnull().any()):
        return Doubt("stop", "there is no rain value at all", "look at the column and its code for missing")
    if facts.known_days < _LEAST_DAYS:
        return Doubt(
            "look", f"{facts.known_days} known days are too few to judge the unit by", "look at the amounts yourself"
        )
    doubt = _judge(facts, latitude)
    if trusted and doubt.verdict == "stop":
        return Doubt("look", f"{doubt.found}; the unit was confirmed by the user", doubt.advice)
    return doubt


def _judge(facts: RainStatistics, latitude: float | None) -> Doubt:
    found = f"{facts.annual_mm:.0f} mm a year"
    details = f"{facts.wet_days:.0f} days with rain, {facts.largest_day_mm:.1f} mm on the wettest day of a mean year"
    if facts.annual_mm == 0:
        return Doubt("stop", "no rain at all in the whole record", "a dead gauge, or the wrong column?")
    if facts.annual_mm > wettest_year_mm(latitude):
        place = "anywhere" if latitude is None else f"at {abs(latitude):.0f} degrees latitude"
        return Doubt(
            "stop",
            f"{found}: more than the {wettest_year_mm(latitude):.0f} mm that may fall {place}",
            'tenths of mm read as mm? Give the unit of the column, for example "0.1 mm"',
        )
    scant = facts.annual_mm < _SCANT_YEAR_MM and facts.largest_day_mm < _SCANT_DAY_MM and facts.wet_days > _OFTEN_DAYS
    if scant and abs(latitude or 0.0) < _POLAR_DEG:
        return Doubt(
            "stop",
            f"{found}, though it rains often: {details}",
            'inches, cm or m read as mm, or mm/h as mm? Give the unit of the column, for example "in"',
        )
    if facts.largest_day_mm > _GREAT_DAY_MM:
        return Doubt(
            "stop" if facts.is_whole else "look",
            f"{found}: {details}{', and all values are whole numbers' if facts.is_whole else ''}",
            'tenths of mm read as mm? Give the unit of the column, for example "0.1 mm"',
        )
    if facts.annual_mm < DRIEST_YEAR_MM or scant:
        return Doubt("look", f"{found}: as dry as deserts; {details}", "inches or metres read as mm? Look at the unit")
    return Doubt("good", f"{found}, {details}")


def wettest_year_mm(latitude: float | None) -> float:
    """Return the annual rain that is passed at a handful of places only, mm: 6000 in the tropics, less towards the poles."""
    away = max(abs(latitude or 0.0) - 25.0, 0.0)
    return WETTEST_YEAR_MM * max(1.0 - away / 65.0, 0.15)


def rain_statistics(rain: xr.DataArray) -> RainStatistics:
    """Return the annual statistics of one rain series."""
    values = rain.to_numpy().astype(float)
    per_day = max(1, round(24.0 / step_hours(rain["time"])))
    days = values[: values.size - values.size % per_day].reshape(-1, per_day)
    share = np.isfinite(days).mean(axis=1)
    known = share >= 0.5  # a day that lacks a few steps still tells the size of its rain
    sums = np.nansum(days, axis=1)[known] if days.size else np.array([])
    if not sums.size:
        return RainStatistics(0.0, 0.0, 0.0, False, 0)
    years = sums.size / 365.25
    block = np.array_split(sums, max(1, round(years)))
    wet = values[np.isfinite(values) & (values > 0)]
    return RainStatistics(
        annual_mm=float(sums.sum() / years),
        wet_days=float((sums > 0).sum() / years),
        largest_day_mm=float(np.mean([part.max() for part in block])),
        is_whole=bool(wet.size and (wet == np.round(wet)).all()),
        known_days=int(sums.size),
    )
