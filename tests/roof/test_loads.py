"""Loads worked by hand: one mm of water is one kg/m2; dead and live water as ASTM E2397 divides them."""

import re

import pytest

import runoff
from runoff.roof import CAUTION, drained_mass_kg_per_m2, loads_table, open_sample_roof, rain_load_kn_per_m2, roof_loads
from runoff.roof.loads import STATES
from runoff.units import convert

LAYERS = [
    runoff.Planting(canopy_storage_mm=1.5, mass_kg_per_m2=12),
    runoff.Mulch(depth_mm=20, holding_fraction=0.13, density_kg_per_m3=250),
    runoff.GrowingMedium(depth_mm=80, porosity=0.6, field_capacity=0.35, wilting_point=0.05, dry_density_kg_per_m3=800),
    runoff.FilterFleece(storage_mm=0.5, mass_kg_per_m2=0.15),
    runoff.DrainageBoard(height_mm=25, cup_storage_mm=4, void_storage_mm=8, mass_kg_per_m2=1.2),
    runoff.ProtectionMat(storage_mm=5, void_storage_mm=0.5, mass_kg_per_m2=0.5),
    runoff.Insulation(mass_kg_per_m2=4),
    runoff.Membrane(mass_kg_per_m2=5),
]


def roof(*without: str, **rest: object) -> runoff.Roof:
    return runoff.Roof(build_up=runoff.BuildUp(layers=[one for one in LAYERS if one.word not in without]), **rest)


# dry, drained, board full, ponded to an overflow 130 mm above the deck: 25 mm over the top of the medium
BY_HAND = {
    "planting": (12.0, 13.5, 13.5, 13.5),
    "mulch": (5.0, 7.6, 7.6, 7.6),  # 0.02 m x 250; 20 mm x 0.13
    "medium": (64.0, 92.0, 92.0, 112.0),  # 0.08 m x 800; 28 mm at field capacity; 48 mm when full
    "fleece": (0.15, 0.65, 0.65, 0.65),
    "board": (1.2, 5.2, 13.2, 13.2),  # cups 4, void 8
    "mat": (0.5, 5.5, 5.5, 5.5),  # its own free space counts only without a board
    "insulation": (4.0, 4.0, 4.0, 4.0),
    "membrane": (5.0, 5.0, 5.0, 5.0),
    "pond": (0.0, 0.0, 0.0, 25.0),
}


def test_every_layer_in_every_state() -> None:
    loads = roof_loads(roof(emergency_overflow_mm=130))
    assert list(loads["layer"].to_numpy()) == list(BY_HAND) and list(loads["state"].to_numpy()) == list(STATES)
    for layer, masses in BY_HAND.items():
        assert loads["mass"].sel(layer=layer).to_numpy() == pytest.approx(masses, rel=1e-12)
    totals = [sum(masses[k] for masses in BY_HAND.values()) for k in range(4)]
    assert totals == pytest.approx([91.85, 133.45, 141.45, 186.45])  # added by hand
    assert loads["total_mass"].to_numpy() == pytest.approx(totals, rel=1e-12)
    assert float(loads["transient_mass"]) == pytest.approx(53.0)  # 186.45 - 133.45
    assert drained_mass_kg_per_m2(roof()) == pytest.approx(133.45, rel=1e-12)


def test_kilonewton_is_mass_times_standard_gravity() -> None:
    loads = roof_loads(roof(emergency_overflow_mm=130))
    assert float(loads["total_load"].sel(state="drained")) == pytest.approx(133.45 * 9.80665 / 1000, rel=1e-12)
    assert loads["total_load"].attrs["units"] == loads["load"].attrs["units"] == "kN/m2"
    assert loads["total_mass"].attrs["units"] == loads["transient_mass"].attrs["units"] == "kg/m2"


def test_an_overflow_below_the_top_of_the_board_still_leaves_the_full_board_as_live_load() -> None:
    loads = roof_loads(roof(emergency_overflow_mm=10))
    assert loads["mass"].sel(layer="board").to_numpy() == pytest.approx([1.2, 5.2, 13.2, 5.2 + 8 * 10 / 25])
    assert float(loads["total_mass"].sel(state="ponded")) == pytest.approx(133.45 + 3.2)
    assert float(loads["transient_mass"]) == pytest.approx(8.0)  # E2397: drained against drain layer full


