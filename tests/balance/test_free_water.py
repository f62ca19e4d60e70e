"""The one geometry of free water, against quadrature over the roof, against hand arithmetic and against itself."""

import numpy as np
import pytest

from runoff.balance import free_water
from runoff.balance.free_water import Deck, bare_decks, decks, level, share_above, surface_share, volume
from runoff.balance.loop_choice import compiled
from runoff.errors import RunoffError
from tests.balance.invented_roofs import described
from tests.balance.page_reading import FreeWater


def random_geometry(rng: np.random.Generator) -> dict:
    """Return a column whose drop is none, 0.01 mm to 1e5 mm, or exactly the height of a layer."""
    h_b, z = 10.0 ** rng.uniform(0.0, 2.5), 10.0 ** rng.uniform(1.0, 2.8)
    drop = rng.choice([0.0, 10.0 ** rng.uniform(-2.0, 5.0), h_b, z, h_b + z, float(np.nextafter(z, 1e9))])
    return described(
        board_height=h_b, board_capacity=h_b * 10.0 ** rng.uniform(-2.0, 0.0), medium_depth=z, field_water=20.0,
        full_water=20.0 + z * 10.0 ** rng.uniform(-2.3, -0.3), fall=drop / 1000.0, flow_length_m=1.0,
    )  # fmt: skip


def deck_of(column: dict) -> Deck:
    return decks(
        fall=column["fall"],
        flow_length_m=column["flow_length_m"],
        board_height=column["board_height"],
        board_water=column["board_capacity"],
        medium_depth=column["medium_depth"],
        medium_water=column["full_water"] - column["field_water"],
    )


def levels_of_interest(deck: Deck, rng: np.random.Generator) -> list[float]:
    """Return levels at, close to and away from the ends of the layers, and very low ones."""
    feet = [0.0, deck.board_height, deck.board_height + deck.medium_depth]
    ends = feet + [foot + deck.drop for foot in feet]
    near = [end * (1.0 + off) for end in ends for off in (-1e-7, -1e-12, 0.0, 1e-12, 1e-7)]
    return [*near, *rng.uniform(0.0, 1.2 * max(ends) + 1.0, 6), *10.0 ** rng.uniform(-8.0, 1.0, 4)]


@pytest.mark.slow
def test_volume_against_quadrature() -> None:
    rng = np.random.default_rng(1)
    for _ in range(300):
        column = random_geometry(rng)
        deck, page = deck_of(column), FreeWater(column)
        for h in levels_of_interest(deck, rng):
            # trapezia between the tops of the layers are exact; both sums are of positive terms, some ulps apart. On a drop
            # of 0.01 mm an end of a layer is only known to an ulp of the level, 1e-13 mm of 0.01
            assert volume(h, deck) == pytest.approx(page.volume(h), rel=1e-12, abs=1e-300), (column, h)


def test_the_level_of_a_volume_holds_that_volume() -> None:
    rng = np.random.default_rng(2)
    for _ in range(300):
        deck = deck_of(random_geometry(rng))
        waters = [volume(h, deck) for h in levels_of_interest(deck, rng)]
        for Q in [*waters, *10.0 ** rng.uniform(-30.0, 3.0, 20)]:
            # eight thousand of them: in plain numbers, a relative 1e-12
            assert abs(volume(level(Q, deck), deck) - Q) <= max(1e-12 * Q, 1e-300), (deck, Q)
        assert level(0.0, deck) == 0.0 and level(1e-310, deck) == 0.0


def test_volume_rises_and_has_no_jumps() -> None:
    rng = np.random.default_rng(3)
    for _ in range(60):
        deck = deck_of(random_geometry(rng))
        top = 1.2 * (deck.board_height + deck.medium_depth + deck.drop)
        grid = np.sort(np.append(np.linspace(0.0, top, 400), levels_of_interest(deck, rng)))
        water = np.array([volume(h, deck) for h in grid])
        rise = np.diff(water)
        # no place takes more than 1 mm per mm; a rounding of the sum is the only way to rise less than nothing
        assert (rise >= -1e-13 * water[1:]).all() and (rise <= np.diff(grid) + 1e-12 * water[1:]).all()


