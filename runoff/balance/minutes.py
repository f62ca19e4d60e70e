"""Run columns in steps of 1 min to 1 h: set up the parameters, then the trace of one.

Courses of many roofs, without their traces: `runoff.balance.minute_courses`.

The equations and their solution are in `runoff.balance.minute_steps`. Here described columns become the arrays that the
loops read: planted roofs by `planted_columns`, bare and gravel ones by `bare_columns`. One roof whose surfaces differ is two
columns: every square metre has its share of the outlets, of the overflow and of the edge, and its own level. Whatever
stands on the two, weirs of one common level would pass no more (their law is convex), and the deeper of the two levels is
the one to print: neither a peak nor a depth is flattered.

Examples
--------
>>> import numpy as np
>>> from runoff.balance.outlet_flow import round_outlet
>>> deck = dict(film_capacity=1.0, gravel_depth=0.0, gravel_pores=1.0, fall=0.02, flow_length_m=10.0, sill_level=np.inf,
...     emergency_width_mm=np.nan, emergency_height_mm=np.nan, edge_level=150.0, blocked_fraction=0.0, area_m2=100.0,
...     outlets=[round_outlet(100.0)])
>>> columns = bare_columns([deck], 5.0)
>>> rain = np.repeat([1.5, 0.0], [12, 60])
>>> trace, last = run_trace(rain, np.zeros(72), columns, columns.start(1.0)[:, 0])
>>> float(trace["drained"].sum() + last.sum() - rain.sum()).__round__(9)
0.0
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from runoff.balance import column, free_water, packing
from runoff.balance import minute_steps as steps
from runoff.balance.loop_choice import as_read, pick
from runoff.balance.outlet_flow import OutletLaw, rectangular_outlet
from runoff.errors import RunoffError

#: What a described bare or gravel deck brings. Depths and levels mm.
DESCRIBED_BARE = (
    "film_capacity", "gravel_depth", "gravel_pores", "fall", "flow_length_m", "sill_level", "edge_level",
    "emergency_width_mm", "emergency_height_mm", "blocked_fraction", "area_m2",
)  # fmt: skip
#: The rows of the parameter array.
ROWS = (*steps.PARAMETERS, *free_water.Deck._fields)
#: A peak is the largest mean over so long, or over the step, if that is longer, min.
PEAK_MINUTES = 5.0
#: What a substep costs in plain Python, in steps of a day.
IN_DAY_STEPS = 2
#: A step is taken whole while the medium releases less than about this share of its mobile water in it ...
_STILL_SHARE = 0.15
#: ... and holds no more mobile water than this, mm.
_STILL_MOBILE_MM = 1.0
#: So little may join the free water at the beginning of a step instead of all through it, mm/min (on a wedge: mm).
_TRICKLE_MM = 1e-3
#: Flow over the surface of the medium, as over a weir as wide as the roof, mm/min per mm^1.5: of 1000 (area/L) / 24000 L/s
#: the area falls out (EN 12056-3, rectangular form).
_SURFACE_WEIR = 1000.0 * 60.0 / 24000.0


@dataclasses.dataclass(frozen=True)
class MinuteColumns:
    """Columns ready to run at one length of step; made by `planted_columns` and `bare_columns`.

    Parameters
    ----------
    parameters
        Shape ``(parameter, design)``, order of `ROWS`: mm, mm/min, shares.
    laws
        Weirs, then orifices of the outlets, mm/min per mm^1.5 and mm^0.5, shape ``(2 x law, design)``.
    minutes
        Length of the step, min.
    substeps
        How often a step is cut when water moves.
    """

    parameters: np.ndarray
    laws: np.ndarray
    minutes: float
    substeps: int

    def start(self, share: float = 1.0) -> np.ndarray:
        """Return stores with medium, cups and mat filled to a share, the rest empty.

        Parameters
        ----------
        share
            0 is the wilting point and empty cups and mat, 1 field capacity and full ones.

        Returns
        -------
        numpy.ndarray
            Shape ``(store, design)``, mm, order of `minute_steps.STORES`.
        """
        row = dict(zip(ROWS, self.parameters, strict=True))
        none = np.zeros(self.parameters.shape[1])
        held = row["wilting_water"] + share * (row["field_water"] - row["wilting_water"])
        filled = {
            "held_water": held,
            "cup_water": share * row["cup_capacity"],
            "mat_water": share * row["mat_capacity"],
        }
        return np.array([filled.get(name, none) for name in steps.STORES])


def planted_columns(
    designs: Sequence[Mapping[str, Any]],
    step_minutes: float,
    *,
    substep_minutes: float = steps.SUBSTEP_MINUTES,
    air_threshold: float = 0.10,
    wet_depth_share: float = column.WET_DEPTH_SHARE,
) -> MinuteColumns:
    """Turn described planted columns into the arrays the loops read.

    Parameters
    ----------
    designs
        One mapping per design with the keys of `packing.DESCRIBED`, ``emergency_width_mm`` and ``emergency_height_mm`` (NaN:
        no opening is known, and the water is followed to the edge), and ``outlets``, a sequence of `OutletLaw`.
    step_minutes
        Length of the step, 1 to 60 min.
    substep_minutes
        Longest substep while water moves, min.
    air_threshold, wet_depth_share
        As in `column.parameter_array`.

    Returns
    -------
    MinuteColumns
        Of all designs, in their order.

    Raises
    ------
    RunoffError
        When the step is out of range, there is no design, or a number cannot be.
    """
    rows = packing.by_name(designs)
    part, whole = _lengths(step_minutes, substep_minutes)
    n, k = rows["detention_n"], rows["detention_k"] * 80.0 / rows["medium_depth"]
    limit = np.minimum(rows["soak_rate"], rows["fleece_rate"]) / 60.0
    with np.errstate(divide="ignore"):
        limit_mobile = (limit / k) ** (1.0 / n)
    tested = rows["open_share"] * rows["in_plane_tested"] / 60.0
    least = tested * np.where(
        rows["in_plane_linear"] > 0.0,
        rows["least_level"] * rows["tested_slope"],
        np.sqrt(rows["least_level"] * rows["tested_slope"]),
    )
    rows |= {
        "film": np.zeros_like(n),
        "soak": rows["soak_rate"] / 60.0 * part,
        **_detention(k, n, part, ""),
        **_detention(k, n, whole, "_step"),
        "release_limit": limit * part,
        "limit_mobile": limit_mobile,
        "odd_exponent": np.where((n == 1.0) | (n == 2.0), 0.0, n),
        "in_plane_tested": tested,
        "in_plane_least": least,
        "least_level_water": free_water.volumes(rows["least_level"], packing.deck_of(rows)),
        "surface_weir": _SURFACE_WEIR / rows["flow_length_m"],
        "medium_top": rows["board_height"] + rows["medium_depth"],
        "still_mobile": np.minimum(np.minimum(_still_mobile(k, n, whole), rows["free_pores"]), limit_mobile),
        "air_water": air_threshold * rows["medium_depth"],
        "wet_depth": wet_depth_share * rows["medium_depth"],
        "depth_per_pore": rows["medium_depth"] / rows["free_pores"],
    }
    return _made(designs, rows, part, whole)


def bare_columns(
    decks: Sequence[Mapping[str, Any]], step_minutes: float, *, substep_minutes: float = steps.SUBSTEP_MINUTES
) -> MinuteColumns:
    """Turn described bare or gravel decks into the arrays the loops read.

    Parameters
    ----------
    decks
        One mapping per deck with the keys of `DESCRIBED_BARE` and ``outlets``. ``film_capacity`` (mm) is held on the surface
        and evaporates at reference rate; ``gravel_depth`` (mm, 0 on a bare deck) and ``gravel_pores`` say where water stands.
    step_minutes, substep_minutes
        As in `planted_columns`.

    Returns
    -------
    MinuteColumns
        Of all decks, in their order.

    Raises
    ------
    RunoffError
        When the step is out of range, there is no deck, or a number cannot be.
    """
    if not decks:
        raise RunoffError("minute steps: no deck is given; give at least one")
    missing = sorted({name for deck in decks for name in (*DESCRIBED_BARE, "outlets") if name not in deck})
    if missing:
        raise RunoffError(f"minute steps: not given for a bare deck: {', '.join(missing)}")
    rows = {name: np.array([deck[name] for deck in decks], dtype=float) for name in DESCRIBED_BARE}
    part, whole = _lengths(step_minutes, substep_minutes)
    deck = free_water.bare_decks(
        fall=rows["fall"], flow_length_m=rows["flow_length_m"], gravel_depth=rows["gravel_depth"],
        gravel_pores=rows["gravel_pores"],
    )  # fmt: skip
    none, one, endless = np.zeros(len(decks)), np.ones(len(decks)), np.full(len(decks), np.inf)
    nothing = dict.fromkeys(steps.PARAMETERS, none)
    film = rows["film_capacity"]
    rows = nothing | rows | deck._asdict() | {
        "surface_capacity": film,
        "film": one,
        "crop_coefficient": one,
        **_detention(none, 2.0 * one, part, ""),
        **_detention(none, 2.0 * one, whole, "_step"),
        "limit_mobile": endless,
        "in_plane_tested": endless,
        "tested_slope": one,
        "least_level": one,
        "in_plane_least": endless,
        "least_level_water": endless,
        "medium_top": rows["gravel_depth"],
        "medium_top_water": endless,  # no drainage layer is between it and the outlets
        # nothing grows there that could be waterlogged
        "air_water": -one,
        "wet_depth": endless,
        "depth_per_pore": endless,
        "open_share": 1.0 - rows["blocked_fraction"],
        "edge_water": free_water.volumes(rows["edge_level"], deck),
        "sill_water": free_water.volumes(rows["sill_level"], deck),
    }  # fmt: skip
    return _made(decks, rows, part, whole)


def run_trace(
    liquid: np.ndarray,
    e0: np.ndarray,
    columns: MinuteColumns,
    stores: np.ndarray,
    *,
    run_on: np.ndarray | None = None,
    design: int = 0,
    keep: tuple[str, ...] = steps.TRACE,
    out: np.ndarray | None = None,
    gapless: bool = False,
    plain: bool = False,
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Run one design and keep every flux, store and depth of every step, or some of them.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and reference evapotranspiration (0 under snow and frost), mm per step, shape ``(time,)``.
    columns
        From `planted_columns` or `bare_columns`.
    stores
        Stores before the first step, mm, shape ``(store,)``; left as they are.
    run_on
        Water that joins the free water on the deck directly, mm per step; none by default.
    design
        Which of the columns to run.
    keep
        Names of `minute_steps.TRACE`; by default all.
    out
        Array to write the trace into, shape ``(rows_of(keep), time)``, mm and shares; made where it is not given.
    gapless
        Whether the weather is known to lack nothing, so that it need not be looked through.
    plain
        Run in plain Python, whatever the length; the numbers are the same.

    Returns
    -------
    trace
        Arrays of shape ``(time,)`` by the names of `keep`; all missing when any input is missing.
    stores
        Stores after the last step, mm, shape ``(store,)``: a run may be split in time.
    """
    liquid, e0, run_on = weather_of(liquid, e0, run_on)
    n = liquid.size
    loop = steps.trace_loop if plain else pick(steps.trace_loop, IN_DAY_STEPS * n * columns.substeps)
    traced = np.empty((rows_of(keep), n)) if out is None else out
    last = np.array(stores, dtype=float)
    of_design = columns.parameters[:, design].tolist(), columns.laws[:, design].copy()
    unknown = any(map(math.isnan, last.tolist())) or not (gapless or all(map(_is_known, (liquid, e0, run_on))))
    run_design(loop, read_by(loop, liquid, run_on, e0), columns, of_design, last, traced, keep)
    if unknown:
        traced[:], last[:] = np.nan, np.nan
    return dict(zip(keep, traced, strict=False)), last


