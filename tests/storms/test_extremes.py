"""Annual maxima, fits and return levels: real records, intervals, and by hand; printed tables stand in `tests/published`."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from runoff.errors import RunoffError, RunoffWarning, StormError, WeatherError
from runoff.storms.depth_duration import DepthDurationTable
from runoff.storms.depth_duration_files import read_annual_maxima, read_depth_duration
from runoff.storms.design_storms import design_storm
from runoff.storms.extremes import (
    ExtremeFit,
    fit_extremes,
    return_levels,
)
from runoff.storms.rain_maxima import FIXED_INTERVAL_FACTORS, annual_maxima, largest_depths

MONTREAL = "idf/idf_v3-40_2025_12_5_702_QC_702S006_MONTREAL_PIERRE_ELLIOTT_TRUDEAU_INTL.txt"


def rain_of(values, *, start: str = "2001-01-01", freq: str = "D", units: str = "mm") -> xr.DataArray:
    times = pd.date_range(start, periods=len(values), freq=freq)
    return xr.DataArray(
        np.asarray(values, float), dims="time", coords={"time": times}, name="rain", attrs={"units": units}
    )


def real_rain(path: Path, kind: str) -> xr.DataArray:
    """Read a real record with pandas alone, so that the package's readers are not needed here."""
    if kind == "singapore":
        frame = pd.read_csv(path)
        stamps = pd.to_datetime(frame["timestamp_sgt"]).dt.tz_localize(None).dt.round("min")
        series = pd.Series(frame["value"].to_numpy(), index=stamps)
        series = series.reindex(pd.date_range(series.index[0], series.index[-1], freq="5min"))
    else:
        frame = pd.read_csv(path)
        stamps = pd.to_datetime(frame.iloc[:, 0]) - pd.Timedelta("1h")  # the file labels the end of the hour
        series = pd.Series(frame.iloc[:, 1].to_numpy() * 1000.0, index=stamps)  # metres to mm
    return xr.DataArray(
        series.to_numpy(), dims="time", coords={"time": series.index.to_numpy()}, name="rain", attrs={"units": "mm"}
    )


# --- fits


def gumbel_standard_error(standard_deviation, return_period_years, years):
    """Return the standard error of a Gumbel return level fitted by moments.

    ``SE = s sqrt((1 + 1.1396 K + 1.1 K^2) / n)`` with K of an infinite sample, ``-(sqrt(6)/pi)(0.5772 + ln ln(T/(T-1)))``.
    From memory (usual attribution: Kite 1977); it reproduces the printed 95 % limits (1.96 SE) of the Canadian
    engineering-climate files.
    """
    odds = return_period_years / (return_period_years - 1.0)
    factor = -(np.euler_gamma + np.log(np.log(odds))) * np.sqrt(6.0) / np.pi
    return standard_deviation * np.sqrt((1.0 + 1.1396 * factor + 1.1 * factor**2) / years)


@pytest.mark.real_weather
def test_montreal_levels_from_its_own_maxima(shared_data: Path) -> None:
    # table 2a of the file, all 63 values, printed to 0.1 mm and made by Gumbel with the method of moments
    maxima, printed = read_annual_maxima(shared_data / MONTREAL), read_depth_duration(shared_data / MONTREAL)
    levels = return_levels(maxima, return_periods_years=printed.return_periods_years, method="moments", resamples=20)
    difference = np.abs(levels["depth"].values - np.array(printed.depths_mm))
    assert difference.size == 63
    assert difference.max() <= 0.05 + 1e-9  # half of the last printed digit


@pytest.mark.real_weather
def test_montreal_confidence_limits(shared_data: Path) -> None:
    # table 2b of the file prints 95 % limits as rates rounded to 0.1 mm/h: half a digit is 0.05 mm/h times the hours
    maxima, printed = read_annual_maxima(shared_data / MONTREAL), read_depth_duration(shared_data / MONTREAL)
    spread = maxima.std("year", ddof=1).values[:, None]
    error = gumbel_standard_error(spread, np.array(printed.return_periods_years), maxima.sizes["year"])
    hours = np.array(printed.durations_min)[:, None] / 60.0
    half_widths = (np.array(printed.high_mm) - np.array(printed.low_mm)) / 2.0
    difference = np.abs(1.96 * error - half_widths) / hours
    assert difference.max() < 0.06


