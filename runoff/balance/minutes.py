"""Run planted columns in steps of 1 min to 1 h: set up the parameters, then a trace of one or totals of many.

The equations and their solution are in `runoff.balance.minute_steps`. Here a described column (depths in mm, rates in
mm/h, outlets as laws) becomes the arrays that the loops read.

Examples
--------
>>> import numpy as np
>>> from runoff.balance.outlet_flow import round_outlet
>>> roof = dict(
...     surface_capacity=1.0, soak_rate=600.0, wilting_water=4.0, field_water=24.0, full_water=40.0, medium_depth=80.0,
...     fleece_rate=3600.0, cup_capacity=4.0, mat_capacity=3.0, board_capacity=15.0, board_height=25.0,
...     overflow_level=105.0, board_spill=15.0, medium_spill=40.0, pond_spill=0.0, room_unlimited=0.0,
...     crop_coefficient=1.0, depletion_fraction=0.0, cup_supply=0.5, mat_supply=0.25, detention_k=0.03,
...     detention_n=2.0, in_plane_rate=900.0, blocked_fraction=0.0, area_m2=100.0, outlets=[round_outlet(100.0)])
>>> columns = minute_columns([roof], 5.0)
>>> rain = np.repeat([1.5, 0.0], [12, 60])
>>> trace, last = run_trace(rain, np.zeros(72), columns, start_stores([roof])[:, 0])
>>> float(trace["drained"].sum() + (last - start_stores([roof])[:, 0]).sum() - rain.sum()).__round__(9)
0.0
"""

from __future__ import annotations

import dataclasses
import math
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from runoff.balance import minute_steps as steps
from runoff.balance.outlet_flow import OutletLaw, flow, head_for_flow
from runoff.balance.sharing_out import share_out
from runoff.errors import RunoffError

#: Below this many design-steps plain Python ends before numba is even imported.
_SMALL_RUN = 20_000
#: One substep is enough while the medium releases less than about this share of its mobile water in a step ...
_CALM_SHARE = 0.15
#: ... and holds no more mobile water than this, mm.
_CALM_MOBILE_MM = 1.0
_NEVER = 1e300  # a bound no store reaches; unlike infinity it may be multiplied by 0


@dataclasses.dataclass(frozen=True)
class MinuteColumns:
    """Columns ready to run at one length of step; made by `minute_columns`.

    Parameters
    ----------
    parameters
        Shape ``(parameter, design)``, order of `minute_steps.PARAMETERS`.
    zones
        How levels and outflow go together, shape ``(design, zone, 7)``: from the deck up, lower level (mm) and its
        root, water per mm of level, weir and orifice coefficients of the recession in ``level^0.5``, the root of
        their product, and the constant rate (mm/min) where the in-plane flow limits, else -1.
    minutes
        Length of the step, min.
    substeps
        How often a step is cut when water moves.
    """

    parameters: np.ndarray
    zones: np.ndarray
    minutes: float
    substeps: int


def minute_columns(
    designs: Sequence[Mapping[str, Any]], step_minutes: float, *, substep_minutes: float = steps.SUBSTEP_MINUTES
) -> MinuteColumns:
    """Turn described columns into the arrays the loops read.

    Parameters
    ----------
    designs
        One mapping per design. Water and capacities, mm: ``surface_capacity wilting_water field_water full_water
        cup_capacity mat_capacity board_capacity``; heights, mm: ``board_height medium_depth``; the stores at the level
        of the emergency overflow, mm: ``board_spill medium_spill pond_spill`` and ``room_unlimited`` (1 when the
        overflow stands no higher than the board); rates, mm/h: ``soak_rate fleece_rate in_plane_rate`` (the last at
        the roof's fall); ``detention_k`` (mm, min) and ``detention_n``; ``crop_coefficient depletion_fraction
        cup_supply mat_supply blocked_fraction``; ``area_m2`` and ``outlets``, a sequence of `OutletLaw`. Other keys
        are left alone.
    step_minutes
        Length of the step, 1 to 60 min.
    substep_minutes
        Longest substep while water moves, min.

    Raises
    ------
    RunoffError
        When the step is out of range, or there is no design.
    """
    if not 1.0 <= step_minutes <= 60.0:
        raise RunoffError(f"minute steps: a step must be 1 to 60 min, given {step_minutes:g}; sum or split the rain")
    if not designs:
        raise RunoffError("minute steps: no design is given; give at least one column")
    minutes = float(step_minutes)
    substeps = max(1, math.ceil(minutes / substep_minutes - 1e-9))
    rows = [_design_row(design, minutes, substeps) for design in designs]
    tables = [_zone_table(design) for design in designs]
    tallest = max(len(table) for table in tables)
    zones = np.array([_padded(table, tallest) for table in tables])
    parameters = np.array([[row[name] for name in steps.PARAMETERS] for row in rows], dtype=float).T
    return MinuteColumns(parameters, zones, minutes, substeps)


