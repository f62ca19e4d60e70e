"""The page: evidence and words in, one HTML text out. The same evidence gives the same bytes."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.dossier import provenance, texts
from runoff.dossier.asked_for import PAPERS, event_asked
from runoff.dossier.equations import EQUATIONS, equation_image
from runoff.dossier.evidence_rows import ATTACHMENTS, CHECKS, built_rows, credit_rows, source_rows
from runoff.dossier.gathering import Evidence
from runoff.dossier.marked_numbers import Numbers
from runoff.dossier.pictures import figure_image
from runoff.dossier.words import Image, in_units, quality_rows, title_and_site, words_of
from runoff.findings.event_capture import ASKED, NAMED_EVENTS_MM, PERCENTILES
from runoff.findings.spells import DRY_BANDS, WET_BANDS
from runoff.findings.storm_comparison import with_comparison
from runoff.findings.summary import RUN_ON
from runoff.roof.assumed import assumptions
from runoff.saying.dates import MONTHS
from runoff.saying.scales import in_order

if TYPE_CHECKING:
    from runoff.roof import Roof

_INVENTED_MARK = "INVENTED SAMPLE: for demonstration only"
_TITLE_LENGTH = 70
#: Shares kept by month: below 0 more ran off than fell.
_BY_MONTH = ("retention_by_month", "bare_retention_by_month")
#: A curve number that is printed as 99 or 100.
_MEANINGLESS_FROM = 98.5
#: Depths that differ by less are printed alike.
_PRINTED_ALIKE_MM = 0.05


def render(evidence: Evidence, versions: Mapping[str, str] | None = None) -> str:
    """Return the dossier as one self-contained HTML text, by default with the versions of now."""
    environment = page_environment()
    record = provenance_record(evidence, versions)
    units = evidence.options.units
    numbers = Numbers(evidence.figures, units)
    title, site = title_and_site(evidence)
    style = environment.get_template("dossier.css.j2").render(
        paper_size=PAPERS[evidence.options.paper],
        tall_figure="92mm" if evidence.options.paper == "a4" else "84mm",  # with its table on one page
        page_title=css_text(shortened(title, _TITLE_LENGTH)),
        page_mark=css_text(_INVENTED_MARK if evidence.is_invented else "Stormwater capture dossier"),
        page_provenance=css_text(_footer(record)),
        invented=evidence.is_invented,
    )
    return environment.get_template("dossier.html.j2").render(
        style=environment.filters["safe"](style),
        n=numbers,
        roof={**_roof(evidence.roof), "name": title, "site": site},
        invented=evidence.is_invented,
        options=evidence.options,
        versions=record["versions"],
        words=words_of(evidence, numbers, record),
        rows=_rows(evidence),
        images=_images(evidence),
        equations={name: Image(*equation_image(name)) for name in EQUATIONS},
        contents=texts.contents(as_built=evidence.promised is not None, storms=bool(evidence.storm_runs)),
        upkeep=[task._replace(what=in_order(task.what, units)) for task in texts.UPKEEP],
        assumptions=(
            *texts.ASSUMPTIONS,
            *([] if evidence.roof.run_on_area_m2 > 0.0 else [texts.NO_RUN_ON]),
            *assumptions(evidence.roof, units=units),
        ),
        unknown=texts.UNKNOWN,
        glossary=[(term, in_order(meaning, units)) for term, meaning in texts.GLOSSARY],
        references=texts.REFERENCES,
        no_number=texts.NO_NUMBER,
        checks=CHECKS,
        attachments=ATTACHMENTS,
        built=evidence.measured,
        provenance=record,
    )


def provenance_record(evidence: Evidence, versions: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Return all that is embedded in the file so that it can be checked."""
    numbers = Numbers(evidence.figures)
    packed = provenance.pack_weather(evidence.weather)
    return {
        "format": provenance.FORMAT,
        "versions": dict(versions or provenance.versions()),
        "roof": evidence.roof.to_toml(),
        "existing": evidence.existing.model_dump(mode="json"),
        "promised": evidence.promised.to_toml() if evidence.promised is not None else None,
        "measured": asdict(evidence.measured) if evidence.measured is not None else None,
        "storms": provenance.pack_storms(evidence.storms),
        "options": asdict(evidence.options),
        "weather": packed,
        "checksums": {
            "roof": provenance.checksum(evidence.roof.to_toml()),
            **({"promised": provenance.checksum(evidence.promised.to_toml())} if evidence.promised is not None else {}),
            "weather": packed["series_sha256"],
            "weather_file": str(evidence.weather.attrs.get("sha256", "")),
        },
        "units": numbers.units,
        "figures": {key: provenance.json_number(value) for key, value in numbers.values.items()},
    }


