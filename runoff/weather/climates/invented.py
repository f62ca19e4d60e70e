"""An invented climate: the documented, seeded generator behind the town of Ostrey, free to use for other towns.

Nothing here was measured. The generator gives records that look like weather to a roof: wet and dry days in spells, many
small rains and few large ones, temperature that follows the season and differs between wet and dry days, showers in
summer and long bands of rain in winter.

Days
    Wet or dry is a chain of two states with monthly chances: of a wet day after a dry one, of a wet day after a wet one.
    The rain of a wet day is one of two exponentials, a usual one and a heavy one, so that a few days are much larger
    than most. The mean temperature is a yearly wave, shifted on wet days, plus what is left of yesterday's deviation
    and something new; the daily range is smaller on wet days. This is the usual form of daily weather generators
    (Richardson 1981, Water Resources Research 17(1) 182-190, cited from memory).
Minutes
    The rain of each wet day falls in cells: rectangles of random length and intensity, gathered in storms, drawn until
    the day has its depth (after the pulse models of Rodriguez-Iturbe, Cox and Isham 1987, Proceedings of the Royal
    Society A 410, 269-288, cited from memory). A day has either showers, short and sharp and mostly in the afternoon,
    or bands, long and gentle at any hour.

Only uniform random numbers are drawn and turned into others by closed forms, so the same seed gives the same record.
``python -m runoff.weather.climates.invented FOLDER`` writes the sample files again, byte for byte.
"""

from __future__ import annotations

import dataclasses
import sys
from pathlib import Path
from typing import TypeAlias

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import WeatherError, raise_faults
from runoff.quantities import label
from runoff.writing import write_text

Monthly: TypeAlias = tuple[float, ...]  # January to December

SMALLEST_MM = 0.2  # the least that a wet day holds: one tip of a bucket gauge
_RANGE_SPREAD = 0.25  # of the logarithm of the daily range
_LEAST_RANGE_C = 0.5
_DAY_MINUTES = 1440.0


@dataclasses.dataclass(frozen=True, kw_only=True)
class Cells:
    """Rain cells of one kind: rectangles of rain gathered in storms.

    Parameters
    ----------
    mm_per_h
        Mean intensity of a cell, mm/h (exponential).
    minutes
        Mean length of a cell (exponential).
    in_storm
        Mean number of cells of a storm (geometric).
    apart_minutes
        Mean delay of a cell after its storm begins (exponential).
    """

    mm_per_h: float
    minutes: float
    in_storm: float
    apart_minutes: float


