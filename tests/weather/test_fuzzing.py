"""A few hundred cases of the reader fuzzing with every run; minutes of them: ``python -m tests.trials.fuzz_readers``."""

import pytest

from tests.weather.fuzzing import TARGETS, run

CASES = {"table": 150, "dly": 100, "station csv": 100, "netcdf": 60, "depth-duration": 100}


@pytest.mark.parametrize("name", list(TARGETS))
def test_every_case_is_read_right_or_refused_in_a_sentence(name) -> None:
    count, found = run(TARGETS[name], seed=7, cases=CASES[name])
    assert not found, f"{found}; see python -m tests.trials.fuzz_readers '{name}' --seed 7 --case N"
    assert count["refused"] > 0.2 * CASES[name]  # the changes do reach the reader
    assert count["read"] > 0.02 * CASES[name]
