"""The numbers of the column, worked by hand from the equations of the balance (capacities, levels, drainage)."""

import math

import pytest

import runoff
from runoff.roof import column_parameters, open_sample_roof

EXACT = dict(rel=1e-12)  # rounding of a few multiplications

BOARD = dict(height_mm=25, cup_storage_mm=4, void_storage_mm=8, in_plane_flow_l_per_s_m=0.7, in_plane_gradient=0.02)
MAT = dict(storage_mm=5, void_storage_mm=0.5, in_plane_flow_l_per_s_m=0.003, in_plane_gradient=1.0)


def roof(*, board: dict | None = BOARD, mat: dict | None = MAT, fleece: bool = True, **rest: object) -> runoff.Roof:
    layers = [
        runoff.Planting(canopy_storage_mm=1.5, crop_coefficient=0.9, depletion_fraction=0.2),
        runoff.Mulch(depth_mm=20, holding_fraction=0.13),
        runoff.GrowingMedium(
            depth_mm=80, porosity=0.6, field_capacity=0.35, wilting_point=0.05, conductivity_mm_per_h=50
        ),
        *([runoff.FilterFleece(flow_mm_per_h=3600, storage_mm=0.5)] if fleece else []),
        *([runoff.DrainageBoard(**board)] if board else []),
        *([runoff.ProtectionMat(**mat)] if mat else []),
    ]
    given = {"area_m2": 150, "flow_length_m": 8, "fall": 0.02, **rest}
    return runoff.Roof(build_up=runoff.BuildUp(layers=layers), **given)


def test_every_number_of_a_roof_by_hand() -> None:
    found = column_parameters(roof())
    by_hand = {
        "surface_capacity": 1.5 + 20 * 0.13,  # U_max = 4.1
        "soak_rate": 50.0,
        "wilting_water": 4.0,  # 0.05 x 80
        "field_water": 28.0,  # 0.35 x 80
        "full_water": 48.0,  # 0.60 x 80
        "medium_depth": 80.0,
        "fleece_rate": 3600.0,
        "cup_capacity": 4.0,
        "mat_capacity": 5.5,  # mat 5 and fleece 0.5
        "board_capacity": 8.0,
        "board_height": 25.0,
        "mulch_share": 2.6 / 4.1,
        "fall": 0.02,
        "flow_length_m": 8.0,
        "sill_level": math.inf,  # none described
        "edge_level": 255.0,  # none given: board 25, medium 80 and the usual upstand of 150
        "emergency_width_mm": math.nan,
        "emergency_height_mm": math.nan,
        "in_plane_flow": 0.7,
        "in_plane_gradient": 0.02,
        "in_plane_exponent": 0.5,
        "bypass_fraction": 0.5,
        "overflow_level": 105.0,  # none given: board 25 and medium 80
        "board_spill": 8.0,
        "medium_spill": 48.0,
        "pond_spill": 0.0,
        "room_unlimited": 0.0,
        "in_plane_rate": 315.0,  # 3600 x 0.7 / 8
        # 100 mm with strainer at 35 mm: weir up to 50 mm, 0.5 x 100 x 35^1.5 / 7500 = 1.38042 L/s over 150 m2
        "outlet_rate": 3600 * (0.5 * 100 * 35**1.5 / 7500) / 150,
        "drain_rate": 3600 * (0.5 * 100 * 35**1.5 / 7500) / 150,  # 33.13: the smaller of the two
        "blocked_fraction": 0.0,
        "crop_coefficient": 0.9,
        "depletion_fraction": 0.2,
        "cup_supply": 0.5,
        "mat_supply": 0.25,
        "detention_k": 0.0115,
        "detention_n": 2.0,
        "area_m2": 150.0,
        "planted_fraction": 1.0,
    }
    assert {name: found[name] for name in by_hand} == pytest.approx(by_hand, nan_ok=True, **EXACT)
    assert set(found) == {*by_hand, "outlets"}
    assert found["drain_rate"] == pytest.approx(33.13, abs=0.005)  # as printed above, to its digits


@pytest.mark.parametrize(
    ("level", "spills", "unlimited"),
    [
        # level, (board_spill, medium_spill, pond_spill); board top at 25, medium top at 105, void 8, water 28 to 48
        (0.0, (0.0, 28.0, 0.0), 1),
        (10.0, (8 * 10 / 25, 28.0, 0.0), 1),
        (25.0, (8.0, 28.0, 0.0), 1),  # H = h_b still counts as unlimited room
        (25.001, (8.0, 28 + 20 * 0.001 / 80, 0.0), 0),
        (45.0, (8.0, 28 + 20 * 20 / 80, 0.0), 0),
        (105.0, (8.0, 48.0, 0.0), 0),
        (130.0, (8.0, 48.0, 25.0), 0),
    ],
)
def test_levels_of_the_emergency_overflow(level: float, spills: tuple, unlimited: int) -> None:
    found = column_parameters(roof(emergency_overflow_mm=level))
    assert (found["board_spill"], found["medium_spill"], found["pond_spill"]) == pytest.approx(spills, rel=1e-9)
    assert found["room_unlimited"] == unlimited and found["overflow_level"] == level


