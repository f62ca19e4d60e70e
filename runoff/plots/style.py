"""How every figure looks and how it is written: colours, type, files that repeat byte for byte.

Colours are the eight of Okabe and Ito (2008, "Color universal design"), written out as hex values. They are told apart
by people with the usual colour-vision deficiencies; in grey they are not, so everything drawn also differs in line style,
hatch, mark or word.
"""

from __future__ import annotations

import base64
import functools
import io
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import matplotlib as mpl
import numpy as np
from cycler import cycler
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from runoff.errors import RunoffError
from runoff.plots.label_spacing import wrap
from runoff.writing import write_whole

BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
YELLOW, BLUE, VERMILION, PURPLE = "#F0E442", "#0072B2", "#D55E00", "#CC79A7"
INK, SOFT, PALE = "#222222", "#666666", "#D9D9D9"

#: Width of a figure, inches: set on a page of A4 or Letter it shrinks by a tenth and its smallest type stays above 7 pt.
WIDTH_IN = 7.2
_NOTEBOOK_DPI, _FILE_DPI = 100, 150
_NEARLY_WHITE = 252
_PRINTED_COLUMNS = 88
_CAPTION_PT, _CAPTION_MARGIN_IN, _LINE_SPACING = 9.0, 0.12, 1.35

_RC: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": 10.0,
    "text.color": INK,
    "text.hinting": "no_hinting",  # quicker, and letters keep the widths they are measured with
    "text.parse_math": False,  # names of roofs and sites may hold a dollar sign
    "axes.labelsize": 10.0,
    "axes.titlesize": 11.0,
    "axes.titleweight": "bold",
    "axes.titlepad": 9.0,
    "axes.titlelocation": "left",
    "axes.labelcolor": INK,
    "axes.edgecolor": SOFT,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.prop_cycle": cycler(
        color=[BLUE, VERMILION, GREEN, ORANGE, BLACK, PURPLE, SKY], linestyle=["-", "--", "-.", ":", "-", "--", "-."]
    ),
    "axes.unicode_minus": True,
    "grid.color": PALE,
    "grid.linewidth": 0.6,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": 9.0,
    "ytick.labelsize": 9.0,
    "legend.fontsize": 9.0,
    "legend.frameon": False,
    "legend.handlelength": 2.4,
    "lines.linewidth": 1.6,
    "hatch.linewidth": 0.7,
    "patch.linewidth": 0.6,
    "figure.facecolor": "white",
    "figure.dpi": _NOTEBOOK_DPI,
    "savefig.facecolor": "white",
    "svg.hashsalt": "runoff",
    "svg.fonttype": "path",
    "path.simplify": True,
}

_Draw = TypeVar("_Draw", bound=Callable[..., Any])


@contextmanager
def figure_style() -> Iterator[None]:
    """Draw in the style of the package inside a ``with`` block; settings outside it are left as they were."""
    settings: Any = _RC  # matplotlib's own list of names differs between versions
    with mpl.rc_context(settings):
        yield


def styled(draw: _Draw) -> _Draw:
    """Wrap a function that draws so that it always draws in the style of the package."""

    @functools.wraps(draw)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        with figure_style():
            return draw(*args, **kwargs)

    return wrapped  # type: ignore[return-value]


class DescribedFigure(Figure):
    """A matplotlib figure that says in one sentence what it shows.

    Attributes
    ----------
    description
        One sentence, formed from the results that were drawn: caption, alternative text and text reading.

    Notes
    -----
    At the end of a notebook cell the picture appears with the sentence printed below it, since notebooks ignore
    alternative text. `_repr_mimebundle_` holds the same two for anyone who publishes the picture himself.
    """

    def __init__(self, *args: Any, description: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.description = description

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, str]:
        picture = base64.b64encode(png_bytes(self)).decode("ascii")
        return {"image/png": picture, "text/plain": self.description}

    def _ipython_display_(self) -> None:
        from IPython.display import display

        display(self._repr_mimebundle_(), raw=True)
        # a page of code sets long lines apart in the middle of a word
        print(textwrap.fill(self.description, _PRINTED_COLUMNS))


def new_figure(height_in: float, *, width_in: float = WIDTH_IN, **kwargs: Any) -> DescribedFigure:
    """Return an empty figure whose parts make room for each other.

    Parameters
    ----------
    height_in, width_in
        Size, inches.
    **kwargs
        As for `matplotlib.figure.Figure`.

    Returns
    -------
    DescribedFigure
        The figure.
    """
    return DescribedFigure(figsize=(width_in, height_in), layout=kwargs.pop("layout", "constrained"), **kwargs)


def png_bytes(figure: Figure, *, dpi: float = _NOTEBOOK_DPI, caption: bool = False) -> bytes:
    """Return a figure as a PNG file, by default without its sentence (for pages that set the sentence themselves).

    Parameters
    ----------
    figure
        The figure.
    dpi
        Dots per inch.
    caption
        Sets the sentence below.

    Returns
    -------
    bytes
        The file.
    """
    return _written(figure, "png", dpi=dpi, caption=caption)


def quick_png_bytes(figure: Figure, *, dpi: float = _NOTEBOOK_DPI) -> bytes:
    """Return a figure as a PNG file of 128 colours, lightly packed: for a picture that is replaced in a moment.

    It takes a third of the time of `png_bytes`, and no eye tells the difference on a drawing.
    """
    with figure_style():
        _lay_out_from_scratch(figure)
        return _packed(_pixels(figure, dpi), getattr(figure, "description", ""), dpi, colors=128, compress_level=1)


