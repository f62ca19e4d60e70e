"""Roofs measured under weather that is held: the records of their own place and months, and what their outlets gave.

Two roofs have open 5-minute runoff (Kompetenzzentrum Wasser Berlin, MIT licence; weather: Deutscher Wetterdienst); the others
are published figures, run on the record of their own city in their own months.
"""

from __future__ import annotations

import functools
import gzip
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

import runoff
from tests.weather.test_check_numbers import KNMI

INCH, FILL = 25.4, {"rain": "monthly-mean", "temperature": "interpolate"}
#: The file of Neubrandenburg holds about half the runoff: in soaked winter spells 0.45-0.51 of the rain, where all must leave.
NEUBRANDENBURG_SCALE = 0.48


def daily(rain: pd.Series, tmin: pd.Series, tmax: pd.Series, latitude: float) -> xr.Dataset:
    """Return daily weather with reference evapotranspiration from temperatures; the days of the rain series."""
    table = pd.DataFrame({"rain": rain, "tmin": tmin.reindex(rain.index), "tmax": tmax.reindex(rain.index)})
    table[["tmin", "tmax"]] = table[["tmin", "tmax"]].interpolate(limit=5)  # single days are missing at most
    if table.isna().any().any():
        raise ValueError(f"{int(table.isna().any(axis=1).sum())} days lack rain or temperature; leave them out")
    units = {"rain": "mm", "tmin": "degC", "tmax": "degC"}
    given = {name: ("time", table[name].to_numpy(float), {"units": unit}) for name, unit in units.items()}
    weather = xr.Dataset(given, coords={"time": table.index.to_numpy(), "lat": latitude})
    weather["tmean"] = ((weather["tmin"] + weather["tmax"]) / 2.0).assign_attrs(units="degC")
    weather["reference_et"] = runoff.reference_et(weather)
    return weather


@functools.cache
def portland(folder: Path) -> xr.Dataset:
    """Return the city's forecast office, 2013-2017 (one year before the plots)."""
    table = pd.read_csv(
        folder / "measured_weather" / "portland_USC00356750_2011_2018.csv.gz", index_col="DATE", parse_dates=True
    )
    table = table.loc["2013":"2017"].asfreq("D")  # type: ignore[misc]
    rain = table["PRCP"].astype(float) * INCH
    celsius = {name: (table[name].astype(float) - 32.0) / 1.8 for name in ("TMIN", "TMAX")}
    return daily(rain.fillna(0.0) if rain.isna().sum() <= 1 else rain, celsius["TMIN"], celsius["TMAX"], 45.5)


@functools.cache
def chicago(airport: str, folder: Path) -> xr.Dataset:
    """Return one of the two airports, 2006 to July 2009."""
    name = {"O'Hare": "chicago_ohare_USW00094846", "Midway": "chicago_midway_USW00014819"}[airport]
    path = folder / "measured_weather" / f"{name}_2005_2010.dly.gz"
    weather = runoff.read_weather(path, start="2006", end="2009", latitude=41.9, fill=FILL)
    return weather.sel(time=slice(None, "2009-07-31"))


@functools.cache
def new_york(folder: Path) -> xr.Dataset:
    """Return Central Park, 2010 to 2012."""
    return runoff.read_weather(folder / "daily" / "USW00094728.dly", start="2010", end="2012", latitude=40.78)


@functools.cache
def berlin(folder: Path) -> tuple[xr.Dataset, xr.DataArray]:
    """Return the weather of Dahlem (same city) and the roof's daily runoff, mm, on its whole days.

    June 2019 is left out: 48.0 mm fell at Dahlem on the 11th and 0.7 mm left the roof, which the storm missed.
    """
    path = folder / "measured_weather" / "berlin_dahlem_2018_2020.txt.gz"
    table = pd.read_csv(path, sep=";", skipinitialspace=True, na_values=[-999], encoding="latin-1")
    table.columns = [name.strip() for name in table.columns]
    table.index = pd.DatetimeIndex(pd.to_datetime(table["MESS_DATUM"].astype(str)))
    table = table.loc[:"2020-02-29"]  # type: ignore[misc]
    weather = daily(table["RSK"], table["TNK"], table["TXK"], 52.5)
    left = _five_minutes(folder / "measured_roofs" / "berlin" / "runoff_5min.txt.gz").fillna(0.0)  # 58 of 116,444
    left = left.resample("D").sum().loc["2019-01-22":"2020-02-29"]  # type: ignore[misc]
    return weather, xr.DataArray(left[left.index.strftime("%Y-%m") != "2019-06"].rename_axis("time"))


