"""Measured beside modelled overflow: by days, by months and over the record.

The table is that of a fit: on time, ``observed``, ``described`` (the roof as described) and ``fitted`` (mm per step), and the
``part`` of the fit that a step belongs to.
"""

from __future__ import annotations

import pandas as pd

#: Columns of depths, mm.
COMPARED = ("observed", "described", "fitted")


def days_with_reading(series: pd.DataFrame, step_hours: float) -> pd.DataFrame:
    """Return the overflow of each day with a reading of all its steps.

    Parameters
    ----------
    series
        The table of a fit, mm per step.
    step_hours
        Length of a step, h.

    Returns
    -------
    pandas.DataFrame
        ``observed``, ``described``, ``fitted`` (mm per day) and ``part`` on the days. A day with a step without a reading
        is left out, for the models too.
    """
    days = series
    if step_hours != 24.0:
        each = series.groupby(pd.DatetimeIndex(series.index).floor("D"))
        whole = each["observed"].count() == round(24.0 / step_hours)
        days = each[list(COMPARED)].sum().where(whole).assign(part=each["part"].first())
    return days.dropna(subset=["observed"])


def overflow_by_month(days: pd.DataFrame) -> pd.DataFrame:
    """Return the sums of ``observed``, ``described`` and ``fitted`` (mm) of each calendar month.

    Parameters
    ----------
    days
        From `days_with_reading`.

    Returns
    -------
    pandas.DataFrame
        On months; of a month without all its readings, only the days with one.
    """
    return days[list(COMPARED)].groupby(pd.DatetimeIndex(days.index).to_period("M")).sum()


def overflow_of_record(days: pd.DataFrame) -> dict[str, float]:
    """Return the sums of ``observed``, ``described`` and ``fitted``, mm, over all days with a reading.

    Parameters
    ----------
    days
        From `days_with_reading`.
    """
    return {name: float(days[name].sum()) for name in COMPARED}
