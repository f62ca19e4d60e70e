"""Fits of the two open 5-minute records of planted roofs: what they can tell and what not. Run by hand.

    python -m tests.trials.fit_measured_roofs [FOLDER]

Needs the folder of real data (default ``../shared/data`` beside the checkout). Writes ``fit_measured_roofs_result.md`` beside itself: figures
derived from the records, which are not part of the project. Runoff: copyright 2020-2022 Kompetenzzentrum Wasser Berlin gGmbH, MIT licence;
temperatures and the rain of Berlin-Dahlem: Deutscher Wetterdienst.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import pandas as pd
import xarray as xr

import runoff
from runoff.calibration import RoofFit, fit_roof
from runoff.weather.record.drifting_clock import daily_sums, on_regular_steps

#: The file holds about half the runoff: in soaked winter spells it reads 0.45-0.51 of the rain where it must be near all.
NEUBRANDENBURG_READS = 0.48
GAUGE_DAY = pd.Timedelta("6h50min")
NEUBRANDENBURG = slice("2014-10-01", "2015-12-04")


def described_roof(area_m2: float) -> runoff.Roof:
    """Return the plain reading of an extensive roof whose layers are not stated: 80 mm over an open board, nothing tuned."""
    layers = [
        runoff.Planting(),
        runoff.GrowingMedium(depth_mm=80.0),
        runoff.FilterFleece(),
        runoff.DrainageBoard(cup_storage_mm=0.0),
    ]
    return runoff.Roof(area_m2=area_m2, build_up=runoff.BuildUp(layers=layers))


def dated(path: Path, columns: list[int], year_at: int, latitude: float) -> xr.Dataset:
    """Return daily temperatures of a table without heading: year, month, day, then highest and lowest."""
    table = pd.read_csv(path, sep=r"\s+", header=None)
    days = pd.to_datetime(dict(zip(("year", "month", "day"), (table[year_at + k] for k in range(3)), strict=True)))
    found = xr.Dataset(coords={"time": pd.DatetimeIndex(days.to_numpy()), "lat": latitude})
    for name, at in zip(("tmax", "tmin"), columns, strict=True):
        found[name] = ("time", table[at].to_numpy(dtype=float), {"units": "degC"})
    return found.sortby("time")


def neubrandenburg(folder: Path) -> tuple[xr.Dataset, xr.Dataset, pd.Series]:
    """Return rain in 5 minutes, daily weather and measured overflow (mm in 5 minutes) of the roof in Neubrandenburg."""
    here = folder / "measured_roofs" / "neubrandenburg"
    rain = on_regular_steps(
        runoff.read_observed(here / "rain_5min.txt.gz", column="rain", units="mm", time_column="dateTime")
    ).loc[NEUBRANDENBURG]
    overflow = on_regular_steps(
        runoff.read_observed(here / "runoff_5min.txt.gz", units="mm", time_column="dateTime")
    ).loc[NEUBRANDENBURG]
    daily = dated(here / "temperature_daily.txt", [4, 5], 1, 53.56)
    # 23 h without rain or runoff readings: nothing is compared there, and no rain is put in
    time_axis = pd.DatetimeIndex(rain.index.to_numpy())
    weather = xr.Dataset({"rain": ("time", rain.fillna(0.0).to_numpy(), {"units": "mm"})}, coords={"time": time_axis})
    sums = rain.fillna(0.0).groupby(time_axis.floor("D")).sum().reindex(daily.indexes["time"]).fillna(0.0)
    daily["rain"] = ("time", sums.to_numpy(), {"units": "mm"})
    return weather, daily, overflow / NEUBRANDENBURG_READS


def berlin(folder: Path) -> tuple[xr.Dataset, pd.Series]:
    """Return daily weather of the city and daily overflow of the roof in Berlin; 11 June 2019, which missed the roof, left out."""
    steps = runoff.read_observed(
        folder / "measured_roofs" / "berlin" / "runoff_5min.txt.gz", units="mm", time_column="dateTime"
    )
    # a day of the rain gauge runs from 05:50 UTC, 06:50 of the logger's clock (UTC+1, from memory), to the next
    overflow = daily_sums(steps.set_axis(steps.index - GAUGE_DAY))
    overflow.loc["2019-06-10":"2019-06-14"] = float("nan")
    table = pd.read_csv(folder / "measured_weather" / "berlin_dahlem_2018_2020.txt.gz", sep=";", skipinitialspace=True)
    table.columns = table.columns.str.strip()
    found = xr.Dataset(
        coords={"time": pd.DatetimeIndex(pd.to_datetime(table["MESS_DATUM"], format="%Y%m%d").to_numpy()), "lat": 52.45}
    )
    for name, column, unit in (("rain", "RSK", "mm"), ("tmax", "TXK", "degC"), ("tmin", "TNK", "degC")):
        found[name] = ("time", table[column].to_numpy(dtype=float), {"units": unit})
    return found, overflow


def told(title: str, fit: RoofFit, seconds: float) -> list[str]:
    """Return the section of a fit."""
    return [
        f"## {title}",
        "",
        "```",
        fit.text(),
        "```",
        "",
        f"{seconds:.0f} s on the machine that wrote this page.",
        "",
    ]


def main(folder: Path) -> None:
    """Fit both roofs and write the page."""
    lines = [
        "# Fits of two open records of planted roofs",
        "",
        "Made by `python -m tests.trials.fit_measured_roofs`. Runoff in 5 minutes: copyright 2020-2022 Kompetenzzentrum Wasser Berlin",
        "gGmbH, MIT licence. Temperatures and the rain of Berlin-Dahlem: Deutscher Wetterdienst. Depths are not stated for either roof; both are",
        "described as 80 mm of brick and pumice mix over an open board, nothing tuned.",
        "",
    ]
    weather, climate, overflow = neubrandenburg(folder)
    began = time.perf_counter()
    fit = fit_roof(described_roof(101.0), weather, overflow, climate=climate)
    lines += told(
        f"Neubrandenburg, in 5 minutes (runoff over {NEUBRANDENBURG_READS}, the share the file holds)",
        fit,
        time.perf_counter() - began,
    )
    print("\n".join(lines[-6:]), flush=True)
    began = time.perf_counter()
    fit = fit_roof(described_roof(101.0), climate.sel(time=NEUBRANDENBURG), daily_sums(overflow))
    lines += told("Neubrandenburg, in days", fit, time.perf_counter() - began)
    weather, overflow = berlin(folder)
    began = time.perf_counter()
    fit = fit_roof(described_roof(194.0), weather, overflow)
    lines += told("Berlin, in days (rain of another gauge in the city)", fit, time.perf_counter() - began)
    print("\n".join(lines[-6:]), flush=True)
    path = Path(__file__).with_name("fit_measured_roofs_result.md")
    path.write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[2].parent / "shared" / "data")
