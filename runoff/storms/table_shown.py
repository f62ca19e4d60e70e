"""A depth-duration table as a table a person reads, in SI or US customary units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.saying.scales import in_order, shown, unit_words
from runoff.saying.tables import Table
from runoff.storms._durations import words_of

if TYPE_CHECKING:
    from runoff.storms.depth_duration import DepthDurationTable


def depth_duration_shown(table: DepthDurationTable, *, units: str = "si") -> Table:
    """Return the depths of a table, one row per duration, one column per return period.

    Parameters
    ----------
    table
        What `runoff.read_depth_duration` returned.
    units
        ``"si"`` or ``"us"``.
    """
    rows = [
        [words_of(minutes), *(shown(depth, "mm", "depth", units).text for depth in depths)]
        for minutes, depths in zip(table.durations_min, table.depths_mm, strict=True)
    ]
    unit = unit_words(shown(0.0, "mm", "depth", units).unit)
    heads = [f"{years:g} years,\n{unit}" for years in table.return_periods_years]
    notes = [f"Depth of rain by duration and return period ({table.series} series; {table.source}).", *table.notes]
    notes = [in_order(note, units) for note in notes]
    return Table(head=["duration", *heads], rows=rows, notes=notes)