def test_without_an_overflow_the_medium_fills() -> None:
    loads = roof_loads(roof())
    assert loads["mass"].sel(state="ponded", layer=["medium", "pond"]).to_numpy() == pytest.approx([112.0, 0.0])


def test_without_a_board_the_free_space_of_the_mat_fills() -> None:
    loads = roof_loads(roof("board", emergency_overflow_mm=40))
    assert loads["mass"].sel(layer="mat").to_numpy() == pytest.approx([0.5, 5.5, 6.0, 6.0])
    assert loads["mass"].sel(layer="medium").to_numpy() == pytest.approx([64, 92, 92, 102])  # half of 20 mm above 28


def test_cups_face_down_hold_no_dead_water() -> None:
    turned = roof().replace({"board.cups_up": False})
    assert drained_mass_kg_per_m2(turned) == pytest.approx(133.45 - 4.0)


def test_published_water_of_three_inches_of_medium() -> None:
    """3 in of medium at 50 % by volume hold 1.5 in; on 75 000 ft2 that is 265 m3 (Berghage et al. 2010, printed 265)."""
    medium = runoff.GrowingMedium(depth_mm=76.2, porosity=0.7, field_capacity=0.5)
    mass = roof_loads(runoff.Roof(build_up=runoff.BuildUp(layers=[medium, runoff.DrainageBoard()])))["mass"]
    water = float(mass.sel(layer="medium", state="drained") - mass.sel(layer="medium", state="dry"))
    assert water == pytest.approx(38.1)
    assert int(water / 1000 * convert(75_000, "ft2", "m2")) == 265
    # 1 in of water weighs 5.2023 lb/ft2 (5.2 in codes): five printed digits
    assert convert(water, "kg/m2", "lb/ft2") == pytest.approx(1.5 * 5.2023, rel=1e-5)


def test_rain_load_over_the_secondary_drain() -> None:
    # R = 0.0098 (ds + dh) kN/m2, IBC 1611 (coefficient from memory): 50 mm and 25 mm, by hand
    assert rain_load_kn_per_m2(depth_to_overflow_mm=50, head_over_overflow_mm=25) == pytest.approx(0.735)
    # against the weight of that water, 0.00980665 kN/m2 per mm (exact): the code's rounding is 0.07 %
    weight = convert(75.0, "kg/m2", "kN/m2")
    assert rain_load_kn_per_m2(depth_to_overflow_mm=50, head_over_overflow_mm=25) == pytest.approx(weight, rel=1e-3)


def test_rain_load_refuses_negative_depths_and_unknown_ones() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        rain_load_kn_per_m2(depth_to_overflow_mm=-1, head_over_overflow_mm=float("nan"))
    assert str(refused.value).splitlines() == [
        "rain load: depth_to_overflow_mm must be 0 or more (you gave -1)",
        "rain load: head_over_overflow_mm must be 0 or more (you gave nan)",
    ]


def test_the_table_shows_all_three_units_and_carries_the_caution() -> None:
    table = loads_table(roof(emergency_overflow_mm=130))
    assert table.attrs["caution"] == roof_loads(roof()).attrs["caution"] == CAUTION
    drained = table["drained: with the water the layers and cups hold (dead load)"]
    assert list(drained.columns) == ["kg/m2", "kN/m2", "lb/ft2"] and list(drained.index) == [*BY_HAND, "total"]
    # 1 lb/ft2 = 0.45359237 / 0.3048^2 kg/m2
    assert drained.loc["total", "lb/ft2"] == pytest.approx(133.45 / (0.45359237 / 0.3048**2), rel=1e-12)


def test_no_word_says_that_a_roof_can_carry_it() -> None:
    text = " ".join([CAUTION, str(roof_loads(roof()).attrs), loads_table(roof()).to_string()])
    assert "licensed structural engineer" in text and "local code" in text
    assert not re.search(
        r"(can|will) (safely )?(carry|bear|hold)|\bsafe\b|is adequate|sufficient", text.replace(CAUTION, "")
    )
    assert "Whether the structure can carry them" in CAUTION  # the only "can carry", and it is a question


@pytest.mark.parametrize("name", ["thin", "cups", "deep"])
def test_sample_roofs_lie_in_the_published_band(name: str) -> None:
    """Extensive build-ups of 40-150 mm weigh some 30-220 kg/m2 (weak web source; a band of plausibility only)."""
    assert 30 <= drained_mass_kg_per_m2(open_sample_roof(name)) <= 260
