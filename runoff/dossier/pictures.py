"""Figures of the dossier: SVG inside an image address, so that the page stands alone and keeps its alternative text."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import quote

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# what may stand unescaped in an image address inside a double-quoted attribute
_SAFE = " /:;,=()!*'@$&+?~-_."


def data_uri(svg: bytes) -> str:
    """Return an SVG file as an image address.

    Comments, document type and the metadata block are left out: they name the drawing library's web pages and add
    nothing that is seen.
    """
    text = svg.decode("utf-8")
    text = re.sub(r"<\?xml[^>]*\?>|<!DOCTYPE[^>]*>|<!--.*?-->", "", text, flags=re.DOTALL)
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"\s*\n\s*", " ", text).strip()
    return "data:image/svg+xml," + quote(text.replace('"', "'"), safe=_SAFE)


def figure_image(figure: Figure) -> str:
    """Return a figure of `runoff.plots` as an image address."""
    from runoff.plots import svg_bytes

    return data_uri(svg_bytes(figure))
