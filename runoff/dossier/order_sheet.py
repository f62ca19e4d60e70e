"""The order sheet: what to buy, how it arrives and gets up, day by day, as a page to print or a table to send."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pandas as pd
import xarray as xr

from runoff.dossier import provenance
from runoff.dossier.asked_for import PAPERS, UNITS, keep_on_one_line, refuse_unknown_paper, refuse_unknown_units
from runoff.dossier.marked_numbers import Numbers, flatten
from runoff.dossier.order_texts import CAUTIONS, DAYS, RULE_WORDS, Day
from runoff.dossier.page import css_text, page_environment, shortened
from runoff.dossier.printing import pdf_bytes
from runoff.dossier.sheets import Remade
from runoff.errors import RunoffError, nearest
from runoff.given_kinds import refuse_other_kinds
from runoff.roof.order_packing import OrderLine
from runoff.roof.ordering import HANDLING_CAUTION, OrderList
from runoff.saying.numbers import number, value_words
from runoff.saying.scales import converted, kind_of, scale_of, typeset
from runoff.units import convert
from runoff.writing import write_csv, write_whole

if TYPE_CHECKING:
    from runoff.roof import Roof

FORMAT = "runoff order sheet 1"
ENDINGS = (".html", ".pdf", ".csv")
_KINDS = {"m3": "bulk volume", "m2": "area", "pieces": "whole"}
_MARK = "Order and delivery sheet"
_INVENTED_MARK = "INVENTED SAMPLE: for demonstration only"


@dataclasses.dataclass(frozen=True, kw_only=True)
class SheetWords:
    """What is printed as given on an order sheet; all of it may be left out and filled in by hand.

    Parameters
    ----------
    ordered_by, address, date
        Who orders, where it is delivered to, and when the sheet was made; no date is put in by itself.
    paper
        ``"a4"`` or ``"letter"``.
    units
        ``"si"`` or ``"us"``: which of the two stands first.
    invented
        Marks the sheet as an invented sample.
    """

    ordered_by: str = ""
    address: str = ""
    date: str = ""
    paper: str = "a4"
    units: str = "si"
    invented: bool = False

    def __post_init__(self) -> None:
        """Refuse a paper and units that are not known."""
        keep_on_one_line(self)
        refuse_unknown_paper("order sheet", self.paper)
        refuse_unknown_units("order sheet", self.units)


def write_order_sheet(order: OrderList, path: str | Path, **words: Any) -> Path:
    """Write an order as a sheet to print or a table to send.

    Parameters
    ----------
    order
        What `runoff.order_list` returned.
    path
        ``.html`` for the sheet, ``.pdf`` for the tagged PDF of the same page (extra ``pdf``), ``.csv`` for a table that any
        spreadsheet opens: no cell of it can be taken for a formula.
    **words
        ``ordered_by``, ``address``, ``date``, ``paper``, ``units`` (which stands first), ``invented``: see `SheetWords`.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    RunoffError
        When the path cannot be written, a word is not known, or the PDF writer is missing.

    Notes
    -----
    Prices are blanks. The file is self-contained, replaced as a whole or not at all, and the same order gives the same bytes.
    """
    refuse_other_kinds("write_order_sheet", order=order, path=path)
    path = Path(path)
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise RunoffError(f'order sheet: the file must end in {", ".join(ENDINGS)} (given "{path.name}")')
    known = [field.name for field in dataclasses.fields(SheetWords)]
    for name in words:
        if name not in known:
            raise RunoffError(f'order sheet: "{name}" is not known{nearest(name, known)}; known: {", ".join(known)}')
    if ending == ".csv":
        return write_csv(path, order_table(order))
    page = _render_order(order, SheetWords(**words))
    return write_whole(path, pdf_bytes(page) if ending == ".pdf" else page.encode("utf-8"))


def order_table(order: OrderList) -> pd.DataFrame:
    """Return an order as a table, one row per material, both unit systems and blanks for prices.

    Parameters
    ----------
    order
        What `runoff.order_list` returned.
    """
    rows = []
    for line in order.lines:
        us_unit = scale_of(_KINDS[line.unit]).unit("us") or line.unit

        def us(amount: float, unit: str = line.unit, target: str = us_unit) -> float:
            return _digits(amount if unit == target else float(convert(amount, unit, target)))

        rows.append(
            {
                "day": list(DAYS).index(line.stage) + 1,
                "layer": line.layer,
                "item": line.item,
                "on the roof": _digits(line.in_place),
                "to order": _digits(line.ordered),
                "unit": line.unit,
                "on the roof, US": us(line.in_place),
                "to order, US": us(line.ordered),
                "unit, US": us_unit,
                "packs": line.packs,
                "pack": line.pack,
                "in a pack": _digits(line.pack_amount),
                "in a pack, US": us(line.pack_amount),
                "pack as delivered, kg": _digits(line.pack_kg),
                "pack after rain, kg": _digits(line.pack_wet_kg),
                "as delivered, kg": _digits(line.mass_kg),
                "after rain, kg": _digits(line.wet_kg),
                "as delivered, lb": _digits(float(convert(line.mass_kg, "kg", "lb"))),
                "after rain, lb": _digits(float(convert(line.wet_kg, "kg", "lb"))),
                "staging area, m2": _digits(line.footprint_m2),
                "lifts": line.lifts,
                "heaviest lift, kg": _digits(line.lift_kg),
                "trips by hand": line.trips,
                "allowances": line.how,
                "unit price": "",
                "price": "",
            }
        )
    return pd.DataFrame(rows)


def _digits(value: float) -> float:
    """Return a number with the four digits an estimate can bear."""
    return float(f"{value:.4g}")


def remake(record: Mapping[str, Any]) -> Remade:
    """Make a sheet again from the roof, the allowances and the words it carries."""
    order, words = order_of_record(record)
    figures = order_figures(order)
    return Remade(
        html=_render_order(order, words, record["versions"]),
        record=_order_record(order, words, figures, record["versions"]),
        figures=flatten(figures),
    )


def _render_order(order: OrderList, words: SheetWords, versions: Mapping[str, str] | None = None) -> str:
    """Return the sheet as one self-contained HTML text, by default with the versions of now."""
    environment = page_environment()
    figures = order_figures(order)
    numbers = Numbers(figures, words.units)
    record = _order_record(order, words, figures, versions)
    name = order.roof.name or "Planted roof"
    style = environment.get_template("dossier.css.j2").render(
        paper_size=PAPERS[words.paper],
        tall_figure="128mm",
        page_title=css_text(shortened(name, 70)),
        page_mark=css_text(_INVENTED_MARK if words.invented else _MARK),
        page_provenance=css_text(f"runoff {record['versions']['runoff']} · roof {record['checksums']['roof'][:12]}"),
        invented=words.invented,
    )
    return environment.get_template("order_sheet.html.j2").render(
        style=environment.filters["safe"](style),
        n=numbers,
        roof=order.roof,
        name=name,
        words=words,
        lines=[Row.of(at, line, numbers.order) for at, line in enumerate(order.lines, start=1)],
        days=days_of(order),
        rules=_rules(order, numbers.order),
        cautions=CAUTIONS,
        handling=HANDLING_CAUTION,
        heaviest=order.heaviest,
        versions=record["versions"],
        provenance=record,
    )


class Row(NamedTuple):
    """A line of the order as the page needs it: the line, the beginning of its figures' names, and the kind of its amounts."""

    line: OrderLine
    key: str
    kind: str
    title: str
    systems: tuple[str, ...] = UNITS

    @classmethod
    def of(cls, at: int, line: OrderLine, systems: tuple[str, ...] = UNITS) -> Row:
        """Return the row of a line.

        Parameters
        ----------
        at
            Its place in the list, from 1.
        line
            The line.
        systems
            ``"si"`` and ``"us"`` in the order in which they are printed.

        Returns
        -------
        Row
            With the beginning of its figures' names.
        """
        return cls(line, f"line_{at}", _KINDS[line.unit], f"{line.item[0].upper()}{line.item[1:]}", systems)

    @property
    def how(self) -> str:
        """How the amount to order follows from that on the roof, in both unit systems where they differ."""
        first, second = (typeset(self.line.how_in(system)) for system in self.systems)
        return first if first == second else f"{first} ({second})"


