"""One drawing, two pens: pictures of a lesson are drawn once and come out as matplotlib figures or as SVG text.

On paper and in a stored notebook a picture is a figure; while a class moves a control it is SVG, formed in a few milliseconds
and sharp at any size. A drawing works in the units of its own window: call `Pen.scale` first. Sizes of lines, leaves and
type are points. What is drawn later lies on top.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from typing import Any, Protocol

import numpy as np
from matplotlib.collections import EllipseCollection, LineCollection
from matplotlib.patches import Polygon

from runoff.plots.style import INK, DescribedFigure, figure_style

Points = Sequence[tuple[float, float]]
#: Patterns of areas that must be told apart in grey: water lies, the bar of what is not air stands.
HATCHES = {"lying": "---", "standing": "|||"}
_FONTS = "DejaVu Sans, Verdana, Segoe UI, Helvetica, Arial, sans-serif"
_POINTS_AN_INCH = 72.0
#: Distance of the lines of a hatch, points.
_RULED_PT = 6.0
#: Mean width of a letter, as a share of the size of type.
_LETTER_WIDTH = 0.6


class Pen(Protocol):
    """What a drawing asks for."""

    def scale(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Say which part of the drawing's own units the window shows, left to right and bottom to top."""

    def area(
        self, points: Points, fill: str, *, edge: str = "", width: float = 0.8, hatch: str = "", alpha: float = 1.0
    ) -> None:
        """Fill a polygon; `hatch` is a word of `HATCHES`, drawn in the colour of the edge, and then there is no outline.

        Parameters
        ----------
        points
            Corners, in the units of the window.
        fill, edge
            Colours; no edge for an empty one.
        width
            Of the outline, pt.
        hatch
            A word of `HATCHES`, or empty.
        alpha
            Opacity of the fill, 0 to 1.
        """

    def strokes(self, lines: Sequence[Points], color: str, width: float, *, dash: str = "") -> None:
        """Draw lines; `dash` is ``"dotted"`` or ``"dashed"``.

        Parameters
        ----------
        lines
            Points of each line, in the units of the window.
        color
            Of the lines.
        width
            Of the lines, pt.
        dash
            Empty for a whole line.
        """

    def crosses(self, places: Points, color: str, size: float, width: float) -> None:
        """Draw a cross at each place.

        Parameters
        ----------
        places
            Middles, in the units of the window.
        color
            Of the crosses.
        size, width
            Of a cross, and of its strokes, pt.
        """

    def leaves(
        self, places: Points, wide: float, high: float, angles: Sequence[float], fills: Sequence[str], width: float
    ) -> None:
        """Draw an ellipse at each place; angles (degrees against the clock) and fills go round.

        Parameters
        ----------
        places
            Middles, in the units of the window.
        wide, high
            Axes of an ellipse before it is turned, pt.
        angles, fills
            Turns against the clock, degrees, and colours; each goes round when there are more places.
        width
            Of the outline, pt.
        """

    def words(
        self, x: float, y: float, said: str, size: float, *, bold: bool = False, right: bool = False, halo: bool = False
    ) -> None:
        """Set a line of type on a base line, from the left or up to the right end, on a light ground where `halo`.

        Parameters
        ----------
        x, y
            End of the base line, in the units of the window.
        said
            What is set.
        size
            Of the type, pt.
        bold
            Whether it is bold.
        right
            Whether the line ends at `x` rather than begins there.
        halo
            Whether a light ground lies under it.
        """


class Sheet(Protocol):
    """A page that gives out windows to draw in."""

    def window(self, left: float, bottom: float, width: float, height: float) -> Pen:
        """Return a pen for a part of the page, in shares of it from the lower left corner.

        Parameters
        ----------
        left, bottom, width, height
            Place and size, shares of the page, 0 to 1.

        Returns
        -------
        Pen
            For that part alone; its scale is still to be set.
        """


