"""The daily column against a second reading of the equations, against hand arithmetic, and against itself."""

from math import inf
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.balance import cells, column
from runoff.balance.day_steps import Airing, DayColumn, drain_limit_at, wet_share
from runoff.balance.free_water import decks
from runoff.balance.loop_choice import as_read, compiled
from runoff.balance.surfaces import evaporation_demand, snow_and_melt
from runoff.errors import RunoffError
from tests.balance.invented_roofs import NO_BOARD, TWELVE, described, random_roof, weather
from tests.balance.page_reading import FreeWater, read_days

SEEDS = st.integers(0, 2**32 - 1)


def traced(
    roof: dict[str, Any],
    rain: np.ndarray,
    e0: np.ndarray,
    temperature: np.ndarray | None = None,
    *,
    run_on: np.ndarray | None = None,
    start: dict[str, float] | None = None,
    loop: Any = column.trace_loop,
) -> dict[str, np.ndarray]:
    """Run a roof through the parts of the package: snow and frost, then the column."""
    start = start or {}
    lies = np.array(start.get("N", 0.0))
    if temperature is None:
        liquid, snow = np.append(rain[0] + lies, rain[1:]), np.zeros_like(rain)
    else:
        liquid, snow = snow_and_melt(rain, temperature, threshold=1.0, melt_per_step=3.0, snow=lies)
    par = column.parameter_array([roof])
    state = column.start_stores(par, "field-capacity")[:, 0].tolist()
    state = np.array([start.get(name, value) for name, value in zip("USCMQ", state, strict=True)])
    out = np.empty((len(column.TRACE), rain.size))
    led = np.zeros_like(rain) if run_on is None else run_on
    given = liquid, evaporation_demand(e0, snow, temperature), led, par[:, 0]
    loop(*map(as_read, given), state, out)
    return {**dict(zip(column.TRACE, out, strict=True)), "snow_water": snow}


def apart(ours: dict, theirs: dict, roof: dict) -> dict[str, float]:
    """Return by how much every flux, store and sign differs at most; depths by the water that stands below them.

    A depth itself goes with the root of the water at the foot of a fall: 1e-15 mm of water are some 1e-6 mm deep there.
    """
    page = FreeWater(roof)
    found = {name: float(np.abs(ours[name] - theirs[name]).max()) for name in (*column.TRACE, "snow_water")}
    depths = zip(ours["water_depth_on_deck_mm"], theirs["water_depth_on_deck_mm"], strict=True)
    found["water_depth_on_deck_mm"] = max(abs(page.volume(one) - page.volume(other)) for one, other in depths)
    return found


def assert_same(ours: dict, theirs: dict, roof: dict) -> None:
    """Every flux, store and sign within 1e-9 mm: rounding of sums of some hundred mm, the figure the design asks for."""
    assert {name: far for name, far in apart(ours, theirs, roof).items() if not far <= 1e-9} == {}, roof
    assert np.abs(theirs["balance"]).max() < 1e-9, roof


@pytest.mark.parametrize("name", TWELVE)
def test_every_flux_and_store_of_twelve_roofs_equals_the_second_reading(name: str) -> None:
    rain, e0, temperature = weather(1, 730)
    theirs = read_days(TWELVE[name], rain, e0, temperature)
    assert theirs["snow_water"].max() > 10.0, "the weather must have snow"
    assert_same(traced(TWELVE[name], rain, e0, temperature), theirs, TWELVE[name])


def test_the_twelve_roofs_show_every_way_of_the_water() -> None:
    seen: dict[str, float] = {}
    for roof in TWELVE.values():
        for name, values in traced(roof, *weather(1, 730), loop=compiled(column.trace_loop)).items():
            seen[name] = max(seen.get(name, 0.0), float(values.max()))
    assert all(most > 0.0 for most in seen.values()), seen


