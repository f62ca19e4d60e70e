"""Sentences that follow from the run: sources, methods, quality, provenance. Nothing here is typed in by hand."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from runoff.dossier import texts
from runoff.dossier.as_built import depth_doubt
from runoff.dossier.asked_for import event_asked
from runoff.dossier.evidence_rows import USUAL, origin_of
from runoff.dossier.office_rules import WHY_THEY_DIFFER
from runoff.dossier.ranges import STORM_MEMBERS, widening
from runoff.findings.curve_number import CURVE_NUMBER_LIMITS
from runoff.findings.storm_comparison import LITTLE_CUT, storm_note
from runoff.findings.storm_peaks import RETURN_PERIODS
from runoff.roof.assumed import assumptions
from runoff.roof.materials_table import material_ranges
from runoff.roof.samples import FILES, open_sample_roof
from runoff.saying.numbers import fixed, share
from runoff.saying.patterns import pattern_words
from runoff.saying.scales import in_order, typeset
from runoff.saying.sentences import in_us_units
from runoff.simulation import RunRules
from runoff.sizing.evaporation_doubt import weathers_by_method
from runoff.sizing.likely_ranges import FEW_YEARS, model_words
from runoff.sizing.measured_against import judged_roofs, model_error
from runoff.storms.depth_duration import place_doubt
from runoff.units import convert

if TYPE_CHECKING:
    import xarray as xr

    from runoff.dossier.gathering import Evidence
    from runoff.dossier.marked_numbers import Numbers
    from runoff.roof import BareSurface, Outlet, Roof
    from runoff.sizing.claiming import FirstLine
    from runoff.storms.depth_duration import DepthDurationTable


_CLOSED_MM, _F_PER_C = 1e-9, 1.8
#: From this share of the upper end on a peak stands at the end of its range.
_AT_THE_END = 0.98


class Image(NamedTuple):
    """A figure of the page: its address, and its words for those who cannot see it."""

    source: str
    words: str


def words_of(evidence: Evidence, numbers: Numbers, record: dict[str, Any]) -> dict[str, Any]:
    """Return the sentences of the page by name.

    Parameters
    ----------
    evidence
        What the dossier rests on.
    numbers
        Its numbers, ready for the page.
    record
        What is embedded in the page.

    Returns
    -------
    dict
        Name in the template -> sentence, or what the template forms one from.
    """
    attrs, weather = evidence.run.attrs, evidence.weather
    time = weather["time"].to_numpy()
    depth = evidence.figures["event_depth_mm"].attrs
    has_temperature = "tmean" in evidence.run
    years = float(evidence.totals["years"])
    return {
        "existing": surface_words(evidence.existing, evidence.options.units),
        "other_surface": surface_words(evidence.roof.other_surface, evidence.options.units),
        "outlets": outlets_words(evidence.roof, evidence.options.units),
        **_front_words(evidence),
        **_built_words(evidence),
        "evidence": _evidence_words(evidence),
        "of_five": "four roofs of five" if model_error() is not None else "four draws of five",
        "why_credits_differ": WHY_THEY_DIFFER,
        "weather_title": str(weather.attrs.get("title") or weather.attrs.get("source") or "not named"),
        "first_day": str(time[0])[:10],
        "last_day": str(time[-1])[:10],
        "years_kind": "whole" if abs(years - round(years)) < 0.05 else "count",
        "range": "material values, the choice of years, the catch of the gauge and the error of the method (section 9)",
        "range_method": _range_method(evidence),
        "short_record": _short_record(evidence),
        "percentile": in_units(
            f"{depth['threshold']}, {depth['definition']} percentile, {depth['days_kept']:,} days kept",
            evidence.options.units,
        ),
        "curve_number_limits": CURVE_NUMBER_LIMITS,
        "has_temperature": has_temperature,
        "snow": _snow_words(evidence)
        if has_temperature
        else "No temperature is known, so all precipitation is taken as rain and snow is not modelled.",
        "warm": in_units(f"{attrs['warm_c']:g} degC", evidence.options.units),
        "start": "started " + attrs["start"] if attrs["start"].startswith("after") else f"from {attrs['start']}",
        "spill_order": "This order is on the safe side for a claim of capture.",
        "et_method": attrs["reference_et_method"],
        "balance_error": _closes(float(evidence.run["balance_error"])),
        "load_caution": texts.load_caution(evidence.options.units),
        "record": _record(evidence),
        "verdict": evidence.quality.verdict,
        "filled": _filled(evidence),
        "provenance": _provenance(record),
        **_storm_words(evidence),
    }


def _snow_words(evidence: Evidence) -> str:
    """Say when precipitation is snow and how fast it melts."""
    units, rules = evidence.options.units, RunRules().snow
    melts = f"{rules.melt_mm_per_c_day:g} mm a day for each °C above 0 °C"
    if units == "us":
        inches = convert(rules.melt_mm_per_c_day, "mm", "in") / _F_PER_C
        melts = f"{fixed(inches, 3)} in a day for each °F above 32 °F ({melts})"
    return f"Precipitation is snow at or below {in_units(f'{rules.snow_below_c:g} degC', units)}; it melts by {melts}."


def _closes(error_mm: float) -> str:
    """Return how well the balance closes: below its limit the digits are noise, and differ between processors."""
    return f"below {_CLOSED_MM:.0e} mm".replace("1e-09", "10⁻⁹") if error_mm < _CLOSED_MM else f"{error_mm:.1e} mm"


def surface_words(surface: BareSurface, units: str = "si") -> str:
    """Return a bare surface in words."""
    kind = "a bare membrane" if surface.kind == "membrane" else "gravel"
    held = surface.depression_storage_mm
    pair = f"{held:g} mm", f"{convert(held, 'mm', 'in'):.2f} in"
    first, second = pair if units == "si" else pair[::-1]
    return f"{kind} that holds {first} ({second}) before it sheds water"


def outlets_words(roof: Roof, units: str = "si") -> str:
    """Return the outlets of a roof in words."""
    said = "; ".join(outlet_words(one, units) for one in roof.outlets)
    return said or "none: water leaves by the emergency overflow"


def outlet_words(outlet: Outlet, units: str = "si") -> str:
    """Return outlets of one kind in words."""
    metric = " x ".join(f"{side:g}" for side in outlet.sizes_mm)
    inches = " x ".join(f"{convert(side, 'mm', 'in'):.1f}" for side in outlet.sizes_mm)
    pair = f"{metric} mm", f"{inches} in"
    first, second = pair if units == "si" else pair[::-1]
    strainer = "with strainer" if outlet.strainer else "without strainer"
    return f"{outlet.count} {outlet.kind}, {first} ({second}), {strainer}"


def _front_words(evidence: Evidence) -> dict[str, Any]:
    """Return what the first page says in sentences."""
    line = evidence.first_lines["annual_capture_m3"]
    options = evidence.options
    return {
        "refused": line.refused,
        "held_against": _held_against(line),
        "event_asked": _event_words(options.event),
        "worst_year": str(evidence.worst_year),
        "cut_claimed": _cut_claimed(evidence),
        "station": f"{_station(evidence)}; distance from the roof: {options.station_distance or 'not stated'}.",
        "assumed": _assumed(evidence),
    }


def _station(evidence: Evidence) -> str:
    """Name the station as the applicant did, or as its file does; a file that names none has its own name for a title."""
    attrs = evidence.weather.attrs
    file = str(attrs.get("source", ""))
    name = evidence.options.station or str(attrs.get("title", ""))
    if name in ("", file):
        return f"Station not named, file {file}" if file else "Station not named"
    return f"{name[0].upper()}{name[1:]}" if name.lower().startswith("station ") else f"Station {name}"


def _event_words(event: str) -> str:
    """Say how the office named the storm, where it was not by its depth."""
    kind, share = event_asked(event)
    return f"{share:g} % of wet days bring no more; " if kind == "percentile" else ""


def _held_against(line: FirstLine) -> str:
    """Say what the ranges rest on: their numbers stand in the boxes below it."""
    told = (
        f"The ranges include the error of the model, from {line.roofs} measured roofs at {line.sites} sites."
        if line.roofs
        else "Too few measured roofs are known to form the error of the model: the ranges are too narrow by it."
    )
    if line.years < FEW_YEARS:
        told += f" With {line.years:.0f} years of weather they are still too narrow; {FEW_YEARS} years are wanted."
    return told


def _cut_claimed(evidence: Evidence) -> bool:
    """Tell whether the drawn storm's peak is cut by enough to be claimed, at the lower end of its range too."""
    figures = evidence.figures
    if "storm_peak_reduction" not in figures:
        return False
    years = 10 if 10 in evidence.storm_runs else list(evidence.storm_runs)[-1]
    reduction = float(figures["storm_peak_reduction"].sel(return_period=years))
    low = float(figures["storm_peak_reduction_range"].sel(return_period=years, bound="5"))
    return reduction >= LITTLE_CUT and low > 0.0


