"""Property names in words: by hand from the names of the roof file."""

import pytest

from runoff.roof.property_names import property_words


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