def rows_of(keep: Sequence[str]) -> int:
    """Return how many rows a trace needs: one for each variable kept, and one in which the others are written over each other."""
    return min(len(keep) + 1, len(steps.TRACE))


def _is_known(series: np.ndarray) -> bool:
    """Tell whether a series lacks no step."""
    return not np.isnan(series.min(initial=np.inf))


def read_by(loop: Any, *weather: np.ndarray) -> list[Any]:
    """Return arrays as a loop reads them: lists are what plain Python is quick with, and the compiled loop knows one form."""
    return [one.tolist() for one in weather] if loop is steps.trace_loop else [*map(as_read, weather)]


def run_design(
    loop: Any,
    weather: Sequence[Any],
    columns: MinuteColumns,
    of_design: tuple[list[float], np.ndarray],
    state: np.ndarray,
    traced: np.ndarray,
    keep: tuple[str, ...] = steps.TRACE,
) -> None:
    """Run one design and write its trace.

    Parameters
    ----------
    loop
        `minute_steps.trace_loop`, or its compiled form.
    weather
        From `read_by`: rain plus melt, run-on and reference evapotranspiration, mm per step.
    columns
        Of which the length of the steps is read.
    of_design
        The parameters of the design in the order of `ROWS`, and its laws.
    state
        Stores before the first step, mm, shape ``(store,)``, contiguous; receives the last ones.
    traced
        Receives the trace, mm and shares, shape ``(rows_of(keep), time)``.
    keep
        Names of `minute_steps.TRACE`, in the order of the rows.
    """
    n = traced.shape[-1]
    place = {name: at for at, name in enumerate(keep)}
    begins = tuple(place.get(name, len(keep)) * n for name in steps.TRACE)
    numbers, laws = of_design
    split = len(steps.PARAMETERS)
    par, deck = steps.Parameters._make(numbers[:split]), free_water.Deck._make(numbers[split:])
    if loop is not steps.trace_loop:
        loop(*weather, columns.minutes, columns.substeps, par, deck, laws, state, traced.reshape(-1), begins)
        return
    stored, written = state.tolist(), [0.0] * traced.size
    loop(*weather, columns.minutes, columns.substeps, par, deck, laws.tolist(), stored, written, begins)  # type: ignore[call-arg]
    traced[:], state[:] = np.reshape(written, traced.shape), stored


