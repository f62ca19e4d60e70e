"""Where the rain of each month goes: evapotranspiration, overflow, and what is put by or taken from the stores."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from runoff.findings.monthly import RecordWater, water_of_record
from runoff.findings.monthly import monthly_balance as monthly_balance
from runoff.plots.runs import ARRIVING, one_run
from runoff.plots.style import BLUE, GREEN, INK, ORANGE, PALE, PURPLE, SKY, DescribedFigure, new_figure, styled
from runoff.plots.wording import invented_note
from runoff.saying.dates import MONTHS
from runoff.saying.numbers import share
from runoff.saying.scales import Units

_LOOKS: dict[str, tuple[str, str | None]] = {
    "rain": (SKY, None),
    "run_on": (PURPLE, "\\\\\\"),
    "irrigation": (PALE, "..."),
}


@styled
def monthly_balance_figure(run: xr.Dataset, *, units: str = "si") -> DescribedFigure:
    """Draw the mean monthly balance: rain, run-on and watering = evapotranspiration + overflow + change of storage.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof and site.
    units
        ``"si"`` (mm) or ``"us"`` (in).

    Returns
    -------
    DescribedFigure
        Per month a bar of rain, run-on and watering upon it, beside a stack of what became of them. Water taken out of the
        stores stands below zero, so that the stack less what is below zero equals what arrived.
    """
    shown = Units(units)
    balance = monthly_balance(one_run(run, "monthly_balance_figure"))
    arriving = {words: name for words, name in ARRIVING.items() if name == "rain" or bool((balance[name] > 0).any())}
    parts = {name: shown.show(balance[name].to_numpy(), "mm") for name in balance}
    figure = new_figure(4.4)
    axes = figure.subplots()
    month, width = np.arange(12.0), 0.38
    edge: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.6}
    foot = np.zeros(12)
    for words, name in arriving.items():
        color, hatch = _LOOKS[name]
        left: dict[str, Any] = {"align": "edge", "color": color, "hatch": hatch, "label": words, **edge}
        axes.bar(month - 0.02, parts[name], -width, bottom=foot, **left)
        foot = foot + parts[name]
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
        loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=4 if len(arriving) == 1 else 3, columnspacing=1.2,
        handlelength=1.6, borderaxespad=0.2,
    )  # fmt: skip
    axes.set_title(f"Monthly water balance{invented_note(run.attrs)}", pad=28 if len(arriving) == 1 else 46)
    figure.description = _sentence(water_of_record(run), shown, run.attrs)
    return figure


def _sentence(water: RecordWater, shown: Units, attrs: dict[Any, Any]) -> str:
    def said(depth_mm: float) -> str:
        return shown.say(depth_mm, "mm", 3)

    whole = (
        "a mean year"
        if water.months == 12
        else "the month of the record"
        if water.months == 1
        else f"the {water.months} months of the record"
    )
    came = [f"{said(water.rain_mm)} of rain fell"]
    came += [f"{said(water.run_on_mm)} ran on from outside"] if water.run_on_mm > 0 else []
    came += [f"{said(water.irrigation_mm)} were given by watering"] if water.irrigation_mm > 0 else []
    text = (
        f"In {whole}{invented_note(attrs)} {', '.join(came)}, {said(water.evapotranspiration_mm)} went back to the air and "
        f"{said(water.overflow_mm)} left as overflow"
    )
    kept = water.retention_by_month
    if kept.size < 2:
        return f"{text}."
    best, worst = (MONTHS[int(month) - 1] for month in (kept.idxmax("month"), kept.idxmin("month")))
    largest = f"{text}; retention was largest in {best} ({share(float(kept.max()))})"
    melting = kept["month"].to_numpy()[kept.to_numpy() < 0.0]
    if melting.size:  # a share below nothing says nothing: what left fell in another month
        names = " and ".join(MONTHS[int(month) - 1] for month in melting)
        other = (
            "melting snow, water stored before or watering"
            if water.irrigation_mm > 0
            else "melting snow and water stored before"
        )
        return f"{largest}; in {names} more ran off than fell, as {other} ran off."
    return f"{largest} and smallest in {worst} ({share(float(kept.min()))})."