@pytest.mark.slow
@pytest.mark.real_weather
@pytest.mark.parametrize(
    ("distribution", "method"),
    [
        ("gumbel", "l-moments"),
        ("gumbel", "maximum-likelihood"),
        ("gumbel", "frequency-factor"),
        ("gev", "l-moments"),
        ("gev", "maximum-likelihood"),
    ],
)
def test_montreal_methods_agree_within_their_interval(shared_data: Path, distribution: str, method: str) -> None:
    # 79 years: the file's own answer lies inside every method's 95 % interval (1 h, 2 to 100 years)
    maxima = read_annual_maxima(shared_data / MONTREAL).sel(duration=[60.0])
    printed = read_depth_duration(shared_data / MONTREAL).to_dataarray().sel(duration=60.0)
    levels = return_levels(maxima, distribution=distribution, method=method, resamples=100, interval=0.95).squeeze()
    printed = printed.sel(return_period=levels.return_period)
    assert (levels["depth_low"] < printed).all()
    assert (printed < levels["depth_high"]).all()


@pytest.mark.parametrize("shape", [-0.2, 0.0, 0.15])
@pytest.mark.parametrize("method", ["l-moments", "maximum-likelihood"])
def test_gev_finds_the_distribution_it_was_drawn_from(shape: float, method: str) -> None:
    # drawn by inverting F(x) = exp(-(1 + shape z)^(-1/shape)) by hand: positive shape is a heavy tail
    reduced = -np.log((np.arange(1, 4001) - 0.5) / 4000.0)
    z = -np.log(reduced) if shape == 0.0 else (reduced**-shape - 1.0) / shape
    fit = fit_extremes(30.0 + 8.0 * z, distribution="gev", method=method)
    assert fit.shape == pytest.approx(shape, abs=0.01)
    assert fit.location == pytest.approx(30.0, abs=0.1)
    assert fit.scale == pytest.approx(8.0, abs=0.1)


def test_positive_shape_means_a_heavier_tail_than_gumbel() -> None:
    levels = [
        float(
            ExtremeFit(
                distribution="gev", method="l-moments", location=30.0, scale=8.0, shape=shape, years=50
            ).return_level(100)
        )
        for shape in (-0.1, 0.0, 0.1)
    ]
    assert levels[0] < levels[1] < levels[2]
    # by hand: 30 + 8/0.1 ((-ln 0.99)^-0.1 - 1) and 30 + 8 x 4.60015
    assert levels[2] == pytest.approx(76.73, abs=0.01)
    assert levels[1] == pytest.approx(66.80, abs=0.01)


def test_gumbel_l_moments_by_hand() -> None:
    # 1..10: l1 = 5.5; b1 = sum (i-1) i/(10 x 9) = 330/90 = 3.66667, l2 = 2 b1 - l1 = 1.83333; scale l2/ln 2
    fit = fit_extremes(np.arange(1.0, 11.0), method="l-moments")
    assert fit.scale == pytest.approx(1.8333333 / 0.6931472, rel=1e-6)
    assert fit.location == pytest.approx(5.5 - 0.5772157 * fit.scale, rel=1e-6)


def test_gumbel_moments_by_hand() -> None:
    # 1..10: mean 5.5, s = sqrt(82.5 / 9) = 3.0276504; scale s sqrt(6) / pi = 2.3606493, location 5.5 - 0.5772157 x scale
    fit = fit_extremes(np.arange(1.0, 11.0), method="moments")
    assert fit.scale == pytest.approx(2.3606493, abs=1e-6)
    assert fit.location == pytest.approx(5.5 - 0.5772157 * 2.3606493, abs=1e-6)


