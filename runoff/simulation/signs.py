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
    arrived = fields["rain"]
    for name in ("irrigation", "run_on"):
        arrived = arrived + fields[name] if name in fields else arrived
    series = [arrived, fields["evapotranspiration"], fields["overflow"], stored]
    largest: xr.Variable = xr.apply_ufunc(
        _most_open,
        *series,
        stored_before,
        input_core_dims=[*([["time"]] * len(series)), []],
        dask="parallelized",
        output_dtypes=[float],
    )
    if largest.chunks is None:
        refuse_open_balance(float(largest.max()), "one step")
    return largest


def _most_open(
    arrived: np.ndarray, evaporated: np.ndarray, overflow: np.ndarray, stored: np.ndarray, before: np.ndarray
) -> np.ndarray:
    """Return by how much the balance is open at most, in plain arrays.

    Parameters
    ----------
    arrived, evaporated, overflow
        mm per step, shape ``(..., time)``.
    stored, before
        All water at the end of each step, shape ``(..., time)``, and before the first, shape ``(...,)``, mm.

    Returns
    -------
    numpy.ndarray
        mm, shape ``(...,)``; steps that are missing do not count.
    """
    error = arrived - evaporated
    error -= overflow
    error[..., 1:] -= stored[..., 1:] - stored[..., :-1]
    error[..., 0] -= stored[..., 0] - before
    widest: np.ndarray = np.abs(np.fmax(np.fmax.reduce(error, axis=-1), -np.fmin.reduce(error, axis=-1)))
    return widest


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
