"""Which outlets keep the water on a roof below an allowable depth, and what happens when some are lost.

Each candidate (a kind and size of outlet, and how many) runs through the storm with the whole build-up above it: open,
with outlets lost, and with a share of the drainage blocked. Then the emergency overflow is left alone. Beside the run
stands the hand check of the trade, the rational method without any credit for the planting.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.balance.outlet_flow import flow, head_for_flow
from runoff.errors import RoofError, SizingError, raise_faults
from runoff.given_kinds import refuse_other_kinds
from runoff.roof import Outlet, Roof
from runoff.roof.column_values import outlet_laws
from runoff.roof.losing_outlets import EDGE_LEFT, with_outlets
from runoff.saying import titles
from runoff.sizing.described_outlets import (
    NO_SPILL_MM,
    limit_faults,
    need_minutes,
    need_wet_start,
    planted_flow,
    run_each,
)
from runoff.sizing.drainage_codes import vertical_pipe_l_per_s
from runoff.sizing.emergency import EmergencyState, overflow_alone
from runoff.sizing.outlet_words import verdict
from runoff.time_steps import time_step
from runoff.units import to_intensity
from runoff.weather.record.frames import as_weather

#: Round outlets with a strainer that are tried when none are given: clear inlets of 75 to 150 mm.
CANDIDATES = tuple(Outlet(kind="round", diameter_mm=size) for size in (75.0, 100.0, 125.0, 150.0))
#: The same where pipes come by the inch: 3, 4, 5 and 6 in.
CANDIDATES_OF_INCHES = tuple(Outlet(kind="round", diameter_mm=25.4 * size) for size in (3.0, 4.0, 5.0, 6.0))

_SIZES = ("diameter_mm", "width_mm", "height_mm")
#: What each candidate gets: unit and words.
OUTLET_FIGURES: dict[str, tuple[str, str]] = {
    "capacity": ("L/s", "flow of all outlets at the allowable depth"),
    "pipe_capacity": ("L/s", "flow of as many vertical pipes of that diameter"),
    "peak_discharge": ("L/s", "peak discharge of the whole roof in the routed storm"),
    "depth": ("mm", "largest depth of water at the outlets, all of them open"),
    "depth_some_lost": ("mm", "largest depth with outlets lost"),
    "depth_share_blocked": ("mm", "largest depth with a share of the drainage blocked"),
    "rational_head": ("mm", "head for the rational flow, no credit for the planting"),
    "rational_head_some_lost": ("mm", "head for the rational flow with outlets lost"),
}


def size_outlets(
    roof: Roof,
    storm: Any,
    *,
    allowable_depth_mm: float,
    candidates: Sequence[Outlet] = CANDIDATES,
    most: int = 8,
    lost: int = 1,
    blocked_share: float = 0.5,
    overflow: Outlet | None = None,
    edge_left: float = EDGE_LEFT,
    pipe_edition: str = "EN 12056-3:2000",
    storage_credit: bool = False,
    start_moisture: Any = "field-capacity",
    climate: xr.Dataset | None = None,
) -> xr.Dataset:
    """Try outlets on a roof in a storm and say which keep the water below the allowable depth.

    Parameters
    ----------
    roof
        Area, build-up, fall, flow length, emergency overflow; its own outlets are put aside.
    storm
        Rain in steps of 1 min to 1 h, as `runoff.design_storm` gives it.
    allowable_depth_mm
        Largest depth of water over the deck that is accepted, mm: a level, not a load. What the structure may carry is
        for an engineer.
    candidates
        Kinds and sizes; each is tried one to `most` times.
    most
        Largest number of outlets.
    lost
        How many outlets may clog while the depth still holds.
    blocked_share
        Share of the whole drainage, layer and outlets, that is blocked in a third run, 0-1.
    overflow
        The opening of the emergency overflow, in place of the one described; see `runoff.sizing.emergency.overflow_alone`.
    edge_left
        Share of the length of an edge the roof drains over that is left with every outlet blocked.
    pipe_edition
        A name of `runoff.sizing.drainage_codes.VERTICAL_PIPES`.
    storage_credit
        Whether the storage of roof and planting may be counted on. By default it may not: a choice must also hold the depth
        for the rational flow of the heaviest rain on the whole area (C = 1), with the same outlets lost.
    start_moisture, climate
        As in `runoff.simulate`; a start drier than field capacity is refused.

    Returns
    -------
    xarray.Dataset
        Along ``candidate``: ``kind``, ``size`` (words), ``number``, the figures of `OUTLET_FIGURES`, ``described`` (the roof has it), ``spills``, ``meets``
        (open), ``meets_with_loss`` and ``meets_without_credit``. Scalars: ``chosen`` (index of the fewest, then smallest, that meet
        with the loss; -1 for none), ``chosen_without_credit``, ``rain_intensity`` (mm/h, largest), ``rational_flow`` and ``planted_rational_flow`` (L/s, without and with
        the coefficient of DIN 1986-100), and ``overflow_...`` for the emergency overflow alone. ``attrs["verdict"]`` and
        ``attrs["caution"]`` belong beside every number shown.

    Raises
    ------
    SizingError
        When a limit, number or share is out of range, or no candidate is given or fits. Those that do not fit are left out and
        named in ``attrs["left_out"]``.
    StormError, WeatherError
        When the storm is daily, or not usable.
    """
    refuse_other_kinds("size_outlets", roof=roof, allowable_depth_mm=allowable_depth_mm)
    raise_faults("size_outlets", _faults(allowable_depth_mm, candidates, most, lost, blocked_share), SizingError)
    need_minutes("size_outlets", storm)
    need_wet_start("size_outlets", roof, start_moisture, climate)
    start = {"start_moisture": start_moisture, "climate": climate}
    walled = with_outlets(roof, outlets=(candidates[0],)) if any(one.kind == "edge" for one in roof.outlets) else roof
    emergency = overflow_alone(walled, storm, overflow=overflow, edge_left=edge_left, **start)
    judged = emergency.roof
    fit, left_out = _that_fit(
        judged, [one.model_copy(update={"count": number}) for one in candidates for number in range(1, most + 1)]
    )
    tried = [one.outlets[0] for one in fit]
    expect_many_runs()  # every candidate is a run of its own
    opened = run_each(fit, storm, start)
    blocked_fraction = max(blocked_share, judged.blocked_fraction)
    blocked = run_each([one.model_copy(update={"blocked_fraction": blocked_fraction}) for one in fit], storm, start)
    open_share = 1.0 - judged.blocked_fraction
    table = xr.Dataset(
        coords={
            "kind": ("candidate", [one.kind for one in tried]),
            "size": ("candidate", [size_words(one) for one in tried]),
            "number": ("candidate", [one.count for one in tried]),
            "strainer": ("candidate", [one.strainer for one in tried]),
            **{
                name: ("candidate", [getattr(one, name) or np.nan for one in tried], {"units": "mm"}) for name in _SIZES
            },
        }
    )
    intensity = float(to_intensity(as_weather(storm)["rain"]).max())
    plain = emergency.flow_l_per_s
    laws = [outlet_laws([one]) for one in tried]
    remaining = [i - lost if one.count > lost else None for i, one in enumerate(tried)]  # counts rise one by one
    rational = [float(head_for_flow(plain / open_share, law)) if open_share > 0.0 else math.inf for law in laws]
    figures = {
        "capacity": [float(flow(allowable_depth_mm, law)) * open_share for law in laws],
        "pipe_capacity": [_pipes(one, pipe_edition) for one in tried],
        "peak_discharge": opened.peak,
        "depth": opened.depth,
        "depth_some_lost": [emergency.depth_mm if i is None else opened.depth[i] for i in remaining],
        "depth_share_blocked": blocked.depth,
        "rational_head": rational,
        "rational_head_some_lost": [math.inf if i is None else rational[i] for i in remaining],
    }
    for name, (unit, words) in OUTLET_FIGURES.items():
        table[name] = ("candidate", np.asarray(figures[name], dtype=float), {"units": unit, "long_name": words})
    by_hand = np.asarray(rational) <= allowable_depth_mm
    routed = (opened.depth <= allowable_depth_mm) & (opened.spilled <= NO_SPILL_MM)
    fits = routed & (by_hand | storage_credit)
    table["described"] = ("candidate", [_is_described(roof, one) for one in tried])
    table["spills"] = ("candidate", opened.spilled > NO_SPILL_MM)
    table["meets"] = ("candidate", fits)
    table["meets_with_loss"] = ("candidate", [fits[k] and i is not None and fits[i] for k, i in enumerate(remaining)])
    safe = routed & by_hand
    table["meets_without_credit"] = (
        "candidate",
        [safe[k] and i is not None and safe[i] for k, i in enumerate(remaining)],
    )
    table["chosen"] = _chosen(table["meets_with_loss"], tried)
    table["chosen_without_credit"] = _chosen(table["meets_without_credit"], tried)
    table["rain_intensity"] = xr.DataArray(intensity, attrs={"units": "mm/h", "long_name": "heaviest rain of one step"})
    table["rational_flow"] = _l_per_s(plain, "design peak: rational flow, coefficient 1")
    table["planted_rational_flow"] = _l_per_s(planted_flow(roof, intensity), "rational flow, DIN 1986-100 (Cs)")
    table = _with_emergency(table, emergency)
    table.attrs = {
        "title": titles.OUTLETS,
        "roof": roof.name,
        "outlets_assumed": "no" if "outlets" in roof.model_fields_set else "yes",
        "area_m2": roof.area_m2,
        "allowable_depth_mm": float(allowable_depth_mm),
        "lost": lost,
        "blocked_share": float(blocked_fraction),
        "blocked_fraction": float(judged.blocked_fraction),
        "storage_credit": "yes" if storage_credit else "no",
        "start": str(start_moisture),
        "step_minutes": time_step(as_weather(storm)["time"]).minutes,
        "pipe_edition": pipe_edition,
        "left_out": "; ".join(left_out),
        "ponded": emergency.words,
        "drowned": "yes" if emergency.drowned else "no",
        "caution": " ".join(emergency.notes),
    }
    table.attrs["verdict"] = verdict(table)
    return table


def _that_fit(roof: Roof, candidates: Sequence[Outlet]) -> tuple[list[Roof], list[str]]:
    """Return the roof with each candidate it can have, and a line for each size of which so many cannot be."""
    fit: list[Roof] = []
    lines: dict[tuple[Any, ...], str] = {}
    for one in candidates:
        try:
            fit.append(with_outlets(roof, outlets=(one,)))
        except RoofError as error:
            lines.setdefault((one.kind, *one.sizes_mm), str(error).removeprefix("Roof: ").partition("; check")[0])
    if not fit:
        raise SizingError(f"size_outlets: no candidate fits on the roof: {'; '.join(lines.values())}")
    return fit, list(lines.values())


def _is_described(roof: Roof, one: Outlet) -> bool:
    """Tell whether a roof has this candidate and nothing else."""
    if len(roof.outlets) != 1:
        return False
    return all(getattr(one, name) == getattr(roof.outlets[0], name) for name in ("kind", "count", "strainer", *_SIZES))


def chosen_outlet(table: xr.Dataset) -> Outlet:
    """Return the chosen candidate as an outlet, its number included.

    Raises
    ------
    SizingError
        When none was chosen.
    """
    if not (isinstance(table, xr.Dataset) and "chosen" in table):
        raise SizingError(
            f"chosen_outlet: table is the Dataset that runoff.size_outlets returned (given one of kind {type(table).__name__})"
        )
    if int(table["chosen"]) < 0:
        raise SizingError(f"chosen_outlet: none was chosen. {table.attrs['verdict']}")
    one = table.isel(candidate=int(table["chosen"]))
    sizes = {name: float(one[name]) for name in _SIZES if np.isfinite(one[name])}
    return Outlet(kind=one["kind"].item(), count=int(one["number"]), strainer=bool(one["strainer"]), **sizes)


def size_words(outlet: Outlet) -> str:
    """Return the size of one outlet in words, mm."""
    return f"{' x '.join(f'{size:g}' for size in outlet.sizes_mm)} mm"


def _faults(
    allowable_depth_mm: float, candidates: Sequence[Outlet], most: int, lost: int, blocked_share: float
) -> list[str]:
    faults = limit_faults(allowable_depth_mm, lost, blocked_share)
    if not candidates:
        faults.append('no candidates; give outlets to try, for example runoff.Outlet(kind="round", diameter_mm=100)')
    if most < 1:
        faults.append(f"most must be 1 or more outlets (given {most})")
    return faults


def _pipes(outlet: Outlet, edition: str) -> float:
    if outlet.diameter_mm is None:
        return float("nan")
    return outlet.count * vertical_pipe_l_per_s(outlet.diameter_mm, edition=edition)


def _l_per_s(value: float, words: str) -> xr.DataArray:
    return xr.DataArray(value, attrs={"units": "L/s", "long_name": words})


def _chosen(meets: xr.DataArray, tried: Sequence[Outlet]) -> int:
    """Return the candidate with the fewest, then smallest outlets that meets with the loss, or -1."""
    good = np.flatnonzero(meets.to_numpy())
    if not good.size:
        return -1
    area = [one.diameter_mm or (one.width_mm or 0.0) * (one.height_mm or 0.0) for one in tried]
    return min(good.tolist(), key=lambda i: (tried[i].count, area[i]))


def _with_emergency(table: xr.Dataset, emergency: EmergencyState) -> xr.Dataset:
    for name, value, unit, words in (
        ("overflow_sill", emergency.sill_mm, "mm", "sill of the emergency overflow above the deck"),
        ("overflow_flow", emergency.flow_l_per_s, "L/s", "flow the emergency overflow alone must pass"),
        (
            "overflow_spilled",
            emergency.spilled_l_per_s,
            "L/s",
            "largest flow over it in the run, the roof filled first",
        ),
        ("overflow_head", emergency.head_mm, "mm", "head over the sill"),
        ("overflow_depth", emergency.depth_mm, "mm", "largest depth with every primary outlet blocked"),
        ("rain_load", emergency.rain_load_kn_per_m2, "kN/m2", "load of that water alone, 0.0098 x depth"),
    ):
        table[name] = xr.DataArray(value, attrs={"units": unit, "long_name": words})
    return table
