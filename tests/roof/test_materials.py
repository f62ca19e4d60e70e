"""The materials table: every number has a source, every material makes a layer, and the ranges bracket the values."""

import pytest

import runoff
from runoff.roof import material, material_ranges, materials, open_sample_roof, ranges
from runoff.roof.layers import LAYERS
from runoff.roof.materials_table import LogRange

TABLE = materials()
NAMES = list(TABLE[["layer", "material"]].drop_duplicates().itertuples(index=False, name=None))


def test_columns_and_kinds() -> None:
    assert list(TABLE.columns) == ["layer", "material", "property", "low", "typical", "high", "status", "source"]
    assert {"medium", "board", "mat", "fleece", "mulch", "planting"} <= set(TABLE["layer"])
    assert not TABLE.duplicated(["layer", "material", "property"]).any()


def test_low_typical_high_rise_and_every_row_states_its_source() -> None:
    numbers = TABLE[TABLE["typical"].notna()]
    assert ((numbers["low"] <= numbers["typical"]) & (numbers["typical"] <= numbers["high"])).all()
    assert set(TABLE["status"]) <= {
        "published",
        "measured",
        "from memory",
        "common practice",
        "by name",
        "own assumption",
    }
    assert TABLE["source"].str.len().min() > 3
    published = TABLE[TABLE["status"] == "published"]["source"]
    assert published.str.contains(r"\d{4}|FAO-56|article").all()  # a year, a standard or where it was read


def test_a_property_that_is_a_word_stands_in_its_source() -> None:
    words = TABLE[TABLE["typical"].isna()]
    assert set(words["property"]) == {"field_capacity_kind"}
    for row in words.itertuples():
        assert row.source.split(":")[0] == getattr(material(row.layer, row.material), row.property)


def test_all_materials_of_a_layer_state_the_same_properties() -> None:
    """So that nothing of an old material is left behind when a roof is given another."""
    for _, rows in TABLE.groupby("layer"):
        listed = [set(one["property"]) for _, one in rows.groupby("material")]
        assert all(one == listed[0] for one in listed)


@pytest.mark.parametrize(("kind", "name"), NAMES)
def test_every_material_makes_a_layer_at_its_low_typical_and_high(kind: str, name: str) -> None:
    layer = material(kind, name)
    assert layer.material == name and type(layer) is LAYERS[kind]
    for key, (low, typical, high) in ranges(kind, name).items():
        assert getattr(layer, key) == typical
        if key not in ("porosity", "field_capacity", "wilting_point", "height_mm", "void_storage_mm", "cup_storage_mm"):
            for value in (low, high):  # the others must fit each other as well
                assert getattr(material(kind, name, **{key: value}), key) == value


@pytest.mark.parametrize(("kind", "name"), [one for one in NAMES if one[0] == "board"])
def test_water_of_cups_for_their_height(kind: str, name: str) -> None:
    """Cups hold 0.12-0.20 L/m2 per mm of height (rule of thumb, from memory), filled high boards somewhat more."""
    board = material(kind, name)
    if board.cup_storage_mm > 0:
        assert 0.12 <= board.cup_storage_mm / board.height_mm <= 0.25


def test_published_rows_say_what_the_source_says() -> None:
    low, typical, high = ranges("mulch", "compost and wood chip 1:1")["holding_fraction"]
    assert 160 * 3.785411784 / (1000 * 0.09290304) / 51 == pytest.approx(
        typical, abs=0.005
    )  # 160 gal on 1000 ft2 in 51 mm
    assert low < typical < high
    medium = material("medium", "pumice mix")
    # 100 mm hold storms below 25 mm (Fassman and Simcock 2012): about 0.25 of usable water
    assert medium.field_capacity - medium.wilting_point == pytest.approx(0.25)


def test_unknown_materials_and_layers() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        material("board", "cup board 25mm")
    assert str(refused.value) == (
        'material "cup board 25mm" is not in the materials table (did you mean "cup board 25 mm"?); known for board: '
        "cup board 25 mm, cup board 40 mm, cup board 60 mm, drainage mat without cups"
    )
    with pytest.raises(
        runoff.RoofError, match=r'^material "foam" is not in the materials table; no materials are listed for ins'
    ):
        ranges("insulation", "foam")
    with pytest.raises(
        runoff.RoofError, match=r'^"boards" is no layer \(did you mean "board"\?\); layers are planting, mulch'
    ):
        ranges("boards", "cup board 25 mm")
    with pytest.raises(runoff.RoofError, match=r"^GrowingMedium: depth_mm must be more than 0 \(you wrote -1\)$"):
        material("medium", "pumice mix", depth_mm=-1)


