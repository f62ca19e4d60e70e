"""Annual maxima in order beside a fitted distribution: ranks worked by hand, and where the record lies above the fit."""

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.errors import StormError
from runoff.saying.scales import in_order
from runoff.storms.ranks import plotting_positions

DEPTHS = [21.0, 60.0, 26.0, 28.0, 31.0, 35.0, 38.0, 44.0, 52.0, 24.0]  # invented, one a year from 2001


def maxima(*columns: list[float]) -> xr.DataArray:
    table = np.array(columns).T
    coords = {"year": np.arange(2001, 2001 + len(table)), "duration": 60.0 * np.arange(1, len(columns) + 1)}
    return xr.DataArray(table, coords, ("year", "duration"), name="annual_maximum", attrs={"units": "mm"})


def test_ranks_and_fit_worked_by_hand() -> None:
    found = runoff.ranked_maxima(maxima(DEPTHS), method="moments").isel(duration=0)
    assert found["depth"].values[:3].tolist() == [60.0, 52.0, 44.0]
    assert found["year"].values[:3].tolist() == [2002, 2009, 2008]
    # Gringorten: (10 + 1 - 0.88) / (1 - 0.44) = 10.12 / 0.56 and 10.12 / 1.56
    assert found["return_period"].values[:2] == pytest.approx([18.0714, 6.4872], abs=1e-4)
    # sum 359, sum of squares 14347: mean 35.9, s = sqrt((14347 - 12888.1) / 9) = 12.7319; scale s sqrt(6) / pi = 9.92702,
    # location 35.9 - 0.577216 x 9.92702 = 30.1700; variate -ln(-ln(1 - 0.56 / 10.12)) = 2.86600: 30.1700 + 28.4508
    assert float(found["fitted_depth"][0]) == pytest.approx(58.621, abs=0.001)


def test_it_says_where_the_record_lies_above_the_fit() -> None:
    steady = [20.0 + at for at in range(10)]
    outlier = [*steady[:9], 95.0]
    found = runoff.ranked_maxima(maxima(steady, outlier))
    assert (
        "at 2 h: 95.0 mm (3.74 in) in 2010, by its rank once in 18.1 years (Gringorten position)"
        in found.attrs["fit_against_record"]
    )
    assert float(found["largest_excess"][1]) > 5.0 > float(found["largest_excess"][0])
    by_weibull = runoff.ranked_maxima(maxima(steady), position="weibull")
    assert float(by_weibull["return_period"][0, 0]) == pytest.approx(11.0)


def test_a_record_is_told_in_the_units_asked_for() -> None:
    found = runoff.ranked_maxima(maxima([*DEPTHS[:9], 95.0]))
    said = found.attrs["fit_against_record"]
    assert "95.0 mm (3.74 in) in 2010" in said and "3.74 in (95.0 mm) in 2010" in in_order(said, "us")


def test_missing_years_and_years_without_rain() -> None:
    gaps = [*DEPTHS, np.nan, 0.0]
    found = runoff.ranked_maxima(maxima(gaps)).isel(duration=0)
    assert int(found["depth"].notnull().sum()) == 11  # the year without a value has no rank
    assert float(found["depth"][10]) == 0.0 and float(found["fitted_depth"][10]) == 0.0
    # eleven years: (11 + 0.12) / 0.56
    assert float(found["return_period"][0]) == pytest.approx(11.12 / 0.56)
    assert np.isnan(found["year"].values[11])


def test_what_cannot_be_ranked_is_refused() -> None:
    with pytest.raises(StormError, match=r'position "gumbel" is not known.*weibull, beard'):
        runoff.ranked_maxima(maxima(DEPTHS), position="gumbel")
    with pytest.raises(StormError, match="ranked_maxima, 1 h: 3 annual maxima, at least 10 are needed"):
        runoff.ranked_maxima(maxima(DEPTHS[:3]))
    with pytest.raises(StormError, match="ranked_maxima: 0 years"):
        runoff.ranked_maxima(maxima(DEPTHS).isel(year=slice(0, 0)))
    with pytest.raises(StormError, match="plotting_positions: 0 values"):
        plotting_positions(0)
