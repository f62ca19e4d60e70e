"""The page of equations end to end: a roof and weather by the public names in, every output out, against a second reading.

The second reading of the day is that of `tests.balance.page_reading`; here the numbers of the column are read from the layers
again, from the words of the page, without the package's own way from a roof to its column: capacities, levels, outlets by
their forms, the mean of a release curve by quadrature, run-on, other surface, comparison roof, discharge.
"""

import math
import warnings
from typing import Any

import numpy as np
import pytest
import xarray as xr
from scipy.integrate import quad

import runoff
from tests.balance import minute_equations
from tests.balance.minute_roofs import random_storm
from tests.balance.page_reading import FreeWater, read_days
from tests.random_roofs import random_weather

DAYS = 300
#: The first few while working.
SEEDS = [*range(6), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(6, 24))]
WAYS = ("throughfall", "bypass", "percolation", "drained", "spilled", "overflow", "evapotranspiration", "water_stress",
        "surface_water", "cup_water", "mat_water", "board_water", "medium_water", "pond_water", "snow_water",
        "air_filled_porosity", "waterlogged_share", "waterlogged", "dry", "held_water", "free_water")  # fmt: skip


def some_medium(rng: np.random.Generator) -> runoff.GrowingMedium:
    """Return a medium: a named one, one with a curve of its own by either kind of field capacity, or one without a curve."""
    depth, kind = float(rng.uniform(30.0, 200.0)), rng.integers(4)
    own = {
        "depth_mm": depth, "bypass_fraction": float(rng.choice([0.0, 0.5, 1.0])),
        "conductivity_mm_per_h": float(10.0 ** rng.uniform(-0.5, 3.0)),
    }  # fmt: skip
    if kind == 0:
        names = ("brick and pumice mix", "pumice mix", "expanded clay mix", "garden soil (do not use)")
        return runoff.GrowingMedium(material=str(rng.choice(names)), **own)
    if kind == 1:
        curve = {"release_alpha_per_mm": float(rng.uniform(0.005, 0.05)), "release_n": float(rng.uniform(1.2, 1.9))}
        return runoff.GrowingMedium(
            porosity=0.62, field_capacity=0.35, wilting_point=0.06, field_capacity_depth_mm=float(rng.uniform(50.0, 200.0)), **curve, **own
        )  # fmt: skip
    if kind == 2:
        alpha, n, porosity, wilting = 0.002, float(rng.uniform(1.2, 1.6)), 0.6, 0.06
        held = wilting / 2.0 + (porosity - wilting / 2.0) * (1.0 + (alpha * 3300.0) ** n) ** -(1.0 - 1.0 / n)
        return runoff.GrowingMedium(
            porosity=porosity, field_capacity=held, field_capacity_kind="suction", wilting_point=wilting,
            release_alpha_per_mm=alpha, release_n=n, **own,
        )  # fmt: skip
    porosity = float(rng.uniform(0.45, 0.7))
    field = float(rng.choice([0.3, 0.995 * porosity]))  # the latter is cut at 0.98 of the pores
    return runoff.GrowingMedium(porosity=porosity, field_capacity=field, wilting_point=0.05, **own)


