"""A slider for the depth of the medium: how much air is left in garden soil and in a mineral mix after draining."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from runoff.plots import quick_png_bytes
from runoff.plots.on_a_page import picture_html, publish_controls
from runoff.plots.style import DescribedFigure, styled
from runoff.saying.scales import say
from runoff.teaching.cuts import draw_air
from runoff.teaching.exercises import air_after_draining
from runoff.teaching.scenes import MEDIA


class AirDepths:
    """One slider, two bars: the air left in both media after free drainage.

    Parameters
    ----------
    units
        ``"si"`` or ``"us"``.
    """

    def __init__(self, *, units: str = "si") -> None:
        self._units = units
        self.depth = widgets.IntSlider(
            value=80, min=20, max=1000, step=20, description="Depth, mm", style={"description_width": "initial"}, layout=widgets.Layout(width="34em"),
        )  # fmt: skip
        self.picture = widgets.HTML()
        self.depth.observe(self._draw, names="value")
        self._draw()

    def _draw(self, _change: Any = None) -> None:
        figure = depth_figure(float(self.depth.value), units=self._units)
        self.described, self.png = figure.description, quick_png_bytes(figure, dpi=90)
        self.picture.value = picture_html(self.png, self.described)

    def view(self) -> widgets.Widget:
        """Return the whole as one widget."""
        box = widgets.VBox([self.depth, self.picture])
        box.add_class("runoff-lesson")
        return box

    def _ipython_display_(self) -> None:
        publish_controls(self.view(), self.described, self.png)


@styled
def depth_figure(depth_mm: float, *, units: str = "si") -> DescribedFigure:
    """Draw the air left in both media at one depth."""
    figure = DescribedFigure(figsize=(7.2, 1.5), layout="none")
    told = []
    for number, medium in enumerate(MEDIA):
        air = air_after_draining(medium, depth_mm)
        low = 0.55 - 0.45 * number
        figure.text(0.01, low + 0.1, f"{medium}: {100 * air:.0f} % air", size=11)
        draw_air(figure.add_axes((0.36, low, 0.62, 0.3)), air)
        told.append(f"{medium} {100 * air:.0f} % air")
    figure.description = f"{say(depth_mm, 'mm', 'layer depth', units)} deep, drained freely: {', '.join(told)}; roots need about 10 % (dashed)."
    return figure