class DayRows(NamedTuple):
    """A day of the delivery with the materials that go up on it."""

    number: int
    day: Day
    rows: list[Row]


def order_figures(order: OrderList) -> xr.Dataset:
    """Return every number of a sheet in its own unit."""
    found: dict[str, tuple[float, str]] = {
        "area_m2": (order.roof.area_m2, "m2"),
        "planted_area_m2": (order.roof.area_m2 * order.roof.planted_fraction, "m2"),
        "mass_kg": (order.mass_kg, "kg"),
        "wet_kg": (order.wet_kg, "kg"),
        "footprint_m2": (order.footprint_m2, "m2"),
        "lifts": (order.lifts, "1"),
        "trips": (order.trips, "1"),
        "people": (order.rules.people, "1"),
        "trips_each": (order.trips / order.rules.people, "1"),
        "carry_kg": (order.rules.carry_kg, "kg"),
        "heaviest_lift_kg": (max(line.lift_kg for line in order.lines), "kg"),
        "heaviest_wet_kg": (order.heaviest.pack_wet_kg, "kg"),
        "staged_kg_per_m2": (order.staged_kg_per_m2, "kg/m2"),
        "finished_kg_per_m2": (order.finished_kg_per_m2, "kg/m2"),
        "spread_m2": (order.heaviest.pack_wet_kg / order.finished_kg_per_m2, "m2"),
        "watering_in_m3": (order.watering_in_m3, "m3"),
    }
    for at, line in enumerate(order.lines, start=1):
        unit = "1" if line.unit == "pieces" else line.unit
        found |= {
            f"line_{at}_in_place": (line.in_place, unit),
            f"line_{at}_ordered": (line.ordered, unit),
            f"line_{at}_pack_amount": (line.pack_amount, unit),
            f"line_{at}_packs": (line.packs, "1"),
            f"line_{at}_pallets": (line.pallets, "1"),
            f"line_{at}_pack_kg": (line.pack_kg, "kg"),
            f"line_{at}_pack_wet_kg": (line.pack_wet_kg, "kg"),
            f"line_{at}_mass_kg": (line.mass_kg, "kg"),
            f"line_{at}_wet_kg": (line.wet_kg, "kg"),
            f"line_{at}_footprint_m2": (line.footprint_m2, "m2"),
            f"line_{at}_lifts": (line.lifts, "1"),
            f"line_{at}_lift_kg": (line.lift_kg, "kg"),
            f"line_{at}_trips": (line.trips, "1"),
        }
    return xr.Dataset({name: ((), float(value), {"units": unit}) for name, (value, unit) in found.items()})


