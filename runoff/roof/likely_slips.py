"""What in a roof file was likely not meant: sizes of the other unit, a count or a fall left out, water that runs too far."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from runoff.roof.faults import shown
from runoff.roof.levels import edge_level

#: Most area one outlet serves where its count is left out, m2 (common practice, no source).
AREA_PER_OUTLET_M2 = 150.0
#: Longest flow length that is not questioned, in sides of a square roof of the same area.
SIDES_OF_A_SQUARE = 2.0


_MM_PER_IN = 25.4


class _Usual(NamedTuple):
    """Sizes between which a quantity usually lies, mm, and what it is called."""

    least: float
    most: float
    words: str


_MEDIUM = _Usual(20.0, 1000.0, "depth")
_OUTLET = {
    "diameter_mm": _Usual(25.0, 1000.0, "size"),
    "width_mm": _Usual(25.0, 10_000.0, "size"),
    "height_mm": _Usual(15.0, 1000.0, "size"),
    "length_mm": _Usual(200.0, math.inf, "size"),
}
_ROOF = {
    "edge_height_mm": _Usual(50.0, 3000.0, "height"),
    "emergency_overflow_mm": _Usual(20.0, 1000.0, "height"),
    "emergency_width_mm": _Usual(50.0, 10_000.0, "size"),
    "emergency_height_mm": _Usual(25.0, 1000.0, "size"),
}


def doubts(roof: Any, written: Mapping[str, Any]) -> Iterator[str]:
    """Yield a question for everything in a roof file that was likely not meant.

    Parameters
    ----------
    roof
        The roof that was read.
    written
        The tables of the file, as they stand there.
    """
    for number, table in enumerate(written["layer"], start=1):
        if table["kind"] == "medium":
            yield from _unusual(f"layer {number} (medium)", table, "depth_mm", roof.build_up.medium.depth_mm, _MEDIUM)
    of_roof = written["roof"]
    for key, usual in _ROOF.items():
        yield from _unusual("[roof]", of_roof, key, getattr(roof, key), usual)
    side = math.sqrt(roof.area_m2)
    if roof.flow_length_m > SIDES_OF_A_SQUARE * side:
        yield (
            f"[roof], flow_length_m is {roof.flow_length_m:g} m, more than twice the side of a square roof of {roof.area_m2:g} m2 "
            f"({side:.3g} m): is it the longest way of water to an outlet?"
        )
    if "fall" not in of_roof:
        yield f"[roof], fall is not given and taken as {roof.fall:g}: write the fall of the deck, 0 for a level one"
    if "outlets" not in of_roof and roof.area_m2 > AREA_PER_OUTLET_M2:
        yield (
            f"[roof], no outlets are described and {roof.outlets[0].words} is taken, which serves {roof.area_m2:g} m2: write a table "
            "[[roof.outlets]] for each kind, or outlets = [] where there is none"
        )
    yield from _of_outlets(roof, of_roof.get("outlets", []))
    yield from _above_the_edge(roof)


def _above_the_edge(roof: Any) -> Iterator[str]:
    """Question openings that reach above the edge: the part above it is no opening."""
    edge = edge_level(roof)
    for number, outlet in enumerate(roof.outlets, start=1):
        if outlet.height_mm is not None and outlet.height_mm > edge:
            yield (
                f"outlet {number} is {outlet.height_mm:g} mm high and reaches above the edge, {edge:g} mm over the deck: lower it, or "
                "write edge_height_mm"
            )
    if roof.emergency_height_mm is not None and roof.emergency_overflow_mm + roof.emergency_height_mm > edge:
        top = roof.emergency_overflow_mm + roof.emergency_height_mm
        yield (
            f"[roof], the opening of the emergency overflow ends {top:g} mm over the deck, above the edge at {edge:g} mm: lower it, or "
            "write edge_height_mm"
        )


def _of_outlets(roof: Any, tables: list[Mapping[str, Any]]) -> Iterator[str]:
    for number, (table, outlet) in enumerate(zip(tables, roof.outlets if tables else (), strict=True), start=1):
        for key, usual in _OUTLET.items():
            yield from _unusual(f"outlet {number}", table, key, getattr(outlet, key), usual)
        served = roof.area_m2 / sum(one.count for one in roof.outlets)
        if "count" not in table and outlet.kind != "edge" and served > AREA_PER_OUTLET_M2:
            yield (
                f"outlet {number}, count is not given and taken as 1, so that one outlet serves {served:.0f} m2: write how many "
                "there are"
            )


def _unusual(where: str, table: Mapping[str, Any], key: str, value: float | None, usual: _Usual) -> Iterator[str]:
    """Question a size outside what is usual; the likely reason is the other unit."""
    us_key = f"{key.removesuffix('_mm')}_in"
    used, other = (us_key, key) if us_key in table else (key, us_key)
    if value is None or used not in table or usual.least <= value <= usual.most:
        return
    in_other = value * _MM_PER_IN if other == us_key else value / _MM_PER_IN
    meant = "check the number"  # where the other unit would be no likelier
    if usual.least <= in_other <= usual.most:
        meant = f"if another unit is meant, write {other} = {shown(table[used])}"
    yield f"{where}, {used} = {shown(table[used])} is an unusual {usual.words} ({value:.0f} mm); {meant}"
