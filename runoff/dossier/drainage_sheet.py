"""The drainage sheet: what an engineer checks line by line, two pages, with every intermediate value and its formula."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.dossier import provenance
from runoff.dossier.asked_for import PAPERS, keep_on_one_line, refuse_unknown_paper, refuse_unknown_units
from runoff.dossier.drainage_figures import SheetOutlet, load_states, outlets_of, sheet_figures
from runoff.dossier.marked_numbers import Numbers, flatten
from runoff.dossier.page import css_text, page_environment, shortened
from runoff.dossier.printing import pdf_bytes
from runoff.dossier.sheets import Remade
from runoff.errors import RunoffError, nearest
from runoff.findings.storm_comparison import followed_by_dry
from runoff.given_kinds import refuse_other_kinds
from runoff.roof import Outlet
from runoff.roof.assumed import assumptions
from runoff.roof.loads import CAUTION
from runoff.saying.patterns import pattern_words
from runoff.saying.scales import in_order
from runoff.sizing.described_outlets import check_outlets, contributing_area_m2
from runoff.sizing.drainage_codes import SECONDARY_RULES, VERTICAL_PIPES
from runoff.sizing.outlet_tables import state_words
from runoff.sizing.outlet_words import caution_words, described_verdict, described_words
from runoff.time_steps import time_step
from runoff.writing import write_whole

if TYPE_CHECKING:
    from runoff.roof import Roof

FORMAT = "runoff drainage sheet 1"
ENDINGS = (".html", ".pdf")
#: Dry hours that follow the storm in the routed run, so that the depth has passed its peak.
DRY_HOURS = 6.0
_MARK = "Drainage sheet"
_INVENTED_MARK = "INVENTED SAMPLE: for demonstration only"


@dataclasses.dataclass(frozen=True, kw_only=True)
class DrainageOptions:
    """What a sheet is worked out for, beside roof and storm; see `runoff.sizing.described_outlets.check_outlets`."""

    allowable_depth_mm: float = 60.0
    lost: int = 1
    blocked_share: float = 0.5
    edge_left: float = 0.5
    storage_credit: bool = False
    overflow_width_mm: float | None = None
    overflow_height_mm: float | None = None
    pipe_edition: str = "EN 12056-3:2000"
    #: Set by the roof: its text, which a sheet carries, names the outlet taken as if it were described.
    outlets_assumed: bool = False

    def __post_init__(self) -> None:
        """Refuse an edition that is not known."""
        if self.pipe_edition not in VERTICAL_PIPES:
            raise RunoffError(
                f'drainage sheet: edition "{self.pipe_edition}" is not known{nearest(self.pipe_edition, VERTICAL_PIPES)}; '
                f"known: {', '.join(VERTICAL_PIPES)}"
            )

    @property
    def overflow(self) -> Outlet | None:
        """The opening of the emergency overflow in place of the one the roof describes."""
        if self.overflow_width_mm is None:
            return None
        return Outlet(
            kind="rectangular",
            width_mm=self.overflow_width_mm,
            height_mm=self.overflow_height_mm,
            strainer=False,
        )


@dataclasses.dataclass(frozen=True, kw_only=True)
class DrainageWords:
    """What is printed as given; all of it may be left out and filled in by hand.

    Parameters
    ----------
    prepared_by, address, date
        Who worked it out, where the roof is, and when; no date is put in by itself.
    code_clause
        The clause of the code in force that sets rain, loss and depth.
    checked_by
        Who checks the sheet.
    paper
        ``"a4"`` or ``"letter"``.
    units
        ``"si"`` or ``"us"``: which of the two stands first. The forms are metric and worked out so in either.
    invented
        Marks the sheet as an invented sample.
    """

    prepared_by: str = ""
    address: str = ""
    date: str = ""
    code_clause: str = ""
    checked_by: str = ""
    paper: str = "a4"
    units: str = "si"
    invented: bool = False

    def __post_init__(self) -> None:
        """Refuse a paper that is not known."""
        keep_on_one_line(self)
        refuse_unknown_paper("drainage sheet", self.paper)
        refuse_unknown_units("drainage sheet", self.units)


class DrainageEvidence(NamedTuple):
    """All that a sheet says: what it was worked out from, and what came out."""

    roof: Roof
    storm: xr.DataArray
    options: DrainageOptions
    words: DrainageWords
    check: xr.Dataset
    figures: xr.Dataset


def write_drainage_sheet(
    roof: Roof, storm: Any, path: str | Path, *, overflow: Outlet | None = None, **given: Any
) -> Path:
    """Write the drainage of a roof in one storm as a sheet of two pages that an engineer can check line by line.

    Parameters
    ----------
    roof
        The roof, with its outlets, emergency overflow and edge.
    storm
        Rain in steps of 1 min to 1 h, as `runoff.design_storm` gives it. The routed run starts at field capacity.
    path
        ``.html`` for the sheet, ``.pdf`` for the tagged PDF of the same page (extra ``pdf``).
    overflow
        A rectangular opening of the emergency overflow, in place of the one the roof describes.
    **given
        ``allowable_depth_mm`` (default 60), ``lost``, ``blocked_share``, ``edge_left``, ``storage_credit``,
        ``pipe_edition``: see `runoff.size_outlets`; ``prepared_by``, ``address``, ``date``, ``code_clause``, ``checked_by``,
        ``paper``, ``units`` (which of the two systems stands first), ``invented``: printed as given.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    RunoffError
        When the path cannot be written, a word is not known, or the PDF writer is missing.
    SizingError, StormError
        When a limit is out of range, or the storm not usable.

    Notes
    -----
    The file is self-contained, replaced as a whole or not at all; the same roof and storm give the same bytes, and
    `runoff.verify_dossier` computes it again from what it carries.
    """
    refuse_other_kinds("write_drainage_sheet", roof=roof, storm=storm, path=path)
    path = Path(path)
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise RunoffError(f'drainage sheet: the file must end in {" or ".join(ENDINGS)} (given "{path.name}")')
    options, words = _sorted_out(given, overflow)
    options = dataclasses.replace(options, outlets_assumed="outlets" not in roof.model_fields_set)
    page = render_drainage(_gather_drainage(roof, storm, options, words))
    return write_whole(path, pdf_bytes(page) if ending == ".pdf" else page.encode("utf-8"))


def _sorted_out(given: dict[str, Any], overflow: Outlet | None) -> tuple[DrainageOptions, DrainageWords]:
    by_itself = ("overflow_width_mm", "overflow_height_mm", "outlets_assumed")
    of_options = [field.name for field in dataclasses.fields(DrainageOptions) if field.name not in by_itself]
    of_words = [field.name for field in dataclasses.fields(DrainageWords)]
    known = [*of_options, *of_words]
    for name in given:
        if name not in known:
            raise RunoffError(
                f'drainage sheet: "{name}" is not known{nearest(name, known)}; known: overflow, {", ".join(known)}'
            )
    opening: dict[str, Any] = {}
    if overflow is not None:
        opening = {"overflow_width_mm": overflow.width_taken_mm, "overflow_height_mm": overflow.height_mm}
    options = DrainageOptions(**{name: given[name] for name in of_options if name in given}, **opening)
    return options, DrainageWords(**{name: given[name] for name in of_words if name in given})


def _gather_drainage(
    roof: Roof, storm: xr.DataArray, options: DrainageOptions, words: DrainageWords
) -> DrainageEvidence:
    """Judge the outlets of a roof and return every number of its sheet."""
    check = check_outlets(
        roof,
        followed_by_dry(storm, DRY_HOURS),
        allowable_depth_mm=options.allowable_depth_mm,
        lost=options.lost,
        blocked_share=options.blocked_share,
        overflow=options.overflow,
        edge_left=options.edge_left,
        storage_credit=options.storage_credit,
    )
    check.attrs["outlets_assumed"] = "yes" if options.outlets_assumed else "no"
    check.attrs["verdict"] = described_verdict(check)
    if options.overflow is not None:
        roof = roof.replace(
            {
                "roof.emergency_width_mm": options.overflow_width_mm,
                "roof.emergency_height_mm": options.overflow_height_mm,
            }
        )
    return DrainageEvidence(roof, storm, options, words, check, sheet_figures(roof, storm, check, options.pipe_edition))


def remake(record: Mapping[str, Any]) -> Remade:
    """Make a sheet again from the roof, the storm and the words it carries."""
    evidence = drainage_of_record(record)
    return Remade(
        html=render_drainage(evidence, record["versions"]),
        record=drainage_record(evidence, record["versions"]),
        figures=flatten(evidence.figures),
        spoken=[
            described_verdict(evidence.check, units=evidence.words.units),
            *_assumed(evidence),
            *map(str, evidence.check.attrs.values()),
        ],
    )


def render_drainage(evidence: DrainageEvidence, versions: Mapping[str, str] | None = None) -> str:
    """Return the sheet as one self-contained HTML text, by default with the versions of now."""
    environment = page_environment()
    roof, check, words = evidence.roof, evidence.check, evidence.words
    record = drainage_record(evidence, versions)
    name = roof.name or "Planted roof"
    style = environment.get_template("dossier.css.j2").render(
        paper_size=PAPERS[words.paper],
        tall_figure="128mm",
        page_title=css_text(shortened(name, 70)),
        page_mark=css_text(_INVENTED_MARK if words.invented else _MARK),
        page_provenance=css_text(
            f"runoff {record['versions']['runoff']} · roof {record['checksums']['roof'][:12]} · storm "
            f"{record['checksums']['storm'][:12]} · check with: runoff outlets --verify FILE"
        ),
        invented=words.invented,
    )
    outlets, numbers = outlets_of(roof, check, words.units), Numbers(evidence.figures, words.units)
    return environment.get_template("drainage_sheet.html.j2").render(
        style=environment.filters["safe"](style),
        n=numbers,
        roof=roof,
        name=name,
        words=words,
        options=evidence.options,
        check=check.attrs,
        holds=bool(check["meets_with_loss"]),
        verdict=described_verdict(check, units=words.units),
        described=[described_words(check, system) for system in numbers.order],
        storm=_storm_words(evidence.storm),
        outlets=outlets,
        alone=_alone(outlets),
        layers=[layer.title for layer in roof.build_up.layers],
        states=_states(evidence),
        loads=load_states(roof, check),
        opening=np.isfinite(float(check["overflow_head"])),
        sill=np.isfinite(float(check["overflow_sill"])),
        assumed=_assumed(evidence),
        rules={in_order(rule, words.units): source for rule, source in SECONDARY_RULES.items()},
        pipes=VERTICAL_PIPES[evidence.options.pipe_edition].source,
        cautions=[caution_words(check, words.units), CAUTION],
        versions=record["versions"],
        provenance=record,
    )


def drainage_record(evidence: DrainageEvidence, versions: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Return all that is embedded in the sheet so that it can be made again and checked."""
    toml, storm = evidence.roof.to_toml(), pack_storm(evidence.storm)
    figures = evidence.figures
    return {
        "format": FORMAT,
        "versions": dict(versions or provenance.versions()),
        "roof": toml,
        "storm": storm,
        "options": _told_options(evidence.options),
        "words": dataclasses.asdict(evidence.words),
        "checksums": {"roof": provenance.checksum(toml), "storm": provenance.checksum(storm)},
        "units": {str(name): str(array.attrs["units"]) for name, array in figures.data_vars.items()},
        "figures": {key: provenance.json_number(value) for key, value in flatten(figures).items()},
    }


