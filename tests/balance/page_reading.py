"""A second reading of the daily water balance, in plain Python, written from the equations and not from the package.

Symbols are those of the calculation sheet: N snow, U surface, W pond, S medium, C cups, M mat, B board; one call is
one day. It is slow and long-winded on purpose: each line is one line of the sheet.
"""

from dataclasses import dataclass, field
from math import inf


@dataclass
class Column:
    """Parameters of one column, mm and mm/h, worked out from a build-up by hand or by `column_from_layers`."""

    U_max: float = 0.0
    S_wp: float = 0.0
    S_fc: float = 0.0
    S_sat: float = 0.0
    z: float = 0.0
    K_s: float = inf
    K_f: float = inf
    C_max: float = 0.0
    M_max: float = 0.0
    B_max: float = 0.0
    q_d: float = 0.0
    h_b: float = 0.0
    H: float | None = None
    Kc: float = 1.0
    p: float = 0.0
    cup_supply: float = 0.0
    mat_supply: float = 0.0
    T_snow: float = 1.0
    ddf: float = 3.0
    threshold: float = 0.10
    state: dict = field(default_factory=dict)

    def start(self) -> None:
        """Medium at field capacity, cups and mat full, the rest empty."""
        self.state = {"N": 0.0, "U": 0.0, "W": 0.0, "S": self.S_fc, "C": self.C_max, "M": self.M_max, "B": 0.0}

    def levels(self) -> tuple[float, float, float, bool]:
        """Storage below the emergency overflow, and whether percolation has unlimited room."""
        H = self.h_b + self.z if self.H is None else self.H
        B_over = self.B_max if self.h_b == 0 else self.B_max * min(1.0, H / self.h_b)
        share = min(1.0, max(0.0, (H - self.h_b) / self.z))
        S_over = self.S_fc + (self.S_sat - self.S_fc) * share
        W_over = max(0.0, H - self.h_b - self.z)
        return B_over, S_over, W_over, H <= self.h_b

    def day(self, P: float, E0: float, T: float | None = None) -> dict:
        """Run one day and return its fluxes and signs."""
        D = 24.0
        s = self.state
        before = sum(s.values())
        B_over, S_over, W_over, endless = self.levels()

        # 1 snow
        if T is None:
            liquid = P
        elif T <= self.T_snow:
            s["N"] += P
            liquid = 0.0
        else:
            melt = max(0.0, min(s["N"], self.ddf * (T - 0.0)))
            s["N"] -= melt
            liquid = P + melt
        # 2 surface
        s["U"] += liquid
        throughfall = max(0.0, s["U"] - self.U_max)
        s["U"] -= throughfall
        # 3 soak
        top = s["W"] + throughfall
        infiltration = min(top, self.K_s * D)
        top -= infiltration
        s["S"] += infiltration
        # 4 percolate
        mobile = max(0.0, s["S"] - self.S_fc)
        room = (self.C_max - s["C"]) + (self.M_max - s["M"]) + (self.B_max - s["B"]) + self.q_d * D
        if endless:
            room = inf
        percolation = min(mobile, self.K_f * D, room)
        s["S"] -= percolation
        back = max(0.0, s["S"] - self.S_sat)
        s["S"] -= back
        top += back
        # 5 cups, mat
        c = min(percolation, self.C_max - s["C"])
        s["C"] += c
        m = min(percolation - c, self.M_max - s["M"])
        s["M"] += m
        Y = s["B"] + percolation - c - m
        # 6 drain
        drained = min(Y + top, self.q_d * D)
        from_board = min(Y, drained)
        Y -= from_board
        top -= drained - from_board
        move = max(0.0, min(top, self.B_max - Y, B_over - Y))
        Y += move
        top -= move
        # 7 spill (the board counts as full to within rounding)
        spilled = 0.0
        if Y > B_over:
            spilled += Y - B_over
            Y = B_over
        if Y >= B_over - 1e-9:
            if s["S"] > S_over:
                spilled += s["S"] - S_over
                s["S"] = S_over
            if top > W_over:
                spilled += top - W_over
                top = W_over
        s["B"], s["W"] = Y, top
        # 8 evaporate
        e_u = min(s["U"], E0 * s["U"] / self.U_max) if self.U_max > 0 else 0.0
        s["U"] -= e_u
        demand = self.Kc * (E0 - e_u)
        e_w = min(s["W"], demand)
        s["W"] -= e_w
        demand -= e_w
        Ks = min(1.0, max(0.0, (s["S"] - self.S_wp) / ((1 - self.p) * (self.S_fc - self.S_wp))))
        e_s = min(Ks * demand, max(0.0, s["S"] - self.S_wp))
        s["S"] -= e_s
        e_c = min(s["C"], self.cup_supply * (demand - e_s))
        s["C"] -= e_c
        e_m = min(s["M"], self.mat_supply * (demand - e_s - e_c))
        s["M"] -= e_m
        # 9 report
        evapotranspiration = e_u + e_w + e_s + e_c + e_m
        air = (self.S_sat - s["S"]) / self.z
        return {
            "throughfall": throughfall,
            "percolation": percolation,
            "drained": drained,
            "spilled": spilled,
            "overflow": drained + spilled,
            "evapotranspiration": evapotranspiration,
            "surface_water": s["U"],
            "pond_water": s["W"],
            "medium_water": s["S"],
            "cup_water": s["C"],
            "mat_water": s["M"],
            "board_water": s["B"],
            "snow_water": s["N"],
            "water_stress": 1 - (e_s + e_c + e_m) / demand if demand > 1e-9 else 0.0,  # rounding is no demand
            "air_filled_porosity": air,
            "waterlogged": air < self.threshold - 1e-12 or s["W"] >= 0.1,
            "balance": P - evapotranspiration - drained - spilled - (sum(s.values()) - before),
        }
