"""Sentences that follow from the run: sources, methods, quality, provenance. Nothing here is typed in by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from runoff.dossier import texts
from runoff.dossier.ranges import STORM_MEMBERS, widening
from runoff.findings.curve_number import CURVE_NUMBER_LIMITS
from runoff.sizing.likely_ranges import FEW_YEARS, model_words
from runoff.storms.depth_duration import place_doubt
from runoff.units import convert

if TYPE_CHECKING:
    from runoff.dossier.gathering import Evidence
    from runoff.dossier.marked_numbers import Numbers
    from runoff.roof import BareSurface, Outlet


_CLOSED_MM = 1e-9


class Image(NamedTuple):
    """A figure of the page: its address, and its words for those who cannot see it."""

    source: str
    words: str


def words_of(evidence: Evidence, numbers: Numbers, record: dict[str, Any]) -> dict[str, Any]:
    """Return the sentences of the page by name."""
    attrs, weather = evidence.run.attrs, evidence.weather
    time = weather["time"].to_numpy()
    depth = evidence.figures["event_depth_mm"].attrs
    has_temperature = "tmean" in evidence.run
    years = float(evidence.totals["years"])
    return {
        "existing": surface_words(evidence.existing),
        "other_surface": surface_words(evidence.roof.other_surface),
        "outlets": "; ".join(map(outlet_words, evidence.roof.outlets))
        or "none: water leaves by the emergency overflow",
        "weather_title": str(weather.attrs.get("title") or weather.attrs.get("source") or "not named"),
        "first_day": str(time[0])[:10],
        "last_day": str(time[-1])[:10],
        "years_kind": "whole" if abs(years - round(years)) < 0.05 else "count",
        "range": "what is left when unsure material values and the chance of the years are both drawn anew (section 9)",
        "range_method": _range_method(evidence),
        "short_record": _short_record(evidence),
        "percentile": f"{depth['threshold']}, {depth['definition']} percentile, {depth['days_kept']:,} days kept",
        "curve_number_limits": CURVE_NUMBER_LIMITS,
        "has_temperature": has_temperature,
        "snow": "Precipitation is snow " + attrs["snow"].replace(" C", " °C").replace("/C/", "/°C/") + "."
        if has_temperature
        else "No temperature is known, so all precipitation is taken as rain and snow is not modelled.",
        "start": "started " + attrs["start"] if attrs["start"].startswith("after") else f"from {attrs['start']}",
        "spill_order": "This order is on the safe side for a claim of capture.",
        "et_method": attrs["reference_et_method"],
        "balance_error": _closes(float(evidence.run["balance_error"])),
        "load_caution": texts.LOAD_CAUTION,
        "record": _record(evidence),
        "verdict": evidence.quality.verdict,
        "filled": _filled(evidence),
        "provenance": _provenance(record),
        **_storm_words(evidence),
    }


def _closes(error_mm: float) -> str:
    """Return how well the balance closes: below its limit the digits are noise, and differ between processors."""
    return f"below {_CLOSED_MM:.0e} mm".replace("1e-0", "10^-") if error_mm < _CLOSED_MM else f"{error_mm:.1e} mm"


def surface_words(surface: BareSurface) -> str:
    """Return a bare surface in words."""
    kind = "a bare membrane" if surface.kind == "membrane" else "gravel"
    held = surface.depression_storage_mm
    return f"{kind} that holds {held:g} mm ({convert(held, 'mm', 'in'):.2f} in) before it sheds water"


def outlet_words(outlet: Outlet) -> str:
    """Return outlets of one kind in words."""
    metric = " x ".join(f"{side:g}" for side in outlet.sizes_mm)
    inches = " x ".join(f"{convert(side, 'mm', 'in'):.1f}" for side in outlet.sizes_mm)
    strainer = "with strainer" if outlet.strainer else "without strainer"
    return f"{outlet.count} {outlet.kind}, {metric} mm ({inches} in), {strainer}"


def _range_method(evidence: Evidence) -> str:
    options = evidence.options
    text = (
        f"Material values are drawn from their ranges ({options.members} sets by Latin hypercube, seed "
        f"{options.seed}), and "
        "the years of the record are drawn anew in blocks of three (circular block bootstrap, Politis and Romano "
        "1992). "
        "The true rain is taken as 2 % less to 8 % more than the gauge's. "
        "Yearly claims carry these three; storage capacity and storm peaks carry the materials only"
    )
    if evidence.storm_runs:
        text += (
            f" (peaks: {min(STORM_MEMBERS, options.members)} of the sets; doubt about the rain depths is not in them)"
        )
    return f"{text}. Single events carry the wetness found before rain. {model_words()}"


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
        "storm_pattern": first.attrs.get("pattern", evidence.options.pattern),
        "storm_step": first.attrs.get("step", "5 min"),
        "storm_note": " ".join(
            _sentence(first.attrs[key]) for key in ("note", "rain_notes", "warning") if first.attrs.get(key)
        ),
        "storm_readings": [(years, one.attrs["note"]) for years, one in evidence.comparisons.items()],
    }


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
    rows.append(("Quantities", ", ".join(sorted(map(str, weather.data_vars)))))
    rows.append(("Reference evapotranspiration", evidence.run.attrs["reference_et_method"]))
    for name, words in (
        ("day_start", "Start of the day"),
        ("time_label", "Time label of the file"),
        ("fill", "Filled"),
    ):
        if attrs.get(name):
            rows.append((words, str(attrs[name])))
    return rows


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
