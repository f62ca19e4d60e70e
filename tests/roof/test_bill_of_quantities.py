"""Quantities worked by hand, and the facts of the trade (common practice, no source)."""

import math

import pandas as pd
import pytest

import runoff
from runoff.roof import OrderRules, bill_of_quantities, open_sample_roof, order_list
from runoff.roof.order_packing import whole
from runoff.roof.ordering import HANDLING_CAUTION
from runoff.units import convert

FT2 = 0.3048**2
NO_ALLOWANCE = dict(
    settlement=0, medium_waste=0, mulch_waste=0, sheet_waste=0, plug_waste=0, insulation_waste=0, gravel_waste=0
)


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
    assert (found.quantity["plugs, ordered"], found.quantity["plugs, trays"]) == (plugs, trays)


def test_mulch_is_equal_parts_of_compost_and_wood_chip() -> None:
    found = bill([runoff.Mulch(depth_mm=20), *medium(80)], area_m2=100, rules=OrderRules(**NO_ALLOWANCE))
    assert (
        found.quantity["mulch: compost, ordered"] == found.quantity["mulch: wood chip, ordered"] == pytest.approx(1.0)
    )  # half of 100 m2 x 20 mm


# --- by hand --------------------------------------------------------------------------------------------------------


def test_volume_with_settlement_and_waste() -> None:
    found = bill(medium(80), area_m2=100, rules=OrderRules(settlement=0.2, medium_waste=0.1, sack_m3=1.0))
    assert found.quantity["growing medium, in place"] == pytest.approx(8.0)
    assert found.quantity["growing medium, ordered"] == pytest.approx(8.0 * 1.2 * 1.1)  # 10.56 m3
    assert found.quantity["growing medium, sacks"] == 11
    assert found.us_quantity["growing medium, ordered"] == pytest.approx(10.56 / 0.3048**3)
    assert found.us_unit["growing medium, ordered"] == "ft3"


def test_loose_and_settled_volumes_stand_in_both_unit_systems() -> None:
    roof = runoff.Roof(area_m2=100, build_up=runoff.BuildUp(layers=medium(80)))
    line = next(one for one in runoff.order_list(roof, OrderRules(settlement=0.2)).lines if one.layer == "medium")
    assert line.how == "20 % settlement (9.60 m3 loose), 5 % waste"  # 8 m3 settled x 1.2
    assert line.how_us == "20 % settlement (339.0 ft3 loose), 5 % waste"  # 9.6 / 0.3048^3 = 339.02


def test_masses_on_the_hoist_and_under_a_staged_sack() -> None:
    layers = medium(80, dry_density_kg_per_m3=800, field_capacity=0.35, porosity=0.6)
    rules = OrderRules(settlement=0.25, medium_waste=0, sack_m3=1.0, moisture=0.1, sack_footprint_m2=0.8)
    found = bill(layers, area_m2=100, rules=rules)
    # loose: 800/1.25 = 640 kg/m3 dry, and 10 % moisture; after rain 350 mm more in each settled metre, 280 in a loose one
    assert found.quantity["growing medium, one sack as delivered"] == pytest.approx(704.0)
    assert found.quantity["growing medium, one sack after rain"] == pytest.approx(920.0)
    assert found.quantity["growing medium, sacks"] == 10  # 8 m3 x 1.25
    assert found.quantity["growing medium, footprint"] == pytest.approx(8.0)
    assert found.quantity["load under the heaviest pack set down"] == pytest.approx(1150.0)
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
        "order: a sack of growing medium weighs 704 kg as delivered, more than lift_limit_kg (500); order smaller packs or a "
        "stronger hoist"
    )


def test_small_sacks_come_on_pallets() -> None:
    rules = OrderRules(**NO_ALLOWANCE, sack_m3=0.05, sacks_per_pallet=40)
    found = bill(medium(80), area_m2=100, rules=rules)
    assert (found.quantity["growing medium, sacks"], found.quantity["growing medium, pallets"]) == (160, 4)
    assert "growing medium, pallets" not in bill(medium(80), area_m2=100).index


def test_ways_up_by_hoist_and_by_hand() -> None:
    layers = medium(80, dry_density_kg_per_m3=800)
    rules = OrderRules(**NO_ALLOWANCE, sack_m3=0.05, sacks_per_pallet=40, moisture=0, carry_kg=85, lift_limit_kg=1700)
    found = bill(layers, area_m2=100, rules=rules)  # 160 sacks of 40 kg
    assert found.quantity["growing medium, trips by hand"] == 80  # two sacks of 40 kg in 85 kg
    assert found.quantity["growing medium, lifts"] == 4  # 42 sacks in 1,700 kg
    heavy = bill(layers, area_m2=100, rules=OrderRules(**NO_ALLOWANCE, moisture=0, sack_m3=1.0, carry_kg=25))
    assert heavy.quantity["growing medium, trips by hand"] == 256  # 6,400 kg in parts of 25 kg


def test_what_a_pack_set_down_weighs_beside_the_finished_roof() -> None:
    layers = [runoff.GrowingMedium(depth_mm=100, dry_density_kg_per_m3=800, field_capacity=0.35), runoff.DrainageBoard(cup_storage_mm=0, mass_kg_per_m2=2)]  # fmt: skip
    order = order_list(
        runoff.Roof(build_up=runoff.BuildUp(layers=layers), area_m2=100), OrderRules(settlement=0.25, sack_m3=1.0)
    )
    # finished: 80 kg dry, 35 mm of water and the board; a loose cubic metre after rain 1150/1.25
    assert order.finished_kg_per_m2 == pytest.approx(117.0)
    assert order.staged_kg_per_m2 == pytest.approx(920.0)
    assert "Spread out, it takes 7.9 m2 to weigh no more than that." in order.sentences()[2]  # 920/117 = 7.86


