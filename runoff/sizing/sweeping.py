"""Many designs under the same weather: figures for every combination of the values given.

No day of any design is kept. The loop of `runoff.balance.column_totals.run_totals` forms sums per year, and the figures
follow from them as they do for a single run.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
import xarray as xr

from runoff.errors import SizingError
from runoff.findings.draining import drainage_figures, summer_drying
from runoff.findings.events import limits_of_series
from runoff.findings.summary import MONTHLY, figures_of, labelled
from runoff.findings.yearly import coords_of_figures, coords_of_totals, largest_of, length_in_years, totals_of_series
from runoff.given_kinds import refuse_other_kinds
from runoff.saying import titles
from runoff.saying.progress import steps
from runoff.simulation import (
    TOTALS,
    Columns,
    DailyRecord,
    RuleWords,
    RunRules,
    columns_of,
    columns_read_together,
    daily_forcing,
    rules_told,
    run_totals,
)
from runoff.sizing.designs import DesignGrid, Designs, ReadTogether, refuse_no_values

if TYPE_CHECKING:
    from runoff.roof import Roof


_DESIGNS_PER_PIECE = 20_000
# measured: what a design is while its piece is run (1.5 kB) is dropped once its figures stand (0.6 kB)
_BYTES_IN_WORK, _BYTES_PER_DESIGN, _BYTES_PER_PART = 2_000, 1_000, 2_000


def sweep(
    roof: Roof,
    weather: Any,
    choices: Mapping[str, Sequence[Any]],
    *,
    storm: xr.DataArray | None = None,
    drainage: Mapping[str, Any] | None = None,
    progress: bool | None = None,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Return the headline figures of every combination of the given values.

    Parameters
    ----------
    roof
        The roof from which the designs differ.
    weather
        A daily record of one site.
    choices
        Values per property, named ``layer.field`` (``medium.depth_mm``, ``board.cup_storage_mm``) or
        ``roof.field`` (``roof.fall``), ``outlet.field`` (``outlet.count``).
    storm
        A storm in minutes: adds the figures of `runoff.drainage_figures`, what an approver asks.
    drainage
        Limits of those: ``lost``, ``left_mm``, ``limit_hours``, ``drying_mm_per_day`` (default the median summer day of the
        record).
    progress
        Whether a progress bar is shown; by default on long sweeps.
    rules
        The rules of the runs as a whole.
    **words
        Single rules by name, before those of `rules`: warm_up_years, et_method, limits, snow, comparison; see
        `runoff.RunRules`.

    Returns
    -------
    xarray.Dataset
        The figures of `runoff.summarize` along ``design``, with one coordinate per property swept. Where outlets are varied
        ``attrs["caution"]`` belongs beside them.

    Raises
    ------
    RoofError
        When a property is not known or a value is out of range.
    WeatherError
        When the record is not daily, not of one site, or has gaps.
    RunoffError
        When a rule is not known or out of range.
    """
    refuse_other_kinds("sweep", roof=roof, choices=choices)
    rules = RunRules.of("sweep", rules, ("storm", "drainage", "progress"), **words)
    designs = designs_of(roof, choices)
    facts = facts_of_designs(designs, weather, progress=progress, rules=rules)
    facts.attrs.update(caution_where_outlets_vary(choices))
    return facts if storm is None else with_drainage(facts, designs, weather, storm, drainage)


#: Properties that decide how high water stands on a roof.
_HOLD_WATER_BACK = ("outlet.", "roof.outlets", "roof.emergency_", "roof.edge_height_mm", "roof.blocked_fraction")


def caution_where_outlets_vary(choices: Mapping[str, Any]) -> dict[str, str]:
    """Return, as ``caution``, that a comparison of outlets judges neither depth nor load; nothing where none is varied."""
    if not any(name.startswith(_HOLD_WATER_BACK) for name in choices):
        return {}
    return {
        "caution": "Outlets, overflow or edge were varied: smaller ones lower the peak because water stands on the roof. How "
        "deep, and what it weighs, is not judged here: hold the choice against the design peak and the structure "
        "(runoff outlets, or runoff.check_outlets) before it is taken."
    }