@dataclasses.dataclass(frozen=True, kw_only=True)
class InventedClimate:
    """The numbers of an invented climate; every tuple holds January to December.

    Parameters
    ----------
    name
        Name of the invented place.
    latitude, elevation_m
        Degrees, south negative; height, m.
    wet_after_dry, wet_after_wet
        Chance of a wet day after a dry one and after a wet one.
    mean_wet_mm
        Mean rain of a wet day, mm, more than 0.2.
    heavy_share, heavy_factor
        Share of wet days with heavy rain; how many times the mean of the other wet days theirs is.
    mean_c, wave_c, coldest_day
        Mean temperature of dry days over the year, half of their yearly wave (degC), day of the year when it is lowest.
    wet_shift_c
        How much warmer (above 0) or colder (below 0) wet days are than dry ones, degC.
    spread_c, memory
        Standard deviation of a day's temperature around this (degC); share of the deviation left the next day.
    range_dry_c, range_wet_c
        Mean of highest less lowest temperature on dry and on wet days, degC.
    shower_share
        Chance that a wet day has showers, not bands.
    showers, bands
        The cells of either kind.
    shower_hour
        Hour of the day around which showers gather (within 3 h or so).

    Raises
    ------
    WeatherError
        Naming every number that cannot be.
    """

    name: str
    latitude: float
    elevation_m: float
    wet_after_dry: Monthly
    wet_after_wet: Monthly
    mean_wet_mm: Monthly
    heavy_share: Monthly
    heavy_factor: float
    mean_c: float
    wave_c: float
    coldest_day: int
    wet_shift_c: Monthly
    spread_c: Monthly
    memory: float
    range_dry_c: Monthly
    range_wet_c: Monthly
    shower_share: Monthly
    showers: Cells
    bands: Cells
    shower_hour: float = 16.0

    def __post_init__(self) -> None:
        faults = []
        for field in dataclasses.fields(self):
            value = getattr(self, field.name)
            if isinstance(value, tuple) and len(value) != 12:
                faults.append(f"{field.name} needs 12 numbers, January to December (given {len(value)})")
        for name in ("wet_after_dry", "wet_after_wet", "heavy_share", "shower_share"):
            if not all(0.0 <= chance <= 1.0 for chance in getattr(self, name)):
                faults.append(f"{name} must lie between 0 and 1 (given {getattr(self, name)})")
        if not all(mean > SMALLEST_MM for mean in self.mean_wet_mm):
            faults.append(f"mean_wet_mm must be more than {SMALLEST_MM:g} mm (given {self.mean_wet_mm})")
        if not 0.0 <= self.memory < 1.0:
            faults.append(f"memory must be 0 or more and less than 1 (given {self.memory:g})")
        if not -90.0 <= self.latitude <= 90.0:
            faults.append(f"latitude must lie between -90 and 90 degrees (given {self.latitude:g})")
        raise_faults(f"invented climate {self.name}", faults, WeatherError)

    def wet_share(self) -> np.ndarray:
        """Return the share of wet days that each month's chances lead to in the long run: ``a / (a + 1 - b)``."""
        after_dry, after_wet = np.asarray(self.wet_after_dry), np.asarray(self.wet_after_wet)
        return after_dry / (after_dry + 1.0 - after_wet)


OSTREY = InventedClimate(
    name="Ostrey",
    latitude=47.5,
    elevation_m=210.0,
    wet_after_dry=(0.24, 0.23, 0.24, 0.25, 0.27, 0.27, 0.24, 0.22, 0.20, 0.21, 0.25, 0.26),
    wet_after_wet=(0.55, 0.53, 0.52, 0.51, 0.52, 0.50, 0.47, 0.46, 0.48, 0.52, 0.55, 0.57),
    mean_wet_mm=(8.3, 8.1, 7.9, 7.6, 8.9, 10.4, 11.4, 11.6, 10.2, 10, 10, 9),
    heavy_share=(0.10, 0.10, 0.11, 0.12, 0.14, 0.16, 0.18, 0.18, 0.16, 0.14, 0.12, 0.10),
    heavy_factor=2.4,
    mean_c=9.8,
    wave_c=10.4,
    coldest_day=18,
    wet_shift_c=(1.6, 1.4, 0.6, -0.8, -1.6, -2.0, -2.1, -1.8, -1.2, -0.2, 0.9, 1.5),
    spread_c=(4.2, 4.0, 3.6, 3.2, 2.9, 2.7, 2.5, 2.5, 2.7, 3.1, 3.6, 4.1),
    memory=0.68,
    range_dry_c=(7.2, 8.6, 10.4, 12.0, 12.8, 13.0, 13.2, 13.0, 12.0, 10.0, 7.6, 6.6),
    range_wet_c=(4.6, 5.2, 6.4, 7.4, 8.0, 8.4, 8.6, 8.4, 7.6, 6.2, 4.8, 4.3),
    shower_share=(0.05, 0.05, 0.10, 0.25, 0.45, 0.60, 0.70, 0.65, 0.45, 0.20, 0.08, 0.05),
    showers=Cells(mm_per_h=24.0, minutes=10.0, in_storm=4.0, apart_minutes=40.0),
    bands=Cells(mm_per_h=2.2, minutes=75.0, in_storm=4.0, apart_minutes=120.0),
)
SEED = 1847
FIRST_YEAR, YEARS = 1991, 30
SUMMER = 2009  # its June to August, with a long dry spell and sharp storms, is also written in 5-minute steps
_TABLE_YEARS = 200  # invented years behind the depth-duration table


