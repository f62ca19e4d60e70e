"""What a dossier claims, and its storms, as tables a person reads: each figure with its range."""

from __future__ import annotations

import xarray as xr

from runoff.findings.summary import CLAIMS, FACTS
from runoff.findings.tables import kind_of_figure
from runoff.saying.scales import shown, unit_shown, unit_words
from runoff.saying.tables import Table

#: The claims in the order of a dossier: what is kept over the years, then what one storm finds room for on a dry roof.
_SHOWN = (
    "annual_rain", "annual_capture_mm", "annual_capture_m3", "roof_retention", "bare_annual_overflow_m3",
    "roof_annual_overflow_m3", "avoided_annual_m3", "avoided_share", "events_held_per_year", "capacity_mm",
)  # fmt: skip
_SHARES = {"roof_retention": "share", "avoided_share": "share", "capacity_mm": "depth"}
#: Percent of roofs that stay below; `runoff.dossier.ranges` forms them.
_BOUNDS = ("5", "20", "95")
_STORMS = (
    ("storm_depth_mm", "rain", "depth"),
    ("storm_bare_peak", "peak,\nexisting", "flow"),
    ("storm_peak", "peak,\nplanted", "flow"),
    ("storm_peak_reduction", "peak\nreduction", "share"),
    ("storm_capture_mm", "capture a\nday after", "depth"),
)


def claims_shown(figures: xr.Dataset, *, units: str = "si") -> Table:
    """Return the claims of a dossier with what is expected and their ranges as a table to print or to show.

    Parameters
    ----------
    figures
        What `runoff.write_dossier` returned.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    Table
        One row per claim; a figure without a range has none.
    """
    rows = []
    for name in (one for one in _SHOWN if one in figures):
        unit, words = {**FACTS, **CLAIMS}.get(name) or (
            str(figures[name].attrs.get("units", "")), str(figures[name].attrs.get("long_name", name)),
        )  # fmt: skip
        kind = _SHARES.get(name) or kind_of_figure(name, unit)
        bounds = figures.get(f"{name}_range")
        middle = figures[name] if bounds is None else bounds.sel(bound="expected")
        expected = shown(float(middle), unit, kind, units)
        ends = [
            "" if bounds is None else shown(float(bounds.sel(bound=one)), unit, kind, units).text for one in _BOUNDS
        ]
        rows.append([words, expected.text, unit_words(expected.unit), *ends])
    heads = [f"{one} %" for one in _BOUNDS]
    note = "Of what is kept or avoided, four roofs of five reach at least the 20 %: that is what to rely on."
    return Table(head=["", "expected", "", *heads], rows=rows, align="<><" + ">" * len(heads), notes=[note])


def storm_claims_shown(figures: xr.Dataset, *, units: str = "si") -> Table:
    """Return the design storms of a dossier, one row per return period, as a table to print or to show.

    Parameters
    ----------
    figures
        What `runoff.write_dossier` returned, with storms.
    units
        ``"si"`` or ``"us"``.
    """
    heads = [f"{words}, {unit_shown(str(figures[name].attrs['units']), kind, units)}" for name, words, kind in _STORMS]
    rows = []
    for years in figures["return_period"].to_numpy():
        one = figures.sel(return_period=years)
        cells = [shown(float(one[name]), str(one[name].attrs["units"]), kind, units).text for name, _, kind in _STORMS]
        rows.append([f"{years:g} years", *cells])
    return Table(head=["return period", *heads], rows=rows)
