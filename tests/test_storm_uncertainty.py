"""The range of a storm's peak: between runs at both ends of what is drawn, told so that nothing is claimed too early."""

import re

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.errors import SizingError, StormError
from runoff.findings.storm_comparison import BARE, PLANTED, compare_storm
from runoff.sizing.storm_ranges import peak_range_words

DETENTION = {"medium.detention_k": (0.0003, 0.03)}


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def storm() -> xr.DataArray:
    rain = runoff.design_storm(depth_mm=20, duration="30min", step="5min", pattern="uniform")
    return runoff.followed_by_dry(rain, hours=6)


@pytest.fixture(scope="module")
def ranges(roof: runoff.Roof, storm: xr.DataArray) -> xr.Dataset:
    return runoff.storm_uncertainty(roof, storm, ranges=DETENTION, members=12, start_moisture="field-capacity")


def compared(roof: runoff.Roof, storm: xr.DataArray) -> xr.Dataset:
    return compare_storm(runoff.simulate(roof, storm, start_moisture="field-capacity"), roof)


def test_the_range_lies_between_runs_at_both_ends(roof: runoff.Roof, storm: xr.DataArray, ranges: xr.Dataset) -> None:
    slow, fast = (
        compared(roof.replace({"medium.detention_k": one}), storm).sel(surface=PLANTED) for one in (3e-4, 0.03)
    )
    peak = ranges["peak_discharge"]
    assert float(slow["peak_discharge"]) <= float(peak[0]) < float(peak[-1]) <= float(fast["peak_discharge"])
    # 12 slices of an even draw: the outermost quantiles lie within a slice of the ends
    assert float(peak[-1]) > 0.8 * float(fast["peak_discharge"])


@pytest.mark.slow
def test_every_draw_is_what_the_comparison_says_of_it(
    roof: runoff.Roof, storm: xr.DataArray, ranges: xr.Dataset
) -> None:
    each = [compared(roof.replace({"medium.detention_k": float(k)}), storm) for k in ranges["drawn"][0]]
    for name in ("peak_discharge", "peak_cut", "runoff_depth", "largest_depth_on_deck"):
        wanted = np.quantile([float(one[name].sel(surface=PLANTED)) for one in each], ranges["quantile"])
        np.testing.assert_allclose(ranges[name], wanted, rtol=1e-9, err_msg=name)
    own = compared(roof, storm)
    assert float(ranges["described_peak_discharge"]) == float(own["peak_discharge"].sel(surface=PLANTED))
    assert float(own["peak_cut"].sel(surface=BARE)) == 0.0


def test_words_claim_no_cut_that_one_draw_in_five_lacks(ranges: xr.Dataset) -> None:
    pattern = (
        r"^The peak of the planted roof is [\d.]+ L/s as described; over 12 draws of the materials \(detention coefficient 0\.00\d+ to "
        r"0\.0\d+\) it is at most [\d.]+ L/s in four of five \(5 to 95 %: [\d.]+ L/s to [\d.]+ L/s\)\. "
    )
    said = peak_range_words(ranges)
    assert re.match(pattern, said), said
    little = ranges.assign(peak_cut=("quantile", [-0.06, 0.04, 0.2, 0.3, 0.5]))
    assert (
        "No reduction against the bare roof can be relied on (5 to 95 %: 6 % higher to 50 % lower)"
        in peak_range_words(little)
    )
    much = ranges.assign(peak_cut=("quantile", [0.02, 0.11, 0.2, 0.3, 0.5]))
    assert "at least 11 % lower in four of five (5 to 95 %: 2 % lower to 50 % lower)" in peak_range_words(much)
    assert "gpm" in peak_range_words(ranges, units="us")
    assert "as described" in str(runoff.show(ranges))


def test_the_usual_ranges_hold_the_detention(roof: runoff.Roof, storm: xr.DataArray) -> None:
    found = runoff.storm_uncertainty(roof, storm, members=10)
    drawn = found["drawn"].sel(property="medium.detention_k")
    # design: 0.0003 to 0.03, even by the logarithm: ten draws, one from each fifth of a decade
    edges = np.log10(0.0003) + 0.2 * np.arange(11)
    assert np.histogram(np.log10(drawn), edges)[0].tolist() == [1] * 10


def test_bad_input(roof: runoff.Roof, storm: xr.DataArray) -> None:
    with pytest.raises(SizingError, match=r"^storm_uncertainty: members must be at least 10 \(given 3\)"):
        runoff.storm_uncertainty(roof, storm, members=3)
    with pytest.raises(StormError, match=r"^storm_uncertainty: one storm on time is needed"):
        runoff.storm_uncertainty(roof, storm.expand_dims(design=2), members=10)


def test_weather_that_is_no_storm(roof: runoff.Roof, storm: xr.DataArray) -> None:
    wanted = "rain in steps of 1 min to 1 h, as runoff.design_storm returns it"
    weather = runoff.open_sample().isel(time=slice(0, 3))
    held = ", ".join(map(str, weather.drop_vars("rain").data_vars))
    daily = f"storm_uncertainty: storm must be {wanted} (given steps of 24 h); a daily record holds no storm peak"
    said = [
        (weather, daily),
        (weather["rain"], daily),
        (weather.drop_vars("rain"), f"storm_uncertainty: storm must hold {wanted} (given a Dataset that holds {held})"),
        (
            xr.Dataset({"rain": storm.expand_dims(design=2)}),
            "storm_uncertainty: one storm on time is needed (given design, time)",
        ),
        (storm.isel(time=0), "storm_uncertainty: one storm on time is needed (given a single number)"),
    ]
    for given, words in said:
        with pytest.raises(StormError, match=f"^{re.escape(words)}$"):
            runoff.storm_uncertainty(roof, given, members=10)


def test_a_dataset_may_hold_the_storm(roof: runoff.Roof, storm: xr.DataArray, ranges: xr.Dataset) -> None:
    beside = xr.Dataset({"rain": storm})
    found = runoff.storm_uncertainty(roof, beside, ranges=DETENTION, members=12, start_moisture="field-capacity")
    np.testing.assert_array_equal(found["peak_cut"], ranges["peak_cut"])