def start_stores(designs: Sequence[Mapping[str, Any]], share: float = 1.0) -> np.ndarray:
    """Return stores with medium, cups and mat filled to a share (0 wilting point, 1 field capacity), the rest empty.

    Returns
    -------
    numpy.ndarray
        Shape ``(6, design)``, mm, order of `minute_steps.STORES`.
    """
    return np.array(
        [
            [0.0, 0.0, d["wilting_water"] + share * (d["field_water"] - d["wilting_water"]),
             share * d["cup_capacity"], share * d["mat_capacity"], 0.0]
            for d in designs
        ]
    ).T  # fmt: skip


def run_trace(
    liquid: np.ndarray, e0: np.ndarray, columns: MinuteColumns, stores: np.ndarray, *, design: int = 0
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Run one design and keep every flux, store and depth of every step.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and reference evapotranspiration, mm per step, shape ``(time,)``.
    columns
        From `minute_columns`.
    stores
        Stores before the first step, mm, shape ``(6,)``; left as they are.
    design
        Which of the columns to run.

    Returns
    -------
    trace
        Arrays of shape ``(time,)`` by the names of `minute_steps.TRACE`; all missing when any input is missing.
    stores
        Stores after the last step, shape ``(6,)``.
    """
    liquid, e0 = _weather(liquid, e0)
    last = np.array(stores, dtype=float)
    out = np.empty((len(steps.TRACE), liquid.size))
    arguments = (liquid, e0, columns.minutes, columns.substeps, columns.parameters, columns.zones, design, last, out)
    small = liquid.size < _SMALL_RUN and "numba" not in sys.modules
    (steps.trace_loop if small else steps.compiled("trace_loop"))(*arguments)
    if _anything_missing(liquid, e0, stores):
        out[:], last[:] = np.nan, np.nan
    return dict(zip(steps.TRACE, out, strict=True)), last


def run_totals(
    liquid: np.ndarray, e0: np.ndarray, columns: MinuteColumns, stores: np.ndarray
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Run all designs through the same weather, on all cores, and keep sums and largest values.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and reference evapotranspiration, mm per step, shape ``(time,)``.
    columns
        From `minute_columns`.
    stores
        Stores before the first step, mm, shape ``(6, design)``; left as they are.

    Returns
    -------
    totals
        Arrays of shape ``(design,)`` by the names of `minute_steps.TOTALS`; missing when any input is missing.
    stores
        Stores after the last step, shape ``(6, design)``: a run may be split in time, in pieces of any length.
    """
    liquid, e0 = _weather(liquid, e0)
    n = columns.parameters.shape[1]
    totals, last = np.empty((len(steps.TOTALS), n)), np.empty((len(steps.STORES), n))
    loop = steps.compiled("totals_loop")

    def work(piece: slice) -> None:
        count = piece.stop - piece.start
        width = -(-count // steps._LANES) * steps._LANES
        lanes = np.minimum(np.arange(width), count - 1) + piece.start  # the last block repeats its last lane
        kept, got = np.ascontiguousarray(stores[:, lanes], dtype=float), np.empty((len(steps.TOTALS), width))
        parameters, zones = np.asfortranarray(columns.parameters[:, lanes]), columns.zones[lanes]
        loop(liquid, e0, columns.minutes, columns.substeps, parameters, zones, kept, got)
        totals[:, piece], last[:, piece] = got[:, :count], kept[:, :count]

    share_out(work, n, steps._LANES)
    missing = _anything_missing(liquid, e0) | np.isnan(np.sum(stores, axis=0))
    totals[:, missing], last[:, missing] = np.nan, np.nan
    return dict(zip(steps.TOTALS, totals, strict=True)), last


def _design_row(d: Mapping[str, Any], minutes: float, substeps: int) -> dict[str, float]:
    part = minutes / substeps
    k, n = d["detention_k"], d["detention_n"]
    full_mobile = d["full_water"] - d["field_water"]
    board_full = min(d["board_capacity"], d["board_spill"])
    height = _board_height(d)
    head_per_mm = height / d["board_capacity"] if d["board_capacity"] > 0.0 else 0.0
    head_per_mobile = d["medium_depth"] / full_mobile
    usable = (1.0 - d["depletion_fraction"]) * (d["field_water"] - d["wilting_water"])
    return {
        "surface_capacity": d["surface_capacity"],
        "surface_share": 1.0 / d["surface_capacity"] if d["surface_capacity"] > 0.0 else 0.0,
        "soak": d["soak_rate"] / 60.0 * part,
        "wilting_water": d["wilting_water"],
        "field_water": d["field_water"],
        "crop_coefficient": d["crop_coefficient"],
        "stress_slope": 1.0 / usable,
        "cup_supply": d["cup_supply"],
        "mat_supply": d["mat_supply"],
        "cup_capacity": d["cup_capacity"],
        "mat_capacity": d["mat_capacity"],
        **_detention(k, n, part, ""),
        "fleece": d["fleece_rate"] / 60.0 * part,
        **_detention(k, n, minutes, "_step"),
        "fleece_step": d["fleece_rate"] / 60.0 * minutes,
        **_open_board(d, head_per_mm, board_full),
        "calm_limit": min(_calm_mobile(k, n, minutes), full_mobile),
        "open_limit": full_mobile,
        "board_capacity": d["board_capacity"],
        "board_full": board_full,
        "rate_at_board_full": float(_rate(d, board_full * head_per_mm)),
        "head_per_mm": head_per_mm,
        "full_mobile": full_mobile,
        "head_per_mobile": head_per_mobile,
        "board_head": height,
        "release_limit": k * full_mobile**n * part,
        # a medium that may stand full to its top spills from the pond above it
        "spill_mobile": d["medium_spill"] - d["field_water"] if d["medium_spill"] < d["full_water"] else _NEVER,
        "spill_pond": d["pond_spill"],
        "room_unlimited": d["room_unlimited"],
        "odd_exponent": 0.0 if n in (1.0, 2.0) else n,
        "k_minutes": k * part,
        "reported_head": d["board_height"] / d["board_capacity"] if d["board_capacity"] > 0.0 else 0.0,
    }


def _board_height(d: Mapping[str, Any]) -> float:
    """Return the height over which the free water below the medium stands, mm.

    A roof without a board keeps that water in its mat: as n mm of water cannot stand lower than n mm, that is its
    height. Without it the mat would never drain, having no head.
    """
    return max(d["board_height"], d["board_capacity"])


def _detention(k: float, n: float, minutes: float, ending: str) -> dict[str, float]:
    """Return the constants of the closed forms, see `minute_steps.release`."""
    keep, share, kt = 1.0, 1.0, k * minutes
    if n == 1.0:
        keep, kt = math.exp(-k * minutes), 0.0
        share = -math.expm1(-k * minutes) / (k * minutes) if k > 0.0 else 1.0
    return {f"keep{ending}": keep, f"share{ending}": share, f"kt{ending}": kt}


def _calm_mobile(k: float, n: float, minutes: float) -> float:
    """Return the mobile water up to which one substep resolves a step, mm."""
    share = k * minutes / _CALM_SHARE
    if n > 1.0:
        return min(_CALM_MOBILE_MM, share ** (-1.0 / (n - 1.0))) if share > 0.0 else _CALM_MOBILE_MM
    return _CALM_MOBILE_MM if share <= 1.0 and n == 1.0 else 1e-3


def _rate(d: Mapping[str, Any], level: Any) -> np.ndarray:
    """Return the outflow at a level over the deck, mm/min over the roof."""
    outlets = flow(level, d["outlets"]) * 60.0 / d["area_m2"]
    return (1.0 - d["blocked_fraction"]) * np.minimum(d["in_plane_rate"] / 60.0, outlets)


def _in_plane_level(d: Mapping[str, Any]) -> float:
    """Return the level from which the in-plane flow limits the outflow, mm."""
    if not d["outlets"] or math.isinf(d["in_plane_rate"]):
        return math.inf
    return float(head_for_flow(d["in_plane_rate"] / 3600.0 * d["area_m2"], d["outlets"]))


def _open_board(d: Mapping[str, Any], head_per_mm: float, board_full: float) -> dict[str, float]:
    """Return the recession of a board that cannot fill: constant rate, then one weir."""
    laws: Sequence[OutletLaw] = d["outlets"]
    open_share = 1.0 - d["blocked_fraction"]
    weir = open_share * sum(law.weir for law in laws) * 60.0 / d["area_m2"] * head_per_mm**1.5
    turning = min((law.turning_head_mm for law in laws), default=math.inf)
    level = _in_plane_level(d)
    in_plane = open_share * d["in_plane_rate"] / 60.0 if level < math.inf else 0.0
    if weir == 0.0 or level == 0.0:
        weir = in_plane = 0.0
    limit = board_full - 2.0 * steps.ROUNDING_MM
    if turning < level and head_per_mm > 0.0:
        limit = min(limit, turning / head_per_mm)
    return {
        "board_turn": min(level / head_per_mm, _NEVER) if in_plane > 0.0 and head_per_mm > 0.0 else _NEVER,
        "in_plane": in_plane,
        "in_plane_inverse": 1.0 / in_plane if in_plane > 0.0 else 0.0,
        "half_weir": 0.5 * weir,
        "board_limit": limit,
    }


def _zone_table(d: Mapping[str, Any]) -> list[tuple[float, ...]]:
    """Return, from the deck up, the zones in which one storage and one law of outflow hold; see `MinuteColumns`."""
    height, depth = _board_height(d), d["medium_depth"]
    laws: Sequence[OutletLaw] = d["outlets"]
    top = height + depth
    limit_level = _in_plane_level(d)
    limit_rate = float(_rate(d, limit_level)) if limit_level < math.inf else 0.0
    per_l_per_s = (1.0 - d["blocked_fraction"]) * 60.0 / d["area_m2"]
    turns = {law.turning_head_mm for law in laws}
    lows = sorted({0.0, height, top, *turns, limit_level} - {math.inf})
    table: list[tuple[float, ...]] = []
    for low in lows:
        if low < height:
            storage = max(d["board_capacity"] / height, 1e-9)
        else:
            storage = (d["full_water"] - d["field_water"]) / depth if low < top else 1.0
        weir = per_l_per_s * sum(law.weir for law in laws if law.turning_head_mm > low) / (2.0 * storage)
        orifice = per_l_per_s * sum(law.orifice for law in laws if law.turning_head_mm <= low) / (2.0 * storage)
        limited = low >= limit_level or weir + orifice == 0.0
        constant = limit_rate if low >= limit_level else 0.0
        row = (low, math.sqrt(low), storage, weir, orifice, math.sqrt(weir * orifice), constant if limited else -1.0)
        table.append(row)
    return table


def _padded(table: list[tuple[float, ...]], rows: int) -> list[tuple[float, ...]]:
    """Fill a zone table up with zones no level reaches."""
    unreached = (_NEVER, math.sqrt(_NEVER), 1.0, 0.0, 0.0, 0.0, 0.0)
    return table + [unreached] * (rows - len(table))


def _weather(liquid: np.ndarray, e0: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    rain, evaporation = np.ascontiguousarray(liquid, dtype=float), np.ascontiguousarray(e0, dtype=float)
    if rain.shape != evaporation.shape or rain.ndim != 1:
        raise RunoffError(
            f"minute steps: rain and reference evapotranspiration need one value per step each, given shapes "
            f"{rain.shape} and {evaporation.shape}"
        )
    return rain, evaporation


def _anything_missing(*arrays: np.ndarray) -> bool:
    return any(bool(np.isnan(np.sum(array))) for array in arrays)
