"""The largest rains of a record in order, and how near a fitted distribution comes to them.

A fit is trusted where it follows the record. Where the largest rains lie above it, its tail is too light, and a depth read from
it for a rare rain is too small.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from runoff.given_kinds import refuse_other_kinds
from runoff.saying.scales import both
from runoff.storms._durations import words_of
from runoff.storms.extremes import fit_of, maxima_table
from runoff.storms.ranks import plotting_positions

if TYPE_CHECKING:
    import xarray as xr


def ranked_maxima(
    maxima: xr.DataArray,
    *,
    position: str = "gringorten",
    distribution: str = "gumbel",
    method: str = "l-moments",
    minimum_years: int = 10,
) -> xr.Dataset:
    """Return the annual maxima of each duration in order, with the return period of their rank and the fitted depth beside.

    Parameters
    ----------
    maxima
        ``annual_maximum`` on ``year`` and ``duration``, from `annual_maxima` or `read_annual_maxima`.
    position
        Plotting position: ``"gringorten"`` (usual for Gumbel), ``"weibull"``, ``"beard"``, ``"blom"``, ``"cunnane"`` or
        ``"hazen"``. The return period of the largest value of 30 years is 31 years by Weibull and 60 by Hazen, so the
        ranks of the largest values say little by themselves.
    distribution, method, minimum_years
        As in `fit_extremes`.

    Returns
    -------
    xarray.Dataset
        On ``duration`` and ``rank`` (1 is the largest): ``depth`` (mm), ``year``, ``return_period`` (years, of the rank) and
        ``fitted_depth`` (mm, of the distribution at that return period); missing where a duration has fewer years. On
        ``duration``: ``largest_excess`` (mm), how far a value of the upper half lies above the fit at most. ``attrs["fit_against_record"]``
        says in words where the fit is furthest below the record.

    Raises
    ------
    StormError
        For a position that is not known, and as in `fit_extremes`, naming the duration.

    Examples
    --------
    >>> import numpy as np, xarray as xr
    >>> depths = np.array([[21.0, 24, 26, 28, 31, 35, 38, 44, 52, 60]]).T  # invented, 60 min
    >>> maxima = xr.DataArray(depths, {"year": np.arange(2001, 2011), "duration": [60.0]}, ("year", "duration"))
    >>> found = ranked_maxima(maxima)
    >>> int(found["year"][0, 0]), round(float(found["return_period"][0, 0]), 1)
    (2010, 18.1)
    """
    import xarray as xr

    refuse_other_kinds("ranked_maxima", maxima=maxima)
    table = maxima_table(maxima, "ranked_maxima")
    plotting_positions(1, position)  # a name that is not known is told before the fit
    shape = table.sizes["duration"], table.sizes["year"]
    depth, year, period, fitted = (np.full(shape, np.nan) for _ in range(4))
    for at, minutes in enumerate(table["duration"].values):
        column = table.values[:, at]
        fit = fit_of(column, distribution, method, minimum_years, f"ranked_maxima, {words_of(float(minutes))}")
        order = np.argsort(-column, kind="stable")[: int((~np.isnan(column)).sum())]  # missing years sort last
        ranks = np.arange(order.size)
        depth[at, ranks], year[at, ranks] = column[order], table["year"].values[order]
        period[at, ranks] = 1.0 / plotting_positions(order.size, position)
        fitted[at, ranks] = fit.return_level(period[at, ranks])
    both = ("duration", "rank")
    found = xr.Dataset(
        {
            "depth": (both, depth, {"units": "mm", "long_name": "largest rain of the year, in order"}),
            "year": (both, year, {"units": "1", "long_name": "year of it"}),
            "return_period": (both, period, {"units": "years", "long_name": f"return period of the rank ({position})"}),
            "fitted_depth": (both, fitted, {"units": "mm", "long_name": f"{distribution} at that return period"}),
        },
        coords={"duration": table["duration"], "rank": np.arange(1, shape[1] + 1)},
    )
    upper = found["rank"] <= found["depth"].notnull().sum("rank") / 2.0
    excess = (found["depth"] - found["fitted_depth"]).where(upper)
    found["largest_excess"] = excess.max("rank").assign_attrs(
        units="mm", long_name="largest excess of the record over the fit, in the upper half of the years"
    )
    found.attrs = {
        "position": position,
        "distribution": distribution,
        "method": method,
        "fit_against_record": _in_words(found, excess, distribution, position),
    }
    return found


def _in_words(found: xr.Dataset, excess: xr.DataArray, distribution: str, position: str) -> str:
    """Say at which duration and year the record lies furthest above the fit, as a share of the fitted depth."""
    law = {"gumbel": "Gumbel", "gev": "GEV"}[distribution]
    share = (excess / found["fitted_depth"]).fillna(-np.inf).to_numpy()
    at, rank = np.unravel_index(int(share.argmax()), share.shape)
    one = found.isel(duration=int(at), rank=int(rank))
    if not float(share[at, rank]) > 0.0:
        return f"no year of the upper half lies above the fitted {law} ({position.capitalize()} positions)"
    return (
        f"the record lies furthest above the fitted {law} at {words_of(float(one['duration']))}: {both(float(one['depth']), 'mm')} in "
        f"{int(one['year'])}, by its rank once in {float(one['return_period']):.3g} years ({position.capitalize()} position), where the "
        f"fit has {both(float(one['fitted_depth']), 'mm')}"
    )
