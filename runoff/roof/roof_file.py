"""Roof files: TOML with the unit in the key, both unit systems, every fault in one message."""

from __future__ import annotations

import re
import tomllib
import warnings
from importlib import resources
from pathlib import Path
from typing import Any

from runoff.errors import RoofError, RunoffWarning, nearest, raise_faults
from runoff.file_bytes import read_bytes
from runoff.given_kinds import refuse_other_kinds
from runoff.roof.build_up import BuildUp
from runoff.roof.description import BareSurface, Outlet, Roof
from runoff.roof.faults import shown
from runoff.roof.fitted_range import FittedRange
from runoff.roof.frozen_model import Described
from runoff.roof.layers import LAYERS, GrowingMedium, ProtectionMat
from runoff.roof.likely_slips import doubts
from runoff.saying.properties import us_twin
from runoff.units import convert

_BINARY = (b"PK\x03\x04", b"%PDF", b"\x89HDF", b"CDF\x01", b"\x89PNG", b"\xff\xd8\xff", b"\x1f\x8b")
_MOST_BYTES = 200_000  # the longest roof of the tests has 6 kB
_START = "`runoff simulate --template` prints a roof file to start from"


def read_roof(path: str | Path) -> Roof:
    """Read a roof file.

    Parameters
    ----------
    path
        TOML file; ``runoff simulate --template`` prints a commented one to start from.

    Returns
    -------
    Roof

    Raises
    ------
    RoofError
        Naming every fault of the file at once: the layer, what was written, what is needed.
    MissingFileError
        When there is no such file.

    Warns
    -----
    RunoffWarning
        For what was likely not meant: a size of the other unit, a count or a fall left out, a flow length of another roof.
    """
    refuse_other_kinds("read_roof", path=path)
    path = Path(path)
    name = path.name
    try:
        raw = read_bytes(path, "roof file", RoofError, hint=f"; {_START}")
    except RoofError as error:
        raise RoofError(f"{path}: {error}") from None
    assert raw is not None, "nothing stays on disk"
    if len(raw) > _MOST_BYTES:
        raise RoofError(
            f"{name}: {len(raw) / 1e6:.3g} MB; a roof file is a page of text, {_MOST_BYTES // 1000} kB at most"
        )
    if not raw.strip():
        raise RoofError(f"{name}: the file is empty; {_START}")
    if raw.startswith(_BINARY) or b"\x00" in raw[:1000]:
        raise RoofError(f"{name}: this is not a roof file (TOML text); {_START}")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RoofError(f"{name}: the text is not UTF-8; save the file as UTF-8") from None
    return roof_from_toml(text, where=name)


def roof_from_toml(text: str, *, where: str = "roof") -> Roof:
    """Read a roof from the text of a roof file; see `read_roof`.

    Parameters
    ----------
    text
        TOML text.
    where
        Name that stands before every fault.
    """
    try:
        written = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RoofError(f"{where}: {_syntax(str(error), text)}") from None
    except ValueError:  # Python reads no whole number of more than some thousand digits
        raise RoofError(f"{where}: the text holds a number too long to read") from None
    faults = [
        f"[{key}] is not known here{nearest(key, ('roof', 'layer'))}; a roof file has [roof] and [[layer]]"
        for key in written
        if key not in ("roof", "layer")
    ]
    build_up = _build_up(written, faults)
    table = _table(written.get("roof", {}), "[roof]", faults)
    roof = None if table is None else _roof(table, build_up, faults)
    raise_faults(where, faults, RoofError)
    assert roof is not None, "a roof without faults has been made"
    for doubt in doubts(roof, written):
        warnings.warn(f"{where}: {doubt}", RunoffWarning, stacklevel=2)
    return roof


def _build_up(written: dict[str, Any], faults: list[str]) -> BuildUp | None:
    """Read the layers; None when one of them, or their order, is at fault."""
    tables = _tables(written.get("layer", []), "[[layer]]", "layer", faults)
    if tables == []:
        faults.append("no [[layer]] is given; list the layers from top to bottom")
    layers = [_layer(table, number, faults) for number, table in enumerate(tables or [], start=1)]
    if not layers or None in layers:
        return None
    build_up, wrong = BuildUp.checked({"layers": layers})
    faults += [f"the layers, {fault}" for fault in wrong]
    return build_up


def _layer(table: dict[str, Any], number: int, faults: list[str]) -> Described | None:
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in LAYERS:
        said = "kind is missing" if kind is None else f"kind {shown(kind)} is not known{nearest(str(kind), LAYERS)}"
        faults.append(f"layer {number}, {said}; it is one of {', '.join(LAYERS)}")
        return None
    given = {key: value for key, value in table.items() if key != "kind"}
    layer: Described | None = _part(LAYERS[kind], given, f"layer {number} ({kind})", faults)
    return layer


