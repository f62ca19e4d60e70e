"""When no primary outlet works: how high water stands over the emergency overflow, and the load of that rain.

Every primary outlet counts as blocked and its flow as none. As the codes ask, the overflow must then pass the same rain
as the primary drainage: the heaviest rain of the storm on the whole roof, with no credit for planting or storage. The
run with everything blocked stands beside it: what spills once the roof is full, never more.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Any

from runoff.balance.outlet_flow import head_for_flow
from runoff.errors import SizingError, raise_faults
from runoff.roof import Outlet, Roof
from runoff.roof.column_values import outlet_laws
from runoff.roof.loads import rain_load_kn_per_m2
from runoff.saying.scales import both
from runoff.simulation import simulate
from runoff.sizing.drainage_codes import ASK_AN_ENGINEER, SMALLEST_SCUPPER_MM, rational_flow
from runoff.units import to_intensity

if TYPE_CHECKING:
    from collections.abc import Mapping

#: The overflow that is tried when none is given: one clear opening of 300 x 102 mm in the upstand (own choice).
DEFAULT_OVERFLOW = Outlet(kind="rectangular", width_mm=300.0, height_mm=SMALLEST_SCUPPER_MM, strainer=False)
RAIN_LOAD_CAUTION = (
    "The rain load is that of standing water alone, as if no build-up took up room, beside snow and people. Whether the structure can "
    "carry them, and how far it sags under ponded water, is for a licensed structural engineer under the local code."
)


@dataclasses.dataclass(frozen=True, kw_only=True)
class EmergencyState:
    """The roof with every primary outlet blocked.

    Parameters
    ----------
    sill_mm
        Level of the emergency overflow above the deck, mm; missing when the roof has none.
    flow_l_per_s
        Flow it must pass, L/s: the heaviest rain of the storm on the whole area.
    spilled_l_per_s
        Largest flow that left over it in the run, L/s: the roof filled first.
    head_mm
        Head over the sill that drives this flow, mm.
    depth_mm
        Largest depth of water over the deck, mm.
    rain_load_kn_per_m2
        ``0.0098 (sill + head)``: load of the water alone (International Building Code, section 1611.1; ASCE 7).
    notes
        What a reader must know: rules not met, cautions.
    """

    sill_mm: float
    flow_l_per_s: float
    spilled_l_per_s: float
    head_mm: float
    depth_mm: float
    rain_load_kn_per_m2: float
    notes: tuple[str, ...]


def with_outlets(roof: Roof, **changes: Any) -> Roof:
    """Return the roof with some of its own fields replaced, validated again."""
    fields: Mapping[str, Any] = {name: getattr(roof, name) for name in Roof.model_fields}
    return Roof(**{**fields, **changes})


def overflow_alone(roof: Roof, storm: Any, *, overflow: Outlet | None = None, **start: Any) -> EmergencyState:
    """Run a storm with every primary outlet blocked.

    Parameters
    ----------
    roof
        The roof; its ``emergency_overflow_mm`` is the sill of the overflow.
    storm
        Rain in steps of 1 min to 1 h. Codes ask for at least the 100-year rain of 15 minutes
        (`runoff.sizing.drainage_codes.SECONDARY_RULES`).
    overflow
        The opening or openings; default one clear scupper of 300 x 102 mm.
    **start
        ``start_moisture`` and ``climate`` of `runoff.simulate`.

    Raises
    ------
    SizingError
        When the overflow is wider than the roof's edge.
    """
    opening = overflow or DEFAULT_OVERFLOW
    raise_faults("overflow_alone", _opening_faults(opening, roof), SizingError)
    run = simulate(with_outlets(roof, blocked_fraction=1.0), storm, **start)
    intensity = float(to_intensity(run["rain"]).max())
    flow, spilled = float(rational_flow(roof.area_m2, intensity)), float(run["discharge"].max())
    if roof.emergency_overflow_mm is None:
        return EmergencyState(
            sill_mm=math.nan,
            flow_l_per_s=flow,
            spilled_l_per_s=spilled,
            head_mm=math.nan,
            depth_mm=float(run["largest_depth_on_deck_mm"].max()),
            rain_load_kn_per_m2=math.nan,
            notes=(_NO_OVERFLOW, ASK_AN_ENGINEER),
        )
    head = float(head_for_flow(flow, outlet_laws([opening])))
    sill = roof.emergency_overflow_mm
    load = rain_load_kn_per_m2(depth_to_overflow_mm=sill, head_over_overflow_mm=head)
    return EmergencyState(
        sill_mm=sill,
        flow_l_per_s=flow,
        spilled_l_per_s=spilled,
        head_mm=head,
        depth_mm=sill + head,
        rain_load_kn_per_m2=load,
        notes=(*_opening_notes(opening, head), RAIN_LOAD_CAUTION, ASK_AN_ENGINEER),
    )


_NO_OVERFLOW = (
    "The roof has no emergency overflow: with every outlet blocked, water stands on the medium and runs over the edge, "
    "wherever that is lowest. Codes ask for secondary drainage wherever the edge can hold water back (International "
    "Plumbing Code, section 1108.1)."
)


def _opening_faults(opening: Outlet, roof: Roof) -> list[str]:
    edge_mm = 4000.0 * roof.area_m2**0.5
    width = (opening.width_mm or opening.diameter_mm or 0.0) * opening.count
    if width <= edge_mm:
        return []
    return [
        f"the overflow is {width:g} mm wide, the whole edge of a square roof of {roof.area_m2:g} m2 is {edge_mm:g} mm; "
        "give its width in mm"
    ]


def _opening_notes(opening: Outlet, head_mm: float) -> list[str]:
    notes = []
    least = min(size for size in (opening.width_mm, opening.height_mm, opening.diameter_mm) if size is not None)
    if opening.kind == "rectangular" and least < SMALLEST_SCUPPER_MM:
        notes.append(
            f"The overflow opens {both(least, 'mm', 'layer depth')}; codes ask for at least 102 mm (4 in) (International "
            "Building Code 2021, section 1502.3)."
        )
    if opening.height_mm is not None and head_mm > opening.height_mm:
        notes.append(
            f"The head over the sill ({both(head_mm, 'mm', 'level')}) is more than the opening is high "
            f"({both(opening.height_mm, 'mm', 'layer depth')}): it "
            "runs drowned. Make it wider."
        )
    return notes
