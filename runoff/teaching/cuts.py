"""A roof cut along its fall with the water of one day, drawn so that it reads in grey: for sheets and notebooks."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from runoff.plots.style import BLUE, INK, SKY, VERMILION
from runoff.teaching.pens import Pen
from runoff.teaching.shapes import Shape

_PLANTS_MM = 70.0
_LEFT, _RIGHT = 0.02, 0.90
_DECK, _DRY_SOIL, _WET_SOIL = "#8f8a82", (226, 206, 170), (168, 128, 84)
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


def draw_cut(pen: Pen, shape: Shape, day: Day, *, tallest: float | None = None, line: float = 1.0) -> None:
    """Draw a roof with the water of a day; the low end and the outlet stand at the right.

    Parameters
    ----------
    pen
        Of a window of its own; its scale is set here: across 0 to 1, upward mm above the deck at the outlet.
    shape
        The outline of the roof.
    day
        What stands and runs.
    tallest
        Height of the picture, mm; the same in pictures that are compared. Default: as high as this roof.
    line
        Width of lines, points; smaller pictures want thinner ones.
    """
    top = shape.below + shape.medium
    tallest = tallest or max(shape.edge, shape.drop + top + shape.mulch + _PLANTS_MM) + 25.0
    pen.scale((0.0, 1.0), (-38.0, tallest))

    def deck(x: float) -> float:
        return shape.drop * (_RIGHT - x) / (_RIGHT - _LEFT)

    def band(low: float, high: float, fill: str, edge: str = INK) -> None:
        ends = [(_LEFT, deck(_LEFT) + high), (_RIGHT, high), (_RIGHT, low), (_LEFT, deck(_LEFT) + low)]
        pen.area(ends, fill, edge=edge, width=0.8 * line)

    band(-14.0, 0.0, _DECK, "")
    band(0.0, shape.below, "#ffffff")
    band(shape.below, top, _soil(shape, day.held))
    if shape.mulch:
        band(top, top + shape.mulch, "#6f5130")
    _draw_cups(pen, shape, day, deck, line)
    _draw_water(pen, shape, day, line)
    pen.area(_box(_RIGHT + 0.03, _RIGHT + 0.045, -14.0, shape.edge), _DECK, edge=INK, width=0.6)
    pen.area(_box(_RIGHT, _RIGHT + 0.03, -38.0, 0.0), "#ffffff", edge=INK, width=0.8 * line)
    _draw_rain(pen, shape, day, deck, tallest, line)
    _draw_outflow(pen, shape, day, line)
    for place, hurt in enumerate(day.hurt):
        x = _RIGHT - (place + 0.5) / len(day.hurt) * (_RIGHT - _LEFT)
        _draw_plant(pen, shape, x, deck(x), int(hurt), line)


def _box(left: float, right: float, low: float, high: float) -> list[tuple[float, float]]:
    return [(left, high), (right, high), (right, low), (left, low)]


def _soil(shape: Shape, held: float) -> str:
    """Return the colour of the medium: the darker, the more water it holds."""
    soak = min(1.0, max(0.0, (held - shape.wilting) / max(1e-9, shape.field - shape.wilting)))
    return "#" + "".join(f"{round(a * (1 - soak) + b * soak):02x}" for a, b in zip(_DRY_SOIL, _WET_SOIL, strict=True))


def _draw_cups(pen: Pen, shape: Shape, day: Day, deck: Callable[[float], float], line: float) -> None:
    if shape.below < 8.0:  # a mat has no cups
        return
    count, high = 16, shape.below
    pitch = (_RIGHT - _LEFT) / count
    full = 0.85 * min(1.0, day.cups / shape.cups) if shape.cups and day.cups_up else 0.0
    wide, narrow = 0.4 * pitch, 0.24 * pitch
    walls = []
    for cup in range(count):
        middle = _LEFT + (cup + 0.5) * pitch
        foot = deck(middle)
        mouth, floor = (foot + high, foot + 0.15 * high) if day.cups_up else (foot, foot + 0.85 * high)
        walls.append(
            [(middle - wide, mouth), (middle - narrow, floor), (middle + narrow, floor), (middle + wide, mouth)]
        )
        if full > 0.02:
            rim, level = narrow + (wide - narrow) * full, floor + (mouth - floor) * full
            pen.area(
                [(middle - rim, level), (middle - narrow, floor), (middle + narrow, floor), (middle + rim, level)], BLUE
            )
    pen.strokes(walls, INK, 1.0 * line)


def _draw_water(pen: Pen, shape: Shape, day: Day, line: float) -> None:
    if day.level <= 0.5:
        return
    out = _RIGHT + 0.03
    end = max(_LEFT, _RIGHT - day.level / shape.drop * (_RIGHT - _LEFT)) if shape.drop > 0.0 else _LEFT
    high_end = day.level if end > _LEFT else shape.drop
    body = [(end, day.level), (out, day.level), (out, 0.0), (_RIGHT, 0.0), (end, min(day.level, high_end))]
    pen.area(body, SKY, edge=BLUE, alpha=0.6, hatch="lying")
    pen.strokes([[(end, day.level), (out, day.level)]], BLUE, 1.8 * line)


def _draw_outflow(pen: Pen, shape: Shape, day: Day, line: float) -> None:
    through = day.left - day.over_edge
    middle = _RIGHT + 0.015
    if through > 0.05:
        wide = min(0.026, 0.005 + 0.005 * math.sqrt(through))
        pen.area(_box(middle - wide / 2, middle + wide / 2, -38.0, 2.0), BLUE)
    if day.over_edge > 0.05:
        fall = [(_RIGHT + 0.03, 2.0), (_RIGHT + 0.055, 2.0), (_RIGHT + 0.065, -12.0)]
        over = [(x, shape.edge + y) for x, y in fall]
        pen.strokes([[*over, (_RIGHT + 0.065, -38.0)]], BLUE, (1.5 + 0.5 * math.sqrt(day.over_edge)) * line)
    if day.blocked > 0.0:
        rng = np.random.default_rng(11)
        many = 9 if day.blocked >= 1.0 else 4
        across, up = middle + rng.uniform(-0.03, 0.025, many), 3 + rng.uniform(0, 12, many)
        angles = rng.uniform(0, 180, many).tolist()
        places = list(zip(across.tolist(), up.tolist(), strict=True))
        pen.leaves(places, 7.0 * line, 3.0 * line, angles, ("#b5651d", "#d9a13b"), 0.6)


def _draw_plant(pen: Pen, shape: Shape, x: float, foot: float, hurt: int, line: float) -> None:
    """Draw one plant; the posture carries the damage, the colour only repeats it."""
    soil = foot + shape.below + shape.medium
    base, wide = soil + shape.mulch, 0.032
    deep = shape.medium * (0.9, 0.8, 0.58, 0.4, 0.25)[hurt]
    tips = [(x + lean * wide, soil - deep * (1 - 0.3 * abs(lean))) for lean in (-0.8, 0.0, 0.8)]
    roots = [[(x, soil), ((x + tip[0]) / 2, (soil + tip[1]) / 2), tip] for tip in tips]
    pen.strokes(roots, "#5a1f10" if hurt else "#ffffff", 1.3 * line, dash="" if hurt < 2 else "dotted")
    if hurt:
        pen.crosses(tips, "#5a1f10", 3.5 * line, 1.1 * line)
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
    pen.strokes(stems, INK, 0.8 * line)
    size = (6.2, 5.6, 5.0, 4.6, 4.2)[hurt] * line
    pen.leaves(leaves, size, size * (0.66 - 0.06 * hurt), (25.0, -25.0), (_GREENS[hurt],), 0.5)


def _draw_rain(pen: Pen, shape: Shape, day: Day, deck: Callable[[float], float], tallest: float, line: float) -> None:
    if day.rain <= 0.0:
        return
    rng = np.random.default_rng(3)
    many = int(min(26, 3 + day.rain))
    high, drops = tallest - 12.0, []
    for x, share in zip(rng.uniform(_LEFT, _RIGHT, many).tolist(), rng.uniform(0.0, 1.0, many).tolist(), strict=True):
        low = deck(x) + shape.below + shape.medium + shape.mulch + _PLANTS_MM
        y = low + share * max(4.0, high - low)
        drops.append([(x, y), (x, y - 9.0 / line)])
    pen.strokes(drops, BLUE, 1.0 * line)


def draw_air(pen: Pen, air: float, *, least: float = 0.10, most: float = 0.5) -> None:
    """Draw a bar of the air left in the medium, with a mark at what roots need.

    Parameters
    ----------
    pen
        Of a window of its own.
    air
        Air per volume of medium, 0-1.
    least, most
        What roots need, and where the bar ends, 0-1.
    """
    end = min(air, most)
    pen.scale((0.0, most), (0.0, 1.0))
    pen.area(_box(end, most, 0.0, 1.0), "#cfe3f0", edge="#8fb4cc", hatch="standing")
    pen.strokes([[(end, 0.0), (end, 1.0)]], INK, 2.0)
    pen.strokes([[(least, 0.0), (least, 1.0)]], VERMILION, 1.6, dash="dashed")
    pen.strokes([[*_box(0.0, most, 0.0, 1.0), (0.0, 1.0)]], INK, 0.8)
