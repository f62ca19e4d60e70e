"""Totals of many designs under one daily record: the block loop of the column, shared out over the cores."""

from __future__ import annotations

import numpy as np

from runoff.balance import column
from runoff.balance.sharing_out import share_out


def run_totals(
    liquid: np.ndarray,
    e0: np.ndarray,
    other: np.ndarray,
    warm: np.ndarray,
    month: np.ndarray,
    event_start: np.ndarray,
    year_start: np.ndarray,
    tolerance: float,
    par: np.ndarray,
    stores: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Run `column.totals_loop` over any number of designs, on all cores.

    Returns
    -------
    totals
        Shape ``(year, len(column.TOTALS), design)``.
    monthly
        Overflow by month of the year, mm, shape ``(12, design)``.
    stores
        Stores after the last step, shape ``(len(column.STORES), design)``.
    """
    n, stored, summed = par.shape[1], len(column.STORES), (len(year_start) - 1, len(column.TOTALS))
    totals, monthly, last = np.empty((*summed, n)), np.empty((12, n)), np.empty((stored, n))
    loop = column.compiled("totals_loop")
    weather = (
        np.ascontiguousarray(liquid, dtype=float),
        np.ascontiguousarray(e0, dtype=float),
        np.ascontiguousarray(other, dtype=float),
        np.ascontiguousarray(warm, dtype=float),
        np.ascontiguousarray(month, dtype=np.int64),
        np.ascontiguousarray(event_start, dtype=bool),
        np.ascontiguousarray(year_start, dtype=np.int64),
        float(tolerance),
    )

    def work(piece: slice) -> None:
        count = piece.stop - piece.start
        padded = -(-count // column.LANES) * column.LANES
        lanes = np.minimum(np.arange(padded), count - 1) + piece.start  # the last block repeats its last lane
        kept = np.zeros((stored + len(column.COUNTERS), padded))
        kept[:stored] = stores[:, lanes]
        got, by_month = np.empty((*summed, padded)), np.empty((12, padded))
        loop(*weather, np.ascontiguousarray(par[:, lanes]), kept, got, by_month)
        totals[:, :, piece] = got[:, :, :count]
        monthly[:, piece] = by_month[:, :count]
        last[:, piece] = kept[:stored, :count]

    share_out(work, n, column.LANES)
    return totals, monthly, last
