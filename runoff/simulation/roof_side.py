"""The roofs of a run as columns: every number by its name, along ``design``."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.roof.column_values import column_parameters, outlet_laws
from runoff.roof.description import Outlet, Roof

#: Variables by name; of one roof at one place plain arrays, see `runoff.plain_arrays.without_names`.
Fields = dict[str, Any]


@dataclasses.dataclass(frozen=True)
class Columns:
    """Described columns, one per design.

    Parameters
    ----------
    rows
        What `runoff.roof.column_parameters` gives, as arrays of shape ``(design,)``, and what else a run needs of a roof
        (`_OF_THE_ROOF`); read-only where all designs share a number.
    names
        Names of the designs; None for a single roof, whose results have no dimension ``design``.
    described
        One described column per design, outlets included, where the roofs were given one by one; a run in minutes
        needs them.
    """

    rows: dict[str, np.ndarray]
    names: list[str] | None = None
    described: Sequence[dict[str, Any]] = ()
    _worked_out: dict[Any, Any] = dataclasses.field(default_factory=dict, repr=False, compare=False)

    def once(self, key: Any, work_out: Callable[[], Any]) -> Any:
        """Return what follows from these columns alone, worked out once for all passes of a run.

        Parameters
        ----------
        key
            What it is and by which rules.
        work_out
            Works it out.
        """
        if key not in self._worked_out:
            self._worked_out[key] = work_out()
        return self._worked_out[key]

    @property
    def count(self) -> int:
        """Number of designs."""
        return int(self.rows["area_m2"].size)

    @property
    def coords(self) -> dict[str, list[str]]:
        """The labels of several designs."""
        return {} if self.names is None else {"design": self.names}

    def label(self, values: Any) -> Any:
        """Name one number per design: along ``design``; that of a single roof is a plain number."""
        return np.asarray(values)[0] if self.names is None else xr.Variable("design", np.asarray(values))

    def value(self, name: str) -> Any:
        """Return one row by name, as `label` does."""
        return self.label(self.rows[name])

    def draining_by(self, outlets: Sequence[Sequence[Outlet]], blocked: Sequence[float]) -> Columns:
        """Return the same designs with other outlets, for runs in minutes.

        Parameters
        ----------
        outlets
            Those of each design; where they are several times as many, of all designs again and again.
        blocked
            Blocked share of the whole drainage of each.

        Returns
        -------
        Columns
            With what runs in minutes read of the drainage; ``outlet_rate``, for daily runs, is left as it is.
        """
        each = [
            {**self.described[i % self.count], "outlets": outlet_laws(those), "blocked_fraction": share}
            for i, (those, share) in enumerate(zip(outlets, blocked, strict=True))
        ]
        rows = {name: np.tile(row, len(each) // self.count) for name, row in self.rows.items()}
        rows["blocked_fraction"] = np.array(blocked, dtype=float)
        return Columns(rows, [f"design {i + 1}" for i in range(len(each))], each)

    def some(self, designs: Any) -> Columns:
        """Return the columns of some designs, for sums over designs (names and outlets are left behind)."""
        return Columns({name: row[designs] for name, row in self.rows.items()})


#: What a run needs of a roof beside its column: name and where it is found.
_OF_THE_ROOF = {
    "other_daily": lambda roof: roof.other_surface.daily_storage_mm,
    "other_capacity": lambda roof: roof.other_surface.depression_storage_mm,
    "other_gravel_depth": lambda roof: roof.other_surface.depth_mm,
    "other_gravel_pores": lambda roof: roof.other_surface.pore_fraction,
    "run_on_share": lambda roof: roof.run_on_area_m2 / (roof.area_m2 * roof.planted_fraction),
    "run_on_loss": lambda roof: roof.run_on_loss_mm,
    "run_on_to_outlet": lambda roof: 1.0 * (roof.run_on_to == "outlet"),
}


def described(roof: Any) -> dict[str, Any]:
    """Return the column of a roof, or of designs that are read like one roof whose numbers are arrays."""
    return {**column_parameters(roof), **{name: found(roof) for name, found in _OF_THE_ROOF.items()}}


def columns_of(roofs: Sequence[Any], names: list[str] | None = None) -> Columns:
    """Return the columns of roofs given one by one."""
    each = [described(one) for one in roofs]
    rows = {name: np.array([one[name] for one in each], dtype=float) for name in each[0] if name != "outlets"}
    return Columns(rows, names, each)


def columns_read_together(parts: Iterable[tuple[np.ndarray, Any]], count: int) -> Columns:
    """Return the columns of many designs of which those that differ in numbers alone are read together.

    Parameters
    ----------
    parts
        Places of some designs among all, in rising order, and what reads like one roof whose numbers are arrays of that shape.
    count
        Number of designs.
    """
    rows: dict[str, np.ndarray] = {}
    for places, alike in parts:
        for name, values in described(alike).items():
            if name == "outlets":
                continue
            if places.size == count:  # all of them, in their order: what they share is not written out
                rows[name] = np.broadcast_to(np.asarray(values, dtype=float), (count,))
            else:
                rows.setdefault(name, np.empty(count))[places] = values
    return Columns(rows)


def columns_asked_for(roof: Roof | Sequence[Roof] | Mapping[str, Roof], where: str = "simulate") -> Columns:
    """Return the columns of one roof, or of several: a list, or a dict of names.

    Raises
    ------
    RunoffError
        When what is given is no roof.
    """
    if isinstance(roof, Roof):
        return columns_of([roof])
    listed = isinstance(roof, Mapping | Sequence) and not isinstance(roof, str)
    roofs: list[Any] = list(roof.values() if isinstance(roof, Mapping) else roof) if listed else []
    if not roofs or not all(isinstance(one, Roof) for one in roofs):
        raise RunoffError(
            f"{where}: roof must be a runoff.Roof, or a list or dict of them (given {type(roof).__name__})"
        )
    if isinstance(roof, Mapping):
        return columns_of(roofs, [str(name) for name in roof])
    names = [one.name or f"design {i + 1}" for i, one in enumerate(roofs)]
    if len(set(names)) < len(names):
        names = [f"{name} ({i + 1})" for i, name in enumerate(names)]
    return columns_of(roofs, names)
