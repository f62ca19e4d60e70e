"""Quantities worked by hand, and the facts of the trade (common practice, no source)."""

import math

import pandas as pd
import pytest

import runoff
from runoff.roof import OrderRules, bill_of_quantities, open_sample_roof
from runoff.roof.ordering import whole
from runoff.units import convert

FT2 = 0.3048**2
NO_ALLOWANCE = dict(settlement=0, medium_waste=0, mulch_waste=0, sheet_waste=0, plug_waste=0, insulation_waste=0)


def bill(layers: list, *, area_m2: float, rules: OrderRules | None = None, **rest: object) -> pd.DataFrame:
    roof = runoff.Roof(build_up=runoff.BuildUp(layers=layers), area_m2=area_m2, **rest)
    return bill_of_quantities(roof, rules).set_index("item")


def medium(depth_mm: float, **rest: float) -> list:
    return [runoff.GrowingMedium(depth_mm=depth_mm, **rest), runoff.DrainageBoard()]


# --- facts of the trade: common practice, no source -----------------------------------------------------------------


@pytest.mark.parametrize(("area_ft2", "sacks"), [(200, 1), (800, 4), (801, 5), (199, 1)])
def test_one_bulk_sack_of_40_ft3_covers_200_ft2_at_61_mm(area_ft2: float, sacks: int) -> None:
    depth = 1000 * 0.3048 * 40 / 200  # 0.2 ft = 60.96 mm
    assert depth == pytest.approx(61, abs=0.05)
    found = bill(medium(depth), area_m2=area_ft2 * FT2, rules=OrderRules(**NO_ALLOWANCE))
    assert found.quantity["growing medium, sacks"] == sacks


def test_the_default_sack_is_40_ft3() -> None:
    assert convert(OrderRules().sack_m3, "m3", "ft3") == pytest.approx(40, rel=1e-12)


@pytest.mark.parametrize(("plugs", "trays"), [(72, 1), (73, 2), (720, 10), (1, 1)])
def test_trays_hold_72_plugs(plugs: int, trays: int) -> None:
    rules = OrderRules(**NO_ALLOWANCE, plugs_per_m2=1)
    found = bill([runoff.Planting(), *medium(80)], area_m2=plugs, rules=rules)
    assert (found.quantity["plugs"], found.quantity["trays of plugs"]) == (plugs, trays)


def test_mulch_is_equal_parts_of_compost_and_wood_chip() -> None:
    found = bill([runoff.Mulch(depth_mm=20), *medium(80)], area_m2=100, rules=OrderRules(**NO_ALLOWANCE))
    assert found.quantity["compost"] == found.quantity["wood chip"] == pytest.approx(1.0)  # half of 100 m2 x 20 mm


# --- by hand --------------------------------------------------------------------------------------------------------


def test_volume_with_settlement_and_waste() -> None:
    found = bill(medium(80), area_m2=100, rules=OrderRules(settlement=0.2, medium_waste=0.1, sack_m3=1.0))
    assert found.quantity["growing medium, in place"] == pytest.approx(8.0)
    assert found.quantity["growing medium, ordered"] == pytest.approx(8.0 * 1.2 * 1.1)  # 10.56 m3
    assert found.quantity["growing medium, sacks"] == 11
    assert found.us_quantity["growing medium, ordered"] == pytest.approx(10.56 / 0.3048**3)
    assert found.us_unit["growing medium, ordered"] == "ft3"


def test_masses_on_the_hoist_and_under_a_staged_sack() -> None:
    layers = medium(80, dry_density_kg_per_m3=800, field_capacity=0.35, porosity=0.6)
    rules = OrderRules(settlement=0.25, medium_waste=0, sack_m3=1.0, moisture=0.1, sack_footprint_m2=0.8)
    found = bill(layers, area_m2=100, rules=rules)
    # loose: 800/1.25 = 640 kg/m3 dry, and 10 % moisture; after rain 350 mm more in each settled metre, 280 in a loose one
    assert found.quantity["growing medium, one sack as delivered"] == pytest.approx(704.0)
    assert found.quantity["growing medium, one sack after rain"] == pytest.approx(920.0)
    assert found.quantity["growing medium, sacks"] == 10  # 8 m3 x 1.25
    assert found.quantity["growing medium, staging footprint"] == pytest.approx(8.0)
    assert found.quantity["growing medium, load under a staged sack"] == pytest.approx(1150.0)
    assert found.quantity["growing medium, lifts"] == 10
    assert found.quantity["growing medium, hoist mass per lift"] == pytest.approx(704.0)


@pytest.mark.parametrize(("limit", "lifts", "mass"), [(704, 10, 704), (1500, 5, 1408), (2200, 4, 2112), (1e5, 1, 7040)])
def test_lifts_for_what_the_hoist_takes(limit: float, lifts: int, mass: float) -> None:
    layers = medium(80, dry_density_kg_per_m3=800)
    rules = OrderRules(settlement=0.25, medium_waste=0, sack_m3=1.0, moisture=0.1, lift_limit_kg=limit)
    found = bill(layers, area_m2=100, rules=rules)  # ten sacks of 704 kg, as above
    assert found.quantity["growing medium, lifts"] == lifts
    assert found.quantity["growing medium, hoist mass per lift"] == pytest.approx(mass)


