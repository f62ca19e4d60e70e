"""A second physics: variably saturated flow in one dimension through a shallow growing medium.

The package holds the medium as one store that drains by ``k h^n``. Here the same medium is a column of cells in which
water moves by capillarity and gravity (Richards 1931), with the retention and conductivity functions of van Genuchten
(1980) and Mualem (1976):

    S_e = (1 + (a |p|)^n)^(-m),  m = 1 - 1/n,   K = K_s S_e^0.5 (1 - (1 - S_e^(1/m))^m)^2,   dw/dt = -dq/dz,
    q = K (1 - dp/dz), z downward

Written for the tests only. The state is the water content of each cell, so water is conserved by construction and a
sum of outflow carried beside it shows what the time solver (`scipy.integrate.solve_ivp`, BDF) adds.

The base lies on a drainage layer full of air: water leaves only where the pressure reaches that of the air (a seepage
face). This is why the foot of a drained pot stays wet. Lengths mm, time min, pressure head mm of water (negative = suction).
"""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
from scipy.integrate import solve_ivp

#: Elastic storage of a saturated cell, per mm of pressure: lets a full cell carry pressure, holds 0.001 mm per 100 mm2.
ELASTIC = 1e-6
#: Water content by which a cell is moved to see what changes.
STEP = 1e-8


@dataclasses.dataclass(frozen=True)
class Medium:
    """Hydraulic functions of one growing medium.

    Parameters
    ----------
    residual, saturated
        Water content, fraction of volume.
    alpha_per_mm, n
        Shape of the retention curve (van Genuchten 1980).
    conductivity_mm_per_min
        Saturated hydraulic conductivity.
    source
        Where the numbers come from.
    """

    residual: float
    saturated: float
    alpha_per_mm: float
    n: float
    conductivity_mm_per_min: float
    source: str

    @property
    def m(self) -> float:
        """Second shape parameter, 1 - 1/n (Mualem's condition)."""
        return 1.0 - 1.0 / self.n

    def effective(self, pressure: np.ndarray) -> np.ndarray:
        """Return effective saturation, 0-1."""
        suction = np.maximum(-np.asarray(pressure, dtype=float), 0.0)
        return (1.0 + (self.alpha_per_mm * suction) ** self.n) ** -self.m

    def water(self, pressure: np.ndarray) -> np.ndarray:
        """Return water content with the elastic storage of full cells."""
        span = self.saturated - self.residual
        return self.residual + span * self.effective(pressure) + ELASTIC * np.maximum(pressure, 0.0)

    def pressure(self, water: np.ndarray) -> np.ndarray:
        """Return the pressure head (mm) that goes with a water content."""
        share = np.clip((water - self.residual) / (self.saturated - self.residual), 1e-9, 1.0)
        suction = np.maximum(share ** (-1.0 / self.m) - 1.0, 0.0) ** (1.0 / self.n) / self.alpha_per_mm
        return np.where(water < self.saturated, -suction, (water - self.saturated) / ELASTIC)

    def conductivity(self, pressure: np.ndarray) -> np.ndarray:
        """Return hydraulic conductivity, mm/min."""
        share = self.effective(pressure)
        return self.conductivity_mm_per_min * np.sqrt(share) * (1.0 - (1.0 - share ** (1.0 / self.m)) ** self.m) ** 2

    def at_rest(self, depth_mm: float, points: int = 20_001) -> float:
        """Return the water (mm) of a column at rest on air: suction equals height over the base. Closed by quadrature."""
        height = np.linspace(0.0, depth_mm, points)
        return float(np.trapezoid(self.water(-height), height))


@dataclasses.dataclass(frozen=True)
class Course:
    """What a run of the column gives: times (min), outflow so far (mm), rate (mm/min), water held (mm), cells."""

    time: np.ndarray
    outflow: np.ndarray
    rate: np.ndarray
    held: np.ndarray
    water: np.ndarray
    refused: np.ndarray  # rain that could not enter, mm so far


def run_column(
    medium: Medium,
    depth_mm: float,
    *,
    start: np.ndarray | float,
    times: np.ndarray,
    rain: np.ndarray | None = None,
    cells: int = 40,
    tolerance: float = 1e-5,
) -> Course:
    """Run the column.

    Parameters
    ----------
    medium, depth_mm
        What it is filled with, and how deep.
    start
        Pressure head (mm) at the start: one value, or one per cell from the top.
    times
        Times (min) at which the course is wanted, from 0.
    rain
        Rain intensity (mm/min) in each interval of `times`; None for none.
    cells
        Cells of equal thickness.
    tolerance
        Relative tolerance of the time solver.
    """
    dz = depth_mm / cells
    pressure = np.broadcast_to(np.asarray(start, dtype=float), cells)
    state = np.concatenate([medium.water(pressure), [0.0, 0.0]])
    rain = np.zeros(times.size - 1) if rain is None else np.asarray(rain, dtype=float)

    def change(_: float, state: np.ndarray, intensity: float) -> np.ndarray:
        p = medium.pressure(state[:cells])
        K = medium.conductivity(p)
        flux = np.empty(cells + 1)
        # the surface takes what a saturated skin could pass to the first cell; the rest is refused
        flux[0] = min(intensity, medium.conductivity_mm_per_min * max(0.0, 1.0 - 2.0 * p[0] / dz))
        flux[1:-1] = 0.5 * (K[:-1] + K[1:]) * (1.0 - np.diff(p) / dz)
        at_base = 0.5 * (K[-1] + medium.conductivity_mm_per_min) * (1.0 + 2.0 * p[-1] / dz)
        flux[-1] = max(0.0, at_base)
        return np.concatenate([-np.diff(flux) / dz, [flux[-1], intensity - flux[0]]])

    def slopes(_: float, state: np.ndarray, intensity: float) -> np.ndarray:
        # neighbours only: three differences tell all, every third cell moved at once
        found = np.zeros((cells + 2, cells + 2))
        plain = change(0.0, state, intensity)
        for colour in range(3):
            moved = state.copy()
            moved[colour:cells:3] -= STEP
            difference = (plain - change(0.0, moved, intensity)) / STEP
            for j in range(colour, cells, 3):
                rows = slice(max(0, j - 1), min(cells, j + 2))
                found[rows, j] = difference[rows]
            found[cells, cells - 1] += difference[cells] if (cells - 1) % 3 == colour else 0.0
            found[cells + 1, 0] += difference[cells + 1] if colour == 0 else 0.0
        return found

    # the solver starts anew only where the rain changes
    breaks = [0, *(np.flatnonzero(np.diff(rain)) + 1), times.size - 1]
    states = [state[:, None]]
    for first, last in itertools.pairwise(breaks):
        got = solve_ivp(
            change,
            (times[first], times[last]),
            states[-1][:, -1],
            method="BDF",
            t_eval=times[first + 1 : last + 1],
            args=(rain[first],),
            jac=slopes,
            rtol=tolerance,
            atol=1e-8,
        )
        assert got.success, got.message
        states.append(got.y)
    all_states = np.concatenate(states, axis=1).T
    rates = [change(0.0, one, 0.0)[cells] for one in all_states]
    return Course(
        time=times,
        outflow=all_states[:, cells],
        rate=np.array(rates),
        held=all_states[:, :cells].sum(axis=1) * dz,
        water=all_states[:, :cells],
        refused=all_states[:, cells + 1],
    )