def test_levels_go_with_the_unit_of_the_maxima_however_small() -> None:
    years = np.array([12.0, 15, 16, 19, 22, 24, 27, 31, 38, 52])
    large, small = (fit_extremes(years * unit).return_level([2.0, 10.0]) for unit in (1.0, 0.01))
    assert np.asarray(small) == pytest.approx(0.01 * np.asarray(large), rel=1e-12)


def test_a_window_as_long_as_the_record_is_its_sum() -> None:
    values = np.arange(1.0, 11.0)
    whole = largest_depths(rain_of(values), ["10 days"])
    assert float(whole["depth"].squeeze()) == 55.0
    with pytest.raises(StormError, match=r"a duration of 11 days is longer than the record"):
        largest_depths(rain_of(values), ["11 days"])


def test_frequency_factor_method_is_mean_plus_k_s() -> None:
    values = np.array([12.0, 15, 16, 19, 22, 24, 27, 31, 38, 52])
    fit = fit_extremes(values, method="frequency-factor")
    # HDS-2 Table 4.12: K(10 yr, n = 10) = 1.8483
    assert fit.return_level(10) == pytest.approx(values.mean() + 1.8483 * values.std(ddof=1), abs=2e-3)


def test_return_level_and_period_are_inverse() -> None:
    fit = fit_extremes([12.0, 15, 16, 19, 22, 24, 27, 31, 38, 52], distribution="gev")
    periods = np.array([1.5, 2.0, 10.0, 100.0])
    assert fit.return_period(fit.return_level(periods)) == pytest.approx(periods)


def maxima_of(columns: dict[float, np.ndarray]) -> xr.DataArray:
    values = np.stack(list(columns.values()), axis=1)
    return xr.DataArray(
        values,
        dims=("year", "duration"),
        coords={"year": 2001 + np.arange(len(values)), "duration": list(columns)},
        attrs={"units": "mm", "fixed_interval_correction": "24 h multiplied by 1.13"},
    )


@pytest.fixture
def thirty_years() -> xr.DataArray:
    rng = np.random.default_rng(7)
    return maxima_of({5.0: rng.gumbel(8, 2, 30), 60.0: rng.gumbel(24, 6, 30), 1440.0: rng.gumbel(50, 12, 30)})


def test_interval_is_seeded_and_holds_the_estimate(thirty_years: xr.DataArray) -> None:
    first, again = (return_levels(thirty_years, resamples=200, seed=3) for _ in range(2))
    other = return_levels(thirty_years, resamples=200, seed=4)
    assert first.equals(again)
    assert not first["depth_low"].equals(other["depth_low"])
    assert (first["depth_low"] < first["depth"]).all()
    assert (first["depth_high"] > first["depth"]).all()
    wider = return_levels(thirty_years, resamples=200, seed=3, interval=0.99)
    assert (wider["depth_high"] > first["depth_high"]).all()
    assert first.attrs["interval"] == (
        "90%, parametric resampling, 200 resamples, seed 3; joined with that of a tail of shape 0.15"
    )
    assert first.attrs["fixed_interval_correction"] == "24 h multiplied by 1.13"
    assert first.attrs["record_risk"].startswith("30 years: return periods beyond that rest on the distribution")
    assert first.attrs["tail_risk"].startswith(
        "with a tail of shape 0.15, usual for rain, in place of the fitted gumbel"
    )


def test_an_interval_does_not_hang_on_the_other_durations(thirty_years: xr.DataArray) -> None:
    together, alone = return_levels(thirty_years), return_levels(thirty_years.isel(duration=[1]))
    assert together.isel(duration=[1]).equals(alone)


