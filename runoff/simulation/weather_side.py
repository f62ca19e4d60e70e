"""What the weather brings to every roof before a drop meets a plant: snow, frost, run-on, and surfaces without planting.

Everything here depends on the weather and on few numbers of the roof, so in a daily run designs that share those numbers
share it.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from runoff.balance import cells, minutes, surfaces
from runoff.balance.loop_choice import as_read
from runoff.plain_arrays import applied, is_plain, without_names
from runoff.simulation import kernel
from runoff.simulation.daily_record import DailyRecord
from runoff.simulation.roof_side import Columns, Fields
from runoff.simulation.rules import RunRules
from runoff.weather.record.forcing import steps_in_first_years

#: The stores beside the planted column that a run carries from step to step, mm. What stands before the outlets of a surface
#: without planting is only about in runs in minutes: a day is long enough for it to run off.
SIDE_STORES = ("snow_water", "run_on_water", "other_water", "other_free_water", "bare_water", "bare_free_water")
#: The numbers of a roof that its weather side depends on in a daily run.
DEPENDS_ON = ("other_daily", "run_on_share", "run_on_loss", "run_on_to_outlet")


def passes(forcing: xr.Dataset, warm_up_years: int) -> list[xr.Dataset]:
    """Return the pieces of weather a run goes through in turn: the warm-up, if any, and the record."""
    if not warm_up_years:
        return [forcing]
    first = steps_in_first_years(forcing.variables["time"], warm_up_years)
    return [forcing if first == forcing.sizes["time"] else forcing.isel(time=slice(0, first)), forcing]


def run_weather_side(
    forcing: xr.Dataset,
    rules: RunRules,
    hours: float,
    columns: Columns,
    stores: Fields,
    last_alone: bool = False,
    met: Fields | None = None,
) -> Fields:
    """Run snow, run-on, the unplanted part of the roof and the comparison roof.

    Parameters
    ----------
    forcing
        From `runoff.weather.record.forcing.prepare_forcing`.
    rules, hours
        The rules of the run and the length of its step, h.
    columns
        The roofs; a daily run reads the rows of `DEPENDS_ON` alone.
    stores
        The stores before the first step, by the names of `SIDE_STORES`, mm.
    last_alone
        Keep of surfaces in minutes the last step alone; see `kernel.trace`.
    met
        From `weather_met`, where it is known already, mm.

    Returns
    -------
    dict
        What `weather_met` returns; ``run_on`` (mm of planted area) and ``run_on_water``; of ``other`` and ``bare``: ``..._overflow``,
        ``..._evapotranspiration`` (mm per step), ``..._water`` and ``..._free_water``.
    """
    side = run_weather_above(forcing, rules, hours, columns, stores, met)
    run = _bare_days if hours == 24.0 else functools.partial(_bare_minutes, last_alone=last_alone)
    other, bare = (run(name, rules, columns, hours, side, stores) for name in ("other", "bare"))
    return side | other | bare


def run_weather_above(
    forcing: xr.Dataset, rules: RunRules, hours: float, columns: Columns, stores: Fields, met: Fields | None = None
) -> Fields:
    """Do as `run_weather_side` without the surfaces that have no planting.

    Parameters
    ----------
    forcing, rules, columns, stores, met
        As there, mm.
    hours
        Length of a step, h.

    Returns
    -------
    dict
        What `weather_met` returns, and ``run_on`` and ``run_on_water`` where there are any, as there.
    """
    side = weather_met(forcing, rules, hours, columns, stores) if met is None else met
    return side | _run_on(columns, side, stores)


def weather_met(forcing: xr.Dataset, rules: RunRules, hours: float, columns: Columns, stores: Fields) -> Fields:
    """Return what no roof changes.

    Parameters
    ----------
    forcing, rules, hours, columns, stores
        As in `run_weather_side`, mm.

    Returns
    -------
    dict
        The series of the weather; ``liquid`` (rain plus melt, mm per step), ``drawing`` (reference evapotranspiration, 0 under snow and in frost),
        ``snow_water`` and ``no_run_on`` (0 mm).
    """
    given: Fields = {str(name): forcing.variables[name] for name in forcing.data_vars}
    if columns.names is None and all(map(is_plain, stores.values())):
        given = without_names(given)
    liquid, lying = _snow(given, rules, hours, stores["snow_water"])
    return {
        **given,
        "liquid": liquid,
        "snow_water": lying,
        "drawing": _drawing(given, lying),
        "no_run_on": _none_of(liquid),
    }


def met_in_all_passes(
    pieces: Sequence[xr.Dataset], rules: RunRules, hours: float, columns: Columns, stores: Fields
) -> Fields | None:
    """Return what `weather_met` does where it is the same in all passes: over the same weather, and no snow to hand on.

    Parameters
    ----------
    pieces
        From `passes`.
    rules, hours, columns, stores
        As in `run_weather_side`, before the first of them, mm.

    Returns
    -------
    dict or None
        None where it has to be worked out for each pass.
    """
    snow, record = stores["snow_water"], pieces[-1]
    if "tmean" in record or not is_plain(snow) or np.any(snow) or any(piece is not record for piece in pieces):
        return None
    return weather_met(record, rules, hours, columns, stores)


def side_of(columns: Columns, hours: float) -> tuple[Any, ...]:
    """Return what the weather side of one roof depends on, so that roofs that are alike in it share it.

    Parameters
    ----------
    columns, hours
        The roof, and the step of the run, h.

    Returns
    -------
    tuple
        Numbers and, in minutes, where the unplanted part has its own way to the outlets, their laws.
    """
    shared = tuple(float(columns.rows[name][0]) for name in DEPENDS_ON)
    if hours == 24.0:
        return shared
    deck = deck_of(columns.described[0], None)
    return (*shared, *(deck[name] for name in minutes.DESCRIBED_BARE), *deck["outlets"])


def run_daily_sides(
    record: DailyRecord, rules: RunRules, groups: Columns, before: Mapping[str, np.ndarray]
) -> dict[str, np.ndarray]:
    """Do as `run_weather_side` in a daily run of one site, as plain arrays and for several groups of roofs side by side.

    Parameters
    ----------
    record, rules
        The days and the rules of the run.
    groups
        One design for each group of roofs.
    before
        The stores before the first day by the names of `SIDE_STORES`, mm, those of a group of shape ``(group,)``.

    Returns
    -------
    dict of numpy.ndarray
        As there, mm per step, shape ``(time,)``; what goes by the roof, ``run_on`` and ``other``, of shape ``(group, time)``.
    """
    liquid, snow = _liquid_and_snow(record.rain, before["snow_water"], record.tmean, rules=rules, hours=24.0)
    drawing = surfaces.evaporation_demand(record.reference_et, snow, record.tmean)
    side = {"liquid": liquid, "snow_water": snow, "drawing": drawing}
    rows = groups.rows
    if np.any(rows["run_on_share"] > 0.0):
        spilled, _, water = cells.depression(liquid, drawing, rows["run_on_loss"], before["run_on_water"])
        side |= {"run_on": spilled * rows["run_on_share"][:, None], "run_on_water": water}
    for name, capacity in (("other", rows["other_daily"]), ("bare", np.array(rules.comparison.daily_storage_mm))):
        water = before[f"{name}_water"] + before[f"{name}_free_water"]
        run = cells.depression(liquid, drawing, capacity, water)
        side |= dict(zip((f"{name}_overflow", f"{name}_evapotranspiration", f"{name}_water"), run, strict=True))
    return side


def _snow(given: Fields, rules: RunRules, hours: float, before: Any) -> tuple[Any, Any]:
    """Return rain plus melt, and the snow that lies; without temperature none stays, and that of the start melts in a day."""
    known = [given["tmean"]] if "tmean" in given else []
    split = functools.partial(_liquid_and_snow, rules=rules, hours=hours)
    liquid, snow = applied(split, [given["rain"], before, *known], [("time",)] * 2)
    return liquid, snow


def _liquid_and_snow(
    rain: np.ndarray, snow: np.ndarray, temperature: np.ndarray | None = None, *, rules: RunRules, hours: float
) -> tuple[np.ndarray, np.ndarray]:
    """Do as `_snow` for plain arrays of mm per step and degC, ``(..., time)``, and the snow before, mm, ``(...,)``."""
    if temperature is None and not np.any(snow):  # a missing one counts as some
        shape = (*np.broadcast_shapes(rain.shape[:-1], np.shape(snow)), rain.shape[-1])
        return np.broadcast_to(rain, shape).copy(), np.zeros(shape)
    if temperature is None:  # nothing says that it stays: snow of a start state melts over the first day
        first, steps = max(1, round(24.0 / hours)), rain.shape[-1]
        first = min(steps, first)
        melting = np.where(np.arange(steps) < first, 1.0 / first, 0.0)
        left = np.maximum(0.0, 1.0 - np.arange(1, steps + 1) / first)
        before = np.asarray(snow)[..., None]
        return rain + melting * before, np.zeros_like(rain) + left * before
    rain, temperature = map(as_read, np.broadcast_arrays(rain, temperature))
    return surfaces.snow_and_melt(
        rain,
        temperature,
        threshold=rules.snow.snow_below_c,
        melt_per_step=rules.snow.melt_mm_per_c_day * hours / 24.0,
        snow=np.broadcast_to(snow, np.broadcast_shapes(rain.shape, temperature.shape)[:-1]),
    )


def _drawing(given: Fields, snow: Any) -> Any:
    """Return what evaporation can draw, mm per step: nothing under snow or from frozen ground, never less than nothing."""
    known = [given["tmean"]] if "tmean" in given else []
    return applied(surfaces.evaporation_demand, [given["reference_et"], snow, *known])[0]


def _run_on(columns: Columns, side: Fields, stores: Fields) -> Fields:
    """Run the adjoining hard surfaces that drain onto the roof: what they shed, mm of planted area."""
    if not np.any(columns.rows["run_on_share"] > 0.0):
        return {}
    spilled, _, water = _depression(side, columns.value("run_on_loss"), stores["run_on_water"])
    return {"run_on": spilled * columns.value("run_on_share"), "run_on_water": water}


def _bare_days(name: str, rules: RunRules, columns: Columns, hours: float, side: Fields, stores: Fields) -> Fields:
    bare = np.float64(rules.comparison.daily_storage_mm)
    capacity = bare if name == "bare" else columns.value("other_daily")
    spilled, evaporated, water = _depression(side, capacity, stores[f"{name}_water"] + stores[f"{name}_free_water"])
    return {
        f"{name}_overflow": spilled,
        f"{name}_evapotranspiration": evaporated,
        f"{name}_water": water,
    }


def _depression(side: Fields, capacity: Any, before: Any) -> tuple[Any, ...]:
    return applied(cells.depression, [side["liquid"], side["drawing"], capacity, before], [("time",)] * 3)


def run_surfaces_in_minutes(run: xr.Dataset, surfaces: Sequence[Any], columns: Columns, hours: float) -> Fields:
    """Route other surfaces without planting through the weather of a run in minutes, from a dry start.

    Run-on reaches them as it reaches the planted roof: with the rain, or led to the outlets; spread over the whole roof, which they
    cover.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof, in minutes.
    surfaces
        One or more `runoff.BareSurface`.
    columns, hours
        The roof of the run, whose outlets, edge and overflow they have, and its step, h.

    Returns
    -------
    dict of xarray.Variable
        Along ``surface`` first: ``surface_overflow``, ``surface_evapotranspiration`` and ``surface_over_edge`` (mm per step),
        ``surface_water``, ``surface_free_water`` (mm), ``surface_depth_on_deck_mm`` and ``surface_largest_depth_on_deck_mm``.
    """
    given: Fields = {name: run.variables[name] for name in ("reference_et", "tmean") if name in run}
    side = {"liquid": run.variables["liquid"], "drawing": _drawing(given, run.variables["snow_water"])}
    if "run_on" in run:
        received = run.variables["run_on"] * columns.rows["planted_fraction"].item()
        led = received * columns.rows["run_on_to_outlet"].item()
        side["liquid"] = side["liquid"] + (received - led)
    else:
        led = _none_of(side["liquid"])
    before = dict.fromkeys(("surface_water", "surface_free_water"), np.zeros(()))
    decks = [deck_of(columns.described[0], one) for one in surfaces]
    ready = kernel.decks_in_minutes(decks, hours)
    return _over_decks("surface", ready, xr.Variable("surface", np.arange(len(decks))), side, before, led)


def _none_of(liquid: Any) -> Any:
    """Return 0 mm for every step of a series."""
    return np.zeros(liquid.size) if is_plain(liquid) else xr.Variable("time", np.zeros(liquid.sizes["time"]))


def _bare_minutes(
    name: str, rules: RunRules, columns: Columns, hours: float, side: Fields, stores: Fields, *, last_alone: bool
) -> Fields:
    """Route a surface without planting through the outlets, edge and overflow of each roof."""

    def made() -> Any:
        both = [deck_of(one, each) for each in (None, rules.comparison) for one in columns.described]
        return kernel.decks_in_minutes(both, hours)

    ready = columns.once(("decks", rules.comparison, hours), made)
    of_which = columns.label(np.arange(columns.count) + (columns.count if name == "bare" else 0))
    return _over_decks(name, ready, of_which, side, stores, side["no_run_on"], last_alone)


def _over_decks(
    name: str, decks: Any, of_which: Any, side: Fields, stores: Fields, led: Any, last_alone: bool = False
) -> Fields:
    """Route water over decks without planting.

    Parameters
    ----------
    name
        What the names of stores and results begin with.
    decks
        From `kernel.decks_in_minutes`.
    of_which
        Which deck stands at each place of the result.
    side, stores
        As in `run_weather_side`.
    led
        Water led to the outlets of the decks, mm per step.
    last_alone
        As in `kernel.trace`.

    Returns
    -------
    dict of xarray.Variable
        Fluxes (mm per step), stores and depths (mm) as in `run_surfaces_in_minutes`, their names begun with `name`; the stores
        where the last step alone is kept.
    """
    before = {"surface_water": stores[f"{name}_water"], "free_water": stores[f"{name}_free_water"]}
    run = kernel.trace_decks(decks, of_which, side["liquid"], side["drawing"], before, led, last_alone)
    stored = {f"{name}_water": run["surface_water"], f"{name}_free_water": run["free_water"]}
    if last_alone:
        return stored
    overflow = run["spilled"]
    overflow += run["drained"]  # in place: nobody asks what a surface without planting spilled
    return {
        f"{name}_overflow": overflow,
        f"{name}_evapotranspiration": run["evapotranspiration"],
        **stored,
        f"{name}_depth_on_deck_mm": run["water_depth_on_deck_mm"],
        f"{name}_largest_depth_on_deck_mm": run["largest_depth_on_deck_mm"],
        f"{name}_over_edge": run["over_edge"],
    }


def deck_of(column: dict[str, Any], comparison: Any) -> dict[str, Any]:
    """Return the deck of a surface without planting: the roof's own (comparison None), or the roof as it was before."""
    if comparison is None:
        own = column["other_capacity"], column["other_gravel_depth"], column["other_gravel_pores"]
    else:
        own = comparison.depression_storage_mm, comparison.depth_mm, comparison.pore_fraction
    return {**column, "film_capacity": own[0], "gravel_depth": own[1], "gravel_pores": own[2]}
