"""How a fitted roof follows its measured overflow: month by month, and day against day."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from runoff.findings.measured import COMPARED, days_with_reading, overflow_by_month, overflow_of_record
from runoff.plots.style import BLUE, INK, ORANGE, SKY, DescribedFigure, new_figure, styled
from runoff.saying.scales import Units

if TYPE_CHECKING:
    import pandas as pd

    from runoff.calibration import RoofFit


@styled
def fitted_overflow_figure(fit: RoofFit, *, invented: bool = False, units: str = "si") -> DescribedFigure:
    """Draw measured beside modelled overflow.

    Parameters
    ----------
    fit
        What `runoff.calibration.fit_roof` returned.
    invented
        Whether the measurement is invented; the title says so.
    units
        ``"si"`` (mm) or ``"us"`` (in).

    Returns
    -------
    DescribedFigure
        Above, the overflow of each month as measured, as described and as fitted, over the days with a reading. Below,
        each day's fitted overflow against the measured one: on the line the two are equal. Days held back from the fit
        have a mark of their own, since only they judge it.

    Raises
    ------
    RunoffError
        For units that are neither.
    """
    shown = Units(units)
    days = days_with_reading(fit.series, fit.step_hours)
    depths, monthly = (
        one[list(COMPARED)].apply(lambda column: shown.show(column, "mm")) for one in (days, overflow_by_month(days))
    )
    figure = new_figure(7.0)
    above, below = figure.subplots(2, 1, height_ratios=(1.0, 1.35))
    place = np.arange(len(monthly))
    above.bar(place, monthly["observed"], width=0.8, color=SKY, edgecolor=INK, linewidth=0.5, label="measured")
    above.plot(place, monthly["described"], "--", color=ORANGE, lw=1.6, marker="s", ms=3.5, label="roof as described")
    above.plot(place, monthly["fitted"], color=BLUE, lw=1.8, marker="o", ms=4, label="roof as fitted")
    every = max(1, len(place) // 12)
    above.set_xticks(place[::every], [str(month) for month in monthly.index[::every]], rotation=30, ha="right")
    above.set_ylabel(f"overflow, {shown.name('mm')} per month")
    above.legend(loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=3, borderaxespad=0.2)
    above.set_title(f"Measured and modelled overflow{' (invented measurement)' if invented else ''}", pad=28)
    top = 1.05 * max(float(depths.to_numpy().max()), 1e-9)
    below.plot([0.0, top], [0.0, top], color=INK, lw=0.9, label="equal")
    for part, mark, color in (("fitting", "o", BLUE), ("held back", "^", ORANGE)):
        one = depths[days["part"] == part]
        below.plot(one["observed"], one["fitted"], mark, color=color, ms=4.5, mec=INK, mew=0.4, label=f"day {part}" if part == "held back" else "day of the fit")  # fmt: skip
    below.set(xlim=(0.0, top), ylim=(0.0, top), xlabel=f"measured, {shown.name('mm')} per day", ylabel=f"fitted, {shown.name('mm')} per day")  # fmt: skip
    below.legend(loc="upper left")
    figure.description = _sentence(fit, days, shown)
    return figure


def _sentence(fit: RoofFit, days: pd.DataFrame, shown: Units) -> str:
    sums = {name: shown.say(depth, "mm", 3) for name, depth in overflow_of_record(days).items()}
    words = (
        f"Over {len(days)} days with a reading {sums['observed']} of overflow were measured; the roof as described gives "
        f"{sums['described']}, as fitted {sums['fitted']}"
    )
    held = fit.goodness.loc[fit.goodness.index.get_level_values("part") == "held back"]
    if held.empty:
        return f"{words}."
    error = shown.say(float(held.xs("fitted", level="roof")["rmse_mm"].iloc[0]), "mm", 2)
    return f"{words}. On the days held back from the fit a day is off by {error} (root mean square)."
