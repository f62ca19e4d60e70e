"""Room for labels: texts beside a drawing pushed apart just enough, and cut to the width there is."""

from __future__ import annotations

import functools
import re
from collections.abc import Sequence
from typing import Any

import numpy as np


def spread(wanted: Sequence[float], heights: Sequence[float], low: float, high: float) -> np.ndarray:
    """Return the middles of blocks that stand as near as can be to where they are wanted, without overlap.

    Parameters
    ----------
    wanted
        Middle of each block, in any order.
    heights
        Height of each block, in the units of the axis.
    low, high
        The room; when the blocks do not fit in, they are stacked from `high` down and stand out below.

    Returns
    -------
    numpy.ndarray
        Middles, in the order of `wanted`.

    Notes
    -----
    The least-squares solution under an order constraint: blocks that would overlap are pooled and share their mean
    displacement (pool-adjacent-violators).

    Examples
    --------
    >>> spread([10.0, 11.0], [4.0, 4.0], 0.0, 100.0).tolist()
    [8.5, 12.5]
    """
    place, tall = np.asarray(wanted, dtype=float), np.asarray(heights, dtype=float)
    order = np.argsort(place, kind="stable")
    size = tall[order]
    offset = np.cumsum(size) - size / 2.0  # middles when stacked from 0
    pools: list[list[float]] = []  # [sum of displacements, count]
    for displacement in place[order] - offset:
        pools.append([displacement, 1])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] > pools[-1][0] / pools[-1][1]:
            total, count = pools.pop()
            pools[-1][0] += total
            pools[-1][1] += count
    shift = np.concatenate([[total / count] * int(count) for total, count in pools]) if pools else np.empty(0)
    shift = np.clip(shift, low, None)
    shift = np.minimum(shift, high - size.sum())
    middles = np.empty_like(place)
    middles[order] = offset + shift
    return middles


def pieces(text: str) -> list[str]:
    """Return a line cut before and after each digit: labels differ in their numbers, so the pieces come again and again.

    Digits stand on equal widths and are not kerned, so nothing moves when the pieces are set one after the other.
    """
    return re.findall(r"\d|\D+", text)


def text_width_pt(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Return the width of one line of text, points, with a small margin for the rounding to dots.

    Parameters
    ----------
    text
        One line.
    size_pt
        Size of the type, pt.
    bold
        Whether it is bold.

    Returns
    -------
    float
        Width, pt.
    """
    return 1.02 * sum(advance_pt(piece, size_pt, bold) for piece in pieces(text))


@functools.lru_cache(maxsize=4096)
def advance_pt(text: str, size_pt: float, bold: bool = False) -> float:
    """Return how far a piece of text moves the pen, points.

    Parameters
    ----------
    text
        A piece of one line, in letters of one font.
    size_pt
        Size of the type, pt.
    bold
        Whether it is bold.

    Returns
    -------
    float
        Distance, pt.
    """
    from matplotlib.textpath import text_to_path

    return float(text_to_path.get_text_width_height_descent(text, label_font(size_pt, bold), ismath=False)[0])


@functools.cache
def label_font(size_pt: float, bold: bool = False) -> Any:
    """Return the font of the package in a size, points."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(family="DejaVu Sans", size=size_pt, weight="bold" if bold else "normal")


def fit(text: str, width_pt: float, size_pt: float, *, bold: bool = False) -> str:
    """Return text that is no wider than `width_pt`, shortened by three dots if need be.

    Parameters
    ----------
    text
        The text; white space counts as one space.
    width_pt
        Room, pt.
    size_pt
        Size of the type, pt.
    bold
        Whether it is bold.

    Returns
    -------
    str
        One line; three dots alone where nothing fits.
    """
    text = " ".join(text.split())
    if text_width_pt(text, size_pt, bold=bold) <= width_pt:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width_pt(text[:middle].rstrip() + "…", size_pt, bold=bold) <= width_pt:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"


def wrap(text: str, width_pt: float, size_pt: float) -> list[str]:
    """Return text broken into lines no wider than `width_pt`.

    Parameters
    ----------
    text
        The text.
    width_pt
        Room, pt.
    size_pt
        Size of the type, pt.

    Returns
    -------
    list of str
        The lines; a word that is too wide by itself is shortened.
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_pt(longer, size_pt) <= width_pt:
            lines[-1] = longer
        else:
            lines.append(fit(word, width_pt, size_pt))
    return lines
