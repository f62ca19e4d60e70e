"""Rows of the annex: credit by rules, where each layer value comes from, what the method was checked against."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from runoff.dossier.as_built import PROPERTIES, RESULTS, rows_of_layers
from runoff.dossier.office_rules import RULES
from runoff.saying.numbers import number
from runoff.saying.properties import PropertyWords, property_words
from runoff.saying.scales import converted, in_order, typeset

if TYPE_CHECKING:
    from runoff.dossier.gathering import Evidence
    from runoff.roof import Roof


class Check(NamedTuple):
    """One line of the table of checks in short."""

    part: str
    against: str
    result: str


CHECKS = (
    Check("Daily water balance", "the equations worked through by hand; rain = evapotranspiration + overflow + change of stores",
          "closes to a millionth of a millimetre or better on every day"),
    Check("Reference evapotranspiration", "worked examples of FAO-56 [1]", "agree to the printed digits"),
    Check("Outlets", "the discharge forms of EN 12056-3 [2]", "agree to the printed digits"),
    Check("Routing of storms", "a general solver of differential equations", "volume within 0.1 %, peak within 1 %"),
    Check("Curve numbers", "the tables of TR-55 [4]", "agree to the printed digits"),
    Check("Retention over months and years", "measured roofs, the figure below", "apart by the error that the ranges carry"),
    Check("Peaks", "5-minute records of two roofs", "median peak 0.7 of the measured one on one roof, 2.6 times it on the other: peaks carry a range"),
)  # fmt: skip

ATTACHMENTS = (
    "Laboratory sheet of the growing medium (water capacity, density, permeability)",
    "Data sheets of drainage board, fleece and mat",
    "Letter of a structural engineer on the loads of section 6",
    "Plan with areas, falls, outlets and emergency overflows",
    "Photographs of the roof as it is",
    "Plant list",
    "Maintenance contract or statement",
)


def credit_rows(evidence: Evidence) -> list[dict[str, Any]]:
    """Return the rules chosen, each with what was put into its formula."""
    rows = []
    for name in evidence.options.rules:
        credit = RULES[name].credit(evidence.roof)
        units = evidence.options.units
        rows.append(
            {
                "name": name,
                "rule": RULES[name],
                "inputs": in_order(credit.inputs, units),
                "remark": in_order(credit.remark, units),
            }
        )
    return rows


#: Where a value comes from: usual for such a layer, given in the roof file, fitted to a measurement of this roof.
USUAL, GIVEN, FITTED = "usual", "given in the roof file", "fitted to a measurement of this roof"
#: Properties whose names in files say little on paper.
_QUANTITIES = {
    "medium.conductivity_mm_per_h": "hydraulic conductivity, saturated",
    "medium.bypass_fraction": "bypass, share that passes it at field capacity",
    "medium.detention_k": "detention constant k (section 9)",
    "fleece.flow_mm_per_h": "water permeability",
    "board.void_storage_mm": "free space beside the cups",
    "board.in_plane_flow_l_per_s_m": "in-plane flow",
    "board.cup_supply_fraction": "share of the demand that cups supply",
    "mat.in_plane_flow_l_per_s_m": "in-plane flow",
    "mat.mat_supply_fraction": "share of the demand that the mat supplies",
    "mulch.holding_fraction": "water holding, share of its depth",
    "mulch.evaporation_saving": "evaporation saving",
    "planting.depletion_fraction": "depletion fraction p before stress",
    "surface.daily_storage_mm": "depression storage of the rest of the roof, a day",
}


#: Of what rests on more than memory or an assumption its source is printed.
_WITH_SOURCE = ("published", "measured")


def origin_of(roof: Roof, name: str) -> str:
    """Return whether an uncertain property is `USUAL`, `GIVEN` or `FITTED`."""
    from runoff.roof import materials

    word, _, field = name.partition(".")
    if name in {one.property for one in roof.fitted}:
        return FITTED
    layer = next((one for one in roof.build_up.layers if one.word == word), None)
    if layer is None:  # a surface that is not planted
        return USUAL
    value = float(getattr(layer, field))
    table = materials()
    named = table[(table["layer"] == word) & (table["material"] == layer.material) & (table["property"] == field)]
    usual = float(named.iloc[0]["typical"]) if len(named) else type(layer).model_fields[field].default
    return USUAL if math.isclose(value, float(usual), rel_tol=1e-6) else GIVEN


def source_rows(roof: Roof, units: str = "si", *, every_source: bool = False) -> list[dict[str, str]]:
    """Return every uncertain property with the value taken, the range drawn and its source, in both unit systems.

    Parameters
    ----------
    roof, units
        As in `write_dossier`.
    every_source
        Names what a value from memory or an assumption rests on too; a dossier prints the source of what rests on more.

    Returns
    -------
    list of dict
        ``words``, ``taken``, ``drawn`` and ``source`` as text, one for each property of `runoff.roof.material_ranges`.
    """
    from runoff.roof import material_ranges, materials

    table = materials()
    rows = []
    for name, (low, taken, high) in material_ranges(roof).items():
        named = property_words(name)
        layer = next((one for one in roof.build_up.layers if one.word == named.part), None)
        origin = origin_of(roof, name)
        source = origin if layer is not None else "usual, from memory"
        if layer is not None and origin != FITTED:
            of_layer = table[(table["layer"] == named.part) & (table["property"] == name.rpartition(".")[2])]
            known = of_layer[of_layer["material"] == layer.material]
            found = (known if len(known) else of_layer[of_layer["material"] == layer.usual_material]).iloc[0]
            source = f"{origin}, {found['status']}"
            if origin == GIVEN:
                source = f"{origin}; range {found['status']}"
            if every_source or found["status"] in _WITH_SOURCE:
                source = f"{source}: {found['source']}"
        title = layer.title if layer is not None else named.part.replace("_", " ").capitalize()
        rows.append(
            {
                "words": f"{title}: {_QUANTITIES.get(name, named.quantity)}",
                "taken": _twice(named, units, taken),
                "drawn": _twice(named, units, low, high),
                "source": source,
            }
        )
    return rows


def _twice(named: PropertyWords, units: str, *values: float) -> str:
    """Return a value, or two as a range, with its unit; the other unit system in brackets.

    Converted numbers below 1 have two digits, so that 1 mm is not 0.0394 in.
    """
    told = []
    for system in ("si", "us") if units == "si" else ("us", "si"):
        numbers = [float(converted(one, named.unit, system=system)) if named.unit else one for one in values]
        shown_values = [number(one, 2 if system == "us" and abs(one) < 1.0 and named.unit else 3) for one in numbers]
        told.append(f"{' to '.join(shown_values)} {typeset(named.unit_in(system))}".strip())
    return told[0] if told[0] == told[1] else f"{told[0]} ({told[1]})"


def built_rows(evidence: Evidence) -> dict[str, Any]:
    """Return the rows of a dossier as built; empty lists for one that is not."""
    if evidence.promised is None:
        return {"built_properties": [], "built_layers": [], "built_results": []}

    def known(table: dict[str, tuple[str, str]]) -> list[dict[str, str]]:
        return [
            {"name": name, "words": words, "kind": kind}
            for name, (words, kind) in table.items()
            if f"promised_{name}" in evidence.figures
            and not (
                math.isnan(float(evidence.figures[f"promised_{name}"])) and math.isnan(float(evidence.figures[name]))
            )
        ]

    return {
        "built_properties": known(PROPERTIES),
        "built_layers": rows_of_layers(evidence.roof, evidence.promised),
        "built_results": known(RESULTS),
    }
