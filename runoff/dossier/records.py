"""The record inside a sheet, read as a stranger's: size, depth and kinds are looked at before anything is computed."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from typing import Any

from runoff.dossier.sheets import SHEETS
from runoff.errors import RunoffError

#: Largest file read, bytes: a dossier of 60 years with storms has under 1 MB.
MOST_BYTES = 20_000_000
#: Longest roof file inside, letters, and the longest single text.
MOST_ROOF, MOST_TEXT = 200_000, 20_000
#: Longest record, days: three centuries; and the most parameter sets drawn, for the writing as for the checking.
MOST_DAYS, MOST_MEMBERS = 110_000, 5_000
#: Series of a record, numbers of the figures, rows and columns of a storm table.
MOST_SERIES, MOST_FIGURES, MOST_ROWS = 60, 20_000, 100
#: Steps of a storm: ten days of minutes.
MOST_STEPS = 14_400
_MOST_DEPTH = 12
_VERSION = re.compile(r"[0-9A-Za-z.+_-]{1,40}")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


def read_record(text: str, where: str) -> dict[str, Any]:
    """Return a record from its JSON text.

    Parameters
    ----------
    text
        The JSON.
    where
        The file, for messages.

    Raises
    ------
    RunoffError
        In one sentence, when it cannot be read, is of no known kind, or is larger or deeper than an honest one.
    """
    if _depth(text) > _MOST_DEPTH:
        raise RunoffError(f"{where}: the record inside is nested more than {_MOST_DEPTH} deep; no sheet of runoff is")
    try:
        record = json.loads(text, object_pairs_hook=_without_doubles, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise RunoffError(f"{where}: the record inside cannot be read; the file has been changed or cut") from None
    kind = record.get("format") if isinstance(record, dict) else None
    if not isinstance(kind, str) or kind not in SHEETS:
        known = " or ".join(words for words, _ in SHEETS.values())
        old = isinstance(kind, str) and re.fullmatch(r"runoff [a-z ]+ \d+", kind)
        more = f'; it is a "{kind}", of another version of runoff' if old else ""
        raise RunoffError(f"{where} carries no record that can be checked ({known}){more}")
    faults = _faults(record)
    if faults:
        raise RunoffError(f"{where}: the record inside cannot be used: {faults[0]}")
    return record


def _depth(text: str) -> int:
    """Return how deep brackets are nested, without taking the text apart: a deep one would end the parser first."""
    deepest = depth = 0
    for found in re.finditer(r'"[^"\\]*+(?:\\.[^"\\]*+)*+"|[\[{]|[\]}]', text):
        if found[0] in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif found[0] in "]}":
            depth -= 1
    return deepest


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name comes twice")
    return found


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number of JSON")


def _faults(record: Mapping[str, Any]) -> list[str]:
    """Return what no honest record holds; the parts that every kind of sheet has, then weather and storms."""
    faults = []

    def need(name: str, is_right: Callable[[Any], bool], what: str) -> None:
        if name not in record or not is_right(record[name]):
            faults.append(f"`{name}` is not {what}")

    need("versions", _is_versions, "a list of versions")
    need(
        "roof",
        lambda one: isinstance(one, str) and len(one) <= MOST_ROOF,
        f"a roof file of at most {MOST_ROOF:,} letters",
    )
    need("checksums", _is_words, "a list of checksums")
    need("units", _is_words, "a list of units")
    need("figures", _is_figures, f"at most {MOST_FIGURES:,} numbers")
    if record.get("promised") is not None:
        need("promised", lambda one: isinstance(one, str) and len(one) <= MOST_ROOF, "a roof file")
    for name in ("words", "options", "existing", "rules", "measured"):
        if record.get(name) is not None or (name in ("existing", "options") and name in record):
            need(name, _is_flat, "a plain list of settings")
    if "storm" in record:
        need("storm", _is_storm, f"a storm of at most {MOST_STEPS:,} steps of 1 min to 1 h")
    if "weather" in record:
        faults += _weather_faults(record["weather"])
    if record.get("storms") is not None:
        need("storms", _is_storms, f"a storm table of at most {MOST_ROWS} rows and columns")
    members = record["options"].get("members") if isinstance(record.get("options"), dict) else None
    if isinstance(members, int) and members > MOST_MEMBERS:
        faults.append(f"{members:,} members are more than {MOST_MEMBERS:,}, the most that can be drawn")
    return faults


def _weather_faults(weather: Any) -> list[str]:
    if not isinstance(weather, dict):
        return ["`weather` is no record of weather"]
    days, series = weather.get("days"), weather.get("series")
    if not isinstance(days, int) or isinstance(days, bool) or not 1 <= days <= MOST_DAYS:
        return [f"`weather` has no number of days between 1 and {MOST_DAYS:,}"]
    right = (
        isinstance(weather.get("start"), str) and _DAY.fullmatch(weather["start"])
        and all(isinstance(weather.get(name), str) for name in ("calendar", "series_sha256"))
        and isinstance(weather.get("reference_et_derived"), bool)
        and _is_flat(weather.get("attrs")) and _is_flat(weather.get("coords"))
        and isinstance(series, dict) and 1 <= len(series) <= MOST_SERIES
        and all(isinstance(one, dict) and _is_flat(one.get("attrs")) and _is_packed(one.get("data")) for one in series.values())
    )  # fmt: skip
    return [] if right else ["`weather` is no record of weather as runoff packs it"]


def _is_packed(data: Any) -> bool:
    if not isinstance(data, dict) or not isinstance(data.get("index"), str):
        return False
    words = data.get("words")
    if set(data) == {"index", "words"}:
        return isinstance(words, list) and all(isinstance(one, str) and len(one) <= MOST_TEXT for one in words)
    return set(data) == {"index", "values"} and isinstance(data["values"], str)


def _is_storms(storms: Any) -> bool:
    if not isinstance(storms, dict):
        return False
    lists = [storms.get("durations_min"), storms.get("return_periods_years"), *(storms.get("depths_mm") or [[]])]
    return len(lists) <= MOST_ROWS + 2 and all(
        isinstance(one, list) and 1 <= len(one) <= MOST_ROWS and all(_is_number(value) for value in one)
        for one in lists
    )


def _is_storm(storm: Any) -> bool:
    if (
        not isinstance(storm, dict)
        or not isinstance(storm.get("rain_mm"), list)
        or not isinstance(storm.get("start"), str)
    ):
        return False
    step = storm.get("step_min")
    return (
        1 <= len(storm["rain_mm"]) <= MOST_STEPS
        and all(map(_is_number, storm["rain_mm"]))
        and isinstance(step, int | float)
        and _is_number(step)
        and 1.0 <= step <= 60.0
        and _is_words(storm.get("attrs"))
    )


def _is_versions(one: Any) -> bool:
    return _is_words(one) and all(_VERSION.fullmatch(value) for value in one.values())


def _is_words(one: Any) -> bool:
    return isinstance(one, dict) and all(isinstance(value, str) and len(value) <= MOST_TEXT for value in one.values())


def _is_figures(one: Any) -> bool:
    return isinstance(one, dict) and len(one) <= MOST_FIGURES and all(
        value is None or _is_number(value) for value in one.values()
    )  # fmt: skip


def _is_flat(one: Any) -> bool:
    """Tell settings: words, numbers, yes or no, nothing, and lists of such no longer than a table's row."""

    def plain(value: Any) -> bool:
        return value is None or isinstance(value, bool) or _is_number(value) or (
            isinstance(value, str) and len(value) <= MOST_TEXT
        )  # fmt: skip

    return isinstance(one, dict) and all(
        plain(value) or (isinstance(value, list) and len(value) <= MOST_ROWS and all(map(plain, value)))
        for value in one.values()
    )


def _is_number(one: Any) -> bool:
    return isinstance(one, int | float) and not isinstance(one, bool) and abs(one) < 1e300
