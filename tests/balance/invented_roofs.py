"""Invented roofs and weather for the tests of the balance: described columns as the roof room hands them over."""

from math import inf, nan
from typing import Any

import numpy as np


def described(**given: Any) -> dict[str, Any]:
    """Return an ordinary roof of 100 m2, 80 mm of medium on a board of 25 mm, with what is given in place of its own."""
    column = {
        "surface_capacity": 2.0,
        "mulch_share": 0.0,
        "soak_rate": 600.0,
        "wilting_water": 6.0,
        "field_water": 28.0,
        "full_water": 44.0,
        "medium_depth": 80.0,
        "fleece_rate": 3600.0,
        "cup_capacity": 4.0,
        "mat_capacity": 3.0,
        "board_height": 25.0,
        "board_capacity": 18.0,
        "fall": 0.02,
        "flow_length_m": 10.0,
        "sill_level": inf,
        "edge_level": 255.0,
        "emergency_width_mm": nan,
        "emergency_height_mm": nan,
        "in_plane_flow": 1.0,
        "in_plane_gradient": 0.02,
        "in_plane_exponent": 0.5,
        "blocked_fraction": 0.0,
        "outlet_rate": 150.0,
        "outlets": [],
        "area_m2": 100.0,
        "planted_fraction": 1.0,
        "bypass_fraction": 0.5,
        "crop_coefficient": 0.9,
        "depletion_fraction": 0.4,
        "cup_supply": 0.5,
        "mat_supply": 0.25,
        "detention_k": 0.0115,
        "detention_n": 2.0,
    }
    return column | given


#: A roof without a board: the free water stands in the mat.
NO_BOARD = {
    "board_height": 5.0, "board_capacity": 0.5, "cup_capacity": 0.0, "mat_capacity": 6.0, "in_plane_flow": 0.02,
    "in_plane_exponent": 1.0, "edge_level": 235.0, "cup_supply": 0.0,
}  # fmt: skip
#: A medium of 4 mm usable water, dry under 0.4 mm, on a fleece that lets 2.4 mm a day pass. 20 days: 30 mm of rain, then 1 mm of
#: demand a day. 37.6 mm are held on the evening of the rain, and 3.4 mm a day leave until day 8 ends with 10.4 mm; on day 9 the last
#: 0.4 mm percolate, so 9, 8, 7 and 6 mm are left: 1 mm usable on day 11, none from day 12 on (full rate down to 0.4 mm, p = 0.9).
SOAKED_THEN_DRY = described(
    surface_capacity=0.0, cup_capacity=0.0, mat_capacity=0.0, bypass_fraction=0.0, crop_coefficient=1.0, depletion_fraction=0.9,
    field_water=10.0, fleece_rate=0.1,
)  # fmt: skip
RAIN_THEN_NONE, DEMAND_AFTER_IT, DRY_AFTER_IT = np.append(30.0, np.zeros(19)), np.append(0.0, np.ones(19)), 8.0
#: Twelve roofs: fall 0, 0.005, 0.02, 0.1; outlets open, half and wholly blocked; overflow below, at and above the top of
#: the board and above the medium; no board; a fleece nearly clogged.
TWELVE = {
    "level, open": described(fall=0.0),
    "level, half blocked, little flow": described(fall=0.0, blocked_fraction=0.5, outlet_rate=0.4),
    "level, blocked, overflow above the medium": described(fall=0.0, blocked_fraction=1.0, sill_level=120.0),
    "slight fall, blocked, overflow below the board": described(fall=0.005, blocked_fraction=1.0, sill_level=20.0),
    "slight fall, blocked, overflow at the board": described(fall=0.005, blocked_fraction=1.0, sill_level=25.0),
    "slight fall, half blocked, overflow in the medium": described(
        fall=0.005, blocked_fraction=0.5, sill_level=60.0, outlet_rate=0.2
    ),
    "usual fall, open, mulch": described(surface_capacity=6.0, mulch_share=2.0 / 3.0, crop_coefficient=0.72),
    "usual fall, blocked, to the edge": described(blocked_fraction=1.0),
    "usual fall, no board": described(**NO_BOARD),
    "no board, level, blocked": described(**NO_BOARD, fall=0.0, blocked_fraction=1.0, sill_level=60.0),
    "fleece nearly clogged": described(fleece_rate=0.05, soak_rate=0.3),
    "steep, half blocked": described(fall=0.1, blocked_fraction=0.5, outlet_rate=0.1, in_plane_flow=0.05),
}


