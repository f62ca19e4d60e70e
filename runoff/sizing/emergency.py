"""When no primary outlet works: how high water stands, over what it leaves, and the load of that rain.

Every primary outlet counts as blocked and its flow as none; of an edge over which the roof drains a share of the length
stays. As the codes ask, the emergency overflow must then pass the same rain as the primary drainage: the heaviest rain of the
storm on the whole roof, with no credit for planting or storage. Nothing is assumed about it: where its opening is not
described, or there is none, the water is followed to the edge. The run with everything blocked stands beside it: what spills
once the roof is full, never more.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from runoff.balance.outlet_flow import OutletLaw, flow, head_for_flow, rectangular_outlet
from runoff.errors import SizingError
from runoff.roof import Outlet, Roof
from runoff.roof.column_values import outlet_laws
from runoff.roof.levels import edge_level
from runoff.roof.loads import ponding, rain_load_kn_per_m2
from runoff.roof.losing_outlets import EDGE_LEFT, with_outlets
from runoff.saying.scales import both
from runoff.simulation import storm_flows
from runoff.sizing.drainage_codes import ASK_AN_ENGINEER, SMALLEST_SCUPPER_MM, rational_flow
from runoff.units import to_intensity
from runoff.weather.record.frames import as_weather

RAIN_LOAD_CAUTION = (
    "The rain load is that of standing water alone, as if no build-up took up room, beside snow and people. Whether the structure can "
    "carry them, and how far it sags under ponded water, is for a licensed structural engineer under the local code."
)


@dataclasses.dataclass(frozen=True, kw_only=True)
class EmergencyState:
    """The roof with every primary outlet blocked.

    Parameters
    ----------
    roof
        The roof that was judged: with the opening of its emergency overflow, where one was given apart.
    flow_l_per_s
        The design peak, L/s: the heaviest rain of the storm on the whole area and what runs on to it. Overflow or edge must
        pass it.
    spilled_l_per_s
        Largest flow that left in the run, L/s: the roof filled first.
    run_depth_mm
        Largest depth over the deck in that run, mm.
    head_mm
        Head over the sill, mm; missing where there is no overflow, or its opening is not described.
    depth_mm
        Depth of water over the deck that passes the design peak, mm: sill and head, or the edge.
    words
        Up to where the water stands, and why there.
    rain_load_kn_per_m2
        ``0.0098 x depth``: load of the water alone (International Building Code, section 1611.1; ASCE 7).
    drowned
        Whether the head is more than the opening is high.
    over_edge
        Whether the water reaches the edge and runs over it.
    notes
        What a reader must know: rules not met, cautions.
    """

    roof: Roof
    flow_l_per_s: float
    spilled_l_per_s: float
    run_depth_mm: float
    head_mm: float
    depth_mm: float
    words: str
    rain_load_kn_per_m2: float
    drowned: bool
    over_edge: bool
    notes: tuple[str, ...]

    @property
    def sill_mm(self) -> float:
        """Level of the emergency overflow above the deck, mm; missing where the roof has none."""
        sill = self.roof.emergency_overflow_mm
        return math.nan if sill is None else sill


def contributing_area_m2(roof: Roof) -> float:
    """Return the area whose rain the outlets must take, m2: the roof and what runs on to it."""
    return roof.area_m2 + roof.run_on_area_m2


def overflow_alone(
    roof: Roof, storm: Any, *, overflow: Outlet | None = None, edge_left: float = EDGE_LEFT, **start: Any
) -> EmergencyState:
    """Run a storm with every primary outlet blocked.

    Parameters
    ----------
    roof
        The roof: sill and opening of its emergency overflow, its edge.
    storm
        Rain in steps of 1 min to 1 h. Codes ask for at least the 100-year rain of 15 minutes
        (`runoff.sizing.drainage_codes.SECONDARY_RULES`).
    overflow
        A clear rectangular opening in place of the one described; default that of the roof.
    edge_left
        Share of the length of an `edge` outlet that still drains, 0-1.
    **start
        ``start_moisture`` and ``climate`` of `runoff.simulate`.

    Returns
    -------
    EmergencyState
        Flow (L/s), depth over the deck and head over the sill (mm), rain load (kN/m2), and what to know of them.

    Raises
    ------
    SizingError
        When the opening is not rectangular, wider than the roof's edge, or has no sill to lie on.
    """
    judged = with_opening(roof, overflow)
    run = storm_flows([all_blocked(judged, edge_left)], storm, ("discharge", "largest_depth_on_deck_mm"), **start).kept
    intensity = float(to_intensity(as_weather(storm)["rain"]).max())
    peak = float(rational_flow(contributing_area_m2(roof), intensity))
    depth, flow = (float(run[name].max()) for name in ("largest_depth_on_deck_mm", "discharge"))
    return state_after(judged, peak, depth, flow, edge_left=edge_left)


def all_blocked(roof: Roof, edge_left: float) -> Roof:
    """Return the roof with every outlet blocked; of an edge a share of the length stays."""
    edges = edges_left(roof, edge_left)
    return with_outlets(roof, outlets=edges) if edges else with_outlets(roof, blocked_fraction=1.0)


def edges_left(roof: Roof, edge_left: float) -> tuple[Outlet, ...]:
    """Return what drains when every outlet is blocked: of each edge a share of its length."""
    return tuple(
        one.model_copy(update={"length_mm": one.length_mm * edge_left})
        for one in roof.outlets
        if one.length_mm is not None and edge_left > 0.0
    )


def state_after(
    judged: Roof, peak: float, run_depth_mm: float, spilled_l_per_s: float, *, edge_left: float
) -> EmergencyState:
    """Form the state with every outlet blocked from a run that is done.

    Parameters
    ----------
    judged
        The roof, with the opening of its emergency overflow (`with_opening`).
    peak
        Design peak, L/s.
    run_depth_mm, spilled_l_per_s
        Largest depth over the deck, mm, and largest flow, L/s, of the storm over ``all_blocked(judged, edge_left)``.
    edge_left
        As in `overflow_alone`.

    Returns
    -------
    EmergencyState
        As `overflow_alone`.
    """
    edges = edges_left(judged, edge_left)
    opening = opening_law(judged)
    head = float(head_for_flow(peak, [opening])) if opening else math.nan
    ponded = ponding(judged, head_mm=None if math.isnan(head) else head)
    depth, words = ponded.level_mm, ponded.words
    if edges:
        depth, words = _over_edges(judged, peak, outlet_laws(edges), opening, depth, edge_left)
        # a drainage layer that holds water back may keep it higher than the edge would: the deeper of the two counts
        if run_depth_mm > depth:
            depth, words = run_depth_mm, "in the routed storm, since the drainage layer holds it back"
        head = max(0.0, depth - (judged.emergency_overflow_mm or 0.0)) if opening else math.nan
    over_edge = depth >= edge_level(judged) - 1e-9
    return EmergencyState(
        roof=judged,
        flow_l_per_s=peak,
        spilled_l_per_s=spilled_l_per_s,
        run_depth_mm=run_depth_mm,
        head_mm=head,
        depth_mm=depth,
        words=words,
        rain_load_kn_per_m2=rain_load_kn_per_m2(depth_to_overflow_mm=depth, head_over_overflow_mm=0.0),
        drowned=bool(opening and head > (judged.emergency_height_mm or math.inf)),
        over_edge=over_edge,
        notes=(*_notes(judged, head, over_edge, bool(edges)), RAIN_LOAD_CAUTION, ASK_AN_ENGINEER),
    )


def opening_law(roof: Roof) -> OutletLaw | None:
    """Return the law of the emergency overflow's opening; None where there is none, or it is not described."""
    if roof.emergency_overflow_mm is None or roof.emergency_width_mm is None or roof.emergency_height_mm is None:
        return None
    return rectangular_outlet(roof.emergency_width_mm, roof.emergency_height_mm)