def with_drainage(
    facts: xr.Dataset,
    designs: DesignGrid,
    weather: Any,
    storm: xr.DataArray | None,
    limits: Mapping[str, Any] | None = None,
) -> xr.Dataset:
    """Return figures of designs with those of `runoff.drainage_figures` beside them.

    Parameters
    ----------
    facts
        Their figures along ``design``.
    designs, weather
        As they were run.
    storm
        A storm in minutes; None leaves out what needs one.
    limits
        As `drainage` in `sweep`.

    Returns
    -------
    xarray.Dataset
        `facts` and the drainage figures, on ``design``.

    Raises
    ------
    RunoffError
        When a limit is out of range.
    StormError
        When the storm holds no rain.
    """
    given = {"drying_mm_per_day": None, **(limits or {})}
    if given["drying_mm_per_day"] is None and storm is not None:
        given["drying_mm_per_day"] = summer_drying(weather)
    roofs = [designs.roof_of(at) for at in range(len(designs))]
    figures = drainage_figures(roofs, storm, **given)
    return facts.assign({str(name): figures[name] for name in figures.data_vars})


def designs_of(roof: Roof, choices: Mapping[str, Sequence[Any]]) -> DesignGrid:
    """Return every combination of the choices.

    Raises
    ------
    SizingError
        When nothing is to be varied, or the figures would not fit into memory.
    """
    refuse_no_values(choices)
    _refuse_too_many(choices)
    return DesignGrid(roof, choices)


def _refuse_too_many(choices: Mapping[str, Sequence[Any]]) -> None:
    """Refuse a grid whose figures and parts would not fit into memory, before any of it is made."""
    count = math.prod(len(values) for values in choices.values())
    of_part: dict[str, int] = {}
    for name, values in choices.items():
        word = name.partition(".")[0]
        of_part[word] = of_part.get(word, 1) * len(values)
    needed = min(count, _DESIGNS_PER_PIECE) * _BYTES_IN_WORK + count * _BYTES_PER_DESIGN
    needed += sum(of_part.values()) * _BYTES_PER_PART
    free = _free_memory_gb()
    if needed / 1e9 > free:
        raise SizingError(
            f"sweep: {count:,} designs need about {needed / 1e9:.1f} GB and {free:.1f} GB are free; give fewer values, or "
            "split the values of one property over several sweeps and write the figures of each to a file before the next"
        )


def _free_memory_gb() -> float:
    """Return free memory, GB; where the system does not tell, a cautious 4."""
    try:
        return os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") / 1e9
    except (AttributeError, ValueError, OSError):
        return 4.0


def facts_of_designs(
    designs: DesignGrid, weather: Any, *, progress: bool | None = None, rules: RunRules | None = None
) -> xr.Dataset:
    """Return the headline figures of many designs along ``design``, working piece by piece.

    Parameters
    ----------
    designs
        The designs.
    weather
        A daily record of one site.
    progress
        Whether a progress bar is shown; by default at a terminal, when there is more than one piece.
    rules
        The rules of the runs.

    Returns
    -------
    xarray.Dataset
        The figures of `runoff.summarize`, on ``design``, with what is varied as coordinates.

    Raises
    ------
    RunoffError
        When the weather is no daily record of one site, or has gaps.
    """
    rules = RunRules.of("sweep", rules)
    forcing = daily_forcing(weather, rules)
    record = DailyRecord.of(forcing, rules)
    years = length_in_years(record.calendar, forcing["time"])
    starts = range(0, len(designs), _DESIGNS_PER_PIECE)
    pieces = []
    for start in _with_bar(starts, progress):
        columns = columns_of_designs(designs, range(start, min(start + _DESIGNS_PER_PIECE, len(designs))))
        totals = totals_of_columns(columns, record, rules, each_year=False)
        # plain arrays: a sum or quotient with names takes as long as one of 10,000 designs
        pieces.append(figures_of({"years": np.float64(years)} | {name: one.data.T for name, one in totals.items()}))
    labels, own = coords_of_figures(forcing), xr.Coordinates(designs.coords())
    labels = xr.Coordinates({**labels.variables, **own.variables}, {**labels.xindexes, **own.xindexes})
    facts = labelled(_joined(pieces), labels, _told(rules, forcing, record), ("design",))
    facts.attrs["title"] = titles.SWEEP
    return facts


