"""A look at a weather record before anything rests on it: what was checked, what was found, what to do.

Verdicts are words: ``good``, ``look`` (usable, but know this), ``stop`` (not usable as it is).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from runoff.saying.tables import Table
from runoff.weather.quality.checks import Check, all_checks
from runoff.weather.record.frames import as_weather

if TYPE_CHECKING:
    import pandas as pd

_MOST_CELLS = 64  # of a larger grid, so many cells spread over it are looked at
_ORDER = ("stop", "look", "good")


@dataclasses.dataclass(frozen=True)
class QualityReport:
    """The report as data; `str` gives the table a person reads.

    Parameters
    ----------
    title
        The record.
    checks
        One `Check` per line.
    """

    title: str
    checks: tuple[Check, ...]

    @property
    def verdict(self) -> str:
        """The worst verdict of all checks."""
        return _worst([check.verdict for check in self.checks])

    def to_dataframe(self) -> pd.DataFrame:
        """Return the checks as a table: name, verdict, found, advice."""
        import pandas as pd

        return pd.DataFrame([dataclasses.asdict(check) for check in self.checks])

    def shown(self) -> Table:
        """Return the verdicts as a table to print or to show, the advice below the line it belongs to."""
        rows = []
        for check in self.checks:
            word = check.verdict if check.verdict == "good" else check.verdict.upper()
            rows.append([word, check.name, check.found])
            if check.advice:
                rows.append(["", "", f"-> {check.advice}"])
        words = {
            "good": "The record can be used.",
            "look": "The record can be used; know what the lines marked LOOK say.",
            "stop": "The record cannot be used as it is; mend what the lines marked STOP say.",
        }
        title = f"Weather record: {self.title}"
        return Table(head=["", "", ""], rows=rows, align="<<<", title=title, notes=[words[self.verdict]])

    def __str__(self) -> str:
        """Return the verdict table as aligned text."""
        return str(self.shown())

    def _repr_html_(self) -> str:
        return self.shown().html()


def check_weather(weather: Any) -> QualityReport:
    """Check a weather record.

    Parameters
    ----------
    weather
        What `runoff.read_weather` returned, or any weather `runoff.simulate` accepts. Of several sites or a grid every
        cell is looked at (64 spread over a larger grid), and each line tells the worst of them.

    Returns
    -------
    QualityReport
        Length, gaps, flags, wrong-unit suspicion, extremes, dry runs, seasons, temperatures, evapotranspiration.

    Raises
    ------
    WeatherError
        When it is no weather at all: no rain, irregular steps, negative or impossible values.
    """
    data = as_weather(weather)
    title = str(data.attrs.get("title", "")) or "given series"
    cells = [str(dim) for dim in data["rain"].dims if dim != "time"]
    if not cells:
        return QualityReport(title, tuple(all_checks(data.load() if data.chunks else data)))
    return QualityReport(title, tuple(_of_cells(data, cells)))


def _of_cells(data: xr.Dataset, dims: list[str]) -> list[Check]:
    """Check the cells of a grid one by one and tell the worst of each check."""
    shape = tuple(data.sizes[dim] for dim in dims)
    size = int(np.prod(shape))
    chosen = np.unique(np.linspace(0, size - 1, min(size, _MOST_CELLS)).astype(int))
    places = dict(zip(dims, np.unravel_index(chosen, shape), strict=True))
    picked = data.isel(
        {dim: xr.DataArray(places[dim], dims="cell") for dim in dims}
    ).load()  # read together, chunk by chunk
    reports, empty = {}, 0
    for number in range(chosen.size):
        cell = picked.isel(cell=number)
        if bool(cell["rain"].isnull().all()):
            empty += 1
        else:
            reports[_place(cell, dims)] = all_checks(cell)
    spread = f"{chosen.size} of {size} cells looked at" if chosen.size < size else f"{size} cells"
    if not reports:
        return [Check("cells", "stop", f"{spread}, none holds any rain", "check the variable and the region")]
    note = f"{spread}, {empty} of them empty throughout (a mask)" if empty else spread
    return [Check("cells", "good", note), *_merged(reports)]


def _place(cell: xr.Dataset, dims: list[str]) -> str:
    words = []
    for dim in dims:
        value = cell[dim].item() if dim in cell.coords else "without a name"
        words.append(f"{dim} {value:g}" if isinstance(value, float) else f"{dim} {value}")
    return ", ".join(words)


def _merged(reports: dict[str, list[Check]]) -> list[Check]:
    names = list(dict.fromkeys(check.name for checks in reports.values() for check in checks))
    merged = []
    for name in names:
        found = {place: check for place, checks in reports.items() for check in checks if check.name == name}
        worst = _worst([check.verdict for check in found.values()])
        at = [place for place, check in found.items() if check.verdict == worst]
        first = found[at[0]]
        count = "" if worst == "good" else f"{len(at)} of {len(reports)} cells; "
        merged.append(Check(name, worst, f"{count}{at[0]}: {first.found}", first.advice))
    return merged


def _worst(verdicts: Sequence[str]) -> str:
    return next(word for word in _ORDER if word in verdicts)
