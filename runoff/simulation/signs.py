"""What follows from the stores of a step: air in the medium, waterlogged and dry; and the balance check."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import Any

import numpy as np

from runoff.balance.day_steps import ROUNDING_MM
from runoff.errors import BalanceError
from runoff.plain_arrays import applied, in_memory
from runoff.simulation import kernel
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RootLimits, RunRules
from runoff.time_steps import pieces_of

#: The balance must close to this at every step, mm (rounding of sums of some thousand mm).
BALANCE_LIMIT_MM = 1e-6
#: What decides of a roof whether it is too wet or too dry.
_OF_THE_ROOF = ("wilting_water", "field_water", "flow_length_m")
#: What roots can use beside the water of the medium: share of the store, and the store.
_USABLE = {"mulch_share": "surface_water", "cup_supply": "cup_water", "mat_supply": "mat_water"}


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
    dict
        ``air_filled_porosity``, 0-1 of the medium; ``waterlogged`` and ``dry``, true or false, in a grid 1.0, 0.0 or missing.
    """
    shares = {share: store for share, store in _USABLE.items() if np.any(columns.rows[share] > 0.0)}
    of_roof = {name: columns.value(name) for name in (*_OF_THE_ROOF, *shares)}
    series = {name: fields[name] for name in ("held_water", "waterlogged_share", *shares.values())}
    wet, dry = applied(
        functools.partial(_wet_and_dry, names=(*series, *of_roof), shares=shares, limits=rules.limits),
        [*series.values(), *of_roof.values()],
        [("time",)] * 2,
        kinds=(bool,),
    )
    pores = columns.value("full_water"), fields["medium_water"], columns.value("medium_depth")
    (porosity,) = applied(_air_filled, pores)
    return {"air_filled_porosity": porosity, "waterlogged": _flag(wet, fields), "dry": _flag(dry, fields)}


def _air_filled(full: np.ndarray, water: np.ndarray, depth: np.ndarray) -> np.ndarray:
    """Return air-filled porosity, 0-1, from what fills the pores and the depth, mm, shape ``(...,)``, and the water in each step."""
    porosity: np.ndarray = full[..., None] - water
    porosity /= depth[..., None]
    return porosity


def _wet_and_dry(
    *given: np.ndarray, names: tuple[str, ...], shares: dict[str, str], limits: RootLimits
) -> tuple[np.ndarray, np.ndarray]:
    """Return whether a step is waterlogged and whether it is dry, in plain arrays.

    Parameters
    ----------
    *given
        Series of mm and shares, shape ``(..., time)``, and numbers of the roof, mm, m and shares, shape ``(...,)``.
    names
        Of each what it is.
    shares
        What roots can use beside the water of the medium: share of the store, and the store.
    limits
        When roots count as too wet or too dry.
    """
    of = dict(zip(names, given, strict=True))
    of |= {name: of[name][..., None] for name in (*_OF_THE_ROOF, *shares)}
    strip = limits.wet_strip_m / of["flow_length_m"]
    wet = of["waterlogged_share"] >= np.minimum(limits.wet_area_share, strip) - ROUNDING_MM
    limit = limits.dry_share * (of["field_water"] - of["wilting_water"]) - ROUNDING_MM

    def dry(piece: slice) -> np.ndarray:
        usable = of["held_water"][..., piece] - of["wilting_water"]
        for share, store in shares.items():
            usable += of[share] * of[store][..., piece]
        return np.asarray(usable < limit)

    return wet, np.concatenate([dry(piece) for piece in pieces_of(wet.shape[-1])], axis=-1)


def _flag(sign: Any, fields: Fields) -> Any:
    """Return a sign of yes and no; in a grid as 1.0, 0.0 or missing, since a truth value cannot be missing."""
    if fields["rain"].ndim > 1:
        sign = sign.astype(float).where(fields["medium_water"].notnull())
    return sign


def balance_error(fields: Fields, before: Fields) -> Any:
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
    stores = [name for name in (*kernel.WATER, "snow_water") if name in fields]
    arrived = [name for name in ("rain", "irrigation", "run_on") if name in fields]
    series = [fields[name] for name in ("evapotranspiration", "overflow", *stores, *arrived)]
    begun = [before[name] for name in ("snow_water", *kernel.WATER)]
    open_by = functools.partial(_most_open, stores=len(stores), arrived=len(arrived))
    largest = applied(open_by, [*series, *begun], [()])[0]
    if in_memory(largest):
        refuse_open_balance(float(np.max(np.asarray(largest))), "one step")
    return largest


def _most_open(*given: np.ndarray, stores: int, arrived: int) -> np.ndarray:
    """Return by how much the balance is open at most, in plain arrays.

    Parameters
    ----------
    *given
        Of each step, mm, shape ``(..., time)``: evapotranspiration, overflow, the stores at its end, what arrived. Then the
        stores before the first step, mm, shape ``(...,)``.
    stores, arrived
        How many there are.

    Returns
    -------
    numpy.ndarray
        mm, shape ``(...,)``; steps that are missing do not count.
    """
    series, before = given[: 2 + stores + arrived], _sum(given[2 + stores + arrived :])
    widest: Any = np.nan
    for piece in pieces_of(series[0].shape[-1]):
        evaporated, overflow, *others = (one[..., piece] for one in series)
        stored, received = _sum(others[:stores]), _sum(others[stores:])
        error = received - evaporated
        error -= overflow
        error[..., 1:] -= stored[..., 1:] - stored[..., :-1]
        error[..., 0] -= stored[..., 0] - before
        before = stored[..., -1]
        widest = np.fmax(widest, np.fmax(np.fmax.reduce(error, axis=-1), -np.fmin.reduce(error, axis=-1)))
    return np.asarray(np.abs(widest))


def _sum(parts: Sequence[np.ndarray]) -> np.ndarray:
    """Return the sum of arrays, those that grow in place the first two."""
    if len(parts) == 1:
        return parts[0]
    total = np.asarray(parts[0] + parts[1])
    for part in parts[2:]:
        total += part
    return total


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