def _told_options(options: DrainageOptions) -> dict[str, Any]:
    """Return the options as a sheet carries them: that an outlet is assumed only where it is."""
    told = dataclasses.asdict(options)
    return told if options.outlets_assumed else {name: told[name] for name in told if name != "outlets_assumed"}


def drainage_of_record(record: Mapping[str, Any]) -> DrainageEvidence:
    """Work a sheet out again from what it carries."""
    return _gather_drainage(
        provenance.roof_of_record(record["roof"]),
        unpack_storm(record["storm"]),
        DrainageOptions(**record["options"]),
        DrainageWords(**record["words"]),
    )


def pack_storm(storm: xr.DataArray) -> dict[str, Any]:
    """Return a storm as JSON, exact to the last bit."""
    return {
        "rain_mm": [float(one) for one in storm.to_numpy()],
        "step_min": time_step(storm["time"]).minutes,
        "start": str(storm["time"].to_numpy()[0])[:19],
        "attrs": {str(name): str(value) for name, value in sorted(storm.attrs.items())},
    }


def unpack_storm(packed: dict[str, Any]) -> xr.DataArray:
    """Return the storm that `pack_storm` packed."""
    rain = np.array(packed["rain_mm"], dtype=float)
    step = np.timedelta64(round(packed["step_min"] * 60e9), "ns")
    time = np.datetime64(packed["start"], "ns") + step * np.arange(rain.size)
    return xr.DataArray(rain, dims="time", coords={"time": time}, name="rain", attrs=packed["attrs"])


