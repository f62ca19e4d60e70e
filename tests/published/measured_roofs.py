"""What published roofs measured, and what the package makes of the same build-up on the nearest real weather held.

``python -m tests.published.measured_roofs`` writes `measured_roofs_result.csv` and `.md` beside this file, from the folder of
real weather beside the checkout. Layers have their defaults everywhere; a case sets only what its source states: depth, cups,
mats, measured storage. Nothing is tuned. Ranges (5-95 %) draw materials by Latin hypercube within the materials table and
years of the record in blocks; with under five years the years are drawn too, but the spread is then too narrow.
"""

from __future__ import annotations

import csv
import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

import runoff
from runoff.sizing.likely_ranges import block_years_drawn, draw_roofs, ranges_of
from runoff.sizing.sweeping import totals_of_designs
from tests.published.soil_water import days
from tests.weather.test_check_numbers import KNMI, USCRN

FOLDER = Path(__file__).parent
CASES = FOLDER / "measured_roofs.csv"
RESULT = FOLDER / "measured_roofs_result.csv"
PAGE = FOLDER / "measured_roofs_result.md"
MEMBERS, RESAMPLES, BLOCK_YEARS, SEED = 100, 40, 3, 1
EVENT_MEMBERS = 20  # whole traces are kept for events


# --- build-ups -----------------------------------------------------------------------------------------------


def _roof(depth_mm: float, *under: Any, **medium: float) -> runoff.Roof:
    plain = (runoff.DrainageBoard(material="drainage mat without cups"),)
    top = (
        runoff.Planting(material="sedum"),
        runoff.GrowingMedium(depth_mm=depth_mm, **medium),
        runoff.FilterFleece(),
    )
    return runoff.Roof(build_up=runoff.BuildUp(layers=[*top, *(under or plain)]), area_m2=100.0)


BUILD_UPS: dict[str, Callable[[], runoff.Roof]] = {
    "80 mm cups and mat": lambda: _roof(80.0, runoff.DrainageBoard(), runoff.ProtectionMat()),
    "25 mm over retention fleece": lambda: _roof(
        25.0, runoff.DrainageBoard(cups_up=False), runoff.ProtectionMat(storage_mm=7.5)
    ),
    # 38 mm measured in 76 mm, so 0.50 of the volume over the default wilting point
    "76 mm with measured storage": lambda: _roof(76.0, porosity=0.70, field_capacity=0.58),
    **{
        f"{depth:g} mm": functools.partial(_roof, depth)
        for depth in (32.0, 35.0, 40.0, 50.0, 75.0, 76.0, 80.0, 95.0, 100.0, 125.0, 150.0)
    },
}


# --- climates ------------------------------------------------------------------------------------------------


@functools.cache
def climate(name: str, folder: Path) -> xr.Dataset:
    """Return the real weather of a name; gaps of a few days are filled by a named method and counted in its attributes."""
    fill = {"rain": "monthly-mean", "temperature": "interpolate"}
    daily = folder / "daily"
    if name == "De Bilt":
        return runoff.read_weather(daily / "etmgeg_260.txt.gz", start="1990", end="2019", latitude=52.1, **KNMI)
    if name == "New York":
        return runoff.read_weather(daily / "USW00094728.dly", start="1990", end="2019", latitude=40.78)
    if name == "Houston":
        return runoff.read_weather(
            daily / "USW00012960.dly.gz",
            start="1998",
            end="2019",
            latitude=29.98,
            et_method="hargreaves-samani",
            fill=fill,
        )
    if name == "Bedford":
        path = daily / "IN_Bedford_5_WNW.txt"
        return runoff.read_weather(
            path, start="2008", end="2016", latitude=38.89, elevation_m=232.0, fill=fill, **USCRN
        )
    if name == "Seattle":
        return seattle()
    cities = runoff.read_weather(folder / "gridded" / "daily_surface_cancities_1990-1993.nc")
    return cities.sel(site=name, drop=True)


def seattle() -> xr.Dataset:
    """Return the Seattle record of the wheel of vega-datasets (2012-2015)."""
    from vega_datasets import local_data

    table = local_data.seattle_weather().set_index("date")
    weather = xr.Dataset(
        {
            "rain": ("time", table["precipitation"].to_numpy(), {"units": "mm"}),
            "tmin": ("time", table["temp_min"].to_numpy(), {"units": "degC"}),
            "tmax": ("time", table["temp_max"].to_numpy(), {"units": "degC"}),
        },
        coords={"time": table.index.to_numpy(), "lat": 47.6},
    )
    weather["tmean"] = ((weather["tmin"] + weather["tmax"]) / 2.0).assign_attrs(units="degC")
    weather["reference_et"] = runoff.reference_et(weather)
    return weather