def test_a_wet_medium_is_waterlogged_up_to_where_its_air_ends() -> None:
    """By hand: 34 of 44 mm held leave 2 mm over the 8 of a tenth of 80 mm, that is 2 x 80/10 = 16 mm of depth, under the 20 of a quarter.

    The board takes 18 mm up to its 25 mm, the medium above 10/80 mm a mm: 20.25 mm stand at 43 mm, over 25 + 16; 19.9 mm at 40.2.
    """
    level = described(fall=0.0, blocked_fraction=1.0, field_water=34.0)
    for water, share in ((20.25, 1.0), (19.9, 0.0)):
        day = traced(level, np.array([2.0 + water]), np.zeros(1))  # 2 mm fill the surface, cups and mat are full
        assert day["water_depth_on_deck_mm"][0] == pytest.approx(25.0 + (water - 18.0) * 8.0, abs=1e-9)
        assert day["waterlogged_share"][0] == share


@pytest.mark.slow
@settings(max_examples=40)
@given(seed=SEEDS)
def test_every_flux_and_store_of_random_roofs_equals_the_second_reading(seed: int) -> None:
    rng = np.random.default_rng(seed)
    roof, days = random_roof(rng), 150
    rain, e0, temperature = weather(seed, days, wet=rng.choice([1.0, 3.0]))
    run_on = rng.choice([0.0, 0.5]) * np.roll(rain, 1)
    pores = roof["full_water"] - roof["wilting_water"]
    start = rng.choice([{}, {"N": 30.0, "S": roof["wilting_water"] + rng.random() * pores, "C": 0.0, "Q": 60.0}])
    known = temperature if rng.random() < 0.7 else None
    ours = traced(roof, rain, e0, known, run_on=run_on, start=start)
    assert_same(ours, read_days(roof, rain, e0, known, start=start, run_on=run_on), roof)


@settings(max_examples=25)
@given(seed=SEEDS)
def test_compiled_and_plain_python_agree_to_the_last_bit(seed: int) -> None:
    roof = random_roof(np.random.default_rng(seed))
    plain, fast = (traced(roof, *weather(seed, 100, wet=2.0), loop=loop) for loop in LOOPS())
    for name in column.TRACE:
        np.testing.assert_array_equal(plain[name], fast[name], err_msg=name)


def LOOPS() -> tuple[Any, Any]:
    return column.trace_loop, compiled(column.trace_loop)


@settings(max_examples=40)
@given(seed=SEEDS)
def test_stores_stay_within_their_bounds_and_the_balance_closes(seed: int) -> None:
    roof = random_roof(np.random.default_rng(seed))
    rain, e0, _ = weather(seed, 150, wet=2.0)
    day = traced(roof, rain, e0)
    for name, most in (
        ("surface_water", roof["surface_capacity"]),
        ("held_water", roof["full_water"]),
        ("medium_water", roof["full_water"]),
        ("cup_water", roof["cup_capacity"]),
        ("mat_water", roof["mat_capacity"]),
        ("board_water", roof["board_capacity"]),
        ("water_depth_on_deck_mm", min(roof["sill_level"], roof["edge_level"])),
        ("water_stress", 1.0),
        ("waterlogged_share", 1.0),
    ):
        assert day[name].min() >= -1e-12, name  # rounding of a store that empties
        assert day[name].max() <= most + 1e-9, name
    for name in ("throughfall", "bypass", "percolation", "drained", "spilled", "evapotranspiration"):
        assert day[name].min() >= 0.0, name
    stored = sum(
        day[name] for name in ("surface_water", "medium_water", "cup_water", "mat_water", "board_water", "pond_water")
    )
    start = roof["field_water"] + roof["cup_capacity"] + roof["mat_capacity"]
    out = day["evapotranspiration"] + day["drained"] + day["spilled"]
    # what the reports call board, medium and pond is all there is: 1e-9 mm every day
    assert np.abs(rain - out - np.diff(stored, prepend=start)).max() < 1e-9


