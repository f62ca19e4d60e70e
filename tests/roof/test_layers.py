"""Layers, build-up and roof refuse what cannot be built, in words that name the field and the fix."""

import pickle

import numpy as np
import pytest

import runoff
from runoff.roof.layers import LAYERS

CUPS = [
    runoff.Planting(),
    runoff.GrowingMedium(),
    runoff.FilterFleece(),
    runoff.DrainageBoard(),
    runoff.ProtectionMat(),
]


def build_up(*extra):
    return runoff.BuildUp(layers=[*CUPS, *extra])


# layers and fields that roof files and sweeps rely on, word for word
FIELDS = {
    "planting": ["canopy_storage_mm", "crop_coefficient", "depletion_fraction"],
    "mulch": ["depth_mm", "holding_fraction", "evaporation_saving"],
    "medium": [
        *("depth_mm", "porosity", "field_capacity", "field_capacity_kind", "field_capacity_depth_mm"),
        *("release_alpha_per_mm", "release_n", "wilting_point", "conductivity_mm_per_h", "bypass_fraction"),
        *("dry_density_kg_per_m3", "detention_k", "detention_n"),
    ],
    "fleece": ["flow_mm_per_h", "storage_mm"],
    "board": [
        *("height_mm", "cup_storage_mm", "void_storage_mm", "in_plane_flow_l_per_s_m", "in_plane_gradient"),
        *("cups_up", "cup_supply_fraction"),
    ],
    "mat": [
        *("thickness_mm", "storage_mm", "void_storage_mm", "in_plane_flow_l_per_s_m", "in_plane_gradient"),
        "mat_supply_fraction",
    ],
    "insulation": ["thickness_mm", "mass_kg_per_m2"],
    "membrane": ["mass_kg_per_m2"],
}


@pytest.mark.parametrize("word", LAYERS)
def test_every_default_states_where_it_comes_from(word: str) -> None:
    kind = LAYERS[word]
    assert set(FIELDS.get(word, [])) <= set(kind.model_fields)
    kind()  # every field has a default
    text = " ".join(kind.__doc__.split())
    for field in set(kind.model_fields) - {"name", "material", "cups_up"}:
        assert field in text, f"{kind.__name__} does not describe {field}"
    said = ("from memory", "no source", "published", "own assumption", "article", "Rowe 2009")
    for after in text.split("Default")[1:]:
        assert any(words in after for words in said), (
            f"{kind.__name__}: no source is stated for the default{after[:40]}"
        )


@pytest.mark.parametrize("word", LAYERS)
def test_layers_are_frozen_and_take_keywords_only(word: str) -> None:
    layer = LAYERS[word]()
    field = next(name for name in LAYERS[word].model_fields if name not in ("name", "material"))
    with pytest.raises(ValueError, match="frozen"):
        setattr(layer, field, 1.0)
    with pytest.raises(TypeError, match="positional"):
        LAYERS[word](1.0)
    assert pickle.loads(pickle.dumps(layer)) == layer
    assert hash(LAYERS[word]()) == hash(layer)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"depth_mm": -100}, "depth_mm must be more than 0 (you wrote -100)"),
        ({"depth_mm": 0}, "depth_mm must be more than 0 (you wrote 0)"),
        ({"depth_mm": True}, "depth_mm must be a number without quotes or unit (you wrote true)"),
        ({"depth_mm": "80"}, 'depth_mm must be a number without quotes or unit (you wrote "80")'),
        ({"depth_mm": None}, "depth_mm must be a number without quotes or unit (you wrote None)"),
        ({"depth_mm": [80]}, "depth_mm must be a number without quotes or unit (you wrote a list)"),
        ({"depth_mm": float("nan")}, "depth_mm must be a finite number (you wrote nan)"),
        ({"depth_mm": float("inf")}, "depth_mm must be a finite number (you wrote inf)"),
        ({"porosity": 45}, "porosity must be less than 1 (you wrote 45); 45 % is written 0.45"),
        ({"porosity": 450}, "porosity must be less than 1 (you wrote 450)"),
        ({"wilting_point": -0.1}, "wilting_point must be at least 0 (you wrote -0.1)"),
        ({"bypass_fraction": 1.2}, "bypass_fraction must be at most 1 (you wrote 1.2); 1.2 % is written 0.012"),
        ({"detention_n": 9}, "detention_n must be at most 5 (you wrote 9)"),
        ({"porossity": 0.5}, 'porossity is not a known key (did you mean "porosity"?)'),
        ({"material": 7}, "material must be text in quotes (you wrote 7)"),
        ({"material": []}, "material must be text in quotes (you wrote a list)"),
        (
            {"wilting_point": 0.4, "field_capacity": 0.3},
            "wilting_point, field_capacity and porosity must rise in this order (you wrote 0.4, 0.3, 0.6)",
        ),
        (
            {"material": "pumise mix"},
            'material "pumise mix" is not in the materials table (did you mean "pumice mix"?); known for medium: '
            "brick and pumice mix, pumice mix, expanded clay mix, garden soil (do not use)",
        ),
    ],
)
def test_a_medium_says_what_is_wrong(given: dict, said: str) -> None:
    with pytest.raises(runoff.RoofError) as refused:
        runoff.GrowingMedium(**given)
    assert str(refused.value) == f"GrowingMedium: {said}"


