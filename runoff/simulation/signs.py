"""What follows from the stores of a step: air in the medium, waterlogged and dry; and the balance check."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.balance.column import ROUNDING_MM
from runoff.errors import BalanceError
from runoff.simulation import kernel
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules

#: The balance must close to this at every step, mm (rounding of sums of some thousand mm).
BALANCE_LIMIT_MM = 1e-6


def signs_of(columns: Columns, rules: RunRules, fields: Fields) -> Fields:
    """Return air-filled porosity and whether a step is waterlogged or dry, by the one rule for days and minutes.

    Parameters
    ----------
    columns, rules
        Roofs and rules of the run.
    fields
        Stores, mm, and ``waterlogged_share``, 0-1, on ``time``.

    Returns
    -------
    dict of xarray.Variable
        ``air_filled_porosity``, 0-1 of the medium; ``waterlogged`` and ``dry``, true or false, in a grid 1.0, 0.0 or missing.
    """
    found = {
        "air_filled_porosity": (columns.value("full_water") - fields["medium_water"]) / columns.value("medium_depth"),
        "waterlogged": _flag(_waterlogged(columns, rules, fields), fields),
        "dry": _flag(_dry(columns, rules, fields), fields),
    }
    return found


def _waterlogged(columns: Columns, rules: RunRules, fields: Fields) -> xr.Variable:
    strip = rules.limits.wet_strip_m / columns.value("flow_length_m")
    limit = np.minimum(rules.limits.wet_area_share, strip) - ROUNDING_MM
    wet: xr.Variable = fields["waterlogged_share"] >= limit
    return wet


def _dry(columns: Columns, rules: RunRules, fields: Fields) -> xr.Variable:
    of = columns.value
    usable = fields["held_water"] - of("wilting_water")
    for share, store in (("mulch_share", "surface_water"), ("cup_supply", "cup_water"), ("mat_supply", "mat_water")):
        usable += of(share) * fields[store]
    capacity = of("field_water") - of("wilting_water")
    dry: xr.Variable = usable < rules.limits.dry_share * capacity - ROUNDING_MM
    return dry


def _flag(sign: xr.Variable, fields: Fields) -> xr.Variable:
    """Return a sign of yes and no; in a grid as 1.0, 0.0 or missing, since a truth value cannot be missing."""
    if fields["rain"].ndim > 1:
        sign = sign.astype(float).where(fields["medium_water"].notnull())
    return sign


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
    names = [name for name in (*kernel.WATER, "snow_water") if name in fields]
    stored = fields[names[0]] + fields[names[1]]
    for name in names[2:]:
        stored += fields[name]
    stored_before = sum((before[name] for name in kernel.WATER), before["snow_water"])
    change = stored.isel(time=slice(1, None)) - stored.isel(time=slice(None, -1))
    change = xr.Variable.concat([stored.isel(time=slice(0, 1)) - stored_before, change], "time")
    arrived = fields["rain"]
    for name in ("irrigation", "run_on"):
        arrived = arrived + fields[name] if name in fields else arrived
    error = arrived - fields["evapotranspiration"]
    error -= fields["overflow"]
    error -= change
    most, least = error.max("time"), error.min("time")
    largest: xr.Variable = abs(most.where(most > -least, least))
    if largest.chunks is None:
        refuse_open_balance(float(largest.max()), "one step")
    return largest


def refuse_open_balance(open_mm: float, of: str) -> None:
    """Refuse a run that lost or made water; a missing one is not known.

    Parameters
    ----------
    open_mm
        By how much the balance is open, mm.
    of
        Of what, in words.

    Raises
    ------
    BalanceError
        When that is more than rounding.
    """
    if open_mm > BALANCE_LIMIT_MM:
        raise BalanceError(
            f"simulate: the water balance is open by {open_mm:.3g} mm in {of}; this is a fault of the program, please "
            "report it with the roof and the weather"
        )