@settings(max_examples=20)
@given(seed=SEEDS, cut=st.integers(1, 119))
def test_a_record_split_in_two_gives_the_same_numbers_bit_for_bit(seed: int, cut: int) -> None:
    roof = random_roof(np.random.default_rng(seed))
    rain, e0, _ = weather(seed, 120, wet=2.0)
    whole = traced(roof, rain, e0)
    first = traced(roof, rain[:cut], e0[:cut])
    carried = {store: first[name][-1] for store, name in zip("USCMQ", column.STORES, strict=True)}
    rest = traced(roof, rain[cut:], e0[cut:], start=carried)
    for name in column.TRACE:
        np.testing.assert_array_equal(np.append(first[name], rest[name]), whole[name], err_msg=name)


@settings(max_examples=25)
@given(seed=SEEDS, depth=st.floats(1.0, 80.0))
def test_a_dry_start_never_sheds_more_than_a_wet_one(seed: int, depth: float) -> None:
    """Where water drains and nothing lies below the medium: bypass passes cups and mat, which may then stay empty."""
    free = {"cup_capacity": 0.0, "mat_capacity": 0.0, "fleece_rate": inf, "blocked_fraction": 0.0, "in_plane_flow": 1.0,
            "outlet_rate": 150.0}  # fmt: skip
    par = column.parameter_array([random_roof(np.random.default_rng(seed)) | free])
    rain, none = np.array([depth] + [0.0] * 20), np.zeros(21)
    shed = []
    for moisture in ("dry", 0.5, "field-capacity"):
        out = np.empty((len(column.TRACE), 21))
        cells.run_trace(rain, none, None, par[:, 0], column.start_stores(par, moisture)[:, 0], out)
        shed.append(out[column.TRACE.index("drained")].sum() + out[column.TRACE.index("spilled")].sum())
    assert shed[0] <= shed[1] + 1e-9 <= shed[2] + 2e-9


def one_day(roof: dict, rain: float, e0: float, **start: float) -> dict[str, float]:
    day = traced(roof, np.array([rain]), np.array([e0]), start=start)
    return {name: float(values[0]) for name, values in day.items()}


def test_bypass_by_hand() -> None:
    # w = (17 - 6)/22 = 0.5 and 13 mm of throughfall: c = 0.5 + 0.5 x 0.25/2 + 13/22, w' = 2c/(1 + sqrt(1 + c)) = 0.9527...
    day = one_day(described(surface_capacity=2.0), 15.0, 0.0, S=17.0, C=4.0, M=3.0)
    c = 0.5 + 0.0625 + 13.0 / 22.0
    w = 2.0 * c / (1.0 + (1.0 + c) ** 0.5)
    assert day["throughfall"] == 13.0
    assert day["bypass"] == pytest.approx(0.5 * 22.0 * (w**2 - 0.25) / 2.0, abs=1e-12)
    # what soaks in and what passes is the throughfall: the medium gains 22 (w' - w)
    assert day["held_water"] == pytest.approx(17.0 + 22.0 * (w - 0.5), abs=1e-12)
    assert day["drained"] == day["bypass"] and day["percolation"] == 0.0
    # a dry medium passes nothing at first, a full one sheds all the same: 13 mm either way
    assert one_day(described(), 4.0, 0.0, S=6.0)["bypass"] == pytest.approx(0.5 * 2.0 * (2.0 / 22.0) / 2.0, rel=0.1)
    full = one_day(described(), 15.0, 0.0, S=28.0, C=4.0, M=3.0)
    assert (full["bypass"], full["percolation"], full["drained"]) == (0.0, 13.0, 13.0)


def test_bypass_passes_cups_and_mat_and_percolation_does_not() -> None:
    # full medium: 13 mm percolate, 4 fill the cups, 3 the mat; half full: what bypasses leaves them empty
    day = one_day(described(), 15.0, 0.0, C=0.0, M=0.0)
    assert (day["cup_water"], day["mat_water"], day["drained"]) == (4.0, 3.0, 6.0)
    half = one_day(described(), 15.0, 0.0, S=17.0, C=0.0, M=0.0)
    assert half["cup_water"] == half["mat_water"] == 0.0 and half["drained"] == half["bypass"] > 0.0


