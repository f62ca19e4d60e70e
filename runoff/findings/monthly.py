"""The water of a roof month by month, and what a record tells of its year."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from runoff.findings.summary import facts_from_totals
from runoff.findings.yearly import yearly_totals
from runoff.given_kinds import refuse_other_kinds
from runoff.time_steps import time_step

#: All stores of the planted area on `time`.
_STORES = (
    "snow_water", "surface_water", "pond_water", "medium_water", "cup_water", "mat_water", "board_water",
)  # fmt: skip


def monthly_balance(run: xr.Dataset) -> xr.Dataset:
    """Return the mean water balance of each month of the year, mm.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof and site.

    Returns
    -------
    xarray.Dataset
        ``rain``, ``run_on`` and ``irrigation`` (0 where there is none), ``evapotranspiration``, ``overflow`` and
        ``storage_change`` (mm per month) on ``month`` 1-12; a month that the record does not hold is missing. Part months
        count by their days.

    Raises
    ------
    RunoffError
        When `run` is no Dataset.

    Notes
    -----
    The change of storage is taken from the stores themselves. The state before the first step is not part of a run;
    for that one step the change follows from the balance, which `simulate` has checked.
    """
    refuse_other_kinds("monthly_balance", run=run)
    none = xr.zeros_like(run["rain"])
    run_on, irrigation = (run[name] if name in run else none for name in ("run_on", "irrigation"))
    arrived = run["rain"] + run_on + irrigation
    first: xr.DataArray = (arrived - run["evapotranspiration"] - run["overflow"]).isel(time=[0])
    stored = sum((run[name] for name in _STORES[1:]), run[_STORES[0]])
    change = xr.concat([first, stored.diff("time")], "time")
    parts = {
        "rain": run["rain"],
        "run_on": run_on,
        "irrigation": irrigation,
        "evapotranspiration": run["evapotranspiration"],
        "overflow": run["overflow"],
        "storage_change": change,
    }
    month = run["time"].dt.month
    per_day = time_step(run["time"]).hours / 24.0
    months_held = (per_day / run["time"].dt.days_in_month).groupby(month).sum("time")
    balance = xr.Dataset({name: values.groupby(month).sum("time") / months_held for name, values in parts.items()})
    for name in balance:
        balance[name].attrs = {"units": "mm", "long_name": str(name).replace("_", " ")}
    return balance.reindex(month=np.arange(1, 13))


class RecordWater(NamedTuple):
    """What came and went in the mean year of a record, or in all of a record without every month of the year.

    Parameters
    ----------
    months
        Months of the year of which the record holds a day, 1 to 12; from 12 on the depths are those of the mean year.
    rain_mm, run_on_mm, irrigation_mm, evapotranspiration_mm, overflow_mm
        Depths over the planted area, mm.
    retention_by_month
        That of `runoff.summarize`, 0-1 on ``month``; a month without rain or run-on is left out.
    """

    months: int
    rain_mm: float
    run_on_mm: float
    irrigation_mm: float
    evapotranspiration_mm: float
    overflow_mm: float
    retention_by_month: xr.DataArray


def water_of_record(run: xr.Dataset) -> RecordWater:
    """Return what came and went in the mean year of a run, and the retention of its months.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof and site.

    Returns
    -------
    RecordWater
        The annual figures of `runoff.summarize`; the sums of the record, mm, where it lacks a month of the year.

    Raises
    ------
    RunoffError
        When `run` is no Dataset.
    """
    refuse_other_kinds("water_of_record", run=run)
    totals = yearly_totals(run)
    facts = facts_from_totals(totals)
    months = int(totals["rain_by_month"].notnull().sum())
    years = float(totals["years"])
    length = 1.0 if months == 12 else years

    def yearly(name: str) -> float:
        return float(totals[name].sum()) / years if name in totals else 0.0

    return RecordWater(
        months=months,
        rain_mm=length * float(facts["annual_rain"]),
        run_on_mm=length * yearly("run_on"),
        irrigation_mm=length * yearly("irrigation"),
        evapotranspiration_mm=length * float(facts["annual_evapotranspiration"]),
        overflow_mm=length * float(facts["annual_overflow"]),
        retention_by_month=facts["retention_by_month"].dropna("month"),
    )
