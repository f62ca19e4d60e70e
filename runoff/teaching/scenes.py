"""What a lesson shows, without any widget: a setting of the controls in, a season of water and words out.

The physics is that of `runoff.simulate`; a setting only says which roof is meant. Every change of a control runs the whole
record again, so what the class sees is never a stored answer.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, raise_faults
from runoff.findings.spells import WET_BANDS, band_of, running_spell
from runoff.findings.summary import summarize
from runoff.roof import BuildUp, GrowingMedium, Mulch, Roof, open_sample_roof
from runoff.simulation import simulate

if TYPE_CHECKING:
    from runoff.plots import DescribedFigure

#: Share of the drainage that is lost, by the word on the control.
OUTLETS = {"open": 0.0, "half clogged": 0.5, "clogged": 1.0}
#: What lies below the medium.
BOARDS = ("cups up", "cups down", "mat alone")
#: What the medium can be, and the row of the materials table behind each word; the sample roof brings the mineral mix.
MEDIA = {"mineral mix": "", "garden soil": "garden soil (do not use)"}
#: The fleece between medium and board, and its row; the sample roof brings a clean one.
FLEECES = {"clean": "", "clogged": "clogged fleece"}
#: Least and most of what is a number. Water cannot be held at the deck itself, so an overflow begins at 5 mm.
_BOUNDS = {"depth_mm": (20.0, 300.0), "overflow_mm": (5.0, 500.0), "fall": (0.0, 0.2)}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Setting:
    """Where the controls stand.

    Parameters
    ----------
    outlet
        ``open``, ``half clogged`` or ``clogged``.
    board
        ``cups up``, ``cups down`` or ``mat alone`` (no board: the mat alone carries the water).
    depth_mm
        Depth of the medium, mm.
    overflow_mm
        Height of the emergency overflow above the deck, mm; None: water runs over the edge above the medium.
    mulch
        Whether 15 mm of mulch lie on the medium.
    medium
        ``mineral mix`` or ``garden soil``.
    fleece
        ``clean`` or ``clogged`` with fines.
    fall
        Fall of the deck, m per m; None: that of the roof the controls change.
    """

    outlet: str = "open"
    board: str = "cups up"
    depth_mm: float = 80.0
    overflow_mm: float | None = None
    mulch: bool = True
    medium: str = "mineral mix"
    fleece: str = "clean"
    fall: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no control offers."""
        faults = [
            f'{name} is one of {", ".join(known)} (given "{value}")'
            for name, known in (("outlet", OUTLETS), ("board", BOARDS), ("medium", MEDIA), ("fleece", FLEECES))
            if (value := getattr(self, name)) not in known
        ]
        for name, (least, most) in _BOUNDS.items():
            value = getattr(self, name)
            if value is None and name != "depth_mm":
                continue
            if isinstance(value, bool) or not isinstance(value, int | float):
                faults.append(f'{name} is a number between {least:g} and {most:g} (given "{value}")')
            elif not least <= value <= most:
                faults.append(f"{name} lies between {least:g} and {most:g} (given {value:g})")
        if not isinstance(self.mulch, bool):
            faults.append(f'mulch is True or False (given "{self.mulch}")')
        raise_faults("setting", faults)


def roof_of(setting: Setting, base: Roof | None = None) -> Roof:
    """Return the roof a setting means: the sample roof (or `base`), all of it planted, with the controls applied."""
    base = base or open_sample_roof("cups")
    layers: list[Any] = []
    for layer in base.build_up.layers:
        if layer.word == "mulch":
            continue
        if layer.word == "medium":
            if setting.mulch:
                layers.append(Mulch(depth_mm=15.0))
            soil = MEDIA[setting.medium]
            layers.append(
                GrowingMedium(material=soil, depth_mm=setting.depth_mm)
                if soil
                else GrowingMedium(**{**_given(layer), "depth_mm": setting.depth_mm})
            )
        elif layer.word == "board":
            if setting.board != "mat alone":
                layers.append(type(layer)(**{**_given(layer), "cups_up": setting.board == "cups up"}))
        elif layer.word == "fleece" and FLEECES[setting.fleece]:
            layers.append(type(layer)(material=FLEECES[setting.fleece]))
        else:
            layers.append(layer)
    given = {
        **_given(base),
        "build_up": BuildUp(layers=tuple(layers)),
        "planted_fraction": 1.0,
        "blocked_fraction": OUTLETS[setting.outlet],
        "emergency_overflow_mm": setting.overflow_mm,
        **({} if setting.fall is None else {"fall": setting.fall}),
        **({} if setting.overflow_mm is not None else {"emergency_width_mm": None, "emergency_height_mm": None}),
    }
    return Roof(**given)