def _storm_words(storm: xr.DataArray) -> dict[str, Any]:
    found = {name: str(storm.attrs.get(name, "")) for name in ("source", "pattern", "note", "rain_notes", "warning")}
    # a series is what was measured or given
    return {**found, "pattern": "" if found["pattern"] == "series" else pattern_words(found["pattern"])}


class _State(NamedTuple):
    """A row of the table of states: key of its figures, words, whether it holds; the last is not judged by depth."""

    key: str
    words: str
    holds: bool | None


def _states(evidence: DrainageEvidence) -> list[_State]:
    check = evidence.check
    meets = dict(zip(check["state"].to_numpy().tolist(), check["meets"].to_numpy().tolist(), strict=True))
    judged = {"open": meets["open"], "lost": meets["lost"]}
    return [_State(key, words[0].upper() + words[1:], judged.get(key)) for key, words in state_words(check).items()]


def _alone(outlets: list[SheetOutlet]) -> SheetOutlet | None:
    """Return the outlet where there is one kind only: its head is worked out in one line."""
    return outlets[0] if len(outlets) == 1 else None


def _assumed(evidence: DrainageEvidence) -> list[str]:
    options, roof = evidence.options, evidence.roof
    said = [
        "Every square metre of the area sends the heaviest rain of one step to the outlets at once (C = 1): no credit for storage, "
        "planting or time of flow."
        if not options.storage_credit
        else "CREDIT FOR STORAGE is taken: the verdict rests on the routed storm alone.",
        "The routed storm starts at field capacity, cups and mat full, no free water; the roof's own drainage layer, outlets, "
        f"overflow and edge pass the water. {DRY_HOURS:g} dry hours follow the storm.",
        "Downpipes are taken to have no backwater. Sag of the deck, leaf and ice are not counted.",
    ]
    if options.outlets_assumed:
        said.insert(0, f"No outlets are described: {described_words(evidence.check, evidence.words.units)} is taken.")
    if contributing_area_m2(roof) == roof.area_m2:
        said.append("No water runs on to this roof from walls or higher roofs: none is described.")
    return [*said, *assumptions(roof, units=evidence.words.units)]
