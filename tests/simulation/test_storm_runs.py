"""Many roofs through one storm: every number that is kept is the one `runoff.simulate` gives, to the last bit."""

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.balance import minute_steps
from runoff.simulation import kernel, storm_flows
from runoff.simulation.start import CARRIED

STORM = runoff.followed_by_dry(runoff.design_storm(depth_mm=70.0, duration="24h", step="5min"), 6.0)
KEEP = ("discharge", "overflow", *minute_steps.TRACE)


def roofs() -> list[runoff.Roof]:
    roof = runoff.open_sample_roof("cups")
    choked = {"roof.emergency_overflow_mm": 110.0, "roof.emergency_width_mm": 300.0, "roof.emergency_height_mm": 100.0}
    changes = [
        {}, {"medium.depth_mm": 60.0}, {"roof.blocked_fraction": 0.9}, {"roof.blocked_fraction": 1.0, **choked},
        {"roof.run_on_area_m2": 30.0, "roof.run_on_to": "outlet"}, {"roof.planted_fraction": 1.0},
    ]  # fmt: skip
    return [roof.replace(one) for one in changes]


def weathers() -> dict[str, xr.DataArray | xr.Dataset]:
    cold = xr.Dataset({"rain": STORM, "tmean": xr.full_like(STORM, 0.5).assign_attrs(units="degC")})
    cold["tmean"][150:] = 9.0
    drying = xr.full_like(STORM, 0.01).assign_attrs(units="mm")
    return {
        "rain alone": STORM,
        "drying": xr.Dataset({"rain": STORM, "reference_et": drying}),
        "snow": cold.assign(reference_et=drying),
    }


@pytest.mark.parametrize("name", list(weathers()))
def test_flows_are_those_of_simulate_bit_for_bit(name: str) -> None:
    many, weather = roofs(), weathers()[name]
    found = storm_flows(many, weather, KEEP, start_moisture=0.8)
    run = runoff.simulate(many, weather, start_moisture=0.8)
    for kept, values in found.kept.items():
        expected = run[kept].transpose("design", "time").to_numpy()
        np.testing.assert_array_equal(values, expected, err_msg=kept)
    for store, values in found.stores.items():
        np.testing.assert_array_equal(values, run[store].isel(time=-1).to_numpy(), err_msg=store)
    assert list(found.kept) == list(KEEP)


def test_roofs_without_any_other_surface_need_no_run_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = [one.replace({"roof.planted_fraction": 1.0}) for one in roofs()[:2]]
    expected = runoff.simulate(whole, STORM)["discharge"].to_numpy()
    monkeypatch.setattr(kernel, "deck_courses", lambda *given: pytest.fail("a deck was run"))
    np.testing.assert_array_equal(storm_flows(whole, STORM, ("discharge",)).kept["discharge"], expected)
    storm_flows(roofs(), STORM, ("drained",))  # nor where the flow of the whole roof is not asked for


def test_a_start_out_of_a_climate_is_that_of_simulate() -> None:
    """A month or a date of a daily run over the climate; snow that lies then melts over the first day."""
    climate = runoff.open_sample()
    snowy = runoff.simulate(roofs()[0], climate)["snow_water"]
    day = str(snowy["time"].to_numpy()[int(snowy.argmax("time"))])[:10]
    for start in ("wettest-month", day):
        found = storm_flows(roofs(), STORM, ("discharge",), start_moisture=start, climate=climate)
        run = runoff.simulate(roofs(), STORM, start_moisture=start, climate=climate)
        np.testing.assert_array_equal(found.kept["discharge"], run["discharge"].to_numpy())


def test_stores_may_be_changed_before_the_start() -> None:
    many = roofs()
    state = runoff.simulation.last_stores(runoff.simulate(many, STORM))
    state["surface_water"] = ("design", np.full(len(many), 0.5))
    run = runoff.simulate(many, STORM, start_state=state)
    found = storm_flows(many, STORM, ("overflow",), changed={name: state[name].to_numpy() for name in CARRIED})
    np.testing.assert_array_equal(found.kept["overflow"], run["overflow"].to_numpy())


def test_a_long_record_in_minutes_is_warmed_up_as_by_simulate() -> None:
    time = np.arange("2001-01-01", "2002-01-01", dtype="M8[h]").astype("M8[ns]")
    rain = np.where(np.arange(time.size) % 97 < 5, 3.0, 0.0)
    year = xr.Dataset(
        {
            name: ("time", values, {"units": "mm"})
            for name, values in (("rain", rain), ("reference_et", 0.05 + 0.0 * rain))
        },
        coords={"time": time},
    )
    found = storm_flows(roofs()[:3], year, ("discharge",)).kept["discharge"]
    run = runoff.simulate(roofs()[:3], year)
    assert "warm-up" in run.attrs["start"]
    np.testing.assert_array_equal(found, run["discharge"].to_numpy())


def test_storms_of_several_places_are_refused() -> None:
    both = xr.concat([STORM, STORM], xr.DataArray(["north", "south"], dims="site", name="site"))
    with pytest.raises(
        runoff.RunoffError, match="storm or start have the dimensions site; many roofs run through one storm"
    ):
        storm_flows(roofs(), both, ("discharge",))


def test_a_run_that_lost_water_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    own = kernel.planted_courses

    def leaking(*given):
        run = own(*given)
        return run._replace(open_mm=run.open_mm + 0.5)

    monkeypatch.setattr(kernel, "planted_courses", leaking)
    with pytest.raises(runoff.RunoffError, match=r"the water balance is open by 0.5 mm in a storm; this is a fault"):
        storm_flows(roofs(), STORM, ("discharge",))


def test_rules_are_those_of_simulate() -> None:
    watering = runoff.IrrigationRule(below=0.3, dose_mm=5.0)
    with pytest.raises(runoff.RunoffError, match="irrigation works in daily runs; leave it out for a storm"):
        storm_flows(roofs(), STORM, ("discharge",), irrigation=watering)
    with pytest.raises(runoff.RunoffError, match=r"start_mosture.*start_moisture"):
        storm_flows(roofs(), STORM, ("discharge",), start_mosture="dry")
