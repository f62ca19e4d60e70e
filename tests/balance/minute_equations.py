"""The equations of the column in minutes, written again as a differential equation and left to a general solver.

Symbols are those of the page: U surface, S medium, x mobile water (b of it by bypass), C cups, M mat, Q free water, h its
level. Rates in mm/min. No evaporation: storms have none. A general solver needs smooth equations, so each jump of the page (a
store full, the edge reached) is a ramp over `RAMP_MM`. The level of Q is read from a fine table of the volume, formed from
the integrals of the page; nothing is taken from the package.
"""

import numpy as np
from scipy.integrate import solve_ivp

RAMP_MM = 1e-3
QUICK = 200.0  # 1/min: how fast free water fills cups and a medium under water, where the page says at once


def ramp(water: float) -> float:
    return min(max(water / RAMP_MM, 0.0), 1.0)


def mean_height(x: np.ndarray, d: float) -> np.ndarray:
    """Return R(x): the mean over a plane of drop d of water that reaches x above its lowest line."""
    x = np.maximum(x, 0.0)
    share = np.clip(x / d, 0.0, 1.0) if d > 0.0 else (x > 0.0).astype(float)
    return share * (x - d * share / 2.0)


class Geometry:
    """Volume and level of the free water of one roof, from a table in the root of the level."""

    def __init__(self, roof: dict) -> None:
        d = 1000.0 * roof["fall"] * roof["flow_length_m"]
        self.drop = d if d >= 0.01 else 0.0
        self.top = roof.get("board_height", roof.get("gravel_depth", 0.0)) + roof.get("medium_depth", 0.0)
        self.h_b = self.top - roof.get("medium_depth", 0.0)
        a1 = roof["board_capacity"] / roof["board_height"] if "board_height" in roof else roof["gravel_pores"]
        a2 = (roof["full_water"] - roof["field_water"]) / roof["medium_depth"] if "medium_depth" in roof else 1.0
        highest = roof["edge_level"] + 10.0
        self.levels = highest * np.linspace(0.0, 1.0, 60_001) ** 2
        R = [mean_height(self.levels - above, self.drop) for above in (0.0, self.h_b, self.top)]
        self.volumes = a1 * (R[0] - R[1]) + a2 * (R[1] - R[2]) + R[2]

    def level(self, water: float) -> float:
        return float(np.interp(water, self.volumes, self.levels))

    def volume(self, level: float) -> float:
        return float(np.interp(level, self.levels, self.volumes))

    def wet(self, level: float, above: float) -> float:
        x = level - above
        return float(np.clip(x / self.drop, 0.0, 1.0)) if self.drop > 0.0 else float(x > 0.0)


def opening(kind: str, first: float, second: float | None, ko: float, h: float) -> float:
    """Return L/s by the EN 12056-3 forms, written out here from the page."""
    if kind == "round":
        return ko * first * h**1.5 / 7500 if h <= first / 2 else ko * first**2 * h**0.5 / 15000
    if kind == "edge" or h <= 2 * second:
        return ko * first * h**1.5 / 24000
    return ko * first * second * h**0.5 / 12000


def leaving(roof: dict, geometry: Geometry, h: float, before: float) -> tuple[float, float]:
    """Return what the outlets pass, and what the emergency overflow takes, mm/min; the gradient goes by the level before."""
    area, is_open = roof["area_m2"], 1.0 - roof["blocked_fraction"]
    outlets = is_open * sum(opening(*one, h) for one in roof["openings"]) * 60 / area
    if "in_plane_flow" in roof:
        L = roof["flow_length_m"]
        i = max(roof["fall"], roof["board_height"] / (1000 * L), before / (1000 * L))
        flow = roof["in_plane_flow"] * (i / roof["in_plane_gradient"]) ** roof["in_plane_exponent"]
        surface = 1000 * (area / L) * max(0.0, h - geometry.top) ** 1.5 / 24000 * 60 / area
        outlets = min(is_open * 60 * flow / L + surface, outlets)
    over = 0.0
    if np.isfinite(roof["sill_level"]) and h > roof["sill_level"]:
        width, height = roof["emergency_width_mm"], roof["emergency_height_mm"]
        over = opening("rectangular", width, height, 1.0, h - roof["sill_level"]) * 60 / area
    return outlets, over


