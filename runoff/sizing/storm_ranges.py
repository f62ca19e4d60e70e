"""How sure is a storm's peak? The materials drawn from their ranges, detention above all, and the storm run for each draw.

One pair of detention parameters does not serve all roofs: with the default, the median event peak is three quarters of the measured one on
one open record and 2.6 times it on another, larger roof. So the coefficient is drawn evenly by its logarithm over two powers of ten.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.balance.minutes import largest_mean
from runoff.errors import SizingError, StormError
from runoff.findings.storm_comparison import BARE, LITTLE_CUT, PLANTED, STORM_FIGURES, compare_storm
from runoff.given_kinds import refuse_other_kinds
from runoff.saying import titles
from runoff.saying.scales import say
from runoff.simulation import RuleWords, simulate, storm_flows
from runoff.sizing.likely_ranges import Ranges, draw_roofs, ranges_of
from runoff.time_steps import time_step

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof

#: Four of five draws stay below quantile 0.8 of a peak, and above quantile 0.2 of a peak reduction.
STORM_QUANTILES = (0.05, 0.2, 0.5, 0.8, 0.95)
_FIGURES = ("peak_discharge", "peak_cut", "runoff_depth", "largest_depth_on_deck")
_LEAST_MEMBERS = 10


def storm_uncertainty(
    roof: Roof,
    storm: xr.DataArray | xr.Dataset,
    *,
    ranges: Ranges | None = None,
    members: int = 40,
    seed: int = 1,
    bare: BareSurface | None = None,
    start_moisture: str | float | None = None,
    climate: Any = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Return the ranges of a storm's peak, its reduction, its runoff and the water on the deck.

    Parameters
    ----------
    roof, storm
        As in `runoff.simulate`; let dry hours follow the storm (`runoff.followed_by_dry`).
    ranges
        As in `runoff.uncertainty`. Default: the ranges of the materials table, detention coefficient included.
    members
        Parameter sets drawn by Latin hypercube, 10 or more.
    seed
        Seed of the draw.
    bare
        The roof the peak is held against; default a membrane that holds 1 mm. It has no range of its own here.
    start_moisture, climate, **words
        As in `runoff.simulate`.

    Returns
    -------
    xarray.Dataset
        ``peak_discharge`` (L/s, largest mean over 5 min), ``peak_cut`` (share), ``runoff_depth`` (mm) and
        ``largest_depth_on_deck`` (mm) of the whole roof on ``quantile`` (0.05, 0.2, 0.5, 0.8, 0.95), and
        ``described_...`` for the roof as described. ``attrs["how_sure"]`` says the peak in words.

    Raises
    ------
    SizingError
        Under 10 members, or for ranges that make no roof.
    StormError
        For anything but one storm on ``time``: several storms, a Dataset without ``rain``, a daily record, a storm without rain.

    Notes
    -----
    The rain of the storm is taken as given: its depth, pattern and return period have doubts of their own.
    """
    refuse_other_kinds("storm_uncertainty", roof=roof, storm=storm)
    if members < _LEAST_MEMBERS:
        raise SizingError(f"storm_uncertainty: members must be at least {_LEAST_MEMBERS} (given {members})")
    _refuse_other_weather(storm)
    given: dict[str, Any] = {"start_moisture": start_moisture, "climate": climate, **words}
    start = {name: value for name, value in given.items() if value is not None}
    described = compare_storm(simulate(roof, storm, **start), roof, bare=bare)
    return ranges_beside(described, roof, storm, ranges=ranges, members=members, seed=seed, **start)


def _refuse_other_weather(storm: xr.DataArray | xr.Dataset) -> None:
    """Refuse what is not the rain of one storm on ``time``; a Dataset may hold it beside other weather."""
    where, wanted = "storm_uncertainty", "rain in steps of 1 min to 1 h, as runoff.design_storm returns it"
    if isinstance(storm, xr.Dataset) and "rain" not in storm:
        held = ", ".join(map(str, storm.data_vars)) or "nothing"
        raise StormError(f"{where}: storm must hold {wanted} (given a Dataset that holds {held})")
    rain = storm["rain"] if isinstance(storm, xr.Dataset) else storm
    if rain.dims != ("time",):
        dims = ", ".join(map(str, rain.dims)) or "a single number"
        raise StormError(f"{where}: one storm on time is needed (given {dims})")
    hours = time_step(rain["time"]).hours
    if hours > 1.0:
        raise StormError(
            f"{where}: storm must be {wanted} (given steps of {hours:g} h); a daily record holds no storm peak"
        )


