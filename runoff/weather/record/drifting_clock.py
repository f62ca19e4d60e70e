"""Amounts of a logger whose clock drifts or was set, brought to regular steps without losing any."""

from __future__ import annotations

import numpy as np
import pandas as pd

from runoff.weather.record.time_axis import step_of


def on_regular_steps(amounts: pd.Series, step: pd.Timedelta | None = None) -> pd.Series:
    """Share amounts out on steps that divide the day evenly, by the time they overlap.

    Parameters
    ----------
    amounts
        Amount of each step (a depth or a volume, never a rate) at its start, in order; missing where not known.
    step
        Step of the result; default the most frequent one.

    Returns
    -------
    pandas.Series
        Amounts in the unit given, from the first to the last whole or begun step. The sum of what is known is kept where nothing is missing beside
        it; a step of which a part is missing is missing.

    Notes
    -----
    Each amount is spread evenly from its stamp to the next. Where the next comes within two steps that is a clock that
    drifted or was set; a longer way is a gap, and the amount fills one step of it.

    Examples
    --------
    >>> stamps = pd.to_datetime(["2024-05-01 00:03", "2024-05-01 00:08", "2024-05-01 00:13"])
    >>> on_regular_steps(pd.Series([0.0, 5.0, 0.0], stamps)).tolist()[1:3]
    [2.0, 3.0]
    """
    index = pd.DatetimeIndex(amounts.index).as_unit("ns")
    pace = step_of(index) if step is None else step
    nanoseconds = pace.value
    begin = index.asi8
    if amounts.empty or ((np.diff(begin) == nanoseconds).all() and begin[0] % nanoseconds == 0):
        return amounts
    reach = np.append(np.diff(begin), nanoseconds)
    end = begin + np.where(reach <= 2 * nanoseconds, reach, nanoseconds)
    known = np.isfinite(amounts.to_numpy(dtype=float))
    edges = np.arange(begin[0] // nanoseconds, -(-end[-1] // nanoseconds) + 1) * nanoseconds
    sums = _between(edges, begin, end, np.where(known, amounts.to_numpy(dtype=float), 0.0))
    time_known = _between(edges, begin, end, np.where(known, (end - begin).astype(float), 0.0))
    sums[time_known < nanoseconds * (1.0 - 1e-9)] = np.nan
    return pd.Series(sums, index=pd.DatetimeIndex(edges[:-1], name=amounts.index.name), name=amounts.name)


def _between(edges: np.ndarray, begin: np.ndarray, end: np.ndarray, amounts: np.ndarray) -> np.ndarray:
    """Return what falls between edges, each amount spread evenly over its own time."""
    moments = np.column_stack([begin, end]).ravel()
    after = np.cumsum(amounts)
    reached = np.column_stack([after - amounts, after]).ravel()
    first = edges[0]  # times since the first edge fit a float without rounding
    return np.diff(np.interp((edges - first).astype(float), (moments - first).astype(float), reached))


def daily_sums(amounts: pd.Series) -> pd.Series:
    """Return sums of whole days; a day with a missing step is missing, and so are days begun or broken off.

    Parameters
    ----------
    amounts
        As in `on_regular_steps`, at steps of a day or shorter.
    """
    steps = on_regular_steps(amounts)
    each_day = steps.groupby(pd.DatetimeIndex(steps.index).normalize())
    whole = round(pd.Timedelta("1D") / step_of(steps.index))
    return each_day.sum().where(each_day.count() == whole).asfreq("1D")
