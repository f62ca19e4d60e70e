"""Random roofs and storms for the column in minutes."""

import numpy as np

from runoff.balance.outlet_flow import OutletLaw, edge_outlet, rectangular_outlet, round_outlet


def laws_of(openings: list[tuple]) -> list[OutletLaw]:
    """Return the laws of ``("round", D, None, ko)``, ``("rectangular", width, height, ko)`` or ``("edge", length, None, 1)``."""
    made = {
        "round": lambda first, second, ko: round_outlet(first, strainer=ko == 0.5),
        "rectangular": lambda first, second, ko: rectangular_outlet(first, second, strainer=ko == 0.5),
        "edge": lambda first, second, ko: edge_outlet(first),
    }
    return [made[kind](first, second, ko) for kind, first, second, ko in openings]


def roof(**changes) -> dict:
    """Return a plain roof: 80 mm of medium on a 25 mm board, 100 m2, one round outlet of 100 mm with a strainer."""
    described = {
        "surface_capacity": 1.0, "mulch_share": 0.0, "soak_rate": 600.0, "wilting_water": 4.0, "field_water": 24.0,
        "full_water": 40.0, "medium_depth": 80.0, "fleece_rate": np.inf, "cup_capacity": 4.0, "mat_capacity": 3.0,
        "board_height": 25.0, "board_capacity": 15.0, "fall": 0.02, "flow_length_m": 10.0, "sill_level": np.inf,
        "emergency_width_mm": np.nan, "emergency_height_mm": np.nan, "in_plane_flow": 0.6, "in_plane_gradient": 0.02,
        "in_plane_exponent": 0.5, "blocked_fraction": 0.0, "outlet_rate": np.nan, "area_m2": 100.0,
        "planted_fraction": 1.0, "bypass_fraction": 0.5, "crop_coefficient": 1.0, "depletion_fraction": 0.0,
        "cup_supply": 0.5, "mat_supply": 0.25, "detention_k": 0.0115, "detention_n": 2.0,
        "openings": [("round", 100.0, None, 0.5)], **changes,
    }  # fmt: skip
    described.setdefault("edge_level", described["board_height"] + described["medium_depth"] + 150.0)
    return described | {"outlets": laws_of(described["openings"])}


def bare(**changes) -> dict:
    """Return a bare deck with the outlets of `roof`."""
    described = {
        "film_capacity": 1.0, "gravel_depth": 0.0, "gravel_pores": 1.0, "fall": 0.02, "flow_length_m": 10.0,
        "sill_level": np.inf, "edge_level": 255.0, "emergency_width_mm": np.nan, "emergency_height_mm": np.nan,
        "blocked_fraction": 0.0, "area_m2": 100.0, "openings": [("round", 100.0, None, 0.5)], **changes,
    }  # fmt: skip
    return described | {"outlets": laws_of(described["openings"])}


def random_openings(rng: np.random.Generator) -> list[tuple]:
    """Return one to three outlets, now and then an edge."""
    if rng.random() < 0.1:
        return [("edge", rng.uniform(1000.0, 20000.0), None, 1.0)]
    return [
        ("round", rng.choice([70.0, 100.0, 125.0]), None, rng.choice([0.5, 1.0]))
        if rng.random() < 0.7
        else ("rectangular", rng.uniform(100.0, 400.0), rng.uniform(30.0, 100.0), rng.choice([0.5, 1.0]))
        for _ in range(rng.integers(1, 4))
    ]


def random_site(rng: np.random.Generator, top: float) -> dict:
    """Return what bare and planted roofs share: area, fall, outlets, blockage, overflow, edge."""
    area = 10 ** rng.uniform(1.2, 3.0)
    sill = rng.random() < 0.5
    level = rng.uniform(0.2, 1.2) * top if sill else np.inf
    return {
        "area_m2": area,
        "fall": rng.choice([0.0, 0.0, 0.001, 0.005, 0.02, 0.02, 0.1]),
        "flow_length_m": rng.uniform(2.0, min(15.0, area**0.5 * 2.0)),
        "openings": random_openings(rng),
        "blocked_fraction": rng.choice([0.0, 0.0, 0.5, 0.95, 1.0]),
        "sill_level": level,
        "emergency_width_mm": rng.uniform(100.0, 600.0) if sill else np.nan,
        "emergency_height_mm": rng.uniform(30.0, 120.0) if sill else np.nan,
        "edge_level": top + rng.choice([10.0, 150.0]) + (max(0.0, level - top) if sill else 0.0),
    }


def random_roof(rng: np.random.Generator) -> dict:
    """Return a roof as they are built, now and then with a clogged outlet, no board, or a low overflow."""
    z = rng.uniform(30.0, 150.0)
    field = rng.uniform(0.2, 0.4)
    board = rng.random() < 0.8
    h_b = rng.uniform(12.0, 60.0) if board else 5.0
    changes = {
        "surface_capacity": rng.choice([0.0, 1.0, 2.5]),
        "soak_rate": 10 ** rng.uniform(1.3, 3.2),
        "wilting_water": 0.05 * z,
        "field_water": field * z,
        "full_water": (field + rng.uniform(0.05, 0.3)) * z,
        "medium_depth": z,
        "fleece_rate": rng.choice([np.inf, 10 ** rng.uniform(1.5, 4.0)]),
        "cup_capacity": rng.uniform(0.0, 6.0) if board else 0.0,
        "mat_capacity": rng.uniform(0.0, 4.0),
        "board_capacity": h_b * rng.uniform(0.3, 0.8) if board else 0.5,
        "board_height": h_b,
        "in_plane_flow": 10 ** rng.uniform(-1.5, 0.3) if board else 10 ** rng.uniform(-2.5, -1.0),
        "in_plane_exponent": 0.5 if board else 1.0,
        "bypass_fraction": rng.choice([0.0, 0.5, 1.0]),
        "detention_k": 0.0115 * 10 ** rng.uniform(-1.0, 0.5),
        "detention_n": rng.choice([1.0, 2.0, 2.0, 2.0, rng.uniform(1.2, 3.0)]),
    }
    return roof(**random_site(rng, h_b + z), **changes)


def random_bare(rng: np.random.Generator) -> dict:
    """Return a bare or a gravel deck."""
    gravel = rng.random() < 0.5
    cover = {"gravel_depth": 50.0, "gravel_pores": 0.4, "film_capacity": 5.0} if gravel else {}
    return bare(**random_site(rng, 80.0), **cover)


def random_storm(rng: np.random.Generator, step_minutes: float, hours: float = 3.0) -> np.ndarray:
    """Return a storm of 15-min blocks around one crest, 15 to 90 mm, in steps, then as long without rain, mm."""
    blocks = int(hours * 4)
    shape = rng.gamma(0.8, 1.0, blocks) * np.exp(-0.5 * ((np.arange(blocks) - rng.uniform(2, blocks - 2)) / 2.0) ** 2)
    depth = rng.uniform(15.0, 90.0) * shape / shape.sum()
    per_block = round(15.0 / step_minutes)
    return np.concatenate([np.repeat(depth / per_block, per_block), np.zeros(blocks * per_block)])