def _order_record(
    order: OrderList, words: SheetWords, figures: xr.Dataset, versions: Mapping[str, str] | None = None
) -> dict[str, Any]:
    """Return all that is embedded in the sheet so that it can be made again and checked."""
    roof = order.roof.to_toml()
    return {
        "format": FORMAT,
        "versions": dict(versions or {name: provenance.versions()[name] for name in ("runoff", "python", "jinja2")}),
        "roof": roof,
        "rules": json.loads(order.rules.model_dump_json()),
        "words": dataclasses.asdict(words),
        "checksums": {"roof": provenance.checksum(roof)},
        "units": {str(name): str(array.attrs["units"]) for name, array in figures.data_vars.items()},
        "figures": {key: provenance.json_number(value) for key, value in flatten(figures).items()},
    }


def order_of_record(record: Mapping[str, Any]) -> tuple[OrderList, SheetWords]:
    """Return the order and the words that a sheet carries."""
    from runoff.roof import order_list
    from runoff.roof.order_rules import OrderRules

    roof: Roof = provenance.roof_of_record(record["roof"])
    return order_list(roof, OrderRules(**record["rules"])), SheetWords(**record["words"])


def days_of(order: OrderList) -> list[DayRows]:
    """Return the days that this roof has, numbered."""
    rows = [Row.of(at, line) for at, line in enumerate(order.lines, start=1)]
    stages = [stage for stage in DAYS if any(row.line.stage == stage for row in rows)]
    return [
        DayRows(number, DAYS[stage], [row for row in rows if row.line.stage == stage])
        for number, stage in enumerate(stages, start=1)
    ]


def _rules(order: OrderList, systems: tuple[str, ...]) -> list[tuple[str, str, str]]:
    """Return each allowance that this roof needs in words, in both unit systems in their order."""
    first, second = systems
    endings = {"_kg_per_m3": "kg/m3", "_m3": "m3", "_m2": "m2", "_kg": "kg", "_mm": "mm", "_m": "m"}
    shares = ("settlement", "moisture")
    found = []
    for name, value in order.rules.fields().items():
        if not _is_felt(name, order):
            continue
        ending = next((one for one in endings if name.endswith(one) and not name.endswith("_per_m2")), "")
        words = RULE_WORDS.get(name, name.removesuffix(ending).replace("_", " "))
        if value is None:
            found.append((words, "one pack", "one pack"))
        elif name in shares or name.endswith("_waste"):
            found.append((words, f"{100 * value:g} %", f"{100 * value:g} %"))
        elif ending:
            found.append(
                (words, _said(float(value), endings[ending], first), _said(float(value), endings[ending], second))
            )
        elif name == "plugs_per_m2":
            by_area = {"si": f"{value:g} a m²", "us": f"{value / convert(1.0, 'm2', 'ft2'):.2g} a ft²"}
            found.append(("plugs by area", by_area[first], by_area[second]))
        else:
            found.append((words, value_words(value), value_words(value)))
    return found


def _is_felt(name: str, order: OrderList) -> bool:
    """Tell whether an allowance concerns a material of this order."""
    words = {line.layer for line in order.lines} | {line.item.partition(":")[0] for line in order.lines}
    of = {
        "slab": "insulation",
        "plug": "planting",
        "plugs": "planting",
        "compost": "mulch",
        "wood": "mulch",
        "bags": "mulch",
    }
    first = name.partition("_")[0]
    word = of.get(first, first)
    layers = ("fleece", "board", "mat", "membrane", "insulation", "mulch", "planting", "gravel")
    return word in words if word in layers else True


def _said(value: float, unit: str, system: str) -> str:
    """Return an allowance with three digits; volumes are those of loose material."""
    kind = "bulk volume" if unit == "m3" else "layer depth" if unit == "mm" else kind_of(unit)
    return f"{number(float(converted(value, unit, kind, system)), 3)} {typeset(scale_of(kind).unit(system))}"
