"""Roofs that differ in a few properties: checked as strictly as a new roof, and refused in the same words."""

import numpy as np
import pytest

import runoff
from runoff.roof import open_sample_roof

CUPS = open_sample_roof("cups")


def test_layers_roof_and_outlets_change_and_the_rest_stays() -> None:
    changed = CUPS.replace(
        {"medium.depth_mm": 60, "roof.fall": 0.01, "outlet.diameter_mm": 125, "board.cups_up": False}
    )
    assert changed.build_up.medium.depth_mm == 60.0
    assert changed.fall == 0.01
    assert changed.outlets[0].diameter_mm == 125.0
    assert changed.build_up.board.cups_up is False
    assert CUPS.build_up.medium.depth_mm == 80.0 and CUPS.fall == 0.02  # the roof itself is as it was
    back = changed.replace({"medium.depth_mm": 80, "roof.fall": 0.02, "outlet.diameter_mm": 100, "board.cups_up": True})
    assert back == CUPS


def test_nothing_to_change_gives_the_same_roof() -> None:
    assert CUPS.replace({}) == CUPS


def test_every_number_can_be_replaced_by_itself() -> None:
    same = {f"{layer.word}.{key}": value for layer in CUPS.build_up.layers for key, value in layer.fields().items()}
    same |= {f"roof.{key}": value for key, value in CUPS.fields().items() if key not in ("build_up", "fitted")}
    same |= {f"outlet.{key}": value for key, value in CUPS.outlets[0].fields().items()}
    assert CUPS.replace(same) == CUPS


def test_numbers_of_numpy_from_a_grid() -> None:
    for value in (np.int64(60), np.float32(60), np.array(60.0), 60):
        assert CUPS.replace({"medium.depth_mm": value}).build_up.medium.depth_mm == 60.0


def test_a_material_brings_its_typical_values_and_keeps_the_depth() -> None:
    changed = CUPS.replace({"medium.material": "pumice mix", "medium.porosity": 0.7}).build_up.medium
    assert (changed.depth_mm, changed.field_capacity, changed.porosity) == (80.0, 0.33, 0.7)
    assert (changed.dry_density_kg_per_m3, changed.material) == (650.0, "pumice mix")


def test_an_outlet_of_the_other_kind() -> None:
    slot = CUPS.replace({"outlet.kind": "rectangular", "outlet.width_mm": 300, "outlet.height_mm": 100}).outlets[0]
    assert (slot.kind, slot.diameter_mm, slot.width_mm, slot.height_mm, slot.count) == (
        "rectangular",
        None,
        300,
        100,
        2,
    )
    with pytest.raises(runoff.RoofError) as refused:
        CUPS.replace({"outlet.kind": "rectangular"})
    said = "replace: outlet, a rectangular outlet needs width_mm and height_mm and no other size (you wrote none)"
    assert str(refused.value) == said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"medium.depth_mm": -5}, "medium, depth_mm must be more than 0 (you wrote -5)"),
        ({"medium.depth_mm": True}, "medium, depth_mm must be a number without quotes or unit (you wrote true)"),
        ({"medium.depth_mm": float("nan")}, "medium, depth_mm must be a finite number (you wrote nan)"),
        ({"medium.porosity": 45.0}, "medium, porosity must be less than 1 (you wrote 45); 45 % is written 0.45"),
        ({"board.cups_up": 1}, "board, cups_up must be true or false, without quotes (you wrote 1)"),
        ({"roof.fall": "2"}, 'roof, fall must be a number without quotes or unit (you wrote "2")'),
        ({"medum.depth_mm": 5}, '"medum.depth_mm" is not known (did you mean "medium.depth_mm"?); write layer.field, roof.field, outlet.field or surface.field'),
        ({"depth_mm": 5}, '"depth_mm" is not known (did you mean "mulch.depth_mm"?); write layer.field, roof.field, outlet.field or surface.field'),
        ({"mat.storage": 5}, '"mat.storage" is not known (did you mean "storage_mm"?); mat has name, material, thickness_mm, storage_mm, '
         "void_storage_mm, in_plane_flow_l_per_s_m, in_plane_gradient, mat_supply_fraction, mass_kg_per_m2"),
        ({"insulation.thickness_mm": 80}, '"insulation.thickness_mm": the roof has no insulation; it has planting, mulch, '
         "medium, fleece, board, mat, membrane"),
        ({"medium.depth_mm": [40, 60]}, '"medium.depth_mm" takes one value (given [40, 60]); several values belong in runoff.sweep'),
        ({"medium.material": "pumice"}, 'medium, material "pumice" is not in the materials table (did you mean "pumice mix"?); '
         "known for medium: brick and pumice mix, pumice mix, expanded clay mix, garden soil (do not use)"),
        ({"roof.build_up": 3}, '"roof.build_up" is not known; roof has name, site, area_m2, planted_fraction, other_surface, '
         "flow_length_m, fall, outlets, edge_height_mm, emergency_overflow_mm, emergency_width_mm, emergency_height_mm, "
         "blocked_fraction, run_on_area_m2, run_on_loss_mm, run_on_to"),
        ({"medium.depth_mm": 400.0}, "roof, edge_height_mm must be at least the top of the medium, 425 mm above the deck (25 of "
         "drainage and 400 of medium; you wrote 400)"),
    ],
)  # fmt: skip
def test_what_cannot_be_replaced(changes: dict, said: str) -> None:
    with pytest.raises(runoff.RoofError) as refused:
        CUPS.replace(changes)
    assert str(refused.value) == f"replace: {said}"