def _roof(table: dict[str, Any], build_up: BuildUp | None, faults: list[str]) -> Roof | None:
    """Read the roof around its layers; without them its own faults are still found."""
    parts: dict[str, Any] = {}
    if "outlets" in table:
        tables = _tables(table["outlets"], "[[roof.outlets]]", "kind of outlet", faults)
        outlets = [_part(Outlet, one, f"outlet {number}", faults) for number, one in enumerate(tables or [], start=1)]
        parts["outlets"] = None if tables is None or None in outlets else outlets
    if "fitted" in table:
        tables = _tables(table["fitted"], "[[roof.fitted]]", "fitted property", faults)
        fitted = [
            _part(FittedRange, one, f"fitted {number}", faults) for number, one in enumerate(tables or [], start=1)
        ]
        parts["fitted"] = None if tables is None or None in fitted else fitted
    if "other_surface" in table:
        surface = _table(table["other_surface"], "[roof.other_surface]", faults)
        if surface is not None:
            parts["other_surface"] = _part(BareSurface, surface, "[roof.other_surface]", faults)
    plain = {key: value for key, value in table.items() if key not in ("outlets", "other_surface", "fitted")}
    if "build_up" in plain:
        faults.append("[roof], build_up is not a known key; list the layers as [[layer]]")
        del plain["build_up"]
    if not {"area_m2", "area_ft2"} & set(plain):
        faults.append("[roof], area_m2 (or area_ft2) is missing: the plan area that drains to the outlets")
    # parts at fault are listed already: defaults stand in for them, so that only the roof's own faults are added
    parts = {key: one for key, one in parts.items() if one is not None}
    # and of a height that contradicts no level that may be written
    edge_given = {"edge_height_mm", "edge_height_in"} & set(plain)
    stand_in = BuildUp(layers=(GrowingMedium(depth_mm=1.0 if edge_given else 1e6), ProtectionMat()))
    roof: Roof | None = _part(Roof, plain, "[roof]", faults, build_up=build_up or stand_in, **parts)
    return roof


def _part(kind: type[Described], table: dict[str, Any], where: str, faults: list[str], **parts: Any) -> Any:
    """Build one part from its table, or add its faults and return None."""
    given: dict[str, Any] = {}
    written: dict[str, tuple[str, Any]] = {}
    count = len(faults)
    for key, value in table.items():
        house, units = house_key(kind, key)
        if house != key and house in table:
            faults.append(f"{where}, {house} and {key} are both given; write one of them")
            continue
        written[house] = (key, value)
        plain_number = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300
        given[house] = convert(float(value), *units) if units and plain_number else value
    made, wrong = kind.checked({**given, **parts}, written)
    faults += [f"{where}, {fault}" for fault in wrong]
    return made if len(faults) == count else None


def house_key(kind: type[Described], key: str) -> tuple[str, tuple[str, str] | None]:
    """Return the house spelling of a key, and the two units when it is written in US units."""
    if key not in kind.model_fields:
        twin = us_twin(key)
        if twin and twin[0] in kind.model_fields:
            return twin[0], twin[1:]
    return key, None


def template_text() -> str:
    """Return a commented roof file to start from."""
    return resources.files("runoff.roof").joinpath("template.toml").read_text(encoding="utf-8")


def _syntax(message: str, text: str) -> str:
    """Say what the TOML reader found, with the line itself and the usual reason."""
    found = re.search(r"\(at line (\d+), column \d+\)", message)
    if not found:
        return f"{message}; is the last line complete?"
    number = int(found.group(1))
    line = text.split("\n")[number - 1].strip()
    value = re.match(r"[\w.]+\s*=\s*(.*)", line)
    hint = ""
    if value and re.match(r"[-+]?\d+,\d", value[1]):
        hint = "; write a decimal point, not a comma"
    elif value and re.match(r"[-+]?[\d.]+\s*[a-zA-Z%\"'²]", value[1]):
        hint = "; numbers carry no unit, the unit is in the key"
    elif value and re.match(r"[a-zA-Z]", value[1]):
        hint = "; text stands in quotes, and true and false in small letters"
    return f"line {number} cannot be read: {line}{hint}"


def _table(value: Any, where: str, faults: list[str]) -> dict[str, Any] | None:
    """Return a table, or None and a fault when it is something else."""
    if isinstance(value, dict):
        return value
    faults.append(f"{where} must be a table of keys (you wrote {shown(value)})")
    return None


def _tables(value: Any, brackets: str, what: str, faults: list[str]) -> list[dict[str, Any]] | None:
    """Return a list of tables, or None and a fault when it is something else."""
    if isinstance(value, list) and all(isinstance(one, dict) for one in value):
        return value
    faults.append(f"write {brackets} with double brackets, once for each {what}")
    return None
