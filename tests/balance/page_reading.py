"""A second reading of the daily water balance, in plain Python, written from the equations and not from the package.

Symbols are those of the calculation sheet: N snow, U surface, S medium, C cups, M mat, Q free water; one turn of the loop
is one day. It is slow and long-winded on purpose: each line is one line of the sheet. Free water is read by quadrature:
at a place whose deck lies x below the level a column holds F(x) mm, straight between the tops of its layers, and the roof
holds the mean of F over its fall. The level that belongs to a volume is searched for, not solved for.
"""

import itertools
from math import inf

import numpy as np
from scipy.optimize import brentq

D = 24.0


class FreeWater:
    """Free water on one roof: what stands below a level, in the board, in the medium, above it."""

    def __init__(self, column: dict) -> None:
        self.h_b, self.z = column["board_height"], column["medium_depth"]
        self.a1 = column["board_capacity"] / self.h_b
        self.a2 = (column["full_water"] - column["field_water"]) / self.z
        d = 1000.0 * column["fall"] * column["flow_length_m"]
        self.d = 0.0 if d < 0.01 else d

    def local(self, x: float) -> tuple[float, float, float]:
        """Return what stands at a place where the water reaches x above the deck: in board, medium, pond."""
        board = self.a1 * min(max(x, 0.0), self.h_b)
        medium = self.a2 * min(max(x - self.h_b, 0.0), self.z)
        return board, medium, max(0.0, x - self.h_b - self.z)

    def parts(self, h: float) -> tuple[float, float, float]:
        """Return the means over the roof: trapezia between the places where a layer begins or ends, which is exact."""
        if self.d == 0.0:
            return self.local(h)
        ends = (h, h - self.h_b, h - (self.h_b + self.z))
        heights = sorted({0.0, self.d, *(end for end in ends if 0.0 < end < self.d)})  # of the deck above the outlets
        standing = [self.local(h - height) for height in heights]
        board = medium = pond = 0.0
        for (low, one), (high, other) in itertools.pairwise(zip(heights, standing, strict=True)):
            board += 0.5 * (one[0] + other[0]) * (high - low) / self.d
            medium += 0.5 * (one[1] + other[1]) * (high - low) / self.d
            pond += 0.5 * (one[2] + other[2]) * (high - low) / self.d
        return board, medium, pond

    def volume(self, h: float) -> float:
        """Return all free water below a level, mm over the roof."""
        return inf if h == inf else sum(self.parts(h))

    def level(self, Q: float) -> float:
        """Return the level below which Q stands."""
        if Q <= 0.0:
            return 0.0
        top = 1.0
        while self.volume(top) < Q:
            top *= 2.0
        return brentq(lambda h: self.volume(h) - Q, 0.0, top, xtol=1e-14, rtol=1e-15)

    def share_above(self, h: float, y: float) -> float:
        """Return the share of the roof where water stands higher than y."""
        x = h - y - 1e-9
        if self.d == 0.0:
            return 1.0 if x > 0.0 else 0.0
        return min(1.0, max(0.0, x / self.d))


