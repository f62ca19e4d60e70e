"""What an approver asks: hours to drain, release, storage and its coming back, guideline test, flood test; by hand throughout."""

import math

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.findings import draining
from runoff.findings.draining import (
    drainage_figures,
    guideline_coefficients,
    hours_until,
    storage_by_layer,
    summer_drying,
)
from runoff.findings.flooding import flood_test
from runoff.roof.losing_outlets import with_outlets

CLEAR_100 = runoff.Outlet(kind="round", diameter_mm=100.0, strainer=False)


def storm(mm_per_h: float, hours: float, step: str = "5min"):
    return runoff.design_storm(depth_mm=mm_per_h * hours, duration=f"{hours}h", step=step, pattern="uniform")


def deck(**changes) -> runoff.Roof:
    """A roof of 15 x 15 m with 2 % of fall to a valley in the middle: 7.5 m each way, one clear outlet."""
    described = {"area_m2": 225.0, "planted_fraction": 1.0, "flow_length_m": 7.5, "fall": 0.02, "outlets": (CLEAR_100,)}
    return with_outlets(runoff.open_sample_roof("cups"), **(described | changes))


# --- the flood test ------------------------------------------------------------------------------------------


def test_two_planes_to_a_valley_and_the_pyramid() -> None:
    """Roofers' bulletin (inputs read): 15 x 15 m, 2 %, 50 mm at the high edge. Drop 150 mm, so 200 mm at the low end; planes hold
    50 + 150/2 = 125 mm in the mean, 28.125 m3; a pyramid 50 + 150/3 = 100 mm, 22.5 m3.
    """
    planes = flood_test(deck(), high_point_mm=50.0)
    assert (planes.low_end_mm, planes.mean_mm, planes.volume_m3) == pytest.approx((200.0, 125.0, 28.125))
    pyramid = flood_test(deck(), high_point_mm=50.0, falls="pyramid")
    assert (pyramid.low_end_mm, pyramid.mean_mm, pyramid.volume_m3) == pytest.approx((200.0, 100.0, 22.5))
    assert pyramid.hours < planes.hours


def test_a_level_deck_empties_through_one_outlet() -> None:
    """From 50 mm (D/2: a weir from there on) to 1 mm: t = A int dh / (w h^1.5) = 2 A/w (1 - 50^-0.5), w = 100/7500: 8.049 h."""
    by_hand = 2.0 * 225.0 * 75.0 * (1.0 - 50.0**-0.5) / 3600.0
    assert by_hand == pytest.approx(8.049, abs=5e-4)
    assert flood_test(deck(fall=0.0), high_point_mm=50.0).hours == pytest.approx(by_hand, rel=1e-9)


def test_a_sloping_deck_empties_through_one_outlet() -> None:
    """From 150 mm at the low end to a mean of 1 mm, h = sqrt(2 x 150) = 17.32 mm; wetted share h/150. Orifice 100^2/15000 to 50 mm,
    then weir 100/7500: t = A/150 [ (2/3)(150^1.5 - 50^1.5) x 1.5 + 2 (50^0.5 - 17.32^0.5) x 75 ].
    """
    end = math.sqrt(300.0)
    by_hand = 225.0 / 150.0 * (150.0**1.5 - 50.0**1.5 + 150.0 * (math.sqrt(50.0) - math.sqrt(end))) / 3600.0
    assert flood_test(deck(), high_point_mm=0.0).hours == pytest.approx(by_hand, rel=1e-9)


