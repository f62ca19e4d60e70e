"""From yearly totals to the figures people ask for; whoever has totals, of a run or of a sweep, gets the same figures."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Any

import numpy as np
import xarray as xr

from runoff.findings.events import WET_DAY_MM
from runoff.findings.whole_roof import volume_m3
from runoff.findings.yearly import coords_of_figures, largest_of, totals_of_run
from runoff.given_kinds import refuse_other_kinds
from runoff.plain_arrays import in_memory, put_together, with_names, without_names
from runoff.saying import titles
from runoff.simulation.on_disk import Origin, origin_of

#: Headline figures: units and words, in the order in which they are shown.
FACTS: dict[str, tuple[str, str]] = {
    "years": ("1", "years of record"),
    "annual_rain": ("mm", "annual rain"),
    "annual_overflow": ("mm", "annual overflow, per planted area"),
    "annual_evapotranspiration": ("mm", "annual evapotranspiration, per planted area"),
    "retention": ("1", "retention"),
    "annual_capture_mm": ("mm", "annual capture, per planted area"),
    "annual_capture_m3": ("m3", "annual capture, whole roof"),
    "events_held": ("1", "rain events held (overflow under 5 % of their rain)"),
    "peak_overflow": ("mm/day", "peak overflow of a day (not a storm peak)"),
    "peak_discharge": ("L/s", "peak discharge of the whole roof, mean of one step"),
    "waterlogged_days": ("day/year", "waterlogged days"),
    "waterlogged_area_days": ("day/year", "waterlogged area days (sum of the waterlogged share)"),
    "longest_waterlogged_spell": ("day", "longest waterlogged spell"),
    "rot_risk_days": ("day/year", "days at risk of root rot"),
    "excess_water": ("mm day/year", "excess water above field capacity"),
    "dry_days": ("day/year", "dry days"),
    "drought_risk_days": ("day/year", "days at risk of drought"),
    "longest_dry_spell": ("day", "longest dry spell"),
}
#: What documents claim beside the headline figures: units and words. Avoided runoff is against the roof as it is, never
#: against zero.
CLAIMS: dict[str, tuple[str, str]] = {
    "roof_annual_rain_m3": ("m3", "annual rain on the whole roof"),
    "roof_annual_overflow_m3": ("m3", "annual overflow of the whole roof"),
    "roof_annual_capture_mm": ("mm", "annual capture, mean of the whole roof"),
    "roof_retention": ("1", "retention of the whole roof"),
    "annual_runoff_coefficient": ("1", "annual runoff coefficient of the whole roof"),
    "bare_annual_overflow_m3": ("m3", "comparison roof: annual overflow of the whole roof"),
    "bare_runoff_coefficient": ("1", "comparison roof: annual runoff coefficient"),
    "avoided_annual_mm": ("mm", "annual avoided runoff against the comparison roof, mean of the whole roof"),
    "avoided_annual_m3": ("m3", "annual avoided runoff against the comparison roof"),
    "avoided_share": ("1", "avoided share of the comparison roof's runoff"),
    "events_per_year": ("1", "rain events per year"),
    "events_held_per_year": ("1", "rain events held per year"),
    "bare_events_held_per_year": ("1", "comparison roof: rain events held per year"),
}
#: Only where water runs on to a roof: name, and units and words.
RUN_ON = "annual_run_on"
_RUN_ON_WORDS = ("mm", "annual run-on, per planted area")
#: The mean month, along ``month``.
MONTHLY: dict[str, tuple[str, str]] = {
    "month_rain": ("mm", "rain of the mean month"),
    "month_overflow": ("mm", "overflow of the mean month, per planted area"),
    "month_capture": ("mm", "capture of the mean month, per planted area"),
    "month_bare_overflow": ("mm", "comparison roof: overflow of the mean month"),
    "retention_by_month": ("1", "retention by month"),
    "bare_retention_by_month": ("1", "comparison roof: retention by month"),
}
_OF_THE_BARE_ROOF = (
    "annual_overflow",
    "annual_evapotranspiration",
    "retention",
    "annual_capture_mm",
    "annual_capture_m3",
    "events_held",
    "peak_overflow",
    "peak_discharge",
)

#: Every figure of `summarize`, in its order.
FIGURES: dict[str, tuple[str, str]] = {
    **FACTS,
    **{f"bare_{name}": (FACTS[name][0], f"comparison roof: {FACTS[name][1]}") for name in _OF_THE_BARE_ROOF},
    **CLAIMS,
    **MONTHLY,
}


_UNLIKE = (
    "The comparison roof is reckoned without the run-on: its overflow, retention and peaks side by side with those of the planted "
    "roof are no like-for-like figures, and a reduction read from them is understated. Avoided runoff counts the run-on on both sides."
)


def figures_in(names: Container[Any]) -> dict[str, tuple[str, str]]:
    """Return units and words of the headline figures that are among some names, run-on after rain, in the order of showing.

    Parameters
    ----------
    names
        Figures of `summarize`, or their names.
    """
    if RUN_ON not in names:
        return FACTS
    (years, rain), others = list(FACTS.items())[:2], list(FACTS.items())[2:]
    return dict([years, rain, (RUN_ON, _RUN_ON_WORDS), *others])


def summarize(
    run: xr.Dataset, *, tolerance_days: float | None = None, warm_c: float | None = None, wet_day_mm: float = WET_DAY_MM
) -> xr.Dataset:
    """Return the headline figures of a run.

    Parameters
    ----------
    run
        What `runoff.simulate` returned. Steps shorter than a day are first brought to days; ``peak_discharge``
        keeps the step.
    tolerance_days
        Waterlogged days a spell may last before its days count as rot risk; default as in the run.
    warm_c
        Mean day temperature (degC) from which rot is counted; default as in the run. Without temperature all
        days count.
    wet_day_mm
        Rain of a wet day; runs of wet days are the rain events.

    Returns
    -------
    xarray.Dataset
        The figures of `FACTS`, where water runs on ``annual_run_on`` (mm), the same for the comparison roof with ``bare_`` in front where they make sense, those of
        `CLAIMS`, and along ``month`` those of `MONTHLY`. Leading dimensions of the run are kept. Days per year are
        mean counts; the bands from watch to loss are a reading aid, no published limit exists for roofs.

    Raises
    ------
    RunoffError
        When the steps of the run are irregular.
    KeyError
        When the Dataset lacks what `runoff.simulate` returns.

    Notes
    -----
    Retention is cumulative (one minus all overflow over all rain), the only kind an annual claim can rest on;
    the mean over events is always higher. It is a share of all water that arrives: rain, run-on and, where the roof is watered,
    the water given. Captures in mm and m3 are rain and run-on less overflow: water given is never claimed as captured.
    ``peak_overflow`` is the sum of a day: it says nothing about the peak
    of a storm, for which a run in minutes is needed.

    Of a run on disk, as `runoff.simulate` returned it, sums are formed along with the balance: no series is kept. They are added up
    in another order and agree to some 1e-12 of their size, counts agree exactly.
    """
    refuse_other_kinds("summarize", run=run)
    tolerance = run.attrs.get("tolerance_days", 2.0) if tolerance_days is None else tolerance_days
    warm = run.attrs.get("warm_c", 5.0) if warm_c is None else warm_c
    origin = origin_of(run)
    if origin is not None and (tolerance, warm, wet_day_mm) == (*_counts_as(origin), WET_DAY_MM):
        return _without_series(run, origin)
    totals, _ = totals_of_run(run, tolerance_days=tolerance, warm_c=warm, wet_day_mm=wet_day_mm)
    return labelled(figures_of(totals, run_on="run_on" in run), coords_of_figures(run), run.attrs)


def _counts_as(origin: Origin) -> tuple[float, float]:
    return origin.rules.limits.tolerance_days, origin.rules.limits.warm_c


def _without_series(run: xr.Dataset, origin: Origin) -> xr.Dataset:
    """Return the figures of a run on disk from sums that go along with the balance, so that no series is worked out."""
    from runoff.findings.on_disk import totals_on_disk  # loads the loops of grids

    totals = totals_on_disk(origin)
    given = {str(name): one for name, one in totals.variables.items() if name in totals.data_vars}
    return labelled(figures_of(given, run_on=False), coords_of_figures(run), run.attrs)


def facts_from_totals(totals: xr.Dataset, *, run_on: bool | None = None) -> xr.Dataset:
    """Return the figures from yearly totals; see `summarize`.

    Sums over years are divided by ``years``, largest values are taken over them. ``events`` counts all events.

    Parameters
    ----------
    totals
        From `runoff.yearly_totals`.
    run_on
        As in `figures_of`.
    """
    given = without_names({str(name): totals.variables[name] for name in totals.data_vars})
    return labelled(figures_of(given, run_on=run_on), without_years(totals.coords), totals.attrs)


def without_years(coords: Mapping[Any, Any]) -> dict[Any, Any]:
    """Return the labels of totals that figures keep, from `runoff.findings.yearly.coords_of_totals`."""
    return {
        name: coord for name, coord in coords.items() if name != "year" and "year" not in getattr(coord, "dims", ())
    }


def labelled(
    figures: Mapping[str, Any],
    coords: xr.Coordinates | Mapping[Any, Any],
    attrs: Mapping[Any, Any],
    along: tuple[str, ...] = (),
) -> xr.Dataset:
    """Return figures from `figures_of` with their units and names, as `summarize` does.

    Parameters
    ----------
    figures
        Name to figure, from `figures_of`.
    coords, attrs
        Coordinates, none of them along ``year``, and attributes of the totals.
    along
        The dimension, beside ``month``, of figures that are plain arrays.

    Returns
    -------
    xarray.Dataset
        As `summarize` returns it.
    """
    told = {**FIGURES, **figures_in(figures)}
    words = {name: {"units": units, "long_name": long_name} for name, (units, long_name) in told.items()}
    named = with_names(figures, lambda name: (*along, "month") if name in MONTHLY else along, words)
    facts = put_together(named, coords, attrs)
    if any("month" in one.dims[:-1] for one in named.values()):
        facts = facts.transpose(..., "month")
    facts.attrs["title"] = titles.FACTS
    facts.attrs["note"] = (
        "The peak overflow of a day is no storm peak: run a design storm in minutes for that. Days of waterlogging and "
        "rot risk are a reading aid; no published day limit exists for roofs."
    )
    if RUN_ON in figures:
        facts.attrs["note"] += f" {_UNLIKE}"
    return facts


def figures_of(given: Mapping[str, Any], *, run_on: bool | None = None) -> dict[str, Any]:
    """Return the figures of `FIGURES` from yearly totals, without labels; see `facts_from_totals`.

    Parameters
    ----------
    given
        Yearly totals: variables, or plain arrays from `runoff.plain_arrays.without_names`.
    run_on
        Whether water runs on, so that ``annual_run_on`` is among the figures; default: where totals in memory hold some.
    """
    if run_on is None:
        run_on = "run_on" in given and in_memory(given["run_on"]) and bool((given["run_on"] > 0.0).any())
    years, area_m2 = given["years"], given["area_m2"]
    rain = _sum(given["rain"])
    monthly_rain = given["rain_by_month"]

    def mean(name: str) -> Any:
        return _sum(given[name]) / years

    facts: dict[str, Any] = {"years": years, "annual_rain": rain / years}
    arriving = _sum(given["run_on"]) if "run_on" in given else 0.0
    monthly_received = monthly_rain + given["run_on_by_month"] if "run_on_by_month" in given else monthly_rain
    watered = _sum(given["irrigation"]) if "irrigation" in given else 0.0
    for surface, received, by_hand in (("", rain + arriving, watered), ("bare_", rain, 0.0)):
        overflow = _sum(given[f"{surface}overflow"])
        facts[f"{surface}annual_overflow"] = overflow / years
        facts[f"{surface}annual_evapotranspiration"] = mean(f"{surface}evapotranspiration")
        arrived = received + by_hand
        facts[f"{surface}retention"] = 1.0 - overflow / _above_none(arrived)
        facts[f"{surface}annual_capture_mm"] = (received - overflow) / years
        facts[f"{surface}peak_overflow"] = largest_of(given[f"{surface}peak_overflow"], "year")
        facts[f"{surface}peak_discharge"] = given[f"{surface}peak_discharge"]
        by_month = monthly_rain if surface else monthly_received
        share = given[f"{surface}overflow_by_month"] / _above_none(by_month)
        facts[f"{surface}retention_by_month"] = 1.0 - share
        facts[f"month_{surface}overflow"] = given[f"{surface}overflow_by_month"] / years
    facts["month_rain"] = monthly_rain / years
    facts["month_capture"] = monthly_received / years - facts["month_overflow"]
    for name in (
        "waterlogged_days",
        "waterlogged_area_days",
        "rot_risk_days",
        "dry_days",
        "drought_risk_days",
        "excess_water",
    ):
        facts[name] = mean(name)
    for name in ("longest_waterlogged_spell", "longest_dry_spell"):
        facts[name] = largest_of(given[name], "year")
    left, bare_left = (_sum(given[name]) for name in ("roof_overflow", "bare_overflow"))
    led = _sum(given["roof_run_on"]) if "roof_run_on" in given else rain * 0.0
    facts |= _claims(rain, led, left, bare_left, years, area_m2)
    facts |= _events(given, years)
    if run_on:
        facts[RUN_ON] = mean("run_on") if "run_on" in given else 0.0 * facts["annual_overflow"]
    return {name: facts[name] for name in {**figures_in(facts), **FIGURES}}


def _sum(values: Any) -> Any:
    """Return the sum over years, missing where one is; `xarray.Variable.sum` takes ten times as long for a few years."""
    if isinstance(values, np.ndarray):
        return values.sum(axis=-1)
    at = values.dims.index("year")
    return xr.Variable(values.dims[:at] + values.dims[at + 1 :], values.data.sum(axis=at))


def _above_none(values: Any) -> Any:
    """Return the values above 0, the rest missing; `xarray.Variable.where` takes many times as long for a few."""
    if not in_memory(values):
        return values.where(values > 0)
    numbers = np.asarray(values)
    above = np.where(numbers > 0, numbers, np.nan)
    return xr.Variable(values.dims, above) if isinstance(values, xr.Variable) else above


def _claims(
    rain: Any,
    led: Any,
    left: Any,
    bare_left: Any,
    years: Any,
    area_m2: Any,
) -> dict[str, Any]:
    """Return what the whole roof keeps and avoids, from sums over all years, mm of the roof; `led` is what runs on to it.

    The comparison roof gets no run-on, but without the planting that water would leave all the same.
    """

    def cubic_metres(depth_mm: Any) -> Any:
        return volume_m3(depth_mm / years, area_m2)

    received, otherwise = rain + led, bare_left + led
    wet, shed = _above_none(received), _above_none(otherwise)
    return {
        "annual_capture_m3": cubic_metres(received - left),
        "bare_annual_capture_m3": cubic_metres(rain - bare_left),
        "roof_annual_rain_m3": cubic_metres(rain),
        "roof_annual_overflow_m3": cubic_metres(left),
        "roof_annual_capture_mm": (received - left) / years,
        "roof_retention": 1.0 - left / wet,
        "annual_runoff_coefficient": left / wet,
        "bare_annual_overflow_m3": cubic_metres(bare_left),
        "bare_runoff_coefficient": bare_left / _above_none(rain),
        "avoided_annual_mm": (otherwise - left) / years,
        "avoided_annual_m3": cubic_metres(otherwise - left),
        "avoided_share": 1.0 - left / shed,
    }


def _events(given: Mapping[str, Any], years: Any) -> dict[str, Any]:
    """Return events per year, and those held, as a count and as a share."""
    events = _sum(given["events"])
    found = {"events_per_year": events / years}
    for surface in ("", "bare_"):
        held = _sum(given[f"{surface}events_held"])
        found[f"{surface}events_held"] = held / _above_none(events)
        found[f"{surface}events_held_per_year"] = held / years
    return found
