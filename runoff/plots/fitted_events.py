"""How a fitted roof follows its measured overflow in minutes: peaks against peaks, and two events as they ran."""

from __future__ import annotations

from typing import TYPE_CHECKING

import matplotlib.dates as mdates
import numpy as np
import pandas as pd

from runoff.errors import RunoffError
from runoff.plots.style import BLUE, INK, ORANGE, SOFT, DescribedFigure, new_figure, styled
from runoff.saying.scales import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from runoff.calibration import RoofFit

_BEFORE, _AFTER = pd.Timedelta("3h"), pd.Timedelta("5h")


@styled
def fitted_events_figure(fit: RoofFit, *, invented: bool = False, units: str = "si") -> DescribedFigure:
    """Draw the events of a fit in minutes.

    Parameters
    ----------
    fit
        What `runoff.calibration.fit_roof` returned for a record at steps shorter than a day.
    invented
        Whether the measurement is invented; the title says so.
    units
        ``"si"`` (mm/h) or ``"us"`` (in/h).

    Returns
    -------
    DescribedFigure
        Above, each event's fitted peak against the measured one: on the line the two are equal; events held back from the fit
        have a mark of their own. Below, the overflow of the event with the highest measured peak of either part, as measured,
        as described and as fitted.

    Raises
    ------
    RunoffError
        When the fit was daily, or no event ran off.
    """
    if fit.events is None or fit.events.empty:
        raise RunoffError("fitted_events_figure: the fit has no events: it was made in days, or nothing ran off")
    shown = Units(units)
    parts = [part for part in ("fitting", "held back") if (fit.events["part"] == part).any()]
    figure = new_figure(7.4)
    grid = figure.add_gridspec(2, len(parts), height_ratios=(1.2, 1.0))
    above = figure.add_subplot(grid[0, :])
    peaks = {name: shown.show(fit.events[f"{name}_peak"].to_numpy(), "mm/h") for name in ("observed", "fitted")}
    top = 1.05 * max(float(np.max(one)) for one in peaks.values())
    above.plot([0.0, top], [0.0, top], color=INK, lw=0.9, label="equal")
    for part, mark, color in (("fitting", "o", BLUE), ("held back", "^", ORANGE)):
        of = (fit.events["part"] == part).to_numpy()
        if of.any():
            label = "event of the fit" if part == "fitting" else "event held back"
            above.plot(
                peaks["observed"][of], peaks["fitted"][of], mark, color=color, mec=INK, mew=0.4, ms=6, label=label
            )
    unit = shown.name("mm/h")
    above.set(xlim=(0.0, top), ylim=(0.0, top), xlabel=f"measured peak, {unit}", ylabel=f"fitted peak, {unit}")
    above.legend(loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=3, borderaxespad=0.2)
    above.set_title(f"Peaks of events{' (invented measurement)' if invented else ''}", pad=26)
    for at, part in enumerate(parts):
        axes = figure.add_subplot(grid[1, at])
        _draw_event(axes, fit, fit.events[fit.events["part"] == part], shown)
        axes.set_title(f"Highest peak {'of the fit' if part == 'fitting' else 'held back'}")
        if at == 0:
            axes.set_ylabel(f"overflow, {unit}")
        else:
            axes.legend(loc="upper right")
    if len(parts) == 1:
        axes.legend(loc="upper right")
    figure.description = _sentence(fit)
    return figure


def _draw_event(axes: Axes, fit: RoofFit, events: pd.DataFrame, shown: Units) -> None:
    peak = events["peak_time"].iloc[int(np.argmax(events["observed_peak"].to_numpy()))]
    part = fit.series.loc[peak - _BEFORE : peak + _AFTER]
    per_hour = part[["observed", "described", "fitted"]] / fit.step_hours
    for name, line, color, label in (
        ("observed", "-", INK, "measured"),
        ("described", ":", SOFT, "as described"),
        ("fitted", "--", BLUE, "as fitted"),
    ):
        axes.plot(part.index, shown.show(per_hour[name].to_numpy(), "mm/h"), line, color=color, label=label)
    axes.set_ylim(bottom=0.0)
    locator = mdates.AutoDateLocator(minticks=3, maxticks=6)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(mdates.ConciseDateFormatter(locator))


def _sentence(fit: RoofFit) -> str:
    assert fit.events is not None, "checked before"
    ratio = float((fit.events["fitted_peak"] / fit.events["observed_peak"]).median())
    lag = float(fit.events["fitted_lag_min"].median())
    when = "at the same time" if lag == 0 else f"{abs(lag):.0f} min {'later' if lag > 0 else 'earlier'}"
    return f"Over {len(fit.events)} events the fitted peak is {ratio:.2f} of the measured one in the median and comes {when} in the median."
