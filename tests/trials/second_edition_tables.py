"""What the second edition of the balance changed, in tables: the same roofs, places and records under both editions. Run by hand.

    python -m tests.trials.second_edition_tables [FOLDER]

Needs the folder of real data (default ``../shared/data`` beside the checkout). Writes ``second_edition_tables_result.md`` beside itself. The figures
of the first edition stand in ``second_edition_before.csv``: this script, run with ``--figures FILE`` in a checkout of it. Figures
derived from the records are kept, the records are not part of the project. Runoff: copyright 2020-2022 Kompetenzzentrum Wasser
Berlin gGmbH, MIT licence; temperatures and the rain of Berlin-Dahlem: Deutscher Wetterdienst; De Bilt: KNMI; Prince George: open
record of a research catchment; New York: NOAA.
"""

from __future__ import annotations

import csv
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

import runoff
from tests.published import own_weather
from tests.weather.test_check_numbers import KNMI

HERE = Path(__file__).parent
BEFORE, RESULT = HERE / "second_edition_before.csv", HERE / "second_edition_tables_result.md"
FALLS = (0.0, 0.005, 0.02)
#: The file of Neubrandenburg holds about half the runoff: see `tests.published.own_weather`.
SCALE = own_weather.NEUBRANDENBURG_SCALE
SEASONS = {"whole record": range(1, 13), "April to September": range(4, 10), "October to March": (10, 11, 12, 1, 2, 3)}
Figures = dict[tuple[str, str, str], float]


def roof(
    depth_mm: float = 80.0, area_m2: float = 100.0, *, mat: bool = True, cups_mm: float = 3.5, **given
) -> runoff.Roof:
    """Return a plain extensive roof over a drainage board, described in words both editions know."""
    layers = [
        runoff.Planting(canopy_storage_mm=1.0),
        runoff.GrowingMedium(depth_mm=depth_mm, porosity=0.60, field_capacity=0.33, wilting_point=0.08),
        runoff.FilterFleece(storage_mm=0.5),
        runoff.DrainageBoard(height_mm=25.0, cup_storage_mm=cups_mm, void_storage_mm=10.0, in_plane_flow_l_per_s_m=0.7),
        *([runoff.ProtectionMat(storage_mm=4.0)] if mat else []),
    ]
    outlet = runoff.Outlet(kind="round", diameter_mm=100.0, strainer=True)
    return runoff.Roof(
        build_up=runoff.BuildUp(layers=layers), area_m2=area_m2, flow_length_m=10.0, outlets=[outlet], **given
    )


def new_york(folder: Path) -> Iterator[tuple[str, str, str, float]]:
    """Yield retention and wet days of 30 years by drainage, fall and depth."""
    weather = runoff.read_weather(folder / "daily" / "USW00094728.dly", start="1990", end="2019", latitude=40.78)
    states = {"open": {}, "blocked": {"blocked_fraction": 1.0}}
    for sill in (20.0, 60.0):
        states[f"blocked, overflow at {sill:g} mm"] = {"blocked_fraction": 1.0, "emergency_overflow_mm": sill}
    for depth in (80.0, 40.0):
        for fall in FALLS:
            for state, given in states.items():
                facts = runoff.summarize(runoff.simulate(roof(depth, fall=fall, **given), weather))
                row = f"{depth:g} mm, fall {fall:g}, {state}"
                yield "New York 1990-2019", row, "retention, %", 100.0 * float(facts["retention"])
                yield "New York 1990-2019", row, "waterlogged days a year", float(facts["waterlogged_days"])
                if "waterlogged_area_days" in facts:
                    yield "New York 1990-2019", row, "area days a year", float(facts["waterlogged_area_days"])
                yield "New York 1990-2019", row, "longest spell, days", float(facts["longest_waterlogged_spell"])


