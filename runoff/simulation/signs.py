"""What follows from the stores of a step: air in the medium, waterlogging, how high water stands; and the balance check."""

from __future__ import annotations

from typing import Any

import xarray as xr

from runoff.balance import column
from runoff.balance.levels import water_depth
from runoff.errors import BalanceError
from runoff.simulation import kernel
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules

#: The balance must close to this at every step, mm (rounding of sums of some thousand mm).
BALANCE_LIMIT_MM = 1e-6


def signs_of(columns: Columns, rules: RunRules, fields: Fields) -> Fields:
    """Return air-filled porosity, waterlogged, dry and, where the loop did not report it, the depth of water on the deck."""
    found = {
        "air_filled_porosity": (columns.value("full_water") - fields["medium_water"]) / columns.value("medium_depth"),
        "waterlogged": _flag(_waterlogged(columns, rules, fields), fields),
        "dry": _flag(_dry(columns, rules, fields), fields),
    }
    if "water_depth_on_deck_mm" not in fields:
        found["water_depth_on_deck_mm"] = _water_depth(columns, fields)
    return found


def _waterlogged(columns: Columns, rules: RunRules, fields: Fields) -> xr.Variable:
    """Little air in the medium or standing water on it; the same test as the totals loop makes."""
    limit = rules.limits.air_threshold * columns.value("medium_depth") - column.ROUNDING_MM
    little_air: Any = columns.value("full_water") - fields["medium_water"] < limit
    wet: xr.Variable = little_air | (fields["pond_water"] >= column.POND_SIGN_MM)
    return wet


def _dry(columns: Columns, rules: RunRules, fields: Fields) -> xr.Variable:
    """Plant-available water (medium, and cups times their supply share) below its share of capacity."""
    wilting, supply = columns.value("wilting_water"), columns.value("cup_supply")
    usable = fields["medium_water"] - wilting + fields["cup_water"] * supply
    capacity = columns.value("field_water") - wilting + columns.value("cup_capacity") * supply
    dry: xr.Variable = usable < rules.limits.dry_share * capacity
    return dry


def _flag(sign: xr.Variable, fields: Fields) -> xr.Variable:
    """Return a sign of yes and no; in a grid as 1.0, 0.0 or missing, since a truth value cannot be missing."""
    if fields["rain"].ndim > 1:
        sign = sign.astype(float).where(fields["medium_water"].notnull())
    return sign


def _water_depth(columns: Columns, fields: Fields) -> xr.Variable:
    depth: xr.Variable = xr.apply_ufunc(
        water_depth,
        fields["board_water"],
        fields["medium_water"],
        fields["pond_water"],
        *(
            columns.value(name)
            for name in ("board_capacity", "board_height", "field_water", "full_water", "medium_depth")
        ),
        dask="parallelized",
        output_dtypes=[float],
    )
    return depth


def balance_error(fields: Fields, before: Fields) -> xr.Variable:
    """Return the largest error over the run, mm, and refuse a run that lost or made water.

    Parameters
    ----------
    fields
        Rain, fluxes and stores of the run, on ``time``.
    before
        The stores before the first step.

    Raises
    ------
    BalanceError
        When the balance is open by more than rounding in one step.
    """
    names = [*kernel.STORES, "snow_water"]
    stored = sum((fields[name] for name in names[1:]), fields[names[0]])
    stored_before = sum((before[name] for name in names[1:]), before[names[0]])
    change = stored.isel(time=slice(1, None)) - stored.isel(time=slice(None, -1))
    change = xr.Variable.concat([stored.isel(time=slice(0, 1)) - stored_before, change], "time")
    arrived = fields["rain"] + fields["irrigation"] if "irrigation" in fields else fields["rain"]
    error = arrived - fields["evapotranspiration"] - fields["overflow"] - change
    largest: xr.Variable = abs(error).max("time")
    if largest.chunks is None and float(largest.max()) > BALANCE_LIMIT_MM:
        raise BalanceError(
            f"simulate: the water balance is open by {float(largest.max()):.3g} mm in one step; this is a fault of "
            "the program, please report it with the roof and the weather"
        )
    return largest
