"""The things a cross-section is drawn from: leaves, roots, chips, grains, cups, water.

Everything takes points of the page (1/72 in) and draws with a seeded scatter, so the same roof gives the same picture.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.collections import EllipseCollection, LineCollection, PolyCollection
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle

from runoff.plots.style import INK

WATER, WATER_EDGE = "#56B4E9", "#0072B2"
_DOTS_PT = 3.2  # from dot to dot in a fabric
_BRIM = 0.8  # share of the height of a cup that its storage fills when full
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


def line(axes: Any, x: Any, y: Any, **style: Any) -> None:
    """Draw a line or marks; as quick as can be, since limits and cycles of styles play no part here.

    Parameters
    ----------
    axes
        Where to draw.
    x, y
        Points of the page, pt, shape ``(point,)``.
    **style
        As for `matplotlib.lines.Line2D`.
    """
    axes.add_artist(Line2D(x, y, **style))


def plants(axes: Any, box: Box, medium: Box, condition: str, rng: np.random.Generator) -> None:
    """Draw sedum plants standing on the bottom of `box`, their roots in `medium`; what leaves the section is cut off.

    Parameters
    ----------
    axes
        Where to draw.
    box, medium
        Room of the plants, and of their roots.
    condition
        ``"healthy"``, ``"at risk"`` or ``"dry"``.
    rng
        Where the scatter comes from.
    """
    count = max(2, int(box.width / max(50.0, 0.62 * box.height)))
    roots: list[np.ndarray] = []
    fine: list[np.ndarray] = []
    stems: list[np.ndarray] = []
    leaves: list[np.ndarray] = []
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
        PolyCollection(
            list(_ovals(np.vstack(leaves))), facecolor=LEAF[condition], edgecolor=INK, linewidth=0.6, zorder=7
        ),
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
        leaves.append(np.array([[*fallen, 0.19 * tall, 0.07 * tall, rng.uniform(-12, 12)]]))
    stems.append(np.column_stack([x, y]))
    leaves.append(_leaves(x, y, tall, condition))


def _leaves(x: np.ndarray, y: np.ndarray, tall: float, condition: str) -> np.ndarray:
    """Return the leaves of a stem, as rows for `_ovals`: plump pairs and a rosette, a few hanging ones, or thin raised ones."""
    pairs = {"healthy": 6, "at risk": 3, "dry": 6}[condition]
    length = tall * {"healthy": 0.17, "at risk": 0.19, "dry": 0.14}[condition]
    breadth = length * {"healthy": 0.55, "at risk": 0.36, "dry": 0.22}[condition]
    raised = {"healthy": 28.0, "at risk": -65.0, "dry": 62.0}[condition]
    place = np.linspace(0.22 if condition != "at risk" else 0.45, 1.0, pairs)
    at = np.round(place * (x.size - 1)).astype(int).repeat(2)
    shrink = (1.0 - 0.35 * place).repeat(2)
    side = np.tile([-1.0, 1.0], pairs)
    middle_x = x[at] + side * 0.48 * length * shrink * np.cos(np.radians(raised))
    middle_y = y[at] + 0.48 * length * shrink * np.sin(np.radians(raised))
    tilt = np.where(side > 0, raised, 180.0 - raised)
    leaves = np.column_stack([middle_x, middle_y, length * shrink, breadth * shrink, tilt])
    if condition != "healthy":
        return leaves
    tilt = np.array([60.0, 120.0, 90.0])
    reach = 0.3 * length
    tip_x, tip_y = x[-1] + reach * np.cos(np.radians(tilt)), y[-1] + reach * np.sin(np.radians(tilt))
    return np.vstack(
        [leaves, np.column_stack([tip_x, tip_y, np.full(3, 0.7 * length), np.full(3, 0.45 * length), tilt])]
    )


def _ovals(rows: np.ndarray) -> Any:
    """Return ellipses as polygons, shape ``(ellipse, corner, 2)``; rows of middle x, y, length, breadth, tilt in degrees."""
    round_ = np.linspace(0.0, 2.0 * np.pi, 18, endpoint=False)
    along, across = rows[:, 2:3] / 2.0 * np.cos(round_), rows[:, 3:4] / 2.0 * np.sin(round_)
    cos, sin = np.cos(np.radians(rows[:, 4:5])), np.sin(np.radians(rows[:, 4:5]))
    return np.stack([rows[:, 0:1] + along * cos - across * sin, rows[:, 1:2] + along * sin + across * cos], axis=-1)


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
    """Draw chips of wood lying in compost.

    Parameters
    ----------
    axes
        Where to draw.
    box
        The layer.
    chip_pt
        Length of a chip, pt.
    rng
        Where the scatter comes from.
    """
    axes.add_artist(box.patch(facecolor="#C9B08A", edgecolor="none", zorder=2))
    count = int(min(140, 2.2 * box.width * box.height / chip_pt**2 * 2.2))
    dice = rng.random((count, 5))
    length, breadth = chip_pt * (0.7 + 0.6 * dice[:, 0]), chip_pt * (0.22 + 0.18 * dice[:, 1])
    turn = np.radians(-35.0 + 70.0 * dice[:, 2])
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2.0
    along, across = corners[:, 0] * length[:, None], corners[:, 1] * breadth[:, None]
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    chips: Any = np.stack([along * cos - across * sin, along * sin + across * cos], axis=-1)
    reach = np.abs(chips).max(axis=1)
    low = np.array([box.left, box.bottom]) + reach
    high = np.maximum(low, np.array([box.right, box.top]) - reach)
    chips += (low + (high - low) * dice[:, 3:])[:, None]
    axes.add_collection(
        PolyCollection(chips, facecolor=["#8A6236", "#A67C4A", "#6F4C26"], edgecolor=INK, linewidth=0.4, zorder=3)
    )


def medium(axes: Any, box: Box, grain_pt: float, rng: np.random.Generator) -> None:
    """Draw grains with pores between them.

    Parameters
    ----------
    axes
        Where to draw.
    box
        The layer.
    grain_pt
        Size of a grain, pt.
    rng
        Where the scatter comes from.
    """
    axes.add_artist(box.patch(facecolor="#E9DDCB", edgecolor=INK, linewidth=0.8, zorder=2))
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


def cups(axes: Any, box: Box, pitch_pt: float, *, up: bool, filled: float, free: float) -> None:
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
    """
    axes.add_artist(box.patch(facecolor="white", edgecolor="none", zorder=2))
    if free > 0:
        water(axes, Box(box.left, box.bottom, box.right, box.bottom + free * box.height), zorder=2.2)
    count = max(2, round(box.width / pitch_pt))
    pitch = box.width / count
    wide, narrow, wall = 0.40 * pitch, 0.24 * pitch, 0.055 * pitch
    middle = box.left + (np.arange(count) + 0.5) * pitch
    mouth, floor = (box.top, box.bottom + wall) if up else (box.bottom, box.top - wall)
    if up:
        _bowls(axes, middle, (narrow, floor), (wide, mouth), facecolor="white", edgecolor="none", zorder=2.4)
        depth = filled * _BRIM * (mouth - floor)
        if depth > 0:
            half = narrow + (wide - narrow) * depth / (mouth - floor)
            style: dict[str, Any] = {"facecolor": WATER, "edgecolor": WATER_EDGE, "linewidth": 0.8}
            _bowls(axes, middle, (narrow, floor), (half, floor + depth), zorder=2.5, **style)
    along = np.array([-pitch / 2, -wide, -narrow, narrow, wide, pitch / 2])
    line_x, line_y = (middle[:, None] + along).ravel(), np.tile([mouth, mouth, floor, floor, mouth, mouth], count)
    line(axes, line_x, line_y, color=INK, lw=2.2, solid_joinstyle="round", solid_capstyle="butt", zorder=4)


