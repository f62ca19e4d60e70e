"""What the roof keeps of one storm: storage capacity on a dry roof, and named rain events from stated wetness.

Two different claims, kept apart throughout: *capacity* is one full storm on a dry roof, *annual capture* is what
evapotranspiration made room for over all years. An event's capture lies between them and depends on how wet the roof is
when the rain begins, so it is computed from five starts: dry, three days of the record itself, and field capacity.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from runoff.balance.day_steps import ROUNDING_MM
from runoff.findings.curve_number import event_curve_number
from runoff.findings.events import WET_DAY_MM, event_starts
from runoff.findings.whole_roof import volume_m3
from runoff.simulation import kernel, last_stores, simulate
from runoff.storms.event_separation import percentile_event

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof

#: Named event -> depth, mm: 0.5, 0.75, 1, 1.1, 1.2, 1.25 and 1.5 in, the depths that public programmes ask for.
NAMED_EVENTS_MM = {
    "12.7": 12.7, "19.1": 19.05, "25.4": 25.4, "27.9": 27.94, "30.5": 30.48, "31.8": 31.75, "38.1": 38.1,
}  # fmt: skip
#: Label of the event that an office asks for.
ASKED = "asked"
#: The site's own events: percentile of daily rain.
PERCENTILES = (80, 85, 90, 95)
#: Wetness at the start of the rain, dry to wet.
STARTS = ("dry", "before-5", "before-50", "before-95", "field-capacity")

#: The event falls in one day; then water has the 48 h in which roofs are expected to drain (US model building codes).
_EVENT_DAYS = 3
_HELD = ("surface_water", "cup_water", "mat_water")


def storage_capacity(roofs: Roof | Sequence[Roof]) -> xr.Dataset:
    """Return what a dry roof can hold of one storm, part by part.

    Parameters
    ----------
    roofs
        One roof, or several: several give a dimension ``design``.

    Returns
    -------
    xarray.Dataset
        ``capacity_mm`` per planted area and its parts ``capacity_surface_mm`` (canopy and mulch),
        ``capacity_medium_mm`` (field capacity less wilting point), ``capacity_cups_mm``, ``capacity_mat_mm``;
        ``capacity_m3`` of the planted area and ``capacity_whole_roof_m3``, with the depression storage of the rest.
        Water on its way to the outlet (above field capacity, free in the board) is not counted.
    """
    from runoff.roof import Roof, column_parameters

    many = [roofs] if isinstance(roofs, Roof) else list(roofs)
    rows = [column_parameters(one) for one in many]
    parts = {
        "capacity_surface_mm": [row["surface_capacity"] for row in rows],
        "capacity_medium_mm": [row["field_water"] - row["wilting_water"] for row in rows],
        "capacity_cups_mm": [row["cup_capacity"] for row in rows],
        "capacity_mat_mm": [row["mat_capacity"] for row in rows],
    }
    figures = xr.Dataset({name: ("design", np.array(values, dtype=float), _MM) for name, values in parts.items()})
    figures["capacity_mm"] = sum((figures[name] for name in parts), xr.zeros_like(figures["capacity_mat_mm"]))
    planted = xr.DataArray([one.area_m2 * one.planted_fraction for one in many], dims="design")
    rest = xr.DataArray([one.area_m2 * (1.0 - one.planted_fraction) for one in many], dims="design")
    film = xr.DataArray([one.other_surface.depression_storage_mm for one in many], dims="design")
    figures["capacity_m3"] = volume_m3(figures["capacity_mm"], planted)
    figures["capacity_whole_roof_m3"] = figures["capacity_m3"] + volume_m3(film, rest)
    for name in figures.data_vars:
        figures[name].attrs = {"units": "m3" if str(name).endswith("m3") else "mm", "long_name": _WORDS[str(name)]}
    return figures.isel(design=0) if isinstance(roofs, Roof) else figures


def event_depths(rain: xr.DataArray, asked: tuple[str, float] | None = None) -> xr.Dataset:
    """Return the depths of the named events and of the site's own percentile events, mm, along ``event``.

    The percentile rule (threshold, definition, days kept) is in the attributes of ``event_depth_mm``. What is asked for,
    ``("depth", mm)`` or ``("percentile", percent)``, stands last under the label `ASKED`.
    """
    own = [percentile_event(rain, percentile) for percentile in PERCENTILES]
    depths = [*NAMED_EVENTS_MM.values(), *(float(one) for one in own)]
    labels = [*NAMED_EVENTS_MM, *(f"p{percentile}" for percentile in PERCENTILES)]
    if asked is not None:
        kind, amount = asked
        depths.append(amount if kind == "depth" else float(percentile_event(rain, amount)))
        labels.append(ASKED)
    rule = {name: own[0].attrs[name] for name in ("threshold", "definition", "days_kept", "days_dropped")}
    return xr.Dataset(
        {"event_depth_mm": ("event", depths, {**_MM, "long_name": "rain of the event", **rule})},
        coords={"event": labels},
    )


def capture_of_events(
    roof: Roof, run: xr.Dataset, existing: BareSurface, *, asked: tuple[str, float] | None = None
) -> xr.Dataset:
    """Return what the roof keeps of each event, from dry to wet starts.

    Parameters
    ----------
    roof
        The roof.
    run
        Its daily run: gives the wetness found before rain events, and the rain for the percentile events.
    existing
        The roof as it is.
    asked
        One event more: ``("depth", mm)`` or ``("percentile", percent)``, under the label `ASKED`.

    Returns
    -------
    xarray.Dataset
        On ``event`` and ``start``: ``event_capture_mm`` per planted area, ``event_capture_share``,
        ``event_roof_capture_m3`` of the whole roof, ``event_runoff_coefficient`` of the whole roof and
        ``event_curve_number`` (missing where nothing runs off). On ``event``: ``event_depth_mm``,
        ``event_bare_capture_m3``, ``event_bare_curve_number``, ``event_avoided_m3`` (from the typical start, against the roof as it is). On
        ``start``: ``start_water_mm``, the water already held above the wilting point.

    Notes
    -----
    The rain falls in one day and nothing evaporates; two further days let the roof drain. Water that has not drained by
    then is not counted as kept.
    """
    figures = event_depths(run["rain"], asked)
    depth = figures["event_depth_mm"]
    states = wetness_before_events(run)
    kept, kept_roof, held_before = [], [], []
    for start in STARTS:
        state = states.sel(start=start, drop=True) if start in states["start"] else None
        given: dict[str, Any] = {"start_state": state} if state is not None else {"start_moisture": start}
        one = simulate(roof, _one_event(depth), comparison=existing, warm_up_years=0, **given)
        one = one.rename(member="event").assign_coords(event=depth["event"])
        loose_before = 0.0 if state is None else _loose_water(state, one)
        planted = depth - one["overflow"].sum("time") - _loose_water(one.isel(time=-1), one) + loose_before
        other = depth - one["other_overflow"].sum("time")
        bare = depth - one["bare_overflow"].sum("time")
        kept.append(planted.drop_vars("time", errors="ignore"))
        kept_roof.append(roof.planted_fraction * planted + (1.0 - roof.planted_fraction) * other)
        held_before.append(float((_held_water(one.isel(time=-1), one) - planted).isel(event=0)))
    along = xr.DataArray(list(STARTS), dims="start", name="start")
    figures["event_capture_mm"] = xr.concat(kept, along)
    figures["event_capture_share"] = figures["event_capture_mm"] / depth
    roof_mm = xr.concat(kept_roof, along)
    figures["event_roof_capture_m3"] = volume_m3(roof_mm, roof.area_m2)
    figures["event_runoff_coefficient"] = 1.0 - roof_mm / depth
    figures["event_curve_number"] = xr.apply_ufunc(_curve_number, depth, depth - roof_mm, vectorize=True)
    figures["event_bare_curve_number"] = xr.apply_ufunc(_curve_number, depth, depth - bare, vectorize=True)
    figures["event_bare_capture_m3"] = volume_m3(bare, roof.area_m2)
    typical = figures["event_roof_capture_m3"].sel(start="before-50", drop=True)
    figures["event_avoided_m3"] = typical - figures["event_bare_capture_m3"]
    figures["start_water_mm"] = xr.DataArray(held_before, dims="start", coords={"start": along})
    for name, words in _WORDS.items():
        if name in figures:
            unit = "m3" if name.endswith("m3") else "mm" if name.endswith("mm") else "1"
            figures[name].attrs = {**figures[name].attrs, "units": unit, "long_name": words}
    return figures.drop_vars([name for name in figures.coords if name not in ("event", "start")])


def wetness_before_events(run: xr.Dataset) -> xr.Dataset:
    """Return the stores on the days before rain events, at the dry 5 %, the middle and the wet 95 % of those days.

    Each is a real day of the record, ranked by all water on the roof; snow is left out.
    """
    begins = event_starts(run["rain"].to_numpy(), WET_DAY_MM)
    before = np.flatnonzero(begins[1:])
    if before.size == 0:
        before = np.arange(run.sizes["time"])
    water = sum(run[name].to_numpy()[before] for name in kernel.ALWAYS)
    ranked = before[np.argsort(water, kind="stable")]
    days = [ranked[round(share * (ranked.size - 1))] for share in (0.05, 0.5, 0.95)]
    picked = [last_stores(run.isel(time=slice(day, day + 1))).assign(snow_water=0.0) for day in days]
    for stores in picked:  # the rest of the roof starts dry, as the roof as it is does
        stores["other_water"], stores["bare_water"] = xr.DataArray(0.0), xr.DataArray(0.0)
    return xr.concat(picked, xr.DataArray(list(STARTS[1:4]), dims="start", name="start"))


_MM = {"units": "mm"}
_WORDS = {
    "capacity_surface_mm": "storage of canopy and mulch",
    "capacity_medium_mm": "plant-available water of the medium",
    "capacity_cups_mm": "storage of the drainage cups",
    "capacity_mat_mm": "storage of mat and fleece",
    "capacity_mm": "storage capacity, one storm on a dry roof, per planted area",
    "capacity_m3": "storage capacity of the planted area",
    "capacity_whole_roof_m3": "storage capacity of the whole roof",
    "event_depth_mm": "rain of the event",
    "event_capture_mm": "capture of the event, per planted area",
    "event_capture_share": "retention of the event, planted area",
    "event_roof_capture_m3": "capture of the event, whole roof",
    "event_runoff_coefficient": "runoff coefficient of the event, whole roof",
    "event_curve_number": "equivalent curve number of the whole roof",
    "event_bare_curve_number": "equivalent curve number of the roof as it is",
    "event_bare_capture_m3": "capture of the event, roof as it is",
    "event_avoided_m3": "avoided runoff of the event, against the roof as it is",
    "start_water_mm": "water on the roof above the wilting point when the rain begins",
}


def _one_event(depth: xr.DataArray) -> xr.Dataset:
    """Return days of weather along ``member``, one per event: rain on the first day, no evaporation."""
    time = np.datetime64("2001-07-01", "ns") + np.arange(_EVENT_DAYS) * np.timedelta64(1, "D")
    rain = np.zeros((depth.size, _EVENT_DAYS))
    rain[:, 0] = depth.to_numpy()
    dims = ("member", "time")
    return xr.Dataset(
        {
            "rain": (dims, rain, {"units": "mm"}),
            "reference_et": (dims, np.zeros_like(rain), {"units": "mm", "method": "none: one event"}),
        },
        coords={"time": time, "member": np.arange(depth.size)},
    )


def _loose_water(stores: xr.Dataset, run: xr.Dataset) -> xr.DataArray:
    """Return water on its way to the outlet: above field capacity, and free between deck and sky."""
    return (stores["held_water"] - run["field_water"]).clip(min=0.0) + stores["free_water"]


def _held_water(stores: xr.Dataset, run: xr.Dataset) -> xr.DataArray:
    """Return water that does not drain, above the wilting point."""
    drained: xr.DataArray = xr.apply_ufunc(np.minimum, stores["held_water"], run["field_water"])
    return sum((stores[name] for name in _HELD), drained - run["wilting_water"])


def _curve_number(rain: float, runoff: float) -> float:
    return float(event_curve_number(rain, runoff)) if ROUNDING_MM < runoff <= rain else float("nan")
