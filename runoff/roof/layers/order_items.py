"""How a layer is ordered: what the list calls it, how it comes, and which allowances of `OrderRules` apply to it."""

from __future__ import annotations

from typing import NamedTuple


class Loose(NamedTuple):
    """Poured from sacks: a volume with settlement and waste.

    Parameters
    ----------
    what
        Its name in the list.
    waste
        Field of `OrderRules`: the share ordered on top.
    parts
        Names and fields of `OrderRules` of what it is mixed from, by volume; none for a mix that comes ready.
    """

    what: str
    waste: str
    parts: tuple[tuple[str, str], ...] = ()


class Sheets(NamedTuple):
    """Rolls or sheets that overlap.

    Parameters
    ----------
    what
        Its name in the list.
    width, overlap
        Fields of `OrderRules`: width of a sheet and overlap at each joint, m.
    waste
        Field of `OrderRules`: the share ordered on top.
    whole_roof
        Whether it lies under the whole roof and not only under what is planted.
    """

    what: str
    width: str
    overlap: str
    waste: str = "sheet_waste"
    whole_roof: bool = False

    @property
    def length(self) -> str:
        """Field of `OrderRules`: length of a roll or sheet, m; named like its width."""
        return self.width.replace("width", "length")


class Slabs(NamedTuple):
    """Slabs laid side by side under the whole roof.

    Parameters
    ----------
    what
        Its name in the list.
    waste
        Field of `OrderRules`: the share ordered on top.
    """

    what: str
    waste: str


class Plugs(NamedTuple):
    """Young plants in trays, counted by the square metre of `OrderRules`."""

    what: str = "plugs"
    waste: str = "plug_waste"


OrderItem = Loose | Sheets | Slabs | Plugs