def frozen(folder: Path) -> Iterator[tuple[str, str, str, float]]:
    """Yield what is kept where winters freeze."""
    daily = folder / "daily"
    records = {
        "De Bilt 1990-2019": runoff.read_weather(
            daily / "etmgeg_260.txt.gz", start="1990", end="2019", latitude=52.1, **KNMI
        ),
        "New York 1990-2019": runoff.read_weather(daily / "USW00094728.dly", start="1990", end="2019", latitude=40.78),
        "Prince George 1972-2001": runoff.read_weather(
            daily / "Salmon-River-Near-Prince-George_meteo_daily.nc", start="1972", end="2001", latitude=54.48
        ),
    }
    for place, weather in records.items():
        run = runoff.simulate(roof(), weather)
        winter = run["time"].dt.month.isin([11, 12, 1, 2, 3])
        for part, chosen in (("all year", run), ("November to March", run.isel(time=winter))):
            kept = 1.0 - float(chosen["overflow"].sum()) / float(chosen["rain"].sum())
            yield "Frozen climates", f"{place}, {part}", "retention, %", 100.0 * kept
        mean = (weather["tmin"] + weather["tmax"]) / 2.0 if "tmean" not in weather else weather["tmean"]
        held = run["evapotranspiration"].where((run["snow_water"] > 0.0) | (mean <= 0.0), 0.0)
        drawn = float(held.sum()) / len(np.unique(run["time"].dt.year))
        yield "Frozen climates", place, "drawn under snow or frost, mm a year", drawn


def efficiency(ours: pd.Series, measured: pd.Series) -> float:
    """Return the Nash-Sutcliffe efficiency."""
    return float(1.0 - ((ours - measured) ** 2).sum() / ((measured - measured.mean()) ** 2).sum())


def neubrandenburg(folder: Path) -> Iterator[tuple[str, str, str, float]]:
    """Yield how a plain reading in 5 minutes, nothing tuned, compares with the roof's own outlet."""
    place = folder / "measured_roofs" / "neubrandenburg"
    daily, _ = own_weather.neubrandenburg(folder)
    series = {}
    for name in ("rain", "runoff"):
        table = pd.read_csv(place / f"{name}_5min.txt.gz", sep=";", parse_dates=["dateTime"], index_col="dateTime")
        series[name] = table.iloc[:, 0].astype(float).resample("5min").sum().loc["2014-09-13":"2015-12-04"]
    rain, measured = series["rain"].fillna(0.0), series["runoff"].fillna(0.0) / SCALE
    rain[rain > 9.5] = 0.0  # a fault of the gauge: no runoff followed
    weather = xr.Dataset(coords={"time": pd.DatetimeIndex(rain.index.to_numpy()), "lat": 53.56})
    weather["rain"] = ("time", rain.to_numpy(), {"units": "mm"})
    run = runoff.simulate(roof(80.0, 101.0, mat=False, cups_mm=0.0), weather, climate=daily)
    ours = pd.Series(run["overflow"].to_numpy(), rain.index).loc["2014-10-01":]
    rain, measured = rain.loc["2014-10-01":], measured.loc["2014-10-01":]
    where = "Neubrandenburg, October 2014 to 4 December 2015, in 5 minutes"
    for season, months in SEASONS.items():
        of = rain.index.month.isin(list(months))
        yield where, season, "kept, %", 100.0 * (1.0 - ours[of].sum() / rain[of].sum())
        yield where, season, "kept as measured, %", 100.0 * (1.0 - measured[of].sum() / rain[of].sum())
    yield where, "whole record", "Nash-Sutcliffe, 5 min", efficiency(ours, measured)
    hourly = ours.resample("h").sum(), measured.resample("h").sum()
    yield where, "whole record", "Nash-Sutcliffe, hourly", efficiency(*hourly)
    ratios, lags = events(rain, ours, measured)
    yield where, "events", "events of 5 mm and more that left 0.2 mm in an hour", float(len(ratios))
    for name, share in (("lower quartile", 0.25), ("median", 0.5), ("upper quartile", 0.75)):
        yield where, "events", f"peak over measured, {name}", float(np.quantile(ratios, share))
    yield where, "events", "peak later than measured, min, median", float(np.median(lags))


