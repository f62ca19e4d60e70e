"""The bench experiment: two pots with the same medium, one with its hole plugged; what to expect, and what was measured.

Both pots: 100 mm of light mineral medium over 20 mm of pebbles, drained overnight. Pour 10 mm of water at a time (a pot 200 mm wide:
314 ml) and wait until nothing drips.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.errors import RunoffError, raise_faults
from runoff.plots.style import BLUE, VERMILION, DescribedFigure, new_figure, styled
from runoff.roof import BuildUp, DrainageBoard, FilterFleece, GrowingMedium, Outlet, Planting, Roof
from runoff.simulation import simulate

POURS = 6
POUR_MM = 10.0
_PEBBLES_MM, _MEDIUM_MM = 20.0, 100.0


def _pot(*, plugged: bool) -> Roof:
    return Roof(
        name="Pot",
        area_m2=1.0,
        flow_length_m=0.2,
        fall=0.0,
        blocked_fraction=1.0 if plugged else 0.0,
        outlets=(Outlet(kind="round", diameter_mm=50.0, strainer=False),),
        build_up=BuildUp(
            layers=(
                Planting(canopy_storage_mm=0.0),
                GrowingMedium(material="brick and pumice mix", depth_mm=_MEDIUM_MM),
                FilterFleece(),
                # pebbles: four tenths of their depth are pores (common practice, no source)
                DrainageBoard(height_mm=_PEBBLES_MM, cup_storage_mm=0.0, void_storage_mm=0.4 * _PEBBLES_MM),
            )
        ),
    )


def expected() -> pd.DataFrame:
    """Return what the model expects after each pour: ``outflow`` of the open pot, ``level`` in the plugged one, mm."""
    pours = {"time": pd.date_range("2001-06-01", periods=POURS, freq="D")}
    mm = {"units": "mm"}
    given = xr.Dataset(
        {"rain": ("time", [POUR_MM] * POURS, mm), "reference_et": ("time", [0.0] * POURS, mm)}, coords=pours
    )
    free, shut = (simulate(_pot(plugged=one), given, start_moisture="field-capacity") for one in (False, True))
    return pd.DataFrame(
        {"outflow": free["overflow"].to_numpy(), "level": shut["water_depth_on_deck_mm"].to_numpy()},
        index=pd.Index(range(1, POURS + 1), name="pour"),
    )


def read_measured(values: Sequence[Any] | None, name: str) -> list[float | None]:
    """Return what was measured, mm; an empty place or None is a pour that was not measured.

    Raises
    ------
    RunoffError
        When something is no number, negative, no list, or there are more values than pours.
    """
    if values is not None and (isinstance(values, str) or not isinstance(values, Iterable)):
        raise RunoffError(f"{name}: write the pours into brackets, for example {name}=[1, 6, 9.5] (given {values!r})")
    found: list[float | None] = []
    faults = []
    for number, value in enumerate(() if values is None else values, start=1):
        text = "" if value is None else str(value).strip().lower().removesuffix("mm").strip().replace(",", ".")
        try:
            one = float(text) if text else None
        except ValueError:
            faults.append(f'pour {number} is a number in mm (given "{value}")')
            continue
        if one is not None and not 0.0 <= one <= 1000.0:
            faults.append(f"pour {number} lies between 0 and 1000 mm (given {value})")
        found.append(one)
    if len(found) > POURS:
        faults.append(f"there are {POURS} pours, and {len(found)} values are given")
    raise_faults(name, faults, RunoffError)
    return found + [None] * (POURS - len(found))


@styled
def bench_figure(outflow: Sequence[Any] | None = None, level: Sequence[Any] | None = None) -> DescribedFigure:
    """Draw the model beside what was measured.

    Parameters
    ----------
    outflow
        What ran out of the open pot after each pour, mm (ml over the area of the pot in cm2, times 10).
    level
        How high water stood above the bottom of the plugged pot, mm.
    """
    table = expected()
    measured = {"outflow": read_measured(outflow, "outflow"), "level": read_measured(level, "level")}
    figure = new_figure(3.4)
    told = []
    titles = {"outflow": "Open pot: outflow, mm", "level": "Plugged pot: water level, mm"}
    for axes, (name, title) in zip(figure.subplots(1, 2), titles.items(), strict=True):
        axes.bar(table.index, table[name], color="#cfe3f0", edgecolor=BLUE, hatch="//", label="model")
        seen = [(pour, value) for pour, value in zip(table.index, measured[name], strict=True) if value is not None]
        if seen:
            axes.plot(*zip(*seen, strict=True), ls="", marker="D", ms=8, color=VERMILION, label="measured")
            gap = float(np.mean([value - table[name][pour] for pour, value in seen]))
            told.append(
                f"{title}: measured {abs(gap):.0f} mm {'more' if gap > 0 else 'less'} than the model on average"
            )
        axes.set_title(title, size=10)
        axes.set(xlabel="pour")
        axes.set_ylim(0.0, 1.35 * max(axes.get_ylim()[1], 1.0))
        axes.legend(loc="upper left", ncols=2)
    rows = "; ".join(
        f"pour {pour}: {row.outflow:.0f} mm out, {row.level:.0f} mm high" for pour, row in table.iterrows()
    )
    figure.description = (
        f"Two pots, {POUR_MM:.0f} mm at a time. Model: {rows}. " + (". ".join(told) or "Nothing measured yet") + "."
    )
    return figure