def invented_days(
    climate: InventedClimate = OSTREY, *, first_year: int = FIRST_YEAR, years: int = YEARS, seed: int = SEED
) -> xr.Dataset:
    """Return an invented daily record.

    Parameters
    ----------
    climate
        The invented climate.
    first_year, years
        Calendar years of the record.
    seed
        The same seed gives the same record.

    Returns
    -------
    xarray.Dataset
        ``rain`` (mm), ``tmin``, ``tmax`` (degC) on ``time``, rounded to 0.1, marked as invented.
    """
    rng = np.random.default_rng(seed)
    time = pd.date_range(f"{first_year}-01-01", f"{first_year + years - 1}-12-31", freq="D")
    month = time.month.to_numpy() - 1

    def of_month(values: Monthly) -> np.ndarray:
        return np.asarray(values)[month]

    wet = _wet_days(rng.random(time.size), of_month(climate.wet_after_dry), of_month(climate.wet_after_wet))
    share = of_month(climate.heavy_share)
    usual = (of_month(climate.mean_wet_mm) - SMALLEST_MM) / (1.0 + share * (climate.heavy_factor - 1.0))
    mean = np.where(rng.random(time.size) < share, climate.heavy_factor, 1.0) * usual
    rain = np.where(wet, np.round(SMALLEST_MM + mean * _exponential(rng.random(time.size)), 1), 0.0)

    phase = 2.0 * np.pi * (time.day_of_year.to_numpy() - climate.coldest_day) / 365.25
    season = climate.mean_c - climate.wave_c * np.cos(phase) + np.where(wet, of_month(climate.wet_shift_c), 0.0)
    deviation = of_month(climate.spread_c) * _remembered(_normal(rng, time.size), climate.memory)
    factor = np.exp(_RANGE_SPREAD * _normal(rng, time.size) - _RANGE_SPREAD**2 / 2.0)
    width = np.maximum(
        np.where(wet, of_month(climate.range_wet_c), of_month(climate.range_dry_c)) * factor, _LEAST_RANGE_C
    )
    weather = xr.Dataset(
        {
            "rain": ("time", rain),
            "tmin": ("time", np.round(season + deviation - width / 2.0, 1)),
            "tmax": ("time", np.round(season + deviation + width / 2.0, 1)),
        },
        coords={"time": time, "lat": climate.latitude, "elevation": climate.elevation_m},
        attrs=_marks(climate, seed),
    )
    return label(weather)


def _marks(climate: InventedClimate, seed: int) -> dict[str, str]:
    return {
        "title": f"invented weather of the invented town of {climate.name}",
        "source": f"runoff.weather.climates.invented, seed {seed}",
        "time_label": "start of the interval",
        "invented": "yes",
    }


def _wet_days(chance: np.ndarray, after_dry: np.ndarray, after_wet: np.ndarray) -> np.ndarray:
    wet = np.empty(chance.size, dtype=bool)
    yesterday = False
    for day in range(chance.size):
        yesterday = chance[day] < (after_wet[day] if yesterday else after_dry[day])
        wet[day] = yesterday
    return wet


def _remembered(new: np.ndarray, memory: float) -> np.ndarray:
    """Return a series of variance 1 that keeps a share of its last value at every step."""
    series = np.empty(new.size)
    last = new[0]
    for step in range(new.size):
        last = memory * last + np.sqrt(1.0 - memory**2) * new[step]
        series[step] = last
    return series


def _exponential(uniform: np.ndarray) -> np.ndarray:
    """Return numbers of mean 1, exponentially distributed."""
    return -np.log1p(-uniform)


def _normal(rng: np.random.Generator, count: int) -> np.ndarray:
    """Return standard normal numbers, by the formula of Box and Muller (1958)."""
    return np.sqrt(2.0 * _exponential(rng.random(count))) * np.cos(2.0 * np.pi * rng.random(count))


