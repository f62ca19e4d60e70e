"""What an approver asks of a roof and one storm: how long until it has drained, how much it lets go, what room is back.

Hours to drain count from the end of the rain until free and mobile water together stay under a depth that is left (1 mm, an
input), with outlets open, some lost, and half of the drainage clogged. A roof that does not get there within seven days has no
such hour: the figure is infinite, and is said as "not within 7 days".
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.balance.minutes import largest_mean
from runoff.errors import RunoffError, StormError, WeatherError
from runoff.findings.event_capture import storage_capacity
from runoff.findings.storm_comparison import followed_by_dry
from runoff.findings.whole_roof import release_per_hectare
from runoff.given_kinds import refuse_other_kinds
from runoff.roof import Roof
from runoff.roof.losing_outlets import drained_with_loss
from runoff.saying.scales import say, shown
from runoff.saying.tables import Table
from runoff.simulation import Columns, storm_flows
from runoff.simulation.roof_side import columns_asked_for
from runoff.time_steps import time_step

#: Days that a roof is followed after the rain.
FOLLOWED_DAYS = 7.0
#: Free and mobile water under this count as drained, mm (an input).
LEFT_MM = 1.0
#: Hours within which roofs are asked to be drained: 24 to 72 (rules of places, see `runoff outlets --help`); 48 in US model codes.
LIMIT_HOURS = 48.0
_BLOCKED = 0.5
_AT_ONCE = 200  # roofs run together: courses of a week in steps of a minute take 300 kB each
#: Depth at which the outlets that go are compared, mm.
_COMPARED_MM = 35.0

#: Figures of `drainage_figures`: unit and words.
DRAINAGE_FIGURES: dict[str, tuple[str, str]] = {
    "peak_release": ("L/(s ha)", "peak discharge in the storm per hectare of roof"),
    "hours_to_drain": ("h", "hours after the rain until drained, outlets open"),
    "hours_to_drain_some_lost": ("h", "hours after the rain until drained, outlets lost"),
    "hours_to_drain_half_blocked": ("h", "hours after the rain until drained, half of the drainage blocked"),
    "storage": ("mm", "storage of the build-up from wilting point to field capacity, L/m2"),
    "storage_recovered": ("1", "share of that storage recovered by the limit"),
    "guideline_coefficient": ("1", "share of 27 mm in 15 min that leaves the medium in those 15 minutes"),
}
#: Hours to drain in each state of the outlets.
_STATES = ("hours_to_drain", "hours_to_drain_some_lost", "hours_to_drain_half_blocked")
#: What has to leave until a roof has drained.
_MOVING = ("free_water", "mobile_water")
#: Those that need a storm.
OF_A_STORM = (
    "peak_release", "hours_to_drain", "hours_to_drain_some_lost", "hours_to_drain_half_blocked", "storage_recovered",
)  # fmt: skip


def drainage_figures(
    roofs: Roof | Sequence[Roof],
    storm: xr.DataArray | None,
    *,
    lost: int = 1,
    left_mm: float = LEFT_MM,
    limit_hours: float = LIMIT_HOURS,
    drying_mm_per_day: float | None = None,
    guideline: bool = True,
) -> xr.Dataset:
    """Return what an approver asks, of one roof or of several.

    Parameters
    ----------
    roofs
        One roof, or several: several give a dimension ``design``.
    storm
        Rain in steps of 1 min to 1 h; every run starts at field capacity. None leaves out what needs a storm.
    lost
        Outlets that are lost in the second state; of an edge half the length.
    left_mm
        Free and mobile water that may be left, mm over the planted area.
    limit_hours
        Hours after the rain at which ``storage_recovered`` is read: the limit of the rule in question.
    drying_mm_per_day
        Reference evapotranspiration after the rain, mm a day, spread evenly; see `summer_drying`. Without it ``storage_recovered`` is
        missing.
    guideline
        False leaves out ``guideline_coefficient``, which no storm changes.

    Returns
    -------
    xarray.Dataset
        The figures of `DRAINAGE_FIGURES`; hours are infinite where the roof has not drained within 7 days.

    Raises
    ------
    RunoffError
        When a limit is out of range.
    StormError
        When the storm holds no rain.
    """
    refuse_other_kinds("drainage_figures", roofs=roofs)
    many = [roofs] if isinstance(roofs, Roof) else list(roofs)
    if not many:
        raise RunoffError("drainage_figures: no roof is given; give one or more")
    _refuse_limits(left_mm, limit_hours, drying_mm_per_day)
    pieces = []
    for i in range(0, len(many), _AT_ONCE):
        some = many[i : i + _AT_ONCE]
        pieces.append(_figures(some, storm, lost, left_mm, limit_hours, drying_mm_per_day, guideline))
    found = xr.Dataset(
        {
            name: ("design", np.concatenate([piece[name] for piece in pieces]), {"units": unit, "long_name": words})
            for name, (unit, words) in DRAINAGE_FIGURES.items()
            if name in pieces[0]
        },
        attrs={"lost": lost, "left_mm": left_mm, "limit_hours": limit_hours, "followed_days": FOLLOWED_DAYS},
    )
    return found.isel(design=0) if isinstance(roofs, Roof) else found


def _figures(
    roofs: list[Roof], storm: Any, lost: int, left_mm: float, limit_hours: float, drying: float | None, guideline: bool
) -> dict[str, np.ndarray]:
    nothing = np.full(len(roofs), np.nan)
    found: dict[str, np.ndarray] = {
        **dict.fromkeys(OF_A_STORM, nothing),
        "storage": storage_capacity(roofs)["capacity_mm"].to_numpy(),
    }
    columns = columns_asked_for(roofs)
    if storm is not None:
        found |= _of_storm(roofs, columns, storm, lost, left_mm)
        if drying is not None:
            found["storage_recovered"] = _storage_recovered(columns, storm, limit_hours, drying, found["storage"])
    if guideline:
        found["guideline_coefficient"] = guideline_coefficients(columns)
    return found


def _of_storm(
    roofs: list[Roof], columns: Columns, storm: xr.DataArray, lost: int, left_mm: float
) -> dict[str, np.ndarray]:
    """Run a storm and a dry week over the roofs in each state of their outlets."""
    rain = followed_by_dry(storm, 24.0 * FOLLOWED_DAYS)
    week = xr.Dataset({"rain": rain, "reference_et": xr.zeros_like(rain).assign_attrs(units="mm")})  # nothing is drawn
    minutes, end = time_step(week["time"]).minutes, _end_of_rain(storm)
    expect_many_runs()  # three weeks in minutes
    opened = storm_flows(columns, week, (*_MOVING, "discharge"), start_moisture="field-capacity").kept
    drained = [drained_with_loss(one, lost, _COMPARED_MM) for one in roofs]
    drained += [(one.outlets, max(_BLOCKED, one.blocked_fraction)) for one in roofs]
    held_up = storm_flows(
        columns.draining_by(*zip(*drained, strict=True)), week, _MOVING, start_moisture="field-capacity"
    ).kept
    courses = [kept["free_water"] + kept["mobile_water"] for kept in (opened, held_up)]
    hours = [hours_until(one[end:], minutes, left_mm) for water in courses for one in water]
    found = dict(zip(_STATES, np.reshape(hours, (len(_STATES), len(roofs))), strict=True))
    peaks = [largest_mean(one * minutes, minutes) / 60.0 for one in opened["discharge"]]
    found["peak_release"] = release_per_hectare(np.asarray(peaks), np.array([one.area_m2 for one in roofs]))
    return found


def hours_until(water_mm: np.ndarray, step_min: float, left_mm: float) -> float:
    """Return the hours until a falling course of water stays under what may be left; infinite where it never does.

    Parameters
    ----------
    water_mm
        Water at the end of each step, the first one that of the last step with rain, mm.
    step_min
        Length of a step, min.
    left_mm
        What may be left, mm.

    Returns
    -------
    float
        h, straight between the steps; 0 where less is left from the start.
    """
    over = np.flatnonzero(water_mm >= left_mm)
    if not over.size:
        return 0.0
    last = int(over[-1])
    if last == water_mm.size - 1:
        return math.inf
    part = (water_mm[last] - left_mm) / (water_mm[last] - water_mm[last + 1])
    return (last + float(part)) * step_min / 60.0


def _end_of_rain(storm: xr.DataArray) -> int:
    wet = np.flatnonzero(storm.to_numpy() > 0.0)
    if not wet.size:
        raise StormError("drainage figures: the storm holds no rain")
    return int(wet[-1])


def _storage_recovered(
    columns: Columns, storm: xr.DataArray, limit_hours: float, drying: float, storage: np.ndarray
) -> np.ndarray:
    """Return the share of the storage that is empty again at the limit, water that should have drained taken off."""
    rain = followed_by_dry(storm.isel(time=slice(0, _end_of_rain(storm) + 1)), limit_hours)
    end, hours = _end_of_rain(rain), time_step(rain["time"]).hours
    et = rain.copy(data=np.where(np.arange(rain.sizes["time"]) > end, drying * hours / 24.0, 0.0))
    weather = xr.Dataset({"rain": rain, "reference_et": et.assign_attrs(units="mm")})
    run = storm_flows(columns, weather, (), start_moisture="field-capacity")
    last, wilting = run.stores, columns.rows["wilting_water"]
    held = last["surface_water"] + last["held_water"] - wilting + last["cup_water"] + last["mat_water"]
    back = storage - (held + last["free_water"] + last["mobile_water"])
    return np.asarray(np.clip(back / np.where(storage > 0.0, storage, np.nan), 0.0, 1.0))


#: The guideline's test: rain, its time, and the most that is lost to canopy and mulch first.
GUIDELINE_MM, GUIDELINE_MIN, GUIDELINE_LOSS_MM = 27.0, 15, 1.5


def guideline_coefficients(roofs: Sequence[Roof] | Columns) -> np.ndarray:
    """Return the coefficient of the guideline test of each roof, shape ``(design,)``.

    27 mm in 15 minutes on the pre-wetted, drained build-up; the coefficient is the share of the 27 mm that has left the medium by
    the end of those 15 minutes: a volume, not a peak. Board and outlets come after it and are not counted. Of canopy and mulch at
    most 1.5 mm are dry.

    Parameters
    ----------
    roofs
        The roofs, or their columns.
    """
    time = np.datetime64("2000-01-01", "ns") + np.timedelta64(1, "m") * np.arange(GUIDELINE_MIN)
    rain = xr.DataArray(
        np.full(GUIDELINE_MIN, GUIDELINE_MM / GUIDELINE_MIN), dims="time", coords={"time": time}, name="rain",
        attrs={"units": "mm"},
    )  # fmt: skip
    wetted = storm_flows(roofs, xr.zeros_like(rain), (), start_moisture="field-capacity")
    surface = np.maximum(0.0, wetted.columns.rows["surface_capacity"] - GUIDELINE_LOSS_MM)
    run = storm_flows(
        wetted.columns, rain, ("percolation", "bypass"), changed={**wetted.stores, "surface_water": surface}
    ).kept
    return np.asarray((run["percolation"] + run["bypass"]).sum(axis=1) / GUIDELINE_MM)


def summer_drying(weather: xr.Dataset) -> float:
    """Return the reference evapotranspiration of the median summer day of a record, mm a day.

    Summer is June to August, south of the equator December to February.

    Parameters
    ----------
    weather
        A daily record with ``reference_et``, or what its evapotranspiration needs.

    Raises
    ------
    WeatherError
        When the record holds no summer day.
    """
    from runoff.weather.evaporation.evapotranspiration import with_reference_et

    et = (weather if "reference_et" in weather else with_reference_et(weather))["reference_et"]
    south = float(weather.coords["lat"]) < 0.0 if "lat" in weather.coords and weather["lat"].ndim == 0 else False
    summer = et.where(et["time"].dt.month.isin([12, 1, 2] if south else [6, 7, 8]), drop=True)
    if not summer.sizes["time"]:
        raise WeatherError(
            "drying rate: the record holds no summer day; name a drying rate, or give a record with a summer"
        )
    return float(summer.median())


def _refuse_limits(left_mm: float, limit_hours: float, drying: float | None) -> None:
    if not left_mm > 0.0:
        raise RunoffError(f"drainage figures: left_mm must be above 0, no roof empties to nothing (given {left_mm:g})")
    if not 0.0 < limit_hours <= 24.0 * FOLLOWED_DAYS:
        raise RunoffError(
            f"drainage figures: limit_hours must be above 0 and at most {24.0 * FOLLOWED_DAYS:g} (given {limit_hours:g})"
        )
    if drying is not None and not 0.0 <= drying <= 20.0:
        raise RunoffError(f"drainage figures: drying_mm_per_day must be 0 to 20 mm a day (given {drying:g})")


def storage_by_layer(roof: Roof) -> dict[str, float]:
    """Return what each layer can hold of one storm on a dry roof, word -> L/m2 (mm): field capacity less wilting point.

    Parameters
    ----------
    roof
        The roof; layers that hold nothing are left out.
    """
    medium = roof.build_up.medium
    dry = {"medium": medium.wilting_point * medium.depth_mm}
    held = {layer.word: layer.drained_water_mm - dry.get(layer.word, 0.0) for layer in roof.build_up.layers}
    return {word: water for word, water in held.items() if water > 0.0}


#: Limits in hours that places ask for (`drainage_shown` marks each): 24 Ontario flow-control drains, 48 US model codes, 72 Philadelphia.
NAMED_LIMITS_HOURS = (24.0, 48.0, 72.0)
_ROWS = {
    "hours_to_drain": "until drained, outlets open",
    "hours_to_drain_some_lost": "until drained, {lost}",
    "hours_to_drain_half_blocked": "until drained, half blocked",
}


def drainage_shown(
    figures: xr.Dataset,
    *,
    limits: Sequence[float] = NAMED_LIMITS_HOURS,
    release: float | None = None,
    units: str = "si",
) -> Table:
    """Return what an approver asks, of one roof, as a table to print or to show.

    Parameters
    ----------
    figures
        What `drainage_figures` returned for one roof and a storm.
    limits
        What the times are held against, h.
    release
        Largest release allowed, L/(s ha); None where none is named.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    Table
        Words, figure and yes or no for each limit; its note names the water that may be left.
    """
    peak = float(figures["peak_release"])
    judged = "" if release is None else f"{'within' if peak <= release + 1e-9 else 'MORE THAN'} the "
    judged += "" if release is None else f"{say(release, 'L/(s ha)', 'release', units)} allowed"
    lost = int(figures.attrs["lost"])
    rows = [["peak release per area", say(peak, "L/(s ha)", "release", units), judged]]
    for name, words in _ROWS.items():
        hours = float(figures[name])
        said = f"not within {FOLLOWED_DAYS:g} days" if math.isinf(hours) else say(hours, "h")
        against = ", ".join(f"{limit:g} h {'yes' if hours <= limit else 'NO'}" for limit in limits)
        rows.append([words.format(lost=f"{lost} lost"), said, against])
    back = float(figures["storage_recovered"])
    if np.isfinite(back):
        rows.append(
            [f"storage recovered after {figures.attrs['limit_hours']:g} h", say(back, "1", "share", units),
             f"of {say(float(figures['storage']), 'mm', 'depth', units)}"]
        )  # fmt: skip
    left = say(float(figures.attrs["left_mm"]), "mm", "depth", units)
    notes = [
        f"Hours from the end of the rain until free and mobile water together stay under {left}; limits differ from place to place: "
        "the rule in force decides."
    ]
    return Table(head=["after the rain", "", ""], rows=rows, align="<><", notes=notes)


def storage_shown(roof: Roof, *, units: str = "si") -> Table:
    """Return the storage of a build-up layer by layer as a table to print or to show, mm (L/m2) or inches.

    Parameters
    ----------
    roof
        The roof.
    units
        ``"si"`` or ``"us"``.
    """
    layers = storage_by_layer(roof)
    unit = "L/m2" if units == "si" else "in"
    rows = [[word, shown(water, "mm", "depth", units).text, unit] for word, water in layers.items()]
    rows.append(["total", shown(sum(layers.values()), "mm", "depth", units).text, unit])
    notes = [
        "From wilting point to field capacity: what a dry roof takes of one storm, not what it finds empty on most days."
    ]
    return Table(head=["storage", "", ""], rows=rows, align="<><", notes=notes, totals=1)
