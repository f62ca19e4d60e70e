"""``runoff order``: what to buy for a roof, how it is delivered and how it is lifted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from runoff.cli import inputs
from runoff.cli.destination import add_out, results_of
from runoff.errors import RoofError, RunoffError, nearest, raise_faults
from runoff.saying.given import read_quantity
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    from runoff.cli.parser import CommandParser
    from runoff.roof import OrderList, OrderRules

#: Ends of allowances that carry a unit, longest first.
_UNITS = {"_kg_per_m3": "kg/m3", "_m3": "m3", "_m2": "m2", "_kg": "kg", "_mm": "mm", "_m": "m"}


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    parser.add_argument(
        "--allow", action="append", default=[], metavar="NAME=VALUE",
        help="an allowance or a pack other than usual, for example settlement=20%%, sack=40ft3, lift_limit=800kg, people=6",
    )  # fmt: skip
    words = parser.add_argument_group("printed as given")
    words.add_argument("--ordered-by", default="", metavar="NAME", help="who orders")
    words.add_argument("--address", default="", metavar="TEXT", help="where it is delivered to")
    words.add_argument("--date", default="", metavar="DATE", help="date on the sheet; left blank unless given")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="page size in print (default: a4)")
    inputs.add_units(parser)
    add_out(parser, (".html", ".pdf", ".csv"), default="")
    parser.say_more("order_rules")


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    from runoff.roof import order_list

    with results_of(options) as results:
        order = order_list(inputs.roof_of(options), _rules(options.allow))
        _report(order, options)
        for name in ("order.html", "order.pdf", "order.csv"):
            # a folder gets the page and the table; the PDF needs what may not be installed
            if results.wants(name) and (results.is_file or not name.endswith(".pdf")):
                with waiting("writing the sheet"):
                    _write(order, results.path(name), options)
        if results.written:
            print(f"\n{results.said()}")
    return 0


def _report(order: OrderList, options: argparse.Namespace) -> None:
    from runoff.dossier.order_sheet import days_of
    from runoff.dossier.order_texts import CAUTIONS
    from runoff.roof.ordering import pack_words

    shown = order.shown(options.units)
    print(f"Roof  {inputs.roof_line(order.roof, options.units, planted=True)}{_invented(options)}\n")
    print(f"{shown.text()}\n")
    for note in shown.notes:
        print(inputs.paragraph(note))
    for one in days_of(order):
        print(f"\nDay {one.number}: {one.day.title}")
        print("\n".join(f"  [ ] {row.title}, {pack_words(row.line, options.units)}" for row in one.rows))
        checks = [*(f"before: {check}" for check in one.day.before), *(f"after: {check}" for check in one.day.after)]
        print(
            "\n".join(inputs.paragraph(f"[ ] {check}").replace("\n", "\n      ") for check in checks).replace(
                "[ ]", "  [ ]"
            )
        )
    print("\nCautions")
    for caution in CAUTIONS:
        print(inputs.paragraph(f"- {caution}"))


def _write(order: OrderList, path: Any, options: argparse.Namespace) -> None:
    from runoff.dossier import write_order_sheet

    write_order_sheet(
        order, path, ordered_by=options.ordered_by, address=options.address, date=options.date, paper=options.paper,
        units=options.units, invented=bool(_invented(options)),
    )  # fmt: skip


def _invented(options: argparse.Namespace) -> str:
    return "" if options.roof else " - INVENTED, for demonstration only"


def _rules(words: list[str]) -> OrderRules:
    """Return the allowances asked for; a name may leave its unit out where the value carries one."""
    from runoff.roof import OrderRules

    fields = OrderRules.model_fields
    given: dict[str, Any] = {}
    faults = []
    for name, text in inputs.pairs(words, "--allow").items():
        field = next((one for one in fields if one == name or any(one == name + end for end in _UNITS)), None)
        if field is None:
            faults.append(f'"{name}" is no allowance{nearest(name, fields)}')
            continue
        try:
            given[field] = _value(field, text, spelled_out=field == name)
        except RunoffError as error:
            faults.append(f"{name} {error}")
    raise_faults("--allow", faults)
    try:
        return OrderRules(**given)
    except RoofError as error:
        raise RoofError(str(error).replace("OrderRules: ", "--allow: ")) from None


def _value(field: str, text: str, *, spelled_out: bool) -> float | int:
    """Return the value of an allowance, in the unit of its name."""
    from runoff.roof import OrderRules

    unit = next((_UNITS[end] for end in _UNITS if field.endswith(end) and not field.endswith("_per_m2")), "1")
    bare = unit if spelled_out or unit == "1" else ""
    value = read_quantity(text, unit, bare=bare)
    default = OrderRules.model_fields[field].default
    return int(value) if isinstance(default, int) and value == int(value) else value
