"""Outlets and pipes against values worked from the stated equations and their own properties.

Printed tables stand in `tests/published`.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from runoff.balance import outlet_flow as of
from runoff.errors import RunoffError

GPM_PER_L_PER_S = 60.0 / 3.785411784  # exact, NIST SP 811 App. B

# EN 12056-3:2000 forms (from memory, not seen in print); flows worked from them by hand: 100^1 x 35^1.5 / 7500 = 2.761
OUTLETS = [
    (of.round_outlet(100), 35, 2.761),
    (of.round_outlet(100, strainer=True), 35, 1.380),
    (of.round_outlet(100), 50, 4.714),
    (of.round_outlet(100, strainer=True), 50, 2.357),
    (of.round_outlet(150), 50, 7.071),
    (of.round_outlet(150), 75, 12.990),
    (of.round_outlet(75), 30, 1.643),
    (of.rectangular_outlet(300, 100), 35, 2.588),
    (of.rectangular_outlet(500, 100), 50, 7.366),
    (of.rectangular_outlet(1000, 100), 40, 10.541),
    (of.rectangular_outlet(300, 100), 200, 35.355),
    (of.round_outlet(100), 100, 100**2 * 100**0.5 / 15000),  # drowned
    (of.rectangular_outlet(300, 50), 150, 300 * 50 * 150**0.5 / 12000),
    # an edge is the rectangular weir along its length, ko 1, at any head: 5000 x 10^1.5/24000 and 5000 x 400^1.5/24000
    (of.edge_outlet(5000), 10, 6.588),
    (of.edge_outlet(5000), 400, 1666.667),
]


@pytest.mark.parametrize(("law", "head", "expected"), OUTLETS)
def test_flow_of_one_outlet(law: of.OutletLaw, head: float, expected: float) -> None:
    assert of.flow(head, [law]) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(
    "law", [of.round_outlet(100), of.round_outlet(75, strainer=True), of.rectangular_outlet(300, 40)]
)
def test_weir_and_orifice_meet_at_the_turning_head(law: of.OutletLaw) -> None:
    turn = law.turning_head_mm
    assert law.weir * turn**1.5 == pytest.approx(law.orifice * turn**0.5, rel=1e-12)


laws = st.lists(
    st.one_of(
        st.builds(of.round_outlet, st.floats(30, 300), strainer=st.booleans()),
        st.builds(of.edge_outlet, st.floats(500, 20000)),
        st.builds(of.rectangular_outlet, st.floats(50, 1000), st.floats(20, 200), strainer=st.booleans()),
    ),
    min_size=1,
    max_size=5,
)


@given(laws=laws, head=st.floats(0.0, 500.0))
def test_head_for_flow_undoes_flow(laws: list[of.OutletLaw], head: float) -> None:
    # 1e-8: the cubic's closed form loses some digits where one of weir and orifice is small beside the other
    assert of.head_for_flow(of.flow(head, laws), laws) == pytest.approx(head, rel=1e-8, abs=1e-9)


@given(laws=laws, heads=st.tuples(st.floats(0.0, 500.0), st.floats(0.0, 500.0)))
def test_more_head_never_passes_less(laws: list[of.OutletLaw], heads: tuple[float, float]) -> None:
    low, high = of.flow(sorted(heads), laws)
    assert low <= high * (1 + 1e-12)


def test_outlets_add_up_at_a_common_head_and_missing_heads_stay_missing() -> None:
    pair = [of.round_outlet(100), of.rectangular_outlet(300, 100)]
    np.testing.assert_allclose(of.flow([0.0, 35.0], pair), [0.0, 2.761 + 2.588], atol=2e-3)
    assert np.isnan(of.flow(np.nan, pair)) and np.isnan(of.head_for_flow(np.nan, pair))
    assert of.flow(50.0, []) == 0.0


def test_the_two_pipe_formulas_are_one() -> None:
    assert of.vertical_pipe_flow_gpm(4.0, filling=1 / 3) == pytest.approx(180.0, abs=0.5)  # IPC 2015 Table 1106.2
    ours = of.vertical_pipe_flow(101.6, filling=0.33) * GPM_PER_L_PER_S
    # coefficients 3.151e-4 and 3.146e-4: 0.2 %, and the rounded exponents of the European form as much again
    assert ours == pytest.approx(of.vertical_pipe_flow_gpm(4.0, filling=0.33), rel=0.005)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: of.flow([10.0, -1.0], [of.round_outlet(100)]), r"`head_mm` .* must be 0 or more, given -1"),
        (lambda: of.head_for_flow(-2.0, [of.round_outlet(100)]), r"`flow_l_per_s` .* must be 0 or more, given -2"),
        (lambda: of.head_for_flow(2.0, []), "no outlet is given, so no head passes any flow"),
        (lambda: of.round_outlet(0), "round outlet: `diameter_mm` must be above 0, given 0"),
        (lambda: of.rectangular_outlet(300, -5), "rectangular outlet: `height_mm` must be above 0, given -5"),
        (lambda: of.vertical_pipe_flow(100, filling=0.5), "must be 0.20 to 0.33 in EN 12056-3, given 0.5"),
        (lambda: of.horizontal_drain_flow(100, 0.0), "horizontal drain: `slope` must be above 0, given 0"),
    ],
)
def test_bad_input_is_named(call, message: str) -> None:
    with pytest.raises(RunoffError, match=message):
        call()


def test_a_vertical_pipe_is_never_counted_more_than_a_third_full() -> None:
    # beyond a third of the section the open flow of the formula breaks down (the filling of IPC 2015 is its limit)
    with pytest.raises(RunoffError, match="filling"):
        of.vertical_pipe_flow_gpm(4.0, filling=0.36)