def through_medium(roof: dict, fall: float, S: float, x: float, b: float) -> tuple[float, ...]:
    """Return what S, x and b gain, percolation, bypass that leaves, and what goes over the surface, mm/min."""
    K_s, K_f = roof["soak_rate"] / 60, roof["fleece_rate"] / 60
    S_wp, S_fc = roof["wilting_water"], roof["field_water"]
    w = min(max((S - S_wp) / (S_fc - S_wp), 0.0), 1.0)
    lacking = ramp(S_fc - S)
    by = fall * roof["bypass_fraction"] * w / (1 + roof["bypass_fraction"] * w) * lacking
    soaked = min(fall - by, K_s)
    k, n, limit = roof["detention_k"] * 80 / roof["medium_depth"], roof["detention_n"], min(K_s, K_f)
    r = min(k * max(x, 0.0) ** n, limit)
    gain = by + soaked * (1 - lacking)
    ceiling = max(roof["full_water"] - S, (limit / k) ** (1 / n))
    back = ramp(x - ceiling) * max(0.0, gain - r)
    share = min(max(b / x, 0.0), 1.0) if x > 1e-12 else 0.0
    return (
        soaked * lacking,
        gain - r - back,
        by - (r + back) * share,
        r * (1 - share),
        r * share,
        fall - by - soaked + back,
    )


def rates(roof: dict, geometry: Geometry, rain: float, before: float, y: np.ndarray) -> list[float]:
    """Return d/dt of U, S, x, b, C, M, Q, drained, spilled, over the edge."""
    U, S, x, b, C, M, Q = y[:7]
    planted = "medium_depth" in roof
    fall = rain * ramp(U - roof.get("surface_capacity", roof.get("film_capacity")) + RAMP_MM)
    dS = dx = db = cups = mat = up = 0.0
    inflow = fall
    h = geometry.level(max(Q, 0.0))
    if planted:
        dS, dx, db, percolation, past, over_surface = through_medium(roof, fall, S, x, b)
        stands = QUICK * max(Q, 0.0)
        cups = (percolation + stands) * ramp(roof["cup_capacity"] - C)
        mat = (percolation + stands - cups) * ramp(roof["mat_capacity"] - M)
        wet = geometry.wet(h, roof["board_height"])
        hold = QUICK if wet >= 1.0 else min(QUICK, -np.log1p(-wet) / 1440.0)
        up = min(hold * max(0.0, roof["field_water"] - S), stands)
        inflow = percolation - cups - mat + past + over_surface - up
    q, over = leaving(roof, geometry, h, before)
    edge = ramp(Q - geometry.volume(roof["edge_level"])) * max(0.0, inflow - q - over)
    return [rain - fall, dS + up, dx, db, cups, mat, inflow - q - over - edge, q, over + edge, edge]


def solve(roof: dict, rain: np.ndarray, step_minutes: float, start: np.ndarray) -> dict:
    """Integrate through a storm, rain in mm per step, minute by minute: the page takes the gradient of the minute before.

    Returns what had left by the end of each step (mm), the largest level (mm) and the last stores.
    """
    geometry = Geometry(roof)
    y = np.append(np.asarray(start, dtype=float), [0.0, 0.0, 0.0])
    left, deepest = [y[7:].copy()], 0.0
    minutes = round(step_minutes)
    for depth in rain:
        for _ in range(minutes):
            before = geometry.level(max(y[6], 0.0))
            answer = solve_ivp(
                lambda t, y, i=depth / step_minutes, b=before: rates(roof, geometry, i, b, y), (0.0, step_minutes / minutes),
                y, method="LSODA", max_step=0.5, rtol=1e-6, atol=1e-7,
            )  # fmt: skip
            y = answer.y[:, -1]
            deepest = max(deepest, geometry.level(max(y[6], 0.0)))
        left.append(y[7:].copy())
    drained, spilled, over_edge = np.array(left).T
    return {
        "drained": drained[1:],
        "spilled": spilled[1:],
        "over_edge": over_edge[1:],
        "deepest": deepest,
        "stores": y[:7],
    }
