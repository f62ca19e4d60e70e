"""Totals of many designs: against the trace of each, day by day, and to the last bit against the loop of one roof."""

import functools
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from runoff.balance import cells, column, column_blocks
from runoff.balance.block_lanes import TOTALS, WORK
from runoff.balance.column_blocks import LANES
from runoff.balance.column_totals import run_totals
from runoff.balance.loop_choice import as_read, compiled, plainly
from runoff.balance.vector_width import zeros_for_vectors
from tests.balance.invented_roofs import (
    DEMAND_AFTER_IT,
    DRY_AFTER_IT,
    RAIN_THEN_NONE,
    SOAKED_THEN_DRY,
    TWELVE,
    described,
    random_roof,
    weather,
)

TOLERANCE = 2.0
DAYS = 1096


def calendar(days: int, rain: np.ndarray) -> dict[str, Any]:
    """Return an invented calendar: months of 30 days, three years, events of nine days of which some do not count."""
    starts = np.arange(days) % 9 == 4
    of_event = np.add.reduceat(rain, np.flatnonzero(np.append(True, starts[1:])))
    limit = np.zeros(days)
    limit[starts] = np.where(of_event[1:] > 0.0, 0.05 * of_event[1:], -1.0)
    return {
        "other": np.maximum(0.0, rain - 1.0),
        "warm": (np.arange(days) % 365 > 90).astype(float),
        "month": (np.arange(days) // 30) % 12,
        "event_limit": limit,
        "year_start": np.array([0, days // 3, 2 * days // 3, days]),
        "tolerance": TOLERANCE,
    }


def run_all(
    roofs: list[dict], rain: np.ndarray, e0: np.ndarray, given: dict, run_on: np.ndarray | None = None
) -> tuple:
    par = column.parameter_array(roofs)
    return run_totals(rain, e0, run_on=run_on, par=par, stores=column.start_stores(par, "field-capacity"), **given)


def trace_of(roof: dict, rain: np.ndarray, e0: np.ndarray, run_on: np.ndarray | None = None) -> tuple[dict, np.ndarray]:
    par = column.parameter_array([roof])
    out = np.empty((len(column.TRACE), rain.size))
    last = cells.run_trace(rain, e0, run_on, par[:, 0], column.start_stores(par, "field-capacity")[:, 0], out)
    return dict(zip(column.TRACE, out, strict=True)), last


def read_day_by_day(roof: dict, day: dict, given: dict) -> np.ndarray:
    """Add up a trace as the meaning of each total says, year by year."""
    wet = dry = 0
    event, limit = 0.0, 0.0
    planted, many_dry = roof["planted_fraction"], 14 if roof["medium_depth"] <= 40.0 else 28
    starts = given["year_start"]
    found = np.zeros((len(starts) - 1, len(TOTALS)))
    for year, first in enumerate(starts[:-1]):
        row = dict.fromkeys(TOTALS, 0.0)
        for t in range(first, starts[year + 1]):
            if given["event_limit"][t] != 0.0:
                row["events_held"] += event < limit
                event, limit = 0.0, given["event_limit"][t]
            overflow = day["drained"][t] + day["spilled"][t]
            wet, dry = (spell + 1 if day[name][t] else 0 for spell, name in ((wet, "waterlogged"), (dry, "dry")))
            roof_overflow = planted * overflow + (1.0 - planted) * given["other"][t]
            event += overflow
            row["overflow"] += overflow
            row["evapotranspiration"] += day["evapotranspiration"][t]
            row["waterlogged_days"] += wet > 0
            row["waterlogged_area_days"] += day["waterlogged_share"][t]
            row["rot_risk_days"] += wet > TOLERANCE and given["warm"][t] > 0
            row["dry_days"] += dry > 0
            row["drought_risk_days"] += dry > many_dry
            row["excess_water"] += max(0.0, day["medium_water"][t] - roof["field_water"])
            row["roof_overflow"] += roof_overflow
            for name, value in (
                ("peak_overflow", overflow), ("peak_roof_overflow", roof_overflow),
                ("longest_waterlogged_spell", wet), ("longest_dry_spell", dry),
            ):  # fmt: skip
                row[name] = max(row[name], value)
        if year == len(starts) - 2:
            row["events_held"] += event < limit
        found[year] = [row[name] for name in TOTALS]
    return found


def test_every_total_of_every_year() -> None:
    rain, e0, _ = weather(21, DAYS)
    rain[500:590] = 0.0  # a drought
    given = calendar(DAYS, rain)
    shallow = described(medium_depth=40.0, wilting_water=3.0, field_water=14.0, full_water=22.0, planted_fraction=0.75)
    airless = described(full_water=34.0, planted_fraction=0.5)
    roofs = [*(roof | {"planted_fraction": 0.75} for roof in TWELVE.values()), shallow, airless]
    yearly, monthly, last = run_all(roofs, rain, e0, given)
    seen = np.zeros(len(TOTALS))
    for i, roof in enumerate(roofs):
        day, stores = trace_of(roof, rain, e0)
        expected = read_day_by_day(roof, day, given)
        # the same sums, some in another order or from the balance: rounding of some thousand mm
        np.testing.assert_allclose(yearly[:, :, i], expected, rtol=0, atol=1e-8, err_msg=str(i))
        np.testing.assert_array_equal(last[:, i], stores)
        seen += expected.sum(axis=0)
        overflow = day["drained"] + day["spilled"]
        for month in range(12):
            assert monthly[month, i] == pytest.approx(overflow[given["month"] == month].sum(), abs=1e-8)
    assert (seen > 0).all(), "a total that stays zero shows nothing"


@settings(max_examples=40)
@given(seed=st.integers(0, 2**32 - 1))
@example(seed=2304)  # what is above field capacity percolates on a dry day and leaves nothing above it
@example(seed=1)  # a block and a part of one
@example(seed=155)  # run-on on a day on which nothing evaporates: mats fill from it that day, and the day is not dry
def test_lanes_are_the_loop_of_one_roof_to_the_last_bit(seed: int) -> None:
    """In random company a lane runs steps that would change nothing for it alone: they must not change a bit."""
    rng = np.random.default_rng(seed)
    roofs = [random_roof(rng) for _ in range(rng.integers(1, 69))]  # the examples hold what they are for among so many
    if seed % 3 == 1:  # more than a block of them
        others = np.random.default_rng(seed)
        roofs += [random_roof(others) for _ in range(LANES)]
    rain, e0, _ = weather(seed, 200, wet=rng.choice([1.0, 3.0]))
    e0[rng.random(200) < 0.05] = 0.0
    run_on = np.where(rng.random(200) < 0.1, 5.0, 0.0) if rng.random() < 0.3 else None
    yearly, _, last = run_all(roofs, rain, e0, calendar(200, rain), run_on)
    for i, roof in enumerate(roofs):
        day, stores = trace_of(roof, rain, e0, run_on)
        assert last[:, i].tobytes() == stores.tobytes()
        assert yearly[:, TOTALS.index("peak_overflow"), i].max() == (day["drained"] + day["spilled"]).max()
        assert yearly[:, TOTALS.index("waterlogged_days"), i].sum() == day["waterlogged"].sum()
        assert yearly[:, TOTALS.index("dry_days"), i].sum() == day["dry"].sum()
        share = yearly[:, TOTALS.index("waterlogged_area_days"), i].sum()
        assert share == pytest.approx(day["waterlogged_share"].sum(), abs=1e-9)


def test_the_last_water_above_field_capacity_reaches_what_lies_below() -> None:
    """A fleece that lets 2.4 mm a day pass, no evaporation: what leaves and what is held is the rain, by hand."""
    rain = np.zeros(10)
    rain[0] = (
        2.0 + 7.0
    )  # fills the surface; 7 mm reach a medium at field capacity, without bypass: 2.4, 2.4 and 2.2 mm pass
    roof = described(fleece_rate=0.1, bypass_fraction=0.0, cup_capacity=0.0, mat_capacity=0.0)
    yearly, _, last = run_all([roof], rain, np.zeros(10), calendar(10, rain))
    assert yearly[:, TOTALS.index("overflow"), 0].sum() == pytest.approx(7.0, abs=1e-12)  # sums of a few mm
    assert yearly[:, TOTALS.index("evapotranspiration"), 0].sum() == pytest.approx(0.0, abs=1e-12)
    np.testing.assert_allclose(last[:, 0], [2.0, 28.0, 0.0, 0.0, 0.0], atol=1e-12)


def trickle(days: int) -> np.ndarray:
    """Return rain so gentle that no limit binds, after rain that fills the roof: what passes runs through at once."""
    rain = np.full(days, 0.9)
    rain[:3] = 20.0
    return rain


@pytest.mark.parametrize("company", ["random", "alike", "shallow and dry"])
def test_the_block_loop_in_plain_python_is_the_compiled_one_to_the_last_bit(company: str) -> None:
    rng = np.random.default_rng(5)
    rain, e0, _ = weather(5, 90, wet=2.0)
    run_on = np.where(rng.random(90) < 0.1, 5.0, 0.0)
    roofs = [random_roof(rng) for _ in range(LANES)]
    if company == "alike":
        roofs, rain, run_on = [described(cup_capacity=0.2 * i) for i in range(LANES)], trickle(90), np.zeros(90)
    if company == "shallow and dry":
        shallow = dict(
            medium_depth=30.0, wilting_water=2.0, field_water=7.0, full_water=14.0, cup_capacity=0.0, outlet_rate=0.1
        )
        roofs, rain = (
            [described(**shallow, mat_capacity=0.1 * i) for i in range(LANES)],
            np.where(rain > 8.0, rain, 0.0),
        )
        rain[30:70] = 0.0
    par = column.parameter_array(roofs)
    e0[rng.random(90) < 0.1] = 0.0
    given = calendar(90, rain)
    given["year_start"] = np.array([0, 25, 90])
    weather_rows = column_blocks.days_of(rain, e0, run_on, *list(given.values())[:-1])
    made = []
    for loop in (plainly(column_blocks.totals_loop), compiled(column_blocks.totals_loop)):
        stores = column.start_stores(par, 0.7)
        totals, monthly = np.empty((2, len(TOTALS), LANES)), np.empty((12, LANES))
        loop(
            *weather_rows,
            as_read(given["year_start"]),
            TOLERANCE,
            par,
            stores,
            zeros_for_vectors(len(WORK) * LANES),
            totals,
            monthly,
        )
        made.append((stores, totals, monthly))
    for plain, fast in zip(*made, strict=True):
        assert plain.tobytes() == fast.tobytes()


def test_neither_order_nor_company_changes_a_bit() -> None:
    rng = np.random.default_rng(6)
    roofs = [random_roof(rng) for _ in range(3 * LANES + 7)]
    rain, e0, _ = weather(6, 300, wet=2.0)
    given, order = calendar(300, rain), rng.permutation(len(roofs))
    one = run_all(roofs, rain, e0, given)
    other = run_all([roofs[i] for i in order], rain, e0, given)
    for ours, theirs in zip(one, other, strict=True):
        assert np.ascontiguousarray(ours[..., order]).tobytes() == theirs.tobytes()


@pytest.mark.parametrize("count", [1, 2, LANES + 1])
def test_years_taken_together_are_their_sums_and_largest_values(count: int) -> None:
    rng = np.random.default_rng(11)
    rain, e0, _ = weather(11, DAYS, wet=2.0)
    given = calendar(DAYS, rain) | {"year_start": np.linspace(0, DAYS, 25).astype(int)}
    par = column.parameter_array([random_roof(rng) for _ in range(count)])
    words = given | {"run_on": None, "par": par, "stores": column.start_stores(par, "field-capacity")}
    yearly, *others = run_totals(rain, e0, **words)
    together, *others_together = run_totals(rain, e0, **words, each_year=False)
    assert together.shape == (1, len(TOTALS), count)
    for k, name in enumerate(TOTALS):
        largest = name.startswith(("peak", "longest"))
        of_years = yearly[:, k].max(axis=0) if largest else functools.reduce(np.add, yearly[:, k])
        assert together[0, k].tobytes() == of_years.tobytes(), name  # added up one year after the other
    for ours, theirs in zip(others, others_together, strict=True):
        assert ours.tobytes() == theirs.tobytes()


def test_days_run_through_before_leave_their_stores_and_no_totals() -> None:
    rng = np.random.default_rng(12)
    rain, e0, _ = weather(12, 900, wet=2.0)
    run_on = np.where(rng.random(900) < 0.1, 5.0, 0.0)
    par = column.parameter_array([random_roof(rng) for _ in range(LANES + 3)])
    begin = column.start_stores(par, 0.3)
    first, then = (calendar(days.size, days) for days in (rain[:400], rain[400:]))
    later = {"run_on": run_on[400:], "par": par, **then}
    stores = run_totals(rain[:400], e0[:400], run_on=run_on[:400], par=par, stores=begin, **first)[2]
    expected = run_totals(rain[400:], e0[400:], stores=stores, **later)
    stretch = (rain[:400], e0[:400], run_on[:400], *list(first.values())[:-1])
    found = run_totals(rain[400:], e0[400:], stores=begin, before=[stretch], **later)
    for ours, theirs in zip(found, expected, strict=True):
        assert ours.tobytes() == theirs.tobytes()


def test_events_by_hand() -> None:
    # a medium at field capacity, cups and mat full, nothing evaporates: after 2 mm in the canopy everything runs off.
    # 2 mm of rain: held. 10 mm: all runs off, not held. An event that shall not count is not held even without overflow
    roof = described()
    rain, none = np.array([0.0, 2.0, 0.0, 10.0, 0.0, 0.0, 0.0]), np.zeros(7)
    limit = np.array([0.0, 0.1, 0.0, 0.5, 0.0, -1.0, 0.0])
    given = {"other": none, "warm": none, "month": none.astype(int), "event_limit": limit, "year_start": np.array([0, 7]),
             "tolerance": TOLERANCE}  # fmt: skip
    yearly, _, _ = run_all([roof], rain, none, given)
    assert yearly[0, TOTALS.index("overflow"), 0] == 10.0
    assert yearly[0, TOTALS.index("events_held"), 0] == 1.0
    # under 5 %, not at it: 0.5 mm of 10 run off
    roof |= {"surface_capacity": 11.5}
    for at_least, held in ((0.5, 0.0), (0.51, 1.0)):
        given["event_limit"] = np.array([0.0, 0.0, 0.0, at_least, 0.0, 0.0, 0.0])
        assert run_all([roof], rain, none, given)[0][0, TOTALS.index("events_held"), 0] == held


def test_dry_days_and_drought_by_hand() -> None:
    # 22 mm usable, demand 1 mm a day at full rate (no stress: p = 0.9 and below): dry under 2.2 mm. After 19 days 3 mm are
    # left, after 20 days 2 mm: days 20 to 60 are dry, 41 of them, 13 beyond the first 28
    roof = described(
        surface_capacity=0.0, cup_capacity=0.0, mat_capacity=0.0, crop_coefficient=1.0, depletion_fraction=0.9
    )
    days = 60
    none, e0 = np.zeros(days), np.ones(days)
    given = {"other": none, "warm": none, "month": none.astype(int), "event_limit": none, "tolerance": TOLERANCE,
             "year_start": np.array([0, days])}  # fmt: skip
    company = [roof | {"crop_coefficient": k} for k in (0.3, 1.3)]
    yearly, _, _ = run_all([company[0], roof, company[1]], none, e0, given)
    found = dict(zip(TOTALS, yearly[0, :, 1], strict=True))
    assert (found["dry_days"], found["longest_dry_spell"], found["drought_risk_days"]) == (41.0, 41.0, 13.0)
    shallow = roof | {"medium_depth": 40.0}
    assert run_all([shallow], none, e0, given)[0][0, TOTALS.index("drought_risk_days"), 0] == 27.0


def test_water_that_still_percolates_is_not_counted_on_by_hand() -> None:
    days = RAIN_THEN_NONE.size
    given = calendar(days, RAIN_THEN_NONE) | {"year_start": np.array([0, days])}
    found = run_all([SOAKED_THEN_DRY], RAIN_THEN_NONE, DEMAND_AFTER_IT, given)[0][0, :, 0]
    assert found[TOTALS.index("dry_days")] == found[TOTALS.index("longest_dry_spell")] == DRY_AFTER_IT


def test_waterlogging_by_hand() -> None:
    # level and blocked, 40 mm of rain on a full roof: 38 mm stand, 18 + 16 + 4: all of the medium, all of the area, until
    # it evaporates, which it does not
    roof = described(fall=0.0, blocked_fraction=1.0)
    days = 10
    rain, none = np.zeros(days), np.zeros(days)
    rain[3] = 40.0
    warm = np.ones(days)
    warm[8] = 0.0
    given = {"other": none, "warm": warm, "month": none.astype(int), "event_limit": none, "tolerance": TOLERANCE,
             "year_start": np.array([0, days])}  # fmt: skip
    yearly, _, last = run_all([roof, described()], rain, none, given)
    found = dict(zip(TOTALS, yearly[0, :, 0], strict=True))
    assert (found["waterlogged_days"], found["waterlogged_area_days"], found["longest_waterlogged_spell"]) == (7, 7, 7)
    assert found["rot_risk_days"] == 4.0  # seven, less two of tolerance, less the cold one
    assert found["excess_water"] == pytest.approx(7 * 16.0) and found["overflow"] == 0.0
    assert last[4, 0] == pytest.approx(38.0)
    assert yearly[0, TOTALS.index("waterlogged_days"), 1] == 0.0
