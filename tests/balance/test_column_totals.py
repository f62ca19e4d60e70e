"""The loop that keeps no day: every total of every year against a day-by-day reading of the traced run."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.balance import column
from runoff.balance.column_totals import run_totals
from tests.balance.page_reading import Column
from tests.balance.test_column import columns, described, traced, weather

DAYS, YEARS = 420, (0, 150, 300, 420)
TOLERANCE = 2.0

PAGES = [
    # drains well; hardly drains; does not drain; drains late and stands on the roof; a thin one that dries out
    Column(U_max=1.0, S_wp=6.4, S_fc=26.4, S_sat=48.0, z=80.0, K_s=600.0, C_max=3.5, M_max=4.0, B_max=10.0, q_d=30.0,
           h_b=25.0, cup_supply=0.5, mat_supply=0.25),
    Column(U_max=1.0, S_wp=6.4, S_fc=26.4, S_sat=48.0, z=80.0, K_s=600.0, C_max=3.5, M_max=4.0, B_max=10.0, q_d=0.08,
           h_b=25.0, cup_supply=0.5, mat_supply=0.25),
    Column(S_wp=6.4, S_fc=26.4, S_sat=34.0, z=80.0, K_s=600.0, B_max=10.0, q_d=0.0, h_b=25.0, H=135.0),
    Column(U_max=2.0, S_wp=4.0, S_fc=24.0, S_sat=40.0, z=80.0, K_s=0.3, M_max=2.0, B_max=4.0, q_d=0.05, h_b=12.0, H=120.0),
    Column(S_wp=2.0, S_fc=8.0, S_sat=18.0, z=30.0, K_s=600.0, C_max=2.0, B_max=8.0, q_d=30.0, h_b=25.0, cup_supply=0.3),
]  # fmt: skip


@pytest.fixture(scope="module")
def calendar() -> dict[str, np.ndarray]:
    rng = np.random.default_rng(4)
    return {
        "other": rng.gamma(0.4, 6.0, DAYS),
        "warm": (rng.random(DAYS) < 0.7).astype(float),
        "month": (np.arange(DAYS) // 30) % 12,
        "event_start": rng.random(DAYS) < 0.15,
        "year_start": np.array(YEARS),
        "tolerance": TOLERANCE,
    }


def parameters() -> np.ndarray:
    columns = [described(page) | {"planted_fraction": 0.75} for page in PAGES]
    return column.parameter_array(columns, 24.0, 0.10, 0.10)


def read_day_by_day(page: Column, day: dict[str, np.ndarray], calendar: dict) -> np.ndarray:
    """Return the totals of each year, by what their names say."""
    found = np.zeros((len(YEARS) - 1, len(column.TOTALS)))
    wet = dry = 0
    usable_when_full = page.S_fc - page.S_wp + page.cup_supply * page.C_max
    event, begun = 0.0, False
    for year in range(len(YEARS) - 1):
        row = dict.fromkeys(column.TOTALS, 0.0)
        for t in range(YEARS[year], YEARS[year + 1]):
            if calendar["event_start"][t]:
                row["events_held"] += begun and event <= 1e-9
                event, begun = 0.0, True
            overflow = day["drained"][t] + day["spilled"][t]
            S, pond, cups = (day[name][t] for name in ("medium_water", "pond_water", "cup_water"))
            wet = wet + 1 if page.S_sat - S < 0.1 * page.z - 1e-9 or pond >= 0.1 else 0
            dry = dry + 1 if S - page.S_wp + page.cup_supply * cups < 0.1 * usable_when_full else 0
            roof = 0.75 * overflow + 0.25 * calendar["other"][t]
            event += overflow
            row["overflow"] += overflow
            row["evapotranspiration"] += day["evapotranspiration"][t]
            row["waterlogged_days"] += wet > 0
            row["rot_risk_days"] += wet > TOLERANCE and calendar["warm"][t] > 0
            row["dry_days"] += dry > 0
            row["excess_water"] += max(0.0, S - page.S_fc)
            row["roof_overflow"] += roof
            for name, value in (
                ("peak_overflow", overflow), ("peak_roof_overflow", roof),
                ("longest_waterlogged_spell", wet), ("longest_dry_spell", dry),
            ):  # fmt: skip
                row[name] = max(row[name], value)
        if year == len(YEARS) - 2:
            row["events_held"] += begun and event <= 1e-9
        found[year] = [row[name] for name in column.TOTALS]
    return found


def test_every_total_of_every_year(calendar: dict) -> None:
    rain, e0 = weather(21, DAYS)
    par = parameters()
    stores = column.start_stores(par, "field-capacity")
    yearly, monthly, _ = run_totals(rain, e0, **calendar, par=par, stores=stores)
    seen = np.zeros(len(column.TOTALS))
    for i, page in enumerate(PAGES):
        day = traced(page, rain, e0, column.trace_loop)
        expected = read_day_by_day(page, day, calendar)
        # the same sums, some in another order: rounding of some thousand mm
        np.testing.assert_allclose(yearly[:, :, i], expected, rtol=0, atol=1e-8, err_msg=str(i))
        seen += expected.sum(axis=0)
        overflow = day["drained"] + day["spilled"]
        for month in range(12):
            expected_month = overflow[calendar["month"] == month].sum()
            assert monthly[month, i] == pytest.approx(expected_month, abs=1e-8)
    assert (seen > 0).all(), "a total that stays zero shows nothing"


def showers_and_droughts(seed: int, days: int) -> tuple[np.ndarray, np.ndarray]:
    """Invented days of every kind: storms, drizzle below the surface store, droughts, no demand, dew (a negative demand)."""
    rng = np.random.default_rng(seed)
    rainy = np.repeat(rng.random(-(-days // 8)) < 0.6, 8)[:days] & (rng.random(days) < 0.6)
    rain = np.where(rainy, np.where(rng.random(days) < 0.5, rng.gamma(0.6, 20.0, days), 0.3), 0.0)
    e0 = np.abs(2.0 + 2.5 * np.sin(np.arange(days) / 20.0)) * (rng.random(days) < 0.95)
    e0[rng.random(days) < 0.02] *= -0.1
    return rain, e0


def whole_steps(rain: np.ndarray, e0: np.ndarray, calendar: dict, par: np.ndarray, stores: np.ndarray) -> tuple:
    """Return what the block loop returns for one design, from whole steps in plain Python, added up in the same order."""
    at = dict(zip(column.PARAMETERS, par.tolist(), strict=True))
    state, yearly, monthly = stores.tolist(), [], np.zeros(12)
    wet_spell = dry_spell = event = in_month = 0.0
    begun, month = False, calendar["month"][0]
    for year, first in enumerate(calendar["year_start"][:-1]):
        row, last = dict.fromkeys(column.TOTALS, 0.0), calendar["year_start"][year + 1]
        for t in range(first, last):
            if calendar["month"][t] != month:
                monthly[month] += in_month
                month, in_month = calendar["month"][t], 0.0
            if calendar["event_start"][t]:
                row["events_held"] += begun and event <= column.ROUNDING_MM
                begun, event = True, 0.0
            done = column.column_step(float(rain[t]), float(e0[t]), *state, *par[:19].tolist())
            state, (drained, spilled, evaporated) = list(done[:6]), done[8:11]
            overflow, other = drained + spilled, calendar["other"][t]
            wet = at["full_water"] - state[2] < at["air_limit"] or state[1] >= column.POND_SIGN_MM
            dry = (state[2] - at["wilting_water"]) + state[3] * at["cup_supply"] < at["dry_limit"]
            wet_spell, dry_spell = (wet_spell + 1.0) * wet, (dry_spell + 1.0) * dry
            roof = other + at["planted_fraction"] * (overflow - other)
            event += overflow
            in_month += overflow
            for name, value in (
                ("overflow", overflow), ("evapotranspiration", evaporated), ("waterlogged_days", wet),
                ("rot_risk_days", calendar["warm"][t] * (wet_spell > TOLERANCE)), ("dry_days", dry),
                ("excess_water", max(0.0, state[2] - at["field_water"])), ("roof_overflow", roof),
            ):  # fmt: skip
                row[name] += value
            for name, value in (
                ("peak_overflow", overflow), ("peak_roof_overflow", roof),
                ("longest_waterlogged_spell", wet_spell), ("longest_dry_spell", dry_spell),
            ):  # fmt: skip
                row[name] = max(row[name], value)
        yearly.append(row)
    yearly[-1]["events_held"] += begun and event <= column.ROUNDING_MM
    monthly[month] += in_month
    return [[float(row[name]) for name in column.TOTALS] for row in yearly], monthly, state


@settings(max_examples=60, deadline=None)
@given(pages=st.lists(columns(), min_size=1, max_size=3), seed=st.integers(0, 10_000), seen=st.booleans())
def test_days_at_rest_are_whole_steps_to_the_last_bit(pages: list[Column], seed: int, seen: bool) -> None:
    """One roof alone rests on most dry days; among others it runs on whenever one of them has free water."""
    rain, e0 = showers_and_droughts(seed, 200)
    calendar = {
        "other": np.maximum(0.0, rain - 1.0) * seen, "warm": np.ones(200), "month": (np.arange(200) // 30) % 12,
        "event_start": np.arange(200) % 9 == 4, "year_start": np.array([0, 90, 200]), "tolerance": TOLERANCE,
    }  # fmt: skip
    par = column.parameter_array([described(page) | {"planted_fraction": 0.75} for page in pages], 24.0, 0.10, 0.10)
    stores = column.start_stores(par, "field-capacity")
    got = run_totals(rain, e0, **calendar, par=par, stores=stores)
    for i in range(len(pages)):
        expected = whole_steps(rain, e0, calendar, par[:, i], stores[:, i])
        for ours, theirs in zip((part[..., i] for part in got), expected, strict=True):
            assert ours.tobytes() == np.array(theirs).tobytes()


@pytest.mark.parametrize("full", ["cup", "mat", "surface"])
def test_a_store_full_to_within_rounding_does_not_rest(full: str) -> None:
    """A store a hair too full gives the hair up the next day; a surface at its brim can give a hair more than the demand."""
    page = Column(U_max=1.0, S_wp=6.4, S_fc=26.4, S_sat=48.0, z=80.0, K_s=600.0, C_max=3.3, M_max=4.1, B_max=10.0, q_d=0.0,
                  h_b=25.0)  # fmt: skip
    e0 = np.array([0.7, 0.0, 0.0])
    # U_max for which e0 U_max (1 / U_max) is rounded to more than e0
    page.U_max = next(brim for brim in np.arange(1.0, 3.0, 0.01) if 0.7 * brim * (1.0 / brim) > 0.7)
    par = column.parameter_array([described(page)], 24.0, 0.10, 0.10)
    stores = column.start_stores(par, "field-capacity")
    row = column.STORES.index(f"{full}_water")
    stores[row] = page.U_max if full == "surface" else np.nextafter(stores[row], np.inf)
    zero, no = np.zeros(3), np.zeros(3, dtype=bool)
    calendar = {"other": zero, "warm": zero, "month": zero.astype(int), "event_start": no, "year_start": np.array([0, 3]),
                "tolerance": TOLERANCE}  # fmt: skip
    _, _, last = run_totals(zero, e0, **calendar, par=par, stores=stores)
    assert last[:, 0].tobytes() == np.array(whole_steps(zero, e0, calendar, par[:, 0], stores[:, 0])[2]).tobytes()
    assert last[row, 0] < stores[row, 0]


def test_the_thirstiest_roof_of_a_block_dries_out_on_its_day() -> None:
    """Dry days are not counted while no design can be near; how fast one can come near is the thirstiest's business."""
    pages = [
        Column(Kc=Kc, S_wp=2.0, S_fc=14.0, S_sat=24.0, z=40.0, K_s=600.0, B_max=8.0, q_d=30.0, h_b=25.0, p=0.8)
        for Kc in (0.9, 1.3, 0.3)
    ]
    days = 40
    rain, e0, no = np.zeros(days), np.full(days, 3.0), np.zeros(days, dtype=bool)
    rain[20] = 30.0
    calendar = {"other": np.zeros(days), "warm": np.ones(days), "month": np.zeros(days, dtype=int), "event_start": no,
                "year_start": np.array([0, days]), "tolerance": TOLERANCE}  # fmt: skip
    par = column.parameter_array([described(page) for page in pages], 24.0, 0.10, 0.10)
    stores = column.start_stores(par, "field-capacity")
    yearly, _, _ = run_totals(rain, e0, **calendar, par=par, stores=stores)
    for i in range(len(pages)):
        expected = whole_steps(rain, e0, calendar, par[:, i], stores[:, i])[0]
        assert yearly[..., i].tobytes() == np.array(expected).tobytes()
    # by hand: 12 mm less 3.9 mm a day, dry below 1.2 mm. Day 3 ends with 0.3 mm, so days 3 to 20 are dry; the rain of
    # day 21 fills the medium, day 23 ends with 0.3 mm again and the days to 40 are dry: 18 and 18
    assert yearly[0, column.TOTALS.index("dry_days"), 1] == 36.0
    assert yearly[0, column.TOTALS.index("longest_dry_spell"), 1] == 18.0


