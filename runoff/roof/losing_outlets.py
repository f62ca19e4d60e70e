"""Which outlets are left when some are lost: those go that take most; of edges alone a share of the length stays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from runoff.balance.outlet_flow import flow
from runoff.roof.column_values import outlet_law

if TYPE_CHECKING:
    from collections.abc import Sequence

    from runoff.roof.description import Outlet, Roof

#: Share of the length of an edge that still drains when it counts as blocked (an input; common practice, no source).
EDGE_LEFT = 0.5


def pieces_left(outlets: Sequence[Outlet], lost: int, depth_mm: float, edge_left: float = EDGE_LEFT) -> list[float]:
    """Return how many of each kind are left with some lost: those go that take most at a depth.

    Parameters
    ----------
    outlets
        All of them.
    lost
        How many go. An edge cannot be lost; where there is nothing but edges, a share of their length stays instead.
    depth_mm
        Depth at which they are compared, mm.
    edge_left
        That share.

    Returns
    -------
    list of float
        Number left of each kind, in the order of `outlets`; of edges alone the number times the share of their length.
    """
    left = [float(one.count) for one in outlets]
    if is_edge_alone(outlets):
        return [number * edge_left for number in left] if lost else left
    can_go = sorted(
        (i for i, one in enumerate(outlets) if one.kind != "edge"),
        key=lambda i: -float(flow(depth_mm, [outlet_law(outlets[i])])),
    )
    for i in can_go:
        gone = min(lost, left[i])
        left[i], lost = left[i] - gone, int(lost - gone)
    return left


def loss_faults(outlets: Sequence[Outlet], lost: int) -> list[str]:
    """Say that more outlets are lost than there are; nothing of edges alone, which lose length, or where there are none."""
    there = sum(one.count for one in outlets if one.kind != "edge")
    if not there or lost <= there:
        return []
    beside = " beside its edge" if any(one.kind == "edge" for one in outlets) else ""
    has = f"the roof has {there} outlet{'s' if there > 1 else ''}{beside}"
    return [
        f"lost must be from 0 to {there}, {has} (given {lost}); take fewer as lost, or describe all outlets of the roof"
    ]


def outlets_left(
    outlets: Sequence[Outlet], lost: int, depth_mm: float, edge_left: float = EDGE_LEFT
) -> tuple[Outlet, ...]:
    """Return what is left of the outlets with some lost; see `pieces_left`.

    Parameters
    ----------
    outlets, lost, depth_mm, edge_left
        As in `pieces_left`; the depth in mm, the share of an edge's length 0-1.

    Returns
    -------
    tuple of Outlet
        Kinds of which some are left; an edge keeps its count and loses length.
    """
    left = pieces_left(outlets, lost, depth_mm, edge_left)
    return tuple(
        one.model_copy(update={"length_mm": one.length_mm * number / one.count})
        if one.length_mm is not None
        else one.model_copy(update={"count": int(number)})
        for one, number in zip(outlets, left, strict=True)
        if number > 0.0
    )


def is_edge_alone(outlets: Sequence[Outlet]) -> bool:
    """Tell whether a roof drains over edges and nothing else."""
    return bool(outlets) and all(one.kind == "edge" for one in outlets)


def with_outlets(roof: Roof, **changes: Any) -> Roof:
    """Return the roof with some of its own fields replaced, validated again."""
    return type(roof)(**{**{name: getattr(roof, name) for name in type(roof).model_fields}, **changes})


def drained_with_loss(roof: Roof, lost: int, depth_mm: float) -> tuple[tuple[Outlet, ...], float]:
    """Return what drains a roof with outlets lost; with none left, or nothing described, its drainage counts as blocked.

    Parameters
    ----------
    roof
        The roof, all outlets open.
    lost
        How many outlets go.
    depth_mm
        Depth at which they are compared, mm.

    Returns
    -------
    outlets, blocked
        The outlets, and the blocked share of the whole drainage.
    """
    left = outlets_left(roof.outlets, lost, depth_mm)
    return (left, roof.blocked_fraction) if left else (roof.outlets, 1.0)
