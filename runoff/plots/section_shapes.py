"""The things a cross-section is drawn from: leaves, roots, chips, grains, cups, water.

Everything takes points of the page (1/72 in) and draws with a seeded scatter, so the same roof gives the same picture.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.collections import EllipseCollection, LineCollection, PatchCollection, PolyCollection
from matplotlib.patches import Ellipse, Polygon, Rectangle

from runoff.plots.style import INK

WATER, WATER_EDGE = "#56B4E9", "#0072B2"
LEAF = {"healthy": "#009E73", "at risk": "#A6853B", "dry": "#B9A98C"}
_ROOT = {"healthy": "#3B2A18", "at risk": "#3B2A18", "dry": "#6B5B48"}

#: How the planting can stand, and the words beside it.
CONDITIONS: dict[str, str] = {
    "healthy": "upright, full leaves; roots deep",
    "at risk": "drooping, leaves dropped; roots short and dying for want of air",
    "dry": "thin, wrinkled leaves; roots waiting for water",
}


class Box:
    """A rectangle of the page: left, bottom, right, top in points."""

    def __init__(self, left: float, bottom: float, right: float, top: float) -> None:
        self.left, self.bottom, self.right, self.top = left, bottom, right, top

    @property
    def width(self) -> float:
        """Width, points."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Height, points."""
        return self.top - self.bottom

    def patch(self, **style: Any) -> Rectangle:
        """Return the rectangle, ready to be added."""
        return Rectangle((self.left, self.bottom), self.width, self.height, **style)


def plants(axes: Any, box: Box, medium: Box, condition: str, rng: np.random.Generator) -> None:
    """Draw sedum plants standing on the bottom of `box`, their roots in `medium`; what leaves the section is cut off."""
    count = max(2, int(box.width / max(50.0, 0.62 * box.height)))
    roots: list[np.ndarray] = []
    fine: list[np.ndarray] = []
    stems: list[np.ndarray] = []
    leaves: list[Ellipse] = []
    for i in range(count):
        foot = box.left + (i + 0.5 + rng.uniform(-0.06, 0.06)) * box.width / count
        _grow_roots(foot, medium, condition, rng, roots, fine)
        for lean in (-0.8, -0.3, 0.3, 0.8):
            _grow_shoot(foot, box, lean, condition, rng, stems, leaves)
    window = Box(box.left, medium.bottom, box.right, box.top + 0.2 * box.height).patch(transform=axes.transData)
    width = {"healthy": 1.3, "at risk": 1.5, "dry": 0.7}[condition]
    dash: Any = "-" if condition != "at risk" else (0, (2.5, 1.5))
    for drawn in (
        LineCollection(roots, colors=_ROOT[condition], linewidths=width, linestyles=[dash], zorder=5),
        LineCollection(fine, colors=_ROOT[condition], linewidths=0.7 if condition == "healthy" else 1.4, zorder=5),
        LineCollection(stems, colors=INK, linewidths=1.1, zorder=6),
        PatchCollection(leaves, facecolor=LEAF[condition], edgecolor=INK, linewidth=0.6, zorder=7),
    ):
        axes.add_collection(drawn, autolim=False)
        drawn.set_clip_path(window)


def _grow_shoot(
    foot: float, box: Box, lean: float, condition: str, rng: np.random.Generator, stems: list, leaves: list
) -> None:
    """Add one stem and its leaves; the shape carries the condition, the colour only repeats it."""
    tall = box.height
    height = tall * {"healthy": 0.86, "at risk": 0.55, "dry": 0.62}[condition] * rng.uniform(0.82, 1.0)
    along = np.linspace(0.0, 1.0, 13)
    x = foot + lean * 0.42 * tall * along**0.8
    y = box.bottom + height * (1.0 - 0.22 * abs(lean)) * along
    if condition == "at risk":  # the stem bends and its tip hangs down
        x = foot + lean * 0.62 * tall * along
        y = box.bottom + height * np.sin(np.pi * 0.80 * along) * (1.0 - 0.25 * abs(lean))
        fallen = (foot + rng.uniform(-0.6, 0.6) * tall, box.bottom + 0.02 * tall)
        leaves.append(Ellipse(fallen, 0.19 * tall, 0.07 * tall, angle=rng.uniform(-12, 12)))
    stems.append(np.column_stack([x, y]))
    leaves.extend(_leaves(x, y, tall, condition))


