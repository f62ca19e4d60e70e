"""Why a coarse layer below does not drain a fine one: water and air by height in a layer that has drained freely.

Heights count from the foot of the layer. A drained layer comes to rest with no suction at its foot (`runoff.roof.release_curve`), so
the foot of every column stays wet, like that of a soaked sponge held in the air; turning the sponge on edge makes the column
higher and lets more of it drain.
"""

from __future__ import annotations

import numpy as np

from runoff.errors import RunoffError
from runoff.plots.style import BLUE, INK, SKY, VERMILION, DescribedFigure, new_figure, styled
from runoff.roof import GrowingMedium
from runoff.roof.release_curve import mean_share_held, share_held
from runoff.saying.scales import say
from runoff.teaching.exercises import air_after_draining
from runoff.teaching.scenes import MEDIA, material_of

_POINTS = 60


def air_by_height(medium: str, depth_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Return heights above the foot of a drained layer, mm, and the air there, 0-1.

    Parameters
    ----------
    medium
        ``mineral mix`` or ``garden soil``.
    depth_mm
        Depth of the layer, mm.

    Notes
    -----
    The release curve of the material, from its residual water (half the wilting point) up to its pores; a field capacity measured in
    a drained cylinder sets its scale, as for the layer as a whole.
    """
    layer = GrowingMedium(material=material_of(medium), depth_mm=depth_mm)
    alpha, n, rest = layer.release_alpha_per_mm, layer.release_n, layer.wilting_point / 2.0
    if alpha is None or n is None:
        raise RunoffError(f"{medium}: the row of the materials table has no release curve")
    height = np.linspace(0.0, depth_mm, _POINTS)
    if layer.field_capacity_kind == "suction":
        span = layer.porosity - rest
    else:
        test = float(mean_share_held(layer.field_capacity_depth_mm, alpha, n))
        span = (layer.field_capacity - rest) / test
    water = np.minimum(layer.porosity, rest + span * share_held(height, alpha, n))
    return height, layer.porosity - water


@styled
def air_figure(depths_mm: tuple[float, float] = (40.0, 160.0), *, units: str = "si") -> DescribedFigure:
    """Draw both media in two depths after free drainage: how much of each height is air.

    Parameters
    ----------
    depths_mm
        A shallow and a deep layer, mm: the sponge lying flat and standing on edge.
    units
        ``"si"`` or ``"us"``.
    """
    figure = new_figure(3.6)
    axes = figure.subplots(1, 4, sharey=True, width_ratios=[1, 1, 1, 1])
    told = []
    for number, (medium, depth) in enumerate((m, d) for m in MEDIA for d in depths_mm):
        one = axes[number]
        height, air = air_by_height(medium, depth)
        one.fill_betweenx(height, 0.0, 0.7 - air, color=SKY, hatch="---", edgecolor=BLUE, linewidth=0.0)
        one.plot(0.7 - air, height, color=BLUE, ls="-")
        one.axvline(0.6, color=VERMILION, ls="--", lw=1.2)
        one.axhline(depth, color=INK, lw=1.0, ls="-")
        mean = air_after_draining(medium, depth)
        words = f"{say(depth, 'mm', 'layer depth', units)}: {100 * mean:.0f} % air"
        one.set_title(f"{medium}\n{words}", size=9.5)
        one.set(xlim=(0.0, 0.7), xticks=[], xlabel="solids, water | air")
        told.append(f"{medium} {words}")
    axes[0].set_ylabel("height above the foot, mm")
    figure.description = (
        "After free drainage, by height: "
        + "; ".join(told)
        + ". The dashed line marks a tenth of air. The foot of each layer is the wettest, as in "
        "a sponge; height and coarse pores give air, a coarse layer below does not."
    )
    return figure