def ranges_beside(
    described: xr.Dataset,
    roof: Roof,
    storm: xr.DataArray | xr.Dataset,
    *,
    ranges: Ranges | None = None,
    members: int = 40,
    seed: int = 1,
    **start: Any,
) -> xr.Dataset:
    """Return the ranges of `storm_uncertainty` beside the comparison of the roof as described, where that is there already.

    Parameters
    ----------
    described
        What `runoff.compare_storm` returned for the run of this roof and storm.
    roof, storm, ranges, members, seed, **start
        As in `storm_uncertainty`.

    Returns
    -------
    xarray.Dataset
        As there.

    Raises
    ------
    SizingError
        For ranges that make no roof.
    """
    expect_many_runs()  # every draw is a run of its own
    roofs, drawn = draw_roofs(roof, ranges if ranges is not None else ranges_of(roof), members=members, seed=seed)
    many = storm_flows(roofs, storm, ("discharge", "largest_depth_on_deck_mm"), **start).kept
    hours, flow = time_step(storm["time"]).hours, many["discharge"]
    peak = np.array([largest_mean(one * hours * 60.0, hours * 60.0) / 60.0 for one in flow])
    sampled = {
        "peak_discharge": peak,
        "peak_cut": 1.0 - peak / float(described["peak_discharge"].sel(surface=BARE)),
        "runoff_depth": flow.sum(axis=1) * hours * 3600.0 / roof.area_m2,
        "largest_depth_on_deck": many["largest_depth_on_deck_mm"].max(axis=1),
    }
    result = xr.Dataset(coords={"quantile": list(STORM_QUANTILES)})
    for name in _FIGURES:
        unit, long_name = STORM_FIGURES[name]
        attrs = {"units": unit, "long_name": long_name}
        result[name] = ("quantile", np.quantile(sampled[name], STORM_QUANTILES), attrs)
        result[f"described_{name}"] = ((), float(described[name].sel(surface=PLANTED)), attrs)
    result["drawn"] = (("property", "member"), drawn.to_numpy())
    result = result.assign_coords(property=drawn["property"])
    result.attrs = {"title": titles.STORM_RANGES, "members": members, "seed": seed, "roof": roof.name}
    result.attrs["how_sure"] = peak_range_words(result)
    return result


def peak_range_words(ranges: xr.Dataset, *, units: str = "si") -> str:
    """Say the range of a storm's peak, and of its reduction against the bare roof.

    Parameters
    ----------
    ranges
        What `storm_uncertainty` returned.
    units
        ``"si"`` or ``"us"``.
    """

    def flow(share: float) -> str:
        return say(float(ranges["peak_discharge"].sel(quantile=share)), "L/s", system=units)

    described = say(float(ranges["described_peak_discharge"]), "L/s", system=units)
    detention = ""
    if "medium.detention_k" in ranges["property"]:
        drawn = ranges["drawn"].sel(property="medium.detention_k")
        detention = f" (detention coefficient {float(drawn.min()):.2g} to {float(drawn.max()):.2g})"
    told = (
        f"The peak of the planted roof is {described} as described; over {ranges.attrs['members']} draws of the materials{detention} it is "
        f"at most {flow(0.8)} in four of five (5 to 95 %: {flow(0.05)} to {flow(0.95)})."
    )
    low, least, high = (float(ranges["peak_cut"].sel(quantile=share)) for share in (0.05, 0.2, 0.95))
    reach = f"(5 to 95 %: {_against(low)} to {_against(high)})"
    if least < LITTLE_CUT:
        told += f" No reduction against the bare roof can be relied on {reach}."
    else:
        told += f" Against the bare roof it is at least {100.0 * least:.0f} % lower in four of five {reach}."
    return f"{told} The rain of the storm is taken as given."


def _against(cut: float) -> str:
    return f"{100.0 * abs(cut):.0f} % {'lower' if cut >= 0.0 else 'higher'}"
