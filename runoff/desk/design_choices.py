"""Where the controls of the desk stand, and the roof that means. No widget, no weather."""

from __future__ import annotations

import dataclasses
from typing import Any

from runoff.roof import BuildUp, Mulch, Outlet, Roof
from runoff.roof.layers import LAYERS
from runoff.roof.material_rows import listed
from runoff.roof.materials_table import material

AS_DESCRIBED = "as described"
NO_BOARD = "no board"
#: Round outlets of one size take the place of those described.
OUTLETS = {"round, with strainer": True, "round, clear": False}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Choices:
    """Where the controls stand.

    Parameters
    ----------
    depth_mm, mulch_mm
        Depths of medium and mulch, mm; no mulch at 0.
    medium, planting, board
        A material of the table, `AS_DESCRIBED`, or for the board `NO_BOARD`.
    cups_mm, cups_up
        Water the cups hold, mm, and which way up they lie; of no weight without a board.
    outlets
        `AS_DESCRIBED`, or a key of `OUTLETS`.
    outlet_count, outlet_mm
        How many round outlets, and their diameter, mm; of no weight as described.
    """

    depth_mm: float
    mulch_mm: float
    medium: str = AS_DESCRIBED
    planting: str = AS_DESCRIBED
    board: str = AS_DESCRIBED
    cups_mm: float = 0.0
    cups_up: bool = True
    outlets: str = AS_DESCRIBED
    outlet_count: int = 2
    outlet_mm: float = 100.0


def described(roof: Roof) -> Choices:
    """Return where the controls stand for a roof as it is described."""
    build_up = roof.build_up
    board, mulch = build_up.board, build_up.layer("mulch")
    first = roof.outlets[0] if roof.outlets else None
    is_plain = len(roof.outlets) == 1 and first is not None and first.diameter_mm is not None
    return Choices(
        depth_mm=build_up.medium.depth_mm,
        mulch_mm=mulch.depth_mm if mulch is not None else 0.0,
        board=AS_DESCRIBED if board is not None else NO_BOARD,
        cups_mm=board.cup_storage_mm if board is not None else 0.0,
        cups_up=board.cups_up if board is not None else True,
        outlet_count=first.count if is_plain and first is not None else 2,
        outlet_mm=first.diameter_mm if is_plain and first is not None and first.diameter_mm else 100.0,
    )


def materials_of(word: str) -> list[str]:
    """Return the materials of the table for a layer."""
    return list(listed(word))


def cups_of(board: str, base: Roof) -> float:
    """Return what the cups of a board hold as it comes, mm."""
    if board == NO_BOARD:
        return 0.0
    if board == AS_DESCRIBED:
        own = base.build_up.board
        return own.cup_storage_mm if own is not None else 0.0
    made: Any = material("board", board)
    return float(made.cup_storage_mm)


def roof_of(choices: Choices, base: Roof) -> Roof:
    """Return the roof that the controls mean.

    Parameters
    ----------
    choices
        Where they stand.
    base
        The roof as described: all that no control changes stays as it is there.

    Raises
    ------
    RoofError
        When there can be no such roof.
    """
    layers: dict[str, Any] = {layer.word: layer for layer in base.build_up.layers}
    layers["medium"] = _of_material("medium", choices.medium, layers["medium"], depth_mm=choices.depth_mm)
    _put(layers, "mulch", _mulch(choices, layers.get("mulch")))
    _put(layers, "board", _board(choices, layers.get("board")))
    if choices.planting != AS_DESCRIBED:
        layers["planting"] = material("planting", choices.planting)
    fresh = {word for word in ("medium", "planting", "board") if getattr(choices, word) != AS_DESCRIBED}
    return Roof(
        **{
            **base.fields(),
            "build_up": BuildUp(layers=tuple(layers[word] for word in LAYERS if word in layers)),
            "outlets": _outlets(choices, base),
            # what was fitted to one material says nothing of another
            "fitted": tuple(one for one in base.fitted if one.property.partition(".")[0] not in fresh),
        }
    )


def _of_material(word: str, name: str, own: Any, **changes: Any) -> Any:
    return _changed(own, **changes) if name == AS_DESCRIBED else material(word, name, **changes)


def _changed(layer: Any, **changes: Any) -> Any:
    """Return a layer with other values; one that has them already stays as it was written."""
    if all(getattr(layer, name) == value for name, value in changes.items()):
        return layer
    changed = type(layer)(**{**layer.fields(), "material": "", **changes})
    return changed.model_copy(update={"material": layer.material}) if layer.material else changed


def _mulch(choices: Choices, own: Any) -> Any:
    if choices.mulch_mm <= 0.0:
        return None
    return _changed(own, depth_mm=choices.mulch_mm) if own is not None else Mulch(depth_mm=choices.mulch_mm)


def _board(choices: Choices, own: Any) -> Any:
    if choices.board == NO_BOARD:
        return None
    given = {"cup_storage_mm": choices.cups_mm, "cups_up": choices.cups_up}
    if choices.board == AS_DESCRIBED:
        return _changed(own, **given) if own is not None else None
    return _changed(material("board", choices.board), **given)


def _put(layers: dict[str, Any], word: str, layer: Any) -> None:
    if layer is None:
        layers.pop(word, None)
    else:
        layers[word] = layer


def _outlets(choices: Choices, base: Roof) -> tuple[Outlet, ...]:
    if choices.outlets == AS_DESCRIBED:
        return base.outlets
    strainer = OUTLETS[choices.outlets]
    return (Outlet(kind="round", diameter_mm=choices.outlet_mm, count=choices.outlet_count, strainer=strainer),)
