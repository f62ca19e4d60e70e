"""Snow and the film on bare roofs, worked by hand at, below and above every limit; the level of free water."""

import numpy as np
import pytest
from runoff.balance.levels import water_depth

from runoff.balance.surfaces import depression_store, snow_and_melt


def test_snow_by_hand() -> None:
    # 1.0 C is still snow; at 1.5 C 3 x 1.5 = 4.5 mm melt; then less is left than could melt; then nothing
    rain = np.array([5.0, 2.0, 1.0, 0.0, 4.0])
    temperature = np.array([-3.0, 1.0, 1.5, 2.0, 5.0])
    liquid, store = snow_and_melt(rain, temperature, threshold=1.0, melt_per_step=3.0, snow=np.array(0.5))
    assert list(store) == [5.5, 7.5, 3.0, 0.0, 0.0]
    assert list(liquid) == [0.0, 0.0, 5.5, 3.0, 4.0]


def test_no_melt_between_a_low_threshold_and_freezing() -> None:
    # threshold -2 C: at -1 C it rains, and melt is never negative
    liquid, store = snow_and_melt(
        np.array([3.0]), np.array([-1.0]), threshold=-2.0, melt_per_step=3.0, snow=np.array(4.0)
    )
    assert list(liquid) == [3.0] and list(store) == [4.0]


def test_depression_store_by_hand() -> None:
    # capacity 5: 4 + 3 -> 2 spill, 5 stay, 1 evaporates; 4 + 0 -> 3 evaporate; 1 + 0 -> 1 evaporates of 2 wanted
    liquid, e0 = np.array([3.0, 0.0, 0.0]), np.array([1.0, 3.0, 2.0])
    spilled, evaporated, store = depression_store(liquid, e0, capacity=np.array(5.0), water=np.array(4.0))
    assert list(spilled) == [2.0, 0.0, 0.0]
    assert list(evaporated) == [1.0, 3.0, 1.0]
    assert list(store) == [4.0, 1.0, 0.0]


@pytest.mark.parametrize("where", [0, 1])
def test_a_missing_value_makes_its_cell_missing_and_no_other(where: int) -> None:
    values = [np.full((2, 3), 2.0), np.full((2, 3), 1.0)]
    values[where][0, 1] = np.nan
    for made in (
        *depression_store(*values, capacity=np.full(2, 5.0), water=np.zeros(2)),
        *snow_and_melt(*values, threshold=1.0, melt_per_step=3.0, snow=np.zeros(2)),
    ):
        assert np.isnan(made[0]).all() and np.isfinite(made[1]).all()


# board 10 mm of water in 25 mm of height; medium 80 mm deep, 24 mm at field capacity, 48 mm full
BOARD = {"board_capacity": 10.0, "board_height": 25.0, "field_water": 24.0, "full_water": 48.0, "depth": 80.0}


@pytest.mark.parametrize(
    ("board", "medium", "pond", "expected"),
    [
        (0.0, 24.0, 0.0, 0.0),
        (4.0, 24.0, 0.0, 10.0),  # 25 x 4/10
        (4.0, 30.0, 3.0, 10.0),  # water above a board that is not full is on its way down
        (10.0, 24.0, 0.0, 25.0),
        (10.0, 30.0, 0.0, 45.0),  # 25 + 80 x 6/24
        (10.0, 20.0, 0.0, 25.0),  # a medium below field capacity does not lower it
        (10.0, 47.0, 5.0, 25.0 + 80.0 * 23.0 / 24.0),  # a pond over a medium not yet full does not count
        (10.0, 48.0, 5.0, 110.0),  # 25 + 80 + 5
    ],
)
def test_level_by_hand(board: float, medium: float, pond: float, expected: float) -> None:
    assert float(water_depth(board, medium, pond, **BOARD)) == pytest.approx(expected, abs=1e-9)


def test_level_without_a_board() -> None:
    none = {name: np.array(value) for name, value in (BOARD | {"board_capacity": 0.0, "board_height": 0.0}).items()}
    assert float(water_depth(np.array(0.0), 24.0, 0.0, **none)) == 0.0
    assert float(water_depth(np.array(0.0), 36.0, 0.0, **none)) == pytest.approx(40.0)  # 80 x 12/24
    assert np.isnan(water_depth(np.array(0.0), np.nan, 0.0, **none))


def test_level_over_a_board_that_holds_no_free_water() -> None:
    # nothing stands in it until the medium holds more than field capacity
    solid = {name: np.array(value) for name, value in (BOARD | {"board_capacity": 0.0}).items()}
    assert float(water_depth(np.array(0.0), np.array(24.0), 0.0, **solid)) == 0.0
    assert float(water_depth(np.array(0.0), np.array(30.0), 0.0, **solid)) == pytest.approx(45.0)  # 25 + 80 x 6/24