def invented_minutes(
    rain: xr.DataArray, climate: InventedClimate = OSTREY, *, step_minutes: int = 5, seed: int = SEED
) -> xr.DataArray:
    """Deal daily rain to the minutes of its day, in cells of showers or bands.

    Parameters
    ----------
    rain
        Daily rain, mm, without gaps.
    climate
        The invented climate.
    step_minutes
        Step of the result, a divisor of 1440.
    seed
        The same seed gives the same storms.

    Returns
    -------
    xarray.DataArray
        Rain per step, mm, rounded to 0.01; the sum of each day is that of `rain`.

    Raises
    ------
    WeatherError
        When a day is not a whole number of steps.
    """
    if step_minutes < 1 or 1440 % step_minutes:
        raise WeatherError(f"invented_minutes: step_minutes must divide 1440 (given {step_minutes}); 1, 5 and 15 do")
    rng = np.random.default_rng(seed)
    per_day = 1440 // step_minutes
    depths, months = rain.to_numpy(), rain["time"].dt.month.to_numpy() - 1
    hundredths = np.zeros((rain.size, per_day))
    for day in np.flatnonzero(depths > 0.0):
        showery = rng.random() < climate.shower_share[months[day]]
        cells = climate.showers if showery else climate.bands
        origin = 60.0 * climate.shower_hour if showery else None
        fallen = _fallen(float(depths[day]), cells, origin, per_day, rng)
        hundredths[day] = _whole(fallen, round(100.0 * float(depths[day])))
    time = pd.date_range(rain["time"].to_numpy()[0], periods=hundredths.size, freq=f"{step_minutes}min")
    attrs = {"units": "mm", **_marks(climate, seed)}
    return xr.DataArray(hundredths.ravel() / 100.0, {"time": time}, ["time"], name="rain", attrs=attrs)


def _fallen(
    depth_mm: float, cells: Cells, gather_at: float | None, per_day: int, rng: np.random.Generator
) -> np.ndarray:
    """Return the rain of each step of a day, mm: cells are added until the day has its depth; the last is cut short."""
    step = _DAY_MINUTES / per_day
    fallen = np.zeros(per_day)
    left, storm = depth_mm, None
    while left > 0.0:
        new_storm, first, second, delay, length, force = rng.random(6)
        if storm is None or new_storm < 1.0 / cells.in_storm:
            # the mean of two uniform numbers gathers around the middle
            storm = _DAY_MINUTES * first if gather_at is None else gather_at + 360.0 * (first + second - 1.0)
        intensity = cells.mm_per_h / 60.0 * float(_exponential(force)) + 1e-6  # mm per minute
        minutes = min(cells.minutes * float(_exponential(length)), left / intensity, _DAY_MINUTES)
        begin = storm + cells.apart_minutes * float(_exponential(delay))
        # the day keeps its rain: what would begin after midnight does so in its first hours, nothing lasts past it
        begin = min(begin % _DAY_MINUTES, _DAY_MINUTES - minutes)
        left -= intensity * minutes
        from_step, to_step = int(begin / step), min(int((begin + minutes) / step), per_day - 1)
        edges = np.arange(from_step, to_step + 2) * step
        covered = np.minimum(edges[1:], begin + minutes) - np.maximum(edges[:-1], begin)
        fallen[from_step : to_step + 1] += intensity * np.maximum(covered, 0.0)
        if left < 1e-9 * depth_mm:
            break
    return fallen


def _whole(fallen: np.ndarray, hundredths: int) -> np.ndarray:
    """Return the rain of the steps in whole hundredths of a mm, adding up to the day: the largest remainders go up."""
    exact = fallen / fallen.sum() * hundredths
    whole = np.floor(exact)
    up = np.argsort(whole - exact, kind="stable")[: hundredths - int(whole.sum())]
    whole[up] += 1.0
    return whole


