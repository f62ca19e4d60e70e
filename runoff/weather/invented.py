"""An invented climate: the documented, seeded generator behind the town of Ostrey, and free to use for other towns.

Nothing here was measured. The generator gives records that look like weather to a roof: wet and dry days in spells,
many small rains and few large ones, temperature that follows the season and is milder in range on wet days.

Days
    Wet or dry is a chain of two states with monthly chances (a wet day after a dry one, a wet day after a wet one).
    The amount of a wet day is a mixture of two exponentials, so a few rains are much larger than most.
    The mean temperature is a yearly wave, shifted on wet days, plus what is left of yesterday's deviation; the daily
    range is smaller on wet days. This is the usual form of daily generators (Richardson 1981, Water Resources
    Research 17(1), cited from memory).
Minutes
    The rain of each wet day of a daily record is dealt to storms at random times; a storm is a cluster of
    rectangular pulses (Rodriguez-Iturbe, Cox and Isham 1987, cited from memory), short and sharp in summer, scaled so
    that the day's sum is kept.

``python -m runoff.weather.invented FOLDER`` writes the sample files again, byte for byte.
"""

from __future__ import annotations

import dataclasses
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from runoff.quantities import label


@dataclasses.dataclass(frozen=True, kw_only=True)
class InventedClimate:
    """Monthly numbers of an invented climate; every tuple holds January to December.

    Parameters
    ----------
    name
        Name of the invented place.
    latitude
        Degrees, south negative.
    elevation_m
        Height, m.
    wet_after_dry, wet_after_wet
        Chance of a wet day after a dry and after a wet one.
    mean_wet_mm
        Mean rain of a wet day, mm.
    large_share, large_factor
        Share of wet days with large rain, and how many times the mean of the other wet days theirs is.
    mean_c, wave_c, coldest_day
        Mean temperature of the year, half its yearly wave (degC), day of year when it is lowest.
    wet_shift_c
        How much warmer (or colder) wet days are, degC.
    spread_c, memory
        Standard deviation of the day's deviation (degC) and the share that is left of it the next day.
    range_dry_c, range_wet_c
        Mean daily range on dry and wet days, degC.
    """

    name: str
    latitude: float
    elevation_m: float
    wet_after_dry: tuple[float, ...]
    wet_after_wet: tuple[float, ...]
    mean_wet_mm: tuple[float, ...]
    large_share: tuple[float, ...]
    large_factor: float
    mean_c: float
    wave_c: float
    coldest_day: int
    wet_shift_c: tuple[float, ...]
    spread_c: tuple[float, ...]
    memory: float
    range_dry_c: tuple[float, ...]
    range_wet_c: tuple[float, ...]


OSTREY = InventedClimate(
    name="Ostrey",
    latitude=47.5,
    elevation_m=210.0,
    wet_after_dry=(0.24, 0.23, 0.24, 0.25, 0.27, 0.27, 0.24, 0.22, 0.20, 0.21, 0.25, 0.26),
    wet_after_wet=(0.55, 0.53, 0.52, 0.51, 0.52, 0.50, 0.47, 0.46, 0.48, 0.52, 0.55, 0.57),
    mean_wet_mm=(5.4, 5.3, 5.8, 6.3, 7.2, 8.4, 9.2, 9.4, 8.3, 7.2, 6.6, 5.9),
    large_share=(0.10, 0.10, 0.11, 0.12, 0.14, 0.16, 0.18, 0.18, 0.16, 0.14, 0.12, 0.10),
    large_factor=2.6,
    mean_c=9.8,
    wave_c=10.4,
    coldest_day=18,
    wet_shift_c=(1.6, 1.4, 0.6, -0.8, -1.6, -2.0, -2.1, -1.8, -1.2, -0.2, 0.9, 1.5),
    spread_c=(4.2, 4.0, 3.7, 3.4, 3.2, 3.0, 2.8, 2.8, 3.0, 3.3, 3.7, 4.1),
    memory=0.68,
    range_dry_c=(7.2, 8.6, 10.4, 12.0, 12.8, 13.0, 13.2, 13.0, 12.0, 10.0, 7.6, 6.6),
    range_wet_c=(4.6, 5.2, 6.4, 7.4, 8.0, 8.4, 8.6, 8.4, 7.6, 6.2, 4.8, 4.3),
)
SEED = 1847
FIRST_YEAR, YEARS = 1991, 30
SUMMER = 2014  # the year whose summer is also written in 5-minute steps