def test_standing_water_fills_cups_and_mat_and_is_taken_up_by_the_medium_it_stands_in() -> None:
    # blocked and level, 20 mm stand: 18 in the board, 2 in the medium. It lacks 5 mm and takes those 2
    roof = described(fall=0.0, blocked_fraction=1.0)
    day = one_day(roof, 0.0, 0.0, S=23.0, Q=20.0)
    assert (day["held_water"], day["free_water"]) == pytest.approx((25.0, 18.0))
    assert day["water_depth_on_deck_mm"] == pytest.approx(25.0)
    # 10 mm stand in the board and the medium is dry: 3 mm of demand, 1.5 from the cups, 0.375 from the mat, all refilled
    day = one_day(roof | {"crop_coefficient": 1.0, "surface_capacity": 0.0}, 0.0, 3.0, S=6.0, Q=10.0)
    assert (day["cup_water"], day["mat_water"], day["held_water"]) == (4.0, 3.0, 6.0)
    assert day["free_water"] == pytest.approx(10.0 - 1.875)


def test_what_evaporates_from_a_pond_is_not_taken_up_as_well() -> None:
    # level and blocked: 18 mm in the board, 16 in the medium, 1 above it. Half a millimetre evaporates from the pond, and a dry
    # medium, which lacks 22 mm, takes the 16.5 mm that are left above the board
    roof = described(fall=0.0, blocked_fraction=1.0, surface_capacity=0.0, crop_coefficient=1.0)
    day = one_day(roof, 0.0, 0.5, S=6.0, Q=35.0)
    assert (day["held_water"], day["free_water"]) == pytest.approx((22.5, 18.0), abs=1e-9)


def test_a_pond_runs_to_the_outlets_over_the_surface() -> None:
    # level: 34 mm fill board and medium; 60 mm stand. The drainage layer of 0.0001 L/(s m) carries little, 26 mm run over
    roof = described(fall=0.0, in_plane_flow=1e-6, outlet_rate=1.5)
    day = one_day(roof, 0.0, 0.0, Q=60.0)
    assert day["drained"] == pytest.approx(26.0 + 24.0 * 3600e-6 / 10.0 * (51.0 / 200.0) ** 0.5, abs=0.01)
    assert day["pond_water"] == pytest.approx(0.0, abs=0.01)
    # outlets of 0.5 mm/h take 12 mm a day and no more, blocked ones nothing
    assert one_day(roof | {"outlet_rate": 0.5}, 0.0, 0.0, Q=60.0)["drained"] == pytest.approx(12.0)
    assert one_day(roof | {"blocked_fraction": 1.0}, 0.0, 0.0, Q=60.0)["drained"] == 0.0


def test_run_on_led_to_the_outlets_passes_the_roof_and_is_in_the_balance() -> None:
    rain, e0, _ = weather(3, 200)
    run_on = np.where(rain > 5.0, 20.0, 0.0)
    alone, joined = (traced(described(), rain, e0, run_on=led) for led in (None, run_on))
    np.testing.assert_allclose(joined["drained"], alone["drained"] + run_on, atol=1e-9)
    np.testing.assert_allclose(joined["cup_water"], alone["cup_water"], atol=1e-9)


@pytest.mark.parametrize(("temperature", "evaporates"), [(None, True), (0.1, True), (0.0, False), (-5.0, False)])
def test_nothing_evaporates_in_frost(temperature: float | None, evaporates: bool) -> None:
    known = None if temperature is None else np.array([temperature])
    day = traced(described(), np.zeros(1), np.array([2.0]), known)
    assert (day["evapotranspiration"][0] > 0.0) == evaporates


def test_nothing_evaporates_under_snow_and_without_temperature_snow_melts_at_once() -> None:
    cold = traced(described(), np.zeros(2), np.full(2, 2.0), np.array([2.0, 2.0]), start={"N": 7.0})
    assert list(cold["snow_water"]) == [1.0, 0.0]  # 3 mm/C/day x 2 C
    assert list(cold["evapotranspiration"] > 0.0) == [False, True]
    unknown = traced(described(), np.zeros(2), np.zeros(2), start={"N": 7.0})
    assert list(unknown["snow_water"]) == [0.0, 0.0] and unknown["throughfall"][0] == 5.0