def _assumed(evidence: Evidence) -> list[str]:
    """Return what was taken because nobody stated it, the existing roof first."""
    said = []
    if not evidence.options.existing_stated:
        said.append("The existing roof is not stated; a bare membrane and gravel are both worked out.")
    said += assumptions(evidence.roof, units=evidence.options.units)
    name, site = title_and_site(evidence)
    if (evidence.roof.name, evidence.roof.site) != (name, site) and evidence.roof.name:
        said.append("The roof file still has the name or the place of a sample roof. It is left out here.")
    said.append(_usual_values(evidence))
    if "assumed" in _time_label(evidence.weather):
        said.append(
            "The weather file does not say whether a time marks the start or the end of its day. The start is taken."
        )
    if not evidence.options.station_distance:
        said.append("The station is taken to stand for the roof.")
    if not evidence.options.drains_to:
        said.append("Where the roof drains is not stated: nothing is said of a combined sewer.")
    return [one for one in said if one]


def _usual_values(evidence: Evidence) -> str:
    """Say how many of the layer values are those usual for such a layer, because nobody gave others."""
    origins = [origin_of(evidence.roof, name) for name in material_ranges(evidence.roof)]
    usual = sum(one == USUAL for one in origins)
    return (
        f"{usual} of {len(origins)} layer values are the usual ones of such layers and were not measured (section 12)."
        if usual
        else ""
    )


