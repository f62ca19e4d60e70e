"""Checks that must not err: changed files are all found, untouched ones are never called changed, hostile ones are refused.

``python -m tests.trials.checked_dossiers tampered|untouched|hostile [COUNT]``. Prints counts, and for hostile files the longest
time and the most memory. Each hostile file is read in a process of its own (a fork, with all modules loaded), held to 500 MB
and 10 s. ``PYTHON -m tests.trials.checked_dossiers write FOLDER [COUNT]`` writes files, and ``check FOLDER`` by another
Python, with other versions of the libraries, checks them and then tries the list of changes on the first.
"""

from __future__ import annotations

import base64
import contextlib
import io
import os
import sys
import tempfile
import time
import zlib
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.cli.entry import main as command
from runoff.dossier import verify_dossier, verifying, write_dossier
from runoff.dossier.office_rules import RULES
from runoff.dossier.verifying import Outcome
from runoff.sample_files import sample_folder
from tests.dossier.conftest import made_again
from tests.dossier.tampering import DRAWN, OF_THE_INPUT, OF_THE_PAGE, in_record

_MOST_MB, _MOST_S = 500, 10


def main(what: str, more: list[str]) -> None:
    """Run one of the trials and print what it found."""
    if what in ("write", "check"):
        {"write": _written, "check": _checked}[what](Path(more[0]), *map(int, more[1:]))
        return
    with tempfile.TemporaryDirectory() as name:
        {"tampered": _tampered, "untouched": _untouched, "hostile": _hostile}[what](Path(name), *map(int, more))


def _write(path: Path, seed: int = 0) -> Path:
    """Write the dossier of a small roof; another seed gives another roof, other years, units, options and words."""
    if not seed:
        write_dossier(runoff.open_sample_roof("cups"), _years(1991), path, members=20, seed=1)
        return path
    random = np.random.default_rng(seed)
    roof = runoff.open_sample_roof(("cups", "deep")[seed % 2]).replace(
        {"medium.depth_mm": float(random.integers(50, 150)), "roof.area_m2": float(random.integers(20, 900))}
    )
    options: dict[str, Any] = {
        "units": ("si", "us")[seed // 2 % 2],
        "event": str(random.choice(["1in", "30mm", "1.2in", "p90", "p95"])),
        "rules": tuple(map(str, random.choice(list(RULES), size=seed % 4, replace=False))),
        "applicant": f"Applicant {seed}" if seed % 3 else None,
        "drains_to": "combined sewer" if seed % 5 else None,
        "existing": runoff.BareSurface(kind="gravel") if seed % 3 == 1 else None,
        "storms": sample_folder() / "ostrey_depth_duration.csv" if seed % 10 == 3 else None,
        "as_built": roof.replace({"medium.depth_mm": 45.0}) if seed % 10 == 6 else None,
    }
    first = 1991 + int(random.integers(0, 20))
    write_dossier(roof, _years(first), path, members=20, seed=seed + 1, paper=("a4", "letter")[seed % 2], **options)
    return path


def _years(first: int) -> xr.Dataset:
    return runoff.open_sample().sel(time=slice(str(first), str(first + 5)))


def _tampered(folder: Path) -> None:
    _try_changes(_write(folder / "honest.html").read_text(encoding="utf-8"), folder / "changed.html")


def _try_changes(text: str, path: Path, drawn: str = "DIFFERS") -> None:
    """Try every change; `drawn` is the outcome wanted where pictures alone were changed."""
    found: Counter[str] = Counter()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verifying, "remake", made_again)
        for name, change in {**OF_THE_PAGE, **OF_THE_INPUT}.items():
            path.write_text(change(text), encoding="utf-8")
            outcome = verify_dossier(path).outcome.name
            found[outcome] += 1
            if outcome != (drawn if name in DRAWN else "DIFFERS"):
                print(f"NOT AS WANTED: {name} ({outcome})")
    print(f"changes: {dict(found)} of {found.total()}")


def _untouched(folder: Path, count: int = 200, first: int = 0) -> None:
    found: Counter[str] = Counter()
    for seed in range(first, first + count):
        verdict = verify_dossier(_write(folder / "honest.html", seed))
        found[verdict.outcome.name] += 1
        if verdict.outcome.value:
            print(f"seed {seed}: {verdict.text()}")
    print(f"untouched in one process: {dict(found)}")


def _written(folder: Path, count: int = 10, first: int = 0) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(first, first + count):
        _write(folder / f"{seed}.html", seed)


def _checked(folder: Path) -> None:
    """Check files that another process wrote, then try the changes on the first of them."""
    found: Counter[str] = Counter()
    paths = sorted(folder.glob("*.html"))
    for path in paths:
        verdict = verify_dossier(path)
        found[verdict.outcome.name] += 1
        if verdict.outcome is Outcome.DIFFERS:
            print(verdict.text())
    notes = [note for note in verify_dossier(paths[0]).notes if note.startswith("written with other")]
    print(f"untouched, written by another process: {dict(found)}; {' '.join(notes)}", flush=True)
    if paths[0].name != "0.html":  # the changes are made for the first one
        return
    with tempfile.TemporaryDirectory() as name:
        drawn = "PICTURES_NOT_COMPARED" if "PICTURES_NOT_COMPARED" in found else "DIFFERS"
        _try_changes(paths[0].read_text(encoding="utf-8"), Path(name) / "changed.html", drawn)


