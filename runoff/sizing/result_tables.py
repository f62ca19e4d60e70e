"""What sizing returns as tables a person reads: candidates, ranges, what to measure, watering."""

from __future__ import annotations

import re

import numpy as np
import xarray as xr

from runoff.findings.storm_tables import storm_value
from runoff.findings.tables import cell, kind_of_figure, swept_properties
from runoff.saying.properties import property_words
from runoff.saying.scales import say, unit_shown, unit_words
from runoff.saying.scales import shown as in_scale
from runoff.saying.tables import Table
from runoff.sizing.targets import Target, read_targets

#: Rows of a long list that are shown.
MOST = 20
#: Ranges of these figures are shown, in this order.
_RANGED = (
    "retention", "annual_capture_mm", "annual_capture_m3", "avoided_annual_m3", "events_held", "peak_overflow",
    "waterlogged_days", "longest_waterlogged_spell", "rot_risk_days", "dry_days", "longest_dry_spell",
)  # fmt: skip


def sizing_shown(judged: xr.Dataset, *, units: str = "si", most: int = MOST) -> Table:
    """Return the candidates of a sizing as a table: the chosen one, then those that meet all targets, lightest first.

    Parameters
    ----------
    judged
        What `runoff.size` returned.
    units
        ``"si"`` or ``"us"``.
    most
        Rows shown.

    Returns
    -------
    Table
        At most `most` rows; swept properties, figures, and whether all targets are met.
    """
    swept = swept_properties(judged)
    targeted = dict.fromkeys(_figure_of(str(label)) for label in judged["target"].to_numpy())
    figures = list(dict.fromkeys([*targeted, "retention", "drained_mass", *(["cost"] if "cost" in judged else [])]))
    mass, meets = judged["drained_mass"].to_numpy(), judged["meets_all"].to_numpy()
    missed = (~judged["meets"]).sum("target").to_numpy()
    chosen, nearest = int(judged["chosen"]), int(judged["nearest"])
    first = chosen if chosen >= 0 else nearest
    order = np.lexsort((mass, missed, np.arange(mass.size) != first))[:most]
    head = [property_words(name).heading_in(units) for name in swept]
    head += [_head(judged, name, units) for name in figures]
    rows = []
    for i in order:
        one = judged.isel(design=int(i))
        cells = [property_words(name).value_in(one[name].item(), units) for name in swept]
        cells += [_value(one, name, units) for name in figures]
        words = "meets all" if meets[i] else f"misses {missed[i]}"
        cells.append("<- chosen" if i == chosen else "<- nearest" if chosen < 0 and i == nearest else words)
        rows.append(cells)
    return Table(head=[*head, ""], rows=rows, align=">" * len(head) + "<")


def _figure_of(label: str) -> str:
    """Return the figure a target is about; its label begins with it."""
    return label.split(" ", 1)[0]


def _head(table: xr.Dataset, name: str, units: str) -> str:
    words = name.replace("_", " ")
    unit = str(table[name].attrs.get("units", ""))
    text = unit_shown(unit, kind_of_figure(name, unit), units)
    return f"{words}, {text}" if text else words


def _value(one: xr.Dataset, name: str, units: str) -> str:
    return cell(name, float(one[name]), str(one[name].attrs.get("units", "")), units)


def ranges_shown(ranges: xr.Dataset, *, units: str = "si") -> Table:
    """Return the 5 to 95 % range of each headline figure, together and from each source alone.

    Parameters
    ----------
    ranges
        What `runoff.uncertainty` returned.
    units
        ``"si"`` or ``"us"``.
    """
    sources = [str(one) for one in ranges["source"].to_numpy()]
    rows = []
    for name in _RANGED:
        if name not in ranges:
            continue
        unit, words = str(ranges[name].attrs["units"]), str(ranges[name].attrs["long_name"])
        kind = kind_of_figure(name, unit)
        middle = in_scale(float(ranges[name].sel(source=sources[0], quantile=0.5)), unit, kind, units)
        spans = []
        for source in sources:
            if not np.isfinite(ranges[name].sel(source=source)).all():
                spans.append("not formed")
                continue
            low, high = (
                in_scale(float(ranges[name].sel(source=source, quantile=share)), unit, kind, units).text
                for share in (0.05, 0.95)
            )
            spans.append(f"{low} to {high}")
        rows.append([words, middle.text, *spans, unit_shown(unit, kind, units)])
    return Table(head=["", "median", *sources, ""], rows=rows, align="<>" + ">" * len(sources) + "<")


