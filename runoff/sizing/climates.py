"""The same roof in several climates, and the water it would take to keep it from drying out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Unpack

import pandas as pd
import xarray as xr

from runoff.errors import SizingError
from runoff.findings.summary import summarize
from runoff.findings.whole_roof import volume_m3
from runoff.given_kinds import refuse_other_kinds
from runoff.saying import titles
from runoff.simulation import IrrigationRule, RuleWords, RunRules, simulate

if TYPE_CHECKING:
    from runoff.roof import Roof


def compare_climates(
    roof: Roof, climates: Mapping[str, Any], *, rules: RunRules | None = None, **words: Unpack[RuleWords]
) -> xr.Dataset:
    """Return the headline figures of one roof in several climates, side by side.

    Parameters
    ----------
    roof
        The roof.
    climates
        Weather by name, for example ``{"present": weather, "2071-2100": runoff.changed_climate(weather, ...)}``. No
        climate is built in: a station file of the place is the right start.
    rules, **words
        Rules of the runs, as in `runoff.simulate`.

    Returns
    -------
    xarray.Dataset
        The figures of `runoff.summarize` along ``climate``.

    Raises
    ------
    SizingError
        When no climate is given, or a rule is not known.
    WeatherError
        When a climate cannot be run: missing rain, no evapotranspiration.
    """
    refuse_other_kinds("compare_climates", roof=roof, climates=climates)
    rules = RunRules.of("compare_climates", rules, **words)
    if not climates:
        raise SizingError(
            "compare_climates: no climate given. None are built in: ask the national weather service for the daily record of a "
            "station near the roof (rain, lowest and highest temperature, 20 years or more) and read it with read_weather"
        )
    facts = [summarize(simulate(roof, weather, rules=rules)) for weather in climates.values()]
    together = xr.concat(facts, pd.Index(list(climates), name="climate"), combine_attrs="drop_conflicts")
    return together.assign_attrs(title=titles.CLIMATES)


def irrigation_demand(
    roof: Roof,
    weather: Any,
    rule: IrrigationRule | None = None,
    *,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Return the water a rule takes, and what it changes.

    Parameters
    ----------
    roof, weather
        As in `runoff.simulate`, a daily record.
    rule
        When and how much; see `runoff.IrrigationRule`.
    rules, **words
        Rules of the runs, as in `runoff.simulate`.

    Returns
    -------
    xarray.Dataset
        ``annual_irrigation_mm``, ``annual_irrigation_m3`` (planted area), ``watering_days`` (per year),
        ``largest_year_mm``; and ``dry_days``, ``longest_dry_spell``, ``annual_overflow`` along ``watered`` (no, yes). Rain
        that falls on a watered roof finds less room: more of it overflows, and that is part of the price.

    Raises
    ------
    SizingError
        When the rule or a rule of the run is not known.
    WeatherError
        When the record is not daily or cannot be run.
    """
    rules = RunRules.of("irrigation_demand", rules, ("rule",), **words)
    rule = rule or rules.irrigation or IrrigationRule()
    plain = simulate(roof, weather, rules=rules.model_copy(update={"irrigation": None}))
    watered = simulate(roof, weather, rules=rules, irrigation=rule)
    pair = [
        summarize(run)[["dry_days", "longest_dry_spell", "annual_overflow", "annual_rain", "years"]]
        for run in (plain, watered)
    ]
    both = xr.concat(pair, pd.Index(["no", "yes"], name="watered"))
    years = both["years"].isel(watered=0)
    given = watered["irrigation"]
    by_year = given.groupby("time.year").sum("time")
    demand = both[["dry_days", "longest_dry_spell", "annual_overflow"]]
    demand["annual_irrigation_mm"] = given.sum("time") / years
    demand["annual_irrigation_m3"] = volume_m3(demand["annual_irrigation_mm"], roof.area_m2 * roof.planted_fraction)
    demand["watering_days"] = (given > 0).sum("time") / years
    demand["largest_year_mm"] = by_year.max("year")
    units = {
        "annual_irrigation_mm": ("mm", "water given per year"),
        "annual_irrigation_m3": ("m3", "water given per year to the planted area"),
        "watering_days": ("day/year", "days with watering per year"),
        "largest_year_mm": ("mm", "water given in the thirstiest year"),
    }
    for name, (unit, long_name) in units.items():
        demand[name].attrs = {"units": unit, "long_name": long_name}
    demand.attrs["title"] = titles.WATERING
    demand.attrs["rule"] = watered.attrs["irrigation"]
    return demand
