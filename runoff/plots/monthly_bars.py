"""Where the rain of each month goes: evapotranspiration, overflow, and what is put by or taken from the stores."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from runoff.plots.runs import STORES, one_run
from runoff.plots.style import BLUE, GREEN, INK, ORANGE, SKY, DescribedFigure, new_figure, styled
from runoff.plots.wording import invented_note
from runoff.saying.dates import MONTHS
from runoff.saying.numbers import share
from runoff.saying.scales import Units
from runoff.time_steps import time_step


def monthly_balance(run: xr.Dataset) -> xr.Dataset:
    """Return the mean water balance of each month of the year, mm.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof and site.

    Returns
    -------
    xarray.Dataset
        ``rain``, ``evapotranspiration``, ``overflow`` and ``storage_change`` (mm per month) on ``month`` 1-12; a month
        that the record does not hold is missing. Part months count by their days.

    Notes
    -----
    The change of storage is taken from the stores themselves. The state before the first step is not part of a run;
    for that one step the change follows from the balance, which `simulate` has checked.
    """
    stored = sum((run[name] for name in list(STORES)[1:]), run["snow_water"])
    first = (run["rain"] - run["evapotranspiration"] - run["overflow"]).isel(time=[0])
    change = xr.concat([first, stored.diff("time")], "time")
    parts = {
        "rain": run["rain"],
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


@styled
def monthly_balance_figure(run: xr.Dataset, *, units: str = "si") -> DescribedFigure:
    """Draw the mean monthly balance: rain = evapotranspiration + overflow + change of storage.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof and site.
    units
        ``"si"`` (mm) or ``"us"`` (in).

    Returns
    -------
    DescribedFigure
        Per month a bar of rain beside a stack of what became of it. Water taken out of the stores stands below zero, so
        that the stack less what is below zero equals the rain.
    """
    shown = Units(units)
    balance = monthly_balance(one_run(run, "monthly_balance_figure"))
    parts = {name: shown.show(balance[name].to_numpy(), "mm") for name in balance}
    figure = new_figure(4.4)
    axes = figure.subplots()
    month, width = np.arange(12.0), 0.38
    edge: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.6}
    axes.bar(month - 0.02, parts["rain"], -width, align="edge", color=SKY, label="rain", **edge)
    right: dict[str, Any] = {"width": width, "align": "edge", **edge}
    evaporated, overflow, change = parts["evapotranspiration"], parts["overflow"], parts["storage_change"]
    gained, taken = np.maximum(change, 0.0), np.minimum(change, 0.0)
    axes.bar(month + 0.02, evaporated, color=GREEN, hatch="///", label="evapotranspiration", **right)
    axes.bar(month + 0.02, overflow, bottom=evaporated, color=BLUE, label="overflow", **right)
    axes.bar(
        month + 0.02, gained, bottom=evaporated + overflow, color=ORANGE, hatch="xxx",
        label="change in storage (below zero: drawn down)", **right,
    )  # fmt: skip
    axes.bar(month + 0.02, taken, color=ORANGE, hatch="xxx", **right)
    axes.axhline(0.0, color=INK, lw=0.9)
    axes.set_xticks(month, [name[:3] for name in MONTHS])
    axes.tick_params(axis="x", length=0)
    axes.set_xlim(-0.6, 11.6)
    axes.set_xlabel("month (means over the record)")
    axes.set_ylabel(f"planted area, {shown.name('mm')} a month")
    axes.legend(
        loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=4, columnspacing=1.2, handlelength=1.6, borderaxespad=0.2
    )
    axes.set_title(f"Monthly water balance{invented_note(run.attrs)}", pad=28)
    figure.description = _sentence(balance, shown, run.attrs)
    return figure


def _sentence(balance: xr.Dataset, shown: Units, attrs: dict[Any, Any]) -> str:
    held = balance.dropna("month")
    kept = (1.0 - held["overflow"] / held["rain"].where(held["rain"] > 0)).dropna("month")
    whole = "a mean year" if held.sizes["month"] == 12 else f"the {held.sizes['month']} months of the record"
    rain, evaporated, overflow = (float(held[name].sum()) for name in ("rain", "evapotranspiration", "overflow"))
    text = (
        f"In {whole}{invented_note(attrs)} {shown.say(rain, 'mm', 3)} of rain fell, {shown.say(evaporated, 'mm', 3)} went "
        f"back to the air and {shown.say(overflow, 'mm', 3)} left as overflow"
    )
    if kept.size < 2:
        return f"{text}."
    best, worst = (
        int(kept["month"][int(np.argmax(kept.to_numpy()))]),
        int(kept["month"][int(np.argmin(kept.to_numpy()))]),
    )
    largest = f"{text}; the share that did not run off was largest in {MONTHS[best - 1]} ({share(float(kept.max()))})"
    melting = kept["month"].to_numpy()[kept.to_numpy() < 0.0]
    if melting.size:  # a share below nothing says nothing: what left fell in another month
        names = " and ".join(MONTHS[int(month) - 1] for month in melting)
        return f"{largest}; in {names} more ran off than fell, as melting snow and water stored before ran off."
    return f"{largest} and smallest in {MONTHS[worst - 1]} ({share(float(kept.min()))})."