def invented_depth_duration(
    climate: InventedClimate = OSTREY, *, years: int = _TABLE_YEARS, seed: int = SEED
) -> pd.DataFrame:
    """Return the depth-duration table of an invented climate, mm: rows durations, columns return periods in years.

    Rain of many invented years in 5-minute steps; the largest depth of each year in any window of each duration; a
    Gumbel distribution through their mean and standard deviation, ``mean + s K`` with
    ``K = -(sqrt(6) / pi) (0.5772 + ln ln(T / (T - 1)))``, as the Canadian service does for its stations.

    Parameters
    ----------
    climate
        The invented climate.
    years
        Number of invented years whose largest depths are fitted.
    seed
        The same seed gives the same table.

    Returns
    -------
    pandas.DataFrame
        Depths, mm, rounded to 0.1; index ``duration`` as text (``"5 min"`` to ``"24 h"``), columns 2 to 100 years.
    """
    durations = {"5 min": 1, "10 min": 2, "15 min": 3, "30 min": 6, "1 h": 12, "2 h": 24, "3 h": 36, "6 h": 72,
                 "12 h": 144, "24 h": 288}  # fmt: skip
    days = invented_days(climate, first_year=2001, years=years, seed=seed + 1)["rain"]
    largest = []
    for year, rain in days.groupby("time.year"):
        fallen = np.concatenate([[0.0], np.cumsum(invented_minutes(rain, climate, seed=seed + int(year)).to_numpy())])
        largest.append([(fallen[steps:] - fallen[:-steps]).max() for steps in durations.values()])
    mean, spread = np.mean(largest, axis=0), np.std(largest, axis=0, ddof=1)
    table = {}
    for period in (2, 5, 10, 25, 50, 100):
        factor = -np.sqrt(6.0) / np.pi * (np.euler_gamma + np.log(np.log(period / (period - 1.0))))
        table[period] = np.round(mean + spread * factor, 1)
    return pd.DataFrame(table, index=pd.Index(list(durations), name="duration"))


_HEAD = (
    "# INVENTED for demonstration: the town of Ostrey does not exist and nothing here was measured.\n"
    "# Made by: python -m runoff.weather.climates.invented (seed {seed})\n"
)


def write_samples(folder: Path) -> list[Path]:
    """Write the sample weather of Ostrey into a folder and return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    head = _HEAD.format(seed=SEED)
    days = invented_days()
    minutes = invented_minutes(days["rain"].sel(time=slice(f"{SUMMER}-06-01", f"{SUMMER}-08-31")))
    place = f"latitude {OSTREY.latitude:g} degrees, {OSTREY.elevation_m:.0f} m above the sea"
    written = []
    for name, words, table, decimals in (
        ("ostrey_daily.csv", f"Days of {FIRST_YEAR}-{FIRST_YEAR + YEARS - 1}: rain (mm), lowest and highest temperature (degC); {place}.",
         _stamped({"rain_mm": days["rain"], "tmin_c": days["tmin"], "tmax_c": days["tmax"]}, "date", "%Y-%m-%d"), 1),
        ("ostrey_summer_5min.csv", f"June to August {SUMMER} in 5-minute steps: rain (mm); the stamp is the start of the step; {place}.",
         _stamped({"rain_mm": minutes}, "time", "%Y-%m-%d %H:%M"), 2),
        ("ostrey_depth_duration.csv", f"Depth of rain by duration (rows) and return period in years (columns).\n# latitude: {OSTREY.latitude:g}\n# units: mm",
         invented_depth_duration(), 1),
    ):  # fmt: skip
        text = f"{head}# {words}\n" + table.to_csv(float_format=f"%.{decimals}f", lineterminator="\n")
        written.append(write_text(folder / name, text))
    return written


def _stamped(columns: dict[str, xr.DataArray], name: str, form: str) -> pd.DataFrame:
    table = pd.DataFrame({column: values.to_numpy() for column, values in columns.items()})
    stamps = next(iter(columns.values())).indexes["time"].strftime(form)
    return table.set_index(pd.Index(stamps, name=name))


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m runoff.weather.climates.invented FOLDER")
    for path in write_samples(Path(sys.argv[1])):
        print(path)