def with_opening(roof: Roof, overflow: Outlet | None) -> Roof:
    """Return the roof with another opening of its emergency overflow, or as it is where none is given; see `overflow_alone`."""
    if overflow is None:
        return roof
    if overflow.width_mm is None or overflow.height_mm is None:
        raise SizingError(
            f"overflow_alone: the opening of an emergency overflow is rectangular, give width_mm and height_mm (given "
            f"{overflow.words})"
        )
    if roof.emergency_overflow_mm is None:
        raise SizingError(
            "overflow_alone: an opening is given, but the roof has no emergency overflow; write emergency_overflow_mm, the height "
            "of its sill above the deck"
        )
    width, edge_mm = overflow.width_taken_mm, 4000.0 * roof.area_m2**0.5
    if width > edge_mm:
        raise SizingError(
            f"overflow_alone: the overflow is {width:g} mm wide, the whole edge of a square roof of {roof.area_m2:g} m2 is "
            f"{edge_mm:g} mm; give its width in mm"
        )
    return with_outlets(roof, emergency_width_mm=width, emergency_height_mm=overflow.height_mm)


def _over_edges(
    roof: Roof, peak: float, edges: list[OutletLaw], opening: OutletLaw | None, ponded_mm: float, left: float
) -> tuple[float, str]:
    """Return how high water stands where a share of an edge still drains, and why there."""
    from scipy.optimize import brentq  # takes long to load, and few roofs drain over an edge

    sill = roof.emergency_overflow_mm or 0.0

    def passed(depth_mm: float) -> float:
        over = float(flow(max(0.0, depth_mm - sill), [opening])) if opening else 0.0
        return float(flow(depth_mm, edges)) + over

    words = f"over {100.0 * left:.0f} % of the length of the edge"
    if passed(ponded_mm) <= peak:
        return ponded_mm, f"ponded to the edge: {words} too little leaves"
    return float(brentq(lambda depth: passed(depth) - peak, 0.0, ponded_mm, xtol=1e-10)), words


_NO_OVERFLOW = (
    "The roof has no emergency overflow: with every outlet blocked, water stands on the medium and runs over the edge, "
    "wherever that is lowest. Codes ask for secondary drainage wherever the edge can hold water back (International "
    "Plumbing Code, section 1108.1)."
)
_NO_OPENING = (
    "The opening of the emergency overflow is not described, so it is not counted on and the water is followed to the edge: "
    "give emergency_width_mm and emergency_height_mm."
)


def _notes(roof: Roof, head_mm: float, over_edge: bool, by_edge: bool) -> list[str]:
    if roof.emergency_overflow_mm is None:
        return [] if by_edge and not over_edge else [_NO_OVERFLOW]
    if roof.emergency_width_mm is None or roof.emergency_height_mm is None:
        return [_NO_OPENING]
    notes = []
    least = min(roof.emergency_width_mm, roof.emergency_height_mm)
    if least < SMALLEST_SCUPPER_MM:
        notes.append(
            f"The overflow opens {both(least, 'mm', 'layer depth')}; codes ask for at least 102 mm (4 in) (International "
            "Building Code 2021, section 1502.3)."
        )
    if head_mm > roof.emergency_height_mm:
        notes.append(
            f"The head over the sill ({both(head_mm, 'mm', 'level')}) is more than the opening is high "
            f"({both(roof.emergency_height_mm, 'mm', 'layer depth')}): it runs drowned. Make it wider."
        )
    if over_edge:
        notes.append(
            "The head over the emergency overflow reaches the edge, and water runs over it, wherever that is lowest. Make the "
            "opening wider."
        )
    return notes
