"""Checking a dossier: everything is computed again from what the file carries, and compared number by number."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.dossier import provenance
from runoff.dossier.drainage_sheet import FORMAT as DRAINAGE_FORMAT
from runoff.dossier.drainage_sheet import drainage_of_record, render_drainage
from runoff.dossier.gathering import Evidence, Options, daily_record, gather, quietly
from runoff.dossier.marked_numbers import Numbers, flatten, relative_difference, shown
from runoff.dossier.order_sheet import FORMAT as ORDER_FORMAT
from runoff.dossier.order_sheet import order_figures, order_of_record, render_order
from runoff.dossier.page import render
from runoff.errors import RunoffError

if TYPE_CHECKING:
    import xarray as xr

#: Numbers count as the same up to this relative difference: far below any printed digit, far above what other
#: processors and library versions change in the order of sums.
SAME = 1e-6
_RAIN_SAME_MM = 1e-6


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What checking a dossier found.

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
        Whatever else is wrong: changed weather, another weather file, changed text.
    notes
        What the reader should know: versions, what was not checked.
    """

    path: Path
    figures: int
    differing: dict[str, tuple[float, float]] = field(default_factory=dict)
    printed: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def is_genuine(self) -> bool:
        """Whether everything reproduces."""
        return not (self.differing or self.printed or self.faults)

    def text(self) -> str:
        """Return the verdict as lines a person reads."""
        same = self.figures - len(self.differing)
        lines = [f"{self.path}: {same} of {self.figures} numbers reproduce"]
        lines += [
            f"  differs   {name}: the file says {_say(theirs)}, computed again {_say(ours)}"
            for name, (theirs, ours) in self.differing.items()
        ]
        lines += [f"  printed   {one}" for one in self.printed]
        lines += [f"  fault     {one}" for one in self.faults]
        lines += [f"  note      {one}" for one in self.notes]
        lines.append("Everything reproduces." if self.is_genuine else "NOT as computed: see the lines above.")
        return "\n".join(lines)


def verify_dossier(path: str | Path, *, weather: Any = None) -> Verdict:
    """Compute a dossier again and report which of its numbers reproduce.

    Parameters
    ----------
    path
        The HTML file.
    weather
        The station's own record (what `runoff.write_dossier` takes), to hold the weather inside the file against.
        Without it the weather inside is trusted as far as its checksum.

    Raises
    ------
    RunoffError
        When the file is no dossier.
    """
    path = Path(path)
    page = read_page(path)
    record = page.record
    if record["format"] == ORDER_FORMAT:
        if weather is not None:
            raise RunoffError(f"{path} is an order sheet, which rests on no weather; leave the weather out")
        return _order_verdict(path, page)
    if record["format"] == DRAINAGE_FORMAT:
        if weather is not None:
            raise RunoffError(f"{path} is a drainage sheet, which rests on one storm; leave the weather out")
        return _drainage_verdict(path, page)
    inside = provenance.unpack_weather(record["weather"])
    faults, notes = [], []
    if weather is not None:
        faults += _weather_faults(inside, daily_record(weather))
    else:
        notes.append(
            "the weather inside the file was used; give --weather FILE to hold it against the station's record"
        )
    again = _computed_again(record, inside)
    ours = Numbers(again.figures)
    theirs = {name: math.nan if value is None else value for name, value in record["figures"].items()}
    differing = _differing(theirs, ours.values)
    for name, value in record["checksums"].items():
        known = {"roof": provenance.checksum(record["roof"]), "weather": record["weather"]["series_sha256"]}
        if name in known and known[name] != value:
            faults.append(f"the checksum of the {name} does not match what the file carries")
    printed = _printed_faults(page, theirs, record["units"])
    notes += _version_notes(record)
    if not (differing or printed or faults or record["versions"] != provenance.versions()):
        faults += _text_faults(path.read_text(encoding="utf-8"), render(again))
    return Verdict(path=path, figures=len(theirs), differing=differing, printed=printed, faults=faults, notes=notes)


def _order_verdict(path: Path, page: Page) -> Verdict:
    """Make an order sheet again from the roof and the allowances it carries."""
    record = page.record
    order, words = order_of_record(record)
    theirs = {name: math.nan if value is None else value for name, value in record["figures"].items()}
    differing = _differing(theirs, flatten(order_figures(order)))
    printed = _printed_faults(page, theirs, record["units"])
    faults = []
    if provenance.checksum(record["roof"]) != record["checksums"]["roof"]:
        faults.append("the checksum of the roof does not match what the file carries")
    notes = _version_notes(record)
    if not (differing or printed or faults or notes):
        faults += _text_faults(path.read_text(encoding="utf-8"), render_order(order, words))
    return Verdict(path=path, figures=len(theirs), differing=differing, printed=printed, faults=faults, notes=notes)