def test_where_water_stands_by_hand() -> None:
    # 10 m at 2 %, blocked, 8 mm of water: V(h) = 0.72 (h^2 - (h - 25)^2)/400 + 0.2 (h - 25)^2/400
    roof = described(blocked_fraction=1.0, field_water=28.0, full_water=44.0)
    day = one_day(roof, 0.0, 0.0, Q=8.0)
    h = day["water_depth_on_deck_mm"]
    board = 0.72 * (h**2 - (h - 25.0) ** 2) / 400.0
    assert board + 0.2 * (h - 25.0) ** 2 / 400.0 == pytest.approx(8.0, abs=1e-12)
    assert day["board_water"] == pytest.approx(board) and day["pond_water"] == 0.0
    # air at field capacity is (44 - 28)/80 = 0.2: 8 mm to spare, 40 mm of height; a quarter of 80 mm comes first
    assert day["waterlogged_share"] == pytest.approx((h - 45.0) / 200.0, abs=1e-10)
    assert day["waterlogged"] == 1.0
    assert day["air_filled_porosity"] == pytest.approx((44.0 - day["medium_water"]) / 80.0)


def test_exactly_at_a_limit_is_neither_waterlogged_nor_dry() -> None:
    # air of 8 mm in 80 mm is the threshold itself; usable water of 2.2 mm is a tenth of 22
    still = {"surface_capacity": 0.0, "cup_supply": 0.0, "mat_supply": 0.0}
    assert one_day(described(full_water=36.0, **still), 0.0, 0.0)["waterlogged_share"] == 0.0
    assert one_day(described(full_water=35.9, **still), 0.0, 0.0)["waterlogged_share"] == 1.0
    assert one_day(described(**still), 0.0, 0.0, S=8.2)["dry"] == 0.0
    assert one_day(described(**still), 0.0, 0.0, S=8.19)["dry"] == 1.0
    # cups, mat and mulch count with what they supply: 0.5 x 4 + 0.25 x 3 + 0.5 x 2 = 3.75
    fed = described(mulch_share=0.5)
    assert one_day(fed, 0.0, 0.0, S=6.0, U=2.0, C=4.0, M=3.0)["dry"] == 0.0


def test_a_level_roof_drains_slowly_and_its_own_water_drives_it() -> None:
    # 0.02 L/(s m) at a gradient of 1 over 10 m, a mat of 5 mm: i = 5/10000 at rest, 7.2 mm/h x 0.0005 x 24 h = 0.0864 mm
    roof = described(**NO_BOARD | {"fall": 0.0, "in_plane_gradient": 1.0})
    assert one_day(roof, 0.0, 0.0, Q=0.4)["drained"] == pytest.approx(7.2 * 0.0005 * 24.0, rel=1e-12)
    # 10 mm stand at 5 + 9.5 x 80/16 = 52.5 mm: ten and a half times as steep
    assert one_day(roof, 0.0, 0.0, Q=10.0)["drained"] == pytest.approx(7.2 * 0.00525 * 24.0, rel=1e-12)


def retention(roof: dict, rain: np.ndarray, e0: np.ndarray) -> float:
    day = traced(roof, rain, e0, loop=compiled(column.trace_loop))
    return 1.0 - (day["drained"] + day["spilled"]).sum() / rain.sum()