@pytest.mark.parametrize(("medium_mm", "dry"), [(8.0, 0.0), (7.99, 4.0)])
def test_dry_means_below_a_tenth_of_what_plants_can_use_not_at_it(medium_mm: float, dry: float) -> None:
    # by hand: 26 - 6 = 20 mm usable, a tenth is 2 mm, and 6 + 2 = 8 mm in the medium is exactly there
    page = Column(S_wp=6.0, S_fc=26.0, S_sat=46.0, z=80.0, K_s=600.0, B_max=8.0, q_d=30.0, h_b=25.0)
    par = column.parameter_array([described(page)], 24.0, 0.10, 0.10)
    stores = column.start_stores(par, "field-capacity")
    stores[column.STORES.index("medium_water")] = medium_mm
    zero, no = np.zeros(4), np.zeros(4, dtype=bool)
    calendar = {"other": zero, "warm": zero, "month": zero.astype(int), "event_start": no, "year_start": np.array([0, 4]),
                "tolerance": TOLERANCE}  # fmt: skip
    yearly, _, _ = run_totals(zero, zero, **calendar, par=par, stores=stores)
    assert yearly[0, column.TOTALS.index("dry_days"), 0] == dry


def test_a_roof_that_is_never_watered_is_the_plain_loop_to_the_last_bit() -> None:
    rain, e0 = weather(8, 200)
    for i, page in enumerate(PAGES):
        par = parameters()[:, i].copy()
        state = column.start_stores(par[:, None], 0.7)[:, 0].copy()
        plain, watered, given = np.empty((12, 200)), np.empty((12, 200)), np.empty(200)
        last, other = state.copy(), state.copy()
        column.trace_loop(rain, e0, par, last, plain)
        column.irrigated_loop(rain, e0, np.zeros(200, dtype=bool), 1e9, 5.0, par, other, watered, given)
        np.testing.assert_array_equal(plain, watered, err_msg=page.__class__.__name__)
        np.testing.assert_array_equal(last, other)
        assert (given == 0.0).all()


def test_rounding_does_not_make_a_medium_at_rest_waterlogged() -> None:
    # porosity 0.43 less field capacity 0.33 is 0.10 of air, the threshold itself; 0.1 mm less of it is waterlogged
    rain = np.zeros(5)
    for full, days in ((0.43 * 80.0, 0), (0.43 * 80.0 - 0.1, 5)):
        page = Column(S_wp=6.4, S_fc=0.33 * 80.0, S_sat=full, z=80.0, K_s=600.0, B_max=10.0, q_d=30.0, h_b=25.0)
        par = column.parameter_array([described(page)], 24.0, 0.10, 0.10)
        calendar = {"other": rain, "warm": rain, "month": np.zeros(5, dtype=int), "event_start": np.zeros(5, dtype=bool),
                    "year_start": np.array([0, 5]), "tolerance": 2.0}  # fmt: skip
        stores = column.start_stores(par, "field-capacity")
        yearly, _, _ = run_totals(rain, rain, **calendar, par=par, stores=stores)
        assert yearly[0, column.TOTALS.index("waterlogged_days"), 0] == days