@pytest.mark.parametrize(
    ("level", "spills", "unlimited"),
    [
        (None, (0.5, 48.0, 0.0), 0),
        (0.0, (0.5, 28.0, 0.0), 1),
        (40.0, (0.5, 38.0, 0.0), 0),
        (90.0, (0.5, 48.0, 10.0), 0),
    ],
)
def test_without_a_board_the_deck_is_the_foot_of_the_medium(level: float | None, spills: tuple, unlimited: int) -> None:
    found = column_parameters(roof(board=None, emergency_overflow_mm=level))
    assert found["board_height"] == 0.0 and found["cup_capacity"] == 0.0 and found["cup_supply"] == 0.0
    assert found["board_capacity"] == 0.5  # free space of the mat
    assert (found["board_spill"], found["medium_spill"], found["pond_spill"]) == pytest.approx(spills, **EXACT)
    assert found["room_unlimited"] == unlimited
    # at the fall 0.02 of a test at gradient 1, straight: 3600 x 0.003 x 0.02 / 8 = 0.027 mm/h, far under any outlet
    assert found["in_plane_rate"] == pytest.approx(0.027, **EXACT)
    assert found["drain_rate"] == pytest.approx(0.027, **EXACT)


def test_cups_face_down_hold_nothing_but_the_board_still_drains() -> None:
    found = column_parameters(roof(board={**BOARD, "cups_up": False}))
    assert found["cup_capacity"] == 0.0 and found["board_capacity"] == 8.0 and found["in_plane_rate"] == 315.0


def test_a_blocked_share_takes_away_from_the_smaller_of_the_two() -> None:
    free = column_parameters(roof())
    half = column_parameters(roof(blocked_fraction=0.75))
    assert half["drain_rate"] == pytest.approx(free["drain_rate"] / 4, **EXACT)
    assert (half["in_plane_rate"], half["outlet_rate"]) == (
        free["in_plane_rate"],
        free["outlet_rate"],
    )  # before blocking
    assert column_parameters(roof(blocked_fraction=1))["drain_rate"] == 0.0


@pytest.mark.parametrize(
    ("board", "fall", "rate"),
    [
        ({**BOARD, "in_plane_gradient": 0.02}, 0.005, 315 * 0.5),  # (0.005/0.02)^0.5
        ({**BOARD, "in_plane_gradient": 0.02}, 0.08, 315 * 2.0),
        ({**BOARD, "in_plane_gradient": None}, 0.005, 315 * 0.5),  # without its gradient it is taken at 0.02
        ({**BOARD, "in_plane_gradient": 0.02}, 0.0, 0.0),
    ],
)
def test_in_plane_flow_of_a_board_goes_with_the_root_of_the_gradient(board: dict, fall: float, rate: float) -> None:
    assert column_parameters(roof(board=board, fall=fall))["in_plane_rate"] == pytest.approx(rate, **EXACT)


def test_in_plane_flow_of_a_mat_goes_with_the_gradient() -> None:
    flow = {"in_plane_flow_l_per_s_m": 0.003}
    at_one = column_parameters(roof(board=None, mat={**flow, "in_plane_gradient": 1.0}, fall=0.005))
    assert at_one["in_plane_rate"] == pytest.approx(3600 * 0.003 * 0.005 / 8, **EXACT)
    at_usual = column_parameters(roof(board=None, mat=flow, fall=0.005))
    assert at_usual["in_plane_rate"] == pytest.approx(3600 * 0.003 * 0.25 / 8, **EXACT)  # taken at 0.02
    assert (at_usual["in_plane_gradient"], at_usual["in_plane_exponent"]) == (0.02, 1.0)


@pytest.mark.parametrize(
    ("outlet", "litres"),
    [
        # EN 12056-3 forms (design, section 4.2), L/s: ko D h^1.5/7500 to D/2, then ko D^2 h^0.5/15000
        (dict(diameter_mm=100, design_head_mm=25), 0.5 * 100 * 25**1.5 / 7500),
        (dict(diameter_mm=100, design_head_mm=25, strainer=False), 100 * 25**1.5 / 7500),
        (dict(diameter_mm=60, design_head_mm=30), 0.5 * 60 * 30**1.5 / 7500),  # at D/2 both forms agree ...
        (dict(diameter_mm=60, design_head_mm=30), 0.5 * 60**2 * 30**0.5 / 15000),
        (dict(diameter_mm=60, design_head_mm=49), 0.5 * 60**2 * 7 / 15000),  # ... and above it is an orifice
        (dict(diameter_mm=60, design_head_mm=49, count=3), 3 * 0.5 * 60**2 * 7 / 15000),
        # ko L h^1.5/24000 to 2A/L = 2 x height, then ko A h^0.5/12000
        (dict(kind="rectangular", width_mm=300, height_mm=50, design_head_mm=36), 0.5 * 300 * 216 / 24000),
        (dict(kind="rectangular", width_mm=300, height_mm=10, design_head_mm=36), 0.5 * 3000 * 6 / 12000),
    ],
)
def test_outlets_as_weir_and_orifice(outlet: dict, litres: float) -> None:
    found = column_parameters(roof(outlets=[runoff.Outlet(**outlet)]))
    assert found["outlet_rate"] == pytest.approx(3600 * litres / 150, **EXACT)
    assert len(found["outlets"]) == outlet.get("count", 1)


