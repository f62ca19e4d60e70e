"""From raw fields to the Dataset a person gets: what follows from them, names, units, provenance."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from runoff.plain_arrays import applied, is_plain, put_together, with_names
from runoff.quantities import label
from runoff.saying import titles
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules
from runoff.simulation.signs import balance_error, signs_of
from runoff.version import __version__

#: What a result keeps of each roof, so that figures need no roof beside it.
_KEPT_OF_THE_ROOF = (
    "area_m2", "planted_fraction", "flow_length_m", "medium_depth", "field_water", "wilting_water", "full_water", "cup_capacity",
    "cup_supply",
)  # fmt: skip
#: What a trace of days tells too, and `signs_of` forms by the one rule for days and minutes.
_FORMED_ANEW = ("waterlogged", "dry", "air_filled_porosity")


def finished(
    columns: Columns,
    rules: RunRules,
    hours: float,
    forcing: xr.Dataset,
    before: Fields,
    fields: Fields,
    start_coords: Mapping[Any, xr.DataArray],
) -> xr.Dataset:
    """Form what follows from fluxes and stores, check the balance, label everything.

    Parameters
    ----------
    columns, rules, forcing
        What was run.
    hours
        Length of a step, hours.
    before, fields
        The stores before the first step, and what `runoff.simulation.one_pass.with_overflow` returned.
    start_coords
        Coordinates the stores of the start came with, text and numbers without unit among them.

    Returns
    -------
    xarray.Dataset
        What `runoff.simulate` returns, on ``time`` and any ``design`` and place, but for the attributes of `provenance`.

    Raises
    ------
    BalanceError
        When the water balance is open in a step; see `runoff.simulation.signs.balance_error`.
    """
    given = {str(name): forcing.variables[name] for name in forcing.data_vars}
    result: Fields = {name: fields[name] for name in given}
    result |= {name: field for name, field in fields.items() if name not in _FORMED_ANEW}
    area = columns.value("area_m2")
    for surface, overflow in (("", "roof_overflow"), ("bare_", "bare_overflow")):
        flow = functools.partial(_discharge, seconds=hours * 3600.0)
        (result[f"{surface}discharge"],) = applied(flow, [result[overflow], area])
    result |= signs_of(columns, rules, result)
    result |= {name: columns.value(name) for name in _KEPT_OF_THE_ROOF}
    result["balance_error"] = balance_error(result, before)
    result = {name: _time_last(field) for name, field in result.items()}
    # what is worked out must not pass for the rain it came from
    named = with_names(result, lambda name: ("time",), {name: {} for name in result})
    named |= {name: _time_last(field).copy(deep=False) for name, field in given.items()}
    labelled = put_together(named, forcing.coords, forcing.attrs)
    own = {name: coord for name, coord in start_coords.items() if name != "time" and name not in forcing.coords}
    if own or columns.coords:
        labelled = labelled.assign_coords({**own, **columns.coords})
    return label(labelled)


def _time_last(field: Any) -> Any:
    return field if is_plain(field) or "time" not in field.dims[:-1] else field.transpose(..., "time")


def _discharge(depth: np.ndarray, area_m2: np.ndarray, seconds: float) -> np.ndarray:
    """Return the flow, L/s, that brings a depth, mm per step of shape ``(..., time)``, over an area of shape ``(...,)``."""
    flow: np.ndarray = depth * area_m2[..., None]
    flow /= seconds
    return flow


def rules_told(rules: RunRules, forcing: xr.Dataset) -> dict[str, Any]:
    """Return the attributes that say by which rules a run or a sweep was done."""
    snow = f"at or below {rules.snow.snow_below_c:g} C; melt {rules.snow.melt_mm_per_c_day:g} mm/C/day"
    return {
        "reference_et_method": str(forcing.variables["reference_et"].attrs.get("method", "given")),
        "snow": snow if "tmean" in forcing else "no temperature given, all precipitation taken as rain",
        "air_threshold": rules.limits.air_threshold,
        "tolerance_days": rules.limits.tolerance_days,
        "warm_c": rules.limits.warm_c,
        "dry_share": rules.limits.dry_share,
        "snow_below_c": rules.snow.snow_below_c,
        **({} if rules.limits.drought_days is None else {"drought_days": rules.limits.drought_days}),
        **({} if rules.irrigation is None else {"irrigation": rules.irrigation.told_for(forcing)}),
        "comparison": f"{rules.comparison.kind} with {rules.comparison.depression_storage_mm:g} mm depression storage",
        "weather": str(forcing.attrs.get("source", "not stated")),
        "invented": str(forcing.attrs.get("invented", "no")),
    }


def provenance(rules: RunRules, hours: float, forcing: xr.Dataset, start: str) -> dict[str, Any]:
    """Return the attributes of a run; `start` says in words from which stores it began.

    Parameters
    ----------
    rules, forcing
        What was run.
    hours
        Length of a step, hours.
    start
        In words from which stores the run began.

    Returns
    -------
    dict
        Attribute to text or number, those of `rules_told` among them.
    """
    return {
        "title": titles.RUN,
        "Conventions": "CF-1.11",
        "source": f"runoff {__version__}",
        "start": start,
        "step_hours": hours,
        "spill_order": "overflow leaves before evaporation acts on the water of the step",
        **rules_told(rules, forcing),
    }


def start_told(warm_up_years: int, moisture: Any, state: xr.Dataset | None) -> str:
    """Say in words from which stores a run began.

    Parameters
    ----------
    warm_up_years
        Years run once before the record; 0 for none.
    moisture, state
        As in `runoff.simulate`.

    Returns
    -------
    str
        For example ``after a warm-up of 2 years`` or ``field-capacity``.
    """
    if warm_up_years:
        return f"after a warm-up of {warm_up_years} year{'s' if warm_up_years > 1 else ''}"
    return "last state of another run" if state is not None else str(moisture or "field-capacity")
