"""Pictures on a page: in HTML with their words, and in place of controls where those cannot be drawn."""

from __future__ import annotations

import base64
import html
from typing import Any


def picture_html(png: bytes, words: str, style: str = "") -> str:
    """Return a picture as HTML that needs no other file, its words as alternative text.

    Parameters
    ----------
    png
        The file.
    words
        What it shows; escaped here.
    style
        CSS of the picture; empty for none.

    Returns
    -------
    str
        An ``img`` element.
    """
    laid_out = f' style="{style}"' if style else ""
    return f'<img alt="{html.escape(words)}"{laid_out} src="data:image/png;base64,{base64.b64encode(png).decode("ascii")}">'


def publish_controls(view: Any, words: str, png: bytes | None = None) -> None:
    """Publish a widget at the end of a cell with words and a picture, which stand in where widgets cannot be drawn.

    Parameters
    ----------
    view
        A widget of ipywidgets.
    words
        What stands in where neither widget nor picture can be shown.
    png
        The picture that stands in; None for words alone.
    """
    from IPython.display import display

    bundle = view._repr_mimebundle_()
    bundle = dict(bundle[0] if isinstance(bundle, tuple) else bundle)
    bundle["text/plain"] = words
    if png is not None:
        bundle["image/png"] = base64.b64encode(png).decode("ascii")
    display(bundle, raw=True)
