"""The bucket against the flow equation: the reference is checked first, then what it implies and where the two part."""

import csv

import numpy as np
import pytest

import runoff
from tests.second_physics.comparison import (
    BURST_MIN,
    DEPTH_MM,
    DEPTHS_MM,
    MEDIA,
    RAIN_MM_PER_MIN,
    RESULT,
    bucket,
    drainage,
    fitted_detention,
    storm,
)

pytestmark = pytest.mark.slow
TABLE = {
    (row["medium"], row["depth_mm"]): row for row in csv.DictReader(RESULT.read_text(encoding="utf-8").splitlines())
}


@pytest.mark.parametrize("name", MEDIA)
def test_the_flow_equation_loses_no_water(name: str) -> None:
    course = storm(name)
    rained = RAIN_MM_PER_MIN * BURST_MIN
    # what leaves a cell enters the next or the sum of outflow, so only rounding of some 50 mm may be lost
    assert course.held[-1] + course.outflow[-1] - course.held[0] == pytest.approx(rained - course.refused[-1], abs=1e-9)
    assert course.refused[-1] == pytest.approx(0.0, abs=1e-6)  # the rain stays under the conductivity


@pytest.mark.parametrize("name", MEDIA)
def test_a_drained_column_comes_to_rest_over_its_wet_foot(name: str) -> None:
    # at rest the pressure falls by one mm per mm of height above the foot: the water held is the integral of the
    # retention curve, worked here by the midpoint rule on 2000 points
    height = (np.arange(2000) + 0.5) * DEPTH_MM / 2000
    at_rest = float(MEDIA[name].water(-height).mean() * DEPTH_MM)
    # after a day the column still drips: within 2 % of rest
    assert drainage(name).held[-1] == pytest.approx(at_rest, rel=0.02)


def test_finer_cells_change_little() -> None:
    coarse, fine = drainage("medium", cells=40), drainage("medium", cells=80)
    np.testing.assert_allclose(coarse.held, fine.held, rtol=0.01)


@pytest.mark.parametrize("name", MEDIA)
def test_with_the_implied_values_the_bucket_meets_the_peak(name: str) -> None:
    k, n = fitted_detention(name)
    flow = 60.0 * np.diff(storm(name).outflow).max()
    ours = 60.0 * float(bucket(name, k, n)["percolation"].max())
    # found when the two were first held together: 4 to 7 % apart; twice that is allowed, so a fault shows
    assert ours == pytest.approx(flow, rel=0.14)


def test_the_committed_table_is_current() -> None:
    k, n = fitted_detention("medium")
    row = TABLE["medium", "80"]
    # printed to three digits
    assert float(row["detention_k"]) == pytest.approx(k, rel=0.02)
    assert float(row["detention_n"]) == pytest.approx(n, abs=0.02)


@pytest.mark.parametrize("depth", DEPTHS_MM)
@pytest.mark.parametrize("name", MEDIA)
def test_field_capacity_of_a_depth_is_what_a_drained_column_comes_to(name: str, depth: float) -> None:
    """From the same curve, and from a value measured on the drained column of 100 mm: both against the flow equation."""
    medium = MEDIA[name]
    drained = float(drainage(name, depth).held[-1])
    shape = {
        "depth_mm": depth, "porosity": medium.saturated, "wilting_point": 2.0 * medium.residual,
        "release_alpha_per_mm": medium.alpha_per_mm, "release_n": medium.n,
    }  # fmt: skip
    dry = float(medium.water(np.array([-3300.0]))[0])  # -33 kPa
    by_curve = runoff.GrowingMedium(
        **shape, field_capacity=max(dry, 2.01 * medium.residual), field_capacity_kind="suction"
    )
    # after a day a column still drips: within 2 % of rest, as above; the fine medium holds its pores full, which the
    # package cuts at 0.98 of them
    most = 0.98 * medium.saturated * depth
    assert by_curve.drained_water_mm == pytest.approx(min(drained, most), rel=0.02)
    cylinder = float(drainage(name, 100.0).held[-1]) / 100.0
    measured = runoff.GrowingMedium(**shape, field_capacity=cylinder)
    # the dripping of two columns, and rounding: 3 %
    assert measured.drained_water_mm == pytest.approx(min(drained, most), rel=0.03)


def test_where_the_bucket_cannot_follow() -> None:
    # a fine medium keeps its pores full by capillarity: at rest under a tenth of the volume is air, at any depth built.
    # The bucket only knows this when its field capacity is measured in place, at the depth of the roof.
    for depth in ("40", "80", "150"):
        assert float(TABLE["fine", depth]["air_at_rest"]) < 0.10
    # and field capacity is no constant of a material: it falls as the column grows taller
    for name in MEDIA:
        held = [float(TABLE[name, depth]["field_capacity"]) for depth in ("40", "80", "150")]
        assert held[0] > held[1] > held[2]
