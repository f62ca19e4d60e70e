"""Three media in both physics: what the flow equation implies for the bucket, and where the two part.

``python -m tests.second_physics.comparison`` writes `implied.csv` beside this file; the tests hold it current.
"""

from __future__ import annotations

import csv
import functools
from pathlib import Path
from typing import Any

import numpy as np

from tests.second_physics.richards import Course, Medium, run_column

RESULT = Path(__file__).with_name("implied.csv")

#: Extensive media, coarse to fine. The curves are from memory (shapes usual for light mineral mixes; no data sheet was read);
#: the fine one has the least conductivity the usual guideline asks for, 0.6 mm/min, and the retention of a loam.
MEDIA = {
    "coarse": Medium(0.04, 0.58, 0.060, 1.60, 60.0, "from memory: expanded clay with little compost"),
    "medium": Medium(0.06, 0.60, 0.025, 1.45, 10.0, "from memory: brick and pumice with compost"),
    "fine": Medium(
        0.08, 0.55, 0.004, 1.50, 0.6, "from memory: mix rich in fines, conductivity at the guideline's limit"
    ),
}
DEPTHS_MM = (40.0, 80.0, 150.0)
DEPTH_MM = 80.0
#: A burst of a quarter of an hour on a column at rest, and an hour of the same rain on a dry one. The intensity (30 mm/h)
#: stays under the conductivity of all three, so that nothing stands on top.
RAIN_MM_PER_MIN, BURST_MIN, LONG_MIN, END_MIN = 0.5, 15, 60, 180
#: Outflow between these rates (0.6 to 60 mm/h) decides the fitted ``k`` and ``n``: it is what storms bring.
FIT_MM_PER_MIN = (0.01, 1.0)
DEFAULT_DETENTION = (0.0115, 2.0)  # k and n of the page for 80 mm, which is the depth of the storms here
WILTING_MM = -150_000.0  # 1500 kPa of suction, the permanent wilting point
DRY_MM = -10_000.0  # 100 kPa: a medium after a dry week or two


@functools.cache
def drainage(name: str, depth_mm: float = DEPTH_MM, cells: int = 40) -> Course:
    """Let a saturated column drain for a day."""
    times = np.concatenate([[0.0], np.geomspace(0.02, 1440.0, 100)])
    return run_column(MEDIA[name], depth_mm, start=0.0, times=times, cells=cells)


def rain_of(dry: bool) -> np.ndarray:
    """Return the rain of each minute, mm: the burst, or the long rain on the dry column."""
    return np.where(np.arange(END_MIN) < (LONG_MIN if dry else BURST_MIN), RAIN_MM_PER_MIN, 0.0)


@functools.cache
def storm(name: str, *, dry: bool = False, cells: int = 40) -> Course:
    """Rain on a column at rest (or dry), in steps of a minute."""
    times = np.arange(END_MIN + 1.0)
    rain = rain_of(dry)
    middle = (np.arange(cells) + 0.5) * DEPTH_MM / cells
    start = DRY_MM if dry else -(DEPTH_MM - middle)
    return run_column(MEDIA[name], DEPTH_MM, start=start, times=times, rain=rain, cells=cells)


def fitted_detention(name: str, depth_mm: float = DEPTH_MM) -> tuple[float, float]:
    """Return ``k, n`` of ``q = k h^n`` (mm, min), from a line through the logarithms of the drainage."""
    course = drainage(name, depth_mm)
    mobile = course.held - course.held[-1]
    used = (course.rate >= FIT_MM_PER_MIN[0]) & (course.rate <= FIT_MM_PER_MIN[1])
    n, log_k = np.polyfit(np.log(mobile[used]), np.log(course.rate[used]), 1)
    return float(np.exp(log_k)), float(n)


def bucket(name: str, k: float, n: float, *, dry: bool = False) -> Any:
    """Run the package's medium, without planting and over an open board, through the same storm in minutes."""
    import pandas as pd
    import xarray as xr

    import runoff

    medium = MEDIA[name]
    field = medium.at_rest(DEPTH_MM) / DEPTH_MM
    wilting = float(medium.water(np.array([WILTING_MM]))[0])
    layers = [
        runoff.GrowingMedium(
            depth_mm=DEPTH_MM, porosity=medium.saturated, field_capacity=field, wilting_point=wilting,
            conductivity_mm_per_h=60.0 * medium.conductivity_mm_per_min, detention_k=k, detention_n=n,
            bypass_fraction=0.0,  # the flow equation knows no cracks
        ),
        runoff.DrainageBoard(cups_up=False, in_plane_flow_l_per_s_m=50.0),
    ]  # fmt: skip
    roof = runoff.Roof(
        build_up=runoff.BuildUp(layers=layers), outlets=[runoff.Outlet(diameter_mm=300.0, strainer=False)]
    )
    time = pd.date_range("2001-07-01", periods=END_MIN, freq="1min")
    storm_rain = xr.DataArray(rain_of(dry), dims="time", coords={"time": time}, attrs={"units": "mm"}, name="rain")
    at_dry = float(medium.water(np.array([DRY_MM]))[0])
    start = (at_dry - wilting) / (field - wilting) if dry else "field-capacity"
    return runoff.simulate(roof, storm_rain, start_moisture=start)


def implied() -> list[dict[str, str]]:
    """Return what the flow equation implies, per medium and depth, and the storm at 80 mm in both physics."""
    rows = []
    for name, medium in MEDIA.items():
        for depth in DEPTHS_MM:
            field = medium.at_rest(depth) / depth
            k, n = fitted_detention(name, depth)
            row = {
                "medium": name, "depth_mm": f"{depth:g}", "field_capacity": f"{field:.3f}",
                "air_at_rest": f"{medium.saturated - field:.3f}", "drained_after_2_h": f"{held_after(name, depth, 120.0):.3f}",
                "detention_k": f"{k:.3g}", "detention_n": f"{n:.2f}",
            }  # fmt: skip
            if depth == DEPTH_MM:
                row |= storm_figures(name, k, n)
            rows.append(row)
    return rows


def held_after(name: str, depth_mm: float, minutes: float) -> float:
    """Return the water content a saturated column still holds after some minutes of drainage, fraction."""
    course = drainage(name, depth_mm)
    return float(np.interp(minutes, course.time, course.held)) / depth_mm


def storm_figures(name: str, k: float, n: float) -> dict[str, str]:
    """Return peak (mm/h) and lag of the centre (min) of the burst, and the outflow (mm) of the long rain on a dry column."""
    rates = {
        "flow_equation": np.diff(storm(name).outflow),
        "bucket_fitted": bucket(name, k, n)["percolation"].to_numpy(),
        "bucket_default": bucket(name, *DEFAULT_DETENTION)["percolation"].to_numpy(),
    }
    row = {f"peak_{who}": f"{60.0 * rate.max():.1f}" for who, rate in rates.items()}
    row |= {f"lag_{who}": f"{centre(rate) - BURST_MIN / 2.0:.1f}" for who, rate in rates.items()}
    row["dry_outflow_flow_equation"] = f"{storm(name, dry=True).outflow[-1]:.2f}"
    row["dry_outflow_bucket"] = f"{float(bucket(name, k, n, dry=True)['percolation'].sum()):.2f}"
    return row


def centre(rate: np.ndarray) -> float:
    """Return the time (min) at which the outflow has its centre."""
    return float(np.average(np.arange(rate.size) + 0.5, weights=rate))


def main() -> None:
    """Write the table."""
    rows = implied()
    names = list(max(rows, key=len))
    with RESULT.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, names, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