def some_roof(seed: int) -> runoff.Roof:
    """Return a roof that a person could describe, with or without each layer, outlet, overflow and run-on."""
    rng = np.random.default_rng(1000 + seed)

    def maybe(one: Any, share: float = 0.7) -> list[Any]:
        return [one] if rng.random() < share else []

    board = runoff.DrainageBoard(
        height_mm=float(rng.uniform(20.0, 60.0)), cups_up=bool(rng.random() < 0.8),
        in_plane_flow_l_per_s_m=float(10.0 ** rng.uniform(-4.0, 0.0)),
        in_plane_gradient=[None, 0.1, 1.0][rng.integers(3)],
    )  # fmt: skip
    drains = maybe(board)
    layers = [
        *maybe(runoff.Planting(crop_coefficient=float(rng.uniform(0.6, 1.2)), depletion_fraction=float(rng.choice([0.0, 0.4])))),
        *maybe(runoff.Mulch(depth_mm=float(rng.uniform(5.0, 40.0)), evaporation_saving=float(rng.uniform(0.1, 0.3))), 0.5),
        some_medium(rng),
        *maybe(runoff.FilterFleece(flow_mm_per_h=float(10.0 ** rng.uniform(-1.0, 4.0)))),
        *drains,
        *(maybe(runoff.ProtectionMat()) if drains else [runoff.ProtectionMat(in_plane_flow_l_per_s_m=0.01)]),
    ]  # fmt: skip
    head = {"design_head_mm": float(rng.choice([5.0, 35.0, 60.0]))}
    outlet = [
        runoff.Outlet(diameter_mm=70.0, count=2, **head),
        runoff.Outlet(kind="rectangular", width_mm=200.0, height_mm=15.0, strainer=bool(rng.random() < 0.5), **head),
        runoff.Outlet(kind="edge", length_mm=3000.0, **head),
    ][rng.integers(3)]
    sill = {"emergency_overflow_mm": float(rng.uniform(10.0, 150.0))} if rng.random() < 0.5 else {}
    run_on = {"run_on_area_m2": 30.0, "run_on_loss_mm": 1.5, "run_on_to": str(rng.choice(["planting", "outlet"]))}
    area = float(10.0 ** rng.uniform(1.5, 3.0))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", runoff.RunoffWarning)
        return runoff.Roof(
            build_up=runoff.BuildUp(layers=layers), area_m2=area, planted_fraction=float(rng.choice([1.0, 0.6])),
            flow_length_m=float(rng.uniform(0.3, 1.0)) * area**0.5, fall=float(rng.choice([0.0, 0.005, 0.02, 0.1])),
            outlets=[outlet, *maybe(runoff.Outlet(diameter_mm=100.0, strainer=False), 0.3)],
            blocked_fraction=float(rng.choice([0.0, 0.5, 0.9999, 1.0])),
            **sill, **(run_on if rng.random() < 0.4 else {}),
        )  # fmt: skip


def litres_per_second(outlet: runoff.Outlet) -> float:
    """Return what an outlet takes at its design head: the forms of EN 12056-3 as the page has them."""
    ko, h = (0.5 if outlet.strainer else 1.0), outlet.design_head_mm
    if outlet.kind == "edge":
        return outlet.count * outlet.length_mm * h**1.5 / 24000.0
    if outlet.kind == "round":
        d = outlet.diameter_mm
        one = ko * d * h**1.5 / 7500.0 if h <= d / 2.0 else ko * d**2 * h**0.5 / 15000.0
    else:
        wide, area = outlet.width_mm, outlet.width_mm * outlet.height_mm
        one = ko * wide * h**1.5 / 24000.0 if h <= 2.0 * area / wide else ko * area * h**0.5 / 12000.0
    return outlet.count * one


def mean_of_curve(depth: float, alpha: float, n: float) -> float:
    """Return the mean of the release curve over a depth."""
    held, _ = quad(
        lambda x: (1.0 + (alpha * x) ** n) ** -(1.0 - 1.0 / n), 0.0, depth, epsabs=0.0, epsrel=1e-13, limit=500
    )
    return held / depth


def field_water(medium: runoff.GrowingMedium) -> float:
    """Return S_fc by the words of the page."""
    z, w_r = medium.depth_mm, medium.wilting_point / 2.0
    if medium.release_n is None:
        held = medium.field_capacity * z
    else:
        curve = medium.release_alpha_per_mm, medium.release_n
        if medium.field_capacity_kind == "suction":
            held = z * (w_r + (medium.porosity - w_r) * mean_of_curve(z, *curve))
        else:
            share = mean_of_curve(z, *curve) / mean_of_curve(medium.field_capacity_depth_mm, *curve)
            held = w_r * z + (medium.field_capacity - w_r) * z * share
    return min(held, 0.98 * medium.porosity * z)


