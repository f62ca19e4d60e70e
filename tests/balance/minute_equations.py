"""The equations of the column in minutes, written again as a differential equation and left to a general solver.

Symbols are those of the page: U surface, S medium, x mobile water (b of it by bypass), C cups, M mat, Q free water, h its
level. Rates in mm/min. No evaporation: storms have none. What flows is left to the solver; what the page does once in a
substep of a minute (cups, mat and medium settle with what stands, the gradient goes by the level before) is done here once a
minute. A general solver needs smooth equations, so each jump of the page (a store full, the edge reached) is a ramp over
`RAMP_MM`. The level of Q is read from a fine table of the volume, formed from the integrals of the page; nothing is taken
from the package.
"""

from bisect import bisect_right

import numpy as np
from scipy.integrate import solve_ivp

RAMP_MM = 1e-3


def ramp(water: float) -> float:
    return min(max(water / RAMP_MM, 0.0), 1.0)


def mean_height(x: np.ndarray, d: float) -> np.ndarray:
    """Return R(x): the mean over a plane of drop d of water that reaches x above its lowest line."""
    x = np.maximum(x, 0.0)
    share = np.clip(x / d, 0.0, 1.0) if d > 0.0 else (x > 0.0).astype(float)
    return share * (x - d * share / 2.0)


def between(x: float, xs: list[float], ys: list[float]) -> float:
    """Return y at x on the straight lines between the points, beyond the last what the last has; for one number ten times as quick as numpy's."""
    after = bisect_right(xs, x)
    if after == 0 or after == len(xs):
        return ys[max(after - 1, 0)]
    x0, y0 = xs[after - 1], ys[after - 1]
    return (ys[after] - y0) / (xs[after] - x0) * (x - x0) + y0


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
        levels = highest * np.linspace(0.0, 1.0, 60_001) ** 2
        R = [mean_height(levels - above, self.drop) for above in (0.0, self.h_b, self.top)]
        ponds, within = R[2], a2 * (R[1] - R[2])
        volumes = a1 * (R[0] - R[1]) + within + ponds
        self.levels, self.volumes = levels.tolist(), volumes.tolist()
        self.ponds, self.within = ponds.tolist(), within.tolist()
        self.below_edge = between(roof["edge_level"], self.levels, self.volumes)

    def level(self, water: float) -> float:
        return between(water, self.volumes, self.levels)

    def parts(self, level: float) -> tuple[float, float]:
        """Return the water above the medium, and in it."""
        return between(level, self.levels, self.ponds), between(level, self.levels, self.within)

    def wet(self, level: float, above: float) -> float:
        x = level - above
        return min(max(x / self.drop, 0.0), 1.0) if self.drop > 0.0 else float(x > 0.0)


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
    U, S, x, b, C, M, Q = y[:7].tolist()
    planted = "medium_depth" in roof
    fall = rain * ramp(U - roof.get("surface_capacity", roof.get("film_capacity")) + RAMP_MM)
    dS = dx = db = cups = mat = 0.0
    inflow = fall
    h = geometry.level(max(Q, 0.0))
    if planted:
        dS, dx, db, percolation, past, over_surface = through_medium(roof, fall, S, x, b)
        cups = percolation * ramp(roof["cup_capacity"] - C)
        mat = (percolation - cups) * ramp(roof["mat_capacity"] - M)
        inflow = percolation - cups - mat + past + over_surface
    q, over = leaving(roof, geometry, h, before)
    edge = ramp(Q - geometry.below_edge) * max(0.0, inflow - q - over)
    return [rain - fall, dS, dx, db, cups, mat, inflow - q - over - edge, q, over + edge, edge]


def settle(roof: dict, geometry: Geometry, y: np.ndarray, h: float, from_pond: float = 0.0) -> None:
    """Fill cups, then mat, from what stands at the end of a minute, and let the medium take up water in which it stands."""
    for store, capacity in ((4, "cup_capacity"), (5, "mat_capacity")):
        taken = min(y[6], max(0.0, roof[capacity] - y[store]))
        y[store], y[6] = y[store] + taken, y[6] - taken
    share = 1 - (1 - geometry.wet(h, roof["board_height"])) ** (1 / 1440)
    stands = max(0.0, sum(geometry.parts(h)) - from_pond)
    up = min(y[6], stands, share * max(0.0, roof["field_water"] - y[1]))
    y[6], y[1] = y[6] - up, y[1] + up


