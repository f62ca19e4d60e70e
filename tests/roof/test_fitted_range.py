"""Properties fitted to a measurement: kept in the roof file, and drawn with the spread of the fit."""

import numpy as np
import pytest

import runoff
from runoff.roof import material_ranges, roof_from_toml
from runoff.roof.fitted_range import FittedRange
from runoff.sizing.likely_ranges import distributions_of, draw_roofs, ranges_of

ROOF = runoff.open_sample_roof("cups")
ONE = FittedRange(property="medium.wilting_point", value=0.08, low=0.07, high=0.10, fitted_on="tray 3, May 2026")


def test_a_roof_file_keeps_what_was_fitted() -> None:
    roof = ROOF.with_fitted([ONE])
    again = roof_from_toml(roof.to_toml())
    assert again == roof and again.fitted == (ONE,)
    assert 'fitted_on = "tray 3, May 2026"' in roof.to_toml()
    assert roof.replace({"medium.depth_mm": 60.0}).fitted == (ONE,)
    newer = ONE.model_copy(update={"fitted_on": "tray 4"})
    assert roof.with_fitted([newer]).fitted == (newer,)


def test_the_fit_takes_the_place_of_the_materials_table() -> None:
    plain, fitted = material_ranges(ROOF), material_ranges(ROOF.with_fitted([ONE]))
    assert {name: pair for name, pair in fitted.items() if name != ONE.property} == {
        name: pair for name, pair in plain.items() if name != ONE.property
    }
    own = ROOF.build_up.medium.wilting_point
    # ends of the triangle: half widths 0.01 and 0.02 times 1/(1 - sqrt 0.1) = 1.4625, as a ratio to the roof's own value
    assert fitted[ONE.property] == pytest.approx(
        (own * (1 - 0.014625 / 0.08), own, own * (1 + 0.02925 / 0.08)), rel=1e-4
    )


def test_five_and_ninety_five_per_cent_are_those_of_the_fit() -> None:
    even = FittedRange(property="planting.crop_coefficient", value=0.8, low=0.7, high=0.9, fitted_on="tray")
    (drawn,) = distributions_of({"x": even.drawn_around(0.8, np.inf)})
    assert drawn.ppf([0.05, 0.95]) == pytest.approx([0.7, 0.9], abs=1e-9)  # exact for a range that is even


def test_what_is_fitted_is_drawn() -> None:
    narrow = FittedRange(property="medium.field_capacity", value=0.3, low=0.299, high=0.301, fitted_on="tray")
    roof = ROOF.replace({"medium.field_capacity": 0.3}).with_fitted([narrow])
    _, drawn = draw_roofs(roof, ranges_of(roof), members=50, seed=1)
    values = drawn.sel(property="medium.field_capacity")
    assert 0.2985 < float(values.min()) < float(values.max()) < 0.3015


def test_fitted_ranges_that_cannot_be() -> None:
    with pytest.raises(runoff.RoofError) as refused:
        FittedRange(property="medium.porosity", value=0.5, low=0.4, high=0.7, fitted_on=" ")
    assert str(refused.value) == "FittedRange: fitted_on must say what it was fitted on, such as: tray 3, May 2026"
    text = ROOF.with_fitted([ONE]).to_toml()
    twice = (
        text
        + '\n[[roof.fitted]]\nproperty = "medium.colour"\nvalue = 1.0\nlow = 0.9\nhigh = 1.1\nfitted_on = "a look"\n'
    )
    with pytest.raises(runoff.RoofError) as refused:
        roof_from_toml(twice, where="roof.toml")
    assert str(refused.value) == (
        'roof.toml: [roof], fitted names "medium.colour", which is no number of this roof; write layer.field or roof.field'
    )
    with pytest.raises(runoff.RoofError) as refused:
        roof_from_toml(text.replace("low = 0.07", "low = 0.09"), where="roof.toml")
    assert str(refused.value) == (
        "roof.toml: fitted 1, low, value and high must rise in this order (you wrote 0.09, 0.08, 0.1)"
    )
