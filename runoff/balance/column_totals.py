"""Totals of many designs under one daily record: the block loop of the column, shared out over the cores."""

from __future__ import annotations

import numpy as np

from runoff.balance import column, column_blocks
from runoff.balance.column_blocks import LANES
from runoff.balance.loop_choice import as_read, compiled
from runoff.balance.sharing_out import share_out

_SHARED_OUT = 1_000_000  # numbers from which it repays to put them back in order on all cores
_DRAINS_FREELY_MM = 300.0  # roofs that drain more in a day than it ever rains work alike


def run_totals(
    liquid: np.ndarray,
    e0: np.ndarray,
    run_on: np.ndarray | None,
    other: np.ndarray,
    warm: np.ndarray,
    month: np.ndarray,
    event_limit: np.ndarray,
    year_start: np.ndarray,
    tolerance: float,
    par: np.ndarray,
    stores: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Run `column_blocks.totals_loop` over any number of designs, on all cores.

    Parameters
    ----------
    liquid, e0, run_on, other, warm, month, event_limit, year_start, tolerance
        As in `column_blocks.totals_loop`; without run-on, None.
    par
        Parameters, shape ``(parameter, design)`` in the order of `column.PARAMETERS`.
    stores
        Stores before the first day, mm, shape ``(len(column.STORES), design)``; left as they are.

    Returns
    -------
    totals
        Shape ``(year, len(column_blocks.TOTALS), design)``.
    monthly
        Overflow by month of the year, mm, shape ``(12, design)``.
    stores
        Stores after the last day, shape ``(len(column.STORES), design)``.

    Notes
    -----
    Designs are sorted by what they drain in a day before they are cut into blocks, since a block works as long as the
    slowest of its designs: in random order a few throttled roofs would double the time of all. The order is given back.
    """
    designs = par.shape[1]
    order, width = _alike(par), -(-designs // LANES) * LANES
    places = order[np.minimum(np.arange(width), designs - 1)]  # the last block repeats its last lane
    totals, monthly = np.empty((len(year_start) - 1, len(column_blocks.TOTALS), width)), np.empty((12, width))
    columns, last = np.ascontiguousarray(par, dtype=float), np.array(stores, dtype=float)
    loop = compiled(column_blocks.totals_loop)
    rain = as_read(liquid, float)
    weather = (
        rain,
        as_read(e0, float),
        as_read(np.zeros_like(rain) if run_on is None else run_on, float),
        as_read(other, float),
        as_read(warm, float),
        as_read(month, np.int64),
        as_read(event_limit, float),
        as_read(year_start, np.int64),
        float(tolerance),
    )

    def work(piece: slice) -> None:
        loop(*weather, columns, places, piece.start, -(-piece.stop // LANES) * LANES, last, totals, monthly)

    share_out(work, designs, LANES)
    return _in_order_given(totals, order), _in_order_given(monthly, order), last


def _in_order_given(sorted_values: np.ndarray, order: np.ndarray) -> np.ndarray:
    """Give designs, the last dimension, the places they had before `order` sorted them."""
    place = np.empty(order.size, dtype=np.int64)
    place[order] = np.arange(order.size)
    if sorted_values.size < _SHARED_OUT:
        return np.take(sorted_values, place, axis=-1)
    given = np.empty((*sorted_values.shape[:-1], order.size))
    rows, target = sorted_values.reshape(-1, sorted_values.shape[-1]), given.reshape(-1, order.size)

    def work(piece: slice) -> None:
        np.take(
            rows[piece], place, axis=-1, out=target[piece], mode="clip"
        )  # the other modes copy what they give first

    share_out(work, len(rows), 1)
    return given


def _alike(par: np.ndarray) -> np.ndarray:
    """Return the order of designs in which those that drain alike come together, and among them those that dry out alike."""
    at = dict(zip(column.PARAMETERS, par, strict=True))
    steepness = at["least_level"] * at["tested_slope"]
    carried = at["in_plane_limit"] * np.where(at["in_plane_linear"] > 0.0, steepness, np.sqrt(steepness))
    drained = np.minimum(np.minimum(carried, at["outlet_limit"]), at["fleece_limit"])
    return np.lexsort((at["dry_limit"], np.minimum(drained, _DRAINS_FREELY_MM)))