@pytest.mark.slow
@pytest.mark.parametrize(("truth", "years"), [(0.0, 10), (0.0, 30), (0.10, 20), (0.15, 60)])
def test_the_interval_covers_what_it_says(truth: float, years: int) -> None:
    """A nominal 90 % holds in at least 85 of 100 worlds drawn, Gumbel or heavier, at short and long records.

    250 worlds of one duration each; drawn by inverting F(x) = exp(-(1 + k z)^(-1/k)) by hand. The long version over all
    sizes and tails is `tests/trials/extreme_intervals.py`; binomial noise of 250 draws is 2 points.
    """
    uniform = np.random.default_rng(11).random((years, 250))
    reduced = -np.log(uniform)
    z = -np.log(reduced) if truth == 0.0 else (reduced**-truth - 1.0) / truth
    worlds = maxima_of(dict(enumerate((20.0 + 6.0 * z).T, start=1)))
    levels = return_levels(worlds, return_periods_years=[10, 100])
    for period in (10, 100):
        y = -np.log1p(-1.0 / period)
        true = 20.0 + 6.0 * (-np.log(y) if truth == 0.0 else (y**-truth - 1.0) / truth)
        one = levels.sel(return_period=period)
        assert float(((one["depth_low"] <= true) & (true <= one["depth_high"])).mean()) >= 0.85


@pytest.mark.slow
def test_years_drawn_with_replacement_make_too_narrow_an_interval() -> None:
    worlds = maxima_of(dict(enumerate(np.random.default_rng(11).gumbel(20.0, 6.0, (200, 10)), start=1)))
    levels = return_levels(worlds, return_periods_years=[100], bootstrap="resample", resamples=200)
    true = 20.0 - 6.0 * np.log(-np.log(0.99))
    held = (levels["depth_low"] <= true) & (true <= levels["depth_high"])
    assert float(held.mean()) < 0.80  # of a nominal 90 %


def test_a_heavier_tail_is_named_and_joined(thirty_years: xr.DataArray) -> None:
    joined, alone = return_levels(thirty_years), return_levels(thirty_years, heavier_tail=None)
    assert (joined["depth_high"] > alone["depth_high"]).sel(return_period=100).all()
    assert joined["depth"].equals(alone["depth"])
    # by hand from L-moments: l1 and l2 of the sample, shape k: scale = l2 k / ((2^k - 1) G(1 - k)), with k 0.15
    values = thirty_years.sel(duration=60.0).to_numpy()
    gaps = np.abs(values[:, None] - values[None, :])
    l2 = gaps.sum() / (30 * 29) / 2.0  # half the mean difference of two years
    gamma = 1.1124836484  # G(0.85), from a table of the gamma function
    scale = l2 * 0.15 / ((2**0.15 - 1.0) * gamma)
    level = values.mean() - scale * (gamma - 1.0) / 0.15 + scale * ((-np.log(0.99)) ** -0.15 - 1.0) / 0.15
    assert float(joined["depth_heavier_tail"].sel(duration=60.0, return_period=100)) == pytest.approx(level, rel=1e-6)


def test_years_without_rain_are_fitted_apart() -> None:
    # a fifth of the years is dry: the 10-year depth is passed in 1/(10 x 0.8) = 1/8 of the years with rain
    wet = np.array([12.0, 15, 16, 19, 22, 24, 27, 31, 38, 52])
    all_years = np.r_[wet, 0.0, 0.0, np.nan, 0.0][:13]
    fit, of_wet = fit_extremes(all_years), fit_extremes(wet)
    assert (fit.years, fit.dry_share) == (12, pytest.approx(2 / 12))
    assert fit.return_level(12.0) == pytest.approx(of_wet.return_level(10.0))
    assert fit.return_period(fit.return_level(12.0)) == pytest.approx(12.0)
    assert fit.return_level(1.15) == 0.0  # passed in fewer years than have rain at all
    levels = return_levels(maxima_of({60.0: all_years}), return_periods_years=[1.15, 12])
    assert levels["depth"].values[0] == pytest.approx([0.0, float(of_wet.return_level(10.0))])
    assert (levels["depth_low"] >= 0.0).all()
    assert int(levels["years_without_rain"][0]) == 2 and int(levels["years"][0]) == 12
    assert "2 year(s) without rain at all, fitted apart" in levels.attrs["record_risk"]


