"""Storm patterns, depth-duration tables and formulas against HDS-2, NOAA Atlas 14 and closed forms."""

import functools
import tempfile
from pathlib import Path

import numpy as np
import pytest

from runoff.storms.depth_duration import DepthDurationTable
from runoff.storms.depth_duration_files import read_depth_duration
from runoff.storms.design_storms import design_storm
from runoff.storms.hyetographs import alternating_blocks, nrcs_shares, ranked_blocks
from runoff.storms.intensity_curves import IntensityCurve, fit_intensity
from tests.published.cases import each_row, hold, numbers, read_cases

INCH = 25.4


def windows(blocks: np.ndarray, width: int) -> np.ndarray:
    return np.convolve(blocks, np.ones(width), mode="valid")


# --- NRCS distributions


@each_row(read_cases("hds2_table_6_5.csv"))
def test_nrcs_distribution(row: dict) -> None:
    half_hours = nrcs_shares(row["pattern"], 48)
    if row["quantity"] == "cumulative":
        hold(half_hours[: round(2 * float(row["hour"]))].sum(), row)
    elif row["quantity"] == "hour":
        hold(nrcs_shares(row["pattern"], 24)[int(row["hour"]) - 1], row)
    elif row["quantity"] == "intensity":
        width = float(row["window_h"])
        storm = design_storm(depth_mm=float(row["depth_mm"]), step=f"{width:g}h", pattern=row["pattern"])
        hold(storm.values[round(float(row["hour"]) / width)] / width, row)
    else:
        held = windows(half_hours, round(2 * float(row["window_h"])))
        hold(held.max() if row["quantity"] == "largest share" else np.argmax(held > held.max() - 1e-9) / 2.0, row)


# --- alternating blocks of HDS-2


@each_row(read_cases("hds2_example_6_6.csv"))
def test_balanced_storm_of_hds2(row: dict) -> None:
    values = numbers(row["intensities"])
    table = DepthDurationTable.from_rows(
        {f"{hour}h": [value, 2 * value] for hour, value in enumerate(values, start=1)},
        return_periods_years=[2, 50],
        units=f"{row['unit']}/h",
    )
    storm = design_storm(duration="6h", step="1h", depth_duration=table, return_period_years=2)
    blocks = storm.values / (INCH if row["unit"] == "in" else 1.0)
    number = int(row["number"])
    if row["quantity"] == "window":
        hold(windows(blocks, number).max(), row)
    else:
        hold(
            {"increment": np.sort(blocks)[::-1], "block": blocks, "cumulative": np.cumsum(blocks)}[row["quantity"]][
                number - 1
            ],
            row,
        )


# --- storms from a formula


@each_row(read_cases("curve_storms.csv"))
def test_storms_from_a_formula(row: dict) -> None:
    minutes, step = float(row["duration_min"]), float(row["step_min"] or row["duration_min"])
    if row["quantity"] == "uniform":
        storm = design_storm(
            depth_mm=float(row["option"]) * minutes / 60.0,
            duration=f"{minutes:g}min",
            step=f"{step:g}min",
            pattern="uniform",
        )
        hold(storm.sum(), row)
        assert storm.values / step * 60.0 == pytest.approx(float(row["option"]))
        return
    a, b, c, e = numbers(row["formula_a_b_c_e_in_per_h"])
    curve = IntensityCurve.from_units(a=a, b=b, c=c, e=e, units="in/h")
    number = int(row["number"] or 0)
    if row["quantity"] == "depth":
        hold(float(curve.depth_mm(number * step if number else minutes)) / INCH, row)
    elif row["quantity"] == "intensity":
        hold(curve.intensity(f"{number * step:g}min") / INCH, row)
    elif row["quantity"] == "increment":
        hold(ranked_blocks(curve, round(minutes / step), step)[number - 1] / INCH, row)
    else:
        option = {
            "chicago": {"peak_position": float(row["option"] or 0)},
            "euler-II": {"leading_blocks": round(float(row["option"] or 0))},
        }
        blocks = design_storm(
            duration=f"{minutes:g}min", step=f"{step:g}min", pattern=row["pattern"], depth_duration=curve, **option.get(row["pattern"], {})
        ).values / INCH  # fmt: skip
        if row["quantity"] == "window":  # the peak divides it as the storm: r to 1 - r
            first = round((minutes - number) * float(row["option"]) / step)
            hold(blocks[first : first + round(number / step)].sum(), row)
        else:
            hold(blocks.sum() if row["quantity"] == "total" else blocks[number - 1], row)


def test_blocks_of_the_two_arrangements_are_the_same() -> None:
    curve = IntensityCurve.from_units(a=51.39, b=7.85, c=0.75, units="in/h")
    ranked = ranked_blocks(curve, 12, 5.0)
    assert np.sort(alternating_blocks(ranked))[::-1] == pytest.approx(ranked)


# --- depth-duration tables of two stations, and curves fitted to them


def station_text(station: str) -> str:
    """Write the station's depths in the layout of the public files: header, `by duration`, one row per duration."""
    rows: dict[str, dict[str, str]] = {}
    for param in read_cases(f"atlas14_{station}.csv", quantity="depth"):
        (row,) = param.values
        rows.setdefault(row["duration"], {})[row["return_period_years"]] = row["expected"]
    head = ["Point precipitation frequency estimates (inches)", "Data type: Precipitation depth"]
    head += ["Time series type: Partial duration", "", "PRECIPITATION FREQUENCY ESTIMATES"]
    head += [f"by duration for ARI (years):, {','.join(next(iter(rows.values())))}"]
    return "\n".join([*head, *(f"{duration}:, {','.join(values.values())}" for duration, values in rows.items()), ""])


@functools.cache
def station_table(station: str) -> DepthDurationTable:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{station}.csv"
        path.write_text(station_text(station), encoding="utf-8")
        return read_depth_duration(path)


@each_row([*read_cases("atlas14_pulaski.csv"), *read_cases("atlas14_champaign.csv")])
def test_station_table_as_read(row: dict) -> None:
    table, period = station_table(row["station"]), float(row["return_period_years"])
    if row["quantity"] == "depth":
        hold(table.depth(row["duration"], period) / INCH, row)
    elif row["quantity"] == "intensity":
        hold(table.intensity(row["duration"], period) / INCH, row)
    else:
        hold(table.intensity(row["duration"], period) / table.intensity("60min", period), row)


@functools.cache
def fitted(station: str, period: float, form: str, shortest: str, longest: str) -> IntensityCurve:
    table = station_table(station)
    return fit_intensity(table, form=form, return_period_years=period, shortest=shortest, longest=longest)


@each_row(read_cases("intensity_fits.csv"))
def test_curve_fitted_to_a_station_table(row: dict) -> None:
    # parameters of a Sherman curve trade off against each other, so its intensities are compared
    curve = fitted(row["station"], float(row["return_period_years"]), row["form"], row["shortest"], row["longest"])
    found = {"a": curve.a / INCH, "b": curve.b, "c": curve.c, "worst error": curve.worst_relative_error}
    if row["quantity"] == "intensity":
        hold(curve.intensity(f"{row['duration_min']}min") / INCH, row)
    else:
        hold(found[row["quantity"]], row)
