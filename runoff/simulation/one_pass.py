"""One pass of roofs through weather: the weather side, then the planted columns below it."""

from __future__ import annotations

import xarray as xr

from runoff.simulation import kernel
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules
from runoff.simulation.weather_side import run_weather_side
from runoff.time_steps import Calendar


def run_once(columns: Columns, rules: RunRules, hours: float, forcing: xr.Dataset, stores: Fields) -> Fields:
    """Run everything through a piece of weather and keep every flux and store.

    Parameters
    ----------
    columns, rules, hours
        Roofs, rules and length of the step, h.
    forcing
        From `runoff.weather.record.forcing.prepare_forcing`.
    stores
        The stores before the first step, by the names of `runoff.simulation.start.CARRIED`, mm.

    Returns
    -------
    dict of xarray.Variable
        What `kernel.trace` and `run_weather_side` return, and ``roof_overflow``, the area-weighted mean over planted and other
        surface (mm per step).
    """
    side = run_weather_side(forcing, rules, hours, columns.value("other_capacity"), stores)
    return below(columns, rules, hours, forcing, side, stores)


def below(columns: Columns, rules: RunRules, hours: float, forcing: xr.Dataset, side: Fields, stores: Fields) -> Fields:
    """Run the planted columns below a weather side that is known; see `run_once`."""
    e0 = forcing.variables["reference_et"]
    planted = kernel.trace(columns, rules, hours, side["liquid"], e0, stores, Calendar.of(forcing["time"]).month)
    fields = {**planted, **side}
    fields["overflow"] = fields["drained"] + fields["spilled"]
    share = columns.value("planted_fraction")
    fields["roof_overflow"] = share * fields["overflow"] + (1.0 - share) * fields["other_overflow"]
    return fields


def at_the_end(fields: Fields, names: tuple[str, ...]) -> Fields:
    """Return stores at the end of a pass."""
    return {name: fields[name].isel(time=-1) for name in names}