def _leaves(x: np.ndarray, y: np.ndarray, tall: float, condition: str) -> list[Ellipse]:
    """Return the leaves of a stem: plump pairs and a rosette, a few hanging ones, or thin raised ones."""
    pairs = {"healthy": 6, "at risk": 3, "dry": 6}[condition]
    length = tall * {"healthy": 0.17, "at risk": 0.19, "dry": 0.14}[condition]
    breadth = length * {"healthy": 0.55, "at risk": 0.36, "dry": 0.22}[condition]
    raised = {"healthy": 28.0, "at risk": -65.0, "dry": 62.0}[condition]
    leaves = []
    for place in np.linspace(0.22 if condition != "at risk" else 0.45, 1.0, pairs):
        at = round(place * (x.size - 1))
        shrink = 1.0 - 0.35 * place
        for side in (-1.0, 1.0):
            middle = (
                x[at] + side * 0.48 * length * shrink * np.cos(np.radians(raised)),
                y[at] + 0.48 * length * shrink * np.sin(np.radians(raised)),
            )
            tilt = raised if side > 0 else 180.0 - raised
            leaves.append(Ellipse(middle, length * shrink, breadth * shrink, angle=tilt))
    if condition == "healthy":
        for tilt in (60.0, 120.0, 90.0):
            reach = 0.3 * length
            tip = (x[-1] + reach * np.cos(np.radians(tilt)), y[-1] + reach * np.sin(np.radians(tilt)))
            leaves.append(Ellipse(tip, 0.7 * length, 0.45 * length, angle=tilt))
    return leaves


def _grow_roots(foot: float, medium: Box, condition: str, rng: np.random.Generator, roots: list, fine: list) -> None:
    """Add the roots of a plant from its foot down into the medium: side roots when healthy, dead tips when at risk."""
    reach = medium.height * {"healthy": 0.9, "at risk": 0.34, "dry": 0.8}[condition]
    along = np.linspace(0.0, 1.0, 14)
    for spread in np.linspace(-1.0, 1.0, 5):
        deep = reach * (1.0 - 0.25 * abs(spread)) * rng.uniform(0.85, 1.0)
        wave = 2.2 * np.cumsum(rng.uniform(-1.0, 1.0, 14)) * np.sqrt(along)
        x = np.clip(foot + spread * 0.6 * medium.height**0.7 * along + wave, medium.left + 1, medium.right - 1)
        y = medium.top - deep * along
        roots.append(np.column_stack([x, y]))
        if condition == "healthy":
            for at in (5, 8, 11):
                fine.append(np.array([[x[at], y[at]], [x[at] + rng.choice([-6.0, 6.0]), y[at] - 4.0]]))
        elif condition == "at risk":
            for turn in (-1.0, 1.0):  # a cross at the dead tip
                fine.append(np.array([[x[-1] - 2.2, y[-1] - 2.2 * turn], [x[-1] + 2.2, y[-1] + 2.2 * turn]]))


def mulch(axes: Any, box: Box, chip_pt: float, rng: np.random.Generator) -> None:
    """Draw chips of wood lying in compost."""
    axes.add_patch(box.patch(facecolor="#C9B08A", edgecolor="none", zorder=2))
    count = int(min(140, 2.2 * box.width * box.height / chip_pt**2 * 2.2))
    chips = []
    for _ in range(count):
        length, breadth = chip_pt * rng.uniform(0.7, 1.3), chip_pt * rng.uniform(0.22, 0.4)
        turn = np.radians(rng.uniform(-35, 35))
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [length / 2, breadth / 2]
        turned = corners @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        reach = np.abs(turned).max(axis=0)
        middle = [
            rng.uniform(box.left + reach[0], max(box.left + reach[0], box.right - reach[0])),
            rng.uniform(box.bottom + reach[1], max(box.bottom + reach[1], box.top - reach[1])),
        ]
        chips.append(turned + middle)
    axes.add_collection(
        PolyCollection(chips, facecolor=["#8A6236", "#A67C4A", "#6F4C26"], edgecolor=INK, linewidth=0.4, zorder=3)
    )


def medium(axes: Any, box: Box, grain_pt: float, rng: np.random.Generator) -> None:
    """Draw grains with pores between them."""
    axes.add_patch(box.patch(facecolor="#E9DDCB", edgecolor=INK, linewidth=0.8, zorder=2))
    count = int(np.clip(0.55 * box.width * box.height / grain_pt**2, 20, 420))
    size = grain_pt * rng.uniform(0.45, 1.1, count)
    place = np.column_stack(
        [
            rng.uniform(box.left + grain_pt * 0.6, box.right - grain_pt * 0.6, count),
            rng.uniform(
                box.bottom + grain_pt * 0.6, max(box.bottom + grain_pt * 0.61, box.top - grain_pt * 0.6), count
            ),
        ]
    )
    axes.add_collection(
        EllipseCollection(
            size,
            size * 0.75,
            rng.uniform(0, 180, count),
            offsets=place,
            units="xy",
            transOffset=axes.transData,
            facecolor=["#B98E63", "#9C6B43", "#CDAA82"],
            edgecolor="#6B4A2B",
            linewidth=0.3,
            zorder=3,
        )
    )


