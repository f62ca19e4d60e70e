"""How often a candidate meets its targets when materials, years, rain catch and the model's error are drawn together.

The choice is offered at two levels: the lightest candidate that meets every target in at least half of the draws, and in nine of
ten. Targets on mass follow the drawn materials; those on cost and on the drainage of a storm are not drawn: they hold or do not.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from runoff.findings.draining import DRAINAGE_FIGURES
from runoff.saying.progress import steps
from runoff.sizing.likely_ranges import block_years_drawn, draw_roofs, joined_figures, ranges_of
from runoff.sizing.masses_and_costs import build_up_figures
from runoff.sizing.sweeping import totals_of_designs

if TYPE_CHECKING:
    from runoff.simulation import RunRules
    from runoff.sizing.designs import DesignGrid
    from runoff.sizing.targets import Target

#: Shares of the draws in which every target must hold, in percent.
LEVELS = (50, 90)
_RESAMPLES, _BLOCK_YEARS = 50, 3
#: Figures that are not drawn.
FIXED = ("cost", *DRAINAGE_FIGURES)


def with_chances(
    judged: xr.Dataset,
    designs: DesignGrid,
    weather: Any,
    wanted: Sequence[Target],
    *,
    members: int,
    seed: int,
    rules: RunRules,
) -> xr.Dataset:
    """Return the candidates with the probability that each target holds, and the choice at each of `LEVELS`.

    Parameters
    ----------
    judged
        The candidates, held against their targets.
    designs, weather, wanted, rules
        As they were run.
    members
        Parameter sets drawn for each candidate.
    seed
        Seed of the draws, the same for every candidate: they meet the same years and errors.

    Returns
    -------
    xarray.Dataset
        With ``probability`` on ``(target, design)``, ``probability_all`` (every target at once) on ``design``, and
        ``chosen_likely`` on ``level`` (index of the lightest candidate that meets all in that share of draws; -1 for none).
    """
    years = totals_of_designs([designs.roof_of(0)], weather, rules=rules).sizes["year"]
    picks = block_years_drawn(years, resamples=_RESAMPLES, block_years=_BLOCK_YEARS, seed=seed)
    each, together = [], []
    for at in steps(range(len(designs)), "candidates"):
        met = _met(judged.isel(design=at), designs.roof_of(at), weather, picks, wanted, members, seed, rules)
        each.append(met.mean(axis=(1, 2)))
        together.append(float(met.all(axis=0).mean()))
    likely = judged.copy()
    words = {"units": "1", "long_name": "probability that the target is met"}
    likely["probability"] = (("target", "design"), np.array(each).T, words)
    likely["probability_all"] = ("design", together, {**words, "long_name": "probability that all targets are met"})
    likely["chosen_likely"] = ("level", [_lightest(likely, level / 100.0) for level in LEVELS])
    return likely.assign_coords(level=("level", list(LEVELS), {"units": "%"})).assign_attrs(seed=seed, members=members)


def _met(
    one: xr.Dataset,
    roof: Any,
    weather: Any,
    picks: np.ndarray,
    wanted: Sequence[Target],
    members: int,
    seed: int,
    rules: RunRules,
) -> np.ndarray:
    """Return whether each target holds in each draw, shape ``(target, member, resample)``."""
    roofs, _ = draw_roofs(roof, ranges_of(roof), members=members, seed=seed)
    figures = joined_figures(roofs, weather, picks, seed=seed, rules=rules)
    own = build_up_figures(roofs).isel(design=figures["member"].to_numpy())
    met = np.empty((len(wanted), members, len(picks)), dtype=bool)
    for i, target in enumerate(wanted):
        if target.figure in FIXED:
            met[i] = bool(one["meets"].sel(target=target.label))
        elif target.figure in own:
            met[i] = (target.margin(own[target.figure]).to_numpy() >= 0.0)[:, None]
        else:
            met[i] = target.margin(figures[target.figure]).transpose("design", "resample").to_numpy() >= 0.0
    return met


def _lightest(likely: xr.Dataset, least: float) -> int:
    """Return the lightest candidate that meets all targets in at least a share of the draws, or -1."""
    good = np.flatnonzero(likely["probability_all"].to_numpy() >= least - 1e-9)
    return int(good[np.argmin(likely["drained_mass"].to_numpy()[good])]) if good.size else -1
