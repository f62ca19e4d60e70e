"""A roof as the text of a roof file; `runoff.roof.roof_file` reads it back."""

from __future__ import annotations

from typing import Any

from runoff.roof.frozen_model import Described


def to_toml(roof: Any) -> str:
    """Return the text of a roof file from which `read_roof` makes an equal roof."""
    import tomli_w

    layers = [{"kind": layer.word, **_plain(layer)} for layer in roof.build_up.layers]
    table = _plain(roof)
    del table["build_up"]
    return tomli_w.dumps({"roof": table, "layer": layers})


def _plain(value: Any) -> Any:
    """Return a part as TOML can hold it: no None, and no empty words."""
    if isinstance(value, Described):
        return {key: _plain(one) for key, one in value.fields().items() if one is not None and one != ""}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value
