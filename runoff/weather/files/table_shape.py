"""The shape of an unknown table, found by looking: its separator, its head, its line of names, its lines of values.

Nothing here is used to read a file; it only serves to propose how to read one.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from typing import NamedTuple

_MOST_LINES, _MOST_CHARACTERS = 120_000, 6_000_000  # looked at: more than a year of 5 minutes
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_CLOCK = r"\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?"
_DATE = re.compile(
    rf"(\d{{4}}[-/.]\d{{1,2}}[-/.]\d{{1,2}}|\d{{1,2}}[./-]\d{{1,2}}[./-]\d{{2,4}})([T ]{_CLOCK})?(Z|[+-]\d\d:?\d\d)?|{_CLOCK}"
)
_MARKS = (",", ";", "\t", "|", "space", "")
_COMMENTS = "#!%"
_FIRST_LINES = 3_000  # in which head, names and separator are looked for


class TableShape(NamedTuple):
    """Where the parts of a table are.

    Parameters
    ----------
    separator
        One character, ``"space"``, or nothing for one value on each line.
    head
        Lines before the names, or before the values where there are no names.
    names
        Column names, or None where no line holds any.
    rows
        Cells of the lines of values that were looked at, as many on each as there are names.
    """

    separator: str
    head: list[str]
    names: list[str] | None
    rows: list[list[str]]


def find_shape(text: str) -> TableShape | None:
    """Return the shape of a table, or None where there is none.

    Parameters
    ----------
    text
        The file, with plain newlines.
    """
    lines = text[:_MOST_CHARACTERS].split("\n", _MOST_LINES)[:_MOST_LINES]
    if len(text) > _MOST_CHARACTERS:
        lines = lines[:-1]  # the last one may be cut off
    first = lines[:_FIRST_LINES]
    found = [(shape, quality) for mark in _MARKS for shape, quality in [_with(mark, first)] if shape is not None]
    if not found:
        return None
    # most lines first, then the separator under which most cells are values
    best = max(found, key=lambda one: (round(len(one[0].rows), -1), one[1], len(one[0].rows[0])))[0]
    width = len(best.rows[0])
    more = [row[:width] for line in lines[_FIRST_LINES:] if len(row := _cells(line, best.separator)) >= width]
    return best._replace(rows=[*best.rows, *more])


def _cells(line: str, separator: str) -> list[str]:
    """Return the cells of a line without quotation marks around them."""
    if separator == "space":
        return line.split()
    if not separator:
        return [line.strip()]
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator, skipinitialspace=True))]
    except (csv.Error, StopIteration):
        return []


def _with(separator: str, lines: list[str]) -> tuple[TableShape | None, float]:
    """Return the shape under one separator, and the share of its cells that are values."""
    split = [_cells(line, separator) if line.strip() else [] for line in lines]
    counts = Counter(len(row) for row in split if _holds_values(row))
    if separator:
        del counts[1]
    width = max(counts, key=lambda one: (counts[one], one), default=0)
    if counts[width] < 2:
        return None, 0.0
    first = next(n for n, row in enumerate(split) if len(row) == width and _holds_values(row))
    after = [row for row in split[first:] if row]
    rows = [row for row in after if len(row) == width]
    if len(rows) < 0.9 * len(after):
        return None, 0.0
    names, end = _names_above(lines, first, separator, width, rows)
    if names is not None and len(names) == width - 1:
        rows = [row[:-1] for row in rows]
    sample = rows[:: max(1, len(rows) // 500)]
    filled = [cell for row in sample for cell in row if cell]
    quality = sum(is_value(cell) for cell in filled) / max(1, len(filled))
    return TableShape(separator, lines[:end], names, rows), quality


def _names_above(
    lines: list[str], first: int, separator: str, width: int, rows: list[list[str]]
) -> tuple[list[str] | None, int]:
    """Return the names on the last line above the values, if it holds any, and how many lines stand before them."""
    at = next((n for n in range(first - 1, -1, -1) if lines[n].strip()), None)
    if at is None or not separator:
        return None, first
    commented = lines[at].lstrip()[:1] in tuple(_COMMENTS)
    if commented and at == 0:
        return None, first  # a first line behind a comment mark is passed over by the reader: columns go by number
    names = _cells(lines[at].lstrip().lstrip(_COMMENTS) if commented else lines[at], separator)
    ends_empty = len(names) == width - 1 and not any(row[-1] for row in rows)
    if (len(names) == width or ends_empty) and not _holds_values(names):
        return names, at
    return None, first


def is_value(cell: str) -> bool:
    """Tell a number or a date from other text."""
    return bool(_NUMBER.fullmatch(cell) or _DATE.fullmatch(cell))


def _holds_values(row: list[str]) -> bool:
    """Tell a line of values from one of names or of prose: half of its cells are numbers, dates or empty."""
    filled = [cell for cell in row if cell]
    values = sum(is_value(cell) for cell in filled)
    return values >= 1 and 2 * values >= len(filled)