def random_roof(rng: np.random.Generator) -> dict[str, Any]:
    """Return a random roof, branch points (nothing stored, sill at the top of the board) drawn as often as plain cases."""
    z = rng.uniform(20.0, 200.0)
    wilting = rng.uniform(0.02, 0.12)
    field = wilting + rng.uniform(0.05, 0.30)
    porosity = max(field + rng.uniform(0.02, 0.25), field / 0.98)
    board = rng.random() < 0.7
    h_b = rng.uniform(5.0, 60.0) if board else rng.uniform(2.0, 10.0)
    sill = rng.choice([inf, h_b, rng.uniform(0.0, 1.0) * (h_b + z), h_b + z + rng.uniform(1.0, 40.0)])
    length = rng.uniform(2.0, 40.0)
    drop = rng.choice([0.0, 10.0 ** rng.uniform(-2.0, 4.0), z, h_b, h_b + z])
    surface = rng.choice([0.0, rng.uniform(0.5, 15.0)])
    return described(
        surface_capacity=surface,
        mulch_share=rng.choice([0.0, rng.uniform(0.0, 1.0)]) if surface else 0.0,
        soak_rate=10.0 ** rng.uniform(-1.5, 3.0),
        wilting_water=wilting * z,
        field_water=field * z,
        full_water=porosity * z,
        medium_depth=z,
        fleece_rate=rng.choice([inf, 10.0 ** rng.uniform(-2.0, 3.5)]),
        cup_capacity=rng.choice([0.0, rng.uniform(0.5, 15.0)]) if board else 0.0,
        mat_capacity=rng.choice([0.0, rng.uniform(0.5, 10.0)]),
        board_height=h_b,
        board_capacity=h_b * rng.choice([1.0, 10.0 ** rng.uniform(-2.0, 0.0)]),
        fall=drop / 1000.0 / length,
        flow_length_m=length,
        sill_level=sill,
        edge_level=h_b + z + rng.uniform(0.0, 200.0),
        in_plane_flow=10.0 ** rng.uniform(-4.0, 0.5),
        in_plane_gradient=rng.choice([0.02, 0.1, 1.0]),
        in_plane_exponent=0.5 if board else 1.0,
        blocked_fraction=rng.choice([0.0, rng.uniform(0.0, 1.0), 1.0]),
        outlet_rate=10.0 ** rng.uniform(-2.5, 2.5),
        bypass_fraction=rng.choice([0.0, 0.5, rng.uniform(0.0, 1.0)]),
        crop_coefficient=rng.uniform(0.3, 1.3),
        depletion_fraction=rng.uniform(0.0, 0.8),
        cup_supply=rng.uniform(0.0, 1.0),
        mat_supply=rng.uniform(0.0, 1.0),
    )


def weather(seed: int, days: int, *, wet: float = 1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return invented rain (mm), reference evapotranspiration (mm) and mean temperature (degC) with frost and snow."""
    rng = np.random.default_rng(seed)
    spells = np.repeat(rng.random(-(-days // 8)) < 0.7, 8)[:days] & (rng.random(days) < 0.6)
    rain = np.where(spells, np.where(rng.random(days) < 0.7, rng.gamma(0.6, 12.0 * wet, days), 0.3), 0.0)
    season = np.sin(2.0 * np.pi * np.arange(days) / 365.25)
    e0 = np.maximum(0.0, 2.5 + 2.3 * season + rng.normal(0.0, 0.7, days))
    return rain, e0, 8.0 + 11.0 * season + rng.normal(0.0, 4.0, days)
