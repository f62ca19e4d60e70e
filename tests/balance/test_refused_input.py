"""What no deck, pipe or column can be is refused in a sentence that names it."""

import numpy as np
import pytest

from runoff.balance import free_water, outlet_flow, packing
from runoff.errors import RunoffError


@pytest.mark.parametrize("pores", [0.0, -0.4, 1.5, np.nan])
def test_gravel_without_or_beyond_all_pores(pores: float) -> None:
    message = f"gravel: a share of pores of {pores:g} was given; it must lie between 0.01 and 1 \\(0.4 is common\\)"
    with pytest.raises(RunoffError, match=message):
        free_water.bare_decks(fall=0.02, flow_length_m=8.0, gravel_depth=50.0, gravel_pores=[0.4, pores])


@pytest.mark.parametrize("filling", [0.1, 0.5, np.nan])
def test_a_pipe_filled_beyond_its_standard(filling: float) -> None:
    message = f"filling \\(share of the cross-section\\) must be 0.20 to 0.33 in EN 12056-3, given {filling:g}"
    with pytest.raises(RunoffError, match=message):
        outlet_flow.vertical_pipe_flow(100.0, filling=filling)


def test_a_column_described_in_part() -> None:
    described = dict.fromkeys(packing.DESCRIBED, 1.0)
    del described["fall"]
    with pytest.raises(RunoffError, match=r"columns: not given: fall; see runoff\.balance\.packing\.DESCRIBED"):
        packing.by_name(described)