def test_a_planted_deck_in_minutes_empties_like_the_integral() -> None:
    """A gravel-free bare deck in the water balance, level, 40 mm standing: the integral of the flood test to 2 mm, to 1 %."""
    roof = deck(fall=0.0)
    dry = xr.DataArray(
        np.zeros(12 * 9), dims="time", attrs={"units": "mm"},
        coords={"time": np.datetime64("2000-01-01", "ns") + np.timedelta64(5, "m") * np.arange(12 * 9)},
    )  # fmt: skip
    start = runoff.simulate(roof, dry[:2], start_moisture="field-capacity").isel(time=-1)
    start["bare_free_water"] = start["bare_free_water"] * 0.0 + 40.0
    run = runoff.simulate(roof, dry, start_state=start)
    film = float(run["bare_water"].max())  # the wetting of the deck stays
    water = run["bare_free_water"].to_numpy()
    assert film <= 1.0
    hours = hours_until(np.concatenate([[40.0], water]), 5.0, 2.0)
    by_hand = 2.0 * 225.0 * 75.0 * (2.0**-0.5 - 40.0**-0.5) / 3600.0
    assert hours == pytest.approx(by_hand, rel=0.03)  # a film of 1 mm is taken first


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"high_point_mm": -1.0}, r"flood test: high_point_mm must be 0 to 1,000 mm \(given -1\)"),
        ({"high_point_mm": 50.0, "falls": "cone"}, r'flood test: falls is "planes" or "pyramid" \(given "cone"\)'),
        ({"high_point_mm": 50.0, "left_mm": 0.0}, r"flood test: left_mm must be above 0 \(given 0\)"),
    ],
)
def test_what_a_flood_test_cannot_be(words, message: str) -> None:
    with pytest.raises(runoff.RunoffError, match=message):
        flood_test(deck(), **words)


# --- after a storm -------------------------------------------------------------------------------------------


def test_hours_until() -> None:
    assert hours_until(np.array([5.0, 3.0, 1.5, 0.5, 0.2]), 30.0, 1.0) == pytest.approx(
        1.25
    )  # half way in the third step
    assert hours_until(np.array([0.5, 0.4]), 30.0, 1.0) == 0.0
    assert hours_until(np.array([5.0, 4.0]), 30.0, 1.0) == math.inf
    assert hours_until(np.array([5.0, 0.5, 2.0, 0.5]), 60.0, 1.0) == pytest.approx(
        2.0 + 1.0 / 1.5
    )  # it must stay under


def test_ten_litres_a_second_and_hectare() -> None:
    """Paris zoning (read): 10 L/s/ha on 120 m2 is 0.12 L/s or 3.6 mm/h; steady rain of 3.6 mm/h lets go as much in the end."""
    roof = with_outlets(runoff.open_sample_roof("cups"), planted_fraction=1.0)
    figures = drainage_figures(roof, storm(3.6, 24, "15min"))
    assert float(figures["peak_release"]) == pytest.approx(10.0, rel=2e-3)
    assert float(figures["peak_release"]) * roof.area_m2 / 1e4 == pytest.approx(0.12, rel=2e-3)


def test_mobile_water_drains_by_its_own_law() -> None:
    """dh/dt = -k h^2 from h to 1 mm takes (1 - 1/h)/k minutes, k 0.0115 at 80 mm; board and outlets are far quicker here."""
    roof = with_outlets(runoff.open_sample_roof("cups"), planted_fraction=1.0, fall=0.05)
    rain = storm(30.0, 2)
    run = runoff.simulate(roof, rain, start_moisture="field-capacity")
    h = float(run["mobile_water"][-1])
    by_hand = (1.0 - 1.0 / h) / 0.0115 / 60.0
    hours = float(drainage_figures(roof, rain)["hours_to_drain"])
    assert by_hand < hours < by_hand + 0.25  # what has left the medium is about 10 min on its way


def test_a_clogged_and_a_nearly_flat_roof_take_longer_or_never_get_there() -> None:
    roof = deck()
    figures = drainage_figures([roof, runoff.open_sample_roof("thin")], storm(40.0, 1))
    opened, lost, half = (figures[f"hours_to_drain{end}"].to_numpy() for end in ("", "_some_lost", "_half_blocked"))
    assert opened[0] <= half[0] and lost[0] == math.inf  # its one outlet
    assert opened[1] == math.inf  # a flat deck on a mat keeps its last millimetres: "not within 7 days"


def test_roofs_run_together_have_the_figures_that_each_has_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    roofs, rain = [deck(), runoff.open_sample_roof("thin"), runoff.open_sample_roof("cups")], storm(40.0, 1)
    together = drainage_figures(roofs, rain, drying_mm_per_day=4.0)
    monkeypatch.setattr(draining, "_AT_ONCE", 2)
    assert drainage_figures(roofs, rain, drying_mm_per_day=4.0).identical(together)
    alone = [drainage_figures(one, rain, drying_mm_per_day=4.0, guideline=False) for one in roofs]
    assert xr.concat(alone, "design").identical(together.drop_vars("guideline_coefficient"))