CURVE = {"release_alpha_per_mm": 0.025, "release_n": 1.45}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            {"release_n": 1.45},
            "a release curve needs release_alpha_per_mm and release_n (release_n is given, release_alpha_per_mm is not)",
        ),
        (
            {"release_alpha_per_mm": 0.025},
            "a release curve needs release_alpha_per_mm and release_n (release_alpha_per_mm is given, release_n is not)",
        ),
        ({**CURVE, "release_alpha_per_mm": 0}, "release_alpha_per_mm must be more than 0 (you wrote 0)"),
        (
            {**CURVE, "release_n": 1.0},
            "release_n must be more than 1 (you wrote 1): the release curve would not fall with suction",
        ),
        (
            {**CURVE, "release_n": 0.8},
            "release_n must be more than 1 (you wrote 0.8): the release curve would not fall with suction",
        ),
        (
            {"field_capacity_kind": "suction"},
            'field_capacity_kind "suction" is a point on a release curve: give release_alpha_per_mm and release_n, or write '
            '"container"',
        ),
        (
            {"field_capacity_kind": "field"},
            'field_capacity_kind must be "container" or "suction" (you wrote "field")',
        ),
        (
            # by hand: 0.04 + 0.56 (1 + (0.025 x 3300)^1.45)^-(0.45/1.45) = 0.117
            {**CURVE, "field_capacity_kind": "suction"},
            "field_capacity (0.33) must lie on the release curve to 0.05: at -33 kPa the curve holds 0.117; check "
            'release_alpha_per_mm and release_n, or write field_capacity_kind = "container"',
        ),
        (
            {"wilting_point": 0.595, "field_capacity": 0.598},
            "a layer 80 mm deep would hold 0.588 of its volume after free drainage, no more than wilting_point (0.595): plants "
            "could use none of it",
        ),
    ],
)
def test_a_release_curve_says_what_is_wrong(given: dict, said: str) -> None:
    with pytest.raises(runoff.RoofError) as refused:
        runoff.GrowingMedium(**given)
    assert str(refused.value) == f"GrowingMedium: {said}"


def test_a_curve_by_which_deeper_layers_hold_less_for_plants_is_refused() -> None:
    """A steep, coarse curve: what 70 mm hold over the wilting point, 80 mm no longer do."""
    with pytest.raises(
        runoff.RoofError,
        match=r"^GrowingMedium: the water plants can use must rise with depth from 30 to 300 mm; by this release curve it is "
        r"[\d.]+ mm in \d+ mm and [\d.]+ mm in \d+ mm; check release_alpha_per_mm, release_n and wilting_point$",
    ):
        runoff.GrowingMedium(field_capacity=0.30, wilting_point=0.15, release_alpha_per_mm=0.05, release_n=3.0)


def test_all_faults_in_one_message() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        runoff.DrainageBoard(height_mm=-25, cups_up="yes", cup_supply_fraction=1.5, cups=3)
    assert str(refused.value).splitlines() == [
        "DrainageBoard: height_mm must be more than 0 (you wrote -25)",
        'DrainageBoard: cups_up must be true or false, without quotes (you wrote "yes")',
        "DrainageBoard: cup_supply_fraction must be at most 1 (you wrote 1.5); 1.5 % is written 0.015",
        'DrainageBoard: cups is not a known key (did you mean "cups_up"?)',
    ]


