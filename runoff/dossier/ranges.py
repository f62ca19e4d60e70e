"""The 5 to 95 % ranges of a dossier: materials, years, rain catch and the error of the model, joined.

The draws are those of `runoff.sizing.likely_ranges`. Here they are only carried to the figures a dossier claims.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from runoff.draws import normal_quantile, student_quantile
from runoff.errors import WeatherError
from runoff.findings.event_capture import storage_capacity
from runoff.findings.storm_peaks import sampled_storm_figures
from runoff.findings.summary import CLAIMS
from runoff.findings.yearly import years_of_record
from runoff.simulation import RunRules
from runoff.sizing.claiming import CLAIMED_UPWARDS, expected_of
from runoff.sizing.likely_ranges import FEW_YEARS, LEAST_YEARS, block_years_drawn, draw_roofs, joined_figures, ranges_of

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof

#: Bounds of a range; four roofs of five exceed that at 20 %.
BOUNDS = {"5": 0.05, "20": 0.2, "expected": 0.5, "95": 0.95}
_RESAMPLES, _BLOCK_YEARS = 50, 3
#: Headline figures that are claimed with a range, beside the claims.
_CLAIMED = ("annual_rain", "annual_capture_mm", "retention", "annual_capture_m3")
#: Members run through design storms: minutes cost more than days, and a range needs fewer than a tail does.
STORM_MEMBERS = 40


def refuse_short(years: float) -> None:
    """Refuse a record on which no claim can stand.

    Raises
    ------
    WeatherError
        Under 5 years.
    """
    if years < LEAST_YEARS:
        raise WeatherError(
            f"a dossier needs at least {LEAST_YEARS} years of weather, {years:.1f} are given: with so few, the spread "
            "between years cannot be told. Give a longer record, from this station or from one nearby"
        )


def widening(years: float) -> float:
    """Return the factor by which ranges of a short record are widened: Student's t over the normal quantile, 95 %.

    1 from 20 years on. A resampled record cannot hold years that never came, so its spread is too small when years are
    few; the factor is the usual correction for a mean of few values.

    Examples
    --------
    >>> round(widening(6.0), 3)  # t with 5 degrees of freedom: 2.015 (any printed t table), over 1.645
    1.225
    """
    if years >= FEW_YEARS:
        return 1.0
    return float(student_quantile(0.95, max(1.0, round(years) - 1.0)) / normal_quantile(0.95))


def ranges_of_claims(
    roof: Roof,
    weather: xr.Dataset,
    central: xr.Dataset,
    *,
    members: int,
    seed: int,
    existing: BareSurface,
    et_method: str | None,
    storms: Mapping[int, xr.DataArray],
    storm_runs: Mapping[int, xr.Dataset],
    comparisons: Mapping[int, xr.Dataset],
) -> xr.Dataset:
    """Return the 5 and 95 % bounds of every claim, as ``<figure>_range`` along ``bound``.

    Parameters
    ----------
    roof, weather
        As in `runoff.simulate`; the weather daily.
    central
        The figures themselves; ranges of a short record are widened around them.
    members, seed
        Parameter sets drawn, and the seed of both draws.
    existing, et_method
        As in the central run.
    storms, storm_runs, comparisons
        Design storms by return period (years) with the runs and comparisons of the roof itself; may be empty.

    Returns
    -------
    xarray.Dataset
        Each bound in the unit of its figure, on ``bound`` and, of storms, on their own dimensions.
    """
    roofs, _ = draw_roofs(roof, ranges_of(roof), members=members, seed=seed)
    rules = RunRules.of("dossier", None, et_method=et_method, comparison=existing)
    years = np.unique(weather["time"].dt.year).size
    picks = block_years_drawn(years, resamples=_RESAMPLES, block_years=_BLOCK_YEARS, seed=seed)
    factor = widening(years_of_record(weather["time"]))
    samples = [
        (joined_figures(roofs, weather, picks, seed=seed, rules=rules)[[*_CLAIMED, *CLAIMS]], factor),
        (storage_capacity(roofs), 1.0),
    ]
    if storms:
        samples.append((sampled_storm_figures(roofs[:STORM_MEMBERS], storms, existing, storm_runs, comparisons), 1.0))
    found = xr.Dataset()
    for sample, widened in samples:
        for name in sample.data_vars:
            found[f"{name}_range"] = _bounds(sample[name], central[name], widened)
    return found


def _bounds(sample: xr.DataArray, central: xr.DataArray, widened: float) -> xr.DataArray:
    drawn: list[str] = [dim for dim in ("design", "resample") if dim in sample.dims]
    rows = [_quantile(sample, share, drawn) for share in BOUNDS.values()]
    bounds = xr.concat(rows, xr.DataArray(list(BOUNDS), dims="bound", name="bound"))
    if widened != 1.0:
        bounds = central + (bounds - central) * widened
        if str(sample.name).endswith(("retention", "share", "coefficient")):
            bounds = bounds.clip(0.0, 1.0)
    if sample.name in CLAIMED_UPWARDS:
        bounds = bounds.where(bounds["bound"] != "expected", expected_of(bounds, central))
    bounds.attrs = {**sample.attrs, "long_name": f"{sample.attrs.get('long_name', '')}: 5 and 20 %, expected, 95 %"}
    return bounds


def _quantile(sample: xr.DataArray, share: float, drawn: list[str]) -> xr.DataArray:
    if not drawn:
        return sample
    rest = [dim for dim in sample.dims if dim not in drawn]
    values: Any = sample.transpose(*drawn, *rest).to_numpy().reshape(-1, *[sample.sizes[dim] for dim in rest])
    coords = {dim: sample[dim] for dim in rest if dim in sample.coords}
    return xr.DataArray(np.quantile(values, share, axis=0), dims=rest, coords=coords)