def test_storage_layer_by_layer() -> None:
    roof = runoff.open_sample_roof("cups")
    layers = storage_by_layer(roof)
    medium = roof.build_up.medium
    assert layers["medium"] == pytest.approx(medium.drained_water_mm - medium.wilting_point * 80.0)
    assert layers["board"] == 3.5 and layers["planting"] == 1.0
    assert sum(layers.values()) == pytest.approx(float(drainage_figures(roof, None)["storage"]))


def test_storage_that_comes_back() -> None:
    """Nothing held by leaves, Kc 1: 48 h at 4 mm a day draw 8 mm from a medium that has more than half of its water left."""
    layers = [runoff.Planting(canopy_storage_mm=0.0, crop_coefficient=1.0, depletion_fraction=0.5), runoff.GrowingMedium(depth_mm=100.0),
              runoff.DrainageBoard(height_mm=25.0, cup_storage_mm=0.0)]  # fmt: skip
    roof = deck(build_up=runoff.BuildUp(layers=layers))
    figures = drainage_figures(roof, storm(40.0, 1), drying_mm_per_day=4.0, limit_hours=48.0)
    storage = float(figures["storage"])
    assert storage > 16.0
    # what moves in the medium at the end of the rain is gone; the last trace of it still counts
    assert float(figures["storage_recovered"]) == pytest.approx(8.0 / storage, abs=0.05 / storage)
    assert np.isnan(drainage_figures(roof, storm(40.0, 1))["storage_recovered"])


@pytest.mark.parametrize(("depth", "worked"), [(50.0, 0.58), (80.0, 0.50), (125.0, 0.41)])
def test_guideline_test_is_a_volume(depth: float, worked: float) -> None:
    """0.58, 0.50, 0.41 at 50, 80, 125 mm: x = (i/k)^0.5 tanh(t (i k)^0.5), C = 1 - (1.5 + x)/27 (`tests/balance/test_minutes.py`)."""
    roof = runoff.open_sample_roof("cups").replace({"medium.depth_mm": depth})
    (found,) = guideline_coefficients([roof])
    assert found == pytest.approx(worked, abs=0.006)
    deeper = roof.replace({"mulch.depth_mm": 40.0})
    assert guideline_coefficients([deeper])[0] == pytest.approx(
        found, abs=1e-3
    )  # leaves and mulch never count for more


def test_median_summer_day() -> None:
    time = np.arange("2001-01-01", "2002-01-01", dtype="M8[D]").astype("M8[ns]")
    month = time.astype("M8[M]").astype(int) % 12 + 1
    for lat, summer in ((45.0, (6, 7, 8)), (-45.0, (12, 1, 2))):
        et = np.where(np.isin(month, summer), 5.0, 1.0)
        record = xr.Dataset({"reference_et": ("time", et, {"units": "mm"})}, {"time": time, "lat": lat})
        assert summer_drying(record) == 5.0
    with pytest.raises(runoff.WeatherError, match="the record holds no summer day"):
        summer_drying(record.assign_coords(lat=45.0).isel(time=slice(0, 60)))


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"left_mm": 0.0}, "left_mm must be above 0"),
        ({"limit_hours": 200.0}, "limit_hours must be above 0 and at most 168"),
        ({"drying_mm_per_day": -1.0}, "drying_mm_per_day must be 0 to 20 mm"),
    ],
)
def test_limits_out_of_range(words, message: str) -> None:
    with pytest.raises(runoff.RunoffError, match=message):
        drainage_figures(deck(), storm(40.0, 1), **words)
    with pytest.raises(runoff.StormError, match="holds no rain"):
        drainage_figures(deck(), storm(40.0, 1) * 0.0)


def test_no_roof_and_a_storm_without_rain() -> None:
    with pytest.raises(runoff.RunoffError, match="drainage_figures: no roof is given; give one or more"):
        drainage_figures([], storm(10.0, 1.0))
    with pytest.raises(runoff.RunoffError, match="drainage figures: the storm holds no rain"):
        drainage_figures(deck(), storm(10.0, 1.0) * 0.0)
