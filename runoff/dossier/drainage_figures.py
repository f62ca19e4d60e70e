"""Every number of the drainage sheet, in its own unit, with what each outlet and each load is made of."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import xarray as xr

from runoff.balance import free_water
from runoff.balance.outlet_flow import CLEAR_FACTOR, STRAINER_FACTOR, flow
from runoff.findings.whole_roof import release_per_hectare
from runoff.roof.build_up import drainage_layer
from runoff.roof.column_values import outlet_law
from runoff.roof.levels import drainage_height, edge_level, top_of_medium
from runoff.roof.loads import drained_mass_kg_per_m2
from runoff.roof.losing_outlets import pieces_left
from runoff.roof.standing_water import deck_of, water_below
from runoff.sizing.described_outlets import SINGLE_FIGURES, STATE_FIGURES
from runoff.sizing.drainage_codes import vertical_pipe_l_per_s
from runoff.sizing.emergency import contributing_area_m2
from runoff.sizing.outlet_words import each_described
from runoff.time_steps import time_step
from runoff.units import convert

if TYPE_CHECKING:
    from runoff.roof import Outlet, Roof


class SheetOutlet(NamedTuple):
    """One kind of outlet on a sheet: the beginning of its figures' names, its kind, and the form that holds in each state."""

    key: str
    kind: str
    words: str
    strainer: bool
    forms: dict[str, str]


class LoadState(NamedTuple):
    """A row of the loads: the beginning of its figures' names, what it is, and the level of the water, mm."""

    key: str
    words: str
    level_mm: float


def outlets_of(roof: Roof, check: xr.Dataset, units: str) -> list[SheetOutlet]:
    """Return the kinds of outlets a roof has, as the page needs them, their sizes in a unit system.

    Parameters
    ----------
    roof
        The roof.
    check
        What `runoff.sizing.described_outlets.check_outlets` returned for it.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    list of SheetOutlet
        One for each kind, in the order of `roof.outlets`.
    """
    found = []
    for at, (one, words) in enumerate(zip(roof.outlets, each_described(check, units), strict=True), start=1):
        turning = outlet_law(one).turning_head_mm
        forms = {
            state: "weir" if float(check["head"].sel(state=state)) <= turning else "orifice"
            for state in ("open", "lost")
        }
        found.append(SheetOutlet(f"outlet_{at}", one.kind, words, one.strainer, forms))
    return found


def load_states(roof: Roof, check: xr.Dataset) -> list[LoadState]:
    """Return the states in which a roof is weighed, dry first."""
    level = {str(state): float(check["level"].sel(state=state)) for state in check["state"].to_numpy()}
    layer = drainage_layer(roof.build_up).word
    number = int(check.attrs["lost"])
    lost = (
        "part of the edge blocked"
        if check.attrs["edge_alone"] == "yes"
        else f"{number} outlet{'s' * (number > 1)} lost"
    )
    rows = [
        LoadState("drained", "Soaked and drained", 0.0),
        LoadState("layer_full", f"Drainage layer ({layer}) full", drainage_height(roof.build_up)),
        *([LoadState("open", "Design peak, all open", level["open"])] if roof.outlets else []),
        *([LoadState("lost", f"Design peak, {lost}", level["lost"])] if number and roof.outlets else []),
        LoadState("blocked", f"Design peak, {'all blocked' if roof.outlets else 'no outlets'}", level["blocked"]),
    ]
    if level["blocked"] < edge_level(roof) - 1e-9:
        rows.append(LoadState("edge", "Overflow blocked too: to the edge", edge_level(roof)))
    return rows


