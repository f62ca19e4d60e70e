"""How deep water stands at the outlets of a planted roof during a run in minutes.

The run's own ``water_depth_on_deck_mm`` is the level of all free water, mobile water in the medium included as soon as
the board is full. Most of that water is still on its way down and stands nowhere. What stands at the outlets follows
from what they pass: the head that drives the largest flow. Where the drainage layer and not the outlets limits the flow,
water does back up in the layer, and the level of the run holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from runoff.balance.outlet_flow import OutletLaw, head_for_flow, rectangular_outlet, round_outlet
from runoff.errors import StormError
from runoff.roof.column_values import in_plane_rate

if TYPE_CHECKING:
    from runoff.roof import Outlet, Roof

_SAME_RATE = 0.999  # a flow this close to the in-plane limit is limited by it


def outlet_laws(outlets: Sequence[Outlet]) -> list[OutletLaw]:
    """Return the laws of described outlets, one per piece (EN 12056-3 forms)."""
    return [_law(outlet) for outlet in outlets for _ in range(outlet.count)]


def _law(outlet: Outlet) -> OutletLaw:
    if outlet.kind == "round":
        return round_outlet(outlet.diameter_mm or 0.0, strainer=outlet.strainer)
    return rectangular_outlet(outlet.width_mm or 0.0, outlet.height_mm or 0.0, strainer=outlet.strainer)


def depth_at_outlets(run: xr.Dataset, roof: Roof) -> np.ndarray:
    """Return the largest depth of water at the outlets within each step, mm above the deck, shape ``(time,)``.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for this roof alone, in steps of 1 min to 1 h.
    roof
        The roof of the run.

    Raises
    ------
    StormError
        When the run is not in minutes.
    """
    if "largest_drained_rate" not in run:
        raise StormError("depth_at_outlets: the run is daily; a depth at the outlets needs steps of 1 min to 1 h")
    level = run["largest_depth_on_deck_mm"].to_numpy()
    open_share = 1.0 - roof.blocked_fraction
    laws = outlet_laws(roof.outlets)
    if not laws or open_share <= 0.0:
        return level
    rate = run["largest_drained_rate"].to_numpy()
    head = head_for_flow(rate / open_share * roof.area_m2 / 3600.0, laws)
    layer_limits = rate >= _SAME_RATE * open_share * in_plane_rate(roof)
    return np.where(layer_limits, level, np.minimum(level, head))