def largest_mean(depths: np.ndarray, step_minutes: float, minutes: float = PEAK_MINUTES) -> float:
    """Return the largest mean rate over 5 min (or the step, if longer), mm/h: what this package calls a peak.

    Parameters
    ----------
    depths
        What left in each step, mm, shape ``(time,)``.
    step_minutes
        Length of the step, min.
    minutes
        Length of the mean, min.

    Returns
    -------
    float
        mm/h.
    """
    whole, part = _window(step_minutes, minutes)
    window = (whole + part) * step_minutes
    sums = np.concatenate([[0.0], np.cumsum(depths)])
    if len(depths) <= whole:
        return float(sums[-1] * 60.0 / window)
    within = sums[whole:] - sums[:-whole]
    if part > 0.0:  # the flow is even within a step, so the largest window begins or ends with one
        within = np.maximum(within[:-1] + part * depths[whole:], within[1:] + part * depths[:-whole])
    return float(within.max() * 60.0 / window)


def _window(step_minutes: float, minutes: float = PEAK_MINUTES) -> tuple[int, float]:
    """Return over how many whole steps, and what part of another, a peak is the mean."""
    steps_long = max(minutes, step_minutes) / step_minutes
    whole = int(steps_long + 1e-9)
    return whole, max(0.0, steps_long - whole) if steps_long - whole > 1e-9 else 0.0


