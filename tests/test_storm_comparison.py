"""Planted, bare and gravel roof in one storm: the routed deck against an ODE solver, figures by hand, bad input."""

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.errors import StormError
from runoff.findings.storm_comparison import BARE, GRAVEL, PLANTED, compare_storm, followed_by_dry, storm_note
from runoff.findings.storm_tables import storm_table, storm_text
from runoff.roof import BareSurface
from runoff.roof.losing_outlets import with_outlets
from runoff.sample_files import sample_folder
from runoff.storms.depth_duration_files import read_depth_duration


def ostrey_storm(years: float, duration: str = "3h", step: str = "5min"):
    table = read_depth_duration(sample_folder() / "ostrey_depth_duration.csv")
    return runoff.design_storm(
        pattern="alternating-block", depth_duration=table, return_period_years=years, duration=duration, step=step
    )


def run_of(roof, storm, hours: float = 24.0, **start):
    return runoff.simulate(roof, followed_by_dry(storm, hours), **({"start_moisture": "field-capacity"} | start))


@pytest.fixture(scope="module")
def roof():
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def wide_open(roof):
    """The sample roof with outlets that take any storm of the table."""
    outlet = runoff.Outlet(kind="round", diameter_mm=150.0, strainer=False, count=4)
    return with_outlets(roof, outlets=(outlet,))


@pytest.fixture(scope="module")
def compared(roof):
    return compare_storm(run_of(roof, ostrey_storm(2)), roof)


# --- the bare deck -------------------------------------------------------------------------------------------


# --- the comparison ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("years", [2, 10, 100])
def test_nearly_the_volume_and_a_lower_later_peak(wide_open, years: float) -> None:
    """From field capacity, with outlets that take the storm: the claim, and the note that says by how much."""
    result = compare_storm(run_of(wide_open, ostrey_storm(years)), wide_open)
    planted, bare = result.sel(surface=PLANTED), result.sel(surface=BARE)
    assert 0.9 < float(planted["runoff_depth"] / bare["runoff_depth"]) < 1.0
    assert float(planted["peak_cut"]) > 0.1
    assert float(planted["time_of_peak"]) >= float(bare["time_of_peak"])
    assert float(planted["lag_centroid"]) > float(bare["lag_centroid"])
    note = result.attrs["note"]
    assert f"sheds {float(planted['runoff_depth']):.1f} mm" in note
    assert f"is {100 * float(planted['peak_cut']):.0f} % lower" in note


def test_where_the_outlets_hold_back_both_the_note_says_so(roof) -> None:
    note = compare_storm(run_of(roof, ostrey_storm(100)), roof).attrs["note"]
    assert "The outlets hold back the bare roof too" in note
    assert "no cut of the peak can be claimed for this storm" in note


def test_volumes_by_hand(compared, roof) -> None:
    """The bare roof keeps its 1 mm, the gravel its 5 mm; the planted roof starts full, so it keeps its canopy and mulch
    (surface store) on the planted part and 5 mm on the rest, and little else a day later.
    """
    rain = float(compared["rain"].sum())
    depth = compared["runoff_depth"]
    # what has not left after a day is a film of the pool: under 0.01 mm
    assert float(depth.sel(surface=BARE)) == pytest.approx(rain - 1.0, abs=0.01)
    assert float(depth.sel(surface=GRAVEL)) == pytest.approx(rain - 5.0, abs=0.01)
    surface = 1.0 + roof.build_up.layer("mulch").depth_mm * roof.build_up.layer("mulch").holding_fraction
    kept = 0.85 * surface + 0.15 * 5.0
    # mobile water of the medium drains as 1/(k t): 1/(0.03 x 1440) = 0.02 mm are left after a day
    assert float(depth.sel(surface=PLANTED)) == pytest.approx(rain - kept, abs=0.1)


def test_figures_agree_with_each_other(compared, roof) -> None:
    flow_, area = compared["hydrograph"], roof.area_m2
    np.testing.assert_allclose(compared["runoff_volume"], compared["runoff_depth"] * area / 1000.0)
    np.testing.assert_allclose(flow_.sum("time") * 300.0 / area, compared["runoff_depth"], rtol=1e-12)
    np.testing.assert_allclose(compared["runoff_coefficient"], compared["runoff_depth"] / compared["rain"].sum())
    np.testing.assert_allclose(compared["peak_runoff"], compared["peak_discharge"] * 3600.0 / area)
    # TR-55 eq. 2-3 with the curve number found must give the runoff back
    for number, depth in zip(compared["equivalent_curve_number"], compared["runoff_depth"], strict=True):
        retention = 25400.0 / float(number) - 254.0
        rain = float(compared["rain"].sum())
        assert (rain - 0.2 * retention) ** 2 / (rain + 0.8 * retention) == pytest.approx(float(depth))
    assert "TR-55" in compared.attrs["curve_number_limits"]


