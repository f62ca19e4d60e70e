"""The numbers of the column, worked by hand from the equations of the balance (capacities, levels, drainage)."""

import math

import pytest

import runoff
from runoff.roof import column_parameters

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
        # 100 mm with strainer at 35 mm: weir up to 50 mm, 0.5 x 100 x 35^1.5 / 7500 = 1.38042 L/s over 150 m2
        "outlet_rate": 3600 * (0.5 * 100 * 35**1.5 / 7500) / 150,
        "blocked_fraction": 0.0,
        "crop_coefficient": 0.9 * 0.8,  # mulch saves 0.20
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
    assert found["outlet_rate"] == pytest.approx(33.13, abs=0.005)  # 1.38042 L/s over 150 m2, to its digits


def test_without_a_board_the_mat_is_what_drains() -> None:
    found = column_parameters(roof(board=None))
    assert (found["board_height"], found["board_capacity"]) == (5.0, 0.5)  # thickness and free space of the mat
    assert (found["in_plane_flow"], found["in_plane_gradient"], found["in_plane_exponent"]) == (0.003, 1.0, 1.0)
    assert found["cup_capacity"] == 0.0 and found["cup_supply"] == 0.0


def test_cups_face_down_hold_nothing_but_the_board_still_drains() -> None:
    found = column_parameters(roof(board={**BOARD, "cups_up": False}))
    assert found["cup_capacity"] == 0.0 and found["board_capacity"] == 8.0 and found["in_plane_flow"] == 0.7


def test_a_blocked_share_is_handed_on_and_taken_from_nothing_here() -> None:
    free, half = column_parameters(roof()), column_parameters(roof(blocked_fraction=0.75))
    assert half["blocked_fraction"] == 0.75 and half["outlet_rate"] == free["outlet_rate"]


def test_a_flow_without_the_gradient_of_its_test_is_taken_at_the_usual_one() -> None:
    """0.02 (common practice, no source)."""
    board = column_parameters(roof(board={**BOARD, "in_plane_gradient": None}))
    assert (board["in_plane_gradient"], board["in_plane_exponent"]) == (0.02, 0.5)
    mat = column_parameters(roof(board=None, mat={"in_plane_flow_l_per_s_m": 0.003}))
    assert (mat["in_plane_gradient"], mat["in_plane_exponent"]) == (0.02, 1.0)


def test_mulch_saves_evaporation_of_what_grows_through_it() -> None:
    """0.9 x (1 - 0.20) with mulch; without, the planting's own coefficient."""
    assert column_parameters(roof())["crop_coefficient"] == pytest.approx(0.72, **EXACT)
    saving = roof().replace({"mulch.evaporation_saving": 0.0})
    assert column_parameters(saving)["crop_coefficient"] == 0.9


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
    assert none["outlet_rate"] == 0.0


def test_no_fleece_and_no_planting() -> None:
    assert column_parameters(roof(fleece=False))["fleece_rate"] == math.inf
    bare = runoff.Roof(build_up=runoff.BuildUp(layers=[runoff.GrowingMedium(), runoff.DrainageBoard()]))
    found = column_parameters(bare)
    assert (found["surface_capacity"], found["crop_coefficient"], found["depletion_fraction"]) == (0.0, 1.0, 0.0)
    assert found["mat_capacity"] == 0.0


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


def test_without_mulch_nothing_is_saved() -> None:
    layers = [layer for layer in roof().build_up.layers if layer.word != "mulch"]
    bare = runoff.Roof(build_up=runoff.BuildUp(layers=layers), area_m2=150, flow_length_m=8, fall=0.02)
    found = column_parameters(bare)
    assert (found["crop_coefficient"], found["surface_capacity"], found["mulch_share"]) == (0.9, 1.5, 0.0)
