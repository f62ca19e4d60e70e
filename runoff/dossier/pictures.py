"""Figures of the dossier: SVG inside an image address, so that the page stands alone and keeps its alternative text."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import quote

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# how matplotlib names clips (p), marks (m), hatches (h) and paths of collections (C0_0_)
_DIGESTED = r"\b(?:[pmh]|C\w+_)[0-9a-f]{10}\b"
# what may stand unescaped in an image address inside a double-quoted attribute
_SAFE = " /:;,=()!*'@$&+?~-_."


def data_uri(svg: bytes) -> str:
    """Return an SVG file as an image address.

    What is not seen is left out: comments, document type, metadata (it names the drawing library's web pages), names of
    groups that nothing refers to, and digits beyond a tenth of a point. Clips, marks and hatches are numbered in the order
    they come in: the library names them by digests of unrounded numbers, whose last bits follow from what ran before.
    """
    text = svg.decode("utf-8")
    text = re.sub(r"<\?xml[^>]*\?>|<!DOCTYPE[^>]*>|<!--.*?-->", "", text, flags=re.DOTALL)
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r' id="[A-Za-z0-9.]+_\d+"', "", text)
    text = _numbered(text)
    text = re.sub(r"-?\d+\.\d{4,}", lambda number: f"{float(number[0]):.3f}".rstrip("0").rstrip("."), text)
    text = re.sub(r'(?<= d=")[^"]*', _shortened_path, text)
    text = re.sub(r"\s*\n\s*|(?<=>)\s+(?=<)", " ", text).replace("> <", "><").strip()
    return "data:image/svg+xml," + quote(text.replace('"', "'"), safe=_SAFE)


def _numbered(text: str) -> str:
    """Return the drawing with its digested names replaced by their place in the order of first use."""
    order: dict[str, str] = {}
    for name in re.findall(_DIGESTED, text):
        order.setdefault(name, f"n{len(order)}")
    return re.sub(_DIGESTED, lambda found: order[found[0]], text)


def _shortened_path(path: re.Match[str]) -> str:
    text = re.sub(r"-?\d+\.\d{2,}", lambda number: f"{float(number[0]):.1f}".removesuffix(".0"), path[0])
    return re.sub(r"\s*([A-Za-z])\s*", r"\1", text).strip()


def figure_image(figure: Figure, *, height_in: float | None = None) -> str:
    """Return a figure of `runoff.plots` as an image address, laid out anew for another height if one is given."""
    from runoff.plots import svg_bytes

    if height_in is not None:
        figure.set_figheight(height_in)
    return data_uri(svg_bytes(figure))
