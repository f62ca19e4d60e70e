"""The outline of a roof cut along its fall, for pictures of a lesson: heights, drop, stores."""

from __future__ import annotations

from typing import NamedTuple

from runoff.roof import Roof, column_parameters


class Shape(NamedTuple):
    """What a drawing needs of a roof: heights and the drop of the deck, mm; length, m; stores, mm."""

    below: float
    medium: float
    mulch: float
    drop: float
    length: float
    edge: float
    cups: float
    field: float
    wilting: float


def shape_of(roof: Roof) -> Shape:
    """Return the outline of a roof."""
    column, mulch = column_parameters(roof), roof.build_up.layer("mulch")
    return Shape(
        below=float(column["board_height"]),
        medium=float(column["medium_depth"]),
        mulch=float(mulch.depth_mm) if mulch else 0.0,
        drop=1000.0 * float(roof.flow_length_m) * float(roof.fall),
        length=float(roof.flow_length_m),
        edge=float(column["edge_level"]),
        cups=float(column["cup_capacity"]),
        field=float(column["field_water"]),
        wilting=float(column["wilting_water"]),
    )