def test_the_slope_is_what_the_layers_take_where_the_surface_is_in_them() -> None:
    rng = np.random.default_rng(5)
    for _ in range(100):
        deck = deck_of(random_geometry(rng))
        feet = [0.0, deck.board_height, deck.board_height + deck.medium_depth, np.inf]
        for h in rng.uniform(0.0, 1.2 * (feet[2] + deck.drop), 20):
            slope = 0.0
            for takes, foot, head in zip((deck.board_share, deck.medium_share, 1.0), feet, feet[1:], strict=False):
                # the strip of roof on which the surface lies between foot and head of the layer
                strip = max(0.0, min(h - foot, deck.drop) - max(h - head, 0.0))
                slope += takes * (strip / deck.drop if deck.drop > 0.0 else foot <= h < head)
            # a level of some hundred mm is known to 1e-13 mm, and that is 1e-11 of a drop of 0.01 mm
            assert surface_share(h, deck) == pytest.approx(slope, abs=1e-10)


def test_by_hand_on_a_fall() -> None:
    # 10 m at 2 % drop 200 mm. At 100 mm half the roof is wet, on average 100 x 100/(2 x 200) = 25 mm deep; above the board
    # (25 mm, takes 0.8) stand 75 x 75/400 = 14.0625, above the medium (80 mm, takes 0.2) none
    deck = decks(
        fall=0.02, flow_length_m=10.0, board_height=25.0, board_water=20.0, medium_depth=80.0, medium_water=16.0
    )
    assert free_water.board_part(100.0, deck) == pytest.approx(0.8 * (25.0 - 14.0625), rel=1e-14)
    assert free_water.medium_part(100.0, deck) == pytest.approx(0.2 * 14.0625, rel=1e-14)
    assert free_water.pond_part(100.0, deck) == 0.0
    assert share_above(100.0, 25.0, 200.0) == pytest.approx(0.375, abs=1e-11)  # 75/200, less the 1e-9 mm of the rule
    # all under water at 400 mm: 20 + 16 + (400 - 105 - 100)
    assert volume(400.0, deck) == pytest.approx(20.0 + 16.0 + 195.0, rel=1e-14)


def test_by_hand_on_a_level_deck() -> None:
    deck = decks(
        fall=0.0, flow_length_m=10.0, board_height=25.0, board_water=20.0, medium_depth=80.0, medium_water=16.0
    )
    assert [volume(h, deck) for h in (0.0, 12.5, 25.0, 65.0, 105.0, 110.0)] == pytest.approx([0, 10, 20, 28, 36, 41])
    assert [level(Q, deck) for Q in (10.0, 20.0, 28.0, 41.0)] == pytest.approx([12.5, 25.0, 65.0, 110.0])
    # at the top of a layer the slope is that of the one above: 0.8, 0.2 and 1 mm per mm
    assert [surface_share(h, deck) for h in (0.0, 25.0, 105.0)] == pytest.approx([0.8, 0.2, 1.0], rel=1e-14)
    assert share_above(25.0, 25.0, 0.0) == 0.0 and share_above(25.1, 25.0, 0.0) == 1.0
    # a drop under 0.01 mm is none
    assert (
        decks(fall=9e-7, flow_length_m=10.0, board_height=25.0, board_water=20.0, medium_depth=80.0, medium_water=16.0)
        == deck
    )