def test_a_sack_too_heavy_for_the_hoist() -> None:
    rules = OrderRules(settlement=0.25, sack_m3=1.0, moisture=0.1, lift_limit_kg=500)
    with pytest.raises(runoff.RoofError) as refused:
        bill(medium(80, dry_density_kg_per_m3=800), area_m2=100, rules=rules)
    assert str(refused.value) == (
        "bill of quantities: a sack of growing medium weighs 704 kg as delivered, more than lift_limit_kg (500); order "
        "smaller sacks (sack_m3) or a stronger hoist"
    )


def test_small_sacks_come_on_pallets() -> None:
    rules = OrderRules(**NO_ALLOWANCE, sack_m3=0.05, sacks_per_pallet=40)
    found = bill(medium(80), area_m2=100, rules=rules)
    assert (found.quantity["growing medium, sacks"], found.quantity["growing medium, pallets"]) == (160, 4)
    assert "growing medium, pallets" not in bill(medium(80), area_m2=100).index


def test_sheets_overlap_and_some_is_cut_away() -> None:
    layers = [
        *(runoff.GrowingMedium(), runoff.FilterFleece(mass_kg_per_m2=0.2), runoff.DrainageBoard(mass_kg_per_m2=1.5)),
        *(runoff.ProtectionMat(), runoff.Insulation(thickness_mm=100, mass_kg_per_m2=3), runoff.Membrane()),
    ]
    rules = OrderRules(
        **{**NO_ALLOWANCE, "sheet_waste": 0.1, "insulation_waste": 0.04}, fleece_overlap_m=0.2, board_overlap_m=0, mat_overlap_m=0.4
    )  # fmt: skip
    found = bill(layers, area_m2=100, planted_fraction=0.9, rules=rules)
    assert found.quantity["filter fleece"] == pytest.approx(90 * 2 / 1.8 * 1.1)  # 110 m2
    assert found.quantity["filter fleece, mass"] == pytest.approx(22.0)
    assert found.quantity["drainage board"] == pytest.approx(99.0)
    assert found.quantity["protection mat"] == pytest.approx(90 * 2 / 1.6 * 1.1)
    # insulation and membrane under the whole roof
    assert found.quantity["membrane"] == pytest.approx(100 * 2 / 1.9 * 1.1)
    assert found.quantity["insulation"] == pytest.approx(104.0)
    assert found.quantity["insulation, volume"] == pytest.approx(10.4)
    assert found.quantity["insulation, mass"] == pytest.approx(312.0)


def test_gravel_on_what_is_not_planted() -> None:
    found = bill(medium(80), area_m2=100, planted_fraction=0.9)
    assert found.quantity["gravel"] == pytest.approx(0.5)  # 10 m2 x 50 mm
    assert found.quantity["gravel, mass"] == pytest.approx(800.0)
    for rest in ({"planted_fraction": 1.0}, {"planted_fraction": 0.9, "other_surface": runoff.BareSurface()}):
        assert "gravel" not in bill(medium(80), area_m2=100, **rest).index


def test_allowances_that_cannot_be() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        OrderRules(mat_width_m=1, mat_overlap_m=1.0, compost_parts=0, wood_chip_parts=0)
    assert str(refused.value).splitlines() == [
        "OrderRules: mat_overlap_m must be less than mat_width_m (you wrote 1 and 1)",
        "OrderRules: compost_parts and wood_chip_parts cannot both be 0",
    ]
    with pytest.raises(
        runoff.RoofError, match=r'^OrderRules: settlment is not a known key; did you mean "settlement"\?$'
    ):
        OrderRules(settlment=0.1)
    with pytest.raises(
        runoff.RoofError, match=r"^OrderRules: settlement must be at most 1 \(you wrote 15\); 15 % is written 0.15$"
    ):
        OrderRules(settlement=15)


def test_whole_packages() -> None:
    assert [whole(one) for one in (0.0, 0.2, 1.0, 1.0 + 1e-12, 1.001, 4.0)] == [0, 1, 1, 1, 2, 4]


def test_the_bill_of_the_sample_reads_well_and_carries_the_caution() -> None:
    table = bill_of_quantities(open_sample_roof("cups"))
    assert list(table.columns) == ["layer", "item", "quantity", "unit", "us_quantity", "us_unit", "basis"]
    assert table["item"].is_unique and (table["quantity"] > 0).all() and (table["basis"].str.len() > 0).all()
    assert {"roof", "planting", "mulch", "medium", "fleece", "board", "mat", "membrane", "other surface"} == set(
        table["layer"]
    )
    assert "licensed structural engineer" in table.attrs["caution"] and "edge" in table.attrs["caution"]
    for row in table.itertuples():  # every pair of units says the same
        same = row.quantity if row.unit == row.us_unit else convert(row.quantity, row.unit, row.us_unit)
        assert math.isclose(row.us_quantity, same, rel_tol=1e-12)
