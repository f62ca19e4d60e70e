"""A text file that holds several sites one below the other: which they are, and the lines of one of them."""

from __future__ import annotations

import csv
from typing import NoReturn

from runoff.errors import WeatherError, nearest, shown
from runoff.weather.files.table_layout import TableLayout
from runoff.weather.files.table_lines import TableLines, lines_of

_NAMED = 3  # sites in a message
_DLY_STATION = 11  # characters


def named(sites: list[str]) -> str:
    """Return the first sites in words, ``North, South and 3 more``."""
    more = f" and {len(sites) - _NAMED} more" if len(sites) > _NAMED else ""
    return ", ".join(map(shown, sites[:_NAMED])) + more


def several_words(sites: list[str], kind: str) -> str:
    """Return the refusal of a file of which nobody said which of its sites is meant."""
    return f'{len(sites)} {kind} in one file ({named(sites)}); choose one, site="{shown(sites[0])}"'


def station_lines(text: str, site: str, *, is_dly: bool) -> str:
    """Return a station file with the lines of the other stations left empty, so that lines keep their numbers.

    Parameters
    ----------
    text
        The whole file.
    site
        The station that is meant, as the file writes it.
    is_dly
        Whether the lines are of fixed width, a month each, rather than separated by commas.

    Returns
    -------
    str
        The file with the lines of that station and those of none; as many lines as before.

    Raises
    ------
    WeatherError
        When no line is of that station.
    """
    lines = text.split("\n")
    marks = _stations_of_lines(lines, is_dly=is_dly)
    if site not in marks:
        _refuse_unknown(site, list(dict.fromkeys(mark for mark in marks if mark)), "station")
    return "\n".join(line if mark in (site, None) else "" for line, mark in zip(lines, marks, strict=True))


def stations_of(text: str, *, is_dly: bool) -> list[str]:
    """Return the stations of a station file, in the order in which they come."""
    return list(dict.fromkeys(mark for mark in _stations_of_lines(text.split("\n"), is_dly=is_dly) if mark))


def _stations_of_lines(lines: list[str], *, is_dly: bool) -> list[str | None]:
    """Return the station of each line: None for the line of names, nothing for an empty line."""
    if is_dly:
        return [line[:_DLY_STATION] if line.strip() else "" for line in lines]
    first = _cells(lines[0])
    upper = [cell.upper() for cell in first]
    at = upper.index("STATION") if "STATION" in upper else upper.index("ID") if "ID" in upper else None
    marks: list[str | None] = [(cells[at or 0] if len(cells := _cells(line)) > (at or 0) else "") for line in lines]
    return marks if at is None else [None, *marks[1:]]


def _cells(line: str) -> list[str]:
    if '"' not in line:
        return [cell.strip() for cell in line.split(",")]
    try:
        return [cell.strip() for cell in next(csv.reader([line], skipinitialspace=True))]
    except csv.Error:
        return []


def site_lines(lines: TableLines, column: int, site: str | None) -> TableLines:
    """Return the lines of one site of a plain table.

    Parameters
    ----------
    lines
        The table.
    column
        Where the sites are named.
    site
        The one that is meant; None where the table may hold one only.

    Returns
    -------
    TableLines
        The lines of that site with their numbers in the file.

    Raises
    ------
    WeatherError
        When the table holds several sites and none is chosen, or not the one that is.
    """
    cells = lines.cells([column])[column].str.strip()
    sites = cells.unique().tolist()
    if site is None:
        if len(sites) > 1:
            raise WeatherError(f"table: {several_words(sites, 'sites')}")
        return lines
    if site not in sites:
        _refuse_unknown(site, sites, "site")
    kept = (cells == site).to_numpy().nonzero()[0]
    return lines._replace(lines=[lines.lines[at] for at in kept], numbers=lines.numbers[kept])


def sites_of_table(text: str, layout: TableLayout) -> list[str]:
    """Return the sites of a plain table whose layout says in which column they are named."""
    lines = lines_of(text, layout)
    at = column_of_sites(lines, layout)
    return [] if at is None else lines.cells([at])[at].str.strip().unique().tolist()


def column_of_sites(lines: TableLines, layout: TableLayout) -> int | None:
    """Return where the sites of a plain table are named; None where the layout says no such column.

    Raises
    ------
    WeatherError
        When there is no such column.
    """
    if layout.site_column is None:
        return None
    names = [str(name) for name in lines.names]
    if layout.site_column in names:
        return names.index(layout.site_column)
    if layout.site_column.isdecimal() and int(layout.site_column) < len(names):
        return int(layout.site_column)
    raise WeatherError(
        f'layout: there is no column "{shown(layout.site_column)}" with the names of sites{nearest(layout.site_column, names)}'
    )


def _refuse_unknown(site: str, sites: list[str], kind: str) -> NoReturn:
    raise WeatherError(f'there is no {kind} "{shown(site)}" in the file{nearest(site, sites)}; it holds {named(sites)}')
