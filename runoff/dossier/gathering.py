"""Everything a dossier states, computed once into one Dataset of figures."""

from __future__ import annotations

import re
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.dossier.as_built import Measured, figures_as_built
from runoff.dossier.asked_for import Options, event_asked
from runoff.dossier.future_dates import refuse_future_days
from runoff.dossier.office_rules import credit_figures
from runoff.dossier.ranges import BOUNDS, ranges_of_claims, refuse_short
from runoff.errors import RunoffError, RunoffWarning, WeatherError, raise_faults
from runoff.findings.event_capture import capture_of_events, storage_capacity
from runoff.findings.spells import spells_per_year
from runoff.findings.storm_peaks import compare_storms, run_storms, storm_figures, storms_of_table
from runoff.findings.summary import facts_from_totals
from runoff.findings.whole_roof import parts_of_capture, worst_year_of
from runoff.findings.yearly import yearly_totals, years_of_record
from runoff.roof.levels import edge_level
from runoff.simulation import simulate
from runoff.sizing.claiming import FirstLine, first_line
from runoff.sizing.measured_against import model_error
from runoff.time_steps import time_step

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof
    from runoff.storms.depth_duration import DepthDurationTable
    from runoff.weather.quality.report import QualityReport

_A_YEAR, _ALIKE = 365, 0.9
#: Share of the days that may be filled at most. A choice of caution, no published limit.
MOST_FILLED = 0.10
#: Claims that are told first.
FIRST_LINES = ("retention", "annual_capture_m3", "roof_retention", "avoided_annual_m3")


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """All that the page is written from.

    Parameters
    ----------
    figures
        Every number printed.
    roof, weather, existing, storms, options
        What they were computed from.
    run, totals
        The daily run and its yearly totals.
    design_storms, storm_runs, comparisons
        Rain of the design storms, the runs through them, and the planted beside the existing roof, by return period.
    quality
        Verdict on the weather record.
    first_lines
        What is told first of each claim, or why nothing is.
    worst_year
        The whole year of the record in which the planted area kept the smallest share of the rain.
    promised, measured
        Of a dossier as built: the roof that was promised, and what else was found.
    """

    figures: xr.Dataset
    roof: Roof
    weather: xr.Dataset
    existing: BareSurface
    storms: DepthDurationTable | None
    options: Options
    run: xr.Dataset
    totals: xr.Dataset
    design_storms: Mapping[int, xr.DataArray]
    storm_runs: Mapping[int, xr.Dataset]
    comparisons: Mapping[int, xr.Dataset]
    quality: QualityReport
    first_lines: Mapping[str, FirstLine]
    worst_year: int
    promised: Roof | None = None
    measured: Measured | None = None

    @property
    def is_invented(self) -> bool:
        """Whether the weather is the invented sample, whatever its attributes say by now."""
        return str(self.weather.attrs.get("invented", "no")) == "yes" or rains_like_the_sample(self.weather)


def rains_like_the_sample(weather: xr.Dataset) -> bool:
    """Tell whether the rain of a record is that of the sample, day by day: no real place has it."""
    from runoff.weather import open_sample

    sample = open_sample()["rain"]
    if weather["time"].dtype != sample["time"].dtype:
        return False
    common = np.intersect1d(weather["time"].to_numpy(), sample["time"].to_numpy())
    if common.size < _A_YEAR:
        return False
    ours, theirs = (one.sel(time=common).to_numpy() for one in (sample, weather["rain"]))
    wet = ours > 0.0
    return bool(np.isclose(ours[wet], theirs[wet]).mean() > _ALIKE)


