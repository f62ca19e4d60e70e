"""Checking a sheet: everything is computed and written again from what the file carries, and compared.

Numbers are compared with a tolerance; words, styles, markup and marks letter by letter, whatever the versions; pictures
where they were drawn by the same versions.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.dossier import provenance
from runoff.dossier.comparing import mark_faults, pictures_that_differ, versions_only, word_faults
from runoff.dossier.gathering import daily_record
from runoff.dossier.marked_numbers import relative_difference, shown
from runoff.dossier.masking import MaskedPage, masked
from runoff.dossier.pdf_files import attached_page, is_pdf, printed_with
from runoff.dossier.printing import pdf_bytes
from runoff.dossier.records import MOST_BYTES, read_record
from runoff.dossier.sheets import SHEETS, Remade, remake
from runoff.errors import RunoffError
from runoff.given_kinds import refuse_other_kinds

if TYPE_CHECKING:
    import xarray as xr

#: Numbers count as the same up to this relative difference: far below any printed digit, far above what other
#: processors and library versions change in the order of sums.
SAME = 1e-6
_RAIN_SAME_MM = 1e-6
_MOST_NAMED = 20
_UNSHOWN = (
    "not shown   who wrote the file, and when; that the roof was or will be built so; that the weather is the station's, "
    "unless its file is given (--weather); that what is printed as given (names, places) is true"
)


class Outcome(Enum):
    """What a check ended with; the value is the exit code of the command line."""

    REPRODUCES = 0
    DIFFERS = 1
    PICTURES_NOT_COMPARED = 3


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What checking a sheet found.

    Parameters
    ----------
    path
        The file.
    figures
        How many numbers were computed again.
    differing
        Name of each number that does not reproduce -> in the file, computed again.
    printed
        Numbers printed in the page that do not say what the file's own data say, one sentence each.
    faults
        Whatever else is wrong: changed weather, another roof, changed words, styles, marks or pictures.
    notes
        What the reader should know: versions, what was not checked.
    pictures_compared
        False where pictures differ and were drawn by other versions, so that nothing can be said about them.
    computed
        False where nothing could be computed again from what the file carries.
    """

    path: Path
    figures: int
    differing: dict[str, tuple[float, float]] = field(default_factory=dict)
    printed: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    pictures_compared: bool = True
    computed: bool = True

    @property
    def outcome(self) -> Outcome:
        """How the check ended."""
        if self.differing or self.printed or self.faults:
            return Outcome.DIFFERS
        return Outcome.REPRODUCES if self.pictures_compared else Outcome.PICTURES_NOT_COMPARED

    @property
    def is_genuine(self) -> bool:
        """Whether all that could be compared reproduces."""
        return self.outcome is not Outcome.DIFFERS

    def text(self) -> str:
        """Return the verdict as lines a person reads, the verdict itself first."""
        lines = [
            {
                Outcome.REPRODUCES: f"Everything reproduces: {self.path}",
                Outcome.PICTURES_NOT_COMPARED: f"Numbers and words reproduce, pictures were not compared: {self.path}",
                Outcome.DIFFERS: f"DOES NOT REPRODUCE: {self.path}",
            }[self.outcome],
            f"  numbers   {self._numbers()}",
        ]
        if not self.pictures_compared:
            lines.append(
                "  pictures  (or pages of a PDF) were made by other versions; look at them with the numbers beside them"
            )
        named = list(self.differing.items())
        lines += [
            f"  differs   {name}: the file says {_say(theirs)}, computed again {_say(ours)}"
            for name, (theirs, ours) in named[:_MOST_NAMED]
        ]
        if len(named) > _MOST_NAMED:
            lines.append(f"  differs   and {len(named) - _MOST_NAMED:,} more numbers")
        lines += [f"  printed   {one}" for one in self.printed[:_MOST_NAMED]]
        if len(self.printed) > _MOST_NAMED:
            lines.append(f"  printed   and {len(self.printed) - _MOST_NAMED:,} more numbers")
        lines += [f"  fault     {one}" for one in self.faults]
        lines += [f"  note      {one}" for one in self.notes]
        return "\n".join([*lines, f"  {_UNSHOWN}"])

    def _numbers(self) -> str:
        """Say which numbers come out the same; where they all do and the file still differs, that the fault lies elsewhere."""
        if not self.computed:
            return f"none of the {self.figures:,} in the data inside could be computed again"
        if self.differing:
            return f"{len(self.differing):,} of {self.figures:,} numbers in the data inside do not come out the same; see below"
        told = f"all {self.figures:,} numbers in the data inside come out the same when computed again"
        if self.outcome is Outcome.DIFFERS:
            return f"{told}; what else does not hold is named below"
        return told