def test_bare_and_gravel_decks_by_hand() -> None:
    # 4 m at 1 % drop 40 mm: a wedge of 20 mm holds 20 x 20/80 = 5 mm, 100 mm hold 100 - 20
    bare = bare_decks(fall=0.01, flow_length_m=4.0)
    assert volume(20.0, bare) == pytest.approx(5.0) and volume(100.0, bare) == pytest.approx(80.0)
    assert level(5.0, bare) == pytest.approx(20.0)
    # gravel 50 mm with pores 0.4: a wedge holds 0.4 of that; at 100 mm 0.4 x 50 and 100 - 50 - 20 above
    gravel = bare_decks(fall=0.01, flow_length_m=4.0, gravel_depth=50.0, gravel_pores=0.4)
    assert volume(20.0, gravel) == pytest.approx(2.0) and volume(100.0, gravel) == pytest.approx(20.0 + 30.0)
    assert level(2.0, gravel) == pytest.approx(20.0)
    with pytest.raises(RunoffError, match=r"share of pores of 1\.4 was given"):
        bare_decks(fall=0.01, flow_length_m=4.0, gravel_depth=50.0, gravel_pores=1.4)


@pytest.mark.parametrize("water", [0.2, 25.1])
def test_a_board_takes_a_hundredth_of_its_height_to_all_of_it(water: float) -> None:
    given = {"fall": 0.0, "flow_length_m": 10.0, "medium_depth": 80.0, "medium_water": 16.0}
    for edge in (0.25, 25.0):
        decks(board_height=25.0, board_water=edge, **given)
    with pytest.raises(RunoffError, match=f"{water:g} mm given for a layer 25 mm high.*between 0.25 and 25 mm"):
        decks(board_height=np.array([25.0, 25.0]), board_water=np.array([10.0, water]), **given)


def test_many_decks_are_each_to_the_last_bit_alone() -> None:
    rng = np.random.default_rng(4)
    columns = [random_geometry(rng) for _ in range(40)]
    columns[1::4] = columns[0::4]  # some are like the one before
    columns[9] = columns[8] | {"fall": columns[8]["fall"] + 0.001}  # or almost
    together = decks(
        fall=np.array([c["fall"] for c in columns]),
        flow_length_m=1.0,
        board_height=np.array([c["board_height"] for c in columns]),
        board_water=np.array([c["board_capacity"] for c in columns]),
        medium_depth=np.array([c["medium_depth"] for c in columns]),
        medium_water=np.array([c["full_water"] - c["field_water"] for c in columns]),
    )
    heights = rng.uniform(0.0, 300.0, 40)
    waters = free_water.volumes(heights, together)
    given = np.array(together[:5]).ravel()
    plain, fast = [0.0] * (len(Deck._fields) * 40), np.empty(len(Deck._fields) * 40)
    free_water.fill_decks(given.tolist(), plain, 40)
    compiled(free_water.fill_decks)(given, fast, 40)
    assert np.array(plain).tobytes() == fast.tobytes()
    for i, column in enumerate(columns):
        alone = deck_of(column)
        assert tuple(float(row[i]) for row in together) == alone
        assert waters[i] == volume(float(heights[i]), alone)


def test_in_plane_flow_by_hand() -> None:
    # 360 mm/h at a tested gradient of 0.02, over 10 m: at the fall of 0.02 the whole, level with a board of 25 mm the
    # gradient is 0.0025, an eighth: the root of it in a board, itself in a mat
    slope = 1.0 / (1000.0 * 10.0 * 0.02)
    assert free_water.in_plane_rate(0.0, 360.0, slope, 200.0, 0.0) == pytest.approx(360.0)
    assert free_water.in_plane_rate(0.0, 360.0, slope, 25.0, 0.0) == pytest.approx(360.0 * 0.125**0.5)
    assert free_water.in_plane_rate(0.0, 360.0, slope, 25.0, 1.0) == pytest.approx(45.0)
    # standing 100 mm deep it drives itself with 0.01
    assert free_water.in_plane_rate(100.0, 360.0, slope, 25.0, 1.0) == pytest.approx(180.0)
