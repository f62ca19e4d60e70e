"""Loads worked by hand: one mm of water is one kg/m2; dead and live water as ASTM E2397 divides them."""

import re

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import runoff
from runoff.roof import CAUTION, drained_mass_kg_per_m2, open_sample_roof, rain_load_kn_per_m2, roof_loads
from runoff.roof.load_tables import loads_shown
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


OPENING = dict(emergency_overflow_mm=130, emergency_width_mm=300, emergency_height_mm=100)

# where water is deepest: dry, drained, board full, ponded to 230 mm (sill 130 and an opening 100 high), and to the edge at
# 255 mm (board 25, medium 80 and the usual upstand of 150)
BY_HAND = {
    "planting": (12.0, 13.5, 13.5, 13.5, 13.5),
    "mulch": (5.0, 7.6, 7.6, 7.6, 7.6),  # 0.02 m x 250; 20 mm x 0.13
    "medium": (64.0, 92.0, 92.0, 112.0, 112.0),  # 0.08 m x 800; 28 mm at field capacity; 48 mm when full
    "fleece": (0.15, 0.65, 0.65, 0.65, 0.65),
    "board": (1.2, 5.2, 13.2, 13.2, 13.2),  # cups 4, void 8
    "mat": (0.5, 5.5, 5.5, 5.5, 5.5),  # its own free space counts only without a board
    "insulation": (4.0, 4.0, 4.0, 4.0, 4.0),
    "membrane": (5.0, 5.0, 5.0, 5.0, 5.0),
    "pond": (0.0, 0.0, 0.0, 125.0, 150.0),  # 230 and 255 less 105
}
TOTALS = [91.85, 133.45, 141.45, 286.45, 311.45]  # added by hand


def test_every_layer_in_every_state() -> None:
    loads = roof_loads(roof(**OPENING))
    assert list(loads["layer"].to_numpy()) == list(BY_HAND) and list(loads["state"].to_numpy()) == list(STATES)
    for layer, masses in BY_HAND.items():
        assert loads["mass"].sel(layer=layer).to_numpy() == pytest.approx(masses, rel=1e-12)
    totals = [sum(masses[k] for masses in BY_HAND.values()) for k in range(5)]
    assert totals == pytest.approx(TOTALS)
    assert loads["total_mass"].to_numpy() == pytest.approx(totals, rel=1e-12)
    assert loads["water_level"].to_numpy() == pytest.approx([0.0, 0.0, 25.0, 230.0, 255.0])
    assert float(loads["transient_mass"]) == pytest.approx(153.0)  # 286.45 - 133.45
    assert drained_mass_kg_per_m2(roof()) == pytest.approx(133.45, rel=1e-12)


def test_the_mean_over_a_deck_with_a_fall() -> None:
    """A drop of 1000 x 0.02 x 8 = 160 mm, water at 230 mm. Mean depth over the deck 230 - 80 = 150, over the board's top 205 -
    80 = 125, over the medium's 125^2 / (2 x 160) = 48.828125. Board 8/25 (150 - 125) = 8, medium 20/80 (125 - 48.828125) =
    19.042969, pond 48.828125: together 75.871094 on 133.45 drained.
    """
    mean = roof_loads(roof(**OPENING))["mean_mass"].sel(state="ponded")
    assert float(mean) == pytest.approx(133.45 + 75.871094, abs=1e-6)
    level = roof_loads(roof(**OPENING, fall=0.0))
    assert level["mean_mass"].to_numpy() == pytest.approx(level["total_mass"].to_numpy(), rel=1e-12)


def test_a_head_as_given() -> None:
    loads = roof_loads(roof(**OPENING), head_mm=50.0)
    assert float(loads["total_mass"].sel(state="ponded")) == pytest.approx(133.45 + 8 + 20 + 75)
    assert loads.attrs["ponded"] == "ponded to the sill of the emergency overflow and its head (50 mm, as given)"
    assert (
        float(roof_loads(roof(**OPENING), head_mm=900.0)["water_level"].sel(state="ponded")) == 255.0
    )  # no higher than the edge


