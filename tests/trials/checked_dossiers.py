"""Checks that must not err: changed files are all found, untouched ones are never called changed, hostile ones are refused.

``python -m tests.trials.checked_dossiers tampered|untouched|across|hostile [COUNT]``. Prints counts, and for hostile files
the longest time and the most memory. Each hostile file is read in a process of its own, held to 500 MB and 10 s.
"""

from __future__ import annotations

import base64
import subprocess
import sys
import tempfile
import time
import zlib
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import runoff
from runoff.dossier import verify_dossier, write_dossier
from tests.dossier.tampering import OF_THE_INPUT, OF_THE_PAGE, in_record

_MOST_MB, _MOST_S = 500, 10


def main(what: str, count: int) -> None:
    """Run one of the trials and print what it found."""
    with tempfile.TemporaryDirectory() as name:
        {"tampered": _tampered, "untouched": _untouched, "across": _across, "hostile": _hostile}[what](
            Path(name), count
        )


def _write(path: Path, seed: int = 0) -> Path:
    """Write the dossier of a small roof; another seed gives another roof, other years and other words."""
    random = np.random.default_rng(seed)
    roof = runoff.open_sample_roof(("cups", "deep")[seed % 2]) if seed else runoff.open_sample_roof("cups")
    if seed:
        roof = roof.replace(
            {"medium.depth_mm": float(random.integers(50, 150)), "roof.area_m2": float(random.integers(20, 900))}
        )
    first = 1991 + (int(random.integers(0, 20)) if seed else 0)
    weather = runoff.open_sample().sel(time=slice(str(first), str(first + 5)))
    write_dossier(roof, weather, path, members=20, seed=seed + 1, paper=("a4", "letter")[seed % 2])
    return path


def _tampered(folder: Path, _: int) -> None:
    text = _write(folder / "honest.html").read_text(encoding="utf-8")
    found: Counter[str] = Counter()
    for name, change in {**OF_THE_PAGE, **OF_THE_INPUT}.items():
        path = folder / "changed.html"
        path.write_text(change(text), encoding="utf-8")
        outcome = verify_dossier(path).outcome.name
        found[outcome] += 1
        if outcome != "DIFFERS":
            print(f"NOT FOUND: {name} ({outcome})")
    print(f"tampered: {dict(found)} of {found.total()}")


def _untouched(folder: Path, count: int) -> None:
    found: Counter[str] = Counter()
    for seed in range(count):
        verdict = verify_dossier(_write(folder / "honest.html", seed))
        found[verdict.outcome.name] += 1
        if verdict.outcome.value:
            print(f"seed {seed}: {verdict.text()}")
    print(f"untouched in one process: {dict(found)}")


def _across(folder: Path, count: int) -> None:
    """Write in one process and check in another."""
    found: Counter[int] = Counter()
    code = "import sys; from runoff.cli.entry import main; sys.exit(main(['dossier', '--verify', sys.argv[1]]))"
    for seed in range(count):
        path = _write(folder / "honest.html", seed)
        done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=False)
        found[done.returncode] += 1
        if done.returncode:
            print(f"seed {seed}: {done.stdout}{done.stderr}")
    print(f"untouched across processes, exit codes: {dict(found)}")


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
            changes[f"weather {name} is {value!r:.20} ({at})"] = put("weather", name, value=value)
    return changes


def _hostile(folder: Path, _: int) -> None:
    text = _write(folder / "honest.html").read_text(encoding="utf-8")
    codes: Counter[int] = Counter()
    longest, largest = (0.0, ""), (0, "")
    for name, change in hostile_changes().items():
        path = folder / "hostile.html"
        path.write_text(change(text), encoding="utf-8", errors="surrogatepass")
        begun = time.perf_counter()
        done = subprocess.run([sys.executable, "-c", _LIMITED, str(path)], capture_output=True, text=True, check=False)
        took, memory = (
            time.perf_counter() - begun,
            int((done.stderr.strip().splitlines() or ["0"])[-1].split("=")[-1] or 0),
        )
        codes[done.returncode] += 1
        longest, largest = max(longest, (took, name)), max(largest, (memory, name))
        refused = done.returncode == 2
        lines = [line for line in done.stderr.splitlines() if not line.startswith("memory=")]
        if (
            "Traceback" in done.stderr
            or done.returncode not in (1, 2)
            or (refused and (took > _MOST_S or len(lines) != 1))
        ):
            print(f"BAD {name}: code {done.returncode}, {took:.1f} s, {memory} MB\n{done.stderr[-600:]}")
    print(f"hostile: {codes.total()} files, exit codes {dict(codes)}, longest {longest}, most memory {largest} MB")


_LIMITED = """
import resource, sys
from runoff.cli.entry import main
code = main(["dossier", "--verify", sys.argv[1]])
print(f"memory={resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1000}", file=sys.stderr)
sys.exit(code)
"""


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "tampered", int(sys.argv[2]) if len(sys.argv) > 2 else 200)