def test_ranges_of_a_roof_are_moved_to_its_own_values() -> None:
    roof = open_sample_roof("cups").replace({"medium.field_capacity": 0.40, "board.cups_up": True})
    found = material_ranges(roof)
    low, typical, high = ranges("medium", "brick and pumice mix")["field_capacity"]
    assert found["medium.field_capacity"] == pytest.approx((low / typical * 0.4, 0.4, high / typical * 0.4))
    assert "board.height_mm" not in found and "medium.dry_density_kg_per_m3" not in found
    assert "board.in_plane_gradient" not in found and "medium.depth_mm" not in found


def test_what_a_roof_does_not_have_has_no_range() -> None:
    roof = open_sample_roof("cups").replace({"board.cup_storage_mm": 0.0})
    assert "board.cup_storage_mm" not in material_ranges(roof)


def test_ranges_follow_the_named_material_and_keep_a_gradient_that_is_none() -> None:
    board = runoff.DrainageBoard(material="cup board 40 mm", in_plane_flow_l_per_s_m=2.8)
    roof = runoff.Roof(build_up=runoff.BuildUp(layers=[runoff.GrowingMedium(), board]))
    assert material_ranges(roof)["board.in_plane_flow_l_per_s_m"] == pytest.approx(
        (1.8, 2.8, 4.4)
    )  # 0.9 1.4 2.2 doubled


def test_uncertain_parameters_are_complete_and_their_ranges_those_of_the_records() -> None:
    """Bypass 0.2-1.0 and detention 0.0003-0.03 from open records; Kc 0.6-1.2 and mulch saving 0.10-0.30 from memory."""
    found = material_ranges(open_sample_roof("cups"))
    assert found["medium.bypass_fraction"] == pytest.approx((0.2, 0.5, 1.0))
    assert found["medium.detention_k"] == pytest.approx((0.0003, 0.0115, 0.03))
    assert isinstance(found["medium.detention_k"], LogRange)
    assert found["planting.crop_coefficient"] == pytest.approx((0.6, 1.0, 1.2))
    assert found["planting.depletion_fraction"] == pytest.approx((0.0, 0.0, 0.3))
    assert found["mulch.evaporation_saving"] == pytest.approx((0.10, 0.20, 0.30))
    assert {"board.cup_supply_fraction", "mat.mat_supply_fraction"} <= set(found)
    assert found["surface.daily_storage_mm"] == pytest.approx(
        (4.6, 5.0, 5.6)
    )  # gravel of 5 mm; a membrane 1.1-1.6 for 1 mm
    all_planted = material_ranges(open_sample_roof("cups").replace({"roof.planted_fraction": 1.0}))
    assert "surface.daily_storage_mm" not in all_planted


def test_a_range_is_moved_no_further_than_a_share_can_go() -> None:
    found = material_ranges(open_sample_roof("cups").replace({"medium.bypass_fraction": 0.8}))
    assert found["medium.bypass_fraction"] == pytest.approx((0.32, 0.8, 1.0))  # 0.2 0.5 1.0 times 1.6, cut at 1


def test_a_range_by_logarithm_is_drawn_evenly_over_its_powers_of_ten() -> None:
    from runoff.sizing.likely_ranges import distributions_of

    (drawn,) = distributions_of({"medium.detention_k": LogRange(0.0003, 0.0115, 0.03)})
    assert drawn.ppf([0.0, 0.5, 1.0]) == pytest.approx([0.0003, 0.003, 0.03])  # by hand: sqrt(0.0003 x 0.03) = 0.003


def test_of_a_point_on_the_curve_the_curve_is_uncertain_and_not_the_value() -> None:
    found = material_ranges(open_sample_roof("cups").replace({"medium.material": "garden soil (do not use)"}))
    assert "medium.field_capacity" not in found and "medium.release_alpha_per_mm" in found


def test_no_makers_and_no_brands() -> None:
    words = set(" ".join(TABLE["material"]).lower().replace("(", " ").replace(")", " ").split())
    plain = {
        *"brick and pumice mix expanded clay garden soil do not use cup board mm drainage mat without cups".split(),
        *"non-woven moisture filter fleece g/m2 clogged compost wood chip sedum herbs".split(),
    }
    assert all(word in plain or word[0].isdigit() for word in words)
