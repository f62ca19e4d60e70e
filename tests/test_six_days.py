"""Six days small enough to do by hand, through the public names; the README and the first notebook show the same."""

import pandas as pd
import pytest
import xarray as xr

import runoff

# The roof, in round numbers: canopy holds 2 mm; medium 100 mm deep holds 8 mm at wilting point, 28 at field
# capacity, 48 when full; cups hold 4 mm and supply half of what the medium cannot; the outlets take everything.
# Every day could evaporate 4 mm. Start: medium at field capacity, cups full, canopy empty.
#
# Worked by hand. "medium share" is Ks = (S - 8) / 20.
# day 1  rain 10: canopy keeps 2, throughfall 8; medium 28 + 8 = 36, 8 above field capacity percolate; cups are full,
#        so 8 drain. Canopy gives min(2, 4 x 2/2) = 2, demand left 2, Ks = 1: medium 28 - 2 = 26. ET 4.
# day 2  dry: Ks = 18/20 = 0.9, medium gives 3.6 -> 22.4; cups give half of the missing 0.4 = 0.2 -> 3.8. ET 3.8.
# day 3  dry: Ks = 14.4/20 = 0.72, 2.88 -> 19.52; cups 0.5 x 1.12 = 0.56 -> 3.24. ET 3.44.
# day 4  rain 6: canopy 2, throughfall 4 -> 23.52, below field capacity, nothing leaves. Canopy gives 2; Ks = 15.52/20
#        = 0.776, 0.776 x 2 = 1.552 -> 21.968; cups 0.5 x 0.448 = 0.224 -> 3.016. ET 3.776.
# day 5  rain 20: canopy 2, throughfall 18 -> 39.968; 11.968 percolate; cups take 0.984 -> 4; 10.984 drain.
#        Canopy 2, Ks = 1, medium 28 - 2 = 26. ET 4.
# day 6  dry: as day 2: 3.6 -> 22.4, cups 0.2 -> 3.8. ET 3.8.
RAIN = [10.0, 0.0, 0.0, 6.0, 20.0, 0.0]
BY_HAND = {
    "throughfall": [8.0, 0.0, 0.0, 4.0, 18.0, 0.0],
    "percolation": [8.0, 0.0, 0.0, 0.0, 11.968, 0.0],
    "overflow": [8.0, 0.0, 0.0, 0.0, 10.984, 0.0],
    "evapotranspiration": [4.0, 3.8, 3.44, 3.776, 4.0, 3.8],
    "medium_water": [26.0, 22.4, 19.52, 21.968, 26.0, 22.4],
    "cup_water": [4.0, 3.8, 3.24, 3.016, 4.0, 3.8],
    "water_stress": [0.0, 0.05, 0.14, 0.112, 0.0, 0.05],
    "air_filled_porosity": [0.22, 0.256, 0.2848, 0.26032, 0.22, 0.256],
}


@pytest.fixture
def roof() -> runoff.Roof:
    return runoff.Roof(
        area_m2=100.0,
        outlets=[runoff.Outlet(kind="round", diameter_mm=150.0, strainer=False)],
        build_up=runoff.BuildUp(
            layers=[
                runoff.Planting(canopy_storage_mm=2.0, crop_coefficient=1.0, depletion_fraction=0.0),
                runoff.GrowingMedium(depth_mm=100.0, porosity=0.48, field_capacity=0.28, wilting_point=0.08),
                runoff.DrainageBoard(height_mm=25.0, cup_storage_mm=4.0, void_storage_mm=8.0, cup_supply_fraction=0.5),
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
    assert run[name].to_numpy() == pytest.approx(BY_HAND[name], abs=1e-12)


def test_six_days_summed(roof: runoff.Roof, six_days: xr.Dataset) -> None:
    run = runoff.simulate(roof, six_days)
    facts = runoff.summarize(run)
    # rain 36 mm, overflow 8 + 10.984 = 18.984 mm
    assert float(facts["retention"]) == pytest.approx(1 - 18.984 / 36, abs=1e-12)
    assert float(run["evapotranspiration"].sum()) == pytest.approx(22.816, abs=1e-12)
    # what is kept is what evaporated less what the stores gave up: 22.816 - (5.6 + 0.2)
    assert 36 - 18.984 == pytest.approx(22.816 - 5.8, abs=1e-12)
    assert float(run["balance_error"]) < 1e-9
