"""The day of the column in numpy, a loop over days with all designs in arrays: what the block loop is held against.

The steps are the functions of `runoff.balance.day_steps` themselves, with ``min``, ``max`` and ``math`` of numpy, so results have
the same bits. For designs that drain freely: where water would stand above the board, it stops.
"""

import types
from collections.abc import Callable
from typing import Any

import numpy as np

from runoff.balance import day_steps
from runoff.balance.block_lanes import TOTALS
from runoff.balance.day_steps import DayColumn


def on_arrays(function: Callable[..., Any]) -> Callable[..., Any]:
    """Return a step that takes arrays of designs, as do the steps it calls."""
    assert isinstance(function, types.FunctionType)
    names = {**function.__globals__, "min": np.minimum, "max": np.maximum, "math": np}
    for name in function.__code__.co_names:
        if isinstance(names.get(name), types.FunctionType):
            names[name] = on_arrays(names[name])
    return types.FunctionType(function.__code__, names, function.__name__, function.__defaults__)


bypass_of, soak_and_percolate, fill = map(
    on_arrays, (day_steps.bypass_of, day_steps.soak_and_percolate, day_steps.fill)
)
drain, draw_surface, drawn_by_roots = map(
    on_arrays, (day_steps.drain, day_steps.draw_surface, day_steps.drawn_by_roots)
)
usable_by_roots = on_arrays(day_steps.usable_by_roots)


def run_in_numpy(
    liquid: np.ndarray, e0: np.ndarray, other: np.ndarray, warm: np.ndarray, month: np.ndarray, event_limit: np.ndarray,
    year_start: np.ndarray, tolerance: float, par: np.ndarray, stores: np.ndarray, *, skips: bool,
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Run many designs, and keep sums per year as `column_blocks.totals_loop` does.

    Parameters
    ----------
    liquid, e0, other, warm, month, event_limit, year_start, tolerance, par, stores
        As there; `stores` is not changed.
    skips
        Whether steps that change nothing in any design are left out on a day, where that is seen at once: those of
        water on a day without rain and without free water.

    Returns
    -------
    totals, monthly
        Shape ``(year, len(TOTALS), design)`` and ``(12, design)``.
    """
    p = DayColumn(*par[: len(DayColumn._fields)])
    U, S, C, M, Q = (row.copy() for row in stores)
    designs = par.shape[1]
    each = (DayColumn(*one) for one in par[: len(DayColumn._fields)].T)
    limit_of_draining = np.array([day_steps.drain_limit_at(0.0, one) for one in each])
    totals, monthly = np.zeros((len(year_start) - 1, len(TOTALS), designs)), np.zeros((12, designs))
    wet_spell, dry_spell, event_begin, month_begin = (np.zeros(designs) for _ in range(4))
    mobile, limit, in_month = True, -1.0, int(month[0])
    for year in range(len(year_start) - 1):
        now = dict(zip(TOTALS, totals[year], strict=True))
        overflow_sum = np.zeros(designs)
        before, received, other_sum = U + S + C + M + Q, 0.0, 0.0
        for t in range(year_start[year], year_start[year + 1]):
            if month[t] != in_month:
                monthly[in_month] += overflow_sum - month_begin
                month_begin, in_month = overflow_sum.copy(), int(month[t])
            if event_limit[t] != 0.0:
                now["events_held"] += overflow_sum - event_begin < limit
                event_begin, limit = overflow_sum.copy(), event_limit[t]
            received += liquid[t]
            other_sum += other[t]
            overflow: Any = 0.0
            if not skips or liquid[t] > 0.0 or mobile or t == 0:
                wet = U + liquid[t]
                U = np.minimum(wet, p.surface_capacity)
                throughfall = wet - U
                by = bypass_of(throughfall, S, p)
                S, percolation, passing = soak_and_percolate(throughfall, by, S, p)
                Q = Q + percolation
                C, Q = fill(C, p.cup_capacity, Q)
                M, Q = fill(M, p.mat_capacity, Q)
                Q = Q + passing
                Q, drained = drain(Q, limit_of_draining, p)
                kept = np.minimum(Q, p.spill_water)
                overflow = drained + (Q - kept)
                Q = kept
                if (Q > p.board_top_water).any():
                    raise AssertionError("water stands: give designs that drain freely")
                overflow_sum += overflow
                np.maximum(now["peak_overflow"], overflow, out=now["peak_overflow"])
            roof = other[t] + p.planted_fraction * (overflow - other[t])
            np.maximum(now["peak_roof_overflow"], roof, out=now["peak_roof_overflow"])
            U, _, demand = draw_surface(max(0.0, e0[t]), U, p)
            from_medium, from_cups, from_mat = drawn_by_roots(demand, S, C, M, p)
            S, C, M = S - from_medium, C - from_cups, M - from_mat
            if not skips or mobile or liquid[t] > 0.0:
                C, Q = fill(C, p.cup_capacity, Q)
                M, Q = fill(M, p.mat_capacity, Q)
                mobile = bool(((Q > 0.0) | (S > p.field_water)).any())
            wet_day = p.full_water - S - p.air_water < -day_steps.ROUNDING_MM
            wet_spell = (wet_spell + 1.0) * wet_day
            now["waterlogged_days"] += wet_day
            now["waterlogged_area_days"] += wet_day
            now["rot_risk_days"] += warm[t] * (wet_spell > tolerance)
            np.maximum(now["longest_waterlogged_spell"], wet_spell, out=now["longest_waterlogged_spell"])
            now["excess_water"] += np.maximum(0.0, np.minimum(S, p.full_water) - p.field_water)
            dry = usable_by_roots(U, S, C, M, p) < p.dry_limit
            dry_spell = (dry_spell + 1.0) * dry
            now["dry_days"] += dry
            now["drought_risk_days"] += dry_spell > p.drought_days
            np.maximum(now["longest_dry_spell"], dry_spell, out=now["longest_dry_spell"])
        if year == len(year_start) - 2:
            now["events_held"] += overflow_sum - event_begin < limit
            monthly[in_month] += overflow_sum - month_begin
        now["overflow"][:] = overflow_sum
        now["evapotranspiration"][:] = received - overflow_sum - (U + S + C + M + Q - before)
        now["roof_overflow"][:] = other_sum + p.planted_fraction * (overflow_sum - other_sum)
        event_begin, month_begin = event_begin - overflow_sum, month_begin - overflow_sum
    return totals, monthly
