"""Weirs and orifices, and the reservoirs the second physics holds the package to, against closed forms and HDS-2."""

import functools

import numpy as np

from runoff.sizing.drainage_codes import rational_flow
from runoff.units import convert
from tests.published.cases import each_row, hold, inputs_of, read_cases
from tests.second_physics import reservoirs
from tests.second_physics.reservoirs import drowned_weir_share, orifice_flow, weir_flow


@functools.cache
def block(step: float = 5.0) -> tuple[np.ndarray, np.ndarray]:
    """Route 30 mm/h for 30 min through a linear store of 20 min."""
    times = np.arange(step, 120.0 + step / 2, step)
    return reservoirs.linear_store(np.where(times <= 30.0 + 1e-9, 30.0, 0.0), step, 20.0)


@functools.cache
def ramp(step: float = 0.01) -> np.ndarray:
    """Route inflow that rises by 1 mm/h a minute, as the mean of short steps."""
    times = np.arange(step, 60.0 + step / 2, step)
    return reservoirs.linear_store(times - step / 2.0, step, 20.0)[0]


def head_for(flow_m3_s: float, crest: float) -> float:
    """Return the head over a weir, m, found by halving: no inverse of the formula under test."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if weir_flow(1.0, middle, coefficient=crest) < flow_m3_s else (low, middle)
    return low


def emptying_s(start_head: float, area: float, orifice: float) -> float:
    """Return the time at which the pond has just run dry, s, found by halving."""
    low, high = 0.0, 1e6
    for _ in range(60):
        middle = (low + high) / 2.0
        wet = float(reservoirs.orifice_drawdown(start_head, area, orifice, middle)) > 0.0
        low, high = (middle, high) if wet else (low, middle)
    return low


def scupper_flow(width_in: float, head_in: float, height_in: float | None = None) -> float:
    """Return gal/min through a scupper by the US forms as remembered: ``2.9 b H^1.5`` open, ``4.3 b h sqrt(H - h/2)`` drowned."""
    inch, litres = 0.0254, convert(1.0, "gpm", "L/s")
    if height_in is None:
        crest = 2.9 * litres / 1000.0 / inch**2.5
        return 1000.0 * weir_flow(width_in * inch, head_in * inch, coefficient=crest) / litres
    share = 4.3 * litres / 1000.0 / inch**2 / np.sqrt(2.0 * 9.81 * inch)
    over_centre = (head_in - height_in / 2.0) * inch
    area = width_in * height_in * inch**2
    return 1000.0 * orifice_flow(area, over_centre, discharge_coefficient=share, gravity=9.81) / litres


def found_for(row: dict) -> float:
    given = inputs_of(row["inputs"])
    minute = given.get("minute", 0.0)
    outflow, volume = block()
    at = round(minute / 5.0) - 1
    return float(
        {
            "block outflow": lambda: outflow[at],
            "block storage": lambda: 20.0 * outflow[at] / 60.0,
            "block volume": lambda: volume[: at + 1].sum() / 60.0,
            "block inflow": lambda: 20.0 * outflow[at] / 60.0 + volume[: at + 1].sum() / 60.0,
            "ramp outflow": lambda: ramp()[round(minute / 0.01) - 1],
            "cascade outflow": lambda: reservoirs.linear_cascade(np.full(6, 30.0), 10.0, 20.0, 2)[
                round(minute / 10) - 1
            ],
            "power_recession": lambda: reservoirs.power_recession(**given),
            "square_store": lambda: reservoirs.square_store(**given),
            "weir level": lambda: 1000.0 * reservoirs.weir_drawdown(**given),
            "weir outflow": lambda: (
                1000.0 * weir_flow(1.0, reservoirs.weir_drawdown(**given), coefficient=given["crest"])
            ),
            "rational": lambda: rational_flow(given["area"], given["rate"]),
            "steady weir head": lambda: 1000.0 * head_for(**given),
            "orifice constant": lambda: orifice_flow(np.pi * given["diameter"] ** 2 / 4.0, 1.0),
            "orifice level": lambda: 1000.0 * reservoirs.orifice_drawdown(**given),
            "orifice emptying": lambda: emptying_s(**given),
            "weir_flow": lambda: weir_flow(**given),
            "weir of Cw": lambda: weir_flow(
                given["length"], given["head"], coefficient=given["cw"] * np.sqrt(2.0 * given["gravity"])
            ),
            "weir coefficient": lambda: weir_flow(given["length"], given["head"], coefficient=given["coefficient"]),
            "weir share": lambda: weir_flow(1.0, 1.0) / np.sqrt(2.0 * given["gravity"]),
            "weir of Cd": lambda: weir_flow(
                1.0, 1.0, coefficient=2.0 / 3.0 * given["cd"] * np.sqrt(2.0 * given["gravity"])
            ),
            "weir coefficient of feet": lambda: (
                given["coefficient"]
                * convert(1.0, "ft3/s", "L/s")
                / 1000.0
                / weir_flow(0.3048, 0.3048, coefficient=1.0)
            ),
            "scupper weir": lambda: scupper_flow(**given),
            "scupper orifice": lambda: scupper_flow(**given),
            "drowned_weir_share": lambda: drowned_weir_share(**given),
            "orifice area": lambda: (
                given["flow"]
                / orifice_flow(1.0, given["head"], discharge_coefficient=given["cd"], gravity=given["gravity"])
            ),
        }[row["function"]]()
    )


@each_row(read_cases("weirs_and_orifices.csv", statuses=("V+R", "R", "M+R", "misprint")))
def test_weirs_and_orifices(row: dict) -> None:
    hold(found_for(row), row)


@each_row(read_cases("reservoirs.csv"))
def test_reservoirs_of_the_second_physics(row: dict) -> None:
    hold(found_for(row), row)


# HDS-2 (FHWA-NHI-02-001, 2nd ed. 2002), Example 7.2; Chow, Maidment and Mays (1988), Example 8.2.1, as remembered
HDS2_STORAGE = [0, 200, 500, 900, 1400, 2100, 3400, 4000, 4700, 5400]
HDS2_INFLOW = [0, 0.30, 0.60, 0.85, 1.10, 1.40, 1.70, 1.40, 1.10, 0.85, 0.60, 0.30, 0]
HDS2_OUTFLOW = {
    "HDS-2 600": [0, 0.12, 0.36, 0.57, 0.74, 0.88, 0.99, 1.46, 2.33, 3.45],
    "HDS-2 900": [0, 0.17, 0.51, 0.99, 1.42, 1.73, 1.98, 2.45, 3.32, 4.44],
}
CHOW_DEPTH_FT = np.arange(0.0, 10.1, 0.5)
CHOW_OUTFLOW = [0, 3, 8, 17, 30, 43, 60, 78, 97, 117, 137, 156, 173, 190, 205, 218, 231, 242, 253, 264, 275]
CHOW_INFLOW = [0, 60, 120, 180, 240, 300, 360, 320, 280, 240, 200, 160, 120, 80, 40, 0, 0]
ACRE_FT2 = 43560.0


@functools.cache
def routed(pond: str) -> tuple[np.ndarray, np.ndarray]:
    if pond == "Chow 8.2.1":
        storage = CHOW_DEPTH_FT * ACRE_FT2
        return reservoirs.storage_indication(
            np.array(CHOW_INFLOW, float), 600.0, storage, np.array(CHOW_OUTFLOW, float)
        )
    return reservoirs.storage_indication(np.array(HDS2_INFLOW), 1800.0, HDS2_STORAGE, HDS2_OUTFLOW[pond])


@each_row(read_cases("storage_routing.csv"))
def test_storage_indication_routing(row: dict) -> None:
    outflow, storage = routed(row["pond"])
    step = int(row["step"] or outflow.argmax())
    hold(
        {
            "outflow": outflow[step],
            "storage": storage[step],
            "peak": outflow.max(),
            "peak time": 10.0 * outflow.argmax(),
            "peak depth": storage.max() / ACRE_FT2,
        }[row["quantity"]],
        row,
    )