def solve(roof: dict, rain: np.ndarray, step_minutes: float, start: np.ndarray) -> dict:
    """Integrate through a storm, rain in mm per step, minute by minute.

    Returns what had left by the end of each step (mm), the largest level (mm) and the last stores.
    """
    geometry = Geometry(roof)
    y = np.append(np.asarray(start, dtype=float), [0.0, 0.0, 0.0])
    left, deepest = [y[7:].copy()], 0.0
    minutes = round(step_minutes)
    for depth in rain.tolist():
        for _ in range(minutes):
            before = geometry.level(max(y[6], 0.0))
            answer = solve_ivp(
                lambda t, y, i=depth / step_minutes, b=before: rates(roof, geometry, i, b, y), (0.0, step_minutes / minutes),
                y, method="LSODA", max_step=0.5, rtol=1e-6, atol=1e-7,
            )  # fmt: skip
            y = answer.y[:, -1]
            h = geometry.level(max(y[6], 0.0))
            deepest = max(deepest, h)
            if "medium_depth" in roof:
                settle(roof, geometry, y, h)
        left.append(y[7:].copy())
    drained, spilled, over_edge = np.array(left).T
    return {
        "drained": drained[1:],
        "spilled": spilled[1:],
        "over_edge": over_edge[1:],
        "deepest": deepest,
        "stores": y[:7],
    }


def read_minutes(
    roof: dict,
    rain: np.ndarray,
    e0: np.ndarray,
    step_minutes: float,
    start: np.ndarray,
    parts: int = 20,
    geometry: Geometry | None = None,
) -> dict:
    """Read the page minute by minute, with sun: the order of its steps literal, what flows within a minute in tiny steps.

    Who reads one roof step by step gives its `geometry`, formed once.
    Returns drained, spilled and evapotranspiration (mm, sums) and the last stores, in the order of `rates`.
    """
    geometry = geometry or Geometry(roof)
    U, S, x, b, C, M, Q = start.tolist()
    left = lost = 0.0
    z, S_fc, S_wp, S_sat = (roof[k] for k in ("medium_depth", "field_water", "wilting_water", "full_water"))
    top, p, b_f = geometry.top, roof["depletion_fraction"], roof["bypass_fraction"]
    K_s = roof["soak_rate"] / 60
    limit = min(K_s, roof["fleece_rate"] / 60)
    k, n = roof["detention_k"] * 80 / z, roof["detention_n"]
    for depth, sun in zip(rain.tolist(), e0.tolist(), strict=True):
        for _ in range(round(step_minutes)):
            before = geometry.level(Q)
            a = U + depth / step_minutes
            U = min(a, roof["surface_capacity"])
            fall = a - U
            w = min(max((S - S_wp) / (S_fc - S_wp), 0.0), 1.0)
            c = w + b_f * w**2 / 2 + fall / (S_fc - S_wp)
            then = min(1.0, 2 * c / (1 + (1 + 2 * b_f * c) ** 0.5))
            by = b_f * (S_fc - S_wp) * (then**2 - w**2) / 2
            soaked = min(fall - by, K_s)
            over = fall - by - soaked
            fresh = max(0.0, S + soaked - S_fc)
            S = S + soaked - fresh
            percolation = past = 0.0
            for _ in range(parts):
                x, b = x + (by + fresh) / parts, b + by / parts
                r = min(k * max(x, 0.0) ** n, limit) / parts
                share = b / x if x > 0 else 0.0
                x, b = x - r, b - r * share
                percolation, past = percolation + r * (1 - share), past + r * share
                back = max(0.0, x - max(S_sat - S, (limit / k) ** (1 / n)))
                over, b, x = over + back, b * (1 - back / x) if x > 0 else 0.0, x - back
            Q += percolation
            cups = min(Q, max(0.0, roof["cup_capacity"] - C))
            mat = min(Q - cups, max(0.0, roof["mat_capacity"] - M))
            C, M, stays = C + cups, M + mat, Q - cups - mat
            inflow = max(0.0, stays - (Q - percolation)) + past + over
            Q = min(stays, Q - percolation)
            for _ in range(parts):
                Q += inflow / parts
                out = min(Q, sum(leaving(roof, geometry, geometry.level(Q), before)) / parts)
                edge = max(0.0, Q - out - geometry.below_edge)
                Q, left = Q - out - edge, left + out + edge
            h = geometry.level(Q)
            E = sun / step_minutes
            e_u = min(U, E * U / roof["surface_capacity"]) if roof["surface_capacity"] > 0 else 0.0
            demand = max(0.0, roof["crop_coefficient"] * (E - e_u))
            pond = geometry.parts(h)[0]
            e_w = min(pond, geometry.wet(h, top) * demand, Q)
            demand -= e_w
            stress = min(max((S - S_wp) / ((1 - p) * (S_fc - S_wp)), 0.0), 1.0)
            e_s = min(stress * demand, max(0.0, S - S_wp))
            e_c = min(C, roof["cup_supply"] * (demand - e_s))
            e_m = min(M, roof["mat_supply"] * (demand - e_s - e_c))
            lost += e_u + e_w + e_s + e_c + e_m
            y = np.array([U - e_u, S - e_s, x, b, C - e_c, M - e_m, Q - e_w])
            settle(roof, geometry, y, h, e_w)
            U, S, x, b, C, M, Q = y.tolist()
    return {"left": left, "evapotranspiration": lost, "stores": np.array([U, S, x, b, C, M, Q])}