def test_an_unlike_key_lists_the_known_ones() -> None:
    with pytest.raises(
        runoff.RoofError, match=r"^Membrane: xyz is not a known key; known keys are name, material, mass_kg"
    ):
        runoff.Membrane(xyz=1)


def test_numbers_of_numpy_are_numbers() -> None:
    medium = runoff.GrowingMedium(depth_mm=np.int64(60), porosity=np.float32(0.5))
    assert type(medium.depth_mm) is float and medium.depth_mm == 60.0
    with pytest.raises(runoff.RoofError, match="depth_mm must be a number"):
        runoff.GrowingMedium(depth_mm=np.bool_(True))


def test_cups_and_void_fit_into_the_height() -> None:
    with pytest.raises(
        runoff.RoofError,
        match=r"^DrainageBoard: cup_storage_mm and void_storage_mm together \(20 \+ 10 mm\) cannot exceed height_mm \(25\)$",
    ):
        runoff.DrainageBoard(cup_storage_mm=20)


def test_a_flow_given_alone_leaves_its_gradient_open() -> None:
    assert runoff.ProtectionMat().in_plane_gradient == 1.0  # the default flow keeps the gradient of its test
    assert runoff.ProtectionMat(in_plane_flow_l_per_s_m=0.003).in_plane_gradient is None
    assert runoff.ProtectionMat(in_plane_flow_l_per_s_m=0.003, in_plane_gradient=0.1).in_plane_gradient == 0.1
    assert runoff.DrainageBoard(in_plane_flow_l_per_s_m=0.7).in_plane_gradient is None


def test_a_material_fills_a_layer_and_what_is_given_stands() -> None:
    board = runoff.DrainageBoard(material="cup board 40 mm")
    assert (board.height_mm, board.cup_storage_mm, board.in_plane_gradient) == (40.0, 6.0, 0.02)
    own = runoff.DrainageBoard(material="cup board 40 mm", cup_storage_mm=5.0, in_plane_flow_l_per_s_m=1.1)
    assert (own.height_mm, own.cup_storage_mm, own.in_plane_gradient) == (40.0, 5.0, None)
    assert runoff.Membrane(material="welded sheet").material == "welded sheet"  # the table lists no membranes


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        ([], "BuildUp: a growing medium is needed; given: no layer"),
        ([runoff.Planting(), runoff.DrainageBoard()], "BuildUp: a growing medium is needed; given: planting, board"),
        (
            [runoff.GrowingMedium(), runoff.GrowingMedium(), runoff.DrainageBoard()],
            "BuildUp: each layer may stand once; given more than once: medium",
        ),
        (
            [runoff.GrowingMedium(), runoff.Planting(), runoff.DrainageBoard()],
            "BuildUp: layers go from top to bottom: planting, medium, board; given: medium, planting, board",
        ),
        (
            [runoff.GrowingMedium(), runoff.Membrane(), runoff.DrainageBoard()],
            "BuildUp: layers go from top to bottom: medium, board, membrane; given: medium, membrane, board",
        ),
        (
            [{"depth_mm": 80.0}],
            "BuildUp: layer 1 must be a layer such as runoff.GrowingMedium(depth_mm=80) (given {'depth_mm': 80.0})",
        ),
        (
            [runoff.Planting(), runoff.GrowingMedium()],
            "BuildUp: the build-up has neither a drainage board nor a protection mat: water has no path to the outlets; add one",
        ),
        (3, "BuildUp: layers must be a list of layers, top to bottom (given int)"),
    ],
)
def test_a_build_up_says_what_is_wrong(layers: object, said: str) -> None:
    with pytest.raises(runoff.RoofError) as refused:
        runoff.BuildUp(layers=layers)
    assert str(refused.value) == said


def test_insulation_may_lie_above_or_below_the_membrane() -> None:
    for under in ([runoff.Insulation(), runoff.Membrane()], [runoff.Membrane(), runoff.Insulation()]):
        assert [layer.word for layer in build_up(*under).layers][-2:] == [layer.word for layer in under]