def title_and_site(evidence: Evidence) -> tuple[str, str]:
    """Return name and place of the roof as they stand in the title; those of a sample are no title for a real roof."""
    name, site = evidence.roof.name, evidence.roof.site
    if not evidence.is_invented:
        samples = [open_sample_roof(one) for one in FILES]
        name = "" if name in {one.name for one in samples} else name
        site = "" if site in {one.site for one in samples} else site
    return name or "Planted roof", site


#: Quantities of a daily record in the words of the trade.
_QUANTITIES = {
    "rain": "rain", "rain_flag": "flags of the rain gauge", "reference_et": "reference evapotranspiration",
    "tmin": "lowest temperature", "tmax": "highest temperature", "tmean": "mean temperature", "wind_speed": "wind speed",
    "solar_radiation": "solar radiation", "relative_humidity": "relative humidity",
}  # fmt: skip
#: Checks whose short names say little on paper.
_CHECKS = {"tmin above tmax": "minimum above maximum"}


def in_units(text: str, units: str) -> str:
    """Return a sentence whose depths and temperatures in SI stand in brackets behind US customary units.

    Examples
    --------
    >>> in_units("868 to 1451 mm", "us"), in_units("9.7 degC", "si")
    ('34.2 to 57.1 in (868 to 1451 mm)', '9.7 °C')
    >>> in_units("-15.6 to 37.5 degC, mean 9.7", "us")
    '3.9 to 99.5 °F, mean 49.5 (-15.6 to 37.5 °C, mean 9.7)'
    """

    def twice(us: str, si: str) -> str:
        return f"{_typeset_degrees(us)} ({_typeset_degrees(si)})"

    return in_us_units(text, twice) if units == "us" else _typeset_degrees(text)


def _typeset_degrees(text: str) -> str:
    for unit in ("degC", "degF"):
        text = text.replace(unit, typeset(unit))
    return text