def _lengths(step_minutes: float, substep_minutes: float) -> tuple[float, float]:
    """Return the length of a substep and of the step, min."""
    if not 1.0 <= step_minutes <= 60.0:
        raise RunoffError(f"minute steps: a step must be 1 to 60 min, given {step_minutes:g}; sum or split the rain")
    whole = float(step_minutes)
    return whole / max(1, math.ceil(whole / substep_minutes - 1e-9)), whole


def _detention(k: np.ndarray, n: np.ndarray, minutes: float, ending: str) -> dict[str, np.ndarray]:
    """Return the constants of the closed forms, see `minute_steps.release`."""
    x = k * minutes
    linear = n == 1.0
    return {
        f"keep{ending}": np.where(linear, np.exp(-x), 1.0),
        f"inflow_share{ending}": np.where(linear & (x > 0.0), -np.expm1(-x) / np.where(x > 0.0, x, 1.0), 1.0),
        f"kt{ending}": np.where(linear, 0.0, x),
    }


def _still_mobile(k: np.ndarray, n: np.ndarray, minutes: float) -> np.ndarray:
    """Return the mobile water up to which a step without inflow may be taken whole, mm."""
    share = k * minutes / _STILL_SHARE
    with np.errstate(divide="ignore", over="ignore"):
        power = np.where(n > 1.0, share ** (-1.0 / np.where(n > 1.0, n - 1.0, 1.0)), _STILL_MOBILE_MM)
    return np.where((n > 1.0) | ((n == 1.0) & (share <= 1.0)), np.minimum(_STILL_MOBILE_MM, power), 1e-3)


