"""Random roofs and storms for the column in minutes."""

import numpy as np

from runoff.balance.outlet_flow import rectangular_outlet, round_outlet


def roof(**changes) -> dict:
    """Return a plain roof: 80 mm of medium on a 25 mm board, 100 m2, one round outlet of 100 mm with a strainer."""
    described = {
        "surface_capacity": 1.0, "soak_rate": 600.0, "wilting_water": 4.0, "field_water": 24.0, "full_water": 40.0,
        "medium_depth": 80.0, "fleece_rate": 3600.0, "cup_capacity": 4.0, "mat_capacity": 3.0, "board_capacity": 15.0,
        "board_height": 25.0, "overflow_level": None, "crop_coefficient": 1.0, "depletion_fraction": 0.0,
        "cup_supply": 0.5, "mat_supply": 0.25, "detention_k": 0.03, "detention_n": 2.0, "in_plane_rate": 900.0,
        "blocked_fraction": 0.0, "area_m2": 100.0, "openings": [("round", 100.0, None, 0.5)], **changes,
    }  # fmt: skip
    H, h_b, z = described["overflow_level"], described["board_height"], described["medium_depth"]
    H = h_b + z if H is None else H
    share = min(1.0, max(0.0, (H - h_b) / z))
    described["overflow_level"] = H
    described["board_spill"] = described["board_capacity"] * (min(1.0, H / h_b) if h_b else 1.0)
    described["medium_spill"] = described["field_water"] + share * (described["full_water"] - described["field_water"])
    described["pond_spill"] = max(0.0, H - h_b - z)
    described["room_unlimited"] = float(H <= h_b)
    described["outlets"] = [
        round_outlet(first, strainer=ko == 0.5)
        if kind == "round"
        else rectangular_outlet(first, second, strainer=ko == 0.5)
        for kind, first, second, ko in described["openings"]
    ]
    return described


def random_roof(rng: np.random.Generator) -> dict:
    """Return a roof as they are built, now and then with a clogged outlet, no board, or a low overflow."""
    z = rng.uniform(30.0, 150.0)
    field = rng.uniform(0.2, 0.4)
    board = rng.random() < 0.8
    h_b = rng.uniform(12.0, 60.0) if board else 0.0
    openings = [
        ("round", rng.choice([70.0, 100.0, 125.0]), None, rng.choice([0.5, 1.0]))
        if rng.random() < 0.7
        else ("rectangular", rng.uniform(100.0, 400.0), rng.uniform(30.0, 100.0), rng.choice([0.5, 1.0]))
        for _ in range(rng.integers(1, 4))
    ]
    level = None if rng.random() < 0.5 else rng.uniform(0.3, 1.3) * (h_b + z)
    return roof(
        surface_capacity=rng.choice([0.0, 1.0, 2.5]),
        soak_rate=10 ** rng.uniform(2.2, 3.2),
        wilting_water=0.05 * z,
        field_water=field * z,
        full_water=(field + rng.uniform(0.1, 0.3)) * z,
        medium_depth=z,
        fleece_rate=10 ** rng.uniform(2.5, 4.0),
        cup_capacity=rng.uniform(0.0, 6.0) if board else 0.0,
        mat_capacity=rng.uniform(0.0, 4.0),
        board_capacity=h_b * rng.uniform(0.3, 0.8) if board else 0.5,
        board_height=h_b,
        overflow_level=level,
        detention_k=0.03 * 10 ** rng.uniform(-0.7, 0.7),
        detention_n=rng.choice([1.0, 2.0, 2.0, rng.uniform(1.2, 3.0)]),
        in_plane_rate=10 ** rng.uniform(1.0, 3.5),
        blocked_fraction=rng.choice([0.0, 0.0, 0.5, 1.0]),
        area_m2=10 ** rng.uniform(1.2, 3.0),
        openings=openings,
    )


def random_storm(rng: np.random.Generator, step_minutes: float, hours: float = 3.0) -> np.ndarray:
    """Return a storm of 15-min blocks around one crest, 15 to 90 mm, in steps, then as long without rain, mm."""
    blocks = int(hours * 4)
    shape = rng.gamma(0.8, 1.0, blocks) * np.exp(-0.5 * ((np.arange(blocks) - rng.uniform(2, blocks - 2)) / 2.0) ** 2)
    depth = rng.uniform(15.0, 90.0) * shape / shape.sum()
    per_block = round(15.0 / step_minutes)
    return np.concatenate([np.repeat(depth / per_block, per_block), np.zeros(blocks * per_block)])
