"""Six days small enough to do by hand, through the public names; the README shows the same."""

import pandas as pd
import pytest
import xarray as xr

import runoff

# The roof, in round numbers: canopy holds 2 mm; medium 100 mm deep holds 8 mm at the wilting point, 28 at field capacity, 48
# when full, bypass 0.5; a board 25 mm high takes 10 mm of free water, its cups hold 4 mm. Level deck, the outlets clogged,
# emergency overflow at 75 mm. Every day could evaporate 4 mm. Start: medium at field capacity, cups full, canopy empty.
#
# Where free water stands: 0.4 mm per mm of height in the board, 20/100 = 0.2 in the medium; up to the sill 10 + 0.2 x 50 = 20.
# Worked by hand; w = (S - 8)/20 is the wetness, c = w + w^2/4 + throughfall/20, w' = 2c/(1 + sqrt(1 + c)), at most 1.
# day 1  dry: w = 1, the medium gives 4 -> 24. ET 4.
# day 2  rain 7.8: canopy 2, throughfall 5.8; w = 0.8, c = 0.8 + 0.16 + 0.29 = 1.25, w' = 2.5/2.5 = 1: bypass 20 (1 - 0.64)/4 =
#        1.8, it passes the full cups; 4 soak in -> 28. Free water 1.8, level 1.8/0.4 = 4.5. Canopy 2, medium 2 -> 26. ET 4.
# day 3  rain 22: canopy 2, throughfall 20; w = 0.9, w' = 1: bypass 20 (1 - 0.81)/4 = 0.95; 19.05 soak in -> 45.05, 17.05
#        percolate. Free water 1.8 + 17.05 + 0.95 = 19.8, below the sill's 20: level 25 + 9.8/0.2 = 74. Canopy 2, medium 2 ->
#        26, and takes 2 back from the water that stands in it -> 28. Free water 17.8, level 25 + 7.8/0.2 = 64. ET 4.
#        Water stands in 39 of 100 mm, more than a quarter: waterlogged.
# day 4  rain 12: canopy 2, throughfall 10; w = 1, no bypass; 10 percolate. Free water 27.8: 7.8 spill, 20 stay. Canopy 2,
#        medium 2, taken back: free water 18, level 25 + 8/0.2 = 65. ET 4. Waterlogged.
# day 5  dry: the medium gives 4 and takes 4 back: free water 14, level 25 + 4/0.2 = 45: in 20 mm, no more than a quarter.
# day 6  dry: the same: free water 10, level 25.
RAIN = [0.0, 7.8, 22.0, 12.0, 0.0, 0.0]
BY_HAND = {
    "throughfall": [0.0, 5.8, 20.0, 10.0, 0.0, 0.0],
    "bypass": [0.0, 1.8, 0.95, 0.0, 0.0, 0.0],
    "percolation": [0.0, 0.0, 17.05, 10.0, 0.0, 0.0],
    "overflow": [0.0, 0.0, 0.0, 7.8, 0.0, 0.0],
    "evapotranspiration": [4.0, 4.0, 4.0, 4.0, 4.0, 4.0],
    "held_water": [24.0, 26.0, 28.0, 28.0, 28.0, 28.0],
    "free_water": [0.0, 1.8, 17.8, 18.0, 14.0, 10.0],
    "board_water": [0.0, 1.8, 10.0, 10.0, 10.0, 10.0],
    "medium_water": [24.0, 26.0, 35.8, 36.0, 32.0, 28.0],
    "water_depth_on_deck_mm": [0.0, 4.5, 64.0, 65.0, 45.0, 25.0],
    "air_filled_porosity": [0.24, 0.22, 0.122, 0.12, 0.16, 0.20],
    "waterlogged_share": [0.0, 0.0, 1.0, 1.0, 0.0, 0.0],
    "waterlogged": [0.0, 0.0, 1.0, 1.0, 0.0, 0.0],
    "cup_water": [4.0, 4.0, 4.0, 4.0, 4.0, 4.0],
    "water_stress": [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
}


@pytest.fixture
def roof() -> runoff.Roof:
    return runoff.Roof(
        area_m2=100.0,
        flow_length_m=5.0,
        fall=0.0,
        blocked_fraction=1.0,
        emergency_overflow_mm=75.0,
        emergency_width_mm=300.0,
        emergency_height_mm=100.0,
        outlets=[runoff.Outlet(kind="round", diameter_mm=100.0, strainer=False)],
        build_up=runoff.BuildUp(
            layers=[
                runoff.Planting(canopy_storage_mm=2.0, crop_coefficient=1.0, depletion_fraction=0.0),
                runoff.GrowingMedium(
                    depth_mm=100.0, porosity=0.48, field_capacity=0.28, wilting_point=0.08, bypass_fraction=0.5
                ),
                runoff.DrainageBoard(height_mm=25.0, cup_storage_mm=4.0, void_storage_mm=10.0, cup_supply_fraction=0.5),
            ]
        ),
    )


@pytest.fixture
def six_days() -> xr.Dataset:
    time = {"time": pd.date_range("2001-06-01", periods=6, freq="D")}
    mm = {"units": "mm"}
    return xr.Dataset({"rain": ("time", RAIN, mm), "reference_et": ("time", [4.0] * 6, mm)}, coords=time)


@pytest.mark.parametrize("name", BY_HAND)
def test_six_days_by_hand(roof: runoff.Roof, six_days: xr.Dataset, name: str) -> None:
    run = runoff.simulate(roof, six_days)
    # exact decimal arithmetic on paper, so only rounding of floating point is left
    assert run[name].to_numpy().astype(float) == pytest.approx(BY_HAND[name], abs=1e-12)


def test_six_days_summed(roof: runoff.Roof, six_days: xr.Dataset) -> None:
    run = runoff.simulate(roof, six_days)
    facts = runoff.summarize(run)
    # rain 41.8 mm, of it 7.8 mm spilled; 24 mm evaporated, 10 mm still stand
    assert float(facts["retention"]) == pytest.approx(1 - 7.8 / 41.8, abs=1e-12)
    assert float(run["rain"].sum()) == pytest.approx(7.8 + 24.0 + 10.0, abs=1e-12)
    assert float(facts["longest_waterlogged_spell"]) == 2.0
    assert float(run["balance_error"]) < 1e-9