def test_a_head_that_just_reaches_the_edge_ponds_to_the_edge() -> None:
    described = roof(**OPENING, edge_height_mm=400)
    sill = OPENING["emergency_overflow_mm"]
    assert roof_loads(described, head_mm=400.0 - sill).attrs["ponded"].startswith("ponded to the edge: the head")
    assert roof_loads(described, head_mm=399.0 - sill).attrs["ponded"].startswith("ponded to the sill")


def test_a_head_that_cannot_be() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        roof_loads(roof(), head_mm=20.0)
    assert str(refused.value) == (
        "loads: a head is given, but the roof has no emergency overflow; write emergency_overflow_mm"
    )
    with pytest.raises(runoff.RoofError, match=r"^loads: head_mm must be 0 or more \(given -1\)$"):
        roof_loads(roof(**OPENING), head_mm=-1.0)


@pytest.mark.parametrize(
    ("levels", "said"),
    [
        ({}, "ponded to the edge: no emergency overflow is described"),
        (
            {"emergency_overflow_mm": 130},
            "ponded to the edge: the opening of the emergency overflow is not described",
        ),
        (
            {**OPENING, "edge_height_mm": 200},
            "ponded to the edge: the head over the emergency overflow reaches it",
        ),
        (OPENING, "ponded to the sill of the emergency overflow and its head (100 mm, the height of its opening)"),
    ],
)
def test_how_far_water_is_followed_is_said(levels: dict, said: str) -> None:
    loads = roof_loads(roof(**levels))
    assert loads.attrs["ponded"] == said
    if said.startswith("ponded to the edge"):
        assert float(loads["total_mass"].sel(state="ponded")) == float(loads["total_mass"].sel(state="edge"))


@pytest.mark.slow
@settings(max_examples=100)
@given(
    sill=st.floats(0, 250),
    height=st.floats(20, 300),
    depth=st.floats(20, 300),
    fall=st.floats(0, 0.1),
    edge=st.none() | st.floats(560, 900),
)
def test_without_an_overflow_a_roof_is_never_lighter(
    sill: float, height: float, depth: float, fall: float, edge: float | None
) -> None:
    """Taking the overflow out of the description raises what it weighs ponded, or leaves it."""
    assume(edge is not None or sill <= 25 + depth + 150)
    opening = dict(emergency_overflow_mm=sill, emergency_width_mm=300.0, emergency_height_mm=height)
    kept = roof(fall=fall, edge_height_mm=edge).replace({"medium.depth_mm": depth})
    kept = runoff.Roof(**{**kept.fields(), **opening})
    with_it, without = roof_loads(kept), roof_loads(kept.replace({"roof.emergency_overflow_mm": None}))
    for name in ("total_mass", "mean_mass"):
        assert float(without[name].sel(state="ponded")) >= float(with_it[name].sel(state="ponded")) - 1e-9
        assert float(with_it[name].sel(state="edge")) == float(without[name].sel(state="edge"))
    assert float(without["transient_mass"]) >= float(with_it["transient_mass"]) - 1e-9


def test_kilonewton_is_mass_times_standard_gravity() -> None:
    loads = roof_loads(roof(**OPENING))
    assert float(loads["total_load"].sel(state="drained")) == pytest.approx(133.45 * 9.80665 / 1000, rel=1e-12)
    assert loads["total_load"].attrs["units"] == loads["load"].attrs["units"] == "kN/m2"
    assert loads["total_mass"].attrs["units"] == loads["transient_mass"].attrs["units"] == "kg/m2"


def test_an_overflow_low_in_the_board_still_leaves_the_full_board_as_live_load() -> None:
    """Sill and head within the board, 10 + 5 of 25 mm: 8 x 15/25 of its free space (E2397: drained against layer full)."""
    loads = roof_loads(roof(emergency_overflow_mm=10, emergency_width_mm=300, emergency_height_mm=5))
    assert loads["mass"].sel(layer="board").to_numpy() == pytest.approx([1.2, 5.2, 13.2, 5.2 + 8 * 15 / 25, 13.2])
    assert float(loads["total_mass"].sel(state="ponded")) == pytest.approx(133.45 + 4.8)
    assert float(loads["transient_mass"]) == pytest.approx(8.0)


