"""A roof cut along its fall with the water of one day, drawn so that it reads in grey: for sheets and notebooks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from matplotlib.collections import EllipseCollection, LineCollection
from matplotlib.patches import Polygon, Rectangle

from runoff.plots.style import BLUE, INK, SKY, VERMILION
from runoff.teaching.shapes import Shape

_PLANTS_MM = 70.0
_LEFT, _RIGHT = 0.02, 0.90
#: Leaves of a plant by damage, from upright and green to dropped and brown.
_GREENS = ("#3f7d3a", "#7a8a35", "#a08a3c", "#9a7350", "#8d8478")


class Day(NamedTuple):
    """What is drawn of one day of one roof.

    Parameters
    ----------
    level
        Depth of water at the outlet, mm.
    held
        Water the medium holds against gravity, mm.
    cups
        Water in the cups, mm.
    hurt
        Damage (0-4) at places along the fall, from the low end up.
    blocked
        Share of the outlets that is lost.
    left, over_edge, rain
        What leaves the roof, what of it runs over the edge, and the rain, mm in the day.
    cups_up
        Whether the cups hold water.
    """

    level: float
    held: float
    cups: float
    hurt: Sequence[int]
    blocked: float
    left: float
    over_edge: float
    rain: float
    cups_up: bool = True


def draw_cut(axes: Any, shape: Shape, day: Day, *, tallest: float | None = None, line: float = 1.0) -> None:
    """Draw a roof with the water of a day; the low end and the outlet stand at the right.

    Parameters
    ----------
    axes
        An empty pair of axes; limits are set here.
    shape
        The outline of the roof.
    day
        What stands and runs.
    tallest
        Height of the picture, mm; the same in pictures that are compared. Default: as high as this roof.
    line
        Width of lines; smaller pictures want thinner ones.
    """
    top = shape.below + shape.medium
    tallest = tallest or max(shape.edge, shape.drop + top + shape.mulch + _PLANTS_MM) + 25.0
    axes.set(xlim=(0.0, 1.0), ylim=(-38.0, tallest))
    axes.set_axis_off()

    def deck(x: Any) -> Any:
        return shape.drop * (_RIGHT - np.asarray(x)) / (_RIGHT - _LEFT)

    def band(low: float, high: float, **style: Any) -> None:
        ends = [(_LEFT, deck(_LEFT) + high), (_RIGHT, high), (_RIGHT, low), (_LEFT, deck(_LEFT) + low)]
        axes.add_patch(Polygon(ends, linewidth=0.8 * line, **style))

    band(-14.0, 0.0, facecolor="#8f8a82", edgecolor="none", zorder=1)
    band(0.0, shape.below, facecolor="white", edgecolor=INK, zorder=1)
    soak = float(np.clip((day.held - shape.wilting) / max(1e-9, shape.field - shape.wilting), 0.0, 1.0))
    soil = tuple(np.array([226, 206, 170]) / 255 * (1 - soak) + np.array([168, 128, 84]) / 255 * soak)
    band(shape.below, top, facecolor=soil, edgecolor=INK, zorder=1)
    if shape.mulch:
        band(top, top + shape.mulch, facecolor="#6f5130", edgecolor=INK, zorder=1)
    _draw_cups(axes, shape, day, deck, line)
    _draw_water(axes, shape, day, line)
    axes.add_patch(
        Rectangle(
            (_RIGHT + 0.03, -14.0), 0.015, shape.edge + 14.0, facecolor="#8f8a82", edgecolor=INK, lw=0.6, zorder=4
        )
    )
    axes.add_patch(Rectangle((_RIGHT, -38.0), 0.03, 38.0, facecolor="white", edgecolor=INK, lw=0.8 * line, zorder=4))
    _draw_outflow(axes, shape, day, line)
    for place, hurt in enumerate(day.hurt):
        x = _RIGHT - (place + 0.5) / len(day.hurt) * (_RIGHT - _LEFT)
        _draw_plant(axes, shape, x, float(deck(x)), int(hurt), line)
    _draw_rain(axes, shape, day, deck, line)


def _draw_cups(axes: Any, shape: Shape, day: Day, deck: Any, line: float) -> None:
    if shape.below < 8.0:  # a mat has no cups
        return
    count, high = 16, shape.below
    pitch = (_RIGHT - _LEFT) / count
    full = 0.85 * min(1.0, day.cups / shape.cups) if shape.cups and day.cups_up else 0.0
    lines = []
    for middle in _LEFT + (np.arange(count) + 0.5) * pitch:
        foot = float(deck(middle))
        mouth, floor = (foot + high, foot + 0.15 * high) if day.cups_up else (foot, foot + 0.85 * high)
        wide, narrow = 0.4 * pitch, 0.24 * pitch
        lines.append(
            [(middle - wide, mouth), (middle - narrow, floor), (middle + narrow, floor), (middle + wide, mouth)]
        )
        if full > 0.02:
            rim, level = narrow + (wide - narrow) * full, floor + (mouth - floor) * full
            bowl = [(middle - rim, level), (middle - narrow, floor), (middle + narrow, floor), (middle + rim, level)]
            axes.add_patch(Polygon(bowl, facecolor=BLUE, edgecolor="none", zorder=2))
    axes.add_collection(LineCollection(lines, colors=INK, linewidths=1.0 * line, zorder=2.2), autolim=False)


def _draw_water(axes: Any, shape: Shape, day: Day, line: float) -> None:
    if day.level <= 0.5:
        return
    out = _RIGHT + 0.03
    end = max(_LEFT, _RIGHT - day.level / shape.drop * (_RIGHT - _LEFT)) if shape.drop > 0.0 else _LEFT
    high_end = day.level if end > _LEFT else shape.drop
    body = [(end, day.level), (out, day.level), (out, 0.0), (_RIGHT, 0.0), (end, min(day.level, high_end))]
    axes.add_patch(Polygon(body, facecolor=SKY, edgecolor=BLUE, alpha=0.6, hatch="---", linewidth=0.0, zorder=3))
    axes.plot([end, out], [day.level, day.level], color=BLUE, ls="-", lw=1.8 * line, zorder=5)


def _draw_outflow(axes: Any, shape: Shape, day: Day, line: float) -> None:
    through = day.left - day.over_edge
    middle = _RIGHT + 0.015
    if through > 0.05:
        wide = min(0.026, 0.005 + 0.005 * np.sqrt(through))
        axes.add_patch(Rectangle((middle - wide / 2, -38.0), wide, 40.0, facecolor=BLUE, edgecolor="none", zorder=4.5))
    if day.over_edge > 0.05:
        axes.plot(
            [_RIGHT + 0.03, _RIGHT + 0.055, _RIGHT + 0.065, _RIGHT + 0.065], [shape.edge + 2, shape.edge + 2, shape.edge - 12, -38],
            color=BLUE, ls="-", lw=(1.5 + 0.5 * np.sqrt(day.over_edge)) * line, zorder=4.5,
        )  # fmt: skip
    if day.blocked > 0.0:
        rng = np.random.default_rng(11)
        many = 9 if day.blocked >= 1.0 else 4
        place = np.column_stack([middle + rng.uniform(-0.03, 0.025, many), 3 + rng.uniform(0, 12, many)])
        axes.add_collection(
            EllipseCollection(
                np.full(many, 7.0 * line), np.full(many, 3.0 * line), rng.uniform(0, 180, many), units="points", offsets=place, transOffset=axes.transData,
                facecolor=["#b5651d", "#d9a13b"], edgecolor=INK, linewidth=0.6, zorder=6,
            )
        )  # fmt: skip


def _draw_plant(axes: Any, shape: Shape, x: float, foot: float, hurt: int, line: float) -> None:
    """Draw one plant; the posture carries the damage, the colour only repeats it."""
    soil = foot + shape.below + shape.medium
    base, wide = soil + shape.mulch, 0.032
    deep = shape.medium * (0.9, 0.8, 0.58, 0.4, 0.25)[hurt]
    tips = [(x + lean * wide, soil - deep * (1 - 0.3 * abs(lean))) for lean in (-0.8, 0.0, 0.8)]
    roots = [[(x, soil), ((x + tip[0]) / 2, (soil + tip[1]) / 2), tip] for tip in tips]
    axes.add_collection(
        LineCollection(roots, colors="#5a1f10" if hurt else "white", linewidths=1.3 * line, linestyles="-" if hurt < 2 else ":", zorder=5),
        autolim=False,
    )  # fmt: skip
    if hurt:
        axes.plot(
            [tip[0] for tip in tips],
            [tip[1] for tip in tips],
            "x",
            color="#5a1f10",
            ms=3.5 * line,
            mew=1.1 * line,
            zorder=5.2,
        )
    tall = _PLANTS_MM * (0.85, 0.6, 0.36, 0.16, 0.06)[hurt]
    stems, leaves = [], []
    for lean in (-0.9, -0.3, 0.3, 0.9):
        tip = (x + lean * wide * (0.7 + 0.25 * hurt), base + tall * (1 - 0.25 * abs(lean)))
        stems.append([(x, base), ((x + tip[0]) / 2, base + tall * 0.75 + 4 * (hurt > 1)), tip])
        leaves += [
            (x + (tip[0] - x) * t, base + (tip[1] - base) * t + (3 if t < 1 else 0))
            for t in ((1.0, 0.75, 0.5), (1.0, 0.7), (1.0, 0.75), (1.0,), ())[hurt]
        ]
    if hurt >= 3:
        leaves += [(x + off * wide, base + 1.5) for off in (-0.9, -0.45, 0.5, 0.95)]
    axes.add_collection(LineCollection(stems, colors=INK, linewidths=0.8 * line, zorder=6), autolim=False)
    size = (6.2, 5.6, 5.0, 4.6, 4.2)[hurt] * line
    axes.add_collection(
        EllipseCollection(
            np.full(len(leaves), size), np.full(len(leaves), size * (0.66 - 0.06 * hurt)), np.tile([25.0, -25.0], len(leaves))[: len(leaves)], units="points",
            offsets=leaves, transOffset=axes.transData, facecolor=_GREENS[hurt], edgecolor=INK, linewidth=0.5, zorder=7,
        )
    )  # fmt: skip


def _draw_rain(axes: Any, shape: Shape, day: Day, deck: Any, line: float) -> None:
    if day.rain <= 0.0:
        return
    rng = np.random.default_rng(3)
    many = int(min(26, 3 + day.rain))
    x = rng.uniform(_LEFT, _RIGHT, many)
    low = deck(x) + shape.below + shape.medium + shape.mulch + _PLANTS_MM
    high = axes.get_ylim()[1] - 12.0
    y = low + rng.uniform(0.0, 1.0, many) * np.maximum(4.0, high - low)
    drops = [[(a, b), (a, b - 9.0 / line)] for a, b in zip(x, y, strict=True)]
    axes.add_collection(LineCollection(drops, colors=BLUE, linewidths=1.0 * line, zorder=4), autolim=False)


def draw_air(axes: Any, air: float, *, least: float = 0.10, most: float = 0.5) -> None:
    """Draw a bar of the air left in the medium, with a mark at what roots need.

    Parameters
    ----------
    axes
        An empty pair of axes; limits are set here.
    air
        Air per volume of medium, 0-1.
    least, most
        What roots need, and where the bar ends, 0-1.
    """
    axes.set(xlim=(0.0, most), ylim=(0.0, 1.0), xticks=[], yticks=[])
    for side in axes.spines.values():
        side.set(visible=True, color=INK, linewidth=0.8)
    axes.grid(visible=False)
    axes.barh(
        0.5,
        most - min(air, most),
        left=min(air, most),
        height=1.0,
        color="#cfe3f0",
        hatch="|||",
        edgecolor="#8fb4cc",
        linewidth=0.0,
    )
    axes.axvline(min(air, most), color=INK, lw=2.0)
    axes.axvline(least, color=VERMILION, lw=1.6, ls="--")
