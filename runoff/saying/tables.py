"""Tables a person reads: built once, printed as aligned text in a terminal and as tidy HTML in a notebook."""

from __future__ import annotations

import dataclasses
import html
from collections.abc import Sequence

_CELL = "padding:.15em .7em;border:none"
_HEAD = "border-bottom:1px solid currentColor;font-weight:600;vertical-align:bottom"
_TOTAL = "border-top:1px solid currentColor"
_KEPT_WHOLE = 28  # a cell of so few characters is not broken over two lines
_WORDS = "max-width:60em;margin:.3em 0"


@dataclasses.dataclass(frozen=True, kw_only=True)
class Table:
    """A table of words and numbers that are already text.

    Parameters
    ----------
    head
        Heads of the columns, the unit in each where it has one; a head may have several lines. All empty: no heads.
    rows
        The rows, as many cells in each as there are heads.
    align
        One sign per column: ``<`` for words, ``>`` for numbers. Default: words first, then numbers.
    title
        What the table shows, above it.
    notes
        Sentences below it.
    totals
        How many of the last rows are sums, set apart by a line in a notebook.
    """

    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    align: str = ""
    title: str = ""
    notes: Sequence[str] = ()
    totals: int = 0

    def __post_init__(self) -> None:
        """Hold the columns against each other."""
        width = len(self.head)
        object.__setattr__(self, "align", self.align or "<" + ">" * (width - 1))
        if len(self.align) != width or any(len(row) != width for row in self.rows):
            raise ValueError(f"table: every row and the alignment need {width} columns, one for each head")

    def text(self, indent: str = "") -> str:
        """Return the table as aligned lines, without title and notes."""
        lines = [*_stacked(self.head), *self.rows] if any(self.head) else list(self.rows)
        widths = [max(len(line[k]) for line in lines) for k in range(len(self.head))]
        return "\n".join(
            indent
            + "  ".join(
                f"{cell:{sign}{width}}" for cell, sign, width in zip(line, self.align, widths, strict=True)
            ).rstrip()
            for line in lines
        )

    def __str__(self) -> str:
        """Return title, table and notes as lines."""
        return "\n".join(
            [*([self.title, ""] if self.title else []), self.text(), *(["", *self.notes] if self.notes else [])]
        )

    def html(self) -> str:
        """Return the table as HTML that carries its own style: it takes colour and size from the page around it."""
        heads = (
            ""
            if not any(self.head)
            else "".join(
                f'<th scope="col" style="{_CELL};{_HEAD};{_side(sign)}">{_with_breaks(word)}</th>'
                for word, sign in zip(self.head, self.align, strict=True)
            )
        )
        first_total = len(self.rows) - self.totals
        body = "".join(
            self._html_row(row, line=self.totals > 0 and i == first_total) for i, row in enumerate(self.rows)
        )
        caption = (
            f'<caption style="caption-side:top;text-align:left;font-weight:600">{html.escape(self.title)}</caption>'
            if self.title
            else ""
        )
        notes = "".join(f'<p style="{_WORDS}">{html.escape(note)}</p>' for note in self.notes)
        return (
            '<table style="border-collapse:collapse;font-variant-numeric:tabular-nums;margin:.4em 0">'
            f"{caption}{heads and f'<thead><tr>{heads}</tr></thead>'}<tbody>{body}</tbody></table>{notes}"
        )

    def _html_row(self, row: Sequence[str], *, line: bool) -> str:
        style = f"{_CELL};{_TOTAL}" if line else _CELL
        first, *others = (
            (html.escape(cell).replace("  ", "&emsp;"), f"{style};{_side(sign)}{_whole(cell)}")
            for cell, sign in zip(row, self.align, strict=True)
        )
        cells = "".join(f'<td style="{look}">{cell}</td>' for cell, look in others)
        return f'<tr><th scope="row" style="{first[1]};font-weight:400">{first[0]}</th>{cells}</tr>'

    def _repr_html_(self) -> str:
        return self.html()


def _whole(cell: str) -> str:
    return ";white-space:nowrap" if len(cell) <= _KEPT_WHOLE else ""


def _with_breaks(text: str) -> str:
    return html.escape(text).replace("\n", "<br>")


def _stacked(heads: Sequence[str]) -> list[list[str]]:
    """Return the lines of the heads; a head with fewer lines than others stands at the foot."""
    lines = [head.split("\n") for head in heads]
    height = max(map(len, lines))
    padded = [[""] * (height - len(one)) + one for one in lines]
    return [[one[i] for one in padded] for i in range(height)]


def _side(sign: str) -> str:
    return "text-align:left" if sign == "<" else "text-align:right"