class AxesPen:
    """A pen on matplotlib axes."""

    def __init__(self, axes: Any) -> None:
        self._axes, self._order = axes, 1.0

    def _next(self) -> float:
        self._order += 0.01
        return self._order

    def scale(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Set the limits; frame and ticks are left out."""
        self._axes.set(xlim=x, ylim=y)
        self._axes.set_axis_off()

    def area(
        self, points: Points, fill: str, *, edge: str = "", width: float = 0.8, hatch: str = "", alpha: float = 1.0
    ) -> None:
        """See `Pen.area`.

        Parameters
        ----------
        points, fill, edge, width, hatch, alpha
            As in `Pen.area`.
        """
        self._axes.add_patch(
            Polygon(
                list(points), facecolor=fill, edgecolor=edge or "none", linewidth=0.0 if hatch else width if edge else 0.0, hatch=HATCHES.get(hatch), alpha=alpha,
                zorder=self._next(), clip_on=True,
            )
        )  # fmt: skip

    def strokes(self, lines: Sequence[Points], color: str, width: float, *, dash: str = "") -> None:
        """See `Pen.strokes`.

        Parameters
        ----------
        lines, color, width, dash
            As in `Pen.strokes`.
        """
        style = {"": "-", "dotted": ":", "dashed": "--"}[dash]
        drawn = LineCollection(
            [list(one) for one in lines], colors=color, linewidths=width, linestyles=style, zorder=self._next(), clip_on=False
        )  # fmt: skip
        self._axes.add_collection(drawn, autolim=False)

    def crosses(self, places: Points, color: str, size: float, width: float) -> None:
        """See `Pen.crosses`.

        Parameters
        ----------
        places, color, size, width
            As in `Pen.crosses`.
        """
        x, y = zip(*places, strict=True)
        self._axes.plot(x, y, "x", color=color, ms=size, mew=width, zorder=self._next(), clip_on=False)

    def leaves(
        self, places: Points, wide: float, high: float, angles: Sequence[float], fills: Sequence[str], width: float
    ) -> None:
        """See `Pen.leaves`.

        Parameters
        ----------
        places, wide, high, angles, fills, width
            As in `Pen.leaves`.
        """
        many = len(places)
        self._axes.add_collection(
            EllipseCollection(
                np.full(many, wide), np.full(many, high), np.resize(angles, many), units="points", offsets=list(places), transOffset=self._axes.transData,
                facecolor=list(fills), edgecolor=INK, linewidth=width, zorder=self._next(), clip_on=False,
            ),
            autolim=False,
        )  # fmt: skip

    def words(
        self, x: float, y: float, said: str, size: float, *, bold: bool = False, right: bool = False, halo: bool = False
    ) -> None:
        """See `Pen.words`.

        Parameters
        ----------
        x, y, said, size, bold, right, halo
            As in `Pen.words`.
        """
        ground = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.0} if halo else None
        self._axes.text(
            x, y, said, size=size, weight="bold" if bold else "normal", ha="right" if right else "left", bbox=ground, zorder=self._next() + 10.0
        )  # fmt: skip


class _FigureSheet:
    """A page that is a matplotlib figure."""

    def __init__(self, width_in: float, height_in: float) -> None:
        self.figure = DescribedFigure(figsize=(width_in, height_in), layout="none")

    def window(self, left: float, bottom: float, width: float, height: float) -> AxesPen:
        """See `Sheet.window`."""
        return AxesPen(self.figure.add_axes((left, bottom, width, height)))


class _SvgPen:
    """A pen that writes SVG elements, in points from the upper left corner of the page."""

    def __init__(self, parts: list[str], box: tuple[float, float, float, float]) -> None:
        self._parts, self._box = parts, box
        self.scale((0.0, 1.0), (0.0, 1.0))

    def scale(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        """See `Pen.scale`."""
        left, top, width, height = self._box
        self._sx, self._sy = width / (x[1] - x[0]), height / (y[1] - y[0])
        self._ox, self._oy = left - x[0] * self._sx, top + height + y[0] * self._sy

    def _at(self, point: tuple[float, float]) -> str:
        return f"{self._ox + point[0] * self._sx:.1f} {self._oy - point[1] * self._sy:.1f}"

    def _path(self, points: Points) -> str:
        return "M" + "L".join(self._at(one) for one in points)

    def area(
        self, points: Points, fill: str, *, edge: str = "", width: float = 0.8, hatch: str = "", alpha: float = 1.0
    ) -> None:
        """See `Pen.area`."""
        path = self._path(points) + "Z"
        outline = f' stroke="{edge}" stroke-width="{width:.2f}"' if edge and not hatch else ""
        opacity = f' fill-opacity="{alpha:g}"' if alpha < 1.0 else ""
        self._parts.append(f'<path d="{path}" fill="{fill}"{opacity}{outline}/>')
        if hatch:
            self._parts.append(f'<path d="{self._ruling(points, hatch)}" stroke="{edge}" stroke-width=".7"/>')

    def _ruling(self, points: Points, hatch: str) -> str:
        """Return the lines of a hatch within a polygon: written out, since a pattern is lost where another page holds the same name."""
        across = 0 if hatch == "lying" else 1
        placed = [(self._ox + x * self._sx, self._oy - y * self._sy) for x, y in points]
        steps = [place[1 - across] for place in placed]
        lines = []
        for at in np.arange(_RULED_PT * (1 + min(steps) // _RULED_PT), max(steps), _RULED_PT).tolist():
            ends = sorted(
                a[across] + (b[across] - a[across]) * (at - a[1 - across]) / (b[1 - across] - a[1 - across])
                for a, b in zip(placed, placed[1:] + placed[:1], strict=True)
                if (a[1 - across] <= at) != (b[1 - across] <= at)
            )
            for low, high in zip(ends[::2], ends[1::2], strict=True):
                lines.append(f"M{low:.1f} {at:.1f}H{high:.1f}" if across == 0 else f"M{at:.1f} {low:.1f}V{high:.1f}")
        return "".join(lines)

    def strokes(self, lines: Sequence[Points], color: str, width: float, *, dash: str = "") -> None:
        """See `Pen.strokes`."""
        gaps = {"": "", "dotted": f"{width:.1f} {1.7 * width:.1f}", "dashed": f"{3.7 * width:.1f} {1.6 * width:.1f}"}[
            dash
        ]
        dashes = f' stroke-dasharray="{gaps}"' if gaps else ""
        path = "".join(self._path(one) for one in lines)
        self._parts.append(f'<path d="{path}" fill="none" stroke="{color}" stroke-width="{width:.2f}"{dashes}/>')

    def crosses(self, places: Points, color: str, size: float, width: float) -> None:
        """See `Pen.crosses`."""
        half = size / 2.0
        path = "".join(
            f"M{self._at(one)}m{-half:.1f} {-half:.1f}l{size:.1f} {size:.1f}m{-size:.1f} 0l{size:.1f} {-size:.1f}" for one in places
        )  # fmt: skip
        self._parts.append(f'<path d="{path}" fill="none" stroke="{color}" stroke-width="{width:.2f}"/>')

    def leaves(
        self, places: Points, wide: float, high: float, angles: Sequence[float], fills: Sequence[str], width: float
    ) -> None:
        """See `Pen.leaves`."""
        drawn = (
            f'<ellipse rx="{wide / 2:.1f}" ry="{high / 2:.1f}" transform="translate({self._at(place)})rotate({-angles[i % len(angles)]:.0f})"'
            f' fill="{fills[i % len(fills)]}"/>'
            for i, place in enumerate(places)
        )
        self._parts.append(f'<g stroke="{INK}" stroke-width="{width:.2f}">{"".join(drawn)}</g>')

    def words(
        self, x: float, y: float, said: str, size: float, *, bold: bool = False, right: bool = False, halo: bool = False
    ) -> None:
        """See `Pen.words`."""
        weight = ' font-weight="bold"' if bold else ""
        anchor = ' text-anchor="end"' if right else ""
        x_at, y_at = self._at((x, y)).split()
        if halo:  # a browser alone knows how wide its type is: near enough
            wide = _LETTER_WIDTH * size * len(said)
            self._parts.append(
                f'<rect x="{float(x_at) - (wide if right else 0.0) - 1:.1f}" y="{float(y_at) - 0.85 * size:.1f}" width="{wide + 2:.1f}" height="{1.1 * size:.1f}" fill="#fff" fill-opacity=".85"/>'
            )
        self._parts.append(
            f'<text x="{x_at}" y="{y_at}" font-size="{size:g}"{weight}{anchor}>{html.escape(said, quote=False)}</text>'
        )


class _SvgSheet:
    """A page that is the text of an SVG element."""

    def __init__(self, width_in: float, height_in: float) -> None:
        self._size = (_POINTS_AN_INCH * width_in, _POINTS_AN_INCH * height_in)
        self._parts: list[str] = []

    def window(self, left: float, bottom: float, width: float, height: float) -> _SvgPen:
        """See `Sheet.window`."""
        wide, high = self._size
        return _SvgPen(self._parts, (left * wide, (1.0 - bottom - height) * high, width * wide, height * high))

    def text(self, words: str) -> str:
        """Return the element; `words` are read out in place of the picture."""
        wide, high = self._size
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" role="img" aria-label="{html.escape(words)}" '
            f'font-family="{_FONTS}" fill="{INK}" style="background:#fff">{"".join(self._parts)}</svg>'
        )


def as_figure(draw: Callable[[Sheet], str], width_in: float, height_in: float) -> DescribedFigure:
    """Return a drawing as a figure; `draw` returns the sentence that says what it shows.

    Parameters
    ----------
    draw
        Draws on a sheet and returns the sentence that says what it shows.
    width_in, height_in
        Size, inches.

    Returns
    -------
    DescribedFigure
        With the sentence.
    """
    with figure_style():
        sheet = _FigureSheet(width_in, height_in)
        sheet.figure.description = draw(sheet)
    return sheet.figure


def as_svg(draw: Callable[[Sheet], str], width_in: float, height_in: float) -> tuple[str, str]:
    """Return a drawing as SVG text, and the sentence that says what it shows.

    Parameters
    ----------
    draw, width_in, height_in
        As in `as_figure`.

    Returns
    -------
    str
        An ``svg`` element.
    str
        The sentence.
    """
    sheet = _SvgSheet(width_in, height_in)
    words = draw(sheet)
    return sheet.text(words), words