@pytest.mark.parametrize("heavier_tail", [0.15, None])
def test_a_gev_interval_holds_its_estimate(thirty_years: xr.DataArray, heavier_tail: float | None) -> None:
    levels = return_levels(thirty_years, distribution="gev", resamples=200, heavier_tail=heavier_tail)
    assert ((levels["depth_low"] < levels["depth"]) & (levels["depth"] < levels["depth_high"])).all()


def test_parametric_interval_matches_the_standard_error(thirty_years: xr.DataArray) -> None:
    # 90 % is 1.645 standard errors either side; at 30 years the exact interval is a little wider than the normal one
    levels = return_levels(
        thirty_years, method="moments", heavier_tail=None, resamples=2000, return_periods_years=[10, 100]
    )
    width = (levels["depth_high"] - levels["depth_low"]).values
    spread = levels["scale"].values[:, None] * np.pi / np.sqrt(6.0)
    expected = 2 * 1.645 * gumbel_standard_error(spread, np.array([10, 100]), 30)
    assert width == pytest.approx(expected, rel=0.15)


def test_missing_years_are_left_out_by_duration(thirty_years: xr.DataArray) -> None:
    holed = thirty_years.copy()
    holed[3, 1] = np.nan
    levels = return_levels(holed, resamples=10)
    assert levels["years"].values.tolist() == [30, 29, 30]
    assert float(levels["depth"][1, 0]) == pytest.approx(
        float(fit_extremes(np.delete(thirty_years.values[:, 1], 3)).return_level(2))
    )


def test_own_record_to_a_design_storm(thirty_years: xr.DataArray) -> None:
    table = DepthDurationTable.from_dataarray(return_levels(thirty_years, resamples=5)["depth"], source="own gauge")
    storm = design_storm(duration="1h", pattern="alternating-block", depth_duration=table, return_period_years=10)
    assert float(storm.sum()) == pytest.approx(table.depth("1h", 10))
    assert float(storm.max()) == pytest.approx(table.depth("5min", 10))
    assert storm.attrs["source"] == "alternating block from own gauge"


# --- maxima of a record


def test_annual_maxima_by_hand() -> None:
    values = np.zeros(365 + 365)
    values[10:13] = [5.0, 20.0, 9.0]  # 2001: largest day 20, two days 29
    values[364:366] = [7.0, 30.0]  # 31 December 2001 and 1 January 2002: the pair ends in 2002
    maxima = annual_maxima(rain_of(values), ["24h", "2 days"])
    assert maxima.sel(duration=1440).values == pytest.approx([20.0, 30.0])
    assert maxima.sel(duration=2880).values == pytest.approx([29.0, 37.0])
    assert maxima.attrs["dropped_years"] == "none"
    assert maxima.attrs["fixed_interval_correction"] == (
        "none; readings of 24 h by the clock understate the largest 24 h (usual factor 1.13; Hershfield 1961, from memory)"
    )


def test_year_with_a_gap_is_dropped_and_named() -> None:
    values = np.ones(365 * 3)
    values[400] = np.nan
    maxima = annual_maxima(rain_of(values), ["24h"])
    assert maxima.year.values.tolist() == [2001, 2003]
    assert maxima.attrs["dropped_years"] == "2002 (1 of 365 steps missing)"
    assert maxima.attrs["years_with_gaps"] == "none"
    kept = annual_maxima(rain_of(values), ["24h", "2 days"], allowed_missing=0.01)
    assert kept.year.values.tolist() == [2001, 2002, 2003]
    assert np.isfinite(kept.values).all()
    assert kept.attrs["years_with_gaps"] == "2002 (0.3%)"


def test_a_year_without_a_whole_window_is_missing_and_not_dry() -> None:
    maxima = annual_maxima(rain_of(np.ones(365 * 3)), ["400 days"])
    assert np.isnan(maxima.sel(year=2001)).all()
    assert maxima.sel(year=[2002, 2003]).values == pytest.approx(400.0)


