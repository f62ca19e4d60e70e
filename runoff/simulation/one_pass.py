"""One pass of roofs through weather: the weather side, then the planted columns below it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import xarray as xr

from runoff.plain_arrays import applied, is_plain
from runoff.simulation import kernel
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules
from runoff.simulation.weather_side import run_weather_side
from runoff.time_steps import Calendar, pieces_of

#: What the planting meets and nobody asks for later: let go, its room serves what is worked out next.
_OF_THE_PASS = ("drawing", "no_run_on", "other_evapotranspiration")


def run_once(
    columns: Columns,
    rules: RunRules,
    hours: float,
    forcing: xr.Dataset,
    stores: Fields,
    met: Fields | None,
    last_alone: bool = False,
) -> Fields:
    """Run everything through a piece of weather and keep every flux and store.

    Parameters
    ----------
    columns, rules, hours
        Roofs, rules and length of the step, h.
    forcing
        From `runoff.weather.record.forcing.prepare_forcing`.
    stores
        The stores before the first step, by the names of `runoff.simulation.start.CARRIED`, mm.
    met
        What of the weather is known already; see `runoff.simulation.weather_side.met_in_all_passes`.
    last_alone
        Keep of traces the last step alone, as a warm-up does.

    Returns
    -------
    dict
        What `kernel.trace` and `run_weather_side` return, but for what the pass alone works with.
    """
    side = run_weather_side(forcing, rules, hours, columns, stores, last_alone, met)
    planted = kernel.trace(columns, rules, hours, arriving(columns, side), stores, watered(rules, forcing), last_alone)
    return {**planted, **{name: field for name, field in side.items() if name not in _OF_THE_PASS}}


def with_overflow(columns: Columns, fields: Fields) -> Fields:
    """Return the fields of a pass with what leaves the roof, mm per step; a warm-up does without.

    Parameters
    ----------
    columns, fields
        The roofs, and what `run_once` returned.

    Returns
    -------
    dict
        Beside the fields ``overflow``, all that leaves the planted area, and ``roof_overflow``, the area-weighted mean over
        planted and other surface.
    """
    (overflow,) = applied(np.add, [fields["drained"], fields["spilled"]])
    parts = columns.value("planted_fraction"), overflow, fields["other_overflow"]
    (of_the_roof,) = applied(_mean_of_parts, parts)
    return {**fields, "overflow": overflow, "roof_overflow": of_the_roof}


def _mean_of_parts(planted: np.ndarray, overflow: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return the mean overflow of the roof, from the planted share, ``(...,)``, and both parts, mm per step, ``(..., time)``."""
    share = planted[..., None]
    of_the_roof: np.ndarray = share * overflow
    beside = np.broadcast_to(other, of_the_roof.shape)
    for piece in pieces_of(beside.shape[-1]):
        of_the_roof[..., piece] += (1.0 - share) * beside[..., piece]
    return of_the_roof


def watered(rules: RunRules, forcing: xr.Dataset) -> np.ndarray | None:
    """Return whether watering is allowed in each step, shape ``(time,)``; None where the rules water no roof."""
    if rules.irrigation is None:
        return None
    return np.isin(Calendar.of(forcing["time"]).month, rules.irrigation.months_in(forcing))


def arriving(columns: Columns, side: Fields) -> tuple[Any, Any, Any]:
    """Return what meets the planting, what can be drawn, and what is led to the outlets, mm per step."""
    if "run_on" not in side:
        return side["liquid"], side["drawing"], side["no_run_on"]
    led = side["run_on"] * columns.value("run_on_to_outlet")
    return side["liquid"] + (side["run_on"] - led), side["drawing"], led


def at_the_end(fields: Fields, names: Iterable[str]) -> Fields:
    """Return stores at the end of a pass; those that it does not have are empty."""
    return {name: last_step(fields[name]) if name in fields else np.zeros(()) for name in names}


def last_step(field: Any) -> Any:
    """Return what a field of a pass is in its last step."""
    return field[-1] if is_plain(field) else field.isel(time=-1)