def quality_rows(evidence: Evidence) -> list[dict[str, str]]:
    """Return the checks of the weather in the words of the dossier."""
    units = evidence.options.units
    return [
        {
            "name": _CHECKS.get(one.name, one.name),
            "verdict": one.verdict,
            "found": in_units(one.found, units),
            "advice": in_units(one.advice, units),
        }
        for one in evidence.quality.checks
    ]


def _depths(readings_mm: Sequence[float], units: str) -> str:
    """Return readings of depth in one unit."""
    unit, digits = ("mm", 0) if units == "si" else ("in", 2)
    return f"{', '.join(fixed(convert(one, 'mm', unit), digits, trimmed=True) for one in readings_mm)} {unit}"


def _built_words(evidence: Evidence) -> dict[str, Any]:
    if evidence.promised is None or evidence.measured is None:
        return {}
    measured = evidence.measured
    return {
        "promised_outlets": outlets_words(evidence.promised, evidence.options.units),
        "depth_doubt": in_order(depth_doubt(measured, evidence.roof), evidence.options.units),
        "cover": "" if measured.cover is None else share(measured.cover),
        "depths": _depths(measured.depths_mm, evidence.options.units),
    }


def _evidence_words(evidence: Evidence) -> str:
    error = model_error()
    if error is None:
        return "Too few measured roofs are known to form the error of the method."
    low = min(one.measured for one in judged_roofs())
    high = max(one.measured for one in judged_roofs())
    return (
        f"The same method was run for {error.roofs} measured roofs at {error.sites} sites, with nothing tuned to them. They kept "
        f"{low:.0f} to {high:.0f} % of the rain. What the method gets wrong there is part of the ranges of yearly retention, capture and overflow."
    )


def _range_method(evidence: Evidence) -> str:
    options = evidence.options
    allowed = list(weathers_by_method(evidence.weather, RunRules(et_method=options.et_method)))
    several = f"reference evapotranspiration is drawn among {', '.join(allowed)}"
    methods = several if len(allowed) > 1 else f"reference evapotranspiration: {allowed[0]} alone"
    text = (
        f"Material values are drawn from their ranges ({options.members} sets by Latin hypercube, seed "
        f"{options.seed}), and "
        "the years of the record are drawn anew in blocks of three (circular block bootstrap [6]). "
        f"The true rain is taken as 2 % less to 8 % more than the gauge's; {methods}. "
        "Yearly claims carry these; storage capacity and storm peaks carry the materials only"
    )
    if evidence.storm_runs:
        text += (
            f" (peaks: {min(STORM_MEMBERS, options.members)} of the sets; doubt about the rain depths is not in them)"
        )
    return f"{text}. Single events carry the wetness found before rain. {_error_words()}"


def _error_words() -> str:
    """Say what is known of the error of the method, and which ranges hold it."""
    error = model_error()
    if error is None:
        return model_words()
    more = "more" if error.mean > 0.0 else "less"
    return (
        f"Against {error.roofs} measured roofs at {error.sites} sites the method keeps {abs(100 * error.mean):.1f} points of the "
        f"rain {more} on average, with a spread of {100 * error.spread:.1f} points. The ranges of yearly retention, capture and "
        "overflow hold this error. For the other figures none is known, and their ranges are too narrow by it."
    )


def _short_record(evidence: Evidence) -> str:
    years = float(evidence.totals["years"])
    if years >= FEW_YEARS:
        return ""
    return (
        f"The record has {years:.1f} years; 20 or more are wanted. The ranges of yearly claims are widened by the "
        f"factor "
        f"{widening(years):.2f} (Student's t over the normal distribution), and rare figures, such as the longest "
        f"spells, "
        "are still likely too mild."
    )


def _storm_words(evidence: Evidence) -> dict[str, Any]:
    if evidence.storms is None or not evidence.storm_runs:
        return {"storms_missing": "no depth-duration-frequency table was given."}
    first = next(iter(evidence.storm_runs.values()))["rain"]
    return {
        "storms_missing": "",
        "storm_source": f"{evidence.storms.source} ({evidence.storms.series} series){_place_doubt(evidence)}",
        "storm_pattern": pattern_words(str(first.attrs.get("pattern", evidence.options.pattern))),
        "peaks_above": _peaks_above(evidence),
        "storm_step": first.attrs.get("step", "5 min"),
        "storm_note": " ".join(
            [
                *(_sentence(first.attrs[key]) for key in ("note", "rain_notes", "warning") if first.attrs.get(key)),
                left_out(evidence.storms, evidence.storm_runs),
            ]
        ).strip(),
        "storm_readings": [
            (years, storm_note(one, units=evidence.options.units).replace("bare roof", "existing roof"))
            for years, one in evidence.comparisons.items()
        ],
    }