def test_lags_are_measured_between_middles_of_steps() -> None:
    """By hand: rain only in the first of steps of 5 min on a level membrane; bare peak in the same step, no lag."""
    roof = with_outlets(
        runoff.open_sample_roof("cups"), outlets=(runoff.Outlet(kind="round", diameter_mm=300.0, count=4),)
    )
    storm = runoff.design_storm(depth_mm=6.0, duration="10min", step="5min", pattern="uniform")
    storm[1] = 0.0
    bare = compare_storm(run_of(roof, storm, 6.0), roof).sel(surface=BARE)
    assert float(bare["lag_peak"]) == 0.0
    assert float(bare["time_of_peak"]) == 2.5


def test_a_dry_start_sheds_less(roof) -> None:
    wet = compare_storm(run_of(roof, ostrey_storm(2)), roof)
    dry = compare_storm(run_of(roof, ostrey_storm(2), start_moisture="dry"), roof)
    assert float(dry["runoff_depth"][0]) < float(wet["runoff_depth"][0]) - 10.0
    assert float(dry["runoff_depth"][1]) == float(wet["runoff_depth"][1])


def test_a_storm_that_leaves_nothing_has_no_curve_number(roof) -> None:
    storm = runoff.design_storm(depth_mm=1.0, duration="30min", step="5min", pattern="uniform")
    whole = with_outlets(roof, planted_fraction=1.0)
    result = compare_storm(run_of(whole, storm, start_moisture="dry"), whole)
    assert float(result["runoff_depth"][0]) == 0.0
    assert np.isnan(result["equivalent_curve_number"][0]) and np.isnan(result["lag_peak"][0])
    assert "  -  " in storm_text(result)


def test_other_surfaces_may_be_given(roof) -> None:
    run = run_of(roof, ostrey_storm(2))
    rough = compare_storm(run, roof, bare=BareSurface(kind="membrane", depression_storage_mm=3.0))
    assert float(rough["runoff_depth"].sel(surface=BARE)) == pytest.approx(float(run["rain"].sum()) - 3.0, abs=0.01)


def test_tables_in_both_unit_systems(compared) -> None:
    table = storm_table(compared, units="us").set_index("figure")
    assert table.loc["runoff volume", "unit"] == "gal"
    gallons = float(compared["runoff_volume"].sel(surface=BARE)) / 0.003785411784
    assert table.loc["runoff volume", BARE] == pytest.approx(gallons, abs=0.5)  # shown in whole gallons
    assert "gpm" in storm_note(compared, units="us")
    with pytest.raises(runoff.RunoffError, match=r'units must be "si" or "us" \(given "cgs"\)'):
        storm_table(compared, units="cgs")


# --- bad input -----------------------------------------------------------------------------------------------


def test_a_daily_run_is_no_storm(roof) -> None:
    run = runoff.simulate(roof, runoff.open_sample().isel(time=slice(0, 400)))
    expected = (
        r"compare_storm: the run has steps of 24 h; a daily figure is no storm peak\. "
        r'Run a storm in minutes: runoff\.design_storm\(depth_mm=\.\.\., duration="24h", step="5min"\)'
    )
    with pytest.raises(StormError, match=expected):
        compare_storm(run, roof)


def test_several_designs_must_be_told_apart(roof) -> None:
    run = runoff.simulate([roof, roof], ostrey_storm(2), start_moisture="field-capacity")
    with pytest.raises(
        StormError, match=r"compare_storm: the run has design; choose one, for example run\.isel\(design=0\)"
    ):
        compare_storm(run, roof)


def test_the_run_of_another_roof(roof) -> None:
    run = run_of(roof, ostrey_storm(2))
    with pytest.raises(StormError, match=r"compare_storm: the run is of a roof of 120 m2, the roof given has 450 m2"):
        compare_storm(run, runoff.open_sample_roof("deep"))


def test_a_run_without_rain(roof) -> None:
    storm = ostrey_storm(2)
    with pytest.raises(StormError, match="compare_storm: the run holds no rain"):
        compare_storm(run_of(roof, storm * 0.0 + xr.zeros_like(storm)), roof)


def test_a_dataset_that_is_no_run(roof) -> None:
    with pytest.raises(StormError, match=r"compare_storm: the run lacks liquid, discharge, pond_water, area_m2; give"):
        compare_storm(ostrey_storm(2).to_dataset(name="rain"), roof)


def test_dry_hours_after_a_storm() -> None:
    storm = ostrey_storm(2)
    assert followed_by_dry(storm, 1.0).sizes["time"] == storm.sizes["time"] + 12
    with pytest.raises(StormError, match=r"followed_by_dry: hours must be 0 or more \(given -1\)"):
        followed_by_dry(storm, -1.0)
    with pytest.raises(StormError, match=r"followed_by_dry: the storm has one step, so its step is unknown"):
        followed_by_dry(storm[:1])
