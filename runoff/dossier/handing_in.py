"""`write_dossier`: evidence, page and file in one call."""

from __future__ import annotations

import dataclasses
import html
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runoff.dossier import provenance
from runoff.dossier.as_built import Measured, read_as_built
from runoff.dossier.asked_for import Options
from runoff.dossier.future_dates import refuse_future_date
from runoff.dossier.gathering import Evidence, gather, quietly, storm_table
from runoff.dossier.marked_numbers import Numbers
from runoff.dossier.page import provenance_record, render
from runoff.dossier.printing import pdf_bytes, require_pdf
from runoff.dossier.sheets import Remade
from runoff.dossier.words import quality_rows, words_of
from runoff.errors import RunoffError
from runoff.given_kinds import refuse_other_kinds
from runoff.saying import titles
from runoff.writing import write_whole

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof import BareSurface, Roof
    from runoff.storms.depth_duration import DepthDurationTable

#: A sentence is longer than this; shorter words could stand for anything.
_SENTENCE = 15


def write_dossier(
    roof: Roof | str | Path,
    weather: xr.Dataset | Any,
    path: str | Path,
    *,
    storms: DepthDurationTable | str | Path | None = None,
    existing: BareSurface | None = None,
    as_built: Roof | str | Path | None = None,
    **options: Any,
) -> xr.Dataset:
    """Write the stormwater capture dossier of a planted roof.

    Parameters
    ----------
    roof
        The roof, or the path of a roof file.
    weather
        Daily weather of at least 5, better 20 or more years: what `runoff.simulate` takes, or the path of a file that
        `runoff.read_weather` reads without further help. Shorter steps are summed to days.
    path
        ``.html`` for the dossier; ``.pdf`` for the tagged PDF of the same page (extra ``pdf``).
    storms
        Depth-duration-frequency table, or the path of one, for the peaks of the 2-, 10- and 100-year storm. Without it
        the section says what is missing.
    existing
        The roof as it is, against which avoided runoff is counted. Without it the tables count against a bare membrane, and
        the first page shows both that and gravel and claims the smaller.
    as_built
        A roof with what was measured after planting, or the path of such a roof file, which may have a table ``[as_built]``
        (`runoff.dossier.as_built.Measured`). The dossier is then that of the roof as built, with the difference to `roof`,
        which was promised.
    **options
        See `runoff.dossier.asked_for.Options`: what is printed as given (``applicant``, ``address``, ``date`` ...; no date is put
        in by itself), ``paper``, ``units``, ``members`` and ``seed`` of the ranges, ``et_method``, ``pattern`` of the design
        storms, ``event`` that the office asks for, ``rules`` of places.

    Returns
    -------
    xarray.Dataset
        Every number of the dossier in SI units; ranges as ``<figure>_range`` along ``bound`` (5 and 95 %).

    Raises
    ------
    WeatherError
        For gaps, fewer than 5 years, more than a tenth of the days filled, days to come, or no evapotranspiration.
    RunoffError
        When the path cannot be written, an option is not known, or the PDF writer is missing.

    Notes
    -----
    The file is self-contained: no outside request, no script. It is replaced as a whole or not at all, and the same
    input gives the same bytes. `runoff.verify_dossier` computes it again.
    """
    refuse_other_kinds("write_dossier", path=path)
    path = Path(path)
    as_pdf = path.suffix.lower() == ".pdf"
    if not as_pdf and path.suffix.lower() not in (".html", ".htm"):
        raise RunoffError(f'dossier: the file must end in .html or .pdf (given "{path.name}")')
    if as_pdf:
        require_pdf()  # before any work
    asked = dataclasses.replace(Options.of(options), existing_stated=existing is not None)
    refuse_future_date(asked.date)
    if isinstance(roof, str | Path):
        from runoff.roof import read_roof

        roof = read_roof(roof)
    built, measured = read_as_built(as_built) if as_built is not None else (None, None)
    evidence = quietly(
        gather, built or roof, weather, storms=storm_table(storms), existing=existing, options=asked,
        promised=roof if built is not None else None, measured=measured,
    )  # fmt: skip
    page = render(evidence)
    write_whole(path, pdf_bytes(page) if as_pdf else page.encode("utf-8"))
    return evidence.figures.assign_attrs(title=titles.DOSSIER, invented="yes" if evidence.is_invented else "no")


def remake(record: Mapping[str, Any]) -> Remade:
    """Make a dossier again from the roof, the weather and the options it carries."""
    from runoff.roof import BareSurface

    weather = provenance.unpack_weather(record["weather"])
    evidence = quietly(
        gather,
        provenance.roof_of_record(record["roof"]),
        weather,
        storms=provenance.unpack_storms(record["storms"]),
        existing=BareSurface(**record["existing"]),
        options=Options(**record["options"]),
        promised=provenance.roof_of_record(record["promised"]) if record.get("promised") else None,
        measured=Measured.of(record["measured"], "as built") if record.get("measured") is not None else None,
    )
    page = render(evidence, record["versions"])
    return Remade(
        html=page,
        record=provenance_record(evidence, record["versions"]),
        figures=Numbers(evidence.figures).values,
        spoken=_spoken_of(evidence, record, page),
        weather=weather,
    )


def _spoken_of(evidence: Evidence, record: Mapping[str, Any], page: str) -> list[str]:
    """Return the sentences of the page that are formed from results and printed without marks."""
    said: list[str] = []

    def collect(one: Any) -> None:
        if isinstance(one, str):
            said.append(one)
        elif isinstance(one, list | tuple):
            for part in one:
                collect(part)

    words = words_of(evidence, Numbers(evidence.figures), dict(record))
    for name in ("held_against", "short_record", "percentile", "storm_readings", "storm_note", "filled"):
        collect(words.get(name, ""))
    collect([check["found"] for check in quality_rows(evidence)])
    collect([html.unescape(words) for words in re.findall(r'<img [^>]*alt="([^"]*)"', page)])
    return [one for one in said if len(one) >= _SENTENCE]
