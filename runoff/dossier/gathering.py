"""Everything a dossier states, computed once into one Dataset of figures."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from runoff.dossier.ranges import ranges_of_claims, refuse_short
from runoff.dossier.records import MOST_MEMBERS
from runoff.errors import RunoffError, RunoffWarning, WeatherError, nearest, raise_faults
from runoff.findings.event_capture import capture_of_events, storage_capacity
from runoff.findings.spells import spells_per_year
from runoff.findings.storm_peaks import compare_storms, run_storms, storm_figures, storms_of_table
from runoff.findings.summary import facts_from_totals
from runoff.findings.yearly import yearly_totals, years_of_record
from runoff.roof.levels import edge_level
from runoff.simulation import simulate
from runoff.time_steps import time_step

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof
    from runoff.storms.depth_duration import DepthDurationTable
    from runoff.weather.quality.report import QualityReport

LEAST_MEMBERS = 20
_A_YEAR, _ALIKE = 365, 0.9
PAPERS = {"a4": "A4", "letter": "letter"}


@dataclass(frozen=True, kw_only=True)
class Options:
    """What a dossier was asked to be; part of its provenance.

    Parameters
    ----------
    applicant, address, date
        Printed as given; the date of the day is never put in by itself, so that repeated runs give the same file.
    paper
        ``"a4"`` or ``"letter"``.
    members, seed
        Parameter sets drawn for the ranges, and the seed.
    et_method
        Forces a method of reference evapotranspiration.
    pattern
        Pattern of the design storms made from the depth-duration table.
    """

    applicant: str | None = None
    address: str | None = None
    date: str | None = None
    paper: str = "a4"
    members: int = 200
    seed: int = 1
    et_method: str | None = None
    pattern: str = "alternating-block"

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise RunoffError(
                f'dossier: paper "{self.paper}" is not known{nearest(self.paper, PAPERS)}; known: {", ".join(PAPERS)}'
            )
        if not LEAST_MEMBERS <= self.members <= MOST_MEMBERS:
            few = self.members < LEAST_MEMBERS
            raise RunoffError(
                f"dossier: {self.members:,} members are too {'few' if few else 'many'} for a 5 to 95 % range; give "
                f"{LEAST_MEMBERS} to {MOST_MEMBERS:,} (200 is usual)"
            )


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
) -> Evidence:
    """Compute every figure of a dossier.

    Raises
    ------
    WeatherError
        When the record has gaps, is shorter than 5 years or gives no evapotranspiration.
    """
    from runoff.roof import BareSurface
    from runoff.weather import check_weather

    existing = existing or BareSurface(kind="membrane")
    daily = daily_record(weather)
    refuse_short(years_of_record(daily["time"]))
    quality = check_weather(daily)
    _refuse_unusable(quality)
    run = simulate(roof, daily, et_method=options.et_method, comparison=existing)
    totals = yearly_totals(run, tolerance_days=run.attrs["tolerance_days"], warm_c=run.attrs["warm_c"])
    design_storms = storms_of_table(storms, pattern=options.pattern) if storms is not None else {}
    storm_runs = run_storms(roof, design_storms, existing)
    comparisons = compare_storms(storm_runs, roof, existing)
    parts = [
        facts_from_totals(totals),
        spells_per_year(run, float(totals["years"])),
        storage_capacity(roof),
        capture_of_events(roof, run, existing),
        figures_of_roof(roof),
        figures_of_loads(roof),
        figures_of_run(run),
    ]
    if storm_runs:
        parts.append(storm_figures(comparisons))
    figures = joined(parts)
    ranges = ranges_of_claims(
        roof,
        daily,
        figures,
        members=options.members,
        seed=options.seed,
        existing=existing,
        et_method=options.et_method,
        storms=design_storms,
        storm_runs=storm_runs,
        comparisons=comparisons,
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
        run=run,
        totals=totals,
        design_storms=design_storms,
        storm_runs=storm_runs,
        comparisons=comparisons,
        quality=quality,
    )


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
    """Call a function without its warnings: used where a dossier states the same in words."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RunoffWarning)
        return function(*arguments, **options)
