"""What to order for a roof, how it is delivered and how it is lifted: volumes, sacks, sheets, plugs, lifts."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from runoff.errors import RoofError, raise_faults
from runoff.given_kinds import refuse_other_kinds
from runoff.roof.loads import drained_mass_kg_per_m2
from runoff.roof.order_packing import OrderLine, order_lines
from runoff.roof.order_rules import OrderRules
from runoff.saying import titles
from runoff.saying.numbers import fixed, number
from runoff.saying.scales import converted, say, scale_of, shown, unit_shown
from runoff.saying.tables import Table
from runoff.units import convert

if TYPE_CHECKING:
    import pandas as pd

    from runoff.roof.description import Roof

HANDLING_CAUTION = (
    "A full sack loads the small area under it far more than the finished roof does. Where material may be set down, and "
    "how much at a time, is for a licensed structural engineer; lifting and work near the edge follow local safety law. "
    "Masses are estimates from dry density and moisture: weigh the first sack."
)
_COLUMNS = ("layer", "item", "quantity", "unit", "us_quantity", "us_unit", "basis")
# what is ordered in units of a table, and as what it is shown; all else is counted in pieces
_KINDS = {"m2": "area", "m3": "bulk volume", "kg": "mass", "kg/m2": "load"}


@dataclasses.dataclass(frozen=True, kw_only=True)
class OrderList:
    """What to order for a roof.

    Parameters
    ----------
    roof, rules
        What is built, and the allowances.
    lines
        One per material, from the deck upwards.
    """

    roof: Roof
    rules: OrderRules
    lines: tuple[OrderLine, ...]

    @property
    def mass_kg(self) -> float:
        """Mass of everything as delivered, kg."""
        return sum(line.mass_kg for line in self.lines)

    @property
    def wet_kg(self) -> float:
        """Mass of everything after rain, kg."""
        return sum(line.wet_kg for line in self.lines)

    @property
    def footprint_m2(self) -> float:
        """Ground that everything needs on the pavement, side by side, m2."""
        return sum(line.footprint_m2 for line in self.lines)

    @property
    def lifts(self) -> int:
        """Ways of the hoist."""
        return sum(line.lifts for line in self.lines)

    @property
    def trips(self) -> int:
        """Ways up of one person who carries all of it."""
        return sum(line.trips for line in self.lines)

    @property
    def heaviest(self) -> OrderLine:
        """The line with the heaviest pack after rain."""
        return max(self.lines, key=lambda line: line.pack_wet_kg)

    @property
    def staged_kg_per_m2(self) -> float:
        """Load under the heaviest pack set down full after rain, over its footprint, kg/m2."""
        line = self.heaviest
        return line.packs_per_pallet * line.pack_wet_kg / (line.footprint_m2 / line.pallets)

    @property
    def finished_kg_per_m2(self) -> float:
        """Mass of the finished build-up with the water it holds after drainage, kg/m2."""
        return drained_mass_kg_per_m2(self.roof)

    @property
    def watering_in_m3(self) -> float:
        """Water that brings the planted medium from its moisture as delivered to field capacity, m3."""
        medium = self.roof.build_up.medium
        wanted = medium.drained_water_mm - self.rules.moisture * medium.dry_mass_kg_per_m2
        return max(0.0, wanted) * self.roof.area_m2 * self.roof.planted_fraction / 1000.0

    def shown(self, units: str = "si") -> Table:
        """Return the list as a table with the cautions below.

        Parameters
        ----------
        units
            ``"si"`` or ``"us"``.
        """
        rows = [
            (
                line.item,
                _amount_words(line.in_place, line.unit, units),
                _amount_words(line.ordered, line.unit, units),
                pack_words(line, units),
                say(line.mass_kg, "kg", system=units),
                say(line.wet_kg, "kg", system=units),
                str(line.lifts),
                str(line.trips),
            )
            for line in self.lines
        ]
        total = ("total", "", "", "", say(self.mass_kg, "kg", system=units), say(self.wet_kg, "kg", system=units), str(self.lifts), str(self.trips))  # fmt: skip
        head = ("", "on the roof", "to order", "packs", "as delivered", "after rain", "lifts", "trips")
        return Table(
            head=head, rows=[*rows, total], totals=1, align="<>><>>>>", title=f"To order for {self.roof.name or 'the roof'}",
            notes=[*(f"{line.item[0].upper()}{line.item[1:]}: {line.how_in(units)}." for line in self.lines), *self.sentences(units)],
        )  # fmt: skip

    def sentences(self, units: str = "si") -> tuple[str, ...]:
        """Return what the masses mean on pavement, hoist and deck, and the caution that belongs beside them."""
        line, rules = self.heaviest, self.rules
        spread = line.pack_wet_kg / self.finished_kg_per_m2
        hoist = say(max(one.lift_kg for one in self.lines), "kg", system=units)
        return (
            f"On the pavement everything side by side takes {say(self.footprint_m2, 'm2', system=units)}. The heaviest lift is {hoist} "
            "as delivered, without slings and pallet.",
            f"Carried by hand at {say(rules.carry_kg, 'kg', system=units)} a time it is {self.trips} trips up, "
            f"{fixed(self.trips / rules.people, 0)} for each of {rules.people} people.",
            f"A full {_one(line.pack)} of {line.item} after rain weighs {say(line.pack_wet_kg, 'kg', system=units)}: "
            f"{_load(self.staged_kg_per_m2, units)} over its footprint, where the finished build-up weighs "
            f"{_load(self.finished_kg_per_m2, units)} drained. Spread out, it takes "
            f"{say(spread, 'm2', system=units)} to weigh no more than that.",
            HANDLING_CAUTION,
        )

    @property
    def quantities(self) -> pd.DataFrame:
        """Every quantity as a table: see `bill_of_quantities`."""
        return _quantities(self)

    def __str__(self) -> str:
        """Return the list as lines."""
        return str(self.shown())

    def _repr_html_(self) -> str:
        return self.shown().html()


def order_list(roof: Roof, rules: OrderRules | None = None) -> OrderList:
    """Return what to order for a roof, how it is delivered and how it is lifted.

    Parameters
    ----------
    roof
        The roof. Medium, mulch, plants, fleece, board and mat cover the planted part, insulation and membrane the whole
        roof; upstands and edges are not counted.
    rules
        Allowances, packing and lifting; default `OrderRules`.

    Raises
    ------
    RoofError
        When one pack weighs more than the hoist may lift.
    """
    refuse_other_kinds("order_list", roof=roof)
    rules = rules or OrderRules()
    found = OrderList(roof=roof, rules=rules, lines=order_lines(roof, rules))
    limit = rules.lift_limit_kg
    faults = [
        f"a {_one(line.pack)} of {line.item} weighs {line.pack_kg:.0f} kg as delivered, more than lift_limit_kg ({limit:g}); order "
        "smaller packs or a stronger hoist"
        for line in found.lines
        if limit is not None and line.pack_kg > limit * (1.0 + 1e-9)
    ]
    raise_faults("order", faults, RoofError)
    return found


def bill_of_quantities(roof: Roof, rules: OrderRules | None = None) -> pd.DataFrame:
    """Return what to order for a roof, and how it arrives, as one long table.

    Parameters
    ----------
    roof, rules
        As in `order_list`.

    Returns
    -------
    pandas.DataFrame
        One row per quantity: ``layer``, ``item``, ``quantity`` and ``unit``, the same in US units, and ``basis``: how
        it was worked out. ``attrs["caution"]`` belongs beside it.

    Raises
    ------
    RoofError
        When one pack weighs more than the hoist may lift.

    Examples
    --------
    >>> import runoff
    >>> bill = bill_of_quantities(runoff.open_sample_roof("cups"))
    >>> float(bill.set_index("item").quantity["plugs, trays"])
    30.0
    """
    refuse_other_kinds("bill_of_quantities", roof=roof)
    return order_list(roof, rules).quantities


def _amount_words(amount: float, unit: str, units: str) -> str:
    """Return an amount with its unit as a person reads it."""
    if unit == "pieces":
        return f"{fixed(amount, 0)} pieces"
    return say(amount, unit, _KINDS[unit], units)


def pack_words(line: OrderLine, units: str) -> str:
    """Return packs and what each holds: ``9 sacks of 1.13 m3``."""
    if line.unit == "pieces":
        holds = f"{line.pack_amount:g}"
    elif line.unit == "m3" and line.pack_amount < 0.2:
        holds = say(line.pack_amount, "m3", "bulk volume", units) if units == "us" else f"{1000 * line.pack_amount:g} L"
    else:
        holds = str(shown(line.pack_amount, line.unit, _KINDS[line.unit], units))
    words = _one(line.pack) if line.packs == 1 else line.pack
    return f"{line.packs:,} {words} of {holds}"


def _load(kg_per_m2: float, units: str) -> str:
    return f"{number(float(converted(kg_per_m2, 'kg/m2', system=units)), 3)} {unit_shown('kg/m2', system=units)}"


def _one(packs: str) -> str:
    return packs.removesuffix("s")


def _quantities(order: OrderList) -> pd.DataFrame:
    import pandas as pd

    rows: list[dict[str, Any]] = []

    def add(layer: str, item: str, quantity: float, unit: str, basis: str) -> None:
        us_unit = scale_of(_KINDS[unit]).unit("us") if unit in _KINDS else unit
        us_quantity = float(convert(quantity, unit, us_unit)) if us_unit != unit else float(quantity)
        rows.append(dict(zip(_COLUMNS, (layer, item, float(quantity), unit, us_quantity, us_unit, basis), strict=True)))

    roof = order.roof
    planted = f"{roof.area_m2:g} m2 x {roof.planted_fraction:g}"
    add("roof", "planted area", roof.area_m2 * roof.planted_fraction, "m2", planted)
    for line in order.lines:
        holds = f"{line.pack_amount:.4g} {line.unit} each"
        add(line.layer, f"{line.item}, in place", line.in_place, line.unit, "on the roof")
        add(line.layer, f"{line.item}, ordered", line.ordered, line.unit, line.how)
        add(line.layer, f"{line.item}, {line.pack}", line.packs, line.pack, holds)
        if line.packs_per_pallet > 1:
            add(
                line.layer,
                f"{line.item}, pallets",
                line.pallets,
                "pallets",
                f"{line.packs_per_pallet} {line.pack} each",
            )
        add(line.layer, f"{line.item}, one {_one(line.pack)} as delivered", line.pack_kg, "kg", "full")
        add(
            line.layer,
            f"{line.item}, one {_one(line.pack)} after rain",
            line.pack_wet_kg,
            "kg",
            "at field capacity; keep covered",
        )
        add(line.layer, f"{line.item}, mass as delivered", line.mass_kg, "kg", "of what is ordered")
        add(line.layer, f"{line.item}, mass after rain", line.wet_kg, "kg", "of what is ordered")
        add(line.layer, f"{line.item}, footprint", line.footprint_m2, "m2", "side by side on the pavement")
        add(line.layer, f"{line.item}, lifts", line.lifts, "lifts", "of the hoist")
        add(
            line.layer,
            f"{line.item}, hoist mass per lift",
            line.lift_kg,
            "kg",
            "as delivered, without slings and pallet",
        )
        add(line.layer, f"{line.item}, trips by hand", line.trips, "trips", f"{order.rules.carry_kg:g} kg a time")
    add(
        "all",
        "load under the heaviest pack set down",
        order.staged_kg_per_m2,
        "kg/m2",
        "after rain, over its footprint",
    )
    table = pd.DataFrame(rows)
    table.attrs.update(title=titles.ORDER_LIST, caution=HANDLING_CAUTION)
    return table
