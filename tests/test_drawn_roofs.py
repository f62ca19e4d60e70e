"""Roofs drawn from ranges and read together are, to the last bit, the roofs that each draw makes by itself."""

from __future__ import annotations

import numpy as np
import pytest

import runoff
from runoff.errors import RoofError
from runoff.roof import Roof
from runoff.simulation import columns_of
from runoff.sizing.drawn_roofs import DrawnRoofs
from runoff.sizing.likely_ranges import draw_roofs, ranges_of
from runoff.sizing.masses_and_costs import build_up_figures
from runoff.sizing.sweeping import columns_of_designs

DRAWS = 60
#: Wide enough that many draws cannot be, each for its own reason: shares that do not rise, more free space than height, a level
#: above another, a value out of its limits, a curve by which deeper layers hold less, an outlet that does not fit.
ODD = {
    "shares": {"medium.field_capacity": (0.05, 0.8), "medium.porosity": (0.3, 0.9), "medium.wilting_point": (0.0, 0.2)},
    "space": {"board.void_storage_mm": (0.0, 30.0), "board.cup_storage_mm": (-2.0, 20.0)},
    "levels": {"medium.depth_mm": (30.0, 150.0), "roof.edge_height_mm": (60.0, 200.0), "roof.emergency_overflow_mm": (40.0, 250.0)},
    "limits": {"medium.bypass_fraction": (-0.5, 1.5), "medium.detention_n": (0.5, 6.0), "roof.fall": (-0.1, 0.1)},
    "curve": {"medium.release_alpha_per_mm": (1e-4, 0.05), "medium.release_n": (0.9, 2.5), "medium.depth_mm": (30.0, 200.0)},
    "near n of 2": {"medium.release_n": (1.999, 2.001), "mulch.depth_mm": (5.0, 40.0)},
    "thin surface": {"planting.canopy_storage_mm": (0.0, 0.5), "mulch.depth_mm": (0.5, 1.5)},
    "outlet": {"outlet.diameter_mm": (20.0, 120.0), "surface.depression_storage_mm": (0.0, 9.0), "roof.area_m2": (0.5, 20.0)},
}  # fmt: skip
#: Of those, draws that can all be, where formulas could go wrong: by a curve's bend, by less than a millimetre held.
POSSIBLE = ("near n of 2", "thin surface")


@pytest.fixture(params=["cups", "thin", "a curve", "partly planted"])
def roof(request: pytest.FixtureRequest) -> Roof:
    cups = runoff.open_sample_roof("cups")
    return {
        "cups": cups,
        "thin": runoff.open_sample_roof("thin"),
        "a curve": cups.replace({"medium.material": "pumice mix"}),
        "partly planted": cups.replace({"roof.planted_fraction": 0.8}),
    }[request.param]


def of_each(roof: Roof, drawn: dict[str, np.ndarray]) -> list[Roof | None]:
    """Return the roof of every draw, made and checked by itself; None where no roof can have it."""
    made: list[Roof | None] = []
    for row in zip(*drawn.values(), strict=True):
        try:
            made.append(roof.replace({name: float(value) for name, value in zip(drawn, row, strict=True)}))
        except RoofError:
            made.append(None)
    return made


def assert_same_columns(roofs: DrawnRoofs, each: list[Roof]) -> None:
    together, alone = columns_of_designs(roofs), columns_of(each)
    assert set(together.rows) == set(alone.rows)
    for name, row in alone.rows.items():
        np.testing.assert_array_equal(together.rows[name], row, err_msg=name)


def test_ranges_of_materials_read_together_are_those_of_each_roof(roof: Roof) -> None:
    roofs, drawn = draw_roofs(roof, ranges_of(roof), members=DRAWS, seed=4)
    each = of_each(roof, {str(name): drawn.sel(property=name).to_numpy() for name in drawn["property"].to_numpy()})
    assert len(roofs) == len(each) == DRAWS
    assert_same_columns(roofs, [one for one in each if one is not None])
    assert list(roofs[:3]) == each[:3]
    figures, of_them = build_up_figures(roofs), build_up_figures([one for one in each if one is not None])
    for name in of_them:
        np.testing.assert_array_equal(figures[name], of_them[name])


@pytest.mark.parametrize("kind", list(ODD))
def test_draws_that_cannot_be_are_those_of_which_no_roof_can_be_made(kind: str) -> None:
    roof = runoff.open_sample_roof("cups").replace({"medium.material": "pumice mix"})
    rng = np.random.default_rng(2)
    drawn = {name: rng.uniform(*ends, 200) for name, ends in ODD[kind].items()}
    each, roofs = of_each(roof, drawn), DrawnRoofs(roof, drawn)
    assert roofs.impossible.tolist() == [one is None for one in each]
    assert (kind in POSSIBLE) != roofs.impossible.any(), "the case shows something"
    assert not roofs.impossible.all()
    possible = DrawnRoofs(roof, {name: values[~roofs.impossible] for name, values in drawn.items()})
    assert_same_columns(possible, [one for one in each if one is not None])


def test_the_first_draw_that_cannot_be_says_why() -> None:
    roof = runoff.open_sample_roof("cups")
    roofs = DrawnRoofs(roof, {"medium.porosity": np.array([0.6, 0.3, 0.2]), "medium.field_capacity": np.full(3, 0.33)})
    with pytest.raises(RoofError, match=r"must rise in this order \(you wrote 0\.08, 0\.33, 0\.3\)"):
        roofs.refuse_impossible()


def test_ranges_make_a_roof_for_each_set_of_the_roof_itself_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    # of a partly planted roof the surface without planting is drawn in five steps: five roofs, looked at twice, whatever the draws
    roof, weather = runoff.open_sample_roof("cups").replace({"roof.planted_fraction": 0.8}), runoff.open_sample()
    made = []
    replace = Roof.replace
    monkeypatch.setattr(Roof, "replace", lambda self, changes: made.append(1) or replace(self, changes))
    runoff.uncertainty(roof, weather, members=40, resamples=4)
    assert len(made) == 10
    made.clear()
    runoff.what_to_measure(
        roof, weather, samples=4, ranges={"medium.field_capacity": (0.28, 0.38), "roof.fall": (0.0, 0.03)}
    )
    assert len(made) <= 4 * (2 + 2)  # at most one for every fall; none for the field capacities