def gather(
    roof: Roof,
    weather: Any,
    *,
    storms: DepthDurationTable | None,
    existing: BareSurface | None,
    options: Options,
    promised: Roof | None = None,
    measured: Measured | None = None,
) -> Evidence:
    """Compute every figure of a dossier.

    Parameters
    ----------
    roof
        The roof as planned, or as built where `promised` is given.
    weather
        A daily record of one place, in any form that `runoff.simulate` takes.
    storms
        Depths of rain by duration and return period, mm; None leaves out the storms.
    existing
        The roof as it is; None for a bare membrane.
    options
        How the dossier is made.
    promised
        The roof as it was promised; None where nothing is compared.
    measured
        What was measured on the roof; None where nothing was.

    Returns
    -------
    Evidence
        Every figure with the runs, records and sentences behind it.

    Raises
    ------
    WeatherError
        When the record has gaps, is shorter than 5 years, holds days to come or gives no evapotranspiration.
    """
    from runoff.roof import BareSurface
    from runoff.weather import check_weather

    existing = existing or BareSurface(kind="membrane")
    daily = daily_record(weather)
    refuse_future_days(daily)
    refuse_short(years_of_record(daily["time"]))
    refuse_filled(daily)
    quality = check_weather(daily)
    _refuse_unusable(quality)
    design_storms = storms_of_table(storms, pattern=options.pattern) if storms is not None else {}
    found = _run_through(roof, daily, existing, design_storms, options)
    of_roof = _figures_of(roof, found, existing, options)
    parts = [
        of_roof,
        spells_per_year(found.run, float(found.totals["years"])),
        figures_of_loads(roof),
        figures_of_run(found.run),
        _of_other_existing(roof, daily, existing, options),
        credit_figures(roof, options.rules),
    ]
    if promised is not None:
        other = _run_through(promised, daily, existing, design_storms, options)
        parts.append(figures_as_built(roof, promised, of_roof, _figures_of(promised, other, existing, options)))
    worst, of_worst = worst_year_of(found.totals)
    figures = joined([*parts, of_worst])
    ranges = ranges_of_claims(
        roof,
        daily,
        figures,
        members=options.members,
        seed=options.seed,
        existing=existing,
        et_method=options.et_method,
        storms=design_storms,
        storm_runs=found.storm_runs,
        comparisons=found.comparisons,
    )
    figures = joined([figures, ranges])
    figures.attrs = {**asdict(options)}
    return Evidence(
        figures=figures,
        roof=roof,
        weather=daily,
        existing=existing,
        storms=storms,
        options=options,
        run=found.run,
        totals=found.totals,
        design_storms=design_storms,
        storm_runs=found.storm_runs,
        comparisons=found.comparisons,
        quality=quality,
        first_lines=first_lines_of(figures, roof),
        worst_year=worst,
        promised=promised,
        measured=measured,
    )


class Runs(NamedTuple):
    """A roof run through the record and the design storms."""

    run: xr.Dataset
    totals: xr.Dataset
    storm_runs: Mapping[int, xr.Dataset]
    comparisons: Mapping[int, xr.Dataset]


def _run_through(
    roof: Roof,
    daily: xr.Dataset,
    existing: BareSurface,
    design_storms: Mapping[int, xr.DataArray],
    options: Options,
) -> Runs:
    """Run a roof through the record and the design storms, beside the roof as it is."""
    run = simulate(roof, daily, et_method=options.et_method, comparison=existing)
    totals = yearly_totals(run, tolerance_days=run.attrs["tolerance_days"], warm_c=run.attrs["warm_c"])
    storm_runs = run_storms(roof, design_storms, existing)
    return Runs(run, totals, storm_runs, compare_storms(storm_runs, roof, existing))


def _figures_of(roof: Roof, found: Runs, existing: BareSurface, options: Options) -> xr.Dataset:
    """Return the figures of one roof that are told of a promised and of a built one alike."""
    parts = [
        facts_from_totals(found.totals),
        storage_capacity(roof),
        capture_of_events(roof, found.run, existing, asked=event_asked(options.event)),
        figures_of_roof(roof),
        _parts_of_capture(roof, found.totals),
    ]
    if found.comparisons:
        parts.append(storm_figures(found.comparisons))
    return joined(parts)


def _parts_of_capture(roof: Roof, totals: xr.Dataset) -> xr.Dataset:
    """Return what the planted part and the rest of the roof keep a year, m3, and what the build-up weighs drained."""
    from runoff.roof.loads import roof_loads

    parts = parts_of_capture(roof, facts_from_totals(totals))
    return parts.assign(
        drained_kg_per_m2=((), float(roof_loads(roof)["total_mass"].sel(state="drained")), {"units": "kg/m2"})
    )


