"""Where the controls stand, and the roof that means."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

import runoff
from runoff.desk.design_choices import AS_DESCRIBED, NO_BOARD, Choices, cups_of, described, materials_of, roof_of


@pytest.fixture(scope="module")
def base() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


def moved(base: runoff.Roof, **where: Any) -> runoff.Roof:
    return roof_of(dataclasses.replace(described(base), **where), base)


@pytest.mark.parametrize("name", ["cups", "thin", "deep"])
def test_untouched_controls_mean_the_roof_as_described(name: str) -> None:
    roof = runoff.open_sample_roof(name)
    assert roof_of(described(roof), roof) == roof


@pytest.mark.parametrize(
    ("where", "read", "expected"),
    [
        ({"depth_mm": 120.0}, "medium.depth_mm", 120.0),
        ({"mulch_mm": 30.0}, "mulch.depth_mm", 30.0),
        ({"cups_mm": 5.0}, "board.cup_storage_mm", 5.0),
        ({"cups_up": False}, "board.cups_up", False),
        ({"medium": "pumice mix"}, "medium.material", "pumice mix"),
        ({"planting": "sedum and herbs"}, "planting.material", "sedum and herbs"),
    ],
)
def test_a_control_changes_its_property_and_nothing_else(base, where, read, expected) -> None:
    roof = moved(base, **where)
    assert roof.value_of(read) == expected
    word = read.partition(".")[0]
    for layer in base.build_up.layers:
        if layer.word != word:
            assert roof.build_up.layer(layer.word) == layer
    assert roof.outlets == base.outlets


def test_a_board_of_the_table_comes_with_its_cups(base) -> None:
    name = "cup board 40 mm"
    made: Any = runoff.material("board", name)
    assert cups_of(name, base) == made.cup_storage_mm
    assert moved(base, board=name, cups_mm=cups_of(name, base)).build_up.board == made


def test_without_board_or_mulch(base) -> None:
    assert moved(base, board=NO_BOARD).build_up.board is None
    assert moved(base, mulch_mm=0.0).build_up.layer("mulch") is None
    thin = runoff.open_sample_roof("thin")  # has no board: one of the table goes under its fleece
    roof = moved(thin, board="cup board 25 mm", cups_mm=3.5)
    words = [layer.word for layer in roof.build_up.layers]
    assert words.index("medium") < words.index("board") < words.index("mat")


def test_outlets_take_the_place_of_those_described(base) -> None:
    (one,) = moved(base, outlets="round, clear", outlet_count=3, outlet_mm=125.0).outlets
    assert (one.kind, one.count, one.diameter_mm, one.strainer) == ("round", 3, 125.0, False)
    assert moved(base, outlets=AS_DESCRIBED, outlet_count=7).outlets == base.outlets


def test_what_was_fitted_to_one_medium_is_not_carried_to_another(base) -> None:
    fitted = runoff.fit_tray(runoff.open_sample_tray()).applied_to(base)
    kept = [one.property for one in roof_of(described(fitted), fitted).fitted]
    assert {one.partition(".")[0] for one in kept} == {"medium", "planting"}
    other = roof_of(dataclasses.replace(described(fitted), medium="pumice mix"), fitted)
    assert {one.property.partition(".")[0] for one in other.fitted} == {"planting"}


def test_every_material_of_the_table_makes_a_roof(base) -> None:
    for word in ("medium", "planting", "board"):
        for name in materials_of(word):
            changes = {"cups_mm": cups_of(name, base)} if word == "board" else {}
            assert isinstance(moved(base, **{word: name}, **changes), runoff.Roof)
    assert isinstance(described(base), Choices)
