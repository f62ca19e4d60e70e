"""Pages a dossier takes in print: ``python -m tests.trials.pages_of_dossiers``.

With and without design storms, as planned and as built, in both unit systems and on both papers, each with five rules of
places. Printed are the page on which the annex begins, the pages in all, the size of the HTML, and how far down each page is
filled. Wanted: the annex begins on page 8 at the latest with storms, on page 7 without, and one page later at its top; it
takes at most eight pages; none is half empty but the last; the HTML stays under 1 MB.
"""

from __future__ import annotations

import dataclasses
import itertools
import re
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import runoff
from runoff.dossier.as_built import Measured
from runoff.dossier.asked_for import PAPERS, UNITS, Options
from runoff.dossier.gathering import gather, quietly, storm_table
from runoff.dossier.page import render
from runoff.dossier.printing import require_pdf
from runoff.sample_files import sample_folder

_RULES = ("paris-region", "interception-5-percent", "north-carolina", "minnesota", "minnesota-porosity")
_MARGINS_MM = 17.0, 15.0
_FOUND = Measured(
    measured_on="2026-10-01", measured_by="A. Roofer", cover=0.72, depths_mm=(60.0, 65.0, 72.0, 63.0),
    photographs=("outlet north, open", "depth at a ruler", "emergency overflow", "whole roof from the east corner"),
)  # fmt: skip


def main() -> None:
    """Print a line for each dossier."""
    roof, weather = runoff.open_sample_roof("cups"), runoff.open_sample()
    built = roof.replace({"medium.depth_mm": 65.0, "mulch.depth_mm": 10.0})
    table = storm_table(sample_folder() / "ostrey_depth_duration.csv")
    options = Options(applicant="Ostrey allotment society", rules=_RULES, members=40)
    with tempfile.TemporaryDirectory() as folder:
        for storms, as_built in itertools.product((True, False), (False, True)):
            more: dict[str, Any] = {"promised": roof, "measured": _FOUND} if as_built else {}
            evidence = quietly(
                gather, built if as_built else roof, weather, storms=table if storms else None, existing=None,
                options=options, **more,
            )  # fmt: skip
            for units, paper in itertools.product(UNITS, PAPERS):
                one = dataclasses.replace(evidence, options=dataclasses.replace(options, units=units, paper=paper))
                case = (
                    f"{'storms' if storms else 'no storms'}, {'as built' if as_built else 'planned'}, {units}, {paper}"
                )
                print(f"{case:<36} {_counted(render(one), Path(folder) / 'page.pdf')}", flush=True)


def _counted(html: str, path: Path) -> str:
    """Return where the annex begins, the pages, the size and how far each page is filled, in words."""
    document = require_pdf().HTML(string=html).render()
    begins = next(at for at, page in enumerate(document.pages, start=1) if "annex" in page.anchors)
    document.write_pdf(path)
    boxes = subprocess.run(["pdftotext", "-bbox", path, "-"], check=True, capture_output=True, text=True).stdout
    filled = [_filled(page) for page in boxes.split("<page ")[1:]]
    return f"annex from page {begins} of {len(document.pages)}, {len(html) / 1000:.0f} kB, filled to {filled} %"


def _filled(page: str) -> int:
    """Return how far down the room between the margins the lowest word stands, percent."""
    found = re.search(r'height="([\d.]+)"', page)
    tall = float(found[1]) if found else 0.0
    top, bottom = (margin / 25.4 * 72.0 for margin in _MARGINS_MM)
    lowest = max(y for y in map(float, re.findall(r'yMax="([\d.]+)"', page)) if y < tall - bottom + 1.0)
    return round(100.0 * (lowest - top) / (tall - top - bottom))


if __name__ == "__main__":
    main()