def _of_other_existing(roof: Roof, daily: xr.Dataset, existing: BareSurface, options: Options) -> xr.Dataset:
    """Return what is avoided against a bare membrane and against gravel, until the applicant says which is there."""
    if options.existing_stated:
        return xr.Dataset()
    from runoff.roof import BareSurface as Surface

    found = xr.Dataset()
    for kind in ("membrane", "gravel"):
        surface = existing if existing.kind == kind else Surface(kind=kind)
        facts = facts_from_totals(yearly_totals(simulate(roof, daily, et_method=options.et_method, comparison=surface)))
        for name in ("avoided_annual_m3", "avoided_share", "bare_annual_overflow_m3"):
            found[f"{kind}_{name}"] = facts[name]
    return found


def first_lines_of(figures: xr.Dataset, roof: Roof) -> dict[str, FirstLine]:
    """Return the first line of each claim from the bounds of its joined range (`runoff.first_line`)."""
    error = model_error()
    attrs = {
        "rot_risk_days": float(figures["rot_risk_days"]),
        "blocked_fraction": roof.blocked_fraction,
        "judged_roofs": error.roofs if error is not None else 0,
        "judged_sites": error.sites if error is not None else 0,
        "years": float(figures["years"]),
    }
    quantiles = xr.DataArray(list(BOUNDS.values()), dims="quantile")
    ranges = xr.Dataset(attrs=attrs)
    for name in FIRST_LINES:
        bounds = xr.DataArray(figures[f"{name}_range"].to_numpy(), dims="quantile", coords={"quantile": quantiles})
        ranges[name] = bounds.expand_dims(source=["together"]).assign_attrs(figures[name].attrs)
    return {name: first_line(ranges, name) for name in FIRST_LINES}


def refuse_filled(daily: xr.Dataset) -> None:
    """Refuse a record of which too much was filled: the spread between years would be that of the filling.

    Raises
    ------
    WeatherError
        Naming the share.
    """
    days = filled_days(str(daily.attrs.get("fill", "")))
    share = days / daily.sizes["time"]
    if share > MOST_FILLED:
        raise WeatherError(
            f"dossier: {100 * share:.0f} % of the days were filled ({days:,} of {daily.sizes['time']:,}), more than "
            f"{100 * MOST_FILLED:.0f} %: a claim would rest on the filling. Take a record with fewer gaps, or the years without them"
        )


def filled_days(text: str) -> int:
    """Return how many days of rain were filled, from the words of `runoff.fill_gaps`."""
    found = [int(one.replace(",", "")) for one in re.findall(r"\brain: ([\d,]+) filled", text)]
    return sum(found)


