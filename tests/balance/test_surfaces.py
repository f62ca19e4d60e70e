"""Snow, frost and the film on bare roofs, worked by hand at, below and above every limit."""

import numpy as np
import pytest

from runoff.balance.surfaces import depression_store, evaporation_demand, snow_and_melt


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


def test_nothing_evaporates_under_snow_in_frost_or_where_the_demand_is_dew() -> None:
    e0 = np.array([2.0, 0.4, 0.4, 2.0, -0.3, np.nan])
    snow = np.array([0.0, 0.1, 0.0, 0.0, 0.0, 0.0])
    temperature = np.array([5.0, 5.0, 0.0, 0.1, 5.0, 5.0])
    assert list(evaporation_demand(e0, snow, temperature)[:5]) == [2.0, 0.0, 0.0, 2.0, 0.0]
    assert list(evaporation_demand(e0, snow, None)[:5]) == [2.0, 0.0, 0.4, 2.0, 0.0]
    assert np.isnan(evaporation_demand(e0, snow, temperature)[5])


def test_a_daily_storage_stands_for_a_film_that_fills_several_times_a_day() -> None:
    # two showers of 3 mm, 0.4 mm of evaporation between them: a film of 1 mm keeps 1.4 of 6 mm, a day with 1.2 mm keeps 1.2
    film, _, _ = depression_store(
        np.array([3.0, 0.0, 3.0]), np.array([0.0, 0.4, 0.0]), capacity=np.array(1.0), water=np.array(0.0)
    )
    day, _, _ = depression_store(np.array([6.0]), np.array([0.4]), capacity=np.array(1.2), water=np.array(0.0))
    assert film.sum() == pytest.approx(4.6) and day.sum() == pytest.approx(4.8)
