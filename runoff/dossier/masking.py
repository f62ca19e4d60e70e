"""A page taken apart for comparing: its text with numbers, pictures and the record taken out, and these apart.

What is left is compared letter by letter with the page as it would be written now, so nothing can be added that a parser of
ours reads in another way than a browser does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from runoff.errors import RunoffError

#: Stands where something was taken out; no page may hold it.
HOLE = "\0"
#: Most marked numbers of a page; a dossier has under two thousand.
MOST_MARKS = 20_000
_MARK = re.compile(
    r'<data value="([^"<>]*)" data-figure="([^"<>]*)" data-shown="([^"<>]*)" data-digits="(-?\d)">([^<>]*)</data>'
)
_PICTURE = re.compile(r'<img src="(data:image/svg\+xml,[^"<>]*)"')
_RECORD = re.compile(r'<script type="application/json" id="provenance">([^<]*)</script>')


class Mark(NamedTuple):
    """A number printed: the value behind it, the figure it is, unit and decimals shown, and the text."""

    value: str
    figure: str
    unit: str
    digits: int
    text: str


@dataclass(frozen=True)
class MaskedPage:
    """A page taken apart.

    Parameters
    ----------
    words
        The page with holes.
    marks, pictures
        What stood in the holes, in order.
    record
        The embedded record as JSON text.
    """

    words: str
    marks: tuple[Mark, ...]
    pictures: tuple[str, ...]
    record: str


def masked(text: str, where: str) -> MaskedPage:
    """Take a page apart.

    Raises
    ------
    RunoffError
        When it carries no record, or more than one, or a sign no page holds.
    """
    if HOLE in text:
        raise RunoffError(f"{where}: it holds a NUL character, which no sheet does; it has been changed or damaged")
    records = _RECORD.findall(text)
    if len(records) != 1:
        count = "no record" if not records else f"{len(records)} records"
        raise RunoffError(
            f"{where} carries {count} of a dossier, of an order or of another sheet; give the HTML or PDF file that runoff wrote"
        )
    marks = tuple(Mark(one[0], one[1], one[2], int(one[3]), one[4]) for one in _MARK.findall(text))
    if len(marks) > MOST_MARKS:
        raise RunoffError(f"{where} marks {len(marks):,} numbers, more than {MOST_MARKS:,}; no sheet of runoff does")
    pictures = tuple(_PICTURE.findall(text))
    words = _MARK.sub(lambda one: f"<{HOLE}mark {one[2]}|{one[3]}|{one[4]}>", text)
    words = _PICTURE.sub(f'<img src="{HOLE}"', words)
    words = _RECORD.sub(f"<{HOLE}record>", words)
    return MaskedPage(words, marks, pictures, records[0])