# --- figures -------------------------------------------------------------------------------------------------


@functools.cache
def totals(build_up: str, name: str, folder: Path) -> xr.Dataset:
    """Return yearly totals of the roof as described (design 0) and of roofs drawn within the ranges of its materials."""
    roof = BUILD_UPS[build_up]()
    drawn, _ = draw_roofs(roof, ranges_of(roof), members=MEMBERS, seed=SEED)
    return totals_of_designs([roof, *drawn], climate(name, folder))


@functools.cache
def surface_totals(kind: str, name: str, folder: Path) -> xr.Dataset:
    """Return yearly totals of a bare or gravel roof, in the words of a planted one; no range of materials."""
    surface = runoff.BareSurface(kind="gravel" if kind == "gravel" else "membrane")
    found = totals_of_designs([BUILD_UPS["80 mm"]()], climate(name, folder), comparison=surface)
    return found.assign(overflow=found["bare_overflow"].expand_dims("design", 1))


def retention(found: xr.Dataset) -> tuple[float, np.ndarray]:
    """Return cumulative retention in percent as described, and of every drawn roof in every drawn record."""
    rain, overflow = found["rain"].to_numpy(), found["overflow"].transpose("year", "design").to_numpy()
    weights = years_drawn(rain.size)
    kept = 100.0 * (1.0 - (weights @ overflow) / (weights @ rain)[:, None])
    as_described = 100.0 * (1.0 - overflow[:, 0].sum() / rain.sum())
    return float(as_described), kept[:, 1:] if kept.shape[1] > 1 else kept


