"""Described columns made ready for the loops: every parameter by its name, for days and for minutes alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from runoff.balance import free_water
from runoff.errors import RunoffError

#: What a described column brings (`runoff.roof.column_parameters`). Depths mm, rates mm/h, per m2 of planted area.
DESCRIBED = (
    "surface_capacity", "mulch_share", "soak_rate", "wilting_water", "field_water", "full_water", "medium_depth",
    "fleece_rate", "cup_capacity", "mat_capacity", "board_height", "board_capacity", "fall", "flow_length_m",
    "sill_level", "edge_level", "in_plane_flow", "in_plane_gradient", "in_plane_exponent", "blocked_fraction",
    "outlet_rate", "area_m2", "planted_fraction", "bypass_fraction", "crop_coefficient", "depletion_fraction",
    "cup_supply", "mat_supply", "detention_k", "detention_n",
)  # fmt: skip


#: Of what is described, the shares from 0 to 1.
SHARES = (
    "mulch_share", "blocked_fraction", "planted_fraction", "bypass_fraction", "cup_supply", "mat_supply",
)  # fmt: skip

#: A bypass below this is rounding.
_NO_BYPASS = 1e-15


def by_name(columns: Sequence[Mapping[str, Any]] | Mapping[str, Any]) -> dict[str, np.ndarray]:
    """Return every parameter of described columns by its name, with what days and minutes both work out from them.

    Parameters
    ----------
    columns
        One mapping per design, with the keys of `DESCRIBED`; or one mapping whose values are numbers all designs share
        and arrays along ``design``. Other keys are left alone.

    Returns
    -------
    dict of numpy.ndarray
        Shape ``(design,)`` each. Beside what was given:

        - the fields of `free_water.Deck`;
        - ``spill_level``, the lower of sill and edge (mm);
        - ``board_top_water``, ``medium_top_water``, ``sill_water``, ``edge_water``, ``spill_water``: the free water V
          that stands when the level is there (mm; infinite where there is no sill);
        - ``surface_share`` 1/U_max (0 without a surface store), ``usable_water`` S_fc - S_wp, ``free_pores`` S_sat -
          S_fc (mm), ``stress_slope`` 1/((1 - p)(S_fc - S_wp)) (1/mm);
        - ``bypass_slope`` b/(S_fc - S_wp) (1/mm) and ``bypass_scale`` (S_fc - S_wp)/(2b) (mm; 0 without bypass): what
          `day_steps.bypass_of` takes;
        - ``open_share`` 1 - blocked;
        - ``in_plane_tested`` 3600 in_plane/L (mm/h), ``tested_slope`` 1/(1000 L gradient) (1/mm), ``least_level``
          1000 L max(s, h_b/(1000 L)) (mm) and ``in_plane_linear`` (1 where the flow goes with the gradient, 0 where with
          its root): what `free_water.in_plane_rate` takes.

    Raises
    ------
    RunoffError
        When a key is missing or a number cannot be.
    """
    rows = _gathered(columns)
    _refuse_impossible(rows)
    rows |= _standing(rows)
    spill = np.minimum(rows["sill_level"], rows["edge_level"])
    usable = rows["field_water"] - rows["wilting_water"]
    length_mm = 1000.0 * rows["flow_length_m"]
    capacity = rows["surface_capacity"]
    bypass = np.where(rows["bypass_fraction"] < _NO_BYPASS, 0.0, rows["bypass_fraction"])
    return rows | {
        "bypass_fraction": bypass,
        "bypass_slope": bypass / usable,
        "bypass_scale": np.divide(0.5 * usable, bypass, out=np.zeros_like(usable), where=bypass > 0.0),
        "spill_level": spill,
        "spill_water": np.where(rows["sill_level"] < rows["edge_level"], rows["sill_water"], rows["edge_water"]),
        "surface_share": np.divide(1.0, capacity, out=np.zeros_like(capacity), where=capacity > 0.0),
        "usable_water": usable,
        "free_pores": rows["full_water"] - rows["field_water"],
        "stress_slope": 1.0 / ((1.0 - rows["depletion_fraction"]) * usable),
        "open_share": 1.0 - rows["blocked_fraction"],
        "in_plane_tested": 3600.0 * rows["in_plane_flow"] / rows["flow_length_m"],
        "tested_slope": 1.0 / (length_mm * rows["in_plane_gradient"]),
        "least_level": np.maximum(rows["fall"] * length_mm, rows["board_height"]),
        "in_plane_linear": np.where(rows["in_plane_exponent"] == 1.0, 1.0, 0.0),
    }


def _standing(rows: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Return the decks of columns and the free water that stands at levels of theirs, each shape ``(design,)``.

    Neighbours of a sweep often differ in cups or roots alone: a deck is worked out once for a run of them.
    """
    names = "fall", "flow_length_m", "board_height", "board_capacity", "medium_depth", "field_water", "full_water"
    asked = np.array([rows[name] for name in (*names, "sill_level", "edge_level")])
    begins = np.append(True, (asked[:, 1:] != asked[:, :-1]).any(axis=0))
    fall, length, height, capacity, depth, field, full, sill, edge = asked[:, begins]
    deck = free_water.decks(
        fall=fall, flow_length_m=length, board_height=height, board_water=capacity, medium_depth=depth,
        medium_water=full - field,
    )  # fmt: skip
    water = free_water.volumes(np.array([height, height + depth, sill, edge]), deck)
    lengths = np.diff(np.append(np.flatnonzero(begins), begins.size))
    found = np.repeat(np.array([*deck, *water]), lengths, axis=1)
    levels = "board_top_water", "medium_top_water", "sill_water", "edge_water"
    return dict(zip((*free_water.Deck._fields, *levels), found, strict=True))