def svg_bytes(figure: Figure, *, caption: bool = False) -> bytes:
    """Return a figure as an SVG file; the same figure gives the same bytes."""
    return _written(figure, "svg", dpi=72, caption=caption)


def save(figure: Figure, path: str | Path, *, dpi: float = _FILE_DPI, caption: bool = True) -> Path:
    """Write a figure to a PNG or SVG file, by default with its sentence below the picture.

    Parameters
    ----------
    figure
        Any figure of this package.
    path
        Ending in ``.png`` or ``.svg``.
    dpi
        Dots per inch of a PNG.
    caption
        Whether the sentence is set below the picture. It also goes into the file's metadata.

    Returns
    -------
    pathlib.Path
        The file. Nothing in it depends on the time or the machine: the same figure gives the same bytes.

    Raises
    ------
    RunoffError
        For another kind of file.
    """
    target = Path(path)
    kind = target.suffix.lower().removeprefix(".")
    if kind not in ("png", "svg"):
        raise RunoffError(f'save: figures are written as .png or .svg (given "{target.name}")')
    return write_whole(target, _written(figure, kind, dpi=dpi, caption=caption))


def _written(figure: Figure, kind: str, *, dpi: float, caption: bool) -> bytes:
    description = getattr(figure, "description", "")
    metadata: dict[str, Any] = {"Software": None} if kind == "png" else {"Date": None, "Creator": None}
    if description:
        metadata["Description"] = description
    if kind == "png" and caption and description:
        return _png_with_caption(figure, description, dpi)
    box = text = None
    if caption and description:
        text, box = _caption_below(figure, description)
    _lay_out_from_scratch(figure)
    out = io.BytesIO()
    try:
        with figure_style():
            figure.savefig(out, format=kind, dpi=dpi, metadata=metadata, bbox_inches=box)
    finally:
        if text is not None:
            text.remove()
    return out.getvalue()


def _png_with_caption(figure: Figure, description: str, dpi: float) -> bytes:
    """Return a PNG with the sentence below the picture: drawn apart and stacked, half the work of one taller drawing."""
    width = figure.get_size_inches()[0]
    lines, below = _caption_lines(description, width)
    with figure_style():
        strip = Figure(figsize=(width, below))
        _set_caption(strip, lines, _CAPTION_MARGIN_IN / width, 1.0 - _CAPTION_MARGIN_IN / below)
        _lay_out_from_scratch(figure)
        parts = [_pixels(one, dpi) for one in (figure, strip)]
    common = min(part.shape[1] for part in parts)
    return _packed(np.vstack([part[:, :common] for part in parts]), description, dpi)


def _packed(
    pixels: np.ndarray, description: str, dpi: float, *, colors: int | None = None, compress_level: int = 6
) -> bytes:
    """Return pixels, shape ``(height, width, 4)``, as a PNG file without transparency, the sentence in its metadata."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    notes = PngInfo()
    if description:
        notes.add_itxt("Description", description)
    picture = Image.fromarray(pixels).convert("RGB")
    if colors is not None:
        picture = picture.quantize(colors, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
        palette = np.reshape(picture.getpalette() or [], (-1, 3))
        palette[(palette >= _NEARLY_WHITE).all(axis=1)] = 255  # the page itself is white
        picture.putpalette(palette.ravel().tolist())
    out = io.BytesIO()
    picture.save(out, "png", dpi=(dpi, dpi), pnginfo=notes, compress_level=compress_level)
    return out.getvalue()


def _pixels(figure: Figure, dpi: float) -> np.ndarray:
    """Draw a figure once and return its pixels, shape ``(height, width, 4)``; the figure keeps its own resolution."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    before, canvas_before = figure.dpi, figure.canvas
    figure.dpi = dpi
    try:
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        return np.array(canvas.buffer_rgba())
    finally:
        figure.set_canvas(canvas_before)
        figure.dpi = before


def _lay_out_from_scratch(figure: Figure) -> None:
    """Put the axes back where they began: making room starts from there, so earlier drawings leave no trace in a file."""
    for axes in figure.axes:
        place = axes.get_subplotspec()
        if place is not None:
            axes.set_subplotspec(place)


def _caption_lines(description: str, width_in: float) -> tuple[list[str], float]:
    """Return the sentence in lines that fit a width, and the height they take, inches."""
    lines = wrap(description, (width_in - 2 * _CAPTION_MARGIN_IN) * 72.0, _CAPTION_PT)
    return lines, _LINE_SPACING * _CAPTION_PT / 72.0 * len(lines) + 2 * _CAPTION_MARGIN_IN


def _set_caption(figure: Figure, lines: list[str], x: float, y: float) -> Any:
    text = figure.text(x, y, "\n".join(lines), fontsize=_CAPTION_PT, va="top", ha="left", linespacing=_LINE_SPACING)
    text.set_in_layout(False)
    return text


def _caption_below(figure: Figure, description: str) -> tuple[Any, Any]:
    """Set the sentence below the lower edge of the figure, and return it with the box that holds both."""
    width, height = figure.get_size_inches()
    lines, below = _caption_lines(description, width)
    with figure_style():
        text = _set_caption(figure, lines, _CAPTION_MARGIN_IN / width, -_CAPTION_MARGIN_IN / height)
    return text, Bbox.from_extents(0.0, -below, width, height)
