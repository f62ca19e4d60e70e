"""Curve numbers against TR-55, NEH 630.10 and an abstract of 21 planted roofs."""

import numpy as np

from runoff.findings.curve_number import (
    curve_number_runoff,
    event_curve_number,
    event_retention,
    potential_retention,
)
from runoff.units import convert
from tests.published.cases import each_row, hold, numbers, read_cases

INCH = 25.4
EVERY = ("V", "V+R", "R", "misprint")


@each_row(read_cases("tr55_table_2_1.csv", statuses=EVERY))
def test_runoff_of_tr55_table_2_1(row: dict) -> None:
    hold(curve_number_runoff(float(row["rain_in"]) * INCH, float(row["curve_number"])) / INCH, row)


@each_row(read_cases("curve_number_examples.csv"))
def test_examples_of_tr55(row: dict) -> None:
    hold(curve_number_runoff(float(row["rain_in"]) * INCH, float(row["curve_number"])) / INCH, row)


@each_row(read_cases("neh630_10.csv"))
def test_examples_of_neh_630(row: dict) -> None:
    given = np.array(numbers(row["curve_number"]))
    rain = float(row["rain_in"] or 0.0) * INCH
    if row["quantity"] == "mean runoff":
        runoff = [curve_number_runoff(rain, number) / INCH for number in given]
        hold(np.average(runoff, weights=numbers(row["areas"])), row)
    elif row["quantity"] == "runoff":
        hold(curve_number_runoff(rain, given[0]) / INCH, row)
    else:
        share = 0.2 if row["quantity"] == "abstraction" else 1.0
        hold(potential_retention(given[0]) * share / INCH, row)


@each_row(read_cases("curve_number_si.csv"))
def test_runoff_in_millimetres(row: dict) -> None:
    number = float(row["curve_number"])
    if row["quantity"] == "runoff":
        hold(curve_number_runoff(float(row["rain_mm"]), number), row)
    else:
        hold(potential_retention(number) * (0.2 if row["quantity"] == "abstraction" else 1.0), row)


@each_row(read_cases("curve_number_inverse.csv"))
def test_curve_number_of_a_measured_storm(row: dict) -> None:
    rain, runoff = (convert(float(row[name]), row["unit"], "mm") for name in ("rain", "runoff"))
    if row["quantity"] == "retention":
        retention = event_retention(rain, runoff, initial_abstraction_ratio=float(row["ratio"]))
        hold(convert(retention, "mm", row["unit"]), row)
    else:
        hold(event_curve_number(rain, runoff), row)