def events(rain: pd.Series, ours: pd.Series, measured: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Return our 5-min peaks over the measured ones, and by how many minutes ours come later: rain apart by 6 h dry."""
    wet = np.flatnonzero(rain.to_numpy() > 0.0)
    breaks = np.flatnonzero(np.diff(wet) > 72)
    firsts, lasts = wet[np.append(0, breaks + 1)], wet[np.append(breaks, wet.size - 1)]
    ratios, lags = [], []
    for first, last in zip(firsts, lasts, strict=True):
        span = slice(first, last + 36)
        theirs, own = measured.to_numpy()[span], ours.to_numpy()[span]
        an_hour = np.convolve(theirs, np.ones(12), "same").max()
        if rain.to_numpy()[span].sum() >= 5.0 and an_hour >= 0.2:
            ratios.append(own.max() / theirs.max())
            lags.append(5.0 * (int(own.argmax()) - int(theirs.argmax())))
    return np.array(ratios), np.array(lags)


def berlin(folder: Path) -> Iterator[tuple[str, str, str, float]]:
    """Yield the overflow of each month, June 2019 left out."""
    weather, left = own_weather.berlin(folder)
    run = runoff.simulate(roof(80.0, 194.0, mat=False, cups_mm=0.0), weather)
    for name, daily in (("overflow, mm", run["overflow"].sel(time=left["time"])), ("overflow as measured, mm", left)):
        monthly = daily.to_series().groupby(daily.to_series().index.strftime("%Y-%m")).sum()
        for month, depth in monthly.items():
            yield "Berlin, January 2019 to February 2020, daily", str(month), name, float(depth)


def figures(folder: Path) -> Figures:
    """Return every figure by table, row and name."""
    found: Figures = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for part in (new_york, frozen, neubrandenburg, berlin):
            found |= {(table, row, name): value for table, row, name, value in part(folder)}
    return found


def write_figures(found: Figures, path: Path) -> None:
    """Write figures as a table of four columns."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["table", "row", "figure", "value"])
        writer.writerows([*key, f"{value:.3f}"] for key, value in found.items())


def read_figures(path: Path) -> Figures:
    """Return the figures that `write_figures` wrote."""
    with path.open(encoding="utf-8", newline="") as file:
        return {(row["table"], row["row"], row["figure"]): float(row["value"]) for row in csv.DictReader(file)}


def told(found: Figures, before: Figures) -> str:
    """Return the tables in Markdown: each figure of the second edition, that of the first in brackets."""
    lines = [
        "# What the second edition of the balance changed",
        "",
        "Second edition, and in brackets the first (a dash where it has no such figure); the same roofs, described in words both",
        "know, nothing tuned. Written by `python -m tests.trials.second_edition_tables`.",
    ]
    for table in dict.fromkeys(key[0] for key in found):
        names = list(dict.fromkeys(key[2] for key in found if key[0] == table))
        lines += ["", f"## {table}", "", f"| | {' | '.join(names)} |", "|---" * (len(names) + 1) + "|"]
        for row in dict.fromkeys(key[1] for key in found if key[0] == table):
            cells = [_cell((table, row, name), found, before) for name in names]
            lines.append(f"| {row} | {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def _cell(key: tuple[str, str, str], found: Figures, before: Figures) -> str:
    if key not in found:
        return ""
    name = key[2]
    whole = name.startswith(("longest", "events", "peak later"))
    digits = 2 if name.startswith(("Nash", "peak over")) else 0 if whole else 1
    if "as measured" in name or name.startswith("events"):  # the same whichever edition is held against it
        return f"{found[key]:.{digits}f}"
    return f"{found[key]:.{digits}f} ({f'{before[key]:.{digits}f}' if key in before else '-'})"


def main(arguments: list[str]) -> None:
    """Write the tables, or the figures alone."""
    aside = arguments.index("--figures") if "--figures" in arguments else None
    rest = arguments if aside is None else arguments[:aside] + arguments[aside + 2 :]
    folder = Path(rest[0]) if rest else Path(__file__).resolve().parents[2].parent / "shared" / "data"
    found = figures(folder)
    if aside is not None:
        write_figures(found, Path(arguments[aside + 1]))
        return
    RESULT.write_text(told(found, read_figures(BEFORE)), encoding="utf-8")
    print(RESULT.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main(sys.argv[1:])
