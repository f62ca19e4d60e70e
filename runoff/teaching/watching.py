"""A roof watched through one year: what a picture of a day needs, and what is read beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.findings.spells import WET_BANDS
from runoff.findings.whole_roof import so_far
from runoff.saying.dates import MONTHS
from runoff.saying.scales import say
from runoff.simulation import simulate
from runoff.teaching.scenes import OUTLETS, Setting, roof_of
from runoff.teaching.shapes import Shape, shape_of
from runoff.teaching.years import clogging_year, damage_along_the_fall

if TYPE_CHECKING:
    from runoff.roof import Roof
    from runoff.teaching.cuts import Day

_STORES = ("surface_water", "medium_water", "cup_water", "mat_water", "board_water", "pond_water", "snow_water")
_NUMBERS = (
    "rain", "overflow", "spilled", "held_water", "cup_water", "water_depth_on_deck_mm", "air_filled_porosity", "waterlogged_share",
    "waterlogged", "dry",
)  # fmt: skip
_FOR_DAMAGE = {"waterlogged_share", "tmean"}
#: What is too long to stand below a picture; the reading beside it has the whole words.
_SHORTER = {
    "low end": "low",
    "middle": "mid",
    "high end": "high",
    "losses likely in sensitive species": "losses likely",
    "30 to 76 % survived, by species (pot test)": "30 to 76 % survive",
}
#: What a picture shows in words of its own.
_IN_THE_PICTURE = {"outlet", "overflow today", "discharge now", "level at the outlet", "air left"}
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


class Seen:
    """One roof step by step, under a fate of its outlets: what pictures and readings of a year and of a storm share.

    Parameters
    ----------
    setting
        How it is built; its outlet is left to `fate`.
    fate
        What happens to the outlets.
    base
        The roof the setting changes; default the sample roof.
    """

    #: By what rain and runoff of a step (mm) are multiplied before they are drawn.
    _drawn = 1.0
    #: Damage (0-4) at every step and place along the fall, from the low end up.
    hurt: np.ndarray

    def __init__(self, setting: Setting, fate: Fate, base: Roof | None = None) -> None:
        self.setting, self.fate = setting, fate
        self.roof = roof_of(setting, base).replace({"roof.blocked_fraction": 0.0})
        self.shape: Shape = shape_of(self.roof)
        self._dry_mass = sum(layer.dry_mass_kg_per_m2 for layer in self.roof.build_up.layers)

    def _take(self, pieces: Sequence[xr.Dataset]) -> None:
        """Keep the numbers of runs that follow one another."""

        def joined(name: str) -> np.ndarray:
            return np.concatenate([np.asarray(one.variables[name].values, dtype=float) for one in pieces])

        self.stamps: Any = pieces[0].indexes["time"].append([one.indexes["time"] for one in pieces[1:]])
        self._values = {name: joined(name) for name in _NUMBERS}
        water = np.sum([joined(name) for name in _STORES if name in pieces[0]], axis=0)
        self.weight: np.ndarray = self._dry_mass + water
        self._so_far = so_far(self._values["rain"], self._values["overflow"])

    def value(self, name: str, step: int) -> float:
        """Return a number of the run on a day."""
        return float(self._values[name][step])

    def series(self, name: str) -> np.ndarray:
        """Return a number of the run at every step."""
        return self._values[name]

    def day(self, step: int) -> Day:
        """Return what is drawn of a step."""
        from runoff.teaching.cuts import Day

        return Day(
            level=self.value("water_depth_on_deck_mm", step),
            held=self.value("held_water", step),
            cups=self.value("cup_water", step),
            hurt=self.hurt[step].tolist(),
            blocked=self.fate.blocked(step),
            left=self.value("overflow", step) * self._drawn,
            over_edge=self.value("spilled", step) * self._drawn,
            rain=self.value("rain", step) * self._drawn,
            cups_up=self.setting.board == "cups up",
        )

    def kept_percent(self, step: int) -> float | None:
        """Return the share of the rain so far that has not left, per cent; None before the first rain."""
        kept = float(self._so_far.retention[step])
        return None if np.isnan(kept) else 100.0 * kept

    def when(self, step: int) -> str:
        """Return the moment, as it is read."""
        raise NotImplementedError

    def rain_words(self, step: int, units: str = "si") -> str:
        """Return the rain, as it is read."""
        raise NotImplementedError

    def outflow_words(self, step: int, units: str = "si") -> str:
        """Return how the outlet stands and what leaves, for the place below the outlet."""
        raise NotImplementedError

    def plain_words(self, step: int, units: str = "si") -> str:
        """Return the line below the picture: what a class looks at first."""
        raise NotImplementedError

    def reading(self, step: int, units: str = "si") -> dict[str, str]:
        """Return what is read beside the picture."""
        raise NotImplementedError

    def events(self) -> set[int]:
        """Return the steps at which something happens; the last step is one of them."""
        raise NotImplementedError

    def beside(self, step: int, units: str = "si") -> dict[str, str]:
        """Return what of the reading does not stand in the picture."""
        return {name: words for name, words in self.reading(step, units).items() if name not in _IN_THE_PICTURE}

    def sentence(self, step: int, units: str = "si") -> str:
        """Return picture and reading as one text."""
        return ", ".join(f"{name} {value}" for name, value in self.reading(step, units).items())

    def outlet_words(self, step: int) -> str:
        """Return how the outlet stands, in words."""
        return {0.0: "outlet open", 0.5: "outlet half covered by leaves", 1.0: "outlet covered by leaves"}[
            self.fate.blocked(step)
        ]


class Watched(Seen):
    """One roof through one year, day by day.

    Parameters
    ----------
    setting, fate
        As in `Seen`; steps of the fate are days of the year.
    year
        One year of a daily record.
    base
        The roof the setting changes; default the sample roof.
    known
        Roofs watched through the same year: where one is built alike, its run with open outlets is taken over.
    """

    def __init__(
        self,
        setting: Setting,
        fate: Fate,
        year: xr.Dataset,
        *,
        base: Roof | None = None,
        known: Sequence[Watched] = (),
    ) -> None:
        super().__init__(setting, fate, base)
        alike = [one.open_run for one in known if one.roof == self.roof]
        self.open_run: xr.Dataset = alike[0] if alike else simulate(self.roof, year)
        pieces = clogging_year(
            self.roof, year, self.open_run, blocked=OUTLETS[fate.outlet], clogs=fate.clogs, clears=fate.clears
        )
        self._take(pieces)
        wet = xr.concat([one[list(_FOR_DAMAGE & set(one))] for one in pieces], "time", combine_attrs="override")
        self.hurt: np.ndarray = damage_along_the_fall(wet).transpose("time", "place").to_numpy()

    def when(self, step: int) -> str:
        """Return the date."""
        return date_words(self.stamps[step])

    def rain_words(self, step: int, units: str = "si") -> str:
        """See `Seen.rain_words`."""
        rain = self.value("rain", step)
        return f"rain {say(rain, 'mm', 'depth', units)}" if rain > 0 else "no rain"

    def outflow_words(self, step: int, units: str = "si") -> str:
        """See `Seen.outflow_words`."""
        return f"{self.outlet_words(step)}, overflow {say(self.value('overflow', step), 'mm', 'depth', units)}"

    def plain_words(self, step: int, units: str = "si") -> str:
        """Return how the plants are."""
        words = self.damage(step)
        for long, short in _SHORTER.items():
            words = words.replace(long, short)
        return f"plants {words.removeprefix('all plants').strip(': ')}"

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

    def reading(self, step: int, units: str = "si") -> dict[str, str]:
        """Return what is read beside the picture."""
        kept = self.kept_percent(step)
        return {
            "outlet": self.outlet_words(step).removeprefix("outlet "),
            "overflow today": say(self.value("overflow", step), "mm", "depth", units),
            "level at the outlet": say(self.value("water_depth_on_deck_mm", step), "mm", "level", units),
            "air left": f"{100.0 * self.value('air_filled_porosity', step):.0f} %",
            "roots today": self.air_words(step),
            "plants": self.damage(step),
            "retention so far": "-" if kept is None else f"{kept:.0f} %",
            "days without air so far": str(self.days_without_air(step)),
            "weighs": say(float(self.weight[step]), "kg/m2", "whole load", units),
        }

    def events(self) -> set[int]:
        """Return the days of clogging and clearing, of water reaching or leaving roots, of damage, and of rain of 20 mm or more."""
        found = {len(self.hurt) - 1, *np.flatnonzero(self.series("rain") >= 20.0).tolist()}
        if self.fate.outlet != "open":
            found |= {self.fate.clogs, *([self.fate.clears] if self.fate.clears is not None else [])}
        reached = np.digitize(self.series("waterlogged_share"), [1e-9, 0.995])
        found |= set((np.flatnonzero(np.diff(reached)) + 1).tolist())
        found |= set((np.flatnonzero(np.any(np.diff(self.hurt, axis=0) != 0, axis=1)) + 1).tolist())
        return {int(step) for step in found}


def date_words(stamp: Any) -> str:
    """Return a date, as it is read."""
    return f"{stamp.day} {MONTHS[stamp.month - 1]} {stamp.year}"


def events_of(roofs: Sequence[Seen]) -> list[int]:
    """Return the steps at which something happens to one of several roofs that go through the same rain."""
    return sorted({step for roof in roofs for step in roof.events()})


def _band(index: int) -> str:
    return WET_BANDS[index].words if index else UNHARMED
