"""Many roofs through one storm, of which only what is asked for is kept, as plain arrays: no labels, no trace of every store.

Peaks, depths and hours to drain of many roofs follow from two or three courses of each. Every roof is run by itself, to the
last bit as `runoff.simulate` runs it. What is not asked for is not formed: the unplanted part of the roof is run only where
the flow of the whole roof is asked for, the comparison roof never.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.plain_arrays import is_plain
from runoff.roof.description import Roof
from runoff.simulation import kernel
from runoff.simulation.one_pass import arriving, last_step, with_overflow
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules
from runoff.simulation.runs import at_the_door
from runoff.simulation.signs import refuse_open_balance
from runoff.simulation.weather_side import SIDE_STORES, deck_of, passes, run_weather_above

#: What can be kept beside the names of `minute_steps.TRACE`: all that leaves the planted area, mm per step, and what leaves the
#: whole roof, L/s.
FLOWS = ("overflow", "discharge")
_LEAVE = ("drained", "spilled")
_OTHER = ("other_water", "other_free_water")


class StormFlows(NamedTuple):
    """What was kept of many roofs in one storm.

    Parameters
    ----------
    kept
        Series by name, shape ``(design, time)``: L/s for ``discharge``, mm for depths and stores at the end of a step, mm per
        step for all else.
    stores
        Stores of the planted column after the last step by the names of `kernel.STORES`, mm, shape ``(design,)``.
    columns
        The roofs.
    """

    kept: dict[str, np.ndarray]
    stores: dict[str, np.ndarray]
    columns: Columns


def storm_flows(
    roofs: Sequence[Roof] | Columns,
    storm: xr.DataArray | xr.Dataset,
    keep: Sequence[str],
    *,
    start_moisture: str | float | None = None,
    changed: Mapping[str, Any] | None = None,
    climate: Any = None,
    rules: RunRules | None = None,
    **words: Any,
) -> StormFlows:
    """Run many roofs through one storm and keep what is asked for.

    Parameters
    ----------
    roofs
        The roofs; or, where they run through several storms, `Columns` that were read once.
    storm
        Rain in steps of 1 min to 1 h, on ``time`` alone; other weather as in `runoff.simulate`.
    keep
        Names of `FLOWS` and of `minute_steps.TRACE`; none where the last stores are all that is asked for.
    start_moisture, climate, rules, **words
        As in `runoff.simulate`.
    changed
        Stores before the first step in place of those of the start, mm, by the names of `runoff.simulation.start.CARRIED`: of
        shape ``(design,)``, or one for all.

    Returns
    -------
    StormFlows
        Numbers as `runoff.simulate` gives them, to the last bit.

    Raises
    ------
    RunoffError
        As `runoff.simulate`; and when storm or start are of several places.
    """
    rules = RunRules.of("simulate", rules, ("start_moisture", "climate"), **words)
    columns, forcing, hours, years, stores, _ = at_the_door(roofs, storm, rules, start_moisture, None, climate)
    dims = [forcing["rain"].dims, *(one.dims for one in stores.values() if not is_plain(one))]
    places = sorted({str(name) for each in dims for name in each} - {"time", "design"})
    if places:
        raise RunoffError(
            f"storm: storm or start have the dimensions {', '.join(places)}; many roofs run through one storm at one place, "
            "select one"
        )
    stores |= {name: columns.label(np.zeros(columns.count) + values) for name, values in (changed or {}).items()}
    *before, record = passes(forcing, years)
    for piece in before:
        stores = _run(columns, rules, hours, piece, stores, FLOWS)[1]
    kept, last = _run(columns, rules, hours, record, stores, keep)
    ended = {name: np.asarray(last[name]) for name in kernel.STORES}
    return StormFlows(kept, ended, columns)


def _run(
    columns: Columns, rules: RunRules, hours: float, forcing: xr.Dataset, stores: Fields, keep: Sequence[str]
) -> tuple[dict[str, np.ndarray], Fields]:
    """Run a piece of weather; return what is kept, and the stores at its end.

    Parameters
    ----------
    columns, rules, hours, forcing, stores
        As in `runoff.simulation.one_pass.run_once`.
    keep
        As in `storm_flows`; without ``discharge`` the stores of the unplanted part are left as they are.
    """
    side = run_weather_above(forcing, rules, hours, columns, stores)
    weather = [_plain(one) for one in arriving(columns, side)]
    asked = [name for name in keep if name not in FLOWS]
    flows = any(name in FLOWS for name in keep)
    of_column = {name: np.asarray(stores[name]) for name in kernel.STORES}
    wanted = [*asked, *(name for name in _LEAVE if flows and name not in asked)]
    run = kernel.planted_courses(columns, rules, hours, weather, of_column, wanted)
    refuse_open_balance(float(np.max(np.abs(run.open_mm))), "a storm")
    kept = {name: run.kept[name] for name in asked}
    ended = {name: columns.label(row) for name, row in zip(kernel.STORES, run.stores, strict=True)}
    ended |= {name: last_step(side[name]) if name in side else stores[name] for name in SIDE_STORES}
    if flows:
        other, of_other = _nothing()
        if "discharge" in keep and np.any(columns.rows["planted_fraction"] < 1.0):
            other, of_other = _other_overflow(columns, hours, side, stores)
        left: Fields = {name: xr.Variable(("design", "time"), run.kept[name]) for name in _LEAVE}
        left = with_overflow(columns, {**left, "other_overflow": other})
        kept["overflow"] = left["overflow"].to_numpy()
        # L/s for mm per step
        kept["discharge"] = (left["roof_overflow"] * columns.value("area_m2") / (hours * 3600.0)).to_numpy()
        ended |= of_other
    return {name: kept[name] for name in keep}, ended


def _other_overflow(columns: Columns, hours: float, side: Fields, stores: Fields) -> tuple[xr.Variable, Fields]:
    """Return what the unplanted part sheds, mm per step, and its stores at the end."""
    decks = [deck_of(one, None) for one in columns.described]
    liquid, drawing = (_plain(side[name]) for name in ("liquid", "drawing"))
    begin = dict(zip(("surface_water", "free_water"), (np.asarray(stores[name]) for name in _OTHER), strict=True))
    run = kernel.deck_courses(decks, hours, (liquid, drawing, np.zeros_like(liquid)), begin, _LEAVE)
    last = dict(zip(kernel.STORES, run.stores, strict=True))
    ended = {name: columns.label(last[own]) for name, own in zip(_OTHER, begin, strict=True)}
    return xr.Variable(("design", "time"), run.kept["drained"] + run.kept["spilled"]), ended


def _nothing() -> tuple[xr.Variable, Fields]:
    """Return the same for a part that is not asked for, or not there."""
    return xr.Variable((), 0.0), {}


def _plain(series: Any) -> np.ndarray:
    """Return a series as an array whose last axis is time."""
    return np.asarray(series if is_plain(series) else series.transpose(..., "time"))