def css_text(text: str) -> str:
    r"""Return text that may stand inside a quoted CSS string whatever it holds: letters and digits, the rest by number.

    Examples
    --------
    >>> css_text("p</style>.") == r"p\3c \2f style\3e \2e "
    True
    """
    printable = (letter for letter in text if letter.isprintable())
    return "".join(one if one.isascii() and one.isalnum() else f"\\{ord(one):x} " for one in printable)


def shortened(text: str, length: int) -> str:
    """Return text of at most `length` letters for a page head; the whole of it stands on the first page."""
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"


def _footer(record: dict[str, Any]) -> str:
    sums = record["checksums"]
    return (
        f"runoff {record['versions']['runoff']} · roof {sums['roof'][:12]} · weather {sums['weather'][:12]} · "
        f"seed {record['options']['seed']}"
    )


@functools.cache
def page_environment() -> Any:
    """Return what fills the templates of all documents: everything is escaped, nothing may be left out."""
    import jinja2
    from markupsafe import Markup

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("runoff.dossier"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["safe"] = Markup
    return environment


def _roof(roof: Roof) -> dict[str, Any]:
    """Return the description for the tables: layers with their words, material and the parts that count for water."""
    layers = [
        {
            "words": layer.title,
            "material": layer.material,
            "place": at,
            "inspected": layer.word in ("mulch", "medium"),
            "parts": [{"name": part.field, "words": part.words, "kind": part.kind} for part in layer.parts],
        }
        for at, layer in enumerate(roof.build_up.layers, start=1)
    ]
    words = [layer.word for layer in roof.build_up.layers]
    return {
        "layers": layers,
        "medium": words.index("medium") + 1,
    }


def _claim(words: str, name: str, kind: str, total: bool = False) -> dict[str, Any]:
    return {"words": words, "name": name, "kind": kind, "total": total}


def _avoided(evidence: Evidence) -> list[dict[str, Any]]:
    """Return the rows of avoided runoff: against the roof as it is, or against either while nobody has said what lies there."""
    if evidence.options.existing_stated:
        return [
            _claim("Runoff of the existing roof", "bare_annual_overflow_m3", "volume"),
            _claim("Runoff avoided, against the existing roof", "avoided_annual_m3", "volume", total=True),
            _claim("Runoff avoided, share of the existing runoff", "avoided_share", "share"),
        ]
    return [
        _claim("Runoff of the existing roof, if its membrane is bare", "bare_annual_overflow_m3", "volume"),
        _claim("Runoff avoided, if its membrane is bare", "avoided_annual_m3", "volume"),
        _claim(
            "Runoff avoided, if gravel lies there: this counts until it is stated",
            "gravel_avoided_annual_m3",
            "volume",
            total=True,
        ),
    ]


def _rows(evidence: Evidence) -> dict[str, Any]:
    """Return what stands in the rows of each table."""
    us = evidence.options.units == "us"
    events = [
        {"label": label, "words": f"{depth / 25.4:g} in" if us else f"{label} mm"}
        for label, depth in NAMED_EVENTS_MM.items()
    ]
    events += [{"label": f"p{share}", "words": f"{share} % of wet days"} for share in PERCENTILES]
    kind, size = event_asked(evidence.options.event)
    named = NAMED_EVENTS_MM.values() if kind == "depth" else PERCENTILES
    if not any(np.isclose(size, one) for one in named):
        events.append({"label": ASKED, "words": "asked for"})
    return {
        "year": [
            _claim("Rain", "annual_rain", "yearly depth"),
            *([_claim("Run-on, per planted area", RUN_ON, "yearly depth")] if RUN_ON in evidence.figures else []),
            _claim("Annual capture, per planted area", "annual_capture_mm", "yearly depth"),
            _claim("Retention, planted area", "retention", "share"),
            _claim("Annual capture, whole roof", "annual_capture_m3", "volume"),
            _claim("Retention, whole roof", "roof_retention", "share"),
            _claim("Runoff of the planted roof", "roof_annual_overflow_m3", "volume"),
            *_avoided(evidence),
            _claim("Rain events a year", "events_per_year", "count"),
            _claim("Rain events held a year, planted area", "events_held_per_year", "count"),
            _claim("Rain events held a year, existing roof", "bare_events_held_per_year", "count"),
        ],
        "capacity": [
            _claim("Canopy and mulch", "capacity_surface_mm", "depth"),
            _claim("Growing medium, plant-available", "capacity_medium_mm", "depth"),
            _claim("Cups of the drainage board", "capacity_cups_mm", "depth"),
            _claim("Mat and fleece", "capacity_mat_mm", "depth"),
            _claim("Storage capacity, per planted area", "capacity_mm", "depth", total=True),
            _claim("Storage capacity, whole planted area", "capacity_m3", "volume"),
            _claim("With the depression storage of the rest of the roof", "capacity_whole_roof_m3", "volume"),
        ],
        "events": events,
        "typical_alike": _all_fill_the_room(evidence),
        "curve_numbers": _curve_numbers_told(evidence),
        "storms": list(evidence.storm_runs),
        "storm_drawn": _storm_drawn(evidence) if evidence.storm_runs else None,
        "months": [{"label": i, "words": name} for i, name in enumerate(MONTHS, start=1)],
        "more_left": bool(min(float(evidence.figures[one].min()) for one in _BY_MONTH) < 0.0),
        "spells": list(zip(WET_BANDS[1:], DRY_BANDS[1:], strict=True)),
        "loads": _loads(evidence),
        "credits": credit_rows(evidence),
        "sources": source_rows(evidence.roof, evidence.options.units),
        **built_rows(evidence),
        "quality": quality_rows(evidence),
    }


def _all_fill_the_room(evidence: Evidence) -> bool:
    """Tell whether every event fills the room of a typical day, so that one number stands in all rows."""
    kept = evidence.figures["event_capture_mm"].sel(start="before-50")
    return bool(float(kept.max() - kept.min()) < _PRINTED_ALIKE_MM)


def _curve_numbers_told(evidence: Evidence) -> dict[str, Any]:
    """Tell which columns have a curve number below 99 in any event, and which are left out: above, the form has lost its meaning."""
    planted = evidence.figures["event_curve_number"]
    columns = {
        "typical": planted.sel(start="before-50"),
        "wet": planted.sel(start="field-capacity"),
        "existing": evidence.figures["event_bare_curve_number"],
    }
    told = {name: bool((numbers < _MEANINGLESS_FROM).any()) for name, numbers in columns.items()}
    out = [] if told["wet"] else ["from field capacity the planted roof comes out"]
    out += [] if told["existing"] else ["the existing roof comes out"]
    return {**told, "left_out": [f"{one[0].upper()}{one[1:]}" if not at else one for at, one in enumerate(out)]}


def _loads(evidence: Evidence) -> dict[str, Any]:
    """Return the states, and the layers that weigh anything, standing water last."""
    from runoff.roof.layers import LAYERS
    from runoff.roof.loads import roof_loads, states_shown

    loads, weight = roof_loads(evidence.roof), evidence.figures["weight"]
    layers = [str(name) for name in weight["weighed"].to_numpy() if float(weight.sel(weighed=name).max()) > 0.0]
    return {
        "ponded": in_units(loads.attrs["ponded"], evidence.options.units),
        "states": [{"label": label, "words": words} for label, words in states_shown(loads).items()],
        "layers": [
            {"label": name, "words": LAYERS[name].title if name in LAYERS else "Standing water"} for name in layers
        ],
    }


def _storm_drawn(evidence: Evidence) -> int:
    """Return the return period of the storm that is drawn: 10 years, the usual one of roof outlets, if it was run."""
    return 10 if 10 in evidence.storm_runs else list(evidence.storm_runs)[-1]


def _images(evidence: Evidence) -> dict[str, Image | None]:
    """Return the figures: what they show is said by the figures themselves, from what was drawn."""
    from runoff.plots import build_up_section_figure, monthly_balance_figure, storm_figure

    units, claimed = evidence.options.units, evidence.first_lines["retention"]
    section = build_up_section_figure(evidence.roof, title="Section of the build-up", units=units)
    months = monthly_balance_figure(evidence.run, units=units)
    images = {
        "section": Image(figure_image(section), section.description),
        "months": Image(figure_image(months, height_in=2.5), months.description),
        "storm": None,
        "measured": _measured_image(None if claimed.refused else claimed.expected),
    }
    if evidence.storm_runs:
        years = _storm_drawn(evidence)
        during = with_comparison(evidence.storm_runs[years], evidence.comparisons[years])
        during = during.sel(time=evidence.design_storms[years]["time"])  # without the day after it
        during = during.assign_attrs(comparison_words="existing roof")
        storm = storm_figure(during.drop_vars("gravel_discharge"), roof=evidence.roof, units=units)
        images["storm"] = Image(figure_image(storm, height_in=3.5), storm.description)
    return images


@functools.lru_cache(maxsize=8)
def _measured_image(expected: float | None) -> Image:
    """Return the picture of the measured roofs, and where among them the expected retention lies; none if it is not claimed."""
    from runoff.plots import measured_roofs_figure

    measured = measured_roofs_figure(expected=expected)
    return Image(figure_image(measured, height_in=3.6), measured.description)