def test_year_that_starts_in_october() -> None:
    values = np.zeros(365 * 2)
    values[0] = 99.0  # 1 January 2001: its year began before the record
    values[300] = 12.0  # 28 October 2001 belongs to the year that ends in 2002
    maxima = annual_maxima(rain_of(values), ["24h"], year_start_month=10)
    assert maxima.year.values.tolist() == [2002]
    assert float(maxima.squeeze()) == 12.0
    assert maxima.attrs["dropped_years"] == "2001 (92 of 365 steps missing); 2003 (273 of 365 steps missing)"


def test_leap_years_and_other_calendars_are_complete() -> None:
    assert annual_maxima(rain_of(np.ones(366), start="2004-01-01"), ["24h"]).year.values.tolist() == [2004]
    pytest.importorskip("cftime")
    for calendar, days in (("noleap", 365), ("360_day", 360)):
        times = xr.date_range("2004-01-01T12:00", periods=days, calendar=calendar, use_cftime=True)
        rain = xr.DataArray(np.ones(days), dims="time", coords={"time": times}, name="rain", attrs={"units": "mm"})
        assert annual_maxima(rain, ["24h"]).year.values.tolist() == [2004]


def test_fixed_interval_factors_are_applied_and_named() -> None:
    rain = rain_of(np.r_[np.ones(363), 9.0, 40.0])
    maxima = annual_maxima(rain, ["24h", "2 days", "30 days"], fixed_interval_correction=True)
    assert FIXED_INTERVAL_FACTORS[1] == 1.13  # common practice, no source at hand
    # by hand: 40 x 1.13; 49 x 1.04; 30 days are 28 + 49 mm and need no factor
    assert maxima.values[0] == pytest.approx([45.2, 50.96, 77.0])
    assert maxima.attrs["fixed_interval_correction"] == (
        "24 h multiplied by 1.13, 2 days multiplied by 1.04 (Hershfield 1961, from memory)"
    )
    assert "understated" not in maxima.attrs


def test_a_longer_window_keeps_what_a_shorter_one_was_raised_to() -> None:
    # 20 mm in one hour alone: 22.6 mm in an hour, and 2 h cannot hold less although their factor is 1.04
    values = np.zeros(8760)
    values[5000] = 20.0
    maxima = annual_maxima(rain_of(values, freq="h"), ["2h", "1h", "24h"], fixed_interval_correction=True)
    assert maxima.sel(duration=[60, 120, 1440]).values[0] == pytest.approx([22.6, 22.6, 22.6])
    assert maxima["duration"].values.tolist() == [120.0, 60.0, 1440.0]  # in the order asked


def test_maxima_of_clock_hours_are_not_taken_for_those_of_sixty_minutes() -> None:
    values = np.random.default_rng(5).gamma(0.05, 4.0, 8760 * 12)
    raw = annual_maxima(rain_of(values, freq="h"), ["1h", "3h"])
    with pytest.warns(RunoffWarning, match="readings of 1 h by the clock understate the largest 1 h"):
        low = return_levels(raw, resamples=20)
    high = return_levels(
        annual_maxima(rain_of(values, freq="h"), ["1h", "3h"], fixed_interval_correction=True), resamples=20
    )
    assert (high["depth"] / low["depth"]).values[0] == pytest.approx(1.13, rel=1e-9)
    assert "1 h multiplied by 1.13" in high.attrs["fixed_interval_correction"]


@pytest.mark.slow
@pytest.mark.real_weather
def test_clock_hours_of_a_real_record_lie_below_the_largest_sixty_minutes(shared_data: Path) -> None:
    # seven months of 5-minute rain at Singapore: how far monthly maxima of whole clock hours fall short, as sums
    rain = real_rain(shared_data / "subdaily/singapore_S64_rainfall_5min_201612-201706.csv.gz", "singapore").fillna(0)
    moving = rain.rolling(time=12).sum().resample(time="MS").max().sum()
    clock = rain.resample(time="h").sum().resample(time="MS").max().sum()
    assert float(moving / clock) == pytest.approx(1.13, abs=0.02)  # the factor from memory, and one record's luck


