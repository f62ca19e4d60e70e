"""Lines of text drawn from their outlines, kept between drawings: for a picture that is drawn again and again.

Setting type is most of the work of a picture with many labels, and nearly all of them stay the same when a control moves.
"""

from __future__ import annotations

import functools
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import to_rgba
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D

from runoff.plots.label_spacing import advance_pt, label_font, pieces

_SHIFT = {"left": 0.0, "center": 0.5, "right": 1.0}


class OutlinedText(Text):
    """One line of text, centred on its height. Looks and measures as `matplotlib.text.Text` does.

    Parameters
    ----------
    x, y
        Place in the units of the axes, which must be points.
    text
        One line, taken as it is written.
    fontsize, fontweight, color, ha, rotation
        As in `matplotlib.text.Text` with ``rotation_mode="anchor"``; the family is that of the package.

    Notes
    -----
    Only pictures made of dots are drawn from kept outlines; in other kinds of file text is set as always.
    """

    def __init__(self, x: float, y: float, text: str, *, fontsize: float, fontweight: str = "normal", **style: Any):
        font = label_font(fontsize, fontweight == "bold").copy()
        super().__init__(x, y, text, fontproperties=font, va="center", rotation_mode="anchor", **style)

    def set_clip_path(self, path: Any, transform: Any = None) -> None:
        """Leave the line whole: labels stand within the page, and forming a clip for each takes longer than to draw it."""

    def draw(self, renderer: Any) -> None:
        """Draw the line."""
        words = self.get_text()
        if not isinstance(renderer, RendererAgg) or not self.get_visible() or not words.strip():
            super().draw(renderer)
            return
        size, bold = float(self.get_fontsize()), self.get_fontweight() == "bold"
        outline, width = _line_outline(words, size, bold)
        ascent, descent = _line_reach(size, bold)
        dots = renderer.points_to_pixels(1.0)
        place = Affine2D().translate(-_SHIFT[self.get_horizontalalignment()] * width, (descent - ascent) / 2.0)
        turn = self.get_rotation()
        if turn:
            place = place.rotate_deg(turn)
        place = place.scale(dots).translate(*self.get_transform().transform(self.get_position()))
        context = renderer.new_gc()
        context.set_linewidth(0.0)
        renderer.draw_path(context, outline, place, to_rgba(self.get_color(), self.get_alpha()))
        context.restore()
        self.stale = False


def _line_outline(words: str, size_pt: float, bold: bool) -> tuple[Path, float]:
    """Return the outlines of a line, its start on the base line at 0, and its width; points."""
    corners, codes, x = [], [], 0.0
    for piece in pieces(words):
        drawn, moves = _outline(piece, size_pt, bold)
        corners.append(drawn + np.array([x, 0.0]))
        codes.append(moves)
        x += advance_pt(piece, size_pt, bold)
    return Path(np.concatenate(corners), np.concatenate(codes)), x


@functools.lru_cache(maxsize=2048)
def _outline(piece: str, size_pt: float, bold: bool) -> tuple[np.ndarray, np.ndarray]:
    corners, codes = text_to_path.get_text_path(label_font(size_pt, bold), piece, ismath=False)
    scale = size_pt / text_to_path.FONT_SCALE
    return np.reshape(corners, (-1, 2)) * scale, np.asarray(codes, dtype=Path.code_type)


@functools.cache
def _line_reach(size_pt: float, bold: bool) -> tuple[float, float]:
    """Return how far a line reaches above and below its base line, points."""
    _, height, descent = text_to_path.get_text_width_height_descent("lp", label_font(size_pt, bold), ismath=False)
    return float(height - descent), float(descent)
