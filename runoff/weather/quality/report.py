"""A look at a weather record before anything rests on it: what was checked, what was found, what to do.

Verdicts are words: ``good``, ``look`` (usable, but know this), ``stop`` (not usable as it is).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from runoff.errors import WeatherError
from runoff.saying.scales import require_system
from runoff.saying.sentences import in_us_units
from runoff.saying.tables import Table
from runoff.weather.quality.checks import all_checks
from runoff.weather.quality.refusing import place_words
from runoff.weather.quality.report_line import Check
from runoff.weather.quality.two_gauges import compare_gauges
from runoff.weather.quality.years import yearly_totals, years_table
from runoff.weather.record.frames import as_weather
from runoff.weather.record.time_axis import counted

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
        One `Check` per line; of several cells each line tells the worst of them.
    years
        Rain of each calendar year and what is missing of it, see `runoff.weather.quality.years.yearly_totals`; None for
        several cells.
    sites
        Of several sites the verdict of each, and the checks that made it.
    units
        ``"si"`` or ``"us"``: the units of all words; the numbers of `years` stay in mm.
    """

    title: str
    checks: tuple[Check, ...]
    years: pd.DataFrame | None = dataclasses.field(default=None, compare=False, repr=False)
    sites: tuple[tuple[str, str, str], ...] = ()
    units: str = "si"

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
            rows.append([_word(check.verdict), check.name, check.found])
            if check.advice:
                rows.append(["", "", f"-> {check.advice}"])
        words = {
            "good": "The record can be used.",
            "look": "The record can be used; read the lines marked LOOK first.",
            "stop": "The record cannot be used as it is; correct what the lines marked STOP name.",
        }
        title = f"Weather record: {self.title}"
        note = self._of_the_sites() or words[self.verdict]
        return Table(head=["", "", ""], rows=rows, align="<<<", title=title, notes=[note])

    def _of_the_sites(self) -> str:
        """Say which of several sites can be used, where some cannot."""
        usable = [site for site, verdict, _ in self.sites if verdict != "stop"]
        if not usable or len(usable) == len(self.sites):
            return ""
        more = f" and {len(usable) - 3} more" if len(usable) > 3 else ""
        return (
            f"{len(usable)} of {len(self.sites)} sites can be used ({', '.join(usable[:3])}{more}): choose one, for example "
            f'site="{usable[0]}"; the others need what the lines marked STOP say.'
        )

    def _details(self) -> list[Table]:
        """Return the sites and the years as tables, as far as there are any."""
        tables = []
        if self.sites:
            sites = [[_word(verdict), site, why] for site, verdict, why in self.sites]
            tables.append(Table(head=["", "", ""], rows=sites, align="<<<", title="Site by site"))
        if self.years is not None:
            tables.append(years_table(self.years, self.units))
        return tables

    def __str__(self) -> str:
        """Return the verdict table as aligned text, then sites and years; the verdict in words stands last."""
        table = self.shown()
        parts = [str(dataclasses.replace(table, notes=())), *map(str, self._details()), *table.notes]
        return "\n\n".join(parts)

    def _repr_html_(self) -> str:
        return "".join(table.html() for table in (self.shown(), *self._details()))


def check_weather(weather: Any, *, other: Any = None, units: str = "si") -> QualityReport:
    """Check a weather record.

    Parameters
    ----------
    weather
        What `runoff.read_weather` returned, or any weather `runoff.simulate` accepts. Of several sites or a grid every
        cell is looked at (64 spread over a larger grid), and each line tells the worst of them.
    other
        Rain of a second gauge (weather, or a pandas Series of mm per step), held against the first day by day: one more line
        names sums, ratio, days and months in which the two disagree. Nothing is averaged.
    units
        ``"si"`` or ``"us"``: the units of the report.

    Returns
    -------
    QualityReport
        Length, gaps, flags, wrong-unit suspicion, extremes, dry runs, seasons, temperatures, evapotranspiration.

    Raises
    ------
    WeatherError
        When it is no weather at all: no rain, irregular steps, negative or impossible values; or when the other gauge
        has no day in common with it.
    RunoffError
        When `units` is no system of units.
    """
    require_system(units)
    data = as_weather(weather)
    title = str(data.attrs.get("title", "")) or "given series"
    cells = [str(dim) for dim in data["rain"].dims if dim != "time"]
    if not cells:
        one = data.load() if data.chunks else data
        beside = [] if other is None else [compare_gauges(one, other, names=_names(data, title, other)).check()]
        checks = (*all_checks(one, compared=bool(beside)), *beside)
        return QualityReport(title, _in_units(checks, units), years=yearly_totals(one), units=units)
    if other is not None:
        raise WeatherError("check_weather: a second gauge is compared with one series of rain; choose a cell or a site")
    merged, reports = _of_cells(data, cells)
    named = () if {"lat", "lon"} & set(cells) else tuple(_verdict_of(site, lines) for site, lines in reports.items())
    return QualityReport(title, _in_units(merged, units), sites=named, units=units)