def column_of_page(roof: runoff.Roof) -> dict[str, Any]:
    """Return the numbers of the column, read from the layers by the words of the page."""
    of = {layer.word: layer for layer in roof.build_up.layers}
    medium, mulch, planting, fleece, board, mat = (
        of.get(word) for word in ("medium", "mulch", "planting", "fleece", "board", "mat")
    )
    canopy, in_mulch = (
        planting.canopy_storage_mm if planting else 0.0,
        mulch.depth_mm * mulch.holding_fraction if mulch else 0.0,
    )
    height, free = (board.height_mm, board.void_storage_mm) if board else (mat.thickness_mm, mat.void_storage_mm)
    way = board or mat
    z = medium.depth_mm
    sill = math.inf if roof.emergency_overflow_mm is None else roof.emergency_overflow_mm
    return {
        "surface_capacity": canopy + in_mulch, "mulch_share": in_mulch / (canopy + in_mulch) if mulch else 0.0,
        "soak_rate": medium.conductivity_mm_per_h, "wilting_water": medium.wilting_point * z,
        "field_water": field_water(medium), "full_water": medium.porosity * z, "medium_depth": z,
        "fleece_rate": fleece.flow_mm_per_h if fleece else math.inf,
        "cup_capacity": board.cup_storage_mm if board and board.cups_up else 0.0,
        "mat_capacity": (mat.storage_mm if mat else 0.0) + (fleece.storage_mm if fleece else 0.0),
        "board_height": height, "board_capacity": free, "fall": roof.fall, "flow_length_m": roof.flow_length_m,
        "sill_level": sill, "edge_level": height + z + 150.0 if roof.edge_height_mm is None else roof.edge_height_mm,
        "in_plane_flow": way.in_plane_flow_l_per_s_m,
        "in_plane_gradient": 0.02 if way.in_plane_gradient is None else way.in_plane_gradient,
        "in_plane_exponent": 0.5 if board else 1.0, "blocked_fraction": roof.blocked_fraction,
        "outlet_rate": 3600.0 * sum(litres_per_second(one) for one in roof.outlets) / roof.area_m2,
        "bypass_fraction": medium.bypass_fraction, "depletion_fraction": planting.depletion_fraction if planting else 0.0,
        "crop_coefficient": (planting.crop_coefficient if planting else 1.0) * (1.0 - (mulch.evaporation_saving if mulch else 0.0)),
        "cup_supply": board.cup_supply_fraction if board else 0.0, "mat_supply": mat.mat_supply_fraction if mat else 0.0,
    }  # fmt: skip


