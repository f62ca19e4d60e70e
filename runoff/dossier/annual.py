"""The yearly claims: rain kept, runoff avoided against the roof as it is, events held, months, wet and dry spells."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.findings.summary import running_spell
from runoff.plots import DRY_BANDS, WET_BANDS

_SUMMED = ("rain", "overflow", "roof_overflow", "bare_overflow", "events", "events_held", "bare_events_held")
_CLAIMS: dict[str, tuple[str, str]] = {
    "annual_rain": ("mm", "rain per year"),
    "annual_capture_mm": ("mm", "rain kept per year, per planted area"),
    "retention": ("1", "share of the rain that the planted area keeps"),
    "annual_capture_m3": ("m3", "rain kept per year by the whole roof"),
    "roof_annual_rain_m3": ("m3", "rain on the whole roof per year"),
    "roof_annual_overflow_m3": ("m3", "runoff of the whole roof per year"),
    "roof_annual_capture_mm": ("mm", "rain kept per year, mean of the whole roof"),
    "roof_retention": ("1", "share of the rain that the whole roof keeps"),
    "annual_runoff_coefficient": ("1", "share of the rain that runs off the whole roof"),
    "existing_annual_overflow_m3": ("m3", "runoff of the roof as it is, per year"),
    "existing_runoff_coefficient": ("1", "share of the rain that runs off the roof as it is"),
    "avoided_annual_mm": ("mm", "runoff avoided per year against the roof as it is, mean of the whole roof"),
    "avoided_annual_m3": ("m3", "runoff avoided per year against the roof as it is"),
    "avoided_share": ("1", "share of the existing roof's runoff that is avoided"),
    "events_per_year": ("1", "rain events per year"),
    "events_held_per_year": ("1", "rain events per year without any overflow"),
    "existing_events_held_per_year": ("1", "rain events per year without any runoff from the roof as it is"),
}


def mean_year(totals: xr.Dataset, weights: xr.DataArray | None = None) -> xr.Dataset:
    """Return the sums of the mean year.

    Parameters
    ----------
    totals
        What `runoff.yearly_totals` returned, or the same of many designs.
    weights
        How often each year counts (``resample``, ``year``); default once.
    """
    return xr.Dataset(
        {
            name: (totals[name].sum("year") if weights is None else xr.dot(weights, totals[name], dim="year"))
            / totals["years"]
            for name in _SUMMED
        }
    )


def annual_claims(mean: xr.Dataset, area_m2: float) -> xr.Dataset:
    """Return the yearly claims of a dossier from the sums of the mean year.

    Parameters
    ----------
    mean
        What `mean_year` returned.
    area_m2
        Area of the whole roof, m2.

    Returns
    -------
    xarray.Dataset
        Capture of planted area and whole roof, runoff avoided against the roof as it is (not against zero), runoff
        coefficients, events held per year. Leading dimensions are kept.
    """
    rain, left, existing = mean["rain"], mean["roof_overflow"], mean["bare_overflow"]
    to_m3 = area_m2 / 1000.0
    claims = {
        "annual_rain": rain,
        "annual_capture_mm": rain - mean["overflow"],
        "retention": 1.0 - mean["overflow"] / rain,
        "annual_capture_m3": (rain - left) * to_m3,
        "roof_annual_rain_m3": rain * to_m3,
        "roof_annual_overflow_m3": left * to_m3,
        "roof_annual_capture_mm": rain - left,
        "roof_retention": 1.0 - left / rain,
        "annual_runoff_coefficient": left / rain,
        "existing_annual_overflow_m3": existing * to_m3,
        "existing_runoff_coefficient": existing / rain,
        "avoided_annual_mm": existing - left,
        "avoided_annual_m3": (existing - left) * to_m3,
        "avoided_share": 1.0 - left / existing.where(existing > 0),
        "events_per_year": mean["events"],
        "events_held_per_year": mean["events_held"],
        "existing_events_held_per_year": mean["bare_events_held"],
    }
    return xr.Dataset(
        {
            name: values.assign_attrs(units=_CLAIMS[name][0], long_name=_CLAIMS[name][1])
            for name, values in claims.items()
        }
    )


def months_of_the_year(totals: xr.Dataset) -> xr.Dataset:
    """Return the mean month: rain, overflow of the planted area and of the roof as it is, and what is kept, mm."""
    years = totals["years"]
    months = xr.Dataset(
        {
            "month_rain": totals["rain_by_month"] / years,
            "month_overflow": totals["overflow_by_month"] / years,
            "month_existing_overflow": totals["bare_overflow_by_month"] / years,
        }
    )
    months["month_capture"] = months["month_rain"] - months["month_overflow"]
    words = {
        "month_rain": "rain of the mean month",
        "month_overflow": "overflow of the mean month, per planted area",
        "month_existing_overflow": "runoff of the mean month from the roof as it is",
        "month_capture": "rain kept in the mean month, per planted area",
    }
    for name, text in words.items():
        months[name].attrs = {"units": "mm", "long_name": text}
    return months


def spells(run: xr.Dataset, years: float) -> xr.Dataset:
    """Return how often spells of each length occur: ``wet_spells`` and ``dry_spells`` per year.

    The bands are those of `runoff.plots.spell_bands`, named by their first day; spells too short to matter are left out.
    """
    figures = xr.Dataset()
    for name, flags, bands in (
        ("wet_spells", run["waterlogged"], WET_BANDS[1:]),
        ("dry_spells", run["dry"], DRY_BANDS[1:]),
    ):
        lengths = spell_lengths(running_spell(flags).to_numpy())
        counts = [int(((lengths >= one.first_day) & (lengths <= one.last_day)).sum()) for one in bands]
        band = name.replace("spells", "band")
        figures[name] = xr.DataArray(
            np.array(counts) / years,
            dims=band,
            coords={band: [one.first_day for one in bands]},
            attrs={"units": "1", "long_name": f"{name.replace('_', ' ')} per year by length in days"},
        )
    return figures


def spell_lengths(running: np.ndarray) -> np.ndarray:
    """Return the length of each spell from how long it has lasted so far: the count on its last day."""
    ends = np.append(running[1:] == 0, True) & (running > 0)
    return running[ends]