@functools.cache
def neubrandenburg(folder: Path) -> tuple[xr.Dataset, xr.DataArray]:
    """Return the roof's own rain and its daily runoff over the scale of the file, mm, October 2014 to 4 December 2015."""
    place = folder / "measured_roofs" / "neubrandenburg"
    rain = _five_minutes(place / "rain_5min.txt.gz")
    rain[rain > 9.5] = 0.0  # 9.57 mm in 5 minutes on 2015-05-31, no runoff followed: a fault of the gauge
    rain, left = (
        one.resample("D").sum().loc["2014-09-13":"2015-12-04"]  # type: ignore[misc]
        for one in (rain, _five_minutes(place / "runoff_5min.txt.gz"))
    )
    columns = ["station", "year", "month", "day", "tmax", "tmin"]
    warm = pd.read_csv(place / "temperature_daily.txt", sep=r"\s+", names=columns)
    warm.index = pd.DatetimeIndex(pd.to_datetime(warm[["year", "month", "day"]]))
    weather = daily(rain, warm["tmin"], warm["tmax"], 53.56)
    return weather, xr.DataArray((left.loc["2014-10-01":] / NEUBRANDENBURG_SCALE).rename_axis("time"))  # type: ignore[misc]


def _five_minutes(path: Path) -> pd.Series:
    table = pd.read_csv(path, sep=";", parse_dates=["dateTime"], index_col="dateTime")
    return table.iloc[:, 0].astype(float)


@functools.cache
def sheffield(first_year: int, folder: Path) -> xr.Dataset:
    """Return January 2007 to May 2009: days of De Bilt from a year on, rescaled month by month to Sheffield's record."""
    lines = _monthly(folder)
    days = _de_bilt(folder)
    pieces = []
    for year, month in [(y, m) for y in (2007, 2008, 2009) for m in range(1, 13) if (y, m) <= (2009, 5)]:
        own = lines.loc[(year, month)]
        piece = days.loc[f"{first_year + year - 2007}-{month:02d}"].copy()
        wanted = pd.date_range(f"{year}-{month:02d}-01", periods=pd.Period(f"{year}-{month:02d}").days_in_month)
        piece = piece.iloc[[*range(len(piece)), -1][: len(wanted)]].set_axis(
            wanted
        )  # 29 February: the day before again
        piece["rain"] *= own["rain"] / piece["rain"].sum()
        for name in ("tmin", "tmax"):
            piece[name] += own[name] - piece[name].mean()
        piece["tmax"] = np.maximum(piece["tmax"], piece["tmin"] + 0.1)
        pieces.append(piece)
    whole = pd.concat(pieces)
    return daily(whole["rain"], whole["tmin"], whole["tmax"], 53.4)


@functools.cache
def _de_bilt(folder: Path) -> pd.DataFrame:
    weather = runoff.read_weather(
        folder / "daily" / "etmgeg_260.txt.gz", start="1990", end="2018", latitude=52.1, **KNMI
    )
    return weather.to_dataframe()[["rain", "tmin", "tmax"]]


@functools.cache
def _monthly(folder: Path) -> pd.DataFrame:
    path = folder / "measured_weather" / "sheffield_monthly.txt.gz"
    with gzip.open(path, "rt", encoding="utf-8") as file:
        rows = [line.replace("*", " ").split() for line in file if line.split()[:1] and line.split()[0].isdigit()]
    wanted = [[float(value) for value in row[:6]] for row in rows if "2007" <= row[0] <= "2009"]
    table = pd.DataFrame(wanted, columns=["year", "month", "tmax", "tmin", "frost", "rain"])
    return table.astype({"year": int, "month": int}).set_index(["year", "month"])
