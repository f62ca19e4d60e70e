"""Totals of many designs under one daily record: the block loop of the column, shared out over the cores."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from runoff.balance import column, column_blocks
from runoff.balance.block_lanes import TOTALS, WORK
from runoff.balance.column_blocks import LANES
from runoff.balance.loop_choice import as_read, compiled
from runoff.balance.sharing_out import share_out
from runoff.balance.vector_width import zeros_for_vectors

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
    *,
    before: Sequence[Sequence[np.ndarray | None]] = (),
    each_year: bool = True,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Run `column_blocks.totals_loop` over any number of designs, on all cores.

    Parameters
    ----------
    liquid, e0, run_on, other, warm, month, event_limit, year_start, tolerance
        As in `column_blocks.days_of` and `column_blocks.totals_loop`.
    par
        Parameters, shape ``(parameter, design)`` in the order of `column.PARAMETERS`.
    stores
        Stores before the first day, mm, shape ``(len(column.STORES), design)``; left as they are.
    before
        Days to run through first, whose totals are not kept: of each stretch what is given here from `liquid` to `year_start`,
        mm per day and the like.
    each_year
        Whether the totals of each year are wanted, or of all years as if they were one: those of a few designs are then
        in work at a time, and stay in the caches.

    Returns
    -------
    totals
        Shape ``(year, len(block_lanes.TOTALS), design)``, or ``(1, len(block_lanes.TOTALS), design)``.
    monthly
        Overflow by month of the year, mm, shape ``(12, design)``.
    stores
        Stores after the last day, shape ``(len(column.STORES), design)``.

    Notes
    -----
    Designs are sorted by what they drain in a day before they are cut into blocks, since a block works as long as the
    slowest of its designs: in random order a few throttled roofs would double the time of all. The order is given back.
    """
    designs, years = par.shape[1], len(year_start) - 1
    order = _alike(par)
    # the last block repeats its last lane
    places = order[np.minimum(np.arange(-(-designs // LANES) * LANES), designs - 1)]
    columns, held = (np.asarray(one, dtype=float) for one in (par, stores))
    totals, monthly = np.empty((years if each_year else 1, len(TOTALS), designs)), np.empty((12, designs))
    last = np.empty((len(column.STORES), designs))
    loop = compiled(column_blocks.totals_loop)
    record = (liquid, e0, run_on, other, warm, month, event_limit, year_start)
    passes = [(*column_blocks.days_of(*one), as_read(one[-1], np.int64)) for one in (*before, record)]
    # a pass whose totals are not kept takes its years together
    kept = [1] * len(before) + [len(totals)]

    # work arrays for the slices that follow on the same core
    done_with: list[np.ndarray] = []

    def work(piece: slice) -> None:
        who = order[piece]
        blocks = slice(piece.start, piece.start + -(-who.size // LANES) * LANES)
        some, water = (one.take(places[blocks], axis=1) for one in (columns, held))
        try:
            w = done_with.pop()
        except IndexError:  # asked in one step, as another core may take what was there a moment ago
            w = zeros_for_vectors(len(WORK) * LANES)
        of_months = np.empty((12, some.shape[1]))
        for days, rows in zip(passes, kept, strict=True):
            found = np.empty((rows, len(TOTALS), some.shape[1]))
            loop(*days, float(tolerance), some, water, w, found, of_months)
        monthly[:, who], last[:, who] = of_months[:, : who.size], water[:, : who.size]
        totals[:, :, who] = found[:, :, : who.size]
        done_with.append(w)

    share_out(work, designs, LANES)
    return totals, monthly, last


def _alike(par: np.ndarray) -> np.ndarray:
    """Return the order of designs in which those that drain alike come together, and among them those that wet and dry alike.

    These are cut into classes of what the surface holds, and within a class go by what the medium holds: up and down by turns,
    so that neighbours at the edge of two classes are alike too.
    """
    at = dict(zip(column.PARAMETERS, par, strict=True))
    steepness = at["least_level"] * at["tested_slope"]
    carried = at["in_plane_limit"] * np.where(at["in_plane_linear"] > 0.0, steepness, np.sqrt(steepness))
    drained = np.minimum(np.minimum(carried, at["outlet_limit"]), at["fleece_limit"])
    surface, medium = at["surface_capacity"], at["field_water"] - at["wilting_water"]
    classes = math.ceil(math.sqrt(surface.size / LANES))  # then blocks are about as narrow in one as in the other
    of_class = np.searchsorted(np.sort(surface), surface) * classes // surface.size
    return np.lexsort((np.where(of_class % 2, -medium, medium), of_class, np.minimum(drained, _DRAINS_FREELY_MM)))