def test_without_a_board_the_free_space_of_the_mat_fills() -> None:
    """The mat is 5 mm thick: a level of 45 mm reaches half of the medium, which takes 20 mm above its 28."""
    loads = roof_loads(roof("board", emergency_overflow_mm=25, emergency_width_mm=300, emergency_height_mm=20))
    assert loads["mass"].sel(layer="mat").to_numpy() == pytest.approx([0.5, 5.5, 6.0, 6.0, 6.0])
    assert loads["mass"].sel(layer="medium").to_numpy() == pytest.approx([64, 92, 92, 102, 112])


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
    assert rain_load_kn_per_m2(depth_to_overflow_mm=0, head_over_overflow_mm=0.5) == pytest.approx(0.0049)
    # against the weight of that water, 0.00980665 kN/m2 per mm (exact): the code's rounding is 0.07 %
    weight = convert(75.0, "kg/m2", "kN/m2")
    assert rain_load_kn_per_m2(depth_to_overflow_mm=50, head_over_overflow_mm=25) == pytest.approx(weight, rel=1e-3)


def test_rain_load_refuses_negative_depths_and_unknown_ones() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        rain_load_kn_per_m2(depth_to_overflow_mm=-1, head_over_overflow_mm=float("nan"))
    assert str(refused.value).splitlines() == [
        "rain load: depth_to_overflow_mm must be 0 or more (given -1)",
        "rain load: head_over_overflow_mm must be 0 or more (given nan)",
    ]


def test_the_table_shows_every_layer_and_state_in_both_systems_and_carries_the_caution() -> None:
    states = ("dry", "drained", "board full", "ponded to the overflow", "ponded to the edge")
    si, us = (loads_shown(roof(**OPENING), units=units) for units in ("si", "us"))
    for table, units in ((si, ["kg/m2", "kN/m2", "kg/m2"]), (us, ["lb/ft2", "lb/ft2"])):
        assert tuple(table.head[1:-1]) == states and table.notes[-1] == CAUTION
        assert [row[0] for row in table.rows] == [*BY_HAND, *["total"] * (len(units) - 1), "mean over the roof"]
        assert [row[-1] for row in table.rows[-len(units) :]] == units
    heads = loads_shown(roof()).head  # no overflow: ponded is to the edge, and said once
    assert heads[1:-1] == ["dry", "drained", "board full", "ponded to the edge"]
    # 1 lb/ft2 = 0.45359237 / 0.3048^2 kg/m2; half of the last digit shown
    (kilograms, kilonewtons, _), (pounds, _) = si.rows[-3:], us.rows[-2:]
    assert float(kilograms[2]) == pytest.approx(133.45, abs=0.5)
    assert float(kilonewtons[2]) == pytest.approx(133.45 * 0.00980665, abs=0.005)
    assert float(pounds[2]) == pytest.approx(133.45 / (0.45359237 / 0.3048**2), abs=0.5)


def test_no_word_says_that_a_roof_can_carry_it() -> None:
    text = " ".join([CAUTION, str(roof_loads(roof()).attrs), loads_shown(roof()).text()])
    assert "licensed structural engineer" in text and "local code" in text
    assert not re.search(
        r"(can|will) (safely )?(carry|bear|hold)|\bsafe\b|is adequate|sufficient", text.replace(CAUTION, "")
    )
    assert "Whether the structure can carry them" in CAUTION  # the only "can carry", and it is a question


@pytest.mark.parametrize("name", ["thin", "cups", "deep"])
def test_sample_roofs_lie_in_the_published_band(name: str) -> None:
    """Extensive build-ups of 40-150 mm weigh some 30-220 kg/m2 (weak web source; a band of plausibility only)."""
    assert 30 <= drained_mass_kg_per_m2(open_sample_roof(name)) <= 260
