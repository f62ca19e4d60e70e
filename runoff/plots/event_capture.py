"""What a roof keeps of one rain event, from a dry start to the wettest days before rain."""

from __future__ import annotations

from typing import Any

import xarray as xr

from runoff.errors import RunoffError
from runoff.plots.style import BLUE, INK, SKY, DescribedFigure, new_figure, styled
from runoff.plots.wording import invented_note
from runoff.saying.scales import Units


@styled
def event_capture_figure(figures: xr.Dataset, *, units: str = "si") -> DescribedFigure:
    """Draw capture against the rain of the event: one typical start, a band of wetter and drier ones, and a dry roof.

    Parameters
    ----------
    figures
        What `runoff.write_dossier` returned: ``event_depth_mm`` on ``event`` and ``event_capture_mm`` on ``event`` and
        ``start``.
    units
        ``"si"`` (mm) or ``"us"`` (in).

    Returns
    -------
    DescribedFigure
        Its sentence tells the largest event.

    Raises
    ------
    RunoffError
        When the figures hold no events.
    """
    if not {"event_depth_mm", "event_capture_mm"} <= set(figures.data_vars):
        raise RunoffError("event_capture_figure: the figures hold no events; give what runoff.write_dossier returned")
    shown = Units(units)
    order = figures["event_depth_mm"].argsort().to_numpy()
    rain_mm = figures["event_depth_mm"].isel(event=order)
    kept_mm = figures["event_capture_mm"].isel(event=order)
    rain = shown.show(rain_mm.to_numpy(), "mm")

    def kept(start: str) -> Any:
        return shown.show(kept_mm.sel(start=start).to_numpy(), "mm")

    figure = new_figure(3.6)
    axes = figure.subplots()
    wet, dry = kept("before-95"), kept("before-5")
    axes.fill_between(
        rain, wet, dry, color=SKY, alpha=0.5, lw=0.0, label="driest 5 % to wettest 5 % of days before rain"
    )
    axes.plot(rain, kept("before-50"), color=BLUE, marker="o", ms=5, lw=2.0, label="typical day before rain")
    axes.plot(rain, kept("dry"), color=INK, ls=(0, (5, 1.5)), lw=1.6, label="dry roof (up to its storage capacity)")
    axes.set_xlabel(f"rain of the event, {shown.name('mm')}")
    axes.set_ylabel(f"capture, {shown.name('mm')}")
    axes.set_xlim(left=0.0)
    axes.set_ylim(bottom=0.0)
    axes.set_title(f"Capture of one rain event{invented_note(figures.attrs)}")
    axes.legend(loc="upper left")
    one = kept_mm.isel(event=-1)
    typical, driest, wettest = (float(one.sel(start=start)) for start in ("before-50", "dry", "before-95"))
    figure.description = (
        f"Of {shown.say(float(rain_mm[-1]), 'mm', 3)} of rain the planted area keeps {shown.say(typical, 'mm', 3)} on a typical "
        f"day before rain, {shown.say(driest, 'mm', 3)} when dry and {shown.say(wettest, 'mm', 3)} at its wettest"
        f"{invented_note(figures.attrs)}."
    )
    return figure
