"""Two roofs side by side on one day of a year or in one minute of a storm: cut, air left, and the course so far."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from runoff.plots.style import BLUE, INK, PALE, VERMILION
from runoff.saying.dates import MONTHS
from runoff.saying.scales import say
from runoff.teaching.cuts import draw_air, draw_cut
from runoff.teaching.pens import Pen, Sheet
from runoff.teaching.watched_storm import WatchedStorm
from runoff.teaching.watching import Seen, Watched

#: Width and height of the picture, inches.
SIZE_IN = (11.0, 4.6)
#: Large enough for the back row: a notebook on a projector of 1920 x 1080 shows the smaller at 2 % of the screen's height.
_TYPE_PT, _SMALL_PT = 12.0, 11.6
#: Rain that is still to come.
_TO_COME = "#c9d6de"


def draw_two_roofs(
    sheet: Sheet,
    roofs: Sequence[Seen],
    step: int,
    *,
    titles: Sequence[str] = ("A", "B"),
    units: str = "si",
    invented: bool = False,
) -> str:
    """Draw two roofs at one step, and below them the rain and what came of it so far.

    Parameters
    ----------
    sheet
        A page of `SIZE_IN`.
    roofs
        Two roofs through the same year, or through the same storm.
    step
        The day or the minute shown.
    titles
        What stands over each.
    units
        ``"si"`` or ``"us"``.
    invented
        Whether the weather is invented: marked in the picture.

    Returns
    -------
    str
        What the picture shows, in words.
    """
    tallest = max(
        max(one.shape.edge, one.shape.drop + one.shape.below + one.shape.medium + 90.0) + 30.0 for one in roofs
    )
    for number, (roof, title) in enumerate(zip(roofs, titles, strict=True)):
        left = 0.01 + 0.5 * number
        page = sheet.window(0.0, 0.0, 1.0, 1.0)
        page.scale((0.0, 1.0), (0.0, 1.0))
        page.words(left, 0.955, title, _TYPE_PT + 1.0, bold=True)
        pen = sheet.window(left, 0.36, 0.48, 0.585)
        draw_cut(pen, roof.shape, roof.day(step), tallest=tallest)
        level = roof.value("water_depth_on_deck_mm", step)
        if level > 0.5:
            pen.words(0.925, level + 8.0, say(level, "mm", "level", units), _TYPE_PT, right=True, halo=True)
        pen.words(0.88, -36.0, roof.outflow_words(step, units), _TYPE_PT, right=True, halo=True)
        air = roof.value("air_filled_porosity", step)
        draw_air(sheet.window(left + 0.13, 0.31, 0.34, 0.035), air)
        page.words(left, 0.315, f"air left {100 * air:.0f} %", _TYPE_PT)
        page.words(left, 0.245, roof.plain_words(step, units), _SMALL_PT, bold=True)
    rain = roofs[0].rain_words(step, units)
    words = f"{roofs[0].when(step)}: {rain}" + (" (invented weather)" if invented else "")
    strip = sheet.window(0.03, 0.055, 0.96, 0.165)
    if isinstance(roofs[0], Watched):
        _draw_year(strip, [one for one in roofs if isinstance(one, Watched)], step, words)
    else:
        _draw_hydrographs(strip, [one for one in roofs if isinstance(one, WatchedStorm)], step, words, units)
    both = ". ".join(f"{title}: {roof.sentence(step, units)}" for roof, title in zip(roofs, titles, strict=True))
    return f"{words}. {both}."


def _draw_rain(pen: Pen, rain: np.ndarray, most: float, step: int) -> None:
    """Draw rain that hangs from the top of a strip of height 1: what has fallen, and paler what is still to come."""
    for color, these in ((_TO_COME, np.arange(rain.size) > step), (BLUE, np.arange(rain.size) <= step)):
        bars = [[(float(i), 1.0), (float(i), 1.0 - float(rain[i]) / most)] for i in np.flatnonzero(these & (rain > 0))]
        if bars:
            pen.strokes(bars, color, 1.4)


def _draw_year(pen: Pen, roofs: Sequence[Watched], step: int, words: str) -> None:
    """Draw the year: rain hanging from the top, days without air of each roof below, as far as it has come."""
    days = roofs[0].hurt.shape[0]
    pen.scale((-0.5, days - 0.5), (-0.75, 1.0))
    firsts = [i for i, stamp in enumerate(roofs[0].stamps) if stamp.day == 1]
    pen.strokes([[(i, -0.75), (i, 1.0)] for i in firsts], PALE, 0.8)
    pen.strokes([[(-0.5, -0.75), (days - 0.5, -0.75)]], INK, 0.8)
    for i in firsts:
        pen.words(i + 2.0, -1.16, MONTHS[roofs[0].stamps[i].month - 1][:3], _SMALL_PT)
    rain = roofs[0].series("rain")
    _draw_rain(pen, rain, max(10.0, float(rain.max())), step)
    for number, (roof, color) in enumerate(zip(roofs, (INK, VERMILION), strict=True)):
        low = -0.34 - 0.38 * number
        pen.words(-2.0, low + 0.06, "AB"[number], _SMALL_PT, right=True)
        flooded = np.flatnonzero(roof.series("waterlogged")[: step + 1])
        if flooded.size:
            pen.strokes([[(float(i), low), (float(i), low + 0.28)] for i in flooded], color, 2.0)
    pen.strokes([[(step, -0.75), (step, 1.0)]], INK, 2.0)
    late = step > days / 2
    pen.words(step - 3 if late else step + 3, 0.28, words, _TYPE_PT, bold=True, right=late, halo=True)


def _draw_hydrographs(pen: Pen, roofs: Sequence[WatchedStorm], step: int, words: str, units: str) -> None:
    """Draw the storm: rain hanging from the top, what runs from each roof below, as far as it has come."""
    minutes = roofs[0].hurt.shape[0]
    flows = [roof.series("discharge") for roof in roofs]
    rain = roofs[0].series("rain")
    most = 1.05 * max(0.01, roofs[0].rain_peak_l_per_s(), *(float(one.max()) for one in flows))
    pen.scale((-0.5, minutes - 0.5), (-1.0, 1.0))
    hours = range(0, minutes + 1, 30)
    pen.strokes([[(i, -1.0), (i, 1.0)] for i in hours], PALE, 0.8)
    pen.strokes([[(-0.5, -1.0), (minutes - 0.5, -1.0)]], INK, 0.8)
    for i in hours[:-1]:
        pen.words(i + 0.8, -1.46, f"{i} min", _SMALL_PT)
    _draw_rain(pen, rain, 2.2 * float(rain.max()), step)
    for number, (flow, color) in enumerate(zip(flows, (INK, VERMILION), strict=True)):
        line = [(float(i), -1.0 + 1.9 * float(flow[i]) / most) for i in range(step + 1)]
        if len(line) > 1:
            pen.strokes([line], color, 2.4, dash="dashed" if number else "")
        pen.words(
            line[-1][0] + 1.2 + 3.0 * number,
            line[-1][1] + (0.05 if number else 0.12),
            "AB"[number],
            _SMALL_PT,
            bold=True,
            halo=True,
        )
    pen.strokes([[(step, -1.0), (step, 1.0)]], INK, 1.2)
    pen.words(minutes * 0.995, 0.62, words, _TYPE_PT, bold=True, right=True, halo=True)
    scale = f"runoff of the whole roof, A solid, B dashed; most rain {say(roofs[0].rain_peak_l_per_s(), 'L/s', 'flow', units)}"
    pen.words(minutes * 0.995, 0.2, scale, _SMALL_PT, right=True, halo=True)
