"""Numbers of a dossier worked out a second time, from the roof file and the equations that the dossier prints, in plain numpy.

The roof is unlike the samples: US keys in its file, 5 in of medium, gravel on two fifths of it, a drain so free that no water
stays overnight, so that the day comes down to canopy, medium, cups and mat. The weather is invented here. Nothing of the
package reckons on this side; its own units are converted by hand (25.4 mm to the inch, 0.09290304 m2 to the square foot).
"""

from __future__ import annotations

import tomllib

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from runoff.roof import read_roof
from tests.dossier.conftest import write

ROOF = """
[roof]
name = "Tram shed"
area_ft2 = 2690
planted_fraction = 0.6
flow_length_m = 12
fall = 0.03
edge_height_mm = 500

[roof.other_surface]
kind = "gravel"
depression_storage_mm = 4
daily_storage_mm = 4.5

[[roof.outlets]]
kind = "round"
diameter_mm = 125
strainer = false
count = 6

[[layer]]
kind = "planting"
canopy_storage_mm = 1.4
crop_coefficient = 0.9

[[layer]]
kind = "mulch"
depth_mm = 20
holding_fraction = 0.15
evaporation_saving = 0.25

[[layer]]
kind = "medium"
depth_in = 5
porosity = 0.58
field_capacity = 0.29
wilting_point = 0.06
bypass_fraction = 0.4

[[layer]]
kind = "fleece"
storage_mm = 0.7

[[layer]]
kind = "board"
height_mm = 40
cup_storage_mm = 6
void_storage_mm = 20
in_plane_flow_l_per_s_m = 4
in_plane_gradient = 0.02
cup_supply_fraction = 0.4

[[layer]]
kind = "mat"
storage_mm = 3.2
mat_supply_fraction = 0.3

[[layer]]
kind = "membrane"
"""
_DAYS = pd.date_range("2001-01-01", "2006-12-31", freq="D")


@pytest.fixture(scope="module")
def weather() -> xr.Dataset:
    random = np.random.default_rng(7)
    wet = random.random(_DAYS.size) < 0.35
    rain = np.round(np.where(wet, random.gamma(0.7, 11.0, _DAYS.size), 0.0), 1)
    demand = np.round(2.0 - 1.7 * np.cos(2 * np.pi * (_DAYS.day_of_year.to_numpy() - 15) / 365.25), 2)
    return xr.Dataset(
        {"rain": ("time", rain, {"units": "mm"}), "reference_et": ("time", demand, {"units": "mm"})}, {"time": _DAYS}
    )


def planted_overflow(roof: dict, rain: np.ndarray, demand: np.ndarray) -> np.ndarray:
    """Return what leaves the planted area a day, mm; the first year is run once before, from field capacity."""
    layer = {one["kind"]: one for one in roof["layer"]}
    medium, depth = layer["medium"], layer["medium"]["depth_in"] * 25.4
    wilting, field = medium["wilting_point"] * depth, medium["field_capacity"] * depth
    surface_most = (
        layer["planting"]["canopy_storage_mm"] + layer["mulch"]["depth_mm"] * layer["mulch"]["holding_fraction"]
    )
    cups_most, mat_most = layer["board"]["cup_storage_mm"], layer["mat"]["storage_mm"] + layer["fleece"]["storage_mm"]
    crop = layer["planting"]["crop_coefficient"] * (1 - layer["mulch"]["evaporation_saving"])
    bypass, span = medium["bypass_fraction"], field - wilting
    surface, water, cups, mat = 0.0, field, cups_most, mat_most
    left = []
    for fallen, most in zip(np.r_[rain[:365], rain], np.r_[demand[:365], demand], strict=True):
        through = max(0.0, surface + fallen - surface_most)
        surface = min(surface + fallen, surface_most)
        w = min(1.0, max(0.0, (water - wilting) / span))
        c = w + bypass * w**2 / 2 + through / span
        after = min(1.0, 2 * c / (1 + np.sqrt(1 + 2 * bypass * c)))
        passed = bypass * span * (after**2 - w**2) / 2
        water += through - passed
        free = max(0.0, water - field)
        water -= free
        for_cups = min(free, cups_most - cups)
        cups, free = cups + for_cups, free - for_cups
        for_mat = min(free, mat_most - mat)
        mat, free = mat + for_mat, free - for_mat
        left.append(free + passed)
        of_surface = min(surface, most * surface / surface_most)
        surface -= of_surface
        wanted = max(0.0, crop * (most - of_surface))
        of_medium = min(wanted * min(1.0, max(0.0, (water - wilting) / span)), water - wilting)
        water -= of_medium
        of_cups = min(cups, layer["board"]["cup_supply_fraction"] * (wanted - of_medium))
        cups -= of_cups
        mat -= min(mat, layer["mat"]["mat_supply_fraction"] * (wanted - of_medium - of_cups))
    return np.array(left[365:])


