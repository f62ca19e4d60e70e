"""The outlets a roof has, judged as they are described: all open, some lost, a share blocked, all blocked.

Each state is judged twice: by the routed storm, with the whole build-up above the outlets, and by hand, the design peak (the
heaviest rain of the storm on the whole area, C = 1) through the outlets that are left, with no credit for storage or planting.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.balance.minutes import largest_mean
from runoff.balance.outlet_flow import flow, head_for_flow
from runoff.errors import SizingError, raise_faults
from runoff.given_kinds import refuse_other_kinds
from runoff.roof import Outlet, Roof
from runoff.roof.column_values import outlet_laws
from runoff.roof.description import OUTLET_SIZES
from runoff.roof.losing_outlets import EDGE_LEFT, is_edge_alone, loss_faults, outlets_left, with_outlets
from runoff.saying import titles
from runoff.simulation import simulate, storm_flows
from runoff.sizing.drainage_codes import planted_coefficient, rational_flow
from runoff.sizing.emergency import (
    EmergencyState,
    all_blocked,
    contributing_area_m2,
    edges_left,
    state_after,
    with_opening,
)
from runoff.time_steps import time_step
from runoff.units import to_intensity
from runoff.weather.record.frames import as_weather

#: States of the outlets, in words.
STATES: dict[str, str] = {
    "open": "all open",
    "lost": "some lost",
    "share_blocked": "a share of the drainage blocked",
    "blocked": "all blocked",
}
#: Less water than this over the overflow or the edge counts as none, mm.
NO_SPILL_MM = 0.05

#: Figures along ``state``: unit and words.
STATE_FIGURES: dict[str, tuple[str, str]] = {
    "outlets_left": ("1", "outlets that work"),
    "capacity": ("L/s", "flow at the allowable depth"),
    "head": ("mm", "depth for the design peak, no credit for storage or planting"),
    "depth": ("mm", "largest depth in the routed storm"),
    "peak": ("L/s", "peak discharge of the whole roof in the routed storm"),
    "level": ("mm", "the deeper of the two, never above that with all blocked"),
}
#: Single figures: unit and words.
SINGLE_FIGURES: dict[str, tuple[str, str]] = {
    "rain_intensity": ("mm/h", "heaviest rain of one step"),
    "design_peak": ("L/s", "design peak: that rain on the whole area, C = 1"),
    "planted_rational_flow": ("L/s", "the same with the coefficient of DIN 1986-100 (Cs)"),
    "gutter": ("L/s", "what the gutters along the edges take, as given"),
    "overflow_sill": ("mm", "sill of the emergency overflow above the deck"),
    "overflow_head": ("mm", "head over the sill"),
    "overflow_depth": ("mm", "depth of water with every outlet blocked"),
    "overflow_run_depth": ("mm", "largest depth in the run with every outlet blocked"),
    "overflow_spilled": ("L/s", "largest flow over overflow or edge in that run, the roof filled first"),
    "rain_load": ("kN/m2", "load of that water alone, 0.0098 x depth"),
}


def check_outlets(
    roof: Roof,
    storm: Any,
    *,
    allowable_depth_mm: float,
    lost: int = 1,
    blocked_share: float = 0.5,
    overflow: Outlet | None = None,
    edge_left: float = EDGE_LEFT,
    storage_credit: bool = False,
    start_moisture: Any = "field-capacity",
    climate: xr.Dataset | None = None,
) -> xr.Dataset:
    """Judge the outlets a roof has, in a storm.

    Parameters
    ----------
    roof
        The roof, with its outlets, emergency overflow and edge.
    storm
        Rain in steps of 1 min to 1 h, as `runoff.design_storm` gives it; let dry hours follow it (`runoff.followed_by_dry`).
    allowable_depth_mm
        Largest depth of water over the deck that is accepted, mm: a level, not a load.
    lost
        How many outlets may clog while the depth still holds: those that take most. At most as many as there are.
    blocked_share
        Share of the whole drainage, layer and outlets, that is blocked in a third run, 0-1.
    overflow
        An opening of the emergency overflow in place of the one described.
    edge_left
        Share of the length of an `edge` outlet that still drains when it counts as blocked: for a roof that drains over an edge
        alone, in place of an outlet lost.
    storage_credit
        Whether the storage of roof and planting may be counted on; by default it may not, and the design peak must hold too.
    start_moisture, climate
        As in `runoff.simulate`; a start drier than field capacity is refused.

    Returns
    -------
    xarray.Dataset
        Along ``state`` (`STATES`): the figures of `STATE_FIGURES` and ``meets``; the scalars of `SINGLE_FIGURES` and
        ``meets_with_loss``. ``attrs["verdict"]``, ``attrs["ponded"]`` (up to where water stands with all blocked) and
        ``attrs["caution"]`` belong beside the numbers.

    Raises
    ------
    SizingError
        When a limit, number or share is out of range, or the start drier than field capacity.
    StormError, WeatherError
        When the storm is not usable.
    """
    refuse_other_kinds("check_outlets", roof=roof, allowable_depth_mm=allowable_depth_mm)
    faults = [
        *limit_faults(allowable_depth_mm, lost, blocked_share, edge_left),
        *loss_faults(roof.outlets, lost),
    ]
    raise_faults("check_outlets", faults, SizingError)
    need_minutes("check_outlets", storm)
    need_wet_start("check_outlets", roof, start_moisture, climate)
    expect_many_runs()  # of a dozen decks, mostly before many more
    start = {"start_moisture": start_moisture, "climate": climate}
    judged = with_opening(roof, overflow)
    intensity = float(to_intensity(as_weather(storm)["rain"]).max())
    peak = float(rational_flow(contributing_area_m2(roof), intensity))
    left = outlets_left(judged.outlets, lost, allowable_depth_mm, edge_left)
    half = with_outlets(judged, blocked_fraction=max(blocked_share, judged.blocked_fraction))
    open_share, half_open = 1.0 - judged.blocked_fraction, 1.0 - half.blocked_fraction
    # all together: less than half the time of one after the other
    states = [judged, all_blocked(judged, edge_left), half, *([with_outlets(judged, outlets=left)] if left else [])]
    runs = run_each(states, storm, start)
    emergency = state_after(judged, peak, runs.depth[1], runs.largest[1], edge_left=edge_left)
    kept = [judged.outlets, left, judged.outlets, edges_left(judged, edge_left)]
    parts = (open_share, open_share, half_open, 1.0)
    # where nothing is left, water stands as high as with all blocked
    heads = [
        float(head_for_flow(peak / part, outlet_laws(outlets))) if outlets and part > 0.0 else emergency.depth_mm
        for outlets, part in zip(kept[:3], parts[:3], strict=True)
    ]
    one_lost = (runs.depth[3], runs.peak[3]) if left else (emergency.run_depth_mm, emergency.spilled_l_per_s)
    figures = {
        "outlets_left": [float(sum(one.count for one in outlets)) for outlets in kept],
        "capacity": [
            float(flow(allowable_depth_mm, outlet_laws(outlets))) * part
            for outlets, part in zip(kept, parts, strict=True)
        ],
        "head": [*heads, emergency.depth_mm],
        "depth": [runs.depth[0], one_lost[0], runs.depth[2], emergency.run_depth_mm],
        "peak": [runs.peak[0], one_lost[1], runs.peak[2], emergency.spilled_l_per_s],
    }
    figures["level"] = [
        min(max(head, depth), max(emergency.depth_mm, emergency.run_depth_mm))
        for head, depth in zip(figures["head"], figures["depth"], strict=True)
    ]
    spills = [runs.spilled[0], runs.spilled[3] if left else math.inf, runs.spilled[2], math.inf]
    by_hand = [storage_credit or head <= allowable_depth_mm for head in figures["head"]]
    fits = (np.array(figures["depth"]) <= allowable_depth_mm) & (np.array(spills) <= NO_SPILL_MM) & by_hand
    singles = _singles(judged, intensity, emergency)
    table = xr.Dataset(
        {
            **{
                name: ("state", np.asarray(figures[name], dtype=float), {"units": unit, "long_name": words})
                for name, (unit, words) in STATE_FIGURES.items()
            },
            "meets": ("state", fits),
            "meets_with_loss": bool(fits[0] and (fits[1] or lost == 0)),
            **{
                name: ((), singles[name], {"units": unit, "long_name": words})
                for name, (unit, words) in SINGLE_FIGURES.items()
            },
        },
        coords={"state": list(STATES), **outlet_coords(judged.outlets)},
    )
    table.attrs = {
        "title": titles.OUTLETS_AS_DESCRIBED,
        "roof": roof.name,
        "outlets_assumed": "no" if "outlets" in roof.model_fields_set else "yes",
        "has_edge": "yes" if any(one.kind == "edge" for one in judged.outlets) else "no",
        "edge_alone": "yes" if is_edge_alone(judged.outlets) else "no",
        "area_m2": roof.area_m2,
        "allowable_depth_mm": float(allowable_depth_mm),
        "lost": lost,
        "blocked_share": float(half.blocked_fraction),
        "blocked_fraction": float(judged.blocked_fraction),
        "edge_left": float(edge_left),
        "storage_credit": "yes" if storage_credit else "no",
        "start": str(start_moisture),
        "step_minutes": time_step(as_weather(storm)["time"]).minutes,
        "ponded": emergency.words,
        "drowned": "yes" if emergency.drowned else "no",
        "over_edge": "yes" if emergency.over_edge else "no",
        "caution": " ".join(emergency.notes),
    }
    from runoff.sizing.outlet_words import described_verdict

    table.attrs["verdict"] = described_verdict(table)
    return table


def _singles(roof: Roof, intensity: float, emergency: EmergencyState) -> dict[str, float]:
    return {
        "rain_intensity": intensity,
        "design_peak": emergency.flow_l_per_s,
        "planted_rational_flow": planted_flow(roof, intensity),
        "gutter": gutter_capacity(roof),
        "overflow_sill": emergency.sill_mm,
        "overflow_head": emergency.head_mm,
        "overflow_depth": emergency.depth_mm,
        "overflow_run_depth": emergency.run_depth_mm,
        "overflow_spilled": emergency.spilled_l_per_s,
        "rain_load": emergency.rain_load_kn_per_m2,
    }


def outlet_coords(outlets: Sequence[Outlet]) -> dict[str, Any]:
    """Return kind, number and sizes of outlets along ``outlet``, for the words of a result."""
    found: dict[str, Any] = {
        "kind": ("outlet", [one.kind for one in outlets]),
        "number": ("outlet", [one.count for one in outlets]),
    }
    for name in OUTLET_SIZES:
        found[name] = ("outlet", [getattr(one, name) or np.nan for one in outlets], {"units": "mm"})
    return found


class Runs:
    """Largest depth at the outlets (mm), water over overflow or edge (mm) and largest flow (L/s: of a step, and as the mean of five minutes) of several roofs."""

    def __init__(self, roofs: Sequence[Roof], storm: Any, start: Mapping[str, Any]) -> None:
        minutes = time_step(as_weather(storm)["time"]).minutes
        run = storm_flows(roofs, storm, ("discharge", "spilled", "largest_depth_on_deck_mm"), **start).kept
        self.depth = run["largest_depth_on_deck_mm"].max(axis=1)
        self.spilled = run["spilled"].sum(axis=1)
        self.largest = run["discharge"].max(axis=1)
        self.peak = np.array([largest_mean(one * minutes, minutes) / 60.0 for one in run["discharge"]])


def run_each(roofs: Sequence[Roof], storm: Any, start: Mapping[str, Any]) -> Runs:
    """Run a storm over several roofs.

    Parameters
    ----------
    roofs
        The states of one roof.
    storm
        Rain in steps of 1 min to 1 h, mm.
    start
        ``start_moisture`` and ``climate`` of `runoff.simulate`.

    Returns
    -------
    Runs
        The runs, one for each roof, in their order.
    """
    return Runs(roofs, storm, start)


def gutter_capacity(roof: Roof) -> float:
    """Return what the gutters of all edges take, L/s; missing where there is none, or one is not described."""
    edges = [one for one in roof.outlets if one.kind == "edge"]
    if not edges or any(one.gutter_l_per_s is None for one in edges):
        return math.nan
    return sum(one.count * (one.gutter_l_per_s or 0.0) for one in edges)


def planted_flow(roof: Roof, intensity: float) -> float:
    """Return the rational flow with the coefficient of the build-up on the planted and 1 on the other area, L/s."""
    coefficient, whole = planted_coefficient(roof.build_up.depth_mm, roof.fall), contributing_area_m2(roof)
    planted = roof.area_m2 * roof.planted_fraction
    return float(rational_flow(whole, intensity, coefficient=(planted * coefficient + whole - planted) / whole))


def limit_faults(allowable_depth_mm: float, lost: int, blocked_share: float, edge_left: float = EDGE_LEFT) -> list[str]:
    """Say which limits are out of range.

    Parameters
    ----------
    allowable_depth_mm
        Largest depth of water over the deck that is accepted, mm.
    lost
        Number of outlets lost.
    blocked_share
        Blocked share of every outlet, 0-1.
    edge_left
        Share of an edge's length that still drains, 0-1.

    Returns
    -------
    list of str
        A sentence for each fault; empty when all are in range.
    """
    faults = []
    if not allowable_depth_mm > 0.0:
        faults.append(
            f"allowable_depth_mm must be above 0, it is a depth of water over the deck (given {allowable_depth_mm:g})"
        )
    if lost < 0:
        faults.append(f"lost must be 0 or more outlets (given {lost})")
    for name, share in (("blocked_share", blocked_share), ("edge_left", edge_left)):
        if not 0.0 <= share <= 1.0:
            faults.append(f"{name} must lie between 0 and 1 (given {share:g})")
    return faults


def need_minutes(where: str, storm: Any) -> None:
    """Refuse rain in steps of more than an hour."""
    hours = time_step(as_weather(storm)["time"]).hours
    if hours > 1.0:
        raise SizingError(
            f"{where}: the storm has steps of {hours:g} h; an outlet is sized on minutes, not days. "
            'Give a storm such as runoff.design_storm(depth_mm=..., duration="24h", step="5min")'
        )


#: A medium that lacks less than this to field capacity starts at it, mm.
_DRIER_MM = 0.5


def need_wet_start(where: str, roof: Roof, start_moisture: Any, climate: xr.Dataset | None) -> None:
    """Refuse a start drier than field capacity: it would credit room that a storm may not find.

    Parameters
    ----------
    where
        The call, for the message.
    roof
        The roof whose outlets are judged.
    start_moisture, climate
        As in `runoff.simulate`; a date of the climate is accepted where the medium lacks next to nothing then.

    Raises
    ------
    SizingError
        Saying how much drier it is.
    """
    if start_moisture in ("field-capacity", 1, 1.0):
        return
    from runoff.simulation.start import last_stores

    lacks = ""
    if start_moisture != "dry" and isinstance(start_moisture, str) and climate is not None:
        one_dry_hour = xr.DataArray(
            np.zeros(2), dims="time", coords={"time": np.array(["2000-01-01T00:00", "2000-01-01T00:05"], "M8[ns]")},
            attrs={"units": "mm"},
        )  # fmt: skip
        held = [
            float(last_stores(simulate(roof, one_dry_hour, start_moisture=one, climate=climate))["held_water"])
            for one in (start_moisture, "field-capacity")
        ]
        if held[1] - held[0] < _DRIER_MM:
            return
        lacks = f", whose medium lacks {held[1] - held[0]:.1f} mm"
    raise SizingError(
        f'{where}: outlets are sized for a wet roof: start_moisture is "field-capacity", or a date of the climate no drier '
        f"(given {start_moisture!r}{lacks}); a drier start would count on storage that a storm may not find empty"
    )