def sheet_figures(roof: Roof, storm: xr.DataArray, check: xr.Dataset, pipe_edition: str) -> xr.Dataset:
    """Return every number of a sheet in its own unit.

    Parameters
    ----------
    roof, storm
        As the sheet is written for, mm per step; the opening of the emergency overflow is that of the roof.
    check
        What `runoff.sizing.described_outlets.check_outlets` returned.
    pipe_edition
        Edition for vertical pipes.

    Returns
    -------
    xarray.Dataset
        Numbers without dimensions, each with its unit; NaN where there is none, such as a head where no outlet is left.
    """
    minutes = time_step(storm["time"]).minutes
    found: dict[str, tuple[float, str]] = {
        "area_m2": (roof.area_m2, "m2"),
        "run_on_area_m2": (roof.run_on_area_m2, "m2"),
        "contributing_m2": (contributing_area_m2(roof), "m2"),
        "planted_fraction": (roof.planted_fraction, "1"),
        "flow_length_m": (roof.flow_length_m, "m"),
        "fall": (roof.fall, "1"),
        "drop_mm": (float(free_water.drop_mm(roof.fall, roof.flow_length_m)), "mm"),
        "build_up_mm": (roof.build_up.depth_mm, "mm"),
        "board_height_mm": (drainage_height(roof.build_up), "mm"),
        "top_of_medium_mm": (top_of_medium(roof.build_up), "mm"),
        "edge_mm": (edge_level(roof), "mm"),
        "opening_width_mm": (_or_missing(roof.emergency_width_mm), "mm"),
        "opening_height_mm": (_or_missing(roof.emergency_height_mm), "mm"),
        "opening_turning_mm": (2.0 * _or_missing(roof.emergency_height_mm), "mm"),
        "open_share": (1.0 - float(check.attrs["blocked_fraction"]), "1"),
        "allowable_mm": (float(check.attrs["allowable_depth_mm"]), "mm"),
        "storm_mm": (float(storm.sum()), "mm"),
        "storm_h": (minutes * storm.sizes["time"] / 60.0, "h"),
        "step_min": (minutes, "min"),
        "step_mm": (float(storm.max()), "mm"),
        "peak_per_ha": (release_per_hectare(float(check["design_peak"]), roof.area_m2), "L/(s ha)"),
        "rain_load_us": (5.2 * convert(float(check["overflow_depth"]), "mm", "in"), "lb/ft2"),
    }
    for name, (unit, _) in SINGLE_FIGURES.items():
        found[name] = (float(check[name]), unit)
    for state in check["state"].to_numpy():
        for name, (unit, _) in STATE_FIGURES.items():
            found[f"{state}_{name}"] = (float(check[name].sel(state=state)), unit)
    left = pieces_left(
        roof.outlets,
        int(check.attrs["lost"]),
        float(check.attrs["allowable_depth_mm"]),
        float(check.attrs["edge_left"]),
    )
    for at, (one, number) in enumerate(zip(roof.outlets, left, strict=True), start=1):
        found |= {f"outlet_{at}_{name}": value for name, value in _of_outlet(one, number, check, pipe_edition).items()}
    for at, layer in enumerate(roof.build_up.layers, start=1):
        found[f"layer_{at}_dry"] = (layer.dry_mass_kg_per_m2, "kg/m2")
        found[f"layer_{at}_held"] = (layer.drained_water_mm, "kg/m2")
    for row in load_states(roof, check):
        found |= {f"load_{row.key}_{name}": value for name, value in _of_load(roof, row.level_mm).items()}
    # an edge never runs drowned, a head without outlets has no end: neither is a number on a sheet
    return xr.Dataset(
        {
            name: ((), float(value) if math.isfinite(value) else math.nan, {"units": unit})
            for name, (value, unit) in found.items()
        }
    )


def _of_outlet(one: Outlet, left: float, check: xr.Dataset, edition: str) -> dict[str, tuple[float, str]]:
    law, allowed = outlet_law(one), float(check.attrs["allowable_depth_mm"])
    pipe = vertical_pipe_l_per_s(one.diameter_mm, edition=edition) if one.diameter_mm is not None else math.nan

    def taken(state: str) -> float:
        head = float(check["head"].sel(state=state))
        passes = math.isfinite(head) and float(check.attrs["blocked_fraction"]) < 1.0
        return float(flow(head, [law])) if passes else math.nan

    return {
        "count": (one.count, "1"),
        "size_mm": (one.sizes_mm[0], "mm"),
        "height_mm": (one.sizes_mm[1] if len(one.sizes_mm) > 1 else math.nan, "mm"),
        "ko": (STRAINER_FACTOR if one.strainer else CLEAR_FACTOR, "1"),
        "turning_mm": (law.turning_head_mm, "mm"),
        "capacity": (float(flow(allowed, [law])), "L/s"),
        "left": (left, "1"),
        "flow_open": (taken("open"), "L/s"),
        "flow_lost": (taken("lost") if left else 0.0, "L/s"),
        "pipe": (pipe, "L/s"),
    }


def _of_load(roof: Roof, level_mm: float) -> dict[str, tuple[float, str]]:
    deck = deck_of(roof.replace({"roof.fall": 0.0}))  # at the outlets water stands as it would on a level deck
    drained = drained_mass_kg_per_m2(roof)
    parts = {
        "in_layer": float(free_water.board_part(level_mm, deck)),
        "in_medium": float(free_water.medium_part(level_mm, deck)),
        "above": float(free_water.pond_part(level_mm, deck)),
    }
    total = drained + sum(parts.values())
    return {
        "level_mm": (level_mm, "mm"),
        "drained": (drained, "kg/m2"),
        **{name: (part, "kg/m2") for name, part in parts.items()},
        "total": (total, "kg/m2"),
        "mean": (drained + water_below(roof, level_mm), "kg/m2"),
    }


def _or_missing(value: float | None) -> float:
    return math.nan if value is None else value