def test_a_mat_that_got_wet_is_heavier() -> None:
    found = bill([*medium(80), runoff.ProtectionMat(storage_mm=4, mass_kg_per_m2=0.5)], area_m2=100, rules=OrderRules(**NO_ALLOWANCE, mat_overlap_m=0))  # fmt: skip
    assert found.quantity["protection mat, mass as delivered"] == pytest.approx(50.0)
    assert found.quantity["protection mat, mass after rain"] == pytest.approx(450.0)  # and 4 kg of water on each m2
    assert found.quantity["protection mat, rolls"] == 2  # 2 m x 25 m each
    assert found.quantity["protection mat, footprint"] == pytest.approx(1.6)  # two rolls of 2 m x 0.4 m


def test_footprint_counts_stacks() -> None:
    found = bill([*medium(80), runoff.Insulation(thickness_mm=120, mass_kg_per_m2=4)], area_m2=72, rules=OrderRules(**NO_ALLOWANCE))  # fmt: skip
    assert found.quantity["insulation, slabs"] == 100  # 72 m2 in slabs of 0.72 m2
    assert found.quantity["insulation, pallets"] == 13  # eight slabs of 120 mm in a metre
    assert found.quantity["insulation, footprint"] == pytest.approx(13 * 0.72)


def test_packs_of_zero_are_refused() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        OrderRules(sack_m3=0, plugs_per_tray=0, carry_kg=0)
    assert str(refused.value).splitlines() == [
        "OrderRules: sack_m3 must be more than 0 (you wrote 0)",
        "OrderRules: carry_kg must be more than 0 (you wrote 0)",
        "OrderRules: plugs_per_tray must be at least 1 (you wrote 0)",
    ]


@pytest.mark.parametrize("units", ["si", "us"])
def test_the_list_reads_in_one_unit_system(units: str) -> None:
    order = order_list(open_sample_roof("cups"))
    text = str(order.shown(units))
    other = (" kg", " m2", " m3", "mm") if units == "us" else (" lb", " ft", " in ")
    assert not [one for one in other if one in text.replace("80 mm with cups", "")]
    assert HANDLING_CAUTION in text and "<table" in order._repr_html_()
    # the sum is what the lines say: every pack is counted once
    assert sum(line.mass_kg for line in order.lines) == order.mass_kg


def test_sheets_overlap_and_some_is_cut_away() -> None:
    layers = [
        *(runoff.GrowingMedium(), runoff.FilterFleece(mass_kg_per_m2=0.2), runoff.DrainageBoard(mass_kg_per_m2=1.5)),
        *(runoff.ProtectionMat(), runoff.Insulation(thickness_mm=100, mass_kg_per_m2=3), runoff.Membrane()),
    ]
    rules = OrderRules(
        **{**NO_ALLOWANCE, "sheet_waste": 0.1, "insulation_waste": 0.04}, fleece_overlap_m=0.2, board_overlap_m=0, mat_overlap_m=0.4
    )  # fmt: skip
    found = bill(layers, area_m2=100, planted_fraction=0.9, rules=rules)
    assert found.quantity["filter fleece, ordered"] == pytest.approx(90 * 2 / 1.8 * 1.1)  # 110 m2
    assert found.quantity["filter fleece, mass as delivered"] == pytest.approx(22.0)
    assert found.quantity["drainage board, ordered"] == pytest.approx(99.0)
    assert found.quantity["protection mat, ordered"] == pytest.approx(90 * 2 / 1.6 * 1.1)
    # insulation and membrane under the whole roof
    assert found.quantity["membrane, ordered"] == pytest.approx(100 * 2 / 1.9 * 1.1)
    assert found.quantity["insulation, ordered"] == pytest.approx(104.0)
    assert found.quantity["insulation, slabs"] == 145  # 104 m2 in slabs of 0.72 m2: 144.4
    assert found.quantity["insulation, mass as delivered"] == pytest.approx(312.0)


def test_gravel_on_what_is_not_planted() -> None:
    found = bill(medium(80), area_m2=100, planted_fraction=0.9, rules=OrderRules(**NO_ALLOWANCE))
    assert found.quantity["gravel, ordered"] == pytest.approx(0.5)  # 10 m2 x 50 mm
    assert found.quantity["gravel, mass as delivered"] == pytest.approx(800.0)
    for rest in ({"planted_fraction": 1.0}, {"planted_fraction": 0.9, "other_surface": runoff.BareSurface()}):
        assert "gravel, ordered" not in bill(medium(80), area_m2=100, **rest).index


def test_allowances_that_cannot_be() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        OrderRules(mat_width_m=1, mat_overlap_m=1.0, compost_parts=0, wood_chip_parts=0)
    assert str(refused.value).splitlines() == [
        "OrderRules: mat_overlap_m must be less than mat_width_m (you wrote 1 and 1)",
        "OrderRules: compost_parts and wood_chip_parts cannot both be 0",
    ]
    with pytest.raises(
        runoff.RoofError, match=r'^OrderRules: settlment is not a known key \(did you mean "settlement"\?\)$'
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
    assert {"roof", "planting", "mulch", "medium", "fleece", "board", "mat", "membrane", "other surface", "all"} == set(
        table["layer"]
    )
    assert "licensed structural engineer" in table.attrs["caution"] and "edge" in table.attrs["caution"]
    for row in table.itertuples():  # every pair of units says the same
        same = row.quantity if row.unit == row.us_unit else convert(row.quantity, row.unit, row.us_unit)
        assert math.isclose(row.us_quantity, same, rel_tol=1e-12)