def read_days(
    column: dict,
    P: np.ndarray,
    E0: np.ndarray,
    T: np.ndarray | None = None,
    *,
    start: dict | None = None,
    run_on: np.ndarray | None = None,
    threshold: float = 0.10,
) -> dict:
    """Run all days and return arrays by the names of the outputs, with the balance of every day.

    `column` holds what a roof brings to the balance by name, mm and mm/h; `start` the stores N, U, S, C, M, Q, by default
    a medium at field capacity with cups and mat full. `run_on` is led to the outlets.
    """
    water = FreeWater(column)
    h_b, z = water.h_b, water.z
    U_max, K_s, K_f = column["surface_capacity"], column["soak_rate"], column["fleece_rate"]
    S_wp, S_fc, S_sat = column["wilting_water"], column["field_water"], column["full_water"]
    X, L, s = S_sat - S_fc, column["flow_length_m"], column["fall"]
    C_max, M_max, bypass = column["cup_capacity"], column["mat_capacity"], column["bypass_fraction"]
    H = min(column["sill_level"], column["edge_level"])
    outlets = (1.0 - column["blocked_fraction"]) * column["outlet_rate"]
    Kc, p = column["crop_coefficient"], column["depletion_fraction"]
    state = {"N": 0.0, "U": 0.0, "S": S_fc, "C": C_max, "M": M_max, "Q": 0.0, **(start or {})}
    N, U, S, C, M, Q = (state[name] for name in "NUSCMQ")
    h = water.level(Q)
    rows = []
    for t in range(len(P)):
        before = N + U + S + C + M + Q
        led = 0.0 if run_on is None else float(run_on[t])
        # 1 snow
        if T is None:
            melt = N
            N = 0.0
            liquid = P[t] + melt
        elif T[t] <= 1.0:
            N += P[t]
            liquid = 0.0
        else:
            melt = max(0.0, min(N, 3.0 * T[t]))
            N -= melt
            liquid = P[t] + melt
        # 2 surface
        a = U + liquid
        U = min(a, U_max)
        throughfall = a - U
        w = min(1.0, max(0.0, (S - S_wp) / (S_fc - S_wp)))
        c = w + bypass * w**2 / 2.0 + throughfall / (S_fc - S_wp)
        w2 = min(1.0, 2.0 * c / (1.0 + (1.0 + 2.0 * bypass * c) ** 0.5))
        by = bypass * (S_fc - S_wp) * (w2**2 - w**2) / 2.0
        # 3 soak
        inf_ = min(throughfall - by, K_s * D)
        S += inf_
        over = (throughfall - by) - inf_
        # 4 percolate
        kept = max(min(S, S_fc), S - K_f * D)
        perc = S - kept
        S = min(kept, S_sat)
        over += kept - S
        # 5 below
        Q += perc
        x = min(Q, max(0.0, C_max - C))
        C, Q = C + x, Q - x
        x = min(Q, max(0.0, M_max - M))
        M, Q = M + x, Q - x
        Q += by + over + led
        # 6 drain
        i = max(s, h_b / (1000.0 * L), h / (1000.0 * L))
        in_plane = column["in_plane_flow"] * (i / column["in_plane_gradient"]) ** column["in_plane_exponent"]
        q_d = min((1.0 - column["blocked_fraction"]) * 3600.0 * in_plane / L, outlets)
        drained = min(Q, q_d * D)
        Q -= drained
        s_ = min(max(0.0, Q - water.volume(h_b + z)), max(0.0, outlets * D - drained))
        drained += s_
        Q -= s_
        # 7 spill
        left = min(Q, water.volume(H))
        spilled = Q - left
        Q = left
        h = water.level(Q)
        _, in_medium, pond = water.parts(h)
        # 8 evaporate
        frozen = N > 0.0 or (T is not None and T[t] <= 0.0)
        E = 0.0 if frozen else max(0.0, E0[t])
        e_u = min(U, E * U / U_max) if U_max > 0 else 0.0
        U -= e_u
        demand = max(0.0, Kc * (E - e_u))
        e_w = min(pond, water.share_above(h, h_b + z) * demand, Q)
        Q -= e_w
        demand -= e_w
        Ks = min(1.0, max(0.0, (S - S_wp) / ((1.0 - p) * (S_fc - S_wp))))
        e_s = min(Ks * demand, max(0.0, S - S_wp))
        S -= e_s
        e_c = min(C, column["cup_supply"] * (demand - e_s))
        C -= e_c
        e_m = min(M, column["mat_supply"] * (demand - e_s - e_c))
        M -= e_m
        # 9 settle
        x = min(Q, max(0.0, C_max - C))
        C, Q = C + x, Q - x
        x = min(Q, max(0.0, M_max - M))
        M, Q = M + x, Q - x
        up = min(Q, max(0.0, in_medium + pond - e_w), water.share_above(h, h_b) * max(0.0, S_fc - S))
        Q -= up
        S += up
        # 10 report
        h = water.level(Q)
        board, in_medium, pond = water.parts(h)
        excess = max(0.0, S + in_medium - S_sat)
        spare = S_sat - S - threshold * z
        y = h_b + min(0.25 * z, max(0.0, spare) * z / X)
        share = 1.0 if spare < -1e-9 else water.share_above(h, y)
        mulch = U * column["mulch_share"]
        roots = S - S_wp + mulch + column["cup_supply"] * C + column["mat_supply"] * M
        evapotranspiration = e_u + e_w + e_s + e_c + e_m
        medium = S + in_medium - excess
        rows.append(
            {
                "throughfall": throughfall,
                "bypass": by,
                "percolation": perc,
                "drained": drained,
                "spilled": spilled,
                "overflow": drained + spilled,
                "evapotranspiration": evapotranspiration,
                "water_stress": 1.0 - (e_s + e_c + e_m) / demand if demand > 1e-9 else 0.0,
                "surface_water": U,
                "held_water": S,
                "cup_water": C,
                "mat_water": M,
                "free_water": Q,
                "snow_water": N,
                "board_water": board,
                "medium_water": medium,
                "pond_water": pond + excess,
                "water_depth_on_deck_mm": h,
                "air_filled_porosity": (S_sat - medium) / z,
                "waterlogged_share": share,
                "waterlogged": share >= min(0.10, 0.5 / L) - 1e-9,
                "dry": roots < 0.10 * (S_fc - S_wp) - 1e-9,
                "liquid": liquid,
                "balance": P[t] + led - evapotranspiration - drained - spilled - (N + U + S + C + M + Q - before),
            }
        )
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}