def film(liquid: np.ndarray, e0: np.ndarray, held_back: np.ndarray, capacity: float) -> tuple[np.ndarray, np.ndarray]:
    """Return what a surface without planting sheds and evaporates: filled, spilling, evaporating at reference rate."""
    water, shed, lost = 0.0, [], []
    for t in range(liquid.size):
        water += liquid[t]
        shed.append(max(0.0, water - capacity))
        water -= shed[-1]
        lost.append(0.0 if held_back[t] else min(water, e0[t]))
        water -= lost[-1]
    return np.array(shed), np.array(lost)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_output_of_a_daily_run_equals_the_page(seed: int) -> None:
    roof, weather = some_roof(seed), random_weather(seed, DAYS)
    rain, e0 = weather["rain"].to_numpy(), weather["reference_et"].to_numpy()
    mean = 0.5 * (weather["tmin"].to_numpy() + weather["tmax"].to_numpy())
    run = runoff.simulate(roof, weather, warm_up_years=0)
    column = column_of_page(roof)
    # what falls and melts does not depend on the roof: the first reading gives it to run-on and surfaces
    snow = read_days(column, rain, e0, mean)
    liquid, held_back = snow["liquid"], (snow["snow_water"] > 0.0) | (mean <= 0.0)
    led = np.zeros(DAYS)
    onto = led
    if roof.run_on_area_m2:
        shed, _ = film(liquid, e0, held_back, roof.run_on_loss_mm)
        run_on = shed * roof.run_on_area_m2 / (roof.area_m2 * roof.planted_fraction)
        np.testing.assert_allclose(run["run_on"], run_on, rtol=0, atol=1e-9)
        led, onto = (run_on, led) if roof.run_on_to == "outlet" else (led, run_on)
    page = read_onto(column, rain, e0, mean, onto, led)
    for name in WAYS:
        found = run[name].to_numpy().astype(float)
        assert np.abs(found - page[name]).max() < 1e-9, (name, seed)
    water = FreeWater(column)
    for ours, theirs in zip(run["water_depth_on_deck_mm"].to_numpy(), page["water_depth_on_deck_mm"], strict=True):
        assert abs(water.volume(ours) - water.volume(theirs)) < 1e-9, seed
    bare = film(liquid, e0, held_back, 1.2)
    other = film(liquid, e0, held_back, 5.0)
    share = roof.planted_fraction
    whole = share * page["overflow"] + (1.0 - share) * other[0]
    for name, expected in (
        ("bare_overflow", bare[0]), ("bare_evapotranspiration", bare[1]), ("other_overflow", other[0]),
        ("roof_overflow", whole), ("discharge", whole * roof.area_m2 / 86400.0),
        ("bare_discharge", bare[0] * roof.area_m2 / 86400.0),
    ):  # fmt: skip
        np.testing.assert_allclose(run[name], expected, rtol=0, atol=1e-9, err_msg=name)
    assert float(run["balance_error"]) < 1e-9


def read_onto(
    column: dict, rain: np.ndarray, e0: np.ndarray, mean: np.ndarray, onto: np.ndarray, led: np.ndarray
) -> dict:
    """Return the second reading where run-on joins what falls and melts, whatever the weather."""
    if not onto.any():
        return read_days(column, rain, e0, mean, run_on=led)
    # snow is read first; then what is liquid falls as rain on a roof without temperature, evaporation shut by hand
    first = read_days(column, rain, e0, mean)
    shut = (first["snow_water"] > 0.0) | (mean <= 0.0)
    page = read_days(column, first["liquid"] + onto, np.where(shut, 0.0, e0), None, run_on=led)
    return {**page, "snow_water": first["snow_water"]}


# --- minutes --------------------------------------------------------------------------------------------------------


def openings(roof: runoff.Roof) -> list[tuple]:
    """Return the outlets, one entry for each piece, as `tests.balance.minute_equations` takes them."""
    found: list[tuple] = []
    for one in roof.outlets:
        first = {"round": one.diameter_mm, "rectangular": one.width_mm, "edge": one.length_mm}[one.kind]
        found += [(one.kind, first, one.height_mm, 0.5 if one.strainer else 1.0)] * one.count
    return found


def decks_of_page(roof: runoff.Roof) -> dict[str, dict[str, Any]]:
    """Return the planted column, the other surface and the comparison roof with what minutes ask beside the day's numbers."""
    medium = roof.build_up.medium
    ways_out = {
        "area_m2": roof.area_m2, "openings": openings(roof), "emergency_width_mm": roof.emergency_width_mm,
        "emergency_height_mm": roof.emergency_height_mm,
    }  # fmt: skip
    planted = column_of_page(roof) | ways_out | {"detention_k": medium.detention_k, "detention_n": medium.detention_n}
    if roof.emergency_width_mm is None:  # no opening is known: the water is followed to the edge
        planted["sill_level"] = math.inf
    shared = ("fall", "flow_length_m", "sill_level", "edge_level", "blocked_fraction", *ways_out)
    deck = {name: planted[name] for name in shared}
    return {
        "": planted,
        "other_": deck | {"film_capacity": 5.0, "gravel_depth": 50.0, "gravel_pores": 0.4},
        "bare_": deck | {"film_capacity": 1.0, "gravel_depth": 0.0, "gravel_pores": 1.0},
    }