def test_a_lower_sill_and_less_blocking_never_raise_retention_nor_more_bypass_where_water_drains() -> None:
    rng = np.random.default_rng(7)
    for case in range(60):
        roof = random_roof(rng)
        rain, e0, _ = weather(case, 730)
        kept = retention(roof, rain, e0)
        sill = min(roof["sill_level"], roof["edge_level"])
        # 0.01 points aside, as the design allows
        assert retention(roof | {"sill_level": 0.6 * sill}, rain, e0) <= kept + 1e-4, case
        assert retention(roof | {"blocked_fraction": 0.5 * roof["blocked_fraction"]}, rain, e0) <= kept + 1e-4, case
        par = dict(zip(column.PARAMETERS, column.parameter_array([roof])[:, 0], strict=True))
        drains = drain_limit_at(0.0, DayColumn(*(par[name] for name in DayColumn._fields))) / 24.0
        if drains > 2.0 and roof["fleece_rate"] > 2.0:
            more = min(1.0, roof["bypass_fraction"] + 0.3)
            assert retention(roof | {"bypass_fraction": more}, rain, e0) <= kept + 1e-9, case


def test_watering_by_hand_and_never_watered_is_the_plain_loop() -> None:
    roof = described(surface_capacity=0.0, bypass_fraction=0.0)
    rain, e0 = np.zeros(3), np.zeros(3)
    par = column.parameter_array([roof])[:, 0]
    stores = column.start_stores(par[:, None], 0.5)[:, 0]  # 17 mm
    out = np.empty((len(column.TRACE) + 1, 3))
    # 17 and 22 mm are below 25, 27 mm are not
    last = cells.run_watered(rain, e0, None, (np.ones(3, dtype=bool), 25.0, 5.0), par, stores, out)
    assert list(out[-1]) == [5.0, 5.0, 0.0] and last[1] == 27.0
    rain, e0, _ = weather(8, 200)
    plain, watered = np.empty((len(column.TRACE), 200)), np.empty((len(column.TRACE) + 1, 200))
    never = np.zeros(200, dtype=bool)
    one = cells.run_trace(rain, e0, None, par, stores, plain)
    other = cells.run_watered(rain, e0, None, (never, inf, 5.0), par, stores, watered)
    np.testing.assert_array_equal(plain, watered[:-1])
    np.testing.assert_array_equal(one, other)
    assert (watered[-1] == 0.0).all()


def test_watering_in_plain_python_is_the_compiled_loop_to_the_last_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    rain, e0, _ = weather(9, 120)
    par = column.parameter_array([described(fall=0.0)])[:, 0]
    stores = column.start_stores(par[:, None], 0.6)[:, 0]
    watering = (np.arange(120) % 7 != 0, 16.0, 4.0)
    made = []
    for repays in (True, False):
        monkeypatch.setattr(cells, "compiled_repays", lambda steps, repays=repays: repays)
        out = np.empty((len(column.TRACE) + 1, 120))
        made.append((cells.run_watered(rain, e0, None, watering, par, stores, out), out))
    assert made[0][0].tobytes() == made[1][0].tobytes() and made[0][1].tobytes() == made[1][1].tobytes()
    assert made[0][1][-1].sum() > 0.0


def test_a_start_that_has_no_name_is_refused() -> None:
    par = column.parameter_array([described()])
    with pytest.raises(RunoffError, match="start moisture: 'wet' given; use 'field-capacity', 'dry' or a fraction"):
        column.start_stores(par, "wet")


@pytest.mark.parametrize(
    ("held", "share"), [(35.5, 0.10), (35.0, 0.09), (36.0, 0.11), (36.0 + 5e-10, 0.11), (36.1, 1.0)]
)
def test_little_spare_air_counts_by_its_half_millimetre(held: float, share: float) -> None:
    """Pores of 40 mm, of which 4 mm are to stay air, 2 mm of depth per mm of free water, a board of 25 mm, a drop of 100 mm.

    By hand: with 35.5 mm held 0.5 mm of air is spare, 1 mm of depth; water 36 mm deep stands higher than 26 mm on a tenth.
    """
    deck = decks(
        fall=0.01, flow_length_m=10.0, board_height=25.0, board_water=20.0, medium_depth=80.0, medium_water=40.0
    )
    airing = Airing(full_water=40.0, air_water=4.0, wet_depth=20.0, depth_per_pore=2.0)
    # the share begins 1e-9 mm above a height: of 100 mm, 1e-11
    assert wet_share(36.0, held, airing, deck) == pytest.approx(share, abs=2e-11)