def pack(rows: Mapping[str, np.ndarray], names: Sequence[str]) -> np.ndarray:
    """Return the named rows as one array, shape ``(name, design)``: what the loops read."""
    return np.array([rows[name] for name in names], dtype=float)


def deck_of(rows: Mapping[str, np.ndarray]) -> free_water.Deck:
    """Return the decks of columns as arrays along ``design``."""
    return free_water.Deck._make(rows[name] for name in free_water.Deck._fields)


def _gathered(columns: Sequence[Mapping[str, Any]] | Mapping[str, Any]) -> dict[str, np.ndarray]:
    """Return what was given by name, each an array along ``design``."""
    many = [columns] if isinstance(columns, Mapping) else list(columns)
    if not many:
        raise RunoffError("columns: no design is given; give at least one")
    missing = sorted({name for column in many for name in DESCRIBED if name not in column})
    if missing:
        raise RunoffError(f"columns: not given: {', '.join(missing)}; see runoff.balance.packing.DESCRIBED")
    if isinstance(columns, Mapping):
        rows = [np.atleast_1d(np.asarray(columns[name], dtype=float)) for name in DESCRIBED]
        return dict(zip(DESCRIBED, np.broadcast_arrays(*rows), strict=True))
    return {name: np.array([column[name] for column in many], dtype=float) for name in DESCRIBED}


def _refuse_impossible(rows: Mapping[str, np.ndarray]) -> None:
    """Refuse numbers that the balance cannot work with; the roof names its layers before it comes to this."""
    given = {name: row[:1] if row.strides == (0,) else row for name, row in rows.items()}  # what all share once
    usable = given["field_water"] - given["wilting_water"]
    pores = given["full_water"] - given["field_water"]
    exponent = given["in_plane_exponent"]
    for wrong, name, need in (
        *((~((given[name] >= 0.0) & (given[name] <= 1.0)), name, "from 0 to 1") for name in SHARES),
        (~(given["depletion_fraction"] < 1.0), "depletion_fraction", "below 1 (0.3 to 0.6 is common)"),
        (~(usable > 0.0), "field_water", "above wilting_water"),
        (~(pores > 0.0), "full_water", "above field_water"),
        (~(given["flow_length_m"] > 0.0), "flow_length_m", "above 0"),
        (~(given["in_plane_gradient"] > 0.0), "in_plane_gradient", "above 0 (0.02 where the test does not say)"),
        (~((exponent == 0.5) | (exponent == 1.0)), "in_plane_exponent", "0.5 (boards) or 1 (mats)"),
    ):
        if wrong.any():
            first = int(np.flatnonzero(wrong)[0])
            raise RunoffError(f"column {first + 1}: {name} is {rows[name][first]:g}; it must be {need}")