def test_a_year_without_rain_is_kept_and_named() -> None:
    maxima = annual_maxima(rain_of(np.r_[np.zeros(365), np.ones(365)]), ["24h"])
    assert maxima.values[:, 0].tolist() == [0.0, 1.0]
    assert maxima.attrs["years_without_rain"] == "2001"
    assert maxima.attrs["years_with_gaps"] == "none"


def test_a_weather_dataset_and_inches_are_understood() -> None:
    rain = rain_of(np.r_[np.zeros(364), 2.0], units="in")
    assert float(annual_maxima(rain.to_dataset(), ["24h"]).squeeze()) == pytest.approx(50.8)


@pytest.mark.real_weather
def test_vlissingen_windows(shared_data: Path) -> None:
    # README of the data folder: largest hour 51.3 mm, stamped at its end 15:00; largest day 78.0 on 2020-06-17
    rain = real_rain(shared_data / "subdaily/vlissingen_prec_hourly.csv.gz", "vlissingen")
    maxima = annual_maxima(rain, ["1h", "2h", "6h", "24h"])
    assert maxima.year.values.tolist() == [2019, 2020, 2021, 2022]
    assert float(maxima.sel(year=2020, duration=60)) == pytest.approx(51.3)
    assert float(maxima.sel(year=2020, duration=1440)) >= 78.0 - 1e-9  # moving 24 h is never under the largest day
    assert (maxima.diff("duration") >= -1e-9).all()
    largest = largest_depths(rain, ["1h", "24h"])
    assert largest["start"].values[0] == np.datetime64("2020-06-17T14:00")
    with pytest.raises(StormError, match="return_levels, 1 h: 4 annual maxima, at least 10 are needed"):
        return_levels(maxima)


@pytest.mark.real_weather
def test_singapore_windows(shared_data: Path) -> None:
    # README of the data folder: largest 5 min 12.2, largest 60 min 82.4 ending 2016-12-23 20:15
    rain = real_rain(shared_data / "subdaily/singapore_S64_rainfall_5min_201612-201706.csv.gz", "singapore")
    largest = largest_depths(rain, ["5min", "15min", "1h", "24h"])
    depths = largest["depth"].values
    assert depths[0] == pytest.approx(12.2)
    assert depths[2] == pytest.approx(82.4)
    assert (np.diff(depths) > 0).all()
    assert (np.diff(depths / largest["duration"].values) < 0).all()
    assert "5 min: 377" in largest.attrs["windows_lost"]  # README: 60,129 of 60,506 steps are there
    with pytest.raises(StormError, match=r"annual_maxima: no complete year in the record: 2016 \(\d+ of 105408 steps"):
        annual_maxima(rain, ["1h"])


# --- messages


def irregular() -> xr.DataArray:
    return rain_of([1.0, 2, 3, 4]).isel(time=[0, 1, 3])


