"""Some courses of many roofs in minutes, and their last stores, without keeping their traces.

A trace is worked out in one place for one roof after the other by the loop of one roof, so thousands of roofs need the memory
of what is kept of them, and every number is that of `runoff.balance.minutes.run_trace` to the last bit. A loop over blocks of
roofs side by side took 2 to 5 times less for the steps themselves, but those are about half of what sizing outlets or a
sweep costs, and it took half a minute to compile: there is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from runoff.balance import minute_steps as steps
from runoff.balance.loop_choice import pick
from runoff.balance.minutes import IN_DAY_STEPS, MinuteColumns, read_by, run_design, weather_of
from runoff.balance.sharing_out import share_out

#: So many substeps in all are worth sharing out over the cores (about a tenth of a second), in slices of so many designs.
_SHARED_OUT, _SLICE = 1_000_000, 8
#: Where a trace holds what leaves a column.
_LEAVES = [steps.TRACE.index(name) for name in ("drained", "spilled", "evapotranspiration")]
_PART_OF_ANOTHER = steps.STORES.index("mobile_bypass")


class Courses(NamedTuple):
    """What was kept of many runs.

    Parameters
    ----------
    kept
        Courses by the names of `minute_steps.TRACE`, shape ``(design, time)``.
    stores
        Stores after the last step, mm, shape ``(store, design)``.
    open_mm
        By how much the balance of a whole run is open, mm, shape ``(design,)``: rounding.
    """

    kept: dict[str, np.ndarray]
    stores: np.ndarray
    open_mm: np.ndarray


def run_courses(
    liquid: np.ndarray,
    e0: np.ndarray,
    columns: MinuteColumns,
    stores: np.ndarray,
    keep: Sequence[str],
    *,
    run_on: np.ndarray | None = None,
) -> Courses:
    """Run all designs, on all cores where there is much to do, and keep some courses of each.

    Designs that are alike to the last bit are run once.

    Parameters
    ----------
    liquid, e0
        Rain plus melt, and reference evapotranspiration (0 under snow and frost), mm per step, shape ``(time,)``, or
        ``(design, time)``.
    columns
        From `minutes.planted_columns` or `minutes.bare_columns`.
    stores
        Stores before the first step, mm, shape ``(store, design)``; left as they are.
    keep
        Names of `minute_steps.TRACE`; none where the last stores are all that is asked for.
    run_on
        Water that joins the free water on the deck directly, mm per step, shaped like `liquid`; none by default.

    Returns
    -------
    Courses
        To the last bit what `minutes.run_trace` gives for each design; missing where an input is missing.

    Raises
    ------
    RunoffError
        When the series are not of one length.
    """
    count = columns.parameters.shape[1]
    given = [liquid, e0, np.zeros(np.shape(liquid)) if run_on is None else run_on]
    shared = all(np.ndim(one) == 1 for one in given)
    of_each = (
        [given]
        if shared
        else list(zip(*(np.broadcast_to(one, (count, np.shape(one)[-1])) for one in given), strict=True))
    )
    weathers = [weather_of(*one) for one in of_each]
    which, first = _alike(columns, stores, [] if shared else weathers)
    n = weathers[0][0].size
    work_to_do = first.size * n * columns.substeps
    loop = pick(steps.trace_loop, IN_DAY_STEPS * work_to_do)
    rows = [steps.TRACE.index(name) for name in keep]
    kept, open_mm = np.empty((len(rows), first.size, n)), np.empty(first.size)
    last = np.array(
        stores[:, first], dtype=float, order="F"
    )  # the stores of a design side by side, as the loop writes them
    numbers, laws = columns.parameters[:, first].T.tolist(), np.ascontiguousarray(columns.laws[:, first].T)
    arrived = [float(np.sum(liquid) + np.sum(run_on)) for liquid, _, run_on in weathers]

    def work(piece: slice) -> None:
        traced = np.empty((len(steps.TRACE), n))
        for i in range(piece.start, piece.stop):
            at = 0 if shared else first[i]
            liquid, e0, run_on = weathers[at]
            state, before = last[:, i], _water(last[:, i])
            run_design(loop, read_by(loop, liquid, run_on, e0), columns, (numbers[i], laws[i]), state, traced)
            open_mm[i] = arrived[at] + before - traced[_LEAVES].sum() - _water(state)
            kept[:, i] = traced[rows]

    if work_to_do < _SHARED_OUT or loop is steps.trace_loop:
        work(slice(0, first.size))
    else:
        share_out(work, first.size, _SLICE)
    missing = np.array([np.isnan(sum(np.sum(one) for one in of)) for of in weathers])
    missing = np.broadcast_to(missing, (count,)) | np.isnan(np.sum(stores, axis=0))
    courses = kept if first.size == count else kept[:, which]
    found = Courses(dict(zip(keep, courses, strict=True)), last[:, which], open_mm[which])
    courses[:, missing], found.stores[:, missing], found.open_mm[missing] = np.nan, np.nan, np.nan
    return found


def _alike(
    columns: MinuteColumns, stores: np.ndarray, weathers: Sequence[Sequence[np.ndarray]]
) -> tuple[np.ndarray, np.ndarray]:
    """Find the designs that are alike to the last bit.

    Parameters
    ----------
    columns, stores
        As in `run_courses`.
    weathers
        Series of each design, mm per step; none where all share them.

    Returns
    -------
    which, first
        The run of each design, shape ``(design,)``, and the first design of each run, shape ``(run,)``.
    """
    own = np.ascontiguousarray(np.concatenate([columns.parameters, columns.laws, stores]).T, dtype=float)
    keys = [one.tobytes() for one in own]
    if weathers:
        keys = [b"".join((key, *(series.tobytes() for series in of))) for key, of in zip(keys, weathers, strict=True)]
    first = {key: i for i, key in reversed(list(enumerate(keys)))}
    run_of = {i: number for number, i in enumerate(sorted(first.values()))}
    return np.array([run_of[first[key]] for key in keys]), np.array(list(run_of))


def _water(stores: np.ndarray) -> float:
    """Return all water of a column, mm; the bypass in the mobile water is part of it."""
    return float(stores.sum() - stores[_PART_OF_ANOTHER])