def test_a_flow_without_its_gradient_is_taken_at_the_usual_one() -> None:
    """0.02, common practice, no source; the roof says so (`runoff.roof.assumptions`)."""
    assert runoff.ProtectionMat(in_plane_flow_l_per_s_m=0.003).tested_gradient == 0.02
    assert runoff.ProtectionMat().tested_gradient == 1.0


def test_layer_by_word() -> None:
    made = build_up()
    assert made.layer("medium") is made.medium and made.layer("mulch") is None
    with pytest.raises(
        runoff.RoofError, match=r'^"meduim" is no layer \(did you mean "medium"\?\); layers are planting, mul'
    ):
        made.layer("meduim")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "a round outlet needs diameter_mm and no other size (you wrote none)"),
        (
            {"kind": "rectangular"},
            "a rectangular outlet needs width_mm and height_mm and no other size (you wrote none)",
        ),
        (
            {"kind": "round", "diameter_mm": 100, "width_mm": 200},
            "a round outlet needs diameter_mm and no other size (you wrote diameter_mm, width_mm)",
        ),
        ({"kind": "square", "diameter_mm": 1}, 'kind must be "round", "rectangular" or "edge" (you wrote "square")'),
        (
            {"kind": "edge", "diameter_mm": 100},
            "an edge outlet needs length_mm and no other size (you wrote diameter_mm)",
        ),
        ({"kind": "edge", "length_mm": 6000, "strainer": True}, "strainer must be false: an edge outlet has none"),
        (
            {"kind": "edge", "length_mm": 6000, "sill_mm": 20},
            "sill_mm must be 0 (you wrote 20): an outlet lies at the level of the deck; write an opening above it as "
            "emergency_overflow_mm of the roof",
        ),
        ({"diameter_mm": 100, "count": 0}, "count must be at least 1 (you wrote 0)"),
        ({"diameter_mm": 100, "count": 1.5}, "count must be a whole number without quotes or unit (you wrote 1.5)"),
        ({"diameter_mm": 100, "design_head_mm": -5}, "design_head_mm must be more than 0 (you wrote -5)"),
    ],
)
def test_an_outlet_says_what_is_wrong(given: dict, said: str) -> None:
    with pytest.raises(runoff.RoofError) as refused:
        runoff.Outlet(**given)
    assert str(refused.value) == f"Outlet: {said}"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"outlets": []}, "a roof needs at least one outlet or an emergency overflow; neither is given"),
        (
            {"area_m2": 4.0, "outlets": [runoff.Outlet(kind="rectangular", width_mm=9000, height_mm=50)]},
            "1 rectangular outlet of 9000 x 50 mm need 9000 mm of edge, but the whole edge of a square roof of 4 m2 is "
            "8000 mm long; check outlets and area_m2",
        ),
        ({"fall": 2}, "fall must be at most 1 (you wrote 2); 2 % is written 0.02"),
        ({"planted_fraction": 0}, "planted_fraction must be more than 0 (you wrote 0)"),
        ({"blocked_fraction": 1.2}, "blocked_fraction must be at most 1 (you wrote 1.2); 1.2 % is written 0.012"),
        ({"emergency_overflow_mm": -1}, "emergency_overflow_mm must be at least 0 (you wrote -1)"),
        (
            {"edge_height_mm": 90},
            "edge_height_mm must be at least the top of the medium, 105 mm above the deck (25 of drainage and 80 of medium; you "
            "wrote 90)",
        ),
        (
            {"edge_height_mm": 150, "emergency_overflow_mm": 151},
            "emergency_overflow_mm must be at most the height of the edge, 150 mm (you wrote 151): water would run over the edge "
            "first; lower the sill or write edge_height_mm",
        ),
        (
            {"emergency_overflow_mm": 300},
            "emergency_overflow_mm must be at most the height of the edge, 255 mm, 150 mm above the medium as none is given (you "
            "wrote 300): water would run over the edge first; lower the sill or write edge_height_mm",
        ),
        (
            {"emergency_width_mm": 300, "emergency_height_mm": 100},
            "emergency_width_mm and emergency_height_mm given without emergency_overflow_mm: an opening needs the height of its "
            "sill above the deck",
        ),
        (
            {"emergency_overflow_mm": 120, "emergency_width_mm": 300},
            "an emergency overflow needs emergency_width_mm and emergency_height_mm, or neither (you wrote emergency_width_mm "
            "alone)",
        ),
        (
            {"emergency_overflow_mm": 120, "emergency_width_mm": 50000, "emergency_height_mm": 100},
            "emergency_width_mm is 50000, but the whole edge of a square roof of 100 m2 is 40000 mm long",
        ),
        (
            {"area_m2": 260, "flow_length_m": 1100},
            "flow_length_m must leave a strip at least 1 m wide: 1100 m on 260 m2 leave 0.24 m; write the longest way of water "
            "to an outlet",
        ),
        ({"run_on_area_m2": -1}, "run_on_area_m2 must be at least 0 (you wrote -1)"),
        ({"run_on_to": "gutter"}, 'run_on_to must be "planting" or "outlet" (you wrote "gutter")'),
        ({"name": "x" * 501}, "name must be at most 500 characters long (you wrote 501)"),
        ({"outlets": "one"}, 'outlets must be a list (you wrote "one")'),
        ({"build_up": None}, "build_up must be a runoff.BuildUp(...) (you wrote None)"),
        ({"build_up": None, "areas": 3}, 'areas is not a known key (did you mean "area_m2"?)'),
    ],
)
def test_a_roof_says_what_is_wrong(given: dict, said: str) -> None:
    with pytest.raises(runoff.RoofError) as refused:
        runoff.Roof(**{"build_up": build_up(), **given})
    assert f"Roof: {said}" in str(refused.value).splitlines()