@pytest.mark.parametrize(
    ("call", "error", "message"),
    [
        (
            lambda: annual_maxima(rain_of(np.ones(365)), ["1h"]),
            StormError,
            "annual_maxima: a duration of 1 h is not a whole number of steps of 24 h",
        ),
        (
            lambda: annual_maxima(rain_of(np.ones(365)), ["400 days"]),
            StormError,
            "annual_maxima: a duration of 400 days is longer than the record",
        ),
        (
            lambda: annual_maxima(rain_of(np.ones(100)), ["24h"]),
            StormError,
            "annual_maxima: no complete year in the record: 2001 (265 of 365 steps missing); fill the gaps, or pass "
            "allowed_missing (a share) to accept years with some missing steps",
        ),
        (
            lambda: annual_maxima(irregular(), ["24h"]),
            WeatherError,
            "annual_maxima: the time axis is not regular; the step is 24 h, but 2 days after 2001-01-02",
        ),
        (
            lambda: annual_maxima(rain_of([1.0, -0.1]), ["24h"]),
            WeatherError,
            "annual_maxima: 1 negative value(s), the first at 2001-01-02",
        ),
        (
            lambda: annual_maxima(rain_of([1.0, 2.0], units="mm/h"), ["24h"]),
            RunoffError,
            'annual_maxima: `rain` has units "mm/h", needs "mm"; use runoff.to_depth(rain)',
        ),
        (
            lambda: annual_maxima(rain_of([1.0]), ["24h"]),
            WeatherError,
            "annual_maxima: the record has 1 step(s); it is too short to have a time step",
        ),
        (
            lambda: annual_maxima(rain_of([1.0, 2.0]).expand_dims(site=2), ["24h"]),
            WeatherError,
            "annual_maxima: the rain has dimensions site, time; pass one record, on time alone",
        ),
        (
            lambda: annual_maxima([1.0, 2.0], ["24h"]),
            WeatherError,
            "annual_maxima: needs a weather Dataset or a rain DataArray with units (given list)",
        ),
        (
            lambda: largest_depths(rain_of([1.0, np.nan, 2.0]), ["2 days"]),
            StormError,
            "largest_depths: every window of 2 days has missing steps",
        ),
        (
            lambda: fit_extremes(np.arange(1.0, 10.0)),
            StormError,
            "fit_extremes: 9 annual maxima, at least 10 are needed; use a longer record or a published depth-duration "
            "table (minimum_years lowers the limit, at your own risk)",
        ),
        (
            lambda: fit_extremes(np.arange(10.0)),
            StormError,
            "fit_extremes: 9 annual maxima with rain (and 1 without), at least 10 are needed",
        ),
        (
            lambda: fit_extremes([-1.0, *range(12)]),
            StormError,
            "fit_extremes: 1 annual maxima are below zero; rain cannot be negative",
        ),
        (
            lambda: return_levels(maxima_of({60.0: np.zeros(0)})),
            StormError,
            "return_levels: 0 years and 1 durations; there is nothing to fit",
        ),
        (
            lambda: return_levels(maxima_of({60.0: np.zeros(12)})),
            StormError,
            "return_levels, 1 h: 0 annual maxima with rain (and 12 without), at least 10 are needed",
        ),
        (
            lambda: return_levels(maxima_of({60.0: np.arange(12.0)}), heavier_tail=1.5),
            StormError,
            "return_levels: heavier_tail 1.5 must lie between 0 and 0.5 (a GEV shape, 0.15 by default); None leaves",
        ),
        (
            lambda: fit_extremes(np.full(12, 30.0)),
            StormError,
            "fit_extremes: the annual maxima are all the same; there is no spread to fit",
        ),
        (
            lambda: fit_extremes(np.arange(12.0), distribution="gumbell"),
            StormError,
            'distribution "gumbell" is not known (did you mean "gumbel"?); known: gumbel, gev',
        ),
        (
            lambda: fit_extremes(np.arange(12.0), distribution="gev", method="moments"),
            StormError,
            'method "moments" is for gumbel; fit the gev by "l-moments" or "maximum-likelihood"',
        ),
        (
            lambda: fit_extremes(np.arange(12.0)).return_level([100, 1]),
            StormError,
            "return period 1 years must be more than 1; annual maxima say nothing about more frequent rain",
        ),
        (
            lambda: return_levels(maxima_of({60.0: np.arange(12.0)}), interval=90),
            StormError,
            "return_levels: interval 90 must lie between 0 and 1, for example 0.90",
        ),
        (
            lambda: return_levels(maxima_of({60.0: np.arange(12.0)}), bootstrap="block"),
            StormError,
            'return_levels: bootstrap "block" is not known; known: parametric, resample',
        ),
    ],
)
def test_messages(call, error: type, message: str) -> None:
    with pytest.raises(error, match=re.escape(message)):
        call()


def test_standard_error_of_a_gumbel_level_by_hand() -> None:
    # K(100) = 3.1367 (HDS-2): (1 + 1.1396 x 3.1367 + 1.1 x 3.1367^2) / 79 = 15.3973 / 79; its root is 0.44148; from s = 2
    assert float(gumbel_standard_error(2.0, 100.0, 79)) == pytest.approx(2 * 0.44148, abs=2e-5)
