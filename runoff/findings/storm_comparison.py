"""One storm, three roofs: the planted roof beside a bare and a gravel roof of the same area, fall and outlets.

All three run through the same loop of minutes (`runoff.balance.minutes`), with the same outlets, edge and emergency overflow;
the bare and the gravel roof start dry. So what the outlets themselves hold back is not credited to the plants: under a storm
that the outlets cannot take, all three peaks come close together, and a planted roof, which has less room per millimetre of
height than a bare one, can peak higher. Every square metre has its share of the outlets, the unplanted part of the planted
roof too. Run-on reaches all three alike: with the rain, or led to the outlets.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from runoff.balance.minutes import largest_mean
from runoff.errors import StormError
from runoff.findings.curve_number import curve_number_cautions, event_curve_number
from runoff.findings.whole_roof import volume_m3
from runoff.given_kinds import refuse_other_kinds
from runoff.saying import titles
from runoff.saying.scales import say
from runoff.simulation import columns_of, run_surfaces_in_minutes
from runoff.time_steps import time_step
from runoff.units import to_intensity

if TYPE_CHECKING:
    from runoff.roof import BareSurface, Roof

PLANTED, BARE, GRAVEL = "planted roof", "bare roof", "gravel roof"
#: Ponding: water on the growing medium deeper than a film, or before the outlets of a bare deck deeper than this, mm.
PONDING_ON_MEDIUM_MM, PONDING_ON_DECK_MM = 1.0, 10.0
#: Below this peak coefficient of the bare roof, the outlets and not the surface set its peak.
_THROTTLED = 0.85
#: Rain that ran past the medium is told from here, mm.
_TOLD_BYPASS_MM = 1.0
#: A cut of the peak below this share is none worth claiming.
LITTLE_CUT = 0.05
#: A run should go on until the flow has fallen to this share of its peak.
_TAIL_SHARE = 0.02

#: figure -> (unit, words)
STORM_FIGURES: dict[str, tuple[str, str]] = {
    "peak_discharge": ("L/s", "peak discharge of the whole roof"),
    "peak_runoff": ("mm/h", "peak runoff"),
    "time_of_peak": ("min", "time to peak, from the start of the rain"),
    "lag_peak": ("min", "peak lag, behind the heaviest rain"),
    "lag_centroid": ("min", "centroid lag, behind the centroid of the rain"),
    "peak_coefficient": ("1", "peak coefficient (peak runoff / heaviest rain)"),
    "runoff_depth": ("mm", "runoff depth"),
    "runoff_volume": ("m3", "runoff volume"),
    "runoff_coefficient": ("1", "runoff coefficient (runoff / rain)"),
    "peak_cut": ("1", "peak reduction against the bare roof"),
    "peak_delay": ("min", "peak delay against the bare roof"),
    "largest_depth_on_deck": ("mm", "largest depth of water at the outlets"),
    "hours_of_ponding": ("h", "duration of ponding"),
    "equivalent_curve_number": ("1", "equivalent curve number, this storm only"),
}


def followed_by_dry(storm: xr.DataArray, hours: float = 24.0) -> xr.DataArray:
    """Return the storm with dry hours after it, so that water on its way counts as runoff and not as kept.

    Parameters
    ----------
    storm
        Rain on ``time``, mm per step.
    hours
        Dry hours to append, 0 or more.
    """
    refuse_other_kinds("followed_by_dry", storm=storm)
    if not hours >= 0.0:
        raise StormError(f"followed_by_dry: hours must be 0 or more (given {hours:g})")
    time = storm["time"].to_numpy()
    if time.size < 2:
        raise StormError("followed_by_dry: the storm has one step, so its step is unknown; give two steps or more")
    step = time[1] - time[0]
    extra = int(np.ceil(hours / time_step(storm["time"]).hours - 1e-9))
    return xr.DataArray(
        np.concatenate([storm.to_numpy(), np.zeros(extra)]),
        dims="time",
        coords={"time": time[0] + step * np.arange(time.size + extra)},
        name=storm.name,
        attrs=storm.attrs,
    )


def compare_storm(
    run: xr.Dataset, roof: Roof, *, bare: BareSurface | None = None, gravel: BareSurface | None = None
) -> xr.Dataset:
    """Set the planted roof of a storm run beside a bare and a gravel roof.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof and one storm in steps of 1 min to 1 h. Let dry hours follow the
        storm (`followed_by_dry`), or late water does not count as runoff.
    roof
        The roof of the run: its outlets, fall, flow length and blockage hold for all three.
    bare, gravel
        The two other surfaces; default a membrane that holds 1 mm and gravel that holds 5 mm.

    Returns
    -------
    xarray.Dataset
        Along ``surface`` (planted, bare, gravel): the figures of `STORM_FIGURES`, ``hydrograph`` (L/s) and
        ``depth_on_deck`` (mm) on ``time``; ``rain`` (mm) and ``rain_intensity`` (mm/h); where water runs on, ``run_on`` (mm per
        step, mean of the whole roof), which all three roofs get. ``attrs["note"]`` says in words
        what the planted roof changes, ``attrs["curve_number_limits"]`` what a curve number does not say. Ranges of the
        peak: `runoff.storm_uncertainty`.

    Raises
    ------
    StormError
        When the run is daily, has several designs, no rain, or belongs to another roof.
    """
    refuse_other_kinds("compare_storm", run=run, roof=roof)
    from runoff.roof import BareSurface

    hours = _checked_step(run, roof)
    surfaces = {BARE: bare or BareSurface(kind="membrane"), GRAVEL: gravel or BareSurface(kind="gravel")}
    columns, per_mm = columns_of([roof]), roof.area_m2 / (hours * 3600.0)
    decks = run_surfaces_in_minutes(run, list(surfaces.values()), columns, hours)
    flows = np.stack([run["discharge"].to_numpy(), *(decks["surface_overflow"].to_numpy() * per_mm)])
    deepest = decks["surface_largest_depth_on_deck_mm"].to_numpy()
    depths = np.stack([run["largest_depth_on_deck_mm"].to_numpy(), *deepest])
    on_decks = decks["surface_depth_on_deck_mm"].to_numpy()
    ponded = [run["pond_water"].to_numpy() >= PONDING_ON_MEDIUM_MM, *(on_decks >= PONDING_ON_DECK_MM)]
    result = xr.Dataset(
        {
            "hydrograph": (("surface", "time"), flows),
            "depth_on_deck": (("surface", "time"), depths),
            "largest_depth_on_deck": ("surface", depths.max(axis=1)),
            "hours_of_ponding": ("surface", np.sum(ponded, axis=1) * hours),
            "rain": run["rain"],
            "rain_intensity": to_intensity(run["rain"]),
            "bypass_depth": (
                (),
                float(run["bypass"].sum()),
                {"units": "mm", "long_name": "rain that ran past the medium"},
            ),
        },
        coords={"time": run["time"], "surface": [PLANTED, *surfaces]},
    ).drop_vars("design", errors="ignore")
    if "run_on" in run:
        of_the_roof = run["run_on"].to_numpy() * roof.planted_fraction
        words = {"units": "mm", "long_name": "run-on, mean of the whole roof"}
        result["run_on"] = ("time", of_the_roof, words)
    figures = _figures(flows, run["rain"].to_numpy(), hours, roof.area_m2)
    result = result.assign({name: ("surface", values) for name, values in figures.items()})
    return _with_words(result, run, roof)


def _of_surface(comparison: xr.Dataset, surface: str) -> dict[str, float]:
    """Return the figures of one surface, in the units of `STORM_FIGURES`."""
    at = comparison.get_index("surface").get_loc(surface)
    return {name: float(comparison.variables[name][at]) for name in STORM_FIGURES}


def with_comparison(run: xr.Dataset, comparison: xr.Dataset) -> xr.Dataset:
    """Return the run with the hydrographs of the comparison, as figures want them.

    ``discharge``, ``bare_discharge`` and ``gravel_discharge`` (L/s) become those that pass the outlets, and
    ``water_depth_on_deck_mm`` the depth at the outlets of the planted roof.
    """
    flows = comparison["hydrograph"]
    result = run.copy()
    for name, surface in (("discharge", PLANTED), ("bare_discharge", BARE), ("gravel_discharge", GRAVEL)):
        result[name] = flows.sel(surface=surface).drop_vars("surface")
    depth = comparison["depth_on_deck"].sel(surface=PLANTED).drop_vars("surface")
    result["water_depth_on_deck_mm"] = depth
    return result


def _checked_step(run: xr.Dataset, roof: Roof) -> float:
    where = "compare_storm"
    lacking = [name for name in ("rain", "liquid", "discharge", "pond_water", "area_m2", "time") if name not in run]
    if lacking:
        raise StormError(f"{where}: the run lacks {', '.join(lacking)}; give a Dataset that runoff.simulate returned")
    if run["discharge"].ndim > 1:
        others = ", ".join(str(name) for name in run["discharge"].dims if name != "time")
        raise StormError(f"{where}: the run has {others}; choose one, for example run.isel({others.split(', ')[0]}=0)")
    hours = time_step(run["time"]).hours
    if hours > 1.0:
        raise StormError(
            f"{where}: the run has steps of {hours:g} h; a daily figure is no storm peak. "
            'Run a storm in minutes: runoff.design_storm(depth_mm=..., duration="24h", step="5min")'
        )
    if not float(run["rain"].sum()) > 0.0:
        raise StormError(f"{where}: the run holds no rain")
    area = float(run["area_m2"])
    if abs(area - roof.area_m2) > 1e-9 * area:
        raise StormError(f"{where}: the run is of a roof of {area:g} m2, the roof given has {roof.area_m2:g} m2")
    return hours


def _figures(flows: np.ndarray, rain: np.ndarray, hours: float, area_m2: float) -> dict[str, np.ndarray]:
    """Return what can be read off hyetograph and hydrographs; times are those of the middle of a step.

    Parameters
    ----------
    flows
        Discharge of the planted, the bare and the gravel roof, L/s, shape ``(surface, time)``.
    rain
        Rain, mm per step, shape ``(time,)``.
    hours, area_m2
        Length of the step, h, and area of the roof, m2.

    Returns
    -------
    dict of numpy.ndarray
        The figures of `STORM_FIGURES` that need no depth on the deck, shape ``(surface,)``.
    """
    minutes, bare = hours * 60.0, 1
    middle = (np.arange(rain.size) + 0.5) * hours * 60.0
    first = middle[np.argmax(rain > 0.0)] - hours * 30.0
    volume, fallen = np.nansum(flows, axis=1), float(np.nansum(rain))
    depth = volume * hours * 3600.0 / area_m2
    peak = np.array([largest_mean(one * minutes, minutes) / 60.0 for one in flows])
    runoff = peak * 3600.0 / area_m2
    time_of_peak = np.where(volume > 0.0, _first_at_peak(flows, middle), np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):  # of a bare roof that sheds nothing
        peak_cut = 1.0 - peak / peak[bare]
    return {
        "peak_discharge": peak,
        "peak_runoff": runoff,
        "peak_coefficient": runoff / largest_mean(rain, minutes),
        "time_of_peak": time_of_peak - first,
        "lag_peak": time_of_peak - _first_at_peak(rain, middle),
        "lag_centroid": _centroid(flows, middle) - _centroid(rain, middle),
        "runoff_depth": depth,
        "runoff_volume": volume_m3(depth, area_m2),
        "runoff_coefficient": depth / fallen,
        "peak_cut": peak_cut,
        "peak_delay": time_of_peak - time_of_peak[bare],
        "equivalent_curve_number": np.array([_curve_number(fallen, float(one)) for one in depth]),
    }


def _first_at_peak(series: np.ndarray, middle: np.ndarray) -> np.ndarray:
    """Return the first time within 0.1 % of the largest value, min: on a plateau rounding must not choose."""
    at_peak = series >= 0.999 * np.max(series, axis=-1, keepdims=True)
    return np.asarray(np.where(at_peak, middle, np.inf).min(axis=-1))


def _centroid(weights: np.ndarray, middle: np.ndarray) -> np.ndarray:
    """Return the time of the centroid, min; missing where nothing weighs."""
    total = np.nansum(weights, axis=-1)
    return np.asarray(np.nansum(weights * middle, axis=-1) / np.where(total > 0.0, total, np.nan))


def _curve_number(rain_mm: float, runoff_mm: float) -> float:
    """Return the curve number of the storm; missing without runoff, or with more runoff than rain."""
    return float(event_curve_number(rain_mm, runoff_mm)) if 0.0 < runoff_mm <= rain_mm else float("nan")


def _with_words(result: xr.Dataset, run: xr.Dataset, roof: Roof) -> xr.Dataset:
    for name, (unit, words) in STORM_FIGURES.items():
        result.variables[name].attrs = {"units": unit, "long_name": words}
    result.variables["hydrograph"].attrs = {
        "units": "L/s",
        "long_name": "discharge of the whole roof",
        "cell_methods": "time: mean",
    }
    result.variables["depth_on_deck"].attrs = {"units": "mm", "long_name": "depth of water at the outlets"}
    result["rain_intensity"].attrs["long_name"] = "rain intensity"
    planted, rain = _of_surface(result, PLANTED), float(result.variables["rain"].sum())
    if np.isfinite(number := planted["equivalent_curve_number"]):
        cautions = curve_number_cautions(number, rain_mm=rain, runoff_mm=planted["runoff_depth"])
    else:
        cautions = ("No curve number: the storm left no runoff, or more than its own rain.",)
    result.attrs = {
        "title": titles.STORM,
        "Conventions": "CF-1.11",
        "source": str(run.attrs.get("source", "")),
        "storm": str(run["rain"].attrs.get("source", run.attrs.get("weather", "not stated"))),
        "start": str(run.attrs.get("start", "not stated")),
        "roof": roof.name,
        "area_m2": roof.area_m2,
        "step_minutes": round(time_step(run["time"]).minutes, 6),
        "note": storm_note(result, start=str(run.attrs.get("start", "not stated"))),
        "curve_number_limits": " ".join(cautions),
        "how_sure": "The detention of a medium is known within a factor of a hundred: runoff.storm_uncertainty gives the range "
        "of the peak.",
    }
    return result


def storm_note(comparison: xr.Dataset, *, start: str | None = None, units: str = "si") -> str:
    """Say in words how volume and peak of the planted roof stand against the bare roof.

    Parameters
    ----------
    comparison
        Figures along ``surface``, as `compare_storm` makes them.
    start
        Wetness before the storm, in words; default: what the comparison says.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    str
        Sentences in one paragraph.
    """
    start = start or str(comparison.attrs.get("start", "not stated"))
    step = time_step(comparison["time"]).minutes
    planted, bare = (_of_surface(comparison, surface) for surface in (PLANTED, BARE))
    shed, bare_shed = planted["runoff_depth"], bare["runoff_depth"]
    came = say(float(comparison.variables["rain"].sum()), "mm", system=units) + " of rain"
    alike = ""
    if "run_on" in comparison:
        came += f" and {say(float(comparison['run_on'].sum()), 'mm', system=units)} of run-on (mean of the whole roof)"
        alike = " Each roof compared gets the same run-on; coefficients are of the rain alone."
    share = f", {100.0 * shed / bare_shed:.0f} % of it" if bare_shed > 0.0 else ""
    parts = [
        f"Of {came} the bare roof sheds {say(bare_shed, 'mm', system=units)}; the planted roof, "
        f"starting at {start.replace('-', ' ')}, sheds {say(shed, 'mm', system=units)}{share}.{alike}"
    ]
    passed = float(comparison["bypass_depth"]) if "bypass_depth" in comparison else 0.0
    if passed >= _TOLD_BYPASS_MM:
        parts.append(
            f"{say(passed, 'mm', system=units)} per planted area ran past the medium before it was full, and past cups and mat (bypass): "
            "so a dry start need not shed less than a slightly wetter one, whose water fills cups and mat first."
        )
    if shed > 0.0 and bare_shed > 0.0:
        parts.append(_peak_words(planted, bare, step, units))
        heaviest, passed_on = _of_the_heaviest(comparison, step)
        if passed_on[BARE] < _THROTTLED:
            parts.append(
                f"The outlets hold back the bare roof too: it passes {100.0 * passed_on[BARE]:.0f} % of {heaviest}, the planted roof "
                f"{100.0 * passed_on[PLANTED]:.0f} %."
            )
            if planted["peak_cut"] < LITTLE_CUT:
                parts.append(
                    "Rain this heavy passes a medium at field capacity within minutes, and the outlets hold back what is "
                    "left: no cut of the peak can be claimed for this storm."
                )
    at_the_end = float(comparison.variables["hydrograph"].isel(surface=0, time=-1))
    if at_the_end > _TAIL_SHARE * planted["peak_discharge"] > 0.0:
        parts.append(
            "The run ends while the planted roof still drains: let more dry hours follow the storm, or its volume is "
            "too low."
        )
    return " ".join(parts)


def _of_the_heaviest(comparison: xr.Dataset, step_minutes: float) -> tuple[str, dict[str, float]]:
    """Return what the heaviest water of a step is, in words, and the share of it that each roof passes at its peak."""
    shares = comparison["peak_coefficient"]
    words = "the heaviest rain"
    if "run_on" in comparison:
        arriving = (comparison["rain"] + comparison["run_on"]).to_numpy()
        shares, words = comparison["peak_runoff"] / largest_mean(arriving, step_minutes), f"{words} and run-on"
    return words, {name: float(shares.sel(surface=name)) for name in (PLANTED, BARE)}


def _peak_words(planted: dict[str, float], bare: dict[str, float], step_minutes: float, units: str) -> str:
    cut, delay = 100.0 * planted["peak_cut"], planted["peak_delay"]
    level = f"{cut:.0f} % lower" if cut >= 0.5 else "no lower" if cut > -0.5 else f"{-cut:.0f} % higher"
    when = (
        f"{delay:.0f} min later" if delay > 0.0 else "at the same time" if delay == 0.0 else f"{-delay:.0f} min earlier"
    )
    one, other = (say(roof["peak_discharge"], "L/s", system=units) for roof in (planted, bare))
    flows = f"{one} against {other}"
    return f"Its peak, a mean of {step_minutes:g} min, is {level} ({flows}) and comes {when}."