def cups(axes: Any, box: Box, pitch_pt: float, *, up: bool, filled: float, free: float, capacity_share: float) -> None:
    """Draw a drainage board: a row of cups, with water in the cups and free water between them.

    Parameters
    ----------
    axes
        Where to draw.
    box
        The board.
    pitch_pt
        Distance from cup to cup.
    up
        Whether the cups are open to the top and hold water.
    filled
        Share of the cups' storage that is filled.
    free
        Height that free water reaches, as a share of the board.
    capacity_share
        Share of the height of a cup that its storage fills when full.
    """
    axes.add_patch(box.patch(facecolor="white", edgecolor="none", zorder=2))
    if free > 0:
        water(axes, Box(box.left, box.bottom, box.right, box.bottom + free * box.height), zorder=2.2)
    count = max(2, round(box.width / pitch_pt))
    pitch = box.width / count
    wide, narrow, wall = 0.40 * pitch, 0.24 * pitch, 0.055 * pitch
    line_x, line_y = [], []
    for i in range(count):
        middle = box.left + (i + 0.5) * pitch
        mouth, floor = (box.top, box.bottom + wall) if up else (box.bottom, box.top - wall)
        if up:
            inside = [
                (middle - wide, mouth),
                (middle - narrow, floor),
                (middle + narrow, floor),
                (middle + wide, mouth),
            ]
            axes.add_patch(Polygon(inside, facecolor="white", edgecolor="none", zorder=2.4))
            depth = filled * capacity_share * (mouth - floor)
            if depth > 0:
                half = narrow + (wide - narrow) * depth / (mouth - floor)
                pool = [
                    (middle - half, floor + depth),
                    (middle - narrow, floor),
                    (middle + narrow, floor),
                    (middle + half, floor + depth),
                ]
                axes.add_patch(Polygon(pool, facecolor=WATER, edgecolor=WATER_EDGE, linewidth=0.8, zorder=2.5))
        line_x += [
            middle - pitch / 2,
            middle - wide,
            middle - narrow,
            middle + narrow,
            middle + wide,
            middle + pitch / 2,
        ]
        line_y += [mouth, mouth, floor, floor, mouth, mouth]
    axes.plot(line_x, line_y, color=INK, lw=2.2, solid_joinstyle="round", solid_capstyle="butt", ls="-", zorder=4)


def water(axes: Any, box: Box, *, zorder: float, alpha: float = 0.75) -> None:
    """Draw standing water with a rippled surface."""
    if box.height <= 0:
        return
    x = np.linspace(box.left, box.right, 80)
    ripple = min(0.7, 0.25 * box.height) * np.sin(2 * np.pi * (x - box.left) / 14.0)
    axes.fill_between(x, box.bottom, box.top + ripple, facecolor=WATER, alpha=alpha, linewidth=0, zorder=zorder)
    axes.plot(x, box.top + ripple, color=WATER_EDGE, lw=1.4, zorder=zorder + 0.05)


def fabric(axes: Any, box: Box, *, wet: float) -> None:
    """Draw a fleece or a non-woven mat; `wet` is the filled share of what it holds."""
    axes.add_patch(box.patch(facecolor="#DADADA", edgecolor=INK, linewidth=0.7, hatch="....", zorder=3))
    if wet > 0:
        axes.add_patch(box.patch(facecolor=WATER, edgecolor="none", alpha=0.25 + 0.5 * min(1.0, wet), zorder=3.1))


def insulation(axes: Any, box: Box) -> None:
    """Draw insulation by the waved hatch that drawings of buildings use."""
    axes.add_patch(box.patch(facecolor="#F7EFD2", edgecolor=INK, linewidth=0.8, zorder=2))
    x = np.linspace(box.left, box.right, 400)
    period = min(box.height, 40.0)
    axes.plot(
        x,
        box.bottom + box.height * (0.5 + 0.42 * np.sin(2 * np.pi * (x - box.left) / period)),
        color="#A8A8A8",
        lw=0.9,
        zorder=3,
    )


def deck(axes: Any, box: Box) -> None:
    """Draw the roof deck, cut off below: the structure itself is not part of the build-up."""
    axes.add_patch(box.patch(facecolor="#BDBDBD", edgecolor="none", hatch="//", zorder=2))
    axes.plot([box.left, box.right], [box.top, box.top], color=INK, lw=0.9, zorder=3)