def test_outlets_add_up_and_none_lets_nothing_through() -> None:
    one, other = runoff.Outlet(diameter_mm=100), runoff.Outlet(kind="rectangular", width_mm=300, height_mm=50)
    rates = [column_parameters(roof(outlets=outlets))["outlet_rate"] for outlets in ([one], [other], [one, other])]
    assert rates[2] == pytest.approx(rates[0] + rates[1], **EXACT)
    none = column_parameters(roof(outlets=[], emergency_overflow_mm=20))
    assert none["outlet_rate"] == none["drain_rate"] == 0.0


def test_no_fleece_and_no_planting() -> None:
    assert column_parameters(roof(fleece=False))["fleece_rate"] == math.inf
    bare = runoff.Roof(build_up=runoff.BuildUp(layers=[runoff.GrowingMedium(), runoff.DrainageBoard()]))
    found = column_parameters(bare)
    assert (found["surface_capacity"], found["crop_coefficient"], found["depletion_fraction"]) == (0.0, 1.0, 0.0)
    assert found["mat_capacity"] == 0.0


def test_the_thin_sample_roof_drains_less_than_a_drizzle() -> None:
    """Mat alone at a fall of 0.005: 3600 x 0.003 x 0.005 / 8 = 0.00675 mm/h, 0.16 mm a day."""
    assert column_parameters(open_sample_roof("thin"))["drain_rate"] == pytest.approx(0.00675, **EXACT)


# --- levels, sweeps, outlets at an edge -------------------------------------------------------------------------------


def test_levels_as_described() -> None:
    described = roof(edge_height_mm=300, emergency_overflow_mm=120, emergency_width_mm=300, emergency_height_mm=100)
    found = column_parameters(described)
    assert (found["edge_level"], found["sill_level"]) == (300.0, 120.0)
    assert (found["emergency_width_mm"], found["emergency_height_mm"]) == (300.0, 100.0)


def test_without_a_board_the_edge_stands_over_mat_and_medium() -> None:
    assert column_parameters(roof(board=None))["edge_level"] == 5.0 + 80.0 + 150.0


def test_many_designs_give_each_to_the_last_bit_what_it_gives_alone() -> None:
    from runoff.sizing.designs import DesignGrid

    base = roof(emergency_overflow_mm=60).replace({"medium.material": "pumice mix"})
    choices = {"medium.depth_mm": [40.0, 80.0, 150.0], "mulch.evaporation_saving": [0.1, 0.3], "roof.fall": [0.0, 0.02]}
    grid = DesignGrid(base, choices)
    coords = grid.coords()
    for places, some in grid.alike():
        together = column_parameters(some)
        for place in places:
            alone = column_parameters(base.replace({name: float(coords[name][1][place]) for name in choices}))
            for name, value in alone.items():
                if name != "outlets":
                    found = together[name][place] if getattr(together[name], "ndim", 0) else together[name]
                    assert found == value or (value != value and found != found), name


def test_designs_whose_edge_lies_below_the_medium_are_refused_by_their_levels() -> None:
    from runoff.sizing.designs import DesignGrid

    grid = DesignGrid(roof(), {"medium.depth_mm": [40.0, 200.0], "roof.edge_height_mm": [150.0, 300.0]})
    with pytest.raises(runoff.RoofError) as refused:
        [column_parameters(some) for _, some in grid.alike()]
    assert str(refused.value) == (
        "a roof cannot be built, its edge lies below the top of the medium (top of the medium 225 mm, edge 150 mm above the "
        "deck); vary depths and levels together, or leave edge_height_mm out"
    )


def test_an_edge_is_a_weir_that_never_drowns() -> None:
    """Rectangular form of EN 12056-3 with ko 1: 6000 mm at 35 mm carry 6000 x 35^1.5 / 24000 = 51.77 L/s."""
    edge = roof(outlets=[runoff.Outlet(kind="edge", length_mm=6000)])
    assert column_parameters(edge)["outlet_rate"] == pytest.approx(3600 * 6000 * 35**1.5 / 24000 / 150, **EXACT)
    deep = runoff.Outlet(kind="edge", length_mm=6000, design_head_mm=900)
    assert column_parameters(roof(outlets=[deep]))["outlet_rate"] == pytest.approx(3600 * 6000 * 900**1.5 / 24000 / 150)