_SHARPEST_MM_PER_5_MIN = 14.0  # a day's rain is spread until no step is sharper than the climate allows
_SMALLEST_MM = 0.2  # the least a wet day holds: one tip of a bucket gauge


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
    days = time.size

    def of_month(values: tuple[float, ...]) -> np.ndarray:
        return np.asarray(values)[month]

    wet = _wet_days(rng.random(days), of_month(climate.wet_after_dry), of_month(climate.wet_after_wet))
    large = rng.random(days) < of_month(climate.large_share)
    share = of_month(climate.large_share)
    small_mean = (of_month(climate.mean_wet_mm) - _SMALLEST_MM) / (1.0 + share * (climate.large_factor - 1.0))
    amount = _SMALLEST_MM + rng.exponential(size=days) * small_mean * np.where(large, climate.large_factor, 1.0)
    rain = np.where(wet, np.round(amount, 1), 0.0)

    season = climate.mean_c - climate.wave_c * np.cos(2 * np.pi * (time.dayofyear.to_numpy() - climate.coldest_day) / 365.25)
    new = rng.normal(size=days) * of_month(climate.spread_c) * np.sqrt(1.0 - climate.memory**2)
    deviation = np.empty(days)
    last = 0.0
    for day in range(days):
        last = climate.memory * last + new[day]
        deviation[day] = last
    mean = season + deviation + np.where(wet, of_month(climate.wet_shift_c), 0.0)
    width = np.where(wet, of_month(climate.range_wet_c), of_month(climate.range_dry_c)) * rng.gamma(12.0, 1 / 12.0, days)
    width = np.maximum(width, 0.5)
    weather = xr.Dataset(
        {
            "rain": ("time", rain),
            "tmin": ("time", np.round(mean - width / 2, 1)),
            "tmax": ("time", np.round(mean + width / 2, 1)),
        },
        coords={"time": time, "lat": climate.latitude, "elevation": climate.elevation_m},
    )
    weather.attrs.update(
        title=f"invented weather of the invented town of {climate.name}",
        source=f"runoff weather generator, seed {seed}",
        invented="yes",
    )
    return label(weather)


def _wet_days(chance: np.ndarray, after_dry: np.ndarray, after_wet: np.ndarray) -> np.ndarray:
    wet = np.empty(chance.size, dtype=bool)
    yesterday = False
    for day in range(chance.size):
        yesterday = chance[day] < (after_wet[day] if yesterday else after_dry[day])
        wet[day] = yesterday
    return wet


def invented_minutes(rain: xr.DataArray, *, step_minutes: int = 5, seed: int = SEED) -> xr.DataArray:
    """Deal daily rain to the minutes of its day, in clusters of rectangular pulses.

    Parameters
    ----------
    rain
        Daily rain, mm.
    step_minutes
        Step of the result, a divisor of 1440.
    seed
        The same seed gives the same storms.

    Returns
    -------
    xarray.DataArray
        Rain per step, mm, rounded to 0.01; the sum of each day is that of `rain`.
    """
    rng = np.random.default_rng(seed)
    per_day = 24 * 60 // step_minutes
    out = np.zeros((rain.size, per_day))
    for day, depth in enumerate(rain.to_numpy()):
        if depth > 0:
            out[day] = _dealt(float(depth), per_day, step_minutes, rng)
    time = pd.date_range(pd.Timestamp(rain["time"].to_numpy()[0]), periods=out.size, freq=f"{step_minutes}min")
    result = xr.DataArray(out.ravel(), {"time": time}, ["time"], name="rain", attrs={"units": "mm"})
    result.attrs.update(invented="yes", title="invented 5-minute rain", source=f"runoff weather generator, seed {seed}")
    return result


