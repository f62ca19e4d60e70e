"""Two roofs side by side on one day: cut, air left, and the year so far."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
import numpy as np

from runoff.plots.style import BLUE, INK, PALE, VERMILION, DescribedFigure, styled
from runoff.saying.dates import MONTHS
from runoff.saying.scales import say
from runoff.teaching.cuts import draw_air, draw_cut
from runoff.teaching.watching import Watched

_SIZE_IN = (11.0, 4.6)
_TYPE_PT = 12.0


@styled
def two_roofs_figure(
    roofs: Sequence[Watched],
    step: int,
    *,
    titles: Sequence[str] = ("A", "B"),
    units: str = "si",
    invented: bool = False,
) -> DescribedFigure:
    """Draw two roofs on one day, and the rain and the days without air so far.

    Parameters
    ----------
    roofs
        Two roofs through the same year.
    step
        The day shown.
    titles
        What stands over each.
    units
        ``"si"`` or ``"us"``.
    invented
        Whether the weather is invented: marked in the picture.
    """
    figure = DescribedFigure(figsize=_SIZE_IN, layout="none")
    tallest = max(
        max(one.shape.edge, one.shape.drop + one.shape.below + one.shape.medium + 90.0) + 30.0 for one in roofs
    )
    date, rain = day_words(roofs[0].run, step), roofs[0].value("rain", step)
    with mpl.rc_context({"axes.grid": False}):
        for number, (roof, title) in enumerate(zip(roofs, titles, strict=True)):
            left = 0.01 + 0.5 * number
            figure.text(left, 0.955, title, size=_TYPE_PT + 1.0, weight="bold")
            axes = figure.add_axes((left, 0.36, 0.48, 0.585))
            draw_cut(axes, roof.shape, roof.day(step), tallest=tallest)
            level, out = roof.value("water_depth_on_deck_mm", step), roof.value("overflow", step)
            if level > 0.5:
                axes.text(
                    0.925,
                    level + 8.0,
                    say(level, "mm", "level", units),
                    size=_TYPE_PT,
                    ha="right",
                    bbox=_HALO,
                    zorder=10,
                )
            axes.text(
                0.88,
                -36.0,
                f"{roof.outlet_words(step)}, left {say(out, 'mm', 'depth', units)}",
                size=_TYPE_PT,
                ha="right",
                bbox=_HALO,
            )
            air = roof.value("air_filled_porosity", step)
            draw_air(figure.add_axes((left + 0.13, 0.31, 0.34, 0.035)), air)
            figure.text(left, 0.312, f"air left {100 * air:.0f} %", size=_TYPE_PT)
            figure.text(
                left,
                0.245,
                f"plants {_shortened(roof.damage(step)).removeprefix('all plants').strip(': ')}",
                size=_TYPE_PT - 0.5,
                weight="bold",
            )
        words = f"{date}: rain {say(rain, 'mm', 'depth', units)}" if rain > 0 else f"{date}: no rain"
        words += " (invented weather)" if invented else ""
        _strip(figure, roofs, step, words)
    both = ". ".join(f"{title}: {roof.sentence(step, units)}" for roof, title in zip(roofs, titles, strict=True))
    figure.description = f"{words}. {both}."
    return figure


_HALO: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0}


def day_words(run: Any, step: int) -> str:
    """Return the date of a day, as it is read."""
    year, month, day = str(run["time"].to_index()[step])[:10].split("-")
    return f"{int(day)} {MONTHS[int(month) - 1]} {year}"


def _shortened(words: str) -> str:
    for long, short in (
        ("low end", "low"),
        ("middle", "mid"),
        ("high end", "high"),
        ("losses likely in sensitive species", "losses likely"),
        ("30 to 76 % survived, by species (pot test)", "30 to 76 % survive"),
    ):
        words = words.replace(long, short)
    return words


def _strip(figure: Any, roofs: Sequence[Watched], step: int, words: str) -> None:
    """Draw the year: rain hanging from the top, days without air of each roof below, as far as it has come."""
    days = roofs[0].hurt.shape[0]
    axes = figure.add_axes((0.03, 0.055, 0.96, 0.165), xlim=(-0.5, days - 0.5), ylim=(-0.75, 1.0))
    axes.set(yticks=[])
    stamps = roofs[0].run["time"].to_index()
    firsts = [i for i, stamp in enumerate(stamps) if stamp.day == 1]
    axes.set_xticks(
        [i + 2 for i in firsts], [MONTHS[stamps[i].month - 1][:3] for i in firsts], ha="left", size=_TYPE_PT - 1.0
    )
    axes.tick_params(length=0, pad=1.0)
    axes.vlines(firsts, -0.75, 1.0, color=PALE, lw=0.8)
    rain = roofs[0]._values["rain"]
    most = max(10.0, float(rain.max()))
    wet = np.flatnonzero(rain > 0)
    axes.vlines(wet, 1.0, 1.0 - rain[wet] / most, color=np.where(wet <= step, BLUE, "#c9d6de"), lw=1.4)
    for number, (roof, color) in enumerate(zip(roofs, (INK, VERMILION), strict=True)):
        flooded = np.flatnonzero(roof._values["waterlogged"][: step + 1])
        axes.text(-2.0, -0.2 - 0.38 * number, "AB"[number], size=_TYPE_PT - 2.0, ha="right", va="center")
        axes.vlines(flooded, -0.34 - 0.38 * number, -0.06 - 0.38 * number, color=color, lw=2.0)
    axes.axvline(step, color=INK, lw=2.0)
    axes.text(min(step + 3, days * 0.7), 0.28, words, size=_TYPE_PT, weight="bold", bbox=_HALO)