def verify_dossier(path: str | Path, *, weather: Any = None, roof: Any = None) -> Verdict:
    """Compute a sheet again and report which of its numbers, words and pictures reproduce.

    Parameters
    ----------
    path
        A file that the package wrote: the capture dossier, the order sheet, the drainage sheet.
    weather
        The station's own record (what `runoff.write_dossier` takes), to hold the weather inside the file against. A path is
        read in the way the sheet says it was read. Without it the weather inside is trusted as far as its checksum.
    roof
        A roof, or the path of a roof file, to hold the roof inside the file against.

    Returns
    -------
    Verdict
        What reproduces, what does not, and what was not compared.

    Raises
    ------
    RunoffError
        When the file is no such sheet, is larger than an honest one, or cannot be read.
    """
    refuse_other_kinds("verify_dossier", path=path)
    path = Path(path)
    raw = _bytes_of(path)
    text = attached_page(raw, str(path)) if is_pdf(raw) else _text_of(raw, path)
    page = masked(text, str(path))
    record = read_record(page.record, str(path))
    faults, notes = _checksum_faults(record), list[str]()
    if weather is not None and "weather" not in record:
        kind, _ = SHEETS[record["format"]]
        raise RunoffError(f"{path} is {kind}, which rests on no weather record; leave the weather out")
    try:
        again = remake(record)
    except (RunoffError, ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError) as error:
        said = str(error).split("\n")[0] if isinstance(error, RunoffError) else "a value in it cannot be used"
        if not faults:
            raise RunoffError(f"{path}: the record inside cannot be computed again: {said}") from None
        return Verdict(
            path=path,
            figures=len(record["figures"]),
            faults=[*faults, f"nothing could be computed: {said}"],
            computed=False,
        )
    if roof is not None:
        faults += _roof_faults(record["roof"], roof)
    if weather is not None and again.weather is not None:
        found, said_ = _against_the_station(again.weather, weather, record)
        faults, notes = faults + found, notes + said_
    elif again.weather is not None:
        notes.append(
            "the weather inside the file was used; give --weather FILE to compare it with the station's record"
        )
    theirs = {name: math.nan if value is None else value for name, value in record["figures"].items()}
    differing = _differing(theirs, again.figures)
    same_versions = record["versions"] == _versions_here(record["versions"])
    ours = masked(again.html, "the page made again")
    faults += _record_faults(record, again)
    as_recorded = versions_only(page, ours)
    if as_recorded is not page:
        notes.append("the versions printed in the page are not those of the record inside, which were taken")
    faults += word_faults(as_recorded, ours, again.spoken, strict=same_versions) + mark_faults(page, ours)
    other = pictures_that_differ(page, ours)
    if other and (same_versions or len(page.pictures) != len(ours.pictures)):
        faults.append(f"pictures are not as drawn: {', '.join(f'number {at}' for at in other)}, counted from the top")
    pages_compared = True
    if is_pdf(raw):
        found, said_ = _pages_of_pdf(raw, text, path)
        faults, notes, pages_compared = faults + found, notes + said_, not said_
    return Verdict(
        path=path, figures=len(theirs), differing=differing, printed=_printed_faults(page, theirs, again.record["units"]),
        faults=faults, notes=notes + _version_notes(record), pictures_compared=pages_compared and (same_versions or not other),
    )  # fmt: skip


def _bytes_of(path: Path) -> bytes:
    with path.open("rb") as file:
        raw = file.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        raise RunoffError(f"{path} has more than {MOST_BYTES / 1e6:.0f} MB; no sheet of runoff is so large")
    return raw


def _text_of(raw: bytes, path: Path) -> str:
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        raise RunoffError(f"{path} cannot be read: it is not UTF-8 text; the file has been changed or cut") from None


def _pages_of_pdf(raw: bytes, text: str, path: Path) -> tuple[list[str], list[str]]:
    """Print the attached page again and hold the PDF against it: faults, and notes where it cannot be done."""
    try:
        again = pdf_bytes(text)
    except RunoffError as error:
        return [], [f"the pages of the PDF were not compared, only the page attached to it: {error}"]
    if raw == again:
        return [], []
    if printed_with(raw, str(path)) == printed_with(again, "the PDF made again"):
        return ["the PDF is not what its attached page prints: its pages were changed"], []
    return [], ["the pages of the PDF were printed by another version or with other fonts and were not compared"]


def _checksum_faults(record: Mapping[str, Any]) -> list[str]:
    """Hold the parts of the record against the checksums it states."""
    found = {name: provenance.checksum(record[name]) for name in ("roof", "storm", "promised") if record.get(name)}
    if "weather" in record:
        try:
            found["weather"] = provenance.series_checksum(record["weather"]["series"])
        except RunoffError as error:
            return [str(error)]
        if record["weather"]["series_sha256"] != found["weather"]:
            return ["the weather inside does not match its checksum: it has been changed"]
    return [
        f"the checksum of the {name} does not match what the file carries"
        for name, value in found.items()
        if record["checksums"].get(name) != value
    ]