def joined(parts: Sequence[xr.Dataset]) -> xr.Dataset:
    """Return figures side by side: every name is formed once, every axis is the same in all parts, or it stops.

    Raises
    ------
    ValueError
        When two parts give the same figure, or other labels along the same dimension: a fault of the program.
    """
    names = [name for part in parts for name in part.data_vars]
    twice = sorted({str(name) for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"figures formed twice: {', '.join(twice)}")
    return xr.merge([part.reset_coords(drop=True) for part in parts], join="exact", compat="identical")


def _refuse_unusable(quality: QualityReport) -> None:
    """Stop on a record that the checks call unusable: no claim can rest on it."""
    stops = [check for check in quality.checks if check.verdict == "stop"]
    raise_faults("dossier: weather", (f"{one.name}: {one.found}; {one.advice}" for one in stops), WeatherError)


def daily_record(weather: Any) -> xr.Dataset:
    """Return the daily record of one site from what the user gave: a path, a Dataset, pandas objects.

    A record in shorter steps is summed to days: the claims of a dossier are those of a daily balance.
    """
    from runoff.weather import daily_totals, read_weather
    from runoff.weather.record.frames import as_weather

    if isinstance(weather, str | Path):
        weather = read_weather(weather)
    record = as_weather(weather)
    if record["rain"].dims != ("time",):
        dims = ", ".join(map(str, record["rain"].dims))
        raise RunoffError(f"dossier: the weather has dimensions {dims}; a dossier is for one site, select one")
    daily: xr.Dataset = daily_totals(record) if time_step(record["time"]).hours < 24.0 else record  # type: ignore[assignment]
    # a sheet carries its weather in full precision, and is checked with that
    return daily.map(
        lambda one: one.astype(float, keep_attrs=True) if one.dtype == np.float32 else one, keep_attrs=True
    )


def storm_table(storms: Any) -> DepthDurationTable | None:
    """Return the depth-duration table from a table, a path, or None."""
    from runoff.storms.depth_duration import DepthDurationTable
    from runoff.storms.depth_duration_files import read_depth_duration

    if storms is None or isinstance(storms, DepthDurationTable):
        return storms
    if isinstance(storms, str | Path):
        return read_depth_duration(storms)
    raise RunoffError(
        f"dossier: storms is a {type(storms).__name__}; give a DepthDurationTable or the path of such a table"
    )


def figures_of_roof(roof: Roof) -> xr.Dataset:
    """Return the numbers of the roof description: areas, lengths, and per layer what counts for water."""
    figures = xr.Dataset(
        {
            "area_m2": ((), roof.area_m2, {"units": "m2"}),
            "planted_area_m2": ((), roof.area_m2 * roof.planted_fraction, {"units": "m2"}),
            "planted_fraction": ((), roof.planted_fraction, {"units": "1"}),
            "flow_length_m": ((), roof.flow_length_m, {"units": "m"}),
            "fall": ((), roof.fall, {"units": "1"}),
            "blocked_fraction": ((), roof.blocked_fraction, {"units": "1"}),
            "edge_height_mm": ((), edge_level(roof), {"units": "mm"}),
            "outlets_count": ((), float(sum(one.count for one in roof.outlets)), {"units": "1"}),
            **{
                name: ((), np.nan if getattr(roof, name) is None else getattr(roof, name), {"units": "mm"})
                for name in ("emergency_overflow_mm", "emergency_width_mm", "emergency_height_mm")
            },
        }
    )
    layers = roof.build_up.layers
    rows: dict[str, list[float]] = {"layer_depth_mm": [one.height_taken_mm or np.nan for one in layers]}
    for i, layer in enumerate(layers):
        for part in layer.parts:
            rows.setdefault(f"layer_{part.field}", [np.nan] * len(layers))[i] = float(getattr(layer, part.field))
    for name, values in rows.items():
        figures[name] = ("layer", values, {"units": "mm" if name.endswith("_mm") else "1"})
    return figures.assign_coords(layer=np.arange(1, len(layers) + 1))


def figures_of_loads(roof: Roof) -> xr.Dataset:
    """Return the weight of each layer and of the whole, kg/m2, by state (`runoff.roof.loads`)."""
    from runoff.roof.loads import roof_loads

    loads = roof_loads(roof)
    weights = loads[["mass", "total_mass", "mean_mass", "transient_mass"]].rename(
        mass="weight",
        total_mass="weight_total",
        mean_mass="weight_mean",
        transient_mass="weight_transient",
        layer="weighed",
    )
    return weights.drop_vars("state_words").drop_attrs(deep=False)


def figures_of_run(run: xr.Dataset) -> xr.Dataset:
    """Return the limits by which days were counted, and how well the balance closes."""
    return xr.Dataset(
        {
            "air_threshold": ((), float(run.attrs["air_threshold"]), {"units": "1"}),
            "dry_share": ((), float(run.attrs["dry_share"]), {"units": "1"}),
            "tolerance_days": ((), float(run.attrs["tolerance_days"]), {"units": "day"}),
        }
    )


def quietly(function: Any, *arguments: Any, **options: Any) -> Any:
    """Call a function without its warnings: used where a dossier states the same in words.

    Parameters
    ----------
    function
        What is called.
    *arguments, **options
        What it is called with.

    Returns
    -------
    object
        What it returns.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RunoffWarning)
        return function(*arguments, **options)
