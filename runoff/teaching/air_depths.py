"""A slider for the depth of the medium: how much air is left in garden soil and in a mineral mix after draining."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from runoff.plots import png_bytes
from runoff.plots.on_a_page import publish_controls
from runoff.saying.scales import say
from runoff.teaching.cuts import draw_air
from runoff.teaching.exercises import air_after_draining
from runoff.teaching.pens import Sheet, as_figure, as_svg
from runoff.teaching.scenes import MEDIA

#: Width and height of the picture, inches.
_SIZE_IN = (7.2, 1.5)


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

    def _picture(self, sheet: Sheet) -> str:
        return _draw_air_at(sheet, float(self.depth.value), units=self._units)

    def _draw(self, _change: Any = None) -> None:
        self.picture.value, self.described = as_svg(self._picture, *_SIZE_IN)

    def view(self) -> widgets.Widget:
        """Return the whole as one widget."""
        box = widgets.VBox([self.depth, self.picture])
        box.add_class("runoff-lesson")
        return box

    def _ipython_display_(self) -> None:
        publish_controls(self.view(), self.described, png_bytes(as_figure(self._picture, *_SIZE_IN)))


def _draw_air_at(sheet: Sheet, depth_mm: float, *, units: str = "si") -> str:
    """Draw the air left in both media at one depth; return it in words."""
    told = []
    for number, medium in enumerate(MEDIA):
        air = air_after_draining(medium, depth_mm)
        low = 0.55 - 0.45 * number
        sheet.window(0.0, 0.0, 1.0, 1.0).words(0.01, low + 0.1, f"{medium}: {100 * air:.0f} % air", 11.0)
        draw_air(sheet.window(0.36, low, 0.62, 0.3), air)
        told.append(f"{medium} {100 * air:.0f} % air")
    return f"{say(depth_mm, 'mm', 'layer depth', units)} deep, drained freely: {', '.join(told)}; roots need about 10 % (dashed)."