def _bowls(axes: Any, middle: np.ndarray, below: tuple[float, float], above: tuple[float, float], **style: Any) -> None:
    """Draw one bowl around each middle; `below` and `above` are half width and height on the page of floor and rim."""
    (foot, low), (rim, high) = below, above
    around = np.array([[-rim, high], [-foot, low], [foot, low], [rim, high]])
    shift = np.column_stack([middle, np.zeros(middle.size)])
    bowls: Any = shift[:, None] + around
    axes.add_collection(PolyCollection(bowls, **style), autolim=False)


def water(axes: Any, box: Box, *, zorder: float, alpha: float = 0.75) -> None:
    """Draw standing water with a rippled surface.

    Parameters
    ----------
    axes
        Where to draw.
    box
        The water, to its surface; nothing is drawn where it has no height.
    zorder
        Place in the order of drawing.
    alpha
        Opacity, 0 to 1.
    """
    if box.height <= 0:
        return
    x = np.linspace(box.left, box.right, 80)
    ripple = min(0.7, 0.25 * box.height) * np.sin(2 * np.pi * (x - box.left) / 14.0)
    top = box.top + ripple
    body = np.column_stack([[box.left, *x, box.right], [box.bottom, *top, box.bottom]])
    axes.add_artist(Polygon(body, facecolor=WATER, edgecolor="none", alpha=alpha, zorder=zorder))
    line(axes, x, top, color=WATER_EDGE, lw=1.4, zorder=zorder + 0.05)


def fabric(axes: Any, box: Box, *, wet: float) -> None:
    """Draw a fleece or a non-woven mat; `wet` is the filled share of what it holds.

    Parameters
    ----------
    axes
        Where to draw.
    box
        The layer.
    wet
        Filled share of what it holds, 0 to 1.
    """
    axes.add_artist(box.patch(facecolor="#DADADA", edgecolor=INK, linewidth=0.7, zorder=3))
    rows = max(1, int(box.height // _DOTS_PT))
    y = box.bottom + (np.arange(rows) + 0.5) * box.height / rows
    x = np.arange(box.left + _DOTS_PT / 2.0, box.right, _DOTS_PT)
    across, up = np.meshgrid(x, y)
    across[1::2] += _DOTS_PT / 2.0
    inside = across < box.right - 0.5
    # dots of our own, as a hatch is drawn anew for every box
    line(axes, across[inside], up[inside], ls="", marker=".", ms=1.6, color=INK, mew=0.0, zorder=3.05)
    if wet > 0:
        axes.add_artist(box.patch(facecolor=WATER, edgecolor="none", alpha=0.25 + 0.5 * min(1.0, wet), zorder=3.1))


def insulation(axes: Any, box: Box) -> None:
    """Draw insulation by the waved hatch that drawings of buildings use."""
    axes.add_artist(box.patch(facecolor="#F7EFD2", edgecolor=INK, linewidth=0.8, zorder=2))
    x = np.linspace(box.left, box.right, 400)
    period = min(box.height, 40.0)
    line(
        axes,
        x,
        box.bottom + box.height * (0.5 + 0.42 * np.sin(2 * np.pi * (x - box.left) / period)),
        color="#A8A8A8",
        lw=0.9,
        zorder=3,
    )


def deck(axes: Any, box: Box) -> None:
    """Draw the roof deck, cut off below: the structure itself is not part of the build-up."""
    axes.add_artist(box.patch(facecolor="#BDBDBD", edgecolor="none", hatch="//", zorder=2))
    line(axes, [box.left, box.right], [box.top, box.top], color=INK, lw=0.9, zorder=3)
