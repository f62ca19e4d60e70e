"""Rows of the annex: credit by rules, where each layer value comes from, what the method was checked against."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from runoff.dossier.as_built import PROPERTIES, RESULTS, rows_of_layers
from runoff.dossier.office_rules import RULES
from runoff.saying.numbers import number
from runoff.saying.properties import PropertyWords, property_words
from runoff.saying.scales import converted, typeset

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
    Check("Retention over months and years", "measured roofs, the figure above", "apart by the error that the ranges carry"),
    Check("Peaks", "5-minute records of two roofs", "one met within a quarter on average, one overstated 2.6 times: peaks carry a range"),
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
        rows.append({"name": name, "rule": RULES[name], "inputs": credit.inputs, "remark": credit.remark})
    return rows


#: Source of a value that neither the applicant nor the table of materials gave.
DEFAULT = "default"


def source_rows(roof: Roof, units: str = "si", *, of_defaults: bool = False) -> list[dict[str, str]]:
    """Return every uncertain property with the value taken, the range drawn and its source, in both unit systems.

    Parameters
    ----------
    roof, units
        As in `write_dossier`.
    of_defaults
        Names the source of the range of a default value too; a dossier says once that they are from memory.
    """
    from runoff.roof import material_ranges, materials

    table = materials()
    rows = []
    for name, (low, taken, high) in material_ranges(roof).items():
        named = property_words(name)
        layer = next((one for one in roof.build_up.layers if one.word == named.part), None)
        field = name.rpartition(".")[2]
        given = getattr(layer, "material", "")
        listed = table[(table["layer"] == named.part) & (table["property"] == field)]
        found = listed[listed["material"] == given]
        usual = listed[listed["material"] == getattr(layer, "usual_material", "")]
        source = DEFAULT
        if of_defaults and not len(found):
            status = (
                "from memory: usual wetting and drying within a day"
                if usual.empty
                else f"{usual.iloc[0]['status']}: {usual.iloc[0]['source']}"
            )
            source = f"{DEFAULT}; range: {status}"
        if len(found):
            source = f"{found.iloc[0]['status']}: {found.iloc[0]['source']}"
            if not math.isclose(float(found.iloc[0]["typical"]), taken, rel_tol=1e-6):
                source = f"given by the applicant; range: {source}"
        title = layer.title if layer is not None else named.part.replace("_", " ").capitalize()
        rows.append(
            {
                "words": f"{title}: {named.quantity}",
                "taken": _twice(named, units, taken),
                "drawn": _twice(named, units, low, high),
                "source": source,
            }
        )
    return rows


def _twice(named: PropertyWords, units: str, *values: float) -> str:
    """Return a value, or two as a range, with its unit; the other unit system in brackets."""
    told = []
    for system in ("si", "us") if units == "si" else ("us", "si"):
        shown_values = [
            number(float(converted(one, named.unit, system=system)) if named.unit else one, 3) for one in values
        ]
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