def _joined(pieces: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    """Return the figures of pieces one after the other; those that no design changes are the same in all."""
    if len(pieces) == 1:
        return pieces[0]
    whole = max(pieces, key=len)  # a piece in which nothing runs on does not tell of run-on
    full = {name: 2 if name in MONTHLY else 1 for name in whole}

    def of(piece: Mapping[str, Any], name: str) -> Any:
        return piece[name] if name in piece else 0.0 * piece["annual_overflow"]

    return {
        name: np.concatenate([of(piece, name) for piece in pieces]) if np.ndim(one) == full[name] else one
        for name, one in whole.items()
    }


def _with_bar(pieces: Sequence[int], progress: bool | None) -> Iterable[int]:
    if progress is None:  # at a terminal, on long work
        return steps(pieces, "designs") if len(pieces) > 1 else pieces
    if not progress:
        return pieces
    from tqdm.auto import tqdm

    return tqdm(pieces, desc="designs", unit=f" x {_DESIGNS_PER_PIECE}")


def totals_of_designs(
    roofs: Designs,
    weather: Any,
    *,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Return yearly totals of many roofs under one daily record, as `runoff.findings.yearly.yearly_totals` does.

    Parameters
    ----------
    roofs, weather, rules, **words
        As in `facts_of_designs`.

    Returns
    -------
    xarray.Dataset
        Dimensions ``year``, ``month`` and ``design``.

    Raises
    ------
    RunoffError
        As `facts_of_designs`, and for a rule that is not known.
    """
    rules = RunRules.of("sweep", rules, **words)
    return totals_under(roofs, daily_forcing(weather, rules), rules)


def totals_under(roofs: Designs, forcing: xr.Dataset, rules: RunRules) -> xr.Dataset:
    """Do as `totals_of_designs` under a record that is checked and ready, from `runoff.simulation.totals.daily_forcing`.

    Parameters
    ----------
    roofs
        The designs.
    forcing
        Daily weather of one site, from `runoff.simulation.totals.daily_forcing`.
    rules
        The rules of the runs.

    Returns
    -------
    xarray.Dataset
        As `totals_of_designs`.
    """
    record = DailyRecord.of(forcing, rules)
    totals = totals_of_columns(columns_of_designs(roofs), record, rules)
    totals["years"] = xr.Variable((), length_in_years(record.calendar, forcing["time"]))
    return xr.Dataset(totals, coords=coords_of_totals(forcing, record.calendar), attrs=_told(rules, forcing, record))


def _told(rules: RunRules, forcing: xr.Dataset, record: DailyRecord) -> dict[str, Any]:
    return {**rules_told(rules, forcing), "warm_up_years": record.warm_up_years}


def totals_of_columns(
    columns: Columns, record: DailyRecord, rules: RunRules, *, each_year: bool = True
) -> dict[str, xr.Variable]:
    """Return the totals of columns under a record, on ``year``, ``month`` and ``design``, without labels and ``years``.

    Parameters
    ----------
    columns
        The parameters of the designs.
    record
        Daily weather as plain arrays.
    rules
        The rules of the runs.
    each_year
        Whether the totals of a design are those of each year, or of the record as if it were one year, which takes less time.

    Returns
    -------
    dict of xarray.Variable
        Totals of depth, mm, and peaks, on ``year`` or ``month`` and ``design``; those of rain and bare roof without ``design``,
        and of each year in any case. Those of run-on are left out of a record taken as one year where no design gets any.
    """
    limits = limits_of_series(record.rain, record.tmean, snow_below_c=rules.snow.snow_below_c)
    run = run_totals(columns, rules, record, limits, each_year=each_year)
    totals = totals_of_series(record.calendar, {"rain": record.rain, **run.bare}, limits)
    totals |= {name: xr.Variable(("year", "design"), run.yearly[:, i]) for i, name in enumerate(TOTALS)}
    area_m2 = columns.rows["area_m2"]
    if each_year or (columns.rows["run_on_share"] > 0.0).any():
        run_on, roof_run_on = run.run_on, run.run_on * columns.rows["planted_fraction"]
        if not each_year:
            run_on, roof_run_on = (one.sum(axis=0, keepdims=True) for one in (run_on, roof_run_on))
        totals["run_on"] = xr.Variable(("year", "design"), run_on)
        totals["roof_run_on"] = xr.Variable(("year", "design"), roof_run_on)
        totals["run_on_by_month"] = xr.Variable(("month", "design"), run.run_on_by_month)
    return totals | {
        "overflow_by_month": xr.Variable(("month", "design"), run.monthly),
        "area_m2": xr.Variable("design", area_m2),
        "peak_discharge": _peak_discharge(totals["peak_roof_overflow"], area_m2),
        "bare_peak_discharge": _peak_discharge(totals["bare_peak_overflow"], area_m2),
    }


def _peak_discharge(peak_mm: xr.Variable, area_m2: np.ndarray) -> xr.Variable:
    """Return the largest of the years' peaks (mm in a day), L/s of the whole roof."""
    return xr.Variable("design", largest_of(peak_mm, "year").data * (area_m2 / 86400.0))


def columns_of_designs(roofs: Designs, piece: range | None = None) -> Columns:
    """Return the columns of some of the designs; those that differ in numbers alone are read together where they can be."""
    piece = range(len(roofs)) if piece is None else piece
    if isinstance(roofs, ReadTogether):
        return columns_read_together(roofs.alike(piece), len(piece))
    return columns_of([roofs[i] for i in piece])