def test_unknown_properties_are_all_named_at_once() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        CUPS.replace({"medium.depth": 1, "roof.slope": 2})
    assert [line.split(" is not known")[0] for line in str(refused.value).splitlines()] == [
        'replace: "medium.depth"',
        'replace: "roof.slope"',
    ]


def test_true_is_not_one_although_both_are_the_same_to_a_cache() -> None:
    assert CUPS.replace({"medium.depth_mm": 1.0}).build_up.medium.depth_mm == 1.0
    with pytest.raises(runoff.RoofError, match="depth_mm must be a number"):
        CUPS.replace({"medium.depth_mm": True})


def test_a_roof_without_outlets_has_none_to_change() -> None:
    closed = CUPS.replace({"roof.outlets": ()})
    with pytest.raises(runoff.RoofError, match=r'^replace: "outlet\.diameter_mm": the roof has no outlet$'):
        closed.replace({"outlet.diameter_mm": 80})


def test_an_opening_goes_with_its_sill() -> None:
    without = CUPS.replace({"roof.emergency_overflow_mm": None})
    assert (without.emergency_overflow_mm, without.emergency_width_mm, without.emergency_height_mm) == (
        None,
        None,
        None,
    )


def test_an_outlet_becomes_an_edge_and_back() -> None:
    edge = CUPS.replace({"outlet.kind": "edge", "outlet.length_mm": 6000.0}).outlets[0]
    assert (edge.kind, edge.length_mm, edge.diameter_mm, edge.strainer, edge.count) == ("edge", 6000.0, None, False, 2)
    back = (
        CUPS.replace({"roof.outlets": (edge,)})
        .replace({"outlet.kind": "round", "outlet.diameter_mm": 100.0})
        .outlets[0]
    )
    assert (back.kind, back.diameter_mm, back.length_mm, back.strainer) == ("round", 100.0, None, True)


def test_the_surface_beside_the_planting() -> None:
    """Gravel of 5 mm in the sample; its daily storage follows, 1.0 times it, and a membrane's 1.2 times 1 mm."""
    more = CUPS.replace({"surface.depression_storage_mm": 8.0}).other_surface
    assert (more.kind, more.depression_storage_mm, more.daily_storage_mm) == ("gravel", 8.0, 8.0)
    bare = CUPS.replace({"surface.kind": "membrane"}).other_surface
    assert (bare.depression_storage_mm, bare.daily_storage_mm, bare.depth_mm, bare.pore_fraction) == (
        1.0,
        1.2,
        0.0,
        1.0,
    )
    assert CUPS.replace({"surface.daily_storage_mm": 4.6}).other_surface.depression_storage_mm == 5.0
    with pytest.raises(
        runoff.RoofError, match=r"^replace: surface, pore_fraction must be more than 0 \(you wrote 0\)$"
    ):
        CUPS.replace({"surface.pore_fraction": 0})
