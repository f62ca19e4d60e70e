"""The equations of the column in minutes, written again as a differential equation and left to a general solver.

Symbols are those of the calculation sheet: U surface, W pond, S medium, C cups, M mat, B board; x mobile water,
X what the medium can hold of it. Rates in mm/min. No evaporation: storms have none. A general solver needs smooth
equations, so each jump of the sheet (a store full, the medium saturated) is a ramp over `RAMP_MM`.
"""

import numpy as np
from scipy.integrate import solve_ivp

RAMP_MM = 1e-3
QUICK = 500.0  # 1/min: how fast water on top runs into free board space, where the sheet says at once


def ramp(water: float) -> float:
    return min(max(water / RAMP_MM, 0.0), 1.0)


def outflow(roof: dict, level: float) -> float:
    """Return q(level), mm/min: EN 12056-3 forms written out here from the page, not taken from the package."""
    litres = 0.0
    for kind, first, second, ko in roof["openings"]:
        if kind == "round":
            litres += ko * first * level**1.5 / 7500 if level <= first / 2 else ko * first**2 * level**0.5 / 15000
        else:
            area = first * second
            litres += ko * first * level**1.5 / 24000 if level <= 2 * area / first else ko * area * level**0.5 / 12000
    return (1 - roof["blocked_fraction"]) * min(roof["in_plane_rate"] / 60, litres * 60 / roof["area_m2"])


def rates(roof: dict, rain: float, y: np.ndarray) -> list[float]:
    """Return d/dt of U, W, S, C, M, B, drained and spilled."""
    U, W, S, C, M, B = y[:6]
    K_s, K_f = roof["soak_rate"] / 60, roof["fleece_rate"] / 60
    S_fc, S_sat, z = roof["field_water"], roof["full_water"], roof["medium_depth"]
    h_b = max(roof["board_height"], roof["board_capacity"])  # n mm of free water cannot stand lower than n mm
    B_full = min(roof["board_capacity"], roof["board_spill"])
    X = S_sat - S_fc
    x = min(max(S - S_fc, 0.0), X)
    W = max(W, 0.0)
    fall = rain * ramp(U - roof["surface_capacity"] + RAMP_MM)
    soak = min(K_s, fall) + (K_s - min(K_s, fall)) * ramp(W)
    r = min(roof["detention_k"] * x ** roof["detention_n"], K_f)
    cups = r * ramp(roof["cup_capacity"] - C)
    mat = (r - cups) * ramp(roof["mat_capacity"] - M)
    percolation = r - cups - mat
    on_top = max(fall - soak, 0.0) + QUICK * W
    share = min(max(B, 0.0), B_full) / roof["board_capacity"] if roof["board_capacity"] > 0 else 0.0
    level = h_b * share
    full = ramp(B - B_full)
    spill = 0.0
    if roof["room_unlimited"]:
        q = outflow(roof, level)
        spill = full * max(0.0, percolation + on_top - q)
        held, from_top = 0.0, on_top
        dB = percolation + on_top - q - spill
    else:
        level += ramp(B - B_full + RAMP_MM) * (z * x / X + W * ramp(S - S_sat + RAMP_MM))
        q = outflow(roof, level)
        held = full * max(0.0, percolation - q)
        from_top = (1 - full) * on_top + full * min(on_top, max(0.0, q - percolation))
        dB = percolation - held + from_top - q
    # a medium that may stand full to its top passes the rest on to the pond above
    over_medium = held * ramp(S - roof["medium_spill"]) if roof["medium_spill"] < S_sat else 0.0
    release = r - held + over_medium
    soak -= ramp(S - S_sat) * max(0.0, soak - release)
    dW = fall - soak - from_top
    over_top = full * ramp(W - roof["pond_spill"]) * max(0.0, dW)
    return [rain - fall, dW - over_top, soak - release, cups, mat, dB, q, spill + over_medium + over_top]


def solve(roof: dict, rain: np.ndarray, step_minutes: float, start: np.ndarray) -> dict:
    """Integrate through a storm, rain in mm per step.

    Returns volumes (mm), the largest drained and overflow rate as means over a minute (mm/h), and the last stores.
    """
    y = np.append(np.asarray(start, dtype=float), [0.0, 0.0])
    left = [y[6:]]
    for depth in rain:
        intensity = depth / step_minutes
        answer = solve_ivp(
            lambda t, y, i=intensity: rates(roof, i, y), (0.0, step_minutes), y, method="LSODA",
            max_step=0.5, rtol=1e-7, atol=1e-8, t_eval=np.arange(1.0, step_minutes + 0.5),
        )  # fmt: skip
        left.extend(answer.y[6:].T)
        y = answer.y[:, -1]
    minute_rates = 60.0 * np.diff(left, axis=0)
    return {
        "drained": y[6], "spilled": y[7], "stores": y[:6],
        "peak_drained": minute_rates[:, 0].max(), "peak_overflow": minute_rates.sum(axis=1).max(),
    }  # fmt: skip