def _made(
    designs: Sequence[Mapping[str, Any]], rows: dict[str, np.ndarray], part: float, whole: float
) -> MinuteColumns:
    """Add openings, edge and the foot of the deck, and pack."""
    rows |= _openings(designs, rows)
    laws = _law_table([_joined(design["outlets"]) for design in designs], rows["open_share"] * 60.0 / rows["area_m2"])
    rows |= _foot(designs, rows, laws, whole)
    parameters = packing.pack(rows, ROWS)
    return MinuteColumns(parameters, laws, whole, round(whole / part))


def _openings(designs: Sequence[Mapping[str, Any]], rows: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Return the law of the emergency overflow above its sill (EN 12056-3, a clear opening), and the edge."""
    width = np.array([design["emergency_width_mm"] for design in designs], dtype=float)
    height = np.array([design["emergency_height_mm"] for design in designs], dtype=float)
    per_l_per_s = 60.0 / rows["area_m2"]
    known = np.isfinite(rows["sill_level"]) & (width > 0.0) & (height > 0.0)
    laws = [rectangular_outlet(w, h) if ok else None for w, h, ok in zip(width, height, known, strict=True)]
    return {
        "sill": np.where(known, rows["sill_level"], np.inf),
        "sill_water": np.where(known, rows["sill_water"], np.inf),
        "sill_weir": per_l_per_s * np.array([law.weir if law else 0.0 for law in laws]),
        "sill_orifice": per_l_per_s * np.array([law.orifice if law else 0.0 for law in laws]),
        "edge_root": np.sqrt(rows["edge_level"]),
        "overflow_water": np.where(known, np.minimum(rows["sill_water"], rows["edge_water"]), rows["edge_water"]),
    }


def _joined(laws: Sequence[OutletLaw]) -> dict[float, tuple[float, float]]:
    """Return the laws of a roof by the head at which they turn, those that turn at the same head as one."""
    joined: dict[float, tuple[float, float]] = {}
    for law in laws:
        weir, orifice = joined.get(law.turning_head_mm, (0.0, 0.0))
        joined[law.turning_head_mm] = weir + law.weir, orifice + law.orifice
    return dict(sorted(joined.items()))


def _law_table(roofs: Sequence[Mapping[float, tuple[float, float]]], factor: np.ndarray) -> np.ndarray:
    """Return weirs, then orifices, mm/min, shape ``(2 x law, design)``; roofs with fewer laws are filled up with none."""
    most = max(1, *(len(roof) for roof in roofs))
    table = np.zeros((2, most, len(roofs)))
    for i, roof in enumerate(roofs):
        for k, pair in enumerate(roof.values()):
            table[:, k, i] = pair
    return (np.where(factor > 0.0, table, 0.0) * np.where(factor > 0.0, factor, 0.0)).reshape(2 * most, len(roofs))


def _foot(
    designs: Sequence[Mapping[str, Any]],
    rows: Mapping[str, np.ndarray],
    laws: np.ndarray,
    whole: float,
) -> dict[str, np.ndarray]:
    """Return the piece of the geometry at the foot of the deck, and up to where all openings there are weirs alone."""
    in_plane = rows["in_plane_least"]
    ends = np.array([np.zeros_like(in_plane), *(rows[f"end_{i}"] for i in range(1, 6))])
    first = np.sum(ends[1:] <= 0.0, axis=0)  # the piece that begins at 0 and has a length
    at = np.arange(len(first))
    slope = np.array([rows[f"slope_{i}"] for i in range(6)])[first, at]
    bend = np.array([rows[f"bend_{i}"] for i in range(6)])[first, at]
    end = np.where(first < 5, ends[np.minimum(first + 1, 5), at], np.inf)
    weir = laws[: len(laws) // 2].sum(axis=0)
    turning = np.array([min((law.turning_head_mm for law in d["outlets"]), default=np.inf) for d in designs])
    with np.errstate(divide="ignore"):
        limited = np.where(weir > 0.0, (in_plane / np.where(weir > 0.0, weir, 1.0)) ** (2.0 / 3.0), np.inf)
    level = np.minimum.reduce([end, turning, limited, rows["sill"], rows["edge_root"] ** 2])
    level = np.where(np.isfinite(level), level, 1e6)
    curved, steep = np.where(bend > 0.0, bend, 1.0), np.where(slope > 0.0, slope, 1.0)
    even = np.where(bend > 0.0, weir / curved, 0.0)
    # on a wedge the rate at which what stands under a steady inflow, (k/4) (i/w)^(4/3), comes to `_TRICKLE_MM`
    steady = weir * (4.0 * _TRICKLE_MM / curved) ** 0.75
    trickle = np.where(bend > 0.0, np.clip(steady, 0.2 * _TRICKLE_MM, 10.0 * _TRICKLE_MM), _TRICKLE_MM)
    return {
        "foot_water": (level * (slope + 0.25 * bend * level)) * (1.0 - 1e-12),
        "foot_slope": slope,
        "foot_bend": bend,
        "foot_weir": weir,
        "on_wedge": np.where(bend > 0.0, (4.0 / curved) ** 0.25, 0.0),
        "on_level": np.where(bend > 0.0, 0.0, 1.0 / np.sqrt(steep)),
        "emptied_water": 0.25 * bend * (even * whole) ** 4,
        "even_fall": even,
        "slowing": np.where(bend > 0.0, 0.0, 0.5 * weir / steep),
        "trickle": trickle,
        "sealed_water": np.where(weir > 0.0, 0.0, rows["overflow_water"]),
    }


def weather_of(liquid: np.ndarray, e0: np.ndarray, run_on: np.ndarray | None) -> list[np.ndarray]:
    """Bring the series of a run into the form the loop reads.

    Parameters
    ----------
    liquid, e0, run_on
        As in `run_trace`, mm per step.

    Returns
    -------
    list of numpy.ndarray
        The three in this order, contiguous, mm per step, shape ``(time,)``.

    Raises
    ------
    RunoffError
        When they are not of one length.
    """
    given = [liquid, e0, np.zeros(np.shape(liquid)) if run_on is None else run_on]
    rain, evaporation, more = (np.ascontiguousarray(each, dtype=float) for each in given)
    if rain.ndim != 1 or rain.shape != evaporation.shape or rain.shape != more.shape:
        raise RunoffError(
            "minute steps: rain, reference evapotranspiration and run-on need one value per step each, given shapes "
            f"{rain.shape}, {evaporation.shape} and {more.shape}"
        )
    return [rain, evaporation, more]
