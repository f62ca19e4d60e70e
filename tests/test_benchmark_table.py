"""The table of ratios: what it says of a line, what it notes, and when it fails; and that what it counts and compares with is right."""

import csv
from pathlib import Path

import numpy as np
import pytest

from runoff.balance import column, column_blocks
from runoff.balance.column_totals import run_totals
from tests.benchmarks import __main__ as table
from tests.benchmarks.bench_column import days, roofs
from tests.benchmarks.day_in_numpy import run_in_numpy
from tests.benchmarks.operations import Counted, least, operations_of_a_day


def block(ratio: float) -> table.Row:
    return table.Row(table.BLOCK, "loop of one roof, compiled", ratio, 4.0)


def test_it_fails_when_lanes_no_longer_run_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    assert table.verdict([block(4.0)]) == 0
    assert capsys.readouterr().out == ""
    assert table.verdict([block(3.9)]) == 1
    assert "The block loop is 3.9 times as quick for each design" in capsys.readouterr().out


def test_lines_and_history(tmp_path: Path) -> None:
    slow = table.Row("a grid", "reading it", 5.0, 4.0, quicker=False)
    assert block(8.0).told().endswith("8.00 times as quick  at least 4   holds")
    assert slow.told().endswith("5.00 times as long   at most 4    DOES NOT HOLD")
    for _ in range(2):
        table.note([block(8.0), slow], tmp_path / "history.csv")
    with (tmp_path / "history.csv").open(encoding="utf-8") as file:
        noted = list(csv.DictReader(file))
    assert [(one["what"], one["ratio"], one["wanted"]) for one in noted] == [(table.BLOCK, "8", "4"), ("a grid", "5", "4")] * 2  # fmt: skip
    assert all(one["date_utc"][:2] == "20" and one["commit"] for one in noted)


def test_numbers_of_a_lane_count_by_the_rule() -> None:
    """By hand: three additions and subtractions, one minimum, no product and no comparison."""
    Counted.done = 0
    x = Counted(3.0)
    kept = least(x + 1.0, 2.0 - x) - 0.5
    assert kept == -1.5 and x * 2.0 > x
    assert Counted.done == 4


@pytest.mark.slow
def test_numpy_and_the_counted_run_are_the_block_loop() -> None:
    """Both yardsticks run the very step: the loop in numpy has its bits, and what is counted lies between a still and a wet day."""
    given = days(800)
    par = column.parameter_array(roofs(0.0, 0.0)[: column_blocks.LANES])
    stores = column.start_stores(par, "field-capacity")
    totals, monthly, _ = run_totals(**given, run_on=None, par=par, stores=stores)
    for skips in (False, True):
        in_numpy, by_month = run_in_numpy(**given, par=par, stores=stores, skips=skips)
        np.testing.assert_array_equal(in_numpy, totals)
        np.testing.assert_array_equal(by_month, monthly)
    few = {name: one[:60] if isinstance(one, np.ndarray) else one for name, one in given.items()}
    few["year_start"] = np.array([0, 60])
    # a day of rain takes some 60 operations (the steps are in `column`), a still one some 15: their mean lies between
    assert 15.0 < operations_of_a_day(few, par, stores) < 60.0
