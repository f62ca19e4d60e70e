"""What the desk works out for one roof: the whole record, the storm, the loads; and, slower, how sure it is. No widget."""

from __future__ import annotations

import dataclasses
import warnings
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffWarning, SizingError
from runoff.findings.storm_comparison import followed_by_dry
from runoff.findings.summary import summarize
from runoff.findings.whole_roof import wet_strip_m
from runoff.roof import Roof
from runoff.roof.loads import drained_mass_kg_per_m2, head_to_weigh, roof_loads
from runoff.simulation import simulate
from runoff.sizing import uncertainty
from runoff.sizing.claiming import FirstLine, first_line
from runoff.sizing.described_outlets import check_outlets
from runoff.sizing.targets import Target
from runoff.storms import design_storm
from runoff.storms.depth_duration import DepthDurationTable
from runoff.time_steps import time_step

#: Parameter sets and records drawn for the range at the desk; a document draws ten times as many.
MEMBERS, RESAMPLES = 20, 20
#: Longest design storm tried at the desk, min, its step, and the dry hours after it: its depth has then passed its peak.
_STORM_MIN, _STEP, _DRY_HOURS = 180.0, "5min", 3.0


@dataclasses.dataclass(frozen=True, kw_only=True)
class Reckoning:
    """A roof, and what came out.

    Parameters
    ----------
    roof
        The roof.
    facts
        What `runoff.summarize` returned for the whole record.
    wet_width_m
        Mean width of the strip along the low edge that is waterlogged, over the waterlogged days, m; 0 without such days.
    drained, soaked, ponded
        Masses, kg/m2: drained, with the drainage layer full, and ponded with every outlet blocked.
    outlets
        What `runoff.sizing.described_outlets.check_outlets` returned; None without a storm.
    """

    roof: Roof
    facts: xr.Dataset
    wet_width_m: float
    drained: float
    soaked: float
    ponded: float
    outlets: xr.Dataset | None

    def figure(self, name: str) -> float:
        """Return a figure that a target may name."""
        return drained_mass_kg_per_m2(self.roof) if name == "drained_mass" else float(self.facts[name])

    def meets(self, target: Target) -> bool:
        """Tell whether a target holds; a figure that equals its limit meets it."""
        margin = float(target.margin(xr.DataArray(self.figure(target.figure))))
        return margin >= -1e-9 * max(1.0, abs(target.value))


def reckon(roof: Roof, weather: xr.Dataset, storm: xr.DataArray | None, *, allowable_depth_mm: float) -> Reckoning:
    """Run a roof through a whole daily record and a storm.

    Parameters
    ----------
    roof, weather
        As in `runoff.simulate`; daily, of one place.
    storm
        Rain in minutes with dry hours after it (`storm_of`); None leaves the outlets unjudged.
    allowable_depth_mm
        Largest depth of water at the outlets that is accepted, mm.

    Returns
    -------
    Reckoning
        Figures, wet width (m), masses (kg/m2), and the judged outlets where a storm is given.

    Raises
    ------
    RunoffError
        When the weather cannot be run, or the limit is out of range.
    """
    run = simulate(roof, weather)
    outlets = None if storm is None else check_outlets(roof, storm, allowable_depth_mm=allowable_depth_mm)
    # a design peak that needs more head than the opening is high stands higher than the opening alone says
    head = None if outlets is None else head_to_weigh(roof, float(outlets["overflow_head"]))
    masses = roof_loads(roof, head_mm=head)["total_mass"]
    return Reckoning(
        roof=roof,
        facts=summarize(run),
        wet_width_m=wet_strip_m(run, roof.flow_length_m),
        drained=float(masses.sel(state="drained")),
        soaked=float(masses.sel(state="board_full")),
        ponded=float(masses.sel(state="ponded")),
        outlets=outlets,
    )


def need_daily(weather: xr.Dataset) -> xr.Dataset:
    """Return the record, or say why the desk cannot use it."""
    if weather["rain"].ndim != 1:
        dims = ", ".join(map(str, weather["rain"].dims))
        raise SizingError(
            f"the desk designs one roof in one place; the record has the dimensions {dims}; select one place"
        )
    if not time_step(weather["time"]).daily:
        raise SizingError(
            "the desk runs whole years day by day: give a daily record (runoff.daily_totals makes one of shorter steps)"
        )
    return weather


def storm_of(table: DepthDurationTable, return_period_years: float) -> xr.DataArray:
    """Return the design storm of a table that the outlets are held against, with dry hours after it."""
    durations = np.array(table.durations_min)
    longest = durations[durations <= _STORM_MIN].max(initial=durations.min())
    storm = design_storm(
        pattern="alternating-block", depth_duration=table, return_period_years=return_period_years,
        duration=f"{longest:g}min", step=_STEP,
    )  # fmt: skip
    return followed_by_dry(storm, _DRY_HOURS)


def how_sure(roof: Roof, weather: xr.Dataset, *, seed: int = 1) -> tuple[FirstLine, str]:
    """Return the first line on retention from a small sample, and a warning where the record is short.

    Parameters
    ----------
    roof, weather
        As in `runoff.simulate`; daily, of one place.
    seed
        Seed of the draws.

    Returns
    -------
    FirstLine
        On retention.
    str
        Warnings as one line; empty for none.

    Raises
    ------
    SizingError
        On a record of under five years.
    """
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always", RunoffWarning)
        ranges: Any = uncertainty(roof, weather, members=MEMBERS, resamples=RESAMPLES, seed=seed)
    return first_line(ranges), " ".join(str(one.message) for one in said if issubclass(one.category, RunoffWarning))