def _given(model: Any) -> dict[str, Any]:
    return {name: getattr(model, name) for name in type(model).model_fields}


@dataclasses.dataclass(frozen=True)
class Scene:
    """A roof under a setting, its run over the whole record, and what can be read from it.

    Parameters
    ----------
    setting, roof, run, facts
        The controls, the roof they mean, what `runoff.simulate` and `runoff.summarize` returned.
    spell
        Length of the waterlogged spell so far on each day, days.
    dry
        Whether each day is dry.
    """

    setting: Setting
    roof: Roof
    run: xr.Dataset
    facts: xr.Dataset
    spell: np.ndarray
    dry: np.ndarray

    def day_index(self, day: str) -> int:
        """Return the step of a date, for example ``2014-07-03``."""
        days = [str(stamp)[:10] for stamp in self.run["time"].to_numpy()]
        try:
            return days.index(day)
        except ValueError:
            first, last = (str(self.run["time"].to_numpy()[i])[:10] for i in (0, -1))
            raise RunoffError(f"the record runs from {first} to {last}; there is no {day} in it") from None

    def _on_day(self, name: str, step: int) -> float:
        return float(self.run.variables[name].values[step])

    def roots(self, step: int) -> str:
        """Tell how the roots fare on a day: ``healthy``, ``at risk`` (too wet for too long) or ``dry``."""
        if self.spell[step] > float(self.run.attrs.get("tolerance_days", 2.0)):
            return "at risk"
        return "dry" if self.dry[step] else "healthy"

    def reading(self, step: int) -> dict[str, str]:
        """Return what stands beside the picture, as words and numbers: the whole record, then the day."""
        facts = self.facts
        wet = int(self.spell[step])
        band = band_of(wet, WET_BANDS)
        return {
            "retention, whole record": f"{100 * float(facts['retention']):.0f} %",
            "annual overflow": f"{float(facts['annual_overflow']):.0f} mm",
            "waterlogged days a year": f"{float(facts['waterlogged_days']):.0f}",
            "longest waterlogged spell": f"{float(facts['longest_waterlogged_spell']):.0f} days",
            "dry days a year": f"{float(facts['dry_days']):.0f}",
            "this day": str(self.run["time"].to_numpy()[step])[:10],
            "rain this day": f"{self._on_day('rain', step):.1f} mm",
            "overflow this day": f"{self._on_day('overflow', step):.1f} mm",
            "air in the medium": f"{100 * self._on_day('air_filled_porosity', step):.0f} % of its volume",
            "depth of water on the deck": f"{self._on_day('water_depth_on_deck_mm', step):.0f} mm",
            "waterlogged so far": f"{wet} days: {band.words}" if band else "no",
        }

    def sentence(self, step: int) -> str:
        """Return the picture and the reading as one text, for a screen reader and for pages without pictures."""
        read = self.reading(step)
        roof = f"outlet {self.setting.outlet}, {self.setting.board}, medium {self.setting.depth_mm:g} mm"
        level = "" if self.setting.overflow_mm is None else f", emergency overflow at {self.setting.overflow_mm:g} mm"
        mulch = "with mulch" if self.setting.mulch else "without mulch"
        parts = ", ".join(f"{name} {value}" for name, value in read.items() if name != "this day")
        return f"On {read['this day']} ({roof}{level}, {mulch}) the roots are {self.roots(step)}; {parts}."

    def figure(self, step: int) -> DescribedFigure:
        """Draw the cross-section of the roof with the water of a day."""
        from runoff.plots.build_up_section import DRAWN_STORES, build_up_section_figure

        title = f"{str(self.run['time'].to_numpy()[step])[:10]}: outlet {self.setting.outlet}, {self.setting.board}"
        if self.run.attrs.get("invented") == "yes":
            title += " (invented weather)"
        water = {name: self._on_day(name, step) for name in DRAWN_STORES}
        return build_up_section_figure(self.roof, water=water, roots=self.roots(step), title=title)


def scene(setting: Setting, weather: xr.Dataset, *, base: Roof | None = None) -> Scene:
    """Run the roof of a setting through a daily record.

    Parameters
    ----------
    setting
        Where the controls stand.
    weather
        Any daily record; `runoff.open_sample` for the invented town.
    base
        The roof the controls change; default the sample roof.
    """
    roof = roof_of(setting, base)
    run = simulate(roof, weather)
    return Scene(
        setting, roof, run, summarize(run), running_spell(run["waterlogged"]).to_numpy(), run["dry"].to_numpy()
    )