def planted_left(column: dict, depths: np.ndarray) -> np.ndarray:
    """Return what had left a planted roof by the end of each step, from four fifths full.

    The page read minute by minute, what flows within a minute in 20 and in 40 parts: first order, so that twice the finer less
    the coarser is free of the error that goes with the length of a part.
    """
    left, geometry = {}, minute_equations.Geometry(column)
    for parts in (20, 40):
        start = np.zeros(7)
        start[1] = column["wilting_water"] + 0.8 * (column["field_water"] - column["wilting_water"])
        start[4], start[5] = 0.8 * column["cup_capacity"], 0.8 * column["mat_capacity"]
        steps = []
        for depth in depths:
            found = minute_equations.read_minutes(
                column, np.array([depth]), np.zeros(1), 5.0, start, parts=parts, geometry=geometry
            )
            start, steps = found["stores"], [*steps, found["left"]]
        left[parts] = np.cumsum(steps)
    return 2.0 * left[40] - left[20]


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.slow) for seed in (3, 5, *range(6, 24)))])
def test_a_storm_by_public_names_follows_the_page(seed: int) -> None:
    rng = np.random.default_rng(seed)
    roof = some_roof(seed)
    if roof.emergency_overflow_mm is not None and rng.random() < 0.7:
        roof = roof.replace({"roof.emergency_width_mm": 300.0, "roof.emergency_height_mm": 60.0})
    # a medium that takes rain in: where next to none soaks in, timing within a minute is all there is to compare
    healthy = {"medium.conductivity_mm_per_h": max(20.0, roof.build_up.medium.conductivity_mm_per_h)}
    healthy["medium.detention_k"] = float(10.0 ** rng.uniform(-3.0, -1.5))
    roof = roof.replace({"roof.run_on_area_m2": 0.0, **healthy})
    depths = random_storm(rng, 5.0, hours=1.5)
    time = xr.date_range("2001-07-01", periods=depths.size, freq="5min")
    run = runoff.simulate(roof, xr.DataArray(depths, {"time": time}, "time", attrs={"units": "mm"}), start_moisture=0.8)
    left = {}
    for prefix, deck in decks_of_page(roof).items():
        if prefix:
            found = minute_equations.solve(deck, depths, 5.0, np.zeros(7))
            left[prefix] = found["drained"] + found["spilled"]
            # the deepest minute: 1 % or a tenth of a millimetre
            deepest = float(run[f"{prefix}largest_depth_on_deck_mm"].max())
            assert deepest == pytest.approx(found["deepest"], rel=0.01, abs=0.1), prefix
        else:
            left[prefix] = planted_left(deck, depths)
        # what the page asks for: 0.1 % of the rain on the running sum
        ours = np.cumsum(run[f"{prefix}overflow"].to_numpy())
        np.testing.assert_allclose(ours, left[prefix], rtol=0, atol=1e-3 * depths.sum(), err_msg=prefix)
    share = roof.planted_fraction
    whole = share * left[""] + (1.0 - share) * left["other_"]
    litres = np.cumsum(run["discharge"].to_numpy()) * 300.0 / roof.area_m2
    np.testing.assert_allclose(litres, whole, rtol=0, atol=1e-3 * depths.sum())
    # peak: the largest mean over 5 min, within 1 % (0.01 mm/h: of what hardly flows 1 % is less than the solver's tolerance)
    peak = 12.0 * np.diff(whole, prepend=0.0).max()
    assert float(run["discharge"].max()) * 3600.0 / roof.area_m2 == pytest.approx(peak, rel=0.01, abs=0.01)
