"""Roof files: TOML with the unit in the key, both unit systems, every fault in one message."""

from __future__ import annotations

import re
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from runoff.errors import RoofError, nearest, raise_faults
from runoff.roof.build_up import BareSurface, BuildUp, Outlet, Roof
from runoff.roof.faults import sentence, shown
from runoff.roof.layers import LAYERS, Described
from runoff.units import convert

#: Endings of keys in US units, the ending of the key they stand for, and the two units.
_US_ENDINGS: dict[str, tuple[str, str, str]] = {
    "_in_per_h": ("_mm_per_h", "in/h", "mm/h"),
    "_gpm_per_ft": ("_l_per_s_m", "gpm/ft", "L/(s m)"),
    "_lb_per_ft2": ("_kg_per_m2", "lb/ft2", "kg/m2"),
    "_lb_per_ft3": ("_kg_per_m3", "lb/ft3", "kg/m3"),
    "_ft2": ("_m2", "ft2", "m2"),
    "_ft": ("_m", "ft", "m"),
    "_in": ("_mm", "in", "mm"),
}


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
    FileNotFoundError
        When there is no such file.
    """
    path = Path(path)
    raw = path.read_bytes()
    name = path.name
    if not raw.strip():
        raise RoofError(f"{name}: the file is empty; `runoff simulate --template` prints a roof file to start from")
    if raw[:4] in (b"PK\x03\x04", b"%PDF", b"\x89HDF", b"CDF\x01") or b"\x00" in raw[:1000]:
        raise RoofError(f"{name}: this is not a roof file (TOML text); `runoff simulate --template` prints one")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RoofError(f"{name}: the text is not UTF-8; save the file as UTF-8") from None
    return roof_from_toml(text, where=name)


def roof_from_toml(text: str, *, where: str = "roof") -> Roof:
    """Read a roof from the text of a roof file; see `read_roof`."""
    try:
        written = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RoofError(f"{where}: {_syntax(str(error), text)}") from None
    faults: list[str] = []
    known = ["roof", "layer"]
    for key in written:
        if key not in known:
            faults.append(f"[{key}] is not known here{nearest(key, known)}; a roof file has [roof] and [[layer]]")
    roof_table = _table(written.get("roof", {}), "[roof]", faults)
    layers = [_layer(table, number, faults) for number, table in enumerate(_tables(written, "layer", faults), start=1)]
    if "layer" not in written:
        faults.append("no [[layer]] is given; list the layers from top to bottom")
    outlets = [
        _part(Outlet, table, f"outlet {number}", faults)
        for number, table in enumerate(_tables(roof_table, "outlets", faults), start=1)
    ]
    parts: dict[str, Any] = {}
    if "outlets" in roof_table:
        parts["outlets"] = outlets
    if "other_surface" in roof_table:
        table = _table(roof_table["other_surface"], "[roof.other_surface]", faults)
        parts["other_surface"] = _part(BareSurface, table, "other_surface", faults)
    plain = {key: value for key, value in roof_table.items() if key not in ("outlets", "other_surface")}
    if "build_up" in plain:
        faults.append("[roof], build_up is not a known key; list the layers as [[layer]]")
        del plain["build_up"]
    whole = all(part is not None for part in (*layers, *outlets, *parts.values())) and layers
    build_up = None
    if whole:
        build_up = _checked(BuildUp, {"layers": layers}, "layers", faults)
    stand_in = build_up or BuildUp.model_construct(layers=())
    given = _in_house_units(Roof, plain, "[roof]", faults)
    roof = _checked(
        Roof,
        {
            **given,
            **{k: v for k, v in parts.items() if v is not None and None not in (v if isinstance(v, list) else [v])},
            "build_up": stand_in,
        },
        "[roof]",
        faults,
    )
    raise_faults(where, faults, RoofError)
    assert isinstance(roof, Roof)
    return roof


def to_toml(roof: Roof) -> str:
    """Return the text of a roof file from which `read_roof` makes an equal roof."""
    import tomli_w

    table = {name: _plain(getattr(roof, name)) for name in type(roof).model_fields if name != "build_up"}
    layers = [{"kind": layer.word, **_plain(layer)} for layer in roof.build_up.layers]
    return tomli_w.dumps({"roof": {k: v for k, v in table.items() if v is not None}, "layer": layers})


def template_text() -> str:
    """Return a commented roof file to start from."""
    return resources.files("runoff.roof").joinpath("template.toml").read_text(encoding="utf-8")


def _plain(value: Any) -> Any:
    if isinstance(value, Described):
        fields = {name: _plain(getattr(value, name)) for name in type(value).model_fields}
        return {name: one for name, one in fields.items() if one is not None and (name, one) != ("material", "")}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value


def _syntax(message: str, text: str) -> str:
    """Say what the TOML reader found, with the line itself and the usual reason."""
    found = re.search(r"\(at line (\d+), column \d+\)", message)
    if not found:
        return f"{message}; is the last line complete?"
    number = int(found.group(1))
    line = text.splitlines()[number - 1].strip()
    hint = (
        "; numbers carry no unit, the unit is in the key"
        if re.match(r"[\w.]+\s*=\s*[-\d.]+\s*[a-zA-Z%\"']", line)
        else ""
    )
    if re.match(r"[\w.]+\s*=\s*\d+,\d+", line):
        hint = "; write a decimal point, not a comma"
    return f"line {number} cannot be read: {line}{hint}"


def _table(value: Any, where: str, faults: list[str]) -> dict[str, Any]:
    if isinstance(value, dict):
        return value
    faults.append(f"{where} must be a table of keys (you wrote {shown(value)})")
    return {}


def _tables(table: dict[str, Any], key: str, faults: list[str]) -> list[dict[str, Any]]:
    value = table.get(key, [])
    brackets = "[[layer]]" if key == "layer" else "[[roof.outlets]]"
    if isinstance(value, list) and all(isinstance(one, dict) for one in value):
        return value
    faults.append(f"write {brackets} with double brackets, once for each {key.removesuffix('s')}")
    return []


def _layer(table: dict[str, Any], number: int, faults: list[str]) -> Any:
    kind = table.get("kind")
    if kind is None:
        faults.append(f"layer {number}, kind is missing; it is one of {', '.join(LAYERS)}")
        return None
    if kind not in LAYERS:
        faults.append(
            f"layer {number}, kind {shown(kind)} is not known{nearest(str(kind), LAYERS)}; it is one of {', '.join(LAYERS)}"
        )
        return None
    given = {key: value for key, value in table.items() if key != "kind"}
    where = f"layer {number} ({kind})"
    material = given.get("material")
    if isinstance(material, str) and material:
        from runoff.roof.materials import typical_values

        try:
            base = typical_values(kind, material)
        except RoofError as error:
            faults.append(f"{where}, {error}")
            return None
        given = _in_house_units(LAYERS[kind], given, where, faults)
        return _checked(LAYERS[kind], {**base, **given}, where, faults)
    return _part(LAYERS[kind], given, where, faults)


def _part(kind: type[Described], table: dict[str, Any], where: str, faults: list[str]) -> Any:
    return _checked(kind, _in_house_units(kind, table, where, faults), where, faults)


def _in_house_units(kind: type[Described], table: dict[str, Any], where: str, faults: list[str]) -> dict[str, Any]:
    """Bring keys in US units to house units; a value in both is a fault."""
    given: dict[str, Any] = {}
    for key, value in table.items():
        target, factor = house_key(kind, key)
        if target in table and target != key:
            faults.append(f"{where}, {target} and {key} are both given; write one of them")
            continue
        if factor is not None and isinstance(value, int | float) and not isinstance(value, bool):
            value = convert(float(value), *factor)
        given[target if factor is not None else key] = value
    return given


def house_key(kind: type[Described], key: str) -> tuple[str, tuple[str, str] | None]:
    """Return the house spelling of a key, and the two units when it is written in US units."""
    if key in kind.model_fields:
        return key, None
    for ending, (house, source, target) in _US_ENDINGS.items():
        if key.endswith(ending) and key.removesuffix(ending) + house in kind.model_fields:
            return key.removesuffix(ending) + house, (source, target)
    return key, None


def _checked(kind: type[Described], given: dict[str, Any], where: str, faults: list[str]) -> Any:
    """Build one part, or add its faults and return None."""
    try:
        return kind(**given)
    except ValidationError as error:
        known = list(kind.model_fields)
        for fault in error.errors():
            key = str(fault["loc"][0]) if fault["loc"] else ""
            if key == "build_up":
                continue  # its own faults are listed already
            faults.append(f"{where}, {sentence(dict(fault), key, known)}")
        return None