def check_sites(sites: Mapping[str, xr.Dataset | Check], *, title: str, units: str = "si") -> QualityReport:
    """Check the sites of a file that were read one by one.

    Parameters
    ----------
    sites
        Name of each site -> its record, or the check that says why it cannot be read.
    title
        The file.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    QualityReport
        Each line tells the worst of the sites, and every site has its own verdict.
    """
    reports = {
        name: [one] if isinstance(one, Check) else all_checks(one.load() if one.chunks else one)
        for name, one in sites.items()
    }
    checks = [Check("sites", "good", counted(len(sites), "site")), *_merged(reports, "sites")]
    named = tuple(_verdict_of(site, lines) for site, lines in reports.items())
    return QualityReport(title, _in_units(checks, units), sites=named, units=units)


def _in_units(checks: Sequence[Check], units: str) -> tuple[Check, ...]:
    """Return the checks with their words in a system of units."""
    if units == "si":
        return tuple(checks)
    return tuple(
        dataclasses.replace(one, found=in_us_units(one.found), advice=in_us_units(one.advice)) for one in checks
    )


def _names(data: xr.Dataset, title: str, other: Any) -> tuple[str, str]:
    """Return what the two gauges are called; of one file they are columns."""
    told = getattr(other, "attrs", {})
    second = str(told.get("title", ""))
    if not second or second == title:
        return "the gauge used", "the other gauge"
    same = data.attrs.get("sha256") and data.attrs.get("sha256") == told.get("sha256")
    return "the column used" if same else title, second


def _verdict_of(site: str, checks: list[Check]) -> tuple[str, str, str]:
    worst = _worst([check.verdict for check in checks])
    return site, worst, "" if worst == "good" else ", ".join(check.name for check in checks if check.verdict == worst)


def _of_cells(data: xr.Dataset, dims: list[str]) -> tuple[list[Check], dict[str, list[Check]]]:
    """Check the cells of a grid one by one and tell the worst of each check, and all of them by cell."""
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
            reports[place_words(cell, dims)] = all_checks(cell)
    spread = f"{chosen.size} of {size} cells looked at" if chosen.size < size else f"{size} cells"
    if not reports:
        return [Check("cells", "stop", f"{spread}, none holds any rain", "check the variable and the region")], {}
    note = f"{spread}, {empty} of them empty throughout (a mask)" if empty else spread
    return [Check("cells", "good", note), *_merged(reports)], reports


def _merged(reports: dict[str, list[Check]], places: str = "cells") -> list[Check]:
    names = list(dict.fromkeys(check.name for checks in reports.values() for check in checks))
    merged = []
    for name in names:
        found = {place: check for place, checks in reports.items() for check in checks if check.name == name}
        worst = _worst([check.verdict for check in found.values()])
        at = [place for place, check in found.items() if check.verdict == worst]
        first = found[at[0]]
        count = "" if worst == "good" else f"{len(at)} of {len(reports)} {places}; "
        merged.append(Check(name, worst, f"{count}{at[0]}: {first.found}", first.advice))
    return merged


def _word(verdict: str) -> str:
    return verdict if verdict == "good" else verdict.upper()


def _worst(verdicts: Sequence[str]) -> str:
    return next(word for word in _ORDER if word in verdicts)
