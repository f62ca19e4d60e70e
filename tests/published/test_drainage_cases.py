"""Roof drainage against code tables, printed examples and recomputed outlet and pipe forms."""

import runoff
from runoff.balance.outlet_flow import flow, rectangular_outlet, round_outlet, vertical_pipe_flow
from runoff.roof.loads import rain_load_kn_per_m2
from runoff.sizing.drainage_codes import (
    horizontal_drain_l_per_s,
    planted_coefficient,
    rational_flow,
    vertical_pipe_l_per_s,
)
from runoff.units import convert
from tests.published.cases import each_row, hold, read_cases


def area_ft2(litres_per_s: float, inches_per_hour: str) -> float:
    """Return the roof area whose rational flow with C = 1 is this, in ft2."""
    per_ft2 = rational_flow(convert(1.0, "ft2", "m2"), convert(float(inches_per_hour), "in/h", "mm/h"))
    return litres_per_s / per_ft2


@each_row(read_cases("vertical_leaders.csv"))
def test_vertical_leaders(row: dict) -> None:
    litres = vertical_pipe_l_per_s(convert(float(row["diameter_in"]), "in", "mm"), edition=row["edition"])
    found = convert(litres, "L/s", "gpm") if row["quantity"] == "flow" else area_ft2(litres, row["rate_in_per_h"])
    hold(found, row)


@each_row(read_cases("horizontal_drains.csv", statuses=("V", "R", "apart")))
def test_horizontal_drains(row: dict) -> None:
    litres = horizontal_drain_l_per_s(
        convert(float(row["bore_in"]), "in", "mm"), float(row["fall_in_per_ft"]) / 12.0, edition=row["edition"]
    )
    found = convert(litres, "L/s", "gpm") if row["quantity"] == "flow" else area_ft2(litres, row["rate_in_per_h"])
    hold(found, row)


@each_row(read_cases("din_coefficients.csv"))
def test_coefficients_of_din_1986_100(row: dict) -> None:
    hold(planted_coefficient(float(row["depth_mm"]), float(row["fall"]), mean=row["quantity"] == "mean"), row)


@each_row(read_cases("rational_method.csv"))
def test_rational_method(row: dict) -> None:
    # Ex. 5.5 US is printed with 1 for the factor 1.00833 of ft3/s, in/h and acres: hence its tolerance of 1 ft3/s
    intensity = convert(float(row["intensity"]), row["intensity_unit"], "mm/h")
    if row["quantity"] == "same flow, area":
        given = rational_flow(
            convert(float(row["given_area"]), "ft2", "m2"), convert(float(row["given_intensity"]), "in/h", "mm/h")
        )
        hold(area_ft2(given, row["intensity"]), row)
        return
    litres = rational_flow(
        convert(float(row["area"]), row["area_unit"], "m2"), intensity, coefficient=float(row["coefficient"])
    )
    if row["flow_unit"] == "L in 15 min":
        hold(litres * 900.0, row)
    elif row["flow_unit"] == "gal/h":
        hold(convert(litres, "L/s", "gpm") * 60.0, row)
    else:
        hold(convert(litres, "L/s", row["flow_unit"]), row)


@each_row(read_cases("rain_load.csv"))
def test_rain_load(row: dict) -> None:
    load = rain_load_kn_per_m2(
        depth_to_overflow_mm=float(row["static_mm"]), head_over_overflow_mm=float(row["head_mm"])
    )
    # the two forms of the code, 5.2 and 0.0098, differ by 0.1 %: hence the tolerance of the US rows
    hold(convert(load, "kN/m2", row["unit"]), row)


@each_row(read_cases("en12056_outlets.csv"))
def test_outlets_of_en_12056_3(row: dict) -> None:
    size, strainer = float(row["size_mm"]), row["strainer"] == "yes"
    law = (
        round_outlet(size, strainer=strainer)
        if row["kind"] == "round"
        else rectangular_outlet(size, float(row["height_mm"]), strainer=strainer)
    )
    hold(flow(float(row["head_mm"]), [law]), row)


@each_row(read_cases("en12056_pipes.csv"))
def test_pipes_of_en_12056_3(row: dict) -> None:
    hold(vertical_pipe_flow(float(row["diameter_mm"]), filling=float(row["filling"])), row)


@each_row(read_cases("flood_test.csv"))
def test_water_of_a_flood_test(row: dict) -> None:
    deck = runoff.Roof(
        build_up=runoff.BuildUp(layers=[runoff.GrowingMedium(depth_mm=80.0), runoff.DrainageBoard()]),
        area_m2=float(row["area_m2"]),
        fall=float(row["fall"]),
        flow_length_m=float(row["flow_length_m"]),
    )
    found = runoff.flood_test(deck, high_point_mm=float(row["high_edge_mm"]), falls=row["falls"])
    hold({"level": found.low_end_mm, "volume": found.volume_m3, "load": found.mean_mm}[row["quantity"]], row)
