"""What follows from the stores of a step, and what a result says of itself."""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.quantities import QUANTITIES
from runoff.simulation import kernel
from runoff.simulation.roof_side import Columns
from runoff.simulation.rules import RunRules
from runoff.simulation.signs import balance_error, signs_of


@pytest.mark.parametrize(
    ("water", "beside", "dry"),
    [
        (3.9999, {}, True),
        (4.0001, {}, False),
        (3.9999, {"cup_water": 0.2}, False),  # half of 0.2 mm lifts it over the limit
        (3.9999, {"mat_water": 0.4}, False),  # a quarter of 0.4 mm
        (3.9999, {"surface_water": 0.3}, False),  # a third of 0.3 mm is in the mulch
        (3.9999, {"free_water": 5.0}, True),  # water that stands on the deck is none the roots can count on
    ],
)
def test_a_dry_day_has_less_than_a_tenth_of_what_the_medium_can_hold(
    water: float, beside: dict[str, float], dry: bool
) -> None:
    # 13 - 3 mm in the medium: a tenth is 1 mm; what cups, mat and mulch hold counts by its share
    of_roof = {
        "wilting_water": 3.0, "field_water": 13.0, "full_water": 20.0, "medium_depth": 40.0, "cup_capacity": 2.0,
        "cup_supply": 0.5, "mat_supply": 0.25, "mulch_share": 1.0 / 3.0, "area_m2": 1.0, "flow_length_m": 8.0,
    }  # fmt: skip
    columns = Columns({name: np.array([value]) for name, value in of_roof.items()})
    stores = dict.fromkeys(("cup_water", "mat_water", "surface_water", "free_water", "waterlogged_share", "rain"), 0.0)
    stores |= {"medium_water": water, "held_water": water, **beside}
    fields = {name: xr.Variable("time", [value]) for name, value in stores.items()}
    assert bool(signs_of(columns, RunRules(), fields)["dry"][0]) is dry


@pytest.mark.parametrize(("share", "wet"), [(0.0624, False), (0.0626, True)])
def test_a_day_is_waterlogged_where_a_strip_of_half_a_metre_is(share: float, wet: bool) -> None:
    # 0.5 m of 8 m of flow length: 0.0625, less than a tenth of the area
    of_roof = {
        "wilting_water": 3.0, "field_water": 13.0, "full_water": 20.0, "medium_depth": 40.0, "cup_supply": 0.0,
        "mat_supply": 0.0, "mulch_share": 0.0, "area_m2": 1.0, "flow_length_m": 8.0,
    }  # fmt: skip
    columns = Columns({name: np.array([value]) for name, value in of_roof.items()})
    stores = dict.fromkeys(("cup_water", "mat_water", "surface_water", "rain"), 0.0)
    stores |= {"medium_water": 13.0, "held_water": 13.0, "waterlogged_share": share}
    fields = {name: xr.Variable("time", [value]) for name, value in stores.items()}
    assert bool(signs_of(columns, RunRules(), fields)["waterlogged"][0]) is wet


def test_dry_is_told_by_the_rule_of_the_run() -> None:
    weather, roof = runoff.open_sample().sel(time=slice("2001", "2002")), runoff.open_sample_roof("cups")
    usual = runoff.simulate(roof, weather)
    strict = runoff.simulate(roof, weather, limits=runoff.RootLimits(dry_share=0.5))
    assert usual["dry"].dtype == bool
    assert 0 < int(usual["dry"].sum()) < int(strict["dry"].sum())
    assert float(runoff.summarize(strict)["dry_days"]) == pytest.approx(int(strict["dry"].sum()) / 2.0)  # two years


def _storm() -> xr.DataArray:
    return runoff.design_storm(depth_mm=40, duration="2h", step="5min", pattern="uniform")


@pytest.mark.parametrize("kind", ["days", "a grid", "minutes", "watered"])
def test_no_variable_passes_for_the_rain_it_came_from(kind: str, tmp_path: Path) -> None:
    days = runoff.open_sample().isel(time=slice(0, 60))
    grid = xr.concat([days, days], "site").transpose(..., "time").assign_coords(site=["a", "b"])
    roof = runoff.open_sample_roof("cups")
    run = {
        "days": lambda: runoff.simulate(roof, days),
        "a grid": lambda: runoff.simulate({"one": roof, "two": roof}, grid),
        "minutes": lambda: runoff.simulate(roof, _storm()),
        "watered": lambda: runoff.simulate(roof, days, irrigation=runoff.IrrigationRule()),
    }[kind]()
    run.to_netcdf(tmp_path / "run.nc")
    written = xr.load_dataset(tmp_path / "run.nc")
    weather = {"rain", "reference_et", "tmean"}
    for name in map(str, written.data_vars):
        known = QUANTITIES[name]  # every variable of a result is known
        attrs = {key: text for key, text in written[name].attrs.items() if key not in ("dtype",)}
        assert attrs.get("standard_name") == known.standard_name, name
        assert attrs["units"] == known.units and attrs["long_name"] == known.long_name, name
        on_time = "time" in written[name].dims
        assert attrs.get("cell_methods") == (known.cell_methods if on_time else None), name
        if name not in weather:  # what a station or a storm says of itself stays with the rain
            assert set(attrs) <= {"units", "long_name", "standard_name", "cell_methods"}, name


def test_a_run_that_lost_water_is_refused() -> None:
    def step(**values: float) -> dict[str, xr.Variable]:
        names = (*kernel.WATER, "snow_water", "rain", "evapotranspiration", "overflow")
        return {name: xr.Variable("time", [values.get(name, 0.0)]) for name in names}

    # 10 mm fell on a dry roof, 4 mm stayed, 3 mm left and 3 mm went up: nothing is lost; then half a mm less left
    before = {name: xr.Variable((), 0.0) for name in (*kernel.WATER, "snow_water")}
    whole = step(rain=10.0, held_water=4.0, overflow=3.0, evapotranspiration=3.0)
    assert float(balance_error(whole, before)) == 0.0
    lost = step(rain=10.0, held_water=4.0, overflow=2.5, evapotranspiration=3.0)
    with pytest.raises(
        runoff.RunoffError, match=r"the water balance is open by 0.5 mm in one step; this is a fault of the program"
    ):
        balance_error(lost, before)
