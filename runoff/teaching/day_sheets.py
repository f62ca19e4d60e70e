"""The six days of the worksheet, drained and clogged: small enough for paper, run by the package.

Other rain than in the README's worked example. The numbers of the exercise stand nowhere: they come from `runoff.simulate`.
"""

from __future__ import annotations

import functools
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.roof import BuildUp, DrainageBoard, GrowingMedium, Outlet, Planting, Roof
from runoff.simulation import simulate

#: Rain of the six days, mm, and what the air could take on each.
RAIN = (10.0, 0.0, 0.0, 6.0, 20.0, 0.0)
TAKEN_BY_AIR = 4.0
#: Rain of the day before the clogged sheet, mm: it leaves the board full, the medium at 28 and the cups at 4.
DAY_BEFORE = 14.0
LEAVES, WILTING, DRAINED, FULL, CUPS, BOARD, DEPTH = 2.0, 8.0, 28.0, 48.0, 4.0, 10.0, 100.0


def sheet_roof(*, clogged: bool = False) -> Roof:
    """Return the roof of the sheet: round numbers, level, no bypass."""
    return Roof(
        name="Roof of the six-day sheet",
        area_m2=100.0,
        flow_length_m=5.0,
        fall=0.0,
        blocked_fraction=1.0 if clogged else 0.0,
        outlets=(Outlet(kind="round", diameter_mm=100.0, strainer=False),),
        build_up=BuildUp(
            layers=(
                Planting(canopy_storage_mm=LEAVES, crop_coefficient=1.0, depletion_fraction=0.0),
                GrowingMedium(
                    depth_mm=DEPTH, porosity=FULL / DEPTH, field_capacity=DRAINED / DEPTH, wilting_point=WILTING / DEPTH,
                    bypass_fraction=0.0,
                ),
                DrainageBoard(height_mm=25.0, cup_storage_mm=CUPS, void_storage_mm=BOARD, cup_supply_fraction=0.5),
            )
        ),
    )  # fmt: skip


@functools.cache
def _run(clogged: bool) -> xr.Dataset:
    rain = (DAY_BEFORE, *RAIN) if clogged else RAIN
    time = {"time": pd.date_range("2001-06-01", periods=len(rain), freq="D")}
    mm = {"units": "mm"}
    weather = xr.Dataset(
        {"rain": ("time", list(rain), mm), "reference_et": ("time", [TAKEN_BY_AIR] * len(rain), mm)}, coords=time
    )
    return simulate(sheet_roof(clogged=clogged), weather).isel(time=slice(1 if clogged else 0, None))


def six_days(*, clogged: bool = False) -> pd.DataFrame:
    """Return the sheet filled in.

    Parameters
    ----------
    clogged
        Whether the outlets let nothing out. The clogged sheet begins with the board full.

    Returns
    -------
    pandas.DataFrame
        A row per day. Drained: ``rain``, ``falls through``, ``overflow``, ``medium``, ``cups`` (mm). Clogged: ``rain``,
        ``falls through``, ``medium``, ``free water`` (mm), ``water in the medium`` (mm of its depth), ``air`` (% of the medium's volume) and
        ``without air``.
    """
    run = _run(clogged)
    values: dict[str, Any] = {"rain": run["rain"], "falls through": run["throughfall"]}
    if clogged:
        values |= {
            "medium": run["held_water"],
            "free water": run["free_water"],
            "water in the medium": np.maximum(0.0, run["water_depth_on_deck_mm"] - 25.0),
            "air": 100.0 * run["air_filled_porosity"],
            "without air": run["waterlogged"].astype(bool),
        }
    else:
        values |= {"overflow": run["overflow"], "medium": run["held_water"], "cups": run["cup_water"]}
    table = pd.DataFrame({name: np.asarray(one) for name, one in values.items()}, index=range(1, len(RAIN) + 1))
    table.index.name = "day"
    return table


def kept_mm() -> float:
    """Return what the drained roof of the sheet kept of the rain of six days, mm."""
    return float(sum(RAIN) - six_days()["overflow"].sum())
