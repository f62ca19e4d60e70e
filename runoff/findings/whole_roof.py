"""From depths and flows to what a whole roof gives: volumes, releases per hectare, the parts of its capture, its worst year.

Documents, the desk and the lesson take these from here, so that a figure is formed in one way wherever it is read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

if TYPE_CHECKING:
    from runoff.roof import Roof


def volume_m3(depth_mm: Any, area_m2: Any) -> Any:
    """Return the volume of a depth of water over an area, m3: 1 mm on 1 m2 is a litre.

    Parameters
    ----------
    depth_mm, area_m2
        Depth, mm, and area, m2: numbers or arrays.
    """
    return depth_mm * area_m2 / 1000.0


def release_per_hectare(flow_l_per_s: Any, area_m2: Any) -> Any:
    """Return the flow that leaves an area per hectare of it, L/(s ha).

    Parameters
    ----------
    flow_l_per_s, area_m2
        Flow, L/s, and the area it comes from, m2: numbers or arrays.
    """
    return 1e4 * flow_l_per_s / area_m2


def parts_of_capture(roof: Roof, facts: xr.Dataset) -> xr.Dataset:
    """Return what the planted part and the rest of a roof keep a year: ``planted_annual_capture_m3``, ``other_annual_capture_m3``.

    Parameters
    ----------
    roof
        The roof.
    facts
        Its figures, from `runoff.summarize`.
    """
    planted = volume_m3(float(facts["annual_capture_mm"]), roof.area_m2 * roof.planted_fraction)
    rest = float(facts["annual_capture_m3"]) - planted if roof.planted_fraction < 1.0 else 0.0
    return xr.Dataset(
        {
            "planted_annual_capture_m3": ((), planted, {"units": "m3"}),
            "other_annual_capture_m3": ((), rest, {"units": "m3"}),
        }
    )


def worst_year_of(totals: xr.Dataset) -> tuple[int, xr.Dataset]:
    """Return the whole year of least retention, of rain and run-on: its number, its retention and the depth kept.

    Parameters
    ----------
    totals
        From `runoff.yearly_totals`. The first and the last year of a record of three and more may be parts of one and do not count.
    """
    rain, overflow = totals["rain"].to_numpy(), totals["overflow"].to_numpy()
    rain = rain + totals["run_on"].to_numpy() if "run_on" in totals else rain
    years = totals["year"].to_numpy()
    share = retention_of(rain, overflow)
    whole = np.ones(years.size, dtype=bool)
    if years.size > 2:
        whole[[0, -1]] = False
    at = int(np.nanargmin(np.where(whole, share, np.nan)))
    found = {
        "worst_year_retention": ((), float(share[at]), {"units": "1"}),
        "worst_year_capture_mm": ((), float(rain[at] - overflow[at]), {"units": "mm"}),
    }
    return int(years[at]), xr.Dataset(found)


def retention_of(rain_mm: Any, overflow_mm: Any) -> Any:
    """Return the retention, 0-1, of sums of rain and overflow, mm; missing where no rain fell."""
    rain = np.asarray(rain_mm, dtype=float)
    return 1.0 - np.asarray(overflow_mm, dtype=float) / np.where(rain > 0.0, rain, np.nan)


class SoFar(NamedTuple):
    """Sums from the first step on, at every step: what a reading of a run under way tells.

    Parameters
    ----------
    rain_mm
        Rain, mm.
    held_mm
        Rain that has not left, mm.
    retention
        Its share, 0-1; missing before the first rain.
    """

    rain_mm: np.ndarray
    held_mm: np.ndarray
    retention: np.ndarray


def so_far(rain_mm: Any, overflow_mm: Any) -> SoFar:
    """Return the running sums of rain and overflow per step, mm, on the last axis.

    Parameters
    ----------
    rain_mm, overflow_mm
        Depths per step, mm, of the same shape.

    Returns
    -------
    SoFar
        Of the same shape.
    """
    rain, overflow = (np.cumsum(np.asarray(one, dtype=float), axis=-1) for one in (rain_mm, overflow_mm))
    return SoFar(rain, rain - overflow, retention_of(rain, overflow))


def wet_strip_m(run: xr.Dataset, flow_length_m: float) -> float:
    """Return how wide a strip along the low edge is waterlogged, m, in the mean of the waterlogged days; 0 without any.

    Parameters
    ----------
    run
        A daily run of one roof at one site.
    flow_length_m
        Way of the water to the outlets, m.
    """
    wet = run["waterlogged"].to_numpy()
    return float(run["waterlogged_share"].to_numpy()[wet].mean()) * flow_length_m if wet.any() else 0.0