def _drainage_verdict(path: Path, page: Page) -> Verdict:
    """Work a drainage sheet out again from the roof and the storm it carries."""
    record = page.record
    again = drainage_of_record(record)
    theirs = {name: math.nan if value is None else value for name, value in record["figures"].items()}
    differing = _differing(theirs, flatten(again.figures))
    printed = _printed_faults(page, theirs, record["units"])
    faults = [
        f"the checksum of the {name} does not match what the file carries"
        for name in ("roof", "storm")
        if provenance.checksum(record[name]) != record["checksums"][name]
    ]
    notes = _version_notes(record)
    if not (differing or printed or faults or notes):
        faults += _text_faults(path.read_text(encoding="utf-8"), render_drainage(again))
    return Verdict(path=path, figures=len(theirs), differing=differing, printed=printed, faults=faults, notes=notes)


def _differing(theirs: dict[str, float], ours: dict[str, float]) -> dict[str, tuple[float, float]]:
    """Return the numbers that do not reproduce."""
    found = {}
    for name in dict.fromkeys([*theirs, *ours]):
        pair = theirs.get(name, math.nan), ours.get(name, math.nan)
        if name not in theirs or name not in ours or relative_difference(*pair) > SAME:
            found[name] = pair
    return found


class Page(HTMLParser):
    """Reads the numbers and the embedded record out of a dossier."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.numbers: list[tuple[dict[str, str], str]] = []
        self.record: dict[str, Any] = {}
        self._open: dict[str, str] | None = None
        self._text = ""
        self._in_record = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note where a number or the record begins."""
        found = {name: value or "" for name, value in attrs}
        if tag == "data" and "data-figure" in found:
            self._open, self._text = found, ""
        elif tag == "script" and found.get("id") == "provenance":
            self._in_record, self._text = True, ""

    def handle_data(self, data: str) -> None:
        """Collect text."""
        if self._open is not None or self._in_record:
            self._text += data

    def handle_endtag(self, tag: str) -> None:
        """Keep what was collected."""
        if tag == "data" and self._open is not None:
            self.numbers.append((self._open, self._text))
            self._open = None
        elif tag == "script" and self._in_record:
            self.record = json.loads(self._text)
            self._in_record = False


def read_page(path: str | Path) -> Page:
    """Return the numbers and the record of a dossier.

    Raises
    ------
    RunoffError
        When the file carries no such record.
    """
    path = Path(path)
    page = Page()
    try:
        page.feed(path.read_text(encoding="utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError):
        raise RunoffError(f"{path}: the record inside cannot be read; the file has been changed or cut") from None
    if page.record.get("format") not in (provenance.FORMAT, ORDER_FORMAT, DRAINAGE_FORMAT):
        raise RunoffError(
            f"{path} carries no record of a dossier; give the HTML file that runoff dossier wrote (a PDF cannot be "
            f"checked)"
        )
    return page


def _computed_again(record: dict[str, Any], weather: xr.Dataset) -> Evidence:
    from runoff.roof import BareSurface

    evidence = quietly(
        gather,
        provenance.roof_of_record(record["roof"]),
        weather,
        storms=provenance.unpack_storms(record["storms"]),
        existing=BareSurface(**record["existing"]),
        options=Options(**record["options"]),
    )
    return evidence


def _printed_faults(page: Page, theirs: dict[str, float], units: dict[str, str]) -> list[str]:
    """Compare every printed number with the file's own data."""
    faults = []
    for mark, text in page.numbers:
        name = mark["data-figure"]
        if name not in theirs:
            faults.append(f"{name} is printed as {text}, but the file holds no such number")
            continue
        unit = units.get(name.partition("[")[0], "")
        expected = shown(theirs[name], unit, mark.get("data-shown", ""), int(mark.get("data-digits", "0")))
        if text != expected or float(mark["value"]) != theirs[name]:
            faults.append(
                f"{name} is printed as {text} {mark.get('data-shown', '')}, the file's own data say {expected}"
            )
    return faults


def _weather_faults(inside: xr.Dataset, given: xr.Dataset) -> list[str]:
    """Hold the weather inside the file against the station's record."""
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


def _text_faults(theirs: str, ours: str) -> list[str]:
    """Compare the whole file with what would be written now: words, figures and record, not only marked numbers."""
    if theirs == ours:
        return []
    length = min(len(theirs), len(ours))
    first = next((i for i in range(length) if theirs[i] != ours[i]), length)
    line = theirs.count("\n", 0, first) + 1
    around = " ".join(theirs[max(0, first - 20) : first + 40].split())
    return [f"every number reproduces, but the text of the file was changed, first in line {line}: ...{around}..."]


def _version_notes(record: dict[str, Any]) -> list[str]:
    here = provenance.versions()
    other = [
        f"{name} {number} (here {here.get(name, 'none')})"
        for name, number in record["versions"].items()
        if here.get(name) != number
    ]
    return [f"written with other versions: {', '.join(other)}"] if other else []


def _say(value: float) -> str:
    return "nothing" if math.isnan(value) else f"{value:.6g}"