def _dealt(depth: float, per_day: int, step_minutes: int, rng: np.random.Generator) -> np.ndarray:
    """Return the rain of one day by step: one or two storms of pulses, in hundredths of a millimetre."""
    edges = np.arange(per_day + 1) * float(step_minutes)
    weight = np.zeros(per_day)
    for _ in range(1 + rng.poisson(0.5)):
        start = rng.uniform(0.0, 1440.0)
        sharp = rng.random() < 0.35  # a shower cell rather than a band of steady rain
        for _ in range(1 + rng.poisson(3.0 if sharp else 6.0)):
            begin = start + rng.exponential(40.0 if sharp else 150.0)
            end = begin + rng.exponential(22.0 if sharp else 80.0)
            force = rng.gamma(1.6) * (3.5 if sharp else 1.0)
            # what would run past midnight falls in the last step, so that the day keeps its rain
            covered = np.clip(np.minimum(edges[1:], end) - np.maximum(edges[:-1], begin), 0.0, None)
            weight += force * covered
    if weight.sum() <= 0.0:
        weight[-1] = 1.0
    hundredths = round(depth * 100)
    while weight.max() / weight.sum() * depth > _SHARPEST_MM_PER_5_MIN * step_minutes / 5.0:
        weight = np.convolve(weight, np.ones(3) / 3.0, mode="same")
    exact = weight / weight.sum() * hundredths
    dealt = np.floor(exact)
    rest = np.argsort(dealt - exact, kind="stable")[: hundredths - int(dealt.sum())]
    dealt[rest] += 1
    return dealt / 100.0


def invented_depth_duration() -> pd.DataFrame:
    """Return the invented depth-duration table of Ostrey, mm: rows durations, columns return periods (years).

    A power-law curve ``D = g(T) 26 mm (t / 60 min)^0.24`` above half an hour, steeper below, and a Gumbel growth
    curve ``g``: chosen to sit near the largest days of the generator, measured nowhere.
    """
    minutes = {"5 min": 5, "10 min": 10, "15 min": 15, "30 min": 30, "1 h": 60, "2 h": 120, "3 h": 180, "6 h": 360,
               "12 h": 720, "24 h": 1440}  # fmt: skip
    years = (2, 5, 10, 25, 50, 100)
    table = {}
    for period in years:
        growth = 1.0 + 0.32 * (-np.log(-np.log(1 - 1 / period)) + np.log(-np.log(0.5)))
        shape = {t: (t / 60.0) ** 0.24 * min(1.0, (t / 30.0) ** 0.22) for t in minutes.values()}
        table[period] = [round(26.0 * growth * shape[t], 1) for t in minutes.values()]
    frame = pd.DataFrame(table, index=list(minutes))
    frame.index.name = "duration"
    return frame


_HEAD = (
    "# INVENTED for demonstration: the town of Ostrey does not exist and nothing here was measured.\n"
    "# Made by: python -m runoff.weather.invented (seed {seed})\n"
)


def write_samples(folder: Path) -> list[Path]:
    """Write the sample weather of Ostrey into a folder and return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    days = invented_days()
    head = _HEAD.format(seed=SEED)
    daily = days[["rain", "tmin", "tmax"]].to_dataframe()[["rain", "tmin", "tmax"]]
    daily.index = daily.index.strftime("%Y-%m-%d")
    daily.columns = ["rain_mm", "tmin_c", "tmax_c"]
    daily_head = head + f"# Daily rain (mm), lowest and highest temperature (degC); latitude {OSTREY.latitude}, {OSTREY.elevation_m:.0f} m.\n"
    files = {"ostrey_daily.csv": daily_head + daily.to_csv(index_label="date", float_format="%.1f", lineterminator="\n")}
    summer = days["rain"].sel(time=slice(f"{SUMMER}-06-01", f"{SUMMER}-08-31"))
    minutes = invented_minutes(summer).to_series()
    minutes.index = minutes.index.strftime("%Y-%m-%d %H:%M")
    minute_head = head + "# Rain in 5-minute steps (mm); the stamp is the start of the step.\n"
    text = minutes.to_frame("rain_mm").to_csv(index_label="time", float_format="%.2f", lineterminator="\n")
    files[f"ostrey_summer_{SUMMER}_5min.csv"] = minute_head + text
    table_head = head + "# units: mm\n# Depth of rain by duration (rows) and return period in years (columns).\n"
    files["ostrey_depth_duration.csv"] = table_head + invented_depth_duration().to_csv(lineterminator="\n")
    written = []
    for name, text in files.items():
        path = folder / name
        path.write_text(text, encoding="utf-8", newline="\n")
        written.append(path)
    return written


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m runoff.weather.invented FOLDER")
    for path in write_samples(Path(sys.argv[1])):
        print(path)