def hostile_changes() -> dict[str, Callable[[str], str]]:
    """Return changes that make a file harmful rather than false."""

    def bomb(megabytes: int) -> str:
        packer = zlib.compressobj(9)
        parts = [packer.compress(bytes(1_000_000)) for _ in range(megabytes)]
        return base64.b64encode(b"".join([*parts, packer.flush()])).decode("ascii")

    def put(*path: str, value: Any) -> Callable[[str], str]:
        def change(record: dict[str, Any]) -> None:
            for name in path[:-1]:
                record = record[name]
            record[path[-1]] = value

        return in_record(change)

    def raw(body: Callable[[], str]) -> Callable[[str], str]:
        def change(text: str) -> str:
            head, mark, rest = text.partition('id="provenance">')
            return head + mark + body() + "</script>" + rest.partition("</script>")[2]

        return change

    wrong: tuple[Any, ...] = (7, -1, 1e308, "x", [], {}, [[1]], True, "\u0000", {"a": {"b": 1}})
    changes: dict[str, Callable[[str], str]] = {
        "a bomb of 2 GB": put("weather", "series", "rain", "data", "values", value=bomb(2000)),
        "a bomb as index": put("weather", "series", "rain", "data", "index", value=bomb(500)),
        "nested brackets": raw(lambda: "[" * 2_000_000),
        "nested objects": raw(lambda: '{"a":' * 100_000 + "1" + "}" * 100_000),
        "a long number": raw(lambda: '{"format": ' + "9" * 5_000_000 + "}"),
        "a name twice": raw(lambda: '{"format": "runoff dossier 2", "format": "runoff dossier 2"}'),
        "no number": raw(lambda: '{"format": "runoff dossier 2", "figures": {"a": NaN}}'),
        "many days": put("weather", "days", value=10**12),
        "no days": put("weather", "days", value=0),
        "many members": put("options", "members", value=10**9),
        "a huge roof": put("roof", value="x = 1\n" * 1_000_000),
        "a deep roof": put("roof", value="a = " + "[" * 90_000 + "]" * 90_000),
        "a day of the year 0": put("weather", "start", value="0000-00-00"),
        "a calendar none has": put("weather", "calendar", value="moon"),
        "a storm of a thousand years": put("storms", value={"durations_min": [5.0, 1e300], "return_periods_years": [2.0], "depths_mm": [[1.0], [2.0]], "series": "annual-maximum", "source": "x", "latitude_deg": None, "notes": []}),
        "a table of storms without end": put("storms", value={"durations_min": list(range(1, 100_000)), "return_periods_years": [2], "depths_mm": [[1]]}),
        "a large file": lambda text: text + " " * 30_000_000,
        "many marks": lambda text: text.replace("</main>", '<data value="1" data-figure="a" data-shown="" data-digits="0">1</data>' * 100_000 + "</main>"),
        "many brackets": lambda text: text.replace("</main>", "<" * 5_000_000 + "</main>"),
        "many lines": lambda text: text.replace("</main>", "<p>x</p>\n" * 500_000 + "</main>"),
        "two records": lambda text: text.replace("</main>", '<script type="application/json" id="provenance">{}</script></main>'),
        "no text": lambda _: "",
        "a figure beyond all measure": put("figures", "capacity_mm", value=1e308),
        "digits beyond all measure": lambda text: text.replace('data-digits="1"', 'data-digits="99"', 1),
    }  # fmt: skip
    for name in (
        "format",
        "versions",
        "roof",
        "existing",
        "storms",
        "options",
        "weather",
        "checksums",
        "units",
        "figures",
    ):
        for at, value in enumerate(wrong):
            changes[f"{name} is {value!r:.20} ({at})"] = put(name, value=value)
    for name in ("attrs", "coords", "calendar", "start", "days", "reference_et_derived", "series"):
        for at, value in enumerate(wrong):
            if name == "reference_et_derived" and value is True:  # as the honest file has it
                continue
            changes[f"weather {name} is {value!r:.20} ({at})"] = put("weather", name, value=value)
    return changes


def _hostile(folder: Path, first: int = 0, count: int = 1_000) -> None:
    text = _write(folder / "honest.html").read_text(encoding="utf-8")
    verify_dossier(folder / "honest.html")  # every module is loaded before the forks
    codes: Counter[int] = Counter()
    longest, largest = (0.0, ""), (0, "")
    for name, change in list(hostile_changes().items())[first : first + count]:
        path = folder / "hostile.html"
        path.write_text(change(text), encoding="utf-8", errors="surrogatepass")
        begun = time.perf_counter()
        code, cpu, memory, said = _checked_apart(path, folder / "said")
        took = time.perf_counter() - begun
        codes[code] += 1
        longest, largest = max(longest, (cpu, name)), max(largest, (memory, name))
        bad = (
            "Traceback" in said or code not in (1, 2) or (code == 2 and (cpu > _MOST_S or len(said.splitlines()) != 1))
        )
        if bad or cpu > _MOST_S or memory > _MOST_MB:
            print(f"BAD {name}: code {code}, {cpu:.1f} s of CPU, {took:.1f} s, {memory} MB\n{said[-600:]}", flush=True)
    print(f"hostile: {codes.total()} files, exit codes {dict(codes)}, longest {longest}, most memory {largest} MB")


def _checked_apart(path: Path, said: Path) -> tuple[int, float, int, str]:
    """Check a file in a fork: exit code, seconds of CPU, most memory in MB, what was said on the error stream."""
    child = os.fork()
    if not child:
        code = 70
        try:
            with said.open("w", encoding="utf-8") as stream, contextlib.redirect_stderr(stream):
                with contextlib.redirect_stdout(io.StringIO()):
                    code = command(["dossier", "--verify", str(path)])
        finally:
            os._exit(code)
    _, status, used = os.wait4(child, 0)
    words = said.read_text(encoding="utf-8")
    return os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime, used.ru_maxrss // 1000, words


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "tampered", sys.argv[2:])
