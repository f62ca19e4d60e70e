"""Is every printed number of the pages of check values held by a case, or left out for a stated reason?

    python -m tests.trials.facts_covered [FOLDER]

Reads the tables and listings of the pages (default ``../shared/facts`` beside the checkout) section by section.
`tests/published/facts_sections.csv` names the files that hold what a section prints; `tests/published/not_compared.csv` names, by page,
section and number, what is left out and why. So a number of one section is not held by a like number of another. Prints held, left out
with a reason, and open, and names what a reason leaves out that the page does not print. Numbers of one or two digits are counted apart,
since some are found by chance; those that no case holds are told section by section, in words.
"""

from __future__ import annotations

import csv
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
CASES = ROOT / "tests" / "published"
FACTS = ROOT.parent / "shared" / "facts"
#: A number, and one whose thousands are set off by spaces or commas (``40 805``, ``7 738.97``).
_NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?!\w)")
_GROUPED = re.compile(r"(?<![\w.,])\d{1,3}(?:[ ,_]\d{3})+(?:\.\d+)?(?![\w.])")
_LEAST_DIGITS = 3
#: Columns of a table of cases that hold no number that is compared or goes in.
_BESIDE = ("place", "source", "edition", "status", "note")


class Section(NamedTuple):
    """Numbers of the tables and listings of one section."""

    page: str
    number: str
    title: str
    lines: tuple[str, ...]


class Found(NamedTuple):
    """What became of the numbers of one section."""

    held: list[float]
    reasoned: list[float]
    open: list[float]
    idle: list[float]
    short_held: int
    short_listed: int
    short_left: int
    short_said: str


def digits(number: float) -> int:
    """Return how many digits a number has, zeros at either end not counted."""
    return len(f"{number:.12g}".replace(".", "").strip("0"))


def numbers_in(text: str) -> set[float]:
    """Return the numbers of a text; thousands that are set off count joined as well."""
    grouped = {float(re.sub("[ ,_]", "", one)) for one in _GROUPED.findall(text)}
    return grouped | {float(one) for one in _NUMBER.findall(re.sub(r"(?<=\d)_(?=\d)", "", text))}


def sections(page: str, text: str) -> Iterator[Section]:
    """Give every section of a page with the lines of its tables and listings."""
    title, lines, listing = "", [], False
    for line in [*text.split("\n"), "# end"]:
        if line.startswith("```"):
            listing = not listing
        elif line.startswith("#") and not listing:
            if lines:
                yield Section(page, title.split(" ")[0].rstrip("."), title, tuple(lines))
            title, lines = line.lstrip("# "), []
        elif listing or line.startswith("|"):
            lines.append(line.removesuffix("```"))
            listing = listing and not line.endswith("```")


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def held_by(files: str) -> set[float]:
    """Return the numbers of the named files, of the cases or from the top of the project.

    Of a table of cases what is compared counts, and what goes in: not the place in the source, nor a note.
    """
    found: set[float] = set()
    for name in files.split():
        path = CASES / name if (CASES / name).exists() else ROOT / name
        if path.suffix == ".csv":
            cells = (row[column] for row in _rows(path) for column in row if column not in _BESIDE)
            found |= {number for cell in cells for number in numbers_in(cell)}
        else:
            found |= numbers_in(path.read_text(encoding="utf-8"))
    return found


def judged(section: Section, held: set[float], named: set[float], listed: set[float], shorter: str = "") -> Found:
    """Return which numbers of a section are held, left out with a reason (by name, or in a list with a reason a row), and neither."""
    left_out = named | (listed - held)
    known, printed = held | left_out, set()
    for line in section.lines:
        for grouped in _GROUPED.findall(line):
            joined = float(re.sub("[ ,_]", "", grouped))
            if joined in known:  # the parts of 40 805 are no numbers of their own
                printed.add(joined)
                line = line.replace(grouped, " ", 1)
        printed |= {float(one) for one in _NUMBER.findall(line)}
    counted = sorted(one for one in printed if digits(one) >= _LEAST_DIGITS)
    short = {one for one in printed if digits(one) < _LEAST_DIGITS}
    return Found(
        [one for one in counted if one in held and one not in left_out],
        [one for one in counted if one in left_out],
        [one for one in counted if one not in known],
        sorted(named - printed),
        len(short & held),
        len((short & listed) - held),
        len(short - held - listed),
        shorter,
    )


def reasons() -> dict[tuple[str, str], set[float]]:
    """Return what is left out with a reason, by page and section: ``where`` and ``values`` of the table, ``;`` between places."""
    found: dict[tuple[str, str], set[float]] = {}
    for row in _rows(CASES / "not_compared.csv"):
        for place, values in zip(row["where"].split(";"), row["values"].split(";"), strict=True):
            if place:
                page, section = place.split()
                found.setdefault((page, section), set()).update(float(one) for one in values.split())
    return found


def walk(folder: Path) -> Iterator[tuple[Section, Found]]:
    """Judge every section of every page."""
    rows = {(row["page"], row["section"]): row for row in _rows(CASES / "facts_sections.csv")}
    left_out = reasons()
    for path in sorted(folder.glob("*.md")):
        for section in sections(path.stem, path.read_text(encoding="utf-8")):
            key = (section.page, section.number)
            row = rows.get(key, {"files": "", "listed": "", "shorter": ""})
            yield (
                section,
                judged(
                    section, held_by(row["files"]), left_out.get(key, set()), held_by(row["listed"]), row["shorter"]
                ),
            )


def main(folder: Path) -> None:
    """Print the table and its sums."""
    every = list(walk(folder))
    for section, found in every:
        counts = f"held {len(found.held)}, reasoned {len(found.reasoned)}, open {len(found.open)}"
        shorter = (
            f"; shorter held {found.short_held}, others {found.short_left} {found.short_said}"
            if found.short_left
            else ""
        )
        left = " ".join(f"{one:.12g}" for one in found.open)
        print(f"{section.page}: {section.title[:60]}: {counts} {left}".rstrip() + shorter)
        if found.idle:
            print(f"    left out, but not printed there: {' '.join(f'{one:.12g}' for one in found.idle)}")
    held, reasoned, left = (
        sum(len(getattr(found, name)) for _, found in every) for name in ("held", "reasoned", "open")
    )
    print(
        f"{held + reasoned + left} numbers of {_LEAST_DIGITS} digits or more: held {held}, reasoned {reasoned}, open {left}"
    )
    short = [sum(getattr(found, name) for _, found in every) for name in ("short_held", "short_listed", "short_left")]
    silent = sum(found.short_left for _, found in every if not found.short_said)
    print(f"{sum(short)} shorter numbers: held {short[0]}, reasoned {short[1] + short[2] - silent}, open {silent}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FACTS)