def storm_ranges_shown(ranges: xr.Dataset, *, units: str = "si") -> Table:
    """Return the range of each figure of a storm, beside that of the roof as described.

    Parameters
    ----------
    ranges
        What `runoff.storm_uncertainty` returned.
    units
        ``"si"`` or ``"us"``.
    """
    rows = []
    for name in (str(one) for one in ranges.data_vars if f"described_{one}" in ranges):
        low, middle, high = (
            storm_value(name, float(ranges[name].sel(quantile=one)), units=units) for one in (0.05, 0.5, 0.95)
        )
        own = storm_value(name, float(ranges[f"described_{name}"]), units=units)
        words = str(ranges[name].attrs["long_name"])
        rows.append([words, own.text, middle.text, f"{low.text} to {high.text}", unit_words(own.unit)])
    return Table(head=["", "as described", "median", "5 to 95 %", ""], rows=rows, align="<>>><")


def chances_shown(ranges: xr.Dataset, *, units: str = "si") -> Table:
    """Return the probability that each target is met."""
    targets = [one.words_in(units) for one in targets_of(ranges)]
    shares = [say(float(one), "1", "share") for one in ranges["probability"].to_numpy()]
    return Table(head=["target", "probability that it is met"], rows=list(zip(targets, shares, strict=True)))


def targets_of(judged: xr.Dataset) -> list[Target]:
    """Return the targets of a result of `runoff.size`, read from their labels."""
    return [_target_of(str(label)) for label in judged["target"].to_numpy()]


def _target_of(label: str) -> Target:
    """Return a target from its label in a result, for example ``retention at least 0.5``."""
    figure, bound, value = re.fullmatch(r"(\w+) (at least|at most) (\S+)", label).groups()  # type: ignore[union-attr]
    return read_targets({figure: {bound.replace(" ", "_"): float(value)}})[0]


def measures_shown(indices: xr.Dataset, *, most: int = MOST) -> Table:
    """Return what each unsure property carries of the spread of a figure.

    Parameters
    ----------
    indices
        What `runoff.what_to_measure` returned.
    most
        Rows shown.
    """
    rows = []
    for i in range(min(most, indices.sizes["property"])):
        one = indices.isel(property=i)
        words = property_words(str(one["property"].item()))
        shares = (say(max(0.0, float(one[name])), "1", "share") for name in ("first_order", "total"))
        rows.append([f"{words.part} {words.quantity}".strip(), *shares])
    return Table(head=["property", "alone", "with the others"], rows=rows)


def watering_shown(demand: xr.Dataset, *, units: str = "si") -> Table:
    """Return what watering takes, and what it changes.

    Parameters
    ----------
    demand
        What `runoff.irrigation_demand` returned.
    units
        ``"si"`` or ``"us"``.
    """
    rows = []
    for name, values in demand.data_vars.items():
        unit, words = str(values.attrs["units"]), str(values.attrs["long_name"])
        one = [in_scale(float(value), unit, kind_of_figure(str(name), unit), units) for value in np.atleast_1d(values)]
        cells = [each.text for each in one] if values.ndim else ["", one[0].text]
        rows.append([words, *cells, unit_shown(unit, kind_of_figure(str(name), unit), units)])
    return Table(head=["", "without irrigation", "with irrigation", ""], rows=rows, align="<>><")
