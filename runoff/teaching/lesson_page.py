"""The lesson as one page for any browser: a year of every choice worked out here, played there.

The page holds numbers and a script that draws them; it reckons nothing of the water itself. `packed_year` forms the numbers, so
that a test can hold a page to `runoff.simulate`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import RunoffError
from runoff.findings.spells import WET_BANDS
from runoff.given_kinds import refuse_other_kinds
from runoff.saying.scales import SCALES, require_system, typeset
from runoff.teaching.comparisons import COMPARISONS, Choice
from runoff.teaching.layer_cards import CARDS, POT_TESTS
from runoff.teaching.records import from_autumn_to_summer, is_southern
from runoff.teaching.shapes import shape_of
from runoff.teaching.years import (
    BELOW,
    FALLS,
    MEDIA,
    OUTLET_YEARS,
    PLACES,
    all_built,
    damage_along_the_fall,
    first_of_month,
    year_runs,
)
from runoff.units import convert
from runoff.version import __version__
from runoff.writing import write_text

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof import Roof

#: What a page holds of every run: name there -> (name in a run, decimals). Depths in mm, air and shares in per cent.
SERIES = {
    "level": ("water_depth_on_deck_mm", 1),
    "air": ("air_filled_porosity", 1),
    "share": ("waterlogged_share", 1),
    "left": ("overflow", 2),
    "over_edge": ("spilled", 2),
    "cups": ("cup_water", 1),
    "held": ("held_water", 1),
}
_PER_CENT = ("air", "share")
#: Stores whose water weighs on the roof, mm = kg/m2.
_ON_THE_ROOF = ("surface_water", "medium_water", "cup_water", "mat_water", "board_water", "pond_water", "snow_water")
_KINDS = ("depth", "level", "yearly depth", "whole load", "temperature", "layer depth")
_MOST_BYTES = 3_000_000


def write_lesson(weather: xr.Dataset, path: str | Path, *, year: int | None = None, units: str = "si") -> Path:
    """Write the lesson of two roofs side by side as one self-contained page.

    Parameters
    ----------
    weather
        A daily record of one place, as `runoff.read_weather` or `runoff.open_sample` returns it.
    path
        The page, ending in ``.html``.
    year
        The calendar year in whose September the lesson begins (March in the south); default the last one that the record
        has whole.
    units
        ``"si"`` or ``"us"``: what the page shows first; it can be changed there.

    Returns
    -------
    pathlib.Path
        The page: under 3 MB, nothing loaded from outside, shown by any browser of today without Python.

    Raises
    ------
    RunoffError
        For a name that does not end in ``.html``, a record that is not daily or lacks the year.
    WeatherError
        When rain, or what evapotranspiration needs, is missing.
    """
    refuse_other_kinds("write_lesson", weather=weather, path=path)
    target = Path(path)
    if target.suffix.lower() != ".html":
        raise RunoffError(f'write_lesson: the page ends in .html (given "{target.name}")')
    require_system(units)
    return write_text(target, lesson_html(packed_year(weather, year=year), units=units))


def packed_year(weather: xr.Dataset, *, year: int | None = None) -> dict[str, Any]:
    """Return all numbers and words of a page as plain lists: a year of every roof under every fate of its outlets.

    Parameters
    ----------
    weather, year
        As in `write_lesson`.

    Returns
    -------
    dict
        ``days``, ``rain`` (mm) and ``tmean`` (degC, or None); ``runs`` by ``below|medium|fall|outlet``, each with the series of
        `SERIES`, ``weight`` (kg/m2, the water and the dry layers, mean over the roof), ``hurt`` (a string of digits per place
        from the low end up: the band of damage on each day), ``dry`` and the sums of the year.
    """
    one_year = from_autumn_to_summer(weather, year)
    built = all_built()
    runs: dict[str, Any] = {}
    tmean: list[float] | None = None
    for fate, run in year_runs(one_year):
        hurt = damage_along_the_fall(run)
        if "tmean" in run:
            tmean = _rounded(run["tmean"].to_numpy(), 1)
        for number, one in enumerate(built):
            runs[key_of(Choice(one, fate.word))] = _packed(
                run.isel(design=number), hurt.isel(design=number), one.roof()
            )
    south = is_southern(weather)
    return {
        "version": __version__,
        "place": str(weather.attrs.get("title", "") or weather.attrs.get("name", "") or "the weather given"),
        "invented": str(weather.attrs.get("invented", "no")) == "yes",
        "days": [str(stamp)[:10] for stamp in one_year["time"].to_index()],
        "rain": _rounded(one_year["rain"].to_numpy(), 2),
        "tmean": tmean,
        "warm": float(run.attrs.get("warm_c", 5.0)),
        "outlets": [
            {
                "key": fate.word,
                "words": fate.words(south=south),
                "blocked": fate.blocked,
                "clogs": _step(one_year, fate.month("clogs", south=south)),
                "clears": _step(one_year, fate.month("clears", south=south)),
            }
            for fate in OUTLET_YEARS
        ],
        "below": list(BELOW),
        "media": list(MEDIA),
        "falls": list(FALLS),
        "built": {key_of(Choice(one, ""))[:-1]: shape_of(one.roof())._asdict() for one in built},
        "runs": runs,
        "bands": [{"from": band.first_day, "words": band.words} for band in WET_BANDS],
        "places": PLACES,
        "comparisons": [
            {
                "title": one.title,
                "first": key_of(one.first),
                "second": key_of(one.second),
                "predict": one.predict,
                "shows": one.shows,
            }
            for one in COMPARISONS
        ],
        "scales": {kind: _scale(kind) for kind in _KINDS},
    }


def _packed(run: xr.Dataset, hurt: xr.DataArray, roof: Roof) -> dict[str, Any]:
    """Return the series of one run."""
    series = {
        name: _rounded(run[variable].to_numpy() * (100.0 if name in _PER_CENT else 1.0), decimals)
        for name, (variable, decimals) in SERIES.items()
    }
    water = np.sum([run[name].to_numpy() for name in _ON_THE_ROOF if name in run], axis=0)
    dry_mass = sum(layer.dry_mass_kg_per_m2 for layer in roof.build_up.layers)
    return {
        **series,
        "weight": _rounded(dry_mass + water, 1),
        "wet": _digits(run["waterlogged"].to_numpy()),
        "dry": _digits(run["dry"].to_numpy()),
        "hurt": [_digits(hurt.isel(place=place).to_numpy()) for place in range(hurt.sizes["place"])],
    }


def key_of(choice: Choice) -> str:
    """Return the name of a run in `packed_year`."""
    return "|".join((choice.built.below, choice.built.medium, f"{choice.built.fall:g}", choice.outlet))


def _step(weather: xr.Dataset, month: int | None) -> int | None:
    return None if month is None else first_of_month(weather, month)


def _rounded(values: np.ndarray, decimals: int) -> list[float]:
    """Return numbers for the page; whole ones without a point, and no minus before a zero."""
    return [int(value) if value == int(value) else value for value in (np.round(values, decimals) + 0.0).tolist()]


def _digits(values: np.ndarray) -> str:
    return "".join(str(int(value)) for value in values)


def _scale(kind: str) -> dict[str, Any]:
    """Return how a kind of quantity is shown in both systems: shown = factor x value + offset."""
    scale, shown = SCALES[kind], {}
    for system in ("si", "us"):
        zero, one = (float(convert(value, scale.si, scale.unit(system))) for value in (0.0, 1.0))
        shown[system] = {
            "unit": typeset(scale.unit(system)),
            "digits": scale.digits(system),
            "factor": one - zero,
            "offset": zero,
        }
    return shown


def lesson_html(year: Mapping[str, Any], *, units: str = "si") -> str:
    """Return the page that plays a year of `packed_year`.

    Raises
    ------
    RunoffError
        When the page would be larger than a school's tablet should have to take.
    """
    import jinja2
    from markupsafe import Markup

    files = resources.files("runoff.teaching") / "page"
    parts = {name: (files / name).read_text(encoding="utf-8") for name in ("lesson.html.j2", "lesson.css", "lesson.js")}
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    numbers = json.dumps({**year, "units": units}, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    page = environment.from_string(parts["lesson.html.j2"]).render(
        style=Markup(parts["lesson.css"]),
        script=Markup(parts["lesson.js"]),
        # inside a script element only its end could be mistaken
        numbers=Markup(numbers.replace("<", "\\u003c")),
        year=year,
        cards=CARDS,
        pot_tests=POT_TESTS,
        bands=WET_BANDS,
    )
    if len(page.encode("utf-8")) > _MOST_BYTES:
        raise RunoffError("the lesson page came out larger than 3 MB; give a daily record of one place")
    return page
