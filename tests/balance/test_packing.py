"""Described columns packed by name: what is worked out from them, and what is refused."""

import numpy as np
import pytest

from runoff.balance import column, packing
from runoff.errors import RunoffError
from tests.balance.invented_roofs import TWELVE, described


def test_levels_and_volumes_by_hand() -> None:
    # level deck, 25 mm of board take 18 mm, 80 mm of medium 44 - 28 = 16 mm; sill at 65 mm: 18 + 16 x 40/80 = 26 mm;
    # edge at 255 mm: 18 + 16 + 150
    rows = packing.by_name([described(fall=0.0, sill_level=65.0)])
    found = [
        rows[name][0] for name in ("board_top_water", "medium_top_water", "sill_water", "edge_water", "spill_water")
    ]
    assert found == pytest.approx([18.0, 34.0, 26.0, 184.0, 26.0], rel=1e-14)
    assert packing.by_name([described(fall=0.0)])["sill_water"][0] == np.inf
    # the drainage layer: 1 L/(s m) over 10 m are 360 mm/h at the tested gradient of 0.02
    assert rows["in_plane_tested"][0] == pytest.approx(360.0)
    assert rows["least_level"][0] == 25.0 and rows["tested_slope"][0] == pytest.approx(1.0 / 200.0)
    assert packing.by_name([described()])["least_level"][0] == pytest.approx(200.0)
    # a way of half a metre is short and allowed; half a bypass over 22 mm: 0.5/22 and 22/(2 x 0.5); 2 mm on the surface
    rows = packing.by_name([described(flow_length_m=0.5)])
    found = [rows[name][0] for name in ("bypass_slope", "bypass_scale", "surface_share")]
    assert found == pytest.approx([0.5 / 22.0, 22.0, 0.5], rel=1e-14)


def test_designs_one_by_one_or_as_arrays_are_the_same() -> None:
    roofs = list(TWELVE.values())
    listed = packing.by_name(roofs)
    shared = {"outlets": roofs[0]["outlets"], "title": "left alone"}
    arrays = {name: np.array([roof[name] for roof in roofs]) for name in packing.DESCRIBED if name != "area_m2"}
    joined = packing.by_name({**arrays, **shared, "area_m2": 100.0})
    assert listed.keys() == joined.keys()
    for name, row in listed.items():
        np.testing.assert_array_equal(row, joined[name], err_msg=name)


def test_a_deck_is_its_own_whichever_stand_beside_it() -> None:
    # like the one before, like the first but not the one before, and unlike both; by depth, sill and fall
    some = described(), described(medium_depth=100.0), described(sill_level=65.0), described(fall=0.0)
    roofs = [some[i] for i in (0, 0, 1, 0, 2, 2, 0, 3, 3, 1, 0)]
    beside = packing.by_name(roofs)
    for at, roof in enumerate(roofs):
        for name, row in packing.by_name([roof]).items():
            assert beside[name][at] == row[0], (at, name)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"depletion_fraction": 1.0}, "column 2: depletion_fraction is 1; it must be below 1"),
        ({"depletion_fraction": np.nan}, "depletion_fraction is nan"),
        ({"field_water": 6.0}, "field_water is 6; it must be above wilting_water"),
        ({"full_water": 28.0}, "full_water is 28; it must be above field_water"),
        ({"board_capacity": 30.0}, "30 mm given for a layer 25 mm high"),
        ({"flow_length_m": 0.0}, "flow_length_m is 0; it must be above 0"),
        ({"in_plane_gradient": 0.0}, "in_plane_gradient is 0; it must be above 0"),
        ({"in_plane_exponent": 0.7}, "in_plane_exponent is 0.7; it must be 0.5"),
        ({"blocked_fraction": 1.2}, "blocked_fraction is 1.2; it must be from 0 to 1"),
        ({"cup_supply": -0.1}, "cup_supply is -0.1; it must be from 0 to 1"),
    ],
)
def test_numbers_that_cannot_be_are_refused(given: dict, said: str) -> None:
    with pytest.raises(RunoffError) as refused:
        packing.by_name([described(), described(**given)])
    assert said in str(refused.value)


def test_what_is_missing_is_named() -> None:
    roof = described()
    del roof["fall"], roof["sill_level"]
    with pytest.raises(RunoffError, match="not given: fall, sill_level"):
        packing.by_name([roof])
    with pytest.raises(RunoffError, match="no design is given"):
        packing.by_name([])


def test_limits_are_inputs_and_shallow_media_run_into_drought_sooner() -> None:
    roofs = [described(), described(medium_depth=40.0), described(flow_length_m=2.0), described(medium_depth=40.1)]
    at = dict(zip(column.PARAMETERS, column.parameter_array(roofs), strict=True))
    assert list(at["drought_days"]) == [28.0, 14.0, 28.0, 28.0]
    # a strip of half a metre is 0.05 of 10 m, a quarter of 2 m, where a tenth of the area comes first
    assert at["wet_limit"] + 1e-9 == pytest.approx([0.05, 0.05, 0.10, 0.05])
    given = column.parameter_array(roofs, 0.15, 0.2, wet_depth_share=0.5, wet_area_share=0.02, drought_days=7.0)
    at = dict(zip(column.PARAMETERS, given, strict=True))
    assert at["air_water"][0] == pytest.approx(12.0) and at["wet_depth"][0] == pytest.approx(40.0)
    assert at["wet_limit"][0] + 1e-9 == pytest.approx(0.02) and at["drought_days"][0] == 7.0
    assert at["dry_limit"][0] + 1e-9 == pytest.approx(0.2 * 22.0)
