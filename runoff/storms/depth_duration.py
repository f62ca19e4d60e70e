"""Depth-duration-frequency tables: how much rain falls in 5 minutes, an hour, a day, once in T years.

A `DepthDurationTable` comes from a public station file or a plain CSV (`read_depth_duration`), is typed
(`DepthDurationTable.from_rows`), or is made from the return levels of a record of one's own
(`DepthDurationTable.from_dataarray`). It is checked when it is made and cannot be changed afterwards.

Between durations depth is a straight line on log-log paper. Between return periods it is a straight line
against the Gumbel reduced variate ``y = -ln(-ln(1 - 1/T))`` of an annual-maximum series; for a partial-duration
series ``T_am = 1/(1 - exp(-1/T_pd))`` (FHWA HDS-2, 2002, Table 4.2) makes that variate ``y = ln T_pd``. Nothing is
extrapolated.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import RunoffWarning, StormError, nearest, raise_faults
from runoff.storms._durations import minutes_of, words_of
from runoff.units import convert, unit_dimension

if TYPE_CHECKING:
    import xarray as xr

SERIES_KINDS = ("annual-maximum", "partial-duration")

# Envelope of the largest rains ever measured at a point, depth = 422 mm x (hours)^0.475. From memory, so it only
# serves to recognise wrong units: no table of a 1000-year return period comes near it.
_WORLD_RECORD_MM, _WORLD_RECORD_EXPONENT = 422.0, 0.475
# Latitudes further apart than this are not the same place: 56 km. Common practice, no source.
_PLACE_APART_DEG = 0.5
# Less than this in six hours or more, even at the longest return period, is what a table in inches looks like. From
# memory of desert stations, so it warns and does not refuse.
_LOOKS_LIKE_INCHES_MM, _LOOKS_LIKE_INCHES_FROM_MIN = 20.0, 360.0


@dataclass(frozen=True, kw_only=True)
class DepthDurationCurve:
    """Depth against duration for one return period: a column of a `DepthDurationTable`.

    Parameters
    ----------
    durations_min, depths_mm
        Rising durations and their depths, same length.
    return_period_years
        The return period the depths belong to.
    source, series, notes
        Where the depths come from, of which kind of series, and what else is to be said of them.
    """

    durations_min: tuple[float, ...]
    depths_mm: tuple[float, ...]
    return_period_years: float
    source: str
    series: str
    notes: tuple[str, ...] = ()

    def depth_mm(self, minutes: Any) -> np.ndarray:
        """Return the depth, mm, of durations in minutes: a straight line between table rows on log-log paper.

        Raises
        ------
        StormError
            When a duration lies outside the table.
        """
        asked = np.asarray(minutes, dtype=float)
        _refuse_outside(asked, self.durations_min)
        logs = np.interp(np.log(asked), np.log(self.durations_min), np.log(self.depths_mm))
        return np.exp(logs)


@dataclass(frozen=True, kw_only=True)
class DepthDurationTable:
    """Depths of rain by duration and return period, checked and frozen.

    Parameters
    ----------
    durations_min
        Durations, minutes, rising.
    return_periods_years
        Return periods, years, rising. More than one year for an annual-maximum series.
    depths_mm
        One row per duration, one depth (mm) per return period.
    series
        ``"annual-maximum"`` or ``"partial-duration"``: decides the spacing between return periods.
    source
        File name or words, carried into every storm.
    low_mm, high_mm
        Ends of the interval around each depth (same shape), where the source prints one or a fit gives one.
    latitude_deg
        Latitude of the place, degrees north, where known: a table from elsewhere than the roof is questioned
        (`place_doubt`).
    notes
        What else is to be said of the depths; carried into every storm.

    Raises
    ------
    StormError
        With every fault of the table in one message.
    """

    durations_min: tuple[float, ...]
    return_periods_years: tuple[float, ...]
    depths_mm: tuple[tuple[float, ...], ...]
    series: str
    source: str = "typed"
    low_mm: tuple[tuple[float, ...], ...] | None = None
    high_mm: tuple[tuple[float, ...], ...] | None = None
    latitude_deg: float | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.series not in SERIES_KINDS:
            known = " or ".join(f'"{kind}"' for kind in SERIES_KINDS)
            raise StormError(
                f'{self.source}: series "{self.series}" must be {known}{nearest(self.series, SERIES_KINDS)}'
            )
        raise_faults(self.source, _shape_faults(self), StormError)
        raise_faults(self.source, _depth_faults(self), StormError)

    @classmethod
    def from_rows(
        cls,
        rows: Mapping[Any, Sequence[float]],
        *,
        return_periods_years: Sequence[float],
        units: str,
        series: str = "annual-maximum",
        source: str = "typed",
        latitude_deg: float | None = None,
        notes: Sequence[str] = (),
    ) -> DepthDurationTable:
        """Make a table from typed rows of depths or intensities.

        Parameters
        ----------
        rows
            Duration -> one value per return period, in the unit given, for example ``{"5min": [8.1, 10.4], "1h": [21.9, 29.1]}``.
        return_periods_years
            The return periods of the columns, years.
        units
            ``"mm"`` or ``"in"`` for depths, ``"mm/h"`` or ``"in/h"`` for intensities (any unit of those kinds).
        series, source, latitude_deg, notes
            As in the class.

        Returns
        -------
        DepthDurationTable
            The table, in mm.

        Raises
        ------
        StormError
            With every fault of the table: lengths, order, missing values, intensities given as depths and the
            reverse.

        Examples
        --------
        >>> rows = {"30min": [9, 12], "1h": [11, 15]}
        >>> table = DepthDurationTable.from_rows(rows, return_periods_years=[2, 10], units="mm")
        >>> table.depth("1h", 10)
        15.0
        """
        minutes = [minutes_of(duration, "duration", source) for duration in rows]
        kind = unit_dimension(units)
        if kind not in ("depth", "intensity"):
            raise StormError(
                f'{source}: units "{units}" measure {kind}; give depths (mm, in) or intensities (mm/h, in/h)'
            )
        if len(return_periods_years) == 0:
            raise StormError(
                f"{source}: no return periods; give return_periods_years, one per column, for example [2, 10, 100]"
            )
        raise_faults(source, _length_faults(minutes, list(rows.values()), return_periods_years), StormError)
        given = np.array([list(row) for row in rows.values()], dtype=float).reshape(len(minutes), -1)
        order = np.argsort(minutes, kind="stable")
        minutes_up, given = np.asarray(minutes)[order], given[order]
        _refuse_swapped(given, kind, units, source)
        depths = (
            convert(given, units, "mm") if kind == "depth" else convert(given, units, "mm/h") * minutes_up[:, None] / 60
        )
        if units == "mm":
            _warn_if_inches(depths, minutes_up, source)
        return cls(
            durations_min=tuple(minutes_up.tolist()),
            return_periods_years=tuple(float(years) for years in return_periods_years),
            depths_mm=tuple(map(tuple, depths.tolist())),
            series=series,
            source=source,
            latitude_deg=latitude_deg,
            notes=tuple(notes),
        )

    @classmethod
    def from_dataarray(
        cls, depths: xr.DataArray, *, source: str | None = None, series: str | None = None
    ) -> DepthDurationTable:
        """Make a table from a labelled array on ``duration`` (minutes) and ``return_period`` (years), in mm.

        The ``depth`` of `runoff.storms.extremes.return_levels` is such an array, so a record of one's own
        gives design storms in the same way as a published table.

        Parameters
        ----------
        depths
            Depths, mm, on ``duration`` (minutes) and ``return_period`` (years).
        source, series
            As in the class; default what the attributes of `depths` say.

        Returns
        -------
        DepthDurationTable
            The table.

        Raises
        ------
        StormError
            For an array on other dimensions, and as in `from_rows`.
        """
        if set(depths.dims) != {"duration", "return_period"}:
            raise StormError(
                f"DepthDurationTable: the depths lie on {', '.join(map(str, depths.dims)) or 'no dimension'}; give an array on "
                "duration and return_period, as the `depth` of runoff.return_levels is"
            )
        ordered = depths.transpose("duration", "return_period")
        return cls(
            durations_min=tuple(float(minutes) for minutes in ordered["duration"].values),
            return_periods_years=tuple(float(years) for years in ordered["return_period"].values),
            depths_mm=tuple(map(tuple, ordered.values.tolist())),
            series=series or depths.attrs.get("series", "annual-maximum"),
            source=source or str(depths.attrs.get("source", "typed")),
        )

    def to_dataarray(self) -> xr.DataArray:
        """Return the depths as a labelled array on ``duration`` (minutes) and ``return_period`` (years)."""
        import xarray as xr

        return xr.DataArray(
            np.array(self.depths_mm),
            dims=("duration", "return_period"),
            coords={
                "duration": ("duration", list(self.durations_min), {"units": "min", "long_name": "duration"}),
                "return_period": (
                    "return_period",
                    list(self.return_periods_years),
                    {"units": "years", "long_name": "return period"},
                ),
            },
            name="depth",
            attrs={"units": "mm", "long_name": "depth of rain", "series": self.series, "source": self.source},
        )

    def curve(self, return_period_years: float | None) -> DepthDurationCurve:
        """Return depth against duration for one return period, interpolated between columns when needed.

        Raises
        ------
        StormError
            When no return period is given, or one outside the table.
        """
        years = self._known_period(return_period_years)
        variate = [reduced_variate(period, self.series) for period in self.return_periods_years]
        asked = reduced_variate(years, self.series)
        return DepthDurationCurve(
            durations_min=self.durations_min,
            depths_mm=tuple(float(np.interp(asked, variate, row)) for row in self.depths_mm),
            return_period_years=years,
            source=self.source,
            series=self.series,
            notes=self.notes,
        )

    def depth(self, duration: Any, return_period_years: float) -> float:
        """Return the depth, mm, of one duration and return period.

        Raises
        ------
        StormError
            When either lies outside the table.
        """
        return float(self.curve(return_period_years).depth_mm(minutes_of(duration, "duration", self.source)))

    def intensity(self, duration: Any, return_period_years: float) -> float:
        """Return the mean intensity, mm/h, over one duration for one return period."""
        hours = minutes_of(duration, "duration", self.source) / 60.0
        return self.depth(duration, return_period_years) / hours

    def interval(self, duration: Any, return_period_years: float) -> tuple[float, float] | None:
        """Return the ends of the interval around a depth, mm, or None where the source has none.

        Raises
        ------
        StormError
            When duration or return period lies outside the table.
        """
        if self.low_mm is None or self.high_mm is None:
            return None
        minutes = minutes_of(duration, "duration", self.source)
        _refuse_outside(np.asarray(minutes), self.durations_min)
        variate = [reduced_variate(years, self.series) for years in self.return_periods_years]
        asked = reduced_variate(self._known_period(return_period_years), self.series)
        low, high = (
            np.interp(np.log(minutes), np.log(self.durations_min), [np.interp(asked, variate, row) for row in rows])
            for rows in (self.low_mm, self.high_mm)
        )
        return float(low), float(high)

    def _known_period(self, years: float | None) -> float:
        known = self.return_periods_years
        listed = ", ".join(f"{period:g}" for period in known)
        if years is None:
            raise StormError(f"{self.source}: return_period_years is missing; the table has {listed} years")
        if not known[0] <= years <= known[-1]:
            raise StormError(
                f"{self.source}: return period {years:g} years is outside the table, which has {listed} years; "
                "nothing is extrapolated: give return periods within it"
            )
        return float(years)


def place_doubt(table: DepthDurationTable, latitude_deg: float | None) -> str:
    """Return what is doubtful about using a table at a latitude (degrees north), in words; nothing where all is well.

    A difference of more than half a degree, 56 km, is questioned (common practice, no source), and the other side of the
    equator by name. Without both latitudes nothing can be said.
    """
    if table.latitude_deg is None or latitude_deg is None:
        return ""
    apart = abs(table.latitude_deg - latitude_deg)
    if apart <= _PLACE_APART_DEG:
        return ""
    where = f"{table.source} is of latitude {table.latitude_deg:.2f}, the roof is at {latitude_deg:.2f}"
    if table.latitude_deg * latitude_deg < 0.0:
        return f"{where}, in the other hemisphere; take a table of the roof's own place (or correct the sign of a latitude)"
    return f"{where}, at least {111.0 * apart:.0f} km away; take a table of the roof's own place"


def reduced_variate(return_period_years: float, series: str) -> float:
    """Return the Gumbel reduced variate of a return period.

    ``-ln(-ln(1 - 1/T))`` for annual maxima; ``ln T`` for a partial-duration series, which is the same thing after
    ``T_am = 1/(1 - exp(-1/T_pd))``.
    """
    if series == "partial-duration":
        return math.log(return_period_years)
    return -math.log(-math.log1p(-1.0 / return_period_years))


def _length_faults(minutes: Sequence[float], rows: Sequence[Sequence[float]], years: Sequence[float]) -> list[str]:
    return [
        f"{words_of(duration)} has {len(row)} values for {len(years)} return periods; give one value per return period"
        for duration, row in zip(minutes, rows, strict=True)
        if len(row) != len(years)
    ]


def _shape_faults(table: DepthDurationTable) -> list[str]:
    """Return faults of durations, return periods and missing cells."""
    durations, years = table.durations_min, table.return_periods_years
    faults = []
    if len(durations) < 2:
        faults.append(f"{len(durations)} duration(s); a table needs at least two")
    if not years:
        faults.append("no return periods; name them, for example 2, 10, 100 years")
    faults += [f"duration {words_of(b)} is given twice" for a, b in pairwise(durations) if a == b]
    for what, values, words in (
        ("durations", durations, words_of),
        ("return periods", years, lambda t: f"{t:g} years"),
    ):
        faults += [f"{what} must rise: {words(b)} follows {words(a)}" for a, b in pairwise(values) if b < a]
    lowest = 1.0 if table.series == "annual-maximum" else 0.0
    for period in years:
        if not period > lowest:
            faults.append(
                f"a return period of {period:g} years has no meaning in an {table.series} series; "
                'leave the column out, or say series="partial-duration" if that is what the source says'
                if lowest
                else f"a return period of {period:g} years has no meaning; it must be more than zero"
            )
    if len(table.depths_mm) != len(durations):
        faults.append(f"{len(table.depths_mm)} rows of depths for {len(durations)} durations")
    for duration, row in zip(durations, table.depths_mm, strict=False):
        if len(row) != len(years):
            faults.append(f"{words_of(duration)} has {len(row)} depths for {len(years)} return periods")
        faults += [
            f"{words_of(duration)}, {period:g} years: depth is missing; fill it in or leave the row or column out"
            if math.isnan(depth)
            else f"{words_of(duration)}, {period:g} years: depth {depth:g} mm must be more than zero"
            for period, depth in zip(years, row, strict=False)
            if not depth > 0.0
        ]
    return faults


def _depth_faults(table: DepthDurationTable) -> list[str]:
    """Return faults of monotony, and depths beyond anything ever measured."""
    durations, years = np.array(table.durations_min), table.return_periods_years
    depths = np.array(table.depths_mm)
    intensities = depths / durations[:, None] * 60.0
    rounding = 1.005  # tables print three digits, so an equal intensity may seem to rise by half a per cent
    faults = []
    for row, column in zip(*np.nonzero(np.diff(depths, axis=0) < 0.0), strict=True):
        faults.append(
            f"{years[column]:g} years: depth falls from {depths[row, column]:.4g} mm in {words_of(durations[row])} "
            f"to {depths[row + 1, column]:.4g} mm in {words_of(durations[row + 1])}; depths must rise with duration"
        )
    for row, column in zip(*np.nonzero(intensities[1:] > rounding * intensities[:-1]), strict=True):
        faults.append(
            f"{years[column]:g} years: intensity rises from {intensities[row, column]:.4g} mm/h over "
            f"{words_of(durations[row])} to {intensities[row + 1, column]:.4g} mm/h over "
            f"{words_of(durations[row + 1])}; intensity must fall with duration"
        )
    for row, column in zip(*np.nonzero(np.diff(depths, axis=1) < 0.0), strict=True):
        faults.append(
            f"{words_of(durations[row])}: depth falls from {depths[row, column]:.4g} mm at {years[column]:g} years to "
            f"{depths[row, column + 1]:.4g} mm at {years[column + 1]:g} years; depths must rise with return period"
        )
    beyond = depths > _WORLD_RECORD_MM * (durations[:, None] / 60.0) ** _WORLD_RECORD_EXPONENT
    if beyond.any():
        row, column = np.argwhere(beyond)[0]
        faults.append(
            f"{depths[row, column]:.4g} mm in {words_of(durations[row])} is more than has ever been measured on Earth; "
            "check the units (mm or in, depth or intensity)"
        )
    return faults


def _refuse_swapped(given: np.ndarray, kind: str, units: str, source: str) -> None:
    """Recognise intensities given as depths, and the reverse, by their shape over duration."""
    steps = np.diff(given, axis=0)
    if steps.size == 0 or np.isnan(steps).any():
        return
    length = "in" if units.startswith("in") else "mm"
    if kind == "depth" and (steps < 0.0).all():
        raise StormError(
            f"{source}: the values fall with duration in every column, so they look like intensities, "
            f'but units are "{units}"; give units="{length}/h" if they are intensities'
        )
    if kind == "intensity" and (steps > 0.0).all():
        raise StormError(
            f"{source}: the values rise with duration in every column, so they look like depths, "
            f'but units are "{units}"; give units="{length}" if they are depths'
        )


def _warn_if_inches(depths: np.ndarray, minutes: np.ndarray, source: str) -> None:
    largest = depths[-1].max()
    if minutes[-1] >= _LOOKS_LIKE_INCHES_FROM_MIN and largest < _LOOKS_LIKE_INCHES_MM:
        warnings.warn(
            f"{source}: the largest depth in {words_of(minutes[-1])} is {largest:g} mm, which is little even for "
            'a desert; if the table is in inches, give units="in"',
            RunoffWarning,
            stacklevel=3,
        )


def _refuse_outside(minutes: np.ndarray, known: Sequence[float]) -> None:
    slack = 1e-9
    for bad in (minutes.min(), minutes.max()):
        if not known[0] * (1 - slack) <= bad <= known[-1] * (1 + slack):
            raise StormError(
                f"duration {words_of(float(bad))} is outside the table, which runs from {words_of(known[0])} to "
                f"{words_of(known[-1])}; nothing is extrapolated: give a duration within it"
            )
