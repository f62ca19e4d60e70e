"""What a lesson shows, without any widget: a setting of the controls in, a season of water and words out.

The physics is that of `runoff.simulate`; a setting only says which roof is meant. Every change of a control runs the whole
record again, so what the class sees is never a stored answer.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import xarray as xr

from runoff.errors import RunoffError, raise_faults
from runoff.findings.summary import summarize
from runoff.roof import BuildUp, GrowingMedium, Mulch, Roof, open_sample_roof
from runoff.simulation import simulate

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


def material_of(medium: str) -> str:
    """Return the row of the materials table that a medium of the lesson stands for.

    Raises
    ------
    RunoffError
        For a medium the lesson does not have.
    """
    if medium not in MEDIA:
        raise RunoffError(f'medium is one of {", ".join(MEDIA)} (given "{medium}")')
    return MEDIA[medium] or str(GrowingMedium.usual_material)


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
    """Return the roof a setting means: the sample roof (or `base`), all of it planted, with the controls applied.

    Without an emergency overflow the edge stands as it usually does, 150 mm above the medium, so that water has somewhere to go.
    """
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
        **({"edge_height_mm": None} if setting.overflow_mm is None else {}),
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
    """A roof under a setting, its run over the whole record, and the figures of `runoff.summarize`."""

    setting: Setting
    roof: Roof
    run: xr.Dataset
    facts: xr.Dataset


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

    Returns
    -------
    Scene
        The roof, its run and its figures.

    Raises
    ------
    RunoffError
        When the roof cannot be built as the controls stand, or the weather cannot be run.
    """
    roof = roof_of(setting, base)
    run = simulate(roof, weather)
    return Scene(setting, roof, run, summarize(run))
