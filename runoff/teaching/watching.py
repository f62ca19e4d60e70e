"""A roof watched through one year: what a picture of a day needs, and what is read beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from runoff.findings.spells import WET_BANDS
from runoff.saying.scales import say
from runoff.teaching.scenes import OUTLETS, Setting, roof_of
from runoff.teaching.shapes import Shape, shape_of
from runoff.teaching.years import clogging_year, damage_along_the_fall

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof import Roof
    from runoff.teaching.cuts import Day

_STORES = ("surface_water", "medium_water", "cup_water", "mat_water", "board_water", "pond_water", "snow_water")
UNHARMED = "unharmed"


class Fate(NamedTuple):
    """What happens to the outlets: ``open``, ``half clogged`` or ``clogged``, from which step of the year, until which."""

    outlet: str = "open"
    clogs: int = 0
    clears: int | None = None

    def blocked(self, step: int) -> float:
        """Return the share of the outlets that is lost on a day."""
        lost = step >= self.clogs and (self.clears is None or self.clears <= self.clogs or step < self.clears)
        return OUTLETS[self.outlet] if lost else 0.0


class Watched:
    """One roof through one year under a fate of its outlets.

    Parameters
    ----------
    setting
        How it is built; its outlet is left to `fate`.
    fate
        What happens to the outlets.
    year
        One year of a daily record.
    base
        The roof the setting changes; default the sample roof.
    """

    def __init__(self, setting: Setting, fate: Fate, year: xr.Dataset, *, base: Roof | None = None) -> None:
        self.setting, self.fate = setting, fate
        self.roof = roof_of(setting, base).replace({"roof.blocked_fraction": 0.0})
        self.shape: Shape = shape_of(self.roof)
        run = clogging_year(self.roof, year, blocked=OUTLETS[fate.outlet], clogs=fate.clogs, clears=fate.clears)
        self.run = run
        self.hurt: np.ndarray = damage_along_the_fall(run).transpose("time", "place").to_numpy()
        self._values = {
            name: np.asarray(run.variables[name].values, dtype=float)
            for name in (
                "rain", "overflow", "spilled", "held_water", "cup_water", "water_depth_on_deck_mm", "air_filled_porosity", "waterlogged_share",
                "waterlogged", "dry",
            )
        }  # fmt: skip
        water = np.sum([run.variables[name].values for name in _STORES if name in run], axis=0)
        self.weight = water + sum(layer.dry_mass_kg_per_m2 for layer in self.roof.build_up.layers)

    def value(self, name: str, step: int) -> float:
        """Return a number of the run on a day."""
        return float(self._values[name][step])

    def day(self, step: int) -> Day:
        """Return what is drawn of a day."""
        from runoff.teaching.cuts import Day

        return Day(
            level=self.value("water_depth_on_deck_mm", step),
            held=self.value("held_water", step),
            cups=self.value("cup_water", step),
            hurt=self.hurt[step].tolist(),
            blocked=self.fate.blocked(step),
            left=self.value("overflow", step),
            over_edge=self.value("spilled", step),
            rain=self.value("rain", step),
            cups_up=self.setting.board == "cups up",
        )

    def kept_percent(self, step: int) -> float | None:
        """Return the share of the rain so far that has not left, per cent; None before the first rain."""
        rain = float(self._values["rain"][: step + 1].sum())
        return 100.0 * (1.0 - float(self._values["overflow"][: step + 1].sum()) / rain) if rain > 0.0 else None

    def days_without_air(self, step: int) -> int:
        """Return the waterlogged days so far."""
        return int(self._values["waterlogged"][: step + 1].sum())

    def first_without_air(self) -> int | None:
        """Return the first waterlogged step of the year, or None."""
        steps = np.flatnonzero(self._values["waterlogged"])
        return int(steps[0]) if steps.size else None

    def damage(self, step: int) -> str:
        """Return the damage along the fall in words: low end, middle, high end."""
        thirds = np.array_split(self.hurt[step], 3)
        words = [_band(int(third.max())) for third in thirds]
        if len(set(words)) == 1:
            return f"all plants {words[0]}" if words[0] == UNHARMED else f"all plants: {words[0]}"
        return "; ".join(
            f"{place}: {word}" for place, word in zip(("low end", "middle", "high end"), words, strict=True)
        )

    def air_words(self, step: int) -> str:
        """Return which roots lack air on a day, in words."""
        share = 100.0 * self.value("waterlogged_share", step)
        if share >= 99.5:
            return "no air at any root"
        if share > 0.0:
            return f"no air at the roots of the lowest {max(1, round(share))} %"
        return "dry" if self.value("dry", step) else "air at all roots"

    def outlet_words(self, step: int) -> str:
        """Return how the outlet stands on a day, in words."""
        return {0.0: "outlet open", 0.5: "outlet half covered by leaves", 1.0: "outlet covered by leaves"}[
            self.fate.blocked(step)
        ]

    def reading(self, step: int, units: str = "si") -> dict[str, str]:
        """Return what is read beside the picture."""
        kept = self.kept_percent(step)
        return {
            "outlet": self.outlet_words(step).removeprefix("outlet "),
            "left today": say(self.value("overflow", step), "mm", "depth", units),
            "level at the outlet": say(self.value("water_depth_on_deck_mm", step), "mm", "level", units),
            "air left": f"{100.0 * self.value('air_filled_porosity', step):.0f} %",
            "roots today": self.air_words(step),
            "plants": self.damage(step),
            "kept so far": "-" if kept is None else f"{kept:.0f} %",
            "days without air so far": str(self.days_without_air(step)),
            "weighs": say(float(self.weight[step]), "kg/m2", "whole load", units),
        }

    def sentence(self, step: int, units: str = "si") -> str:
        """Return picture and reading as one text."""
        return ", ".join(f"{name} {value}" for name, value in self.reading(step, units).items())


def events_of(roofs: list[Watched]) -> list[int]:
    """Return the steps at which something happens to one of several roofs, or it rains hard (20 mm in a day)."""
    found = {len(roofs[0].hurt) - 1, *np.flatnonzero(roofs[0]._values["rain"] >= 20.0).tolist()}
    for roof in roofs:
        if roof.fate.outlet != "open":
            found |= {roof.fate.clogs, *([roof.fate.clears] if roof.fate.clears is not None else [])}
        reached = np.digitize(roof._values["waterlogged_share"], [1e-9, 0.995])
        found |= set((np.flatnonzero(np.diff(reached)) + 1).tolist())
        found |= set((np.flatnonzero(np.any(np.diff(roof.hurt, axis=0) != 0, axis=1)) + 1).tolist())
    return sorted(int(step) for step in found)


def _band(index: int) -> str:
    return WET_BANDS[index].words if index else UNHARMED