def _peaks_above(evidence: Evidence) -> str:
    """Say why a peak stands at the upper end of its range or above; empty where none does."""
    peaks, high = evidence.figures["storm_peak"], evidence.figures["storm_peak_range"].sel(bound="95")
    if not bool((peaks >= _AT_THE_END * high).any()):
        return ""
    return (
        "A peak stands at the upper end of its range, or above it, because most of the values drawn for the medium delay the water "
        "more than the one taken (section 12). The larger peak counts."
    )


def left_out(table: DepthDurationTable, run: Collection[int]) -> str:
    """Name the return periods that a table does not reach; empty where it reaches all of them."""
    missing = [f"{years}-year" for years in RETURN_PERIODS if years not in run]
    if not missing:
        return ""
    low, high = table.return_periods_years[0], table.return_periods_years[-1]
    return (
        f"No {' and no '.join(missing)} storm is shown: the table of rain depths has {low:g} to {high:g} years, and "
        "nothing is extrapolated."
    )


def _place_doubt(evidence: Evidence) -> str:
    at = float(evidence.weather["lat"]) if "lat" in evidence.weather.coords else None
    doubt = place_doubt(evidence.storms, at) if evidence.storms is not None else ""
    return f". Questioned: {doubt.replace('the roof is', 'the weather of the roof is')}" if doubt else ""


def _record(evidence: Evidence) -> list[tuple[str, str]]:
    attrs, weather = evidence.weather.attrs, evidence.weather
    rows = [("Source", str(attrs.get("source", "not stated"))), ("Title", str(attrs.get("title", "not stated")))]
    if {"lat", "lon"} <= set(weather.coords):
        rows.append(("Place", f"latitude {float(weather['lat']):.3f}°, longitude {float(weather['lon']):.3f}°"))
    elif "lat" in weather.coords:
        rows.append(("Place", f"latitude {float(weather['lat']):.3f}°"))
    time = weather["time"].to_numpy()
    rows.append(("Record used", f"{str(time[0])[:10]} to {str(time[-1])[:10]}, {time.size:,} days"))
    rows.append(("Quantities", ", ".join(_QUANTITIES.get(one, one) for one in sorted(map(str, weather.data_vars)))))
    rows.append(("Reference evapotranspiration", evidence.run.attrs["reference_et_method"]))
    for name, words in (
        ("day_start", "Start of the day"),
        ("fill", "Filled"),
    ):
        if attrs.get(name):
            rows.append((words, str(attrs[name])))
    rows.append(("Time label of the file", _time_label(weather)))
    return rows


def _time_label(weather: xr.Dataset) -> str:
    """Return what a time of the weather file marks, as stated there or as assumed."""
    return str(
        weather.attrs.get("time_label") or "not stated by the file; assumed: the day that begins at the time given"
    )


def _filled(evidence: Evidence) -> str:
    fill = evidence.weather.attrs.get("fill")
    return f"Filled by a named method: {fill}." if fill else "No value was filled in."


def _provenance(record: dict[str, Any]) -> list[tuple[str, str]]:
    sums, options = record["checksums"], record["options"]
    rows = [
        ("Roof description, SHA-256", sums["roof"]),
        ("Daily weather inside, SHA-256", sums["weather"]),
    ]
    if sums["weather_file"]:
        rows.append(("Weather file, SHA-256", sums["weather_file"]))
    rows.append(("Options", ", ".join(f"{name} {options[name]}" for name in ("members", "seed", "pattern", "paper"))))
    rows.append(("Versions", ", ".join(f"{name} {number}" for name, number in sorted(record["versions"].items()))))
    return rows


def _sentence(text: str) -> str:
    text = text.strip()
    return f"{text[0].upper()}{text[1:].rstrip('.')}." if text else ""
