"""Property names in words: by hand from the names of the roof file."""

import pytest

from runoff.saying.properties import ENDINGS, Ending, property_words, us_twin
from runoff.units import convert


@pytest.mark.parametrize(
    ("name", "heading", "value", "sentence"),
    [
        ("medium.depth_mm", "medium depth, mm", 80.0, "medium depth 80 mm"),
        ("medium.conductivity_mm_per_h", "medium conductivity, mm/h", 600, "medium conductivity 600 mm/h"),
        ("board.in_plane_flow_l_per_s_m", "board in plane flow, L/(s m)", 0.7, "board in plane flow 0.7 L/(s m)"),
        ("medium.dry_density_kg_per_m3", "medium dry density, kg/m3", 812.5, "medium dry density 812.5 kg/m3"),
        ("planting.mass_kg_per_m2", "planting mass, kg/m2", 10, "planting mass 10 kg/m2"),
        ("roof.area_m2", "roof area, m2", 77.7, "roof area 77.7 m2"),
        ("roof.flow_length_m", "roof flow length, m", 8.0, "roof flow length 8 m"),
        ("medium.field_capacity", "medium field capacity", 1 / 3, "medium field capacity 0.333333"),
        ("board.cups_up", "board cups up", False, "board cups up no"),
        ("medium.material", "medium material", "pumice mix", "medium material pumice mix"),
    ],
)
def test_a_property_in_words(name: str, heading: str, value: object, sentence: str) -> None:
    assert property_words(name).heading == heading
    assert property_words(name).with_value(value) == sentence


@pytest.mark.parametrize(
    ("name", "heading", "value", "sentence"),
    [
        # worked by hand: 80 / 25.4 = 3.1496; 1000 x 0.0624280 = 62.43; 120 / 0.09290304 = 1291.67
        ("medium.depth_mm", "medium depth, in", 80.0, "medium depth 3.15 in"),
        ("medium.depth_mm", "medium depth, in", 76.2, "medium depth 3 in"),
        ("medium.dry_density_kg_per_m3", "medium dry density, lb/ft3", 1000.0, "medium dry density 62.43 lb/ft3"),
        ("roof.area_m2", "roof area, ft2", 120.0, "roof area 1292 ft2"),
        ("medium.field_capacity", "medium field capacity", 0.35, "medium field capacity 0.35"),
        ("board.cups_up", "board cups up", True, "board cups up yes"),
    ],
)
def test_a_property_in_us_units(name: str, heading: str, value: object, sentence: str) -> None:
    assert property_words(name).heading_in("us") == heading
    assert property_words(name).with_value(value, "us") == sentence


@pytest.mark.parametrize("ending", ENDINGS)
def test_every_unit_of_a_name_has_its_us_twin(ending: Ending) -> None:
    assert us_twin(f"part.some{ending.us}") == (f"part.some{ending.si}", ending.us_unit, ending.si_unit)
    assert property_words(f"part.some{ending.si}").unit == ending.si_unit
    convert(1.0, ending.us_unit, ending.si_unit)  # raises when the two measure different things
