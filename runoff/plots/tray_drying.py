"""How a tray on the scales dried: its readings on the fitted curve, and what is left between the two."""

from __future__ import annotations

from typing import TYPE_CHECKING

import matplotlib.dates as mdates
import numpy as np
import pandas as pd

from runoff.plots.style import BLUE, INK, ORANGE, SKY, SOFT, VERMILION, DescribedFigure, new_figure, styled
from runoff.saying.scales import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from runoff.calibration import TrayFit


@styled
def tray_drying_figure(fit: TrayFit, *, invented: bool = False, units: str = "si") -> DescribedFigure:
    """Draw a tray test.

    Parameters
    ----------
    fit
        What `runoff.calibration.fit_tray` returned.
    invented
        Whether the weighings are invented; the title says so.
    units
        ``"si"`` (mm) or ``"us"`` (in).

    Returns
    -------
    DescribedFigure
        Above, the water of the tray: readings, the fitted curve, the band in which nine readings of ten should lie, field
        capacity and wilting point, and what was given. Below, readings less curve. Readings that the fit cannot explain
        have a mark of their own.

    Raises
    ------
    RunoffError
        For units that are neither.
    """
    shown = Units(units)
    water = fit.water
    days = water.index
    depth = {name: shown.show(water[name].to_numpy(), "mm") for name in ("read", "modelled", "low", "high", "given")}
    odd = [at for at, _ in (*fit.explanation.jumps, *fit.explanation.slips)]
    figure = new_figure(6.4)
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(2.4, 1.0))
    above.fill_between(days, depth["low"], depth["high"], color=SKY, alpha=0.45, lw=0, label="nine readings of ten")
    above.plot(days, depth["modelled"], color=BLUE, label="fitted curve")
    above.plot(days, depth["read"], "o", color=INK, ms=4, label="reading")
    for name, value, side in (("field capacity", fit.field_capacity, 1), ("wilting point", fit.wilting_point, -1)):
        level = float(shown.show(value * fit.depth_mm, "mm"))
        above.axhline(level, color=SOFT, lw=1.0, ls="--")
        above.annotate(
            f"{name} {value:.2f}", (1.0, level), xycoords=("axes fraction", "data"), xytext=(0, 3 * side),
            textcoords="offset points", ha="right", va="bottom" if side > 0 else "top", color=SOFT, fontsize=9,
        )  # fmt: skip
    _mark_given(above, days, depth["given"])
    left = depth["read"] - depth["modelled"]
    half = (depth["high"] - depth["low"]) / 2.0
    below.fill_between(days, -half, half, color=SKY, alpha=0.45, lw=0)
    below.axhline(0.0, color=BLUE, lw=1.2)
    below.vlines(days, 0.0, left, color=SOFT, lw=0.8)
    below.plot(days, left, "o", color=INK, ms=3.5)
    if odd:
        for axes, values in ((above, depth["read"]), (below, left)):
            label = "not explained by drying" if axes is above else None
            axes.plot(days[odd], values[odd], "D", mfc="none", mec=VERMILION, mew=1.6, ms=10, label=label)
    top = float(np.nanmax([depth["read"], depth["high"]]))
    above.set(ylim=(0.0, 1.12 * top), ylabel=f"water in the tray, {shown.name('mm')}")
    below.set_ylabel(f"reading less\ncurve, {shown.name('mm')}")
    below.margins(y=0.15)
    if isinstance(days, pd.DatetimeIndex):
        locator = mdates.AutoDateLocator(minticks=4, maxticks=9)
        below.xaxis.set_major_locator(locator)
        below.xaxis.set_major_formatter(mdates.ConciseDateFormatter(locator))
    else:
        below.set_xlabel("day")
    # five entries are wider than the figure
    above.legend(
        loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=3 if odd else 4, borderaxespad=0.2, columnspacing=1.2
    )
    above.set_title(f"A tray on the scales{' (invented weighings)' if invented else ''}", pad=42 if odd else 26)
    figure.description = _sentence(fit, shown)
    return figure


def _mark_given(axes: Axes, days: pd.Index, given: np.ndarray) -> None:
    """Mark the days on which water was given, at the foot of the axes."""
    wet = np.flatnonzero(given > 0)
    if wet.size:
        axes.plot(days[wet], np.zeros(wet.size), "^", color=ORANGE, mec=INK, mew=0.5, ms=8, clip_on=False, zorder=4, label="water given")  # fmt: skip


def _sentence(fit: TrayFit, shown: Units) -> str:
    words = (
        f"{fit.readings} readings fall from {shown.say(float(fit.water['read'].max()), 'mm')} of water to "
        f"{shown.say(float(fit.water['read'].min()), 'mm')}; the fitted curve lies {shown.say(fit.rmse_mm, 'mm')} from them (root "
        f"mean square) and gives the medium {shown.say(fit.usable_water_mm, 'mm')} of plant-available water"
    )
    odd = len(fit.explanation.jumps) + len(fit.explanation.slips)
    if odd:
        words += f". {'One reading is' if odd == 1 else f'{odd} readings are'} not explained by drying"
    return f"{words}."
