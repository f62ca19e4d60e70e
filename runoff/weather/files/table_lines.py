"""The lines of a plain table: its header, its separator, and the cells of the columns that are asked for.

Cells are counted on every line before any is used, so that nothing shifts, is cut off or is passed over; the time taken
grows with the length of the file and with nothing else, however many columns there are.
"""

from __future__ import annotations

import collections
import csv
import io
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from runoff.errors import WeatherError, shown
from runoff.weather.files.table_layout import TableLayout

_MOST_COLUMNS = 2_000_000
_WIDE = 2_000  # columns
_SPACE = "space"  # any number of blanks
_MARKS = {"tab": "\t", " ": _SPACE}


class TableLines(NamedTuple):
    """A table before its cells are taken: column names, lines of values with their numbers, separator, cells on a line."""

    names: list[str | int]
    lines: list[str]
    numbers: np.ndarray
    separator: str
    width: int

    def cells(self, positions: Sequence[int] | None = None) -> pd.DataFrame:
        """Return cells as text, a column for each position (default: all, by name); the index holds the line numbers.

        Raises
        ------
        WeatherError
            When the lines cannot be taken apart.
        """
        if positions is not None and self.width > _WIDE:
            return self._few_of_many(sorted(set(positions)))
        if self.separator == _SPACE:
            text = "\n".join("\t".join(line.split()) for line in self.lines)
        else:
            text = "\n".join(self.lines)
        try:
            table = pd.read_csv(
                io.StringIO(text), sep="\t" if self.separator == _SPACE else self.separator, header=None, dtype=str,
                names=range(self.width), usecols=None if positions is None else sorted(set(positions)), index_col=False,
                keep_default_na=False, skipinitialspace=True, skip_blank_lines=False,
            )  # fmt: skip
        except (pd.errors.ParserError, ValueError, csv.Error):
            raise WeatherError(_open_quote(self.lines, self.numbers)) from None
        if len(table) != len(self.lines):  # a quotation mark that is never closed swallows lines
            raise WeatherError(_open_quote(self.lines, self.numbers))
        table.index = pd.Index(self.numbers)
        if positions is None:
            table = table[range(len(self.names))]
            table.columns = pd.Index(self.names)
        return table

    def _few_of_many(self, positions: Sequence[int]) -> pd.DataFrame:
        """Return a few columns of a very wide table, line by line: a parser that keeps all of them is slow."""
        rows = [_split(line, self.separator, n) for line, n in zip(self.lines, self.numbers, strict=True)]
        table = pd.DataFrame({at: [row[at].strip() for row in rows] for at in positions}, dtype=str)
        table.index = pd.Index(self.numbers)
        return table


def cells_of(text: str, layout: TableLayout) -> pd.DataFrame:
    """Return the cells of a plain table as text; the index holds the number of each line in the file.

    Raises
    ------
    WeatherError
        When there are no lines of values, or lines have more or fewer cells than the first.
    """
    return lines_of(text, layout).cells()


def lines_of(text: str, layout: TableLayout) -> TableLines:
    """Return header and lines of a plain table.

    Raises
    ------
    WeatherError
        When there are no lines of values, or lines have more or fewer cells than the first.
    """
    lines = text.split("\n")
    kept = [n for n in range(min(layout.skip_lines, len(lines)), len(lines)) if lines[n] and not lines[n].isspace()]
    mark = layout.comment
    head = lines[kept[0]] if kept else ""
    if mark:
        if layout.header and layout.skip_lines and head.lstrip().startswith(mark):
            head = head.lstrip()[len(mark) :]  # a header written as a comment
            kept = kept[:1] + [n for n in kept[1:] if not lines[n].lstrip().startswith(mark)]
        else:
            kept = [n for n in kept if not lines[n].lstrip().startswith(mark)]
            head = lines[kept[0]] if kept else ""
    if len(kept) < (2 if layout.header else 1):
        raise WeatherError("table: no lines of values; the file is empty or all of it was skipped")
    separator = _MARKS.get(layout.separator or "", layout.separator) or next(
        (one for one in (";", "\t", ",") if one in head), ","
    )
    if head.count(separator) > _MOST_COLUMNS:
        raise WeatherError(f"table: {head.count(separator) + 1:,} columns; the most is {_MOST_COLUMNS:,}")
    first = [cell.strip() for cell in _split(head, separator, kept[0] + 1)]
    rows = kept[1:] if layout.header else kept
    own = [lines[n] for n in rows]
    numbers = np.array(rows) + 1
    width = _even_width(own, numbers, separator, len(first), named=layout.header)
    names: list[str | int] = list(_told_apart(first)) if layout.header else list(range(width))
    return TableLines(names, own, numbers, separator, width)


def _split(line: str, separator: str, number: int) -> list[str]:
    if separator == _SPACE:
        return line.split()
    if '"' not in line:
        return line.split(separator)
    try:
        return next(csv.reader([line], delimiter=separator, skipinitialspace=True))
    except csv.Error as error:
        raise WeatherError(f"table: line {number} cannot be split into cells ({error})") from None


def _even_width(lines: list[str], numbers: np.ndarray, separator: str, expected: int, *, named: bool) -> int:
    """Return the number of cells on every line; refuse lines with more or fewer.

    A separator at the end of each line makes a last cell without a name and without a value, which is none.
    """
    if separator == _SPACE:
        counts = np.array([len(line.split()) for line in lines])
    elif any('"' in line for line in lines):
        split = [len(_split(line, separator, n)) for line, n in zip(lines, numbers, strict=True)]
        counts = np.array(split)
    else:
        counts = np.array([line.count(separator) for line in lines]) + 1
    ends = separator.strip() or separator
    if named and (counts == expected + 1).all() and all(line.rstrip().endswith(ends) for line in lines):
        return expected + 1
    uneven = np.flatnonzero(counts != expected)
    if uneven.size:
        i = uneven[0]
        count = f"{uneven.size} lines have more or fewer (first " if uneven.size > 1 else "1 line has more or fewer ("
        raise WeatherError(
            f'table: {expected} cell{"s are" if expected > 1 else " is"} expected on each line, {count}line {numbers[i]}: {counts[i]}, "{shown(lines[i].strip())}"); a '
            "decimal comma beside a comma as separator, or a line cut short?"
        )
    return expected


def _told_apart(names: list[str]) -> list[str]:
    """Return the names with a number behind each one that comes again, ``rain``, ``rain.1``."""
    if len(set(names)) == len(names):
        return names
    count = collections.Counter(names)
    seen: collections.Counter[str] = collections.Counter()
    result = []
    for name in names:
        result.append(name if count[name] == 1 or not seen[name] else f"{name}.{seen[name]}")
        seen[name] += 1
    return result


def _open_quote(lines: list[str], numbers: np.ndarray) -> str:
    odd = [n for line, n in zip(lines, numbers, strict=True) if line.count('"') % 2]
    if odd:
        return f"table: a quotation mark on line {odd[0]} is never closed; what follows it cannot be split into cells"
    return "table: some lines cannot be split into cells; is a cell longer than a page, or are there quotation marks inside?"