def _record_faults(record: Mapping[str, Any], again: Remade) -> list[str]:
    """Hold the record against the one formed now; numbers are compared elsewhere, series by what they unpack to."""
    ours = json.loads(json.dumps(again.record))
    faults = []
    for name in dict.fromkeys([*record, *ours]):
        if name == "figures":
            continue
        if name not in ours or name not in record:
            faults.append(f"`{name}` is {'missing in' if name in ours else 'unknown to'} a record of this kind")
        elif _comparable(name, record[name]) != _comparable(name, ours[name]):
            faults.append(f"`{name}` of the record inside is not what the same roof, weather and options give")
    if set(record["versions"]) - set(provenance.versions()):
        faults.append("`versions` of the record inside names a library that no number depends on")
    return faults


def _comparable(name: str, part: Any) -> Any:
    if name != "weather":
        return part
    series = {key: {**one, "data": provenance.series_checksum({key: one})} for key, one in part["series"].items()}
    return {**part, "series": series}


def _differing(theirs: Mapping[str, float], ours: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """Return the numbers that do not reproduce."""
    found = {}
    for name in dict.fromkeys([*theirs, *ours]):
        pair = theirs.get(name, math.nan), ours.get(name, math.nan)
        if name not in theirs or name not in ours or relative_difference(*pair) > SAME:
            found[name] = pair
    return found


def _printed_faults(page: MaskedPage, theirs: Mapping[str, float], units: Mapping[str, str]) -> list[str]:
    """Compare every printed number with the file's own data."""
    faults = []
    for mark in page.marks:
        if mark.figure not in theirs:
            faults.append(f"{mark.figure} is printed as {mark.text}, but the file holds no such number")
            continue
        value = theirs[mark.figure]
        try:
            expected = shown(value, units.get(mark.figure.partition("[")[0], ""), mark.unit, mark.digits)
        except RunoffError:
            faults.append(f"{mark.figure} is printed in {mark.unit}, which is not a unit of it")
            continue
        if mark.text != expected:
            faults.append(f"{mark.figure} is printed as {mark.text} {mark.unit}, the file's own data say {expected}")
        elif mark.value != repr(float(value)):
            faults.append(
                f"{mark.figure} is printed as {mark.text} with {mark.value} stored beside it, the file's own data say {value!r}"
            )
    return faults


def _roof_faults(inside: str, given: Any) -> list[str]:
    """Hold the roof inside against one that was given."""
    from runoff.roof import read_roof

    ours, theirs = ((read_roof(given) if isinstance(given, str | Path) else given).to_toml(), inside)
    if ours == theirs:
        return []
    lines, other = ours.splitlines(), theirs.splitlines()
    first = next(
        (at for at in range(min(len(lines), len(other))) if lines[at] != other[at]), min(len(lines), len(other))
    )
    said = [part[first].strip() if first < len(part) else "nothing" for part in (other, lines)]
    return [f"the roof inside is not the roof given; first: the file says {said[0]}, the roof given {said[1]}"]


def _against_the_station(inside: xr.Dataset, weather: Any, record: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """Hold the weather inside against the station's record: faults, and notes."""
    if isinstance(weather, str | Path):
        from runoff.weather import read_weather

        weather = read_weather(weather, **provenance.reading_of(inside.attrs))
    given = daily_record(weather)
    faults, notes = _weather_faults(inside, given), []
    stated, found = record["checksums"].get("weather_file", ""), str(given.attrs.get("sha256", ""))
    if stated and found and stated != found:
        faults.append(f"the weather file given is not the one used: SHA-256 {found[:12]}, the file says {stated[:12]}")
    elif not stated:
        notes.append("the file does not say which weather file was used; the daily values were compared")
    if inside.attrs.get("fill"):
        notes.append(f"filled, as declared: {inside.attrs['fill']}")
    return faults, notes


def _weather_faults(inside: xr.Dataset, given: xr.Dataset) -> list[str]:
    """Compare day by day."""
    faults = []
    given = given.reindex(time=inside["time"])
    for name in inside.data_vars:
        if name not in given:
            faults.append(f"`{name}` is in the dossier but not in the weather given")
            continue
        ours, theirs = given[name].to_numpy(), inside[name].to_numpy()
        if theirs.dtype.kind not in "fiub":  # flags and other words, which no number rests on
            continue
        other = ~(np.isclose(ours, theirs, rtol=0.0, atol=_RAIN_SAME_MM) | (np.isnan(ours) & np.isnan(theirs)))
        if other.any():
            day = str(inside["time"].to_numpy()[int(np.argmax(other))])[:10]
            faults.append(f"`{name}` differs from the weather given on {int(other.sum()):,} days, the first is {day}")
    return faults


def _versions_here(theirs: Mapping[str, str]) -> dict[str, str]:
    """Return the versions here of what a sheet names."""
    here = provenance.versions()
    return {name: here.get(name, "none") for name in theirs}


def _version_notes(record: Mapping[str, Any]) -> list[str]:
    here = _versions_here(record["versions"])
    other = [
        f"{name} {number} (here {here[name]})" for name, number in record["versions"].items() if here[name] != number
    ]
    return [f"written with other versions: {', '.join(other)}"] if other else []


def _say(value: float) -> str:
    return "nothing" if math.isnan(value) else f"{value:.6g}"
