"""How sure a command is of what it prints: the first line of a claim, from the ranges of the roof."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

from runoff.errors import RunoffWarning

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    import xarray as xr

    from runoff.cli.parser import CommandParser
    from runoff.roof import Roof


#: Said in place of a range that was left out.
LEFT_OUT = "left out (--no-ranges). Claim no figure without its range."


def add_no_ranges(parser: CommandParser) -> None:
    """Add the choice to leave ranges out."""
    parser.add_argument(
        "--no-ranges", action="store_true", help="leave out how sure the figures are: quicker, for trying things out"
    )


def add_list_ranges(parser: CommandParser) -> None:
    """Add the choice to list what the range is made of."""
    parser.add_argument(
        "--list-ranges",
        action="store_true",
        help="list every property that is varied with its range and source, and the range by each cause alone",
    )


def ranges_listed(roof: Roof, weather: xr.Dataset, options: argparse.Namespace) -> str:
    """Return what was drawn for the range, each with its source, and the parts of the range apart, as two tables.

    Parameters
    ----------
    roof, weather, options
        As in `range_words`.

    Returns
    -------
    str
        Two tables and a line on the model's error; empty when the record is too short for a range.
    """
    from runoff.dossier.evidence_rows import source_rows
    from runoff.saying.tables import Table
    from runoff.sizing.likely_ranges import CATCH
    from runoff.sizing.result_tables import ranges_shown

    ranges = _drawn(roof, weather, options)
    if ranges is None:
        return ""
    rows = [
        [row["words"], row["taken"], row["drawn"], row["source"]]
        for row in source_rows(roof, options.units, every_source=True)
    ]
    rows.append(
        ["Rain: true over the gauge's", "1", f"{CATCH[0]:g} to {CATCH[1]:g}", "usual losses of gauges, from memory"]
    )
    methods = str(ranges.attrs["evaporation_methods"])
    rows.append(
        ["Reference evapotranspiration", methods.split(", ")[0], methods, "methods that the record allows, drawn alike"]
    )
    drawn = Table(head=["Drawn", "taken", "range", "source"], rows=rows, align="<<<<")
    parts = ranges_shown(ranges, units=options.units)
    return f"{drawn}\n\nParts of the range, 5 to 95 %\n\n{parts}\n\n{ranges.attrs['model']}"


def range_words(roof: Roof, weather: xr.Dataset, figures: Sequence[str], options: argparse.Namespace) -> str:
    """Return what is expected of some figures and what four roofs of five exceed, one sentence each.

    Parameters
    ----------
    roof, weather
        As the command got them; a record in shorter steps is summed to days.
    figures
        Figures of `runoff.first_line`.
    options
        What was typed; ``no_ranges``, ``et_method`` and ``units`` are read.

    Returns
    -------
    str
        The sentences; or one that says why no range is told.
    """
    if options.no_ranges:
        return LEFT_OUT
    from runoff.sizing import first_line
    from runoff.sizing.likely_ranges import LEAST_YEARS

    ranges = _drawn(roof, weather, options)
    if ranges is None:
        return f"no range is told, since it needs {LEAST_YEARS} years of weather or more."
    lines = [first_line(ranges, figure) for figure in figures]
    if lines[0].refused:
        return lines[0].words(options.units)
    last = lines.pop()
    return " ".join([*(line.words(options.units, brief=True) for line in lines), last.words(options.units)])


def _drawn(roof: Roof, weather: xr.Dataset, options: argparse.Namespace) -> xr.Dataset | None:
    """Return the ranges of the roof; None for a record that is too short."""
    from runoff.sizing import uncertainty
    from runoff.sizing.likely_ranges import LEAST_YEARS
    from runoff.time_steps import time_step
    from runoff.weather import daily_totals

    daily = daily_totals(weather) if time_step(weather["time"]).hours < 24.0 else weather
    if daily.sizes["time"] < LEAST_YEARS * 365:
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RunoffWarning)  # of few years: the line says it
        return uncertainty(roof, daily, et_method=options.et_method)