def bare_overflow(store_mm: float, rain: np.ndarray, demand: np.ndarray) -> np.ndarray:
    """Return what leaves a surface that holds a depth of water, mm a day: it fills, spills and dries at the reference rate."""
    held, left = 0.0, []
    for fallen, most in zip(np.r_[rain[:365], rain], np.r_[demand[:365], demand], strict=True):
        held += fallen
        left.append(max(0.0, held - store_mm))
        held = min(held, store_mm)
        held -= min(held, most)
    return np.array(left[365:])


def curve_number(rain: float, runoff: float) -> float:
    """Solve Q = (P - 0.2 S)^2 / (P + 0.8 S) for S (TR-55, 1986, Eq. 2-3); CN = 25400 / (254 + S), mm."""
    retention = 5 * (rain + 2 * runoff - np.sqrt(4 * runoff**2 + 5 * rain * runoff))
    return 25400 / (254 + retention)


def test_twenty_numbers_of_an_unlike_roof(tmp_path, weather):
    (tmp_path / "shed.toml").write_text(ROOF, encoding="utf-8")
    roof = tomllib.loads(ROOF)
    rain, demand = weather["rain"].to_numpy(), weather["reference_et"].to_numpy()
    area = 2690 * 0.09290304
    planted, gravel = 0.6 * area, 0.4 * area
    years = 6  # whole calendar years
    whole = np.array([rain[_DAYS.year == year].sum() for year in range(2001, 2007)])
    leaves = planted_overflow(roof, rain, demand)
    gravel_leaves = bare_overflow(4.5, rain, demand)
    membrane_leaves = bare_overflow(1.2, rain, demand)  # what stands for a film of 1 mm in a daily run
    kept_by_year = 1 - np.array([leaves[_DAYS.year == year].sum() for year in range(2001, 2007)]) / whole
    capacity = {"surface": 1.4 + 20 * 0.15, "medium": (0.29 - 0.06) * 127, "cups": 6.0, "mat": 3.2 + 0.7}
    wet_days = np.sort(rain[rain > 2.54])  # 0.1 in or less left out
    capture = (planted * (rain.sum() - leaves.sum()) + gravel * (rain.sum() - gravel_leaves.sum())) / 1000 / years
    bare = area * membrane_leaves.sum() / 1000 / years
    shed = (planted * leaves.sum() + gravel * gravel_leaves.sum()) / 1000 / years
    wanted = {
        "area_m2": area,
        "planted_area_m2": planted,
        **{f"capacity_{name}_mm": depth for name, depth in capacity.items()},
        "capacity_mm": sum(capacity.values()),
        "capacity_m3": sum(capacity.values()) * planted / 1000,
        "capacity_whole_roof_m3": (sum(capacity.values()) * planted + 4 * gravel) / 1000,
        "annual_rain": rain.sum() / years,
        "annual_overflow": leaves.sum() / years,
        "annual_capture_mm": (rain.sum() - leaves.sum()) / years,
        "retention": 1 - leaves.sum() / rain.sum(),
        "annual_capture_m3": capture,
        "other_annual_capture_m3": gravel * (rain.sum() - gravel_leaves.sum()) / 1000 / years,
        "bare_annual_overflow_m3": bare,
        "roof_annual_overflow_m3": shed,
        "avoided_annual_m3": bare - shed,
        "avoided_share": (bare - shed) / bare,
        "worst_year_retention": kept_by_year[1:-1].min(),  # the first and the last may be parts of years
        "event_depth_mm[event=p90]": np.interp(0.9 * (wet_days.size - 1), np.arange(wet_days.size), wet_days),
        "event_capture_mm[event=25.4,start=field-capacity]": capacity["surface"],
        "event_bare_curve_number[event=25.4]": curve_number(25.4, 25.4 - 1.2),
        "credit_low_mm[rule=north-carolina]": capacity["medium"],
        "credit_low_mm[rule=interception-5-percent]": 0.05 * (20 + 127 + 1 + 40),
        "month_rain[month=7]": rain[_DAYS.month == 7].sum() / years,
    }
    written = write(
        tmp_path / "d.html", read_roof(tmp_path / "shed.toml"), weather, members=20, units="us",
        rules=("north-carolina", "interception-5-percent"),
    )  # fmt: skip
    record = written.page.record["figures"]
    # the same sums in another order: far below any printed digit
    assert {name: record[name] for name in wanted} == pytest.approx(wanted, rel=1e-9)
    printed = {mark["data-figure"] for mark, _ in written.page.numbers}
    assert len(printed & set(wanted)) >= 20