def test_a_roof_without_outlets_may_have_an_overflow() -> None:
    assert runoff.Roof(build_up=build_up(), outlets=[], emergency_overflow_mm=40).outlets == ()


def test_a_roof_of_a_few_square_metres_needs_no_flow_length() -> None:
    """8 m is usual; on less than 8 m2 that would leave a strip under 1 m."""
    assert runoff.Roof(build_up=build_up(), area_m2=8.0).flow_length_m == 8.0
    assert runoff.Roof(build_up=build_up(), area_m2=2.5).flow_length_m == 2.5
    assert runoff.Roof(build_up=build_up(), area_m2=2.5, flow_length_m=2).flow_length_m == 2.0


def test_the_board_leaves_free_space_within_its_height() -> None:
    for space in (0.2, 26.0):
        with pytest.raises(runoff.RoofError) as refused:
            runoff.DrainageBoard(height_mm=25, cup_storage_mm=0, void_storage_mm=space)
        assert (
            f"DrainageBoard: void_storage_mm must lie between a hundredth of the height and the height, 0.25 and 25 mm (you "
            f"wrote {space:g})"
        ) in str(refused.value).splitlines()


def test_the_daily_storage_of_a_bare_surface_goes_with_the_true_one() -> None:
    """1.2 mm stand for 1 mm of a membrane in a daily run, 5 for 5 of gravel (own reading of sub-daily records)."""
    assert runoff.BareSurface().daily_storage_mm == 1.2
    assert runoff.BareSurface(depression_storage_mm=0.5).daily_storage_mm == pytest.approx(0.6)
    gravel = runoff.BareSurface(kind="gravel")
    assert (gravel.daily_storage_mm, gravel.depth_mm, gravel.pore_fraction) == (5.0, 50.0, 0.4)
    assert runoff.BareSurface(kind="gravel", daily_storage_mm=4.6).daily_storage_mm == 4.6
    with pytest.raises(runoff.RoofError, match=r"^BareSurface: pore_fraction must be at most 1 \(you wrote 40\); 40 %"):
        runoff.BareSurface(kind="gravel", pore_fraction=40)


def test_bare_surfaces_hold_1_or_5_mm_by_default() -> None:  # common practice, see the class
    assert runoff.BareSurface(kind="membrane").depression_storage_mm == 1.0
    assert runoff.BareSurface(kind="gravel").depression_storage_mm == 5.0
    assert runoff.BareSurface(kind="gravel", depression_storage_mm=8).depression_storage_mm == 8.0
    assert runoff.BareSurface().kind == "membrane"
