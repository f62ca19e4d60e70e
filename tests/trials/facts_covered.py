"""Which printed numbers of the pages of check values stand in no file of cases? Run by hand.

    python -m tests.trials.facts_covered [FOLDER]

Reads the tables and listings of the pages (default ``../shared/facts`` beside the checkout) section by section and looks for every number of
three digits or more among the numbers of ``tests/published/*.csv``, of the tests and of the tables of the package. Prints per section how
many there are and which are found nowhere: those are inputs, page numbers, years, measurements, or what `tests/published/not_compared.csv`
gives a reason for.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?!\w)")
_LEAST_DIGITS = 3
_NO_CASES = ("messages", "mutation", "benchmarks", "trials")


def numbers_in(text: str) -> set[float]:
    """Return the numbers of a text; thousands set off by a space or comma count joined as well."""
    joined = re.sub(r"(?<=\d)[ ,_](?=\d{3}(?!\d))", "", text)
    return {float(one) for part in (text, joined) for one in _NUMBER.findall(part.replace("_", ""))}


def known_numbers() -> set[float]:
    """Return every number of the cases, the tests and the tables of the package."""
    found: set[float] = set()
    for folder, kinds in ((ROOT / "tests", ("*.csv", "*.py")), (ROOT / "runoff", ("*.csv", "*.py"))):
        for kind in kinds:
            for path in folder.rglob(kind):
                if not set(_NO_CASES) & set(path.parts):
                    found |= numbers_in(path.read_text(encoding="utf-8"))
    return found


def sections(text: str) -> Iterator[tuple[str, set[float]]]:
    """Give every section of a page with the numbers of its tables and listings."""
    title, lines, listing = "", [], False
    for line in [*text.split("\n"), "# end"]:
        if line.startswith("```"):
            listing = not listing
        elif line.startswith("#") and not listing:
            yield (
                title,
                {
                    one
                    for row in lines
                    for one in numbers_in(row)
                    if len(f"{one:g}".replace(".", "").strip("0")) >= _LEAST_DIGITS
                },
            )
            title, lines = line.lstrip("# "), []
        elif listing or line.startswith("|"):
            lines.append(line)


def main(folder: Path) -> None:
    """Print the table."""
    known, every, missing = known_numbers(), 0, 0
    for page in sorted(folder.glob("*.md")):
        for title, printed in sections(page.read_text(encoding="utf-8")):
            lost = sorted(printed - known)
            every, missing = every + len(printed), missing + len(lost)
            if printed:
                print(
                    f"{page.stem}: {title[:70]}: {len(printed)} numbers, {len(lost)} not found {' '.join(f'{one:.9g}' for one in lost)}"
                )
    print(f"{every} numbers of {_LEAST_DIGITS} digits or more, {every - missing} found, {missing} not")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT.parent / "shared" / "facts")