def years_drawn(years: int) -> np.ndarray:
    """Return how often each year is drawn; blocks shorten with a short record."""
    return block_years_drawn(years, resamples=RESAMPLES, block_years=min(BLOCK_YEARS, max(1, years // 4)), seed=SEED)


def of_months(found: xr.Dataset, first: int, last: int) -> tuple[float, np.ndarray]:
    """Return retention in percent of the months from first to last (over the turn of the year when first is later)."""
    months = [m for m in range(1, 13) if (first <= m <= last if first <= last else m >= first or m <= last)]
    rain = found["rain_by_month"].sel(month=months).sum("month").to_numpy()
    overflow = found["overflow_by_month"].sel(month=months).sum("month").to_numpy()
    kept = 100.0 * (1.0 - overflow / rain)
    return float(kept[0]), kept[1:]


def against_the_bare_roof(found: xr.Dataset) -> tuple[float, np.ndarray]:
    """Return overflow over the overflow of the bare roof."""
    overflow, bare = found["overflow"].transpose("year", "design").to_numpy(), found["bare_overflow"].to_numpy()
    weights = years_drawn(bare.size)
    share = (weights @ overflow) / (weights @ bare)[:, None]
    return float(overflow[:, 0].sum() / bare.sum()), share[:, 1:]


@functools.cache
def events(build_up: str, name: str, folder: Path) -> tuple[np.ndarray, np.ndarray]:
    """Return rain (mm) and retention (percent, per roof and event) of the runs of wet days of a record."""
    roof = BUILD_UPS[build_up]()
    drawn, _ = draw_roofs(roof, ranges_of(roof), members=EVENT_MEMBERS, seed=SEED)
    run = runoff.simulate([roof, *drawn], climate(name, folder))
    rain, overflow = run["rain"].to_numpy(), run["overflow"].to_numpy()
    rain = rain if rain.ndim == 1 else rain[0]
    wet = rain >= 1.0
    starts = np.flatnonzero(wet & ~np.concatenate([[False], wet[:-1]]))
    depth = np.add.reduceat(rain, starts)
    left = np.add.reduceat(overflow, starts, axis=-1)
    return depth, 100.0 * (1.0 - np.minimum(1.0, left / depth))


def mean_event(build_up: str, name: str, folder: Path, quantity: str) -> tuple[float, np.ndarray]:
    """Return the mean retention of events under or over a depth named in the quantity."""
    depth, kept = events(build_up, name, folder)
    side, limit = quantity.removeprefix("mean event ").removesuffix(" mm").split()
    chosen = depth < float(limit) if side == "under" else depth > float(limit)
    means = kept[:, chosen].mean(axis=1)
    return float(means[0]), means[1:]


def drying(reference_et_mm: float, quantity: str) -> tuple[float, np.ndarray]:
    """Return the evapotranspiration of an 80 mm tray of medium (mm/day) as it dries from field capacity."""
    plain = runoff.BuildUp(layers=[runoff.GrowingMedium(depth_mm=80.0), runoff.DrainageBoard(cups_up=False)])
    roof = runoff.Roof(build_up=plain)
    names = ("medium.field_capacity", "medium.wilting_point")
    drawn, _ = draw_roofs(roof, {name: ranges_of(roof)[name] for name in names}, members=MEMBERS, seed=SEED)
    course = [
        days(one, 1.0, 0.0, [0.0] * 28, [reference_et_mm] * 28)["evapotranspiration"].to_numpy()
        for one in [roof, *drawn]
    ]
    values = [one.mean() if "mean" in quantity else one[7 if " 7 " in quantity else 14] for one in course]
    return float(values[0]), np.array(values[1:])


def figure(row: dict[str, str], folder: Path) -> tuple[float, np.ndarray]:
    """Return our figure for one case, and the values that make its range."""
    quantity, build_up, name = row["quantity"], row["build_up"], row["climate"]
    if name.startswith("chamber"):
        return drying(float(name.split()[1]), quantity)
    if quantity.startswith("mean event"):
        return mean_event(build_up, name, folder, quantity)
    if quantity.startswith("difference"):
        deep, shallow = (
            retention(totals(f"{word} mm", name, folder)) for word in build_up.removesuffix(" mm").split(" less ")
        )
        return deep[0] - shallow[0], deep[1] - shallow[1]  # members are drawn alike, so pairs differ by depth alone
    if quantity.startswith("annual retention less that of "):
        here, there = (
            retention(totals(build_up, one, folder))
            for one in (name, quantity.removeprefix("annual retention less that of "))
        )
        return here[0] - there[0], here[1] - there[1]
    if build_up in ("gravel", "bare"):
        return retention(surface_totals(build_up, name, folder))
    found = totals(build_up, name, folder)
    if quantity.startswith("overflow over"):
        return against_the_bare_roof(found)
    months = {"May to September": (5, 9), "December to February": (12, 2), "May to October": (5, 10)}
    season = quantity.removeprefix("retention ")
    return of_months(found, *months[season]) if season in months else retention(found)


def verdict(row: dict[str, str], value: float, low: float, high: float) -> str:
    """Say how ours lies to the measured band: inside it, overlapping with our range, or apart and by how much."""
    band = float(row["measured_low"]), float(row["measured_high"])
    if band[0] <= value <= band[1]:
        return "inside"
    if low <= band[1] and band[0] <= high:
        return "overlaps"
    off = value - (band[1] if value > band[1] else band[0])
    return f"{'above' if off > 0 else 'below'} by {abs(off):.2g} {row['unit'].replace('%', 'points').replace('1', '')}".strip()


def cases() -> list[dict[str, str]]:
    """Return the rows of measured roofs."""
    with CASES.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def results(folder: Path) -> list[dict[str, str]]:
    """Return every case with our figure, its range and the verdict."""
    rows = []
    for row in cases():
        value, spread = figure(row, folder)
        low, high = np.quantile(spread, (0.05, 0.95))
        digits = ".2f" if row["unit"] in ("1", "mm/day") else ".1f"
        said = verdict(row, value, low, high)
        ours = {
            "ours": f"{value:{digits}}",
            "ours_5": f"{low:{digits}}",
            "ours_95": f"{high:{digits}}",
            "verdict": said,
        }
        why = "" if said == "inside" else row["why"]
        rows.append({**{k: v for k, v in row.items() if k not in ("why", "asserted")}, **ours, "why": why})
    return rows


def page(rows: list[dict[str, str]]) -> str:
    """Return the table as Markdown."""
    count = {word: sum(row["verdict"].startswith(word) for row in rows) for word in ("inside", "overlaps")}
    apart = len(rows) - sum(count.values())
    lines = [
        "# Measured roofs",
        "",
        f"{len(rows)} comparisons: ours lies inside the measured band in {count['inside']}, our 5-95 % range reaches it in "
        f"{count['overlaps']}, and {apart} are apart. No parameter is tuned per case; weather is the nearest real record held, "
        "which is seldom the roof's own. Bands are published figures, or proposals set a little wider (see status).",
        "",
        "| case | measured | ours (5-95 %) | unit | verdict | weather | status | possible reason | source |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        band = (
            row["measured_low"]
            if row["measured_low"] == row["measured_high"]
            else f"{row['measured_low']}-{row['measured_high']}"
        )
        ours = f"{row['ours']} ({row['ours_5']}-{row['ours_95']})"
        cells = [row["case"] + ": " + row["quantity"], band, ours, row["unit"], row["verdict"],
                 f"{row['climate']} ({row['climate_fit']})", row["status"], row["why"], row["place"]]  # fmt: skip
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write the result beside this file."""
    folder = FOLDER.parents[2] / "shared" / "data"
    rows = results(folder)
    with RESULT.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    PAGE.write_text(page(rows), encoding="utf-8")


if __name__ == "__main__":
    main()
