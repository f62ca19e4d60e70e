"""Figures as tables a person reads: words, numbers, units, in SI or US customary units."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

import xarray as xr

from runoff.errors import RunoffError
from runoff.findings.draining import DRAINAGE_FIGURES, FOLLOWED_DAYS, OF_A_STORM
from runoff.findings.summary import FACTS, figures_in
from runoff.given_kinds import refuse_other_kinds
from runoff.saying.numbers import rounded
from runoff.saying.properties import property_words
from runoff.saying.scales import Shown, kind_of, unit_shown, unit_words
from runoff.saying.scales import shown as in_scale
from runoff.saying.tables import Table

if TYPE_CHECKING:
    import pandas as pd

# what the units of yearly figures stand for, where it is not what they measure
_KINDS = {"mm": "yearly depth"}
_KINDS_BY_NAME = {
    "years": "whole",
    "retention": "fine share",
    "events_held": "fine share",
    "build_up_depth": "layer depth",
    "cost": "coefficient",
    "peak_release": "release",
    "storage": "depth",
    "storage_recovered": "share",
    "guideline_coefficient": "coefficient",
}


def kind_of_figure(name: str, unit: str) -> str:
    """Return the kind of quantity of a headline figure (a key of `runoff.saying.scales.SCALES`)."""
    return _KINDS_BY_NAME.get(name.removeprefix("bare_")) or _KINDS.get(unit) or kind_of(unit)


def shown(name: str, value: float, unit: str, system: str = "si") -> Shown:
    """Return one headline figure as shown to a person; shares of rain and events are shown in percent.

    Parameters
    ----------
    name
        Name of the figure.
    value, unit
        Number and its unit in the result.
    system
        ``"si"`` or ``"us"``.

    Returns
    -------
    Shown
        Value in the unit shown, with its decimals.
    """
    return in_scale(value, unit, kind_of_figure(name, unit), system)


def cell(name: str, value: float, unit: str, system: str = "si") -> str:
    """Return one figure as the text of a cell: hours that a roof never reaches are told as more than were followed.

    Parameters
    ----------
    name, value, unit, system
        As in `shown`.

    Returns
    -------
    str
        The number without its unit.
    """
    if math.isinf(value) and name.startswith("hours_to_drain"):
        return f"> {24.0 * FOLLOWED_DAYS:.0f}"
    return shown(name, value, unit, system).text


def facts_table(facts: xr.Dataset, *, units: str = "si") -> pd.DataFrame:
    """Return the headline figures of one design as a table.

    Parameters
    ----------
    facts
        What `runoff.summarize` returned, for one design and site.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    pandas.DataFrame
        Columns ``figure`` (words), ``planted``, ``comparison`` (numbers, the second missing where it makes no
        sense), ``unit``.
    """
    refuse_other_kinds("facts_table", facts=facts)
    import pandas as pd

    _refuse_several(facts)
    rows = []
    for name, (unit, words) in figures_in(facts).items():
        planted = shown(name, float(facts[name]), unit, units)
        bare = shown(name, _of_the_bare_roof(facts, name), unit, units)
        numbers = (rounded(one.value, one.digits) for one in (planted, bare))
        rows.append((words, *numbers, unit_words(planted.unit)))
    return pd.DataFrame(rows, columns=["figure", "planted", "comparison", "unit"])


def _refuse_several(facts: xr.Dataset) -> None:
    if facts["retention"].ndim:
        raise RunoffError(
            f"facts_table: the figures have dimensions {', '.join(map(str, facts['retention'].dims))}; "
            "select one design and site first, for example facts.isel(design=0)"
        )


def _of_the_bare_roof(facts: xr.Dataset, name: str) -> float:
    return float(facts[f"bare_{name}"]) if f"bare_{name}" in facts else math.nan


def facts_shown(facts: xr.Dataset, *, units: str = "si", comparison: str = "bare roof") -> Table:
    """Return the headline figures of one design as a table to print or to show.

    Parameters
    ----------
    facts
        What `runoff.summarize` returned, for one design and site.
    units
        ``"si"`` or ``"us"``.
    comparison
        Head of the column of the comparison roof.

    Returns
    -------
    Table
        One row per figure: words, planted roof, comparison roof, unit.

    Raises
    ------
    RunoffError
        For figures of several designs or sites, or an unknown unit system.
    """
    _refuse_several(facts)
    rows = []
    for name, (unit, words) in figures_in(facts).items():
        planted = shown(name, float(facts[name]), unit, units)
        bare = _of_the_bare_roof(facts, name)
        other = "" if math.isnan(bare) else shown(name, bare, unit, units).text
        rows.append([words, planted.text, other, unit_words(planted.unit)])
    return Table(head=["", "planted roof", comparison, ""], rows=rows, align="<>><")


def facts_text(facts: xr.Dataset, *, units: str = "si", comparison: str = "bare roof") -> str:
    """Return the table of `facts_shown` as aligned lines of text.

    Parameters
    ----------
    facts
        What `runoff.summarize` returned, for one design and site.
    units
        ``"si"`` or ``"us"``.
    comparison
        Head of the column of the comparison roof.

    Returns
    -------
    str
        One line per figure, each with its unit.

    Raises
    ------
    RunoffError
        For figures of several designs or sites, or an unknown unit system.
    """
    refuse_other_kinds("facts_text", facts=facts)
    return facts_shown(facts, units=units, comparison=comparison).text()


_HEAD_WIDTH = 12  # letters of a head in a table of many columns
#: Figures that decide between designs, and the heads of their columns.
DECISIVE = {
    "retention": "retention",
    "annual_capture_mm": "annual capture",
    "peak_overflow": "peak overflow of a day",
    "waterlogged_days": "waterlogged days",
    "rot_risk_days": "rot risk days",
    "dry_days": "dry days",
    "longest_dry_spell": "longest dry spell",
}


def sweep_shown(table: xr.Dataset, *, units: str = "si") -> Table:
    """Return the figures that decide between designs, one row per design.

    Parameters
    ----------
    table
        What `runoff.sweep` returned.
    units
        ``"si"`` or ``"us"``.
    """
    return figures_shown(table, "design", units=units)


def figures_shown(facts: xr.Dataset, along: str, *, units: str = "si") -> Table:
    """Return the figures that decide, one row for each design, site, member or climate.

    Parameters
    ----------
    facts
        Figures of `runoff.summarize` along one dimension.
    along
        That dimension. Designs of a sweep are told by the properties swept, all else by its labels.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    Table
        What tells a row apart, then one column per figure, its unit in the head; a mark for the design chosen.
    """
    swept = swept_properties(facts) if along == "design" else []
    labels = [str(one) for one in facts[along].to_numpy()] if along in facts.coords else []
    about = [property_words(name) for name in swept]
    head = [_stacked(f"{one.part} {one.quantity}", one.unit_in(units)) for one in about] or [along]
    figures = _figures_that_decide(facts)
    for name, figure in figures.items():
        unit = _unit(facts, name)
        head.append(_stacked(figure, unit_shown(unit, kind_of_figure(name, unit), units)))
    marks = _marks(facts)
    rows = []
    for i in range(facts.sizes[along]):
        one = facts.isel({along: i})
        cells = [words.value_in(one[name].item(), units) for words, name in zip(about, swept, strict=True)]
        first = cells or [labels[i] if labels else str(i)]
        numbers = [cell(name, float(one[name]), _unit(facts, name), units) for name in figures]
        rows.append([*first, *numbers, *([marks.get(i, "")] if marks else [])])
    words_first = "" if swept else "<"
    align = words_first + ">" * (len(head) - len(words_first))
    return Table(head=[*head, *([""] if marks else [])], rows=rows, align=align + ("<" if marks else ""))


def _figures_that_decide(facts: xr.Dataset) -> dict[str, str]:
    """Return the figures shown and their heads: the usual ones, those a target is set on, mass and cost where known."""
    targets = [str(label).split(" ")[0] for label in facts["target"].to_numpy()] if "target" in facts.coords else []
    others = [
        name
        for name in dict.fromkeys((*targets, *OF_A_STORM, "drained_mass", "cost"))
        if name in facts and name not in DECISIVE
    ]
    return DECISIVE | {name: name.removesuffix("_mm").removesuffix("_m3").replace("_", " ") for name in others}


def _unit(facts: xr.Dataset, name: str) -> str:
    return FACTS[name][0] if name in FACTS else str(facts[name].attrs.get("units", ""))


def _marks(facts: xr.Dataset) -> dict[int, str]:
    """Return the design that was chosen, or the nearest where none was, with its mark."""
    if "chosen" not in facts:
        return {}
    chosen = int(facts["chosen"])
    return {chosen: "<- chosen"} if chosen >= 0 else {int(facts["nearest"]): "<- nearest"}


def swept_properties(table: xr.Dataset) -> list[str]:
    """Return the properties in which the designs of a sweep differ."""
    return [str(name) for name in table.coords if name != "design" and table[name].dims == ("design",)]


def _stacked(words: str, unit: str) -> str:
    """Return the head of a column as short lines, the unit in the last."""
    return "\n".join([*textwrap.wrap(words, _HEAD_WIDTH), *([unit] if unit else [])])


#: Steps, and quantities, of a run that are still read one by one.
MOST_STEPS, MOST_COLUMNS = 40, 12


def steps_shown(run: xr.Dataset, *, units: str = "si") -> Table:
    """Return a short run step by step, one column for each quantity that goes with time.

    Parameters
    ----------
    run
        What `runoff.simulate` returned, or some of its variables, for one roof and one place.
    units
        ``"si"`` or ``"us"``.
    """
    names = [str(name) for name in run.data_vars if run[name].dims == ("time",)]
    heads, columns = [], []
    for name in names:
        values, unit = run[name].to_numpy(), str(run[name].attrs.get("units", ""))
        if values.dtype == bool:
            heads.append(_stacked(name.replace("_", " "), ""))
            columns.append(["yes" if one else "" for one in values])
        else:
            kind = {"mm": "fine depth", "1": "coefficient"}.get(unit) or kind_of(unit)
            heads.append(_stacked(name.removesuffix("_mm").replace("_", " "), unit_shown(unit, kind, units)))
            columns.append([in_scale(float(one), unit, kind, units).text for one in values])
    stamps = [str(one)[:16].replace("T", " ").removesuffix(" 00:00") for one in run["time"].to_numpy()]
    rows = [[stamp, *cells] for stamp, *cells in zip(stamps, *columns, strict=True)]
    return Table(head=["time", *heads], rows=rows)


def sweep_table(table: xr.Dataset, *, units: str = "si") -> pd.DataFrame:
    """Return every headline figure of every design as a table of numbers, for a spreadsheet.

    Parameters
    ----------
    table
        What `runoff.sweep` returned.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    pandas.DataFrame
        One row per design; first the properties swept, then the figures, each with its unit in the head.
    """
    import pandas as pd

    columns = {}
    for name in (str(one) for one in table.coords if one != "design" and table[one].dims == ("design",)):
        words = property_words(name)
        columns[words.heading_in(units)] = [words.number_in(value, units) for value in table[name].to_numpy()]
    own = ("drained_mass", "build_up_depth", "cost")
    for name in (str(one) for one in table.data_vars if table[one].dims == ("design",)):
        if name not in FACTS and name not in own and name not in DRAINAGE_FIGURES:
            continue
        unit = _unit(table, name)
        cells = [shown(name, float(value), unit, units) for value in table[name].to_numpy()]
        head = f"{name.removesuffix('_mm').removesuffix('_m3')}, {unit_words(cells[0].unit)}".removesuffix(", ")
        columns[head] = [rounded(cell.value, cell.digits) for cell in cells]
    return pd.DataFrame(columns)


def sweep_text(table: xr.Dataset, *, units: str = "si") -> str:
    """Return the table of `sweep_shown` as aligned lines of text."""
    return sweep_shown(table, units=units).text()
