"""Conversions of the trade against exact definitions and printed figures."""

from runoff.units import convert
from tests.published.cases import each_row, hold, read_cases


@each_row(read_cases("unit_conversions.csv"))
def test_conversion(row: dict) -> None:
    if row["times"] == "water":  # a volume of water as a mass: 1 L is 1 kg
        hold(convert(convert(float(row["value"]), row["given"], "L"), "kg", row["wanted"]), row)
        return
    found = convert(float(row["value"]), row["given"], row["wanted"])
    if row["times"]:  # a depth or an intensity on so much area: mm x m2 = L, mm/h x m2 = L/h
        area, wanted = row["times"].split()
        litres = found * convert(1.0, area, "m2")
        found = convert(litres, "L", wanted) if row["wanted"] == "mm" else convert(litres / 3600.0, "L/s", wanted)
    hold(found, row)
