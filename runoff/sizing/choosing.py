"""The designer's inverse question: which build-up meets the targets here, and which is the lightest?"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
import xarray as xr

from runoff.errors import RunoffWarning, SizingError
from runoff.saying import titles
from runoff.saying.properties import property_words
from runoff.saying.scales import say
from runoff.simulation import RuleWords, RunRules
from runoff.sizing.claiming import first_line
from runoff.sizing.likely_ranges import LEAST_YEARS, uncertainty
from runoff.sizing.masses_and_costs import Prices, build_up_figures
from runoff.sizing.sweeping import designs_of, facts_of_designs
from runoff.sizing.targets import Target, judge, read_targets

if TYPE_CHECKING:
    from runoff.roof import Roof
    from runoff.sizing.designs import DesignGrid

Targets = Mapping[str, Mapping[str, float]]


def size(
    roof: Roof,
    weather: Any,
    targets: Targets,
    choices: Mapping[str, Sequence[Any]],
    *,
    prices: Prices | None = None,
    members: int = 200,
    progress: bool | None = None,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Try every combination of the choices and say which candidates meet the targets.

    Parameters
    ----------
    roof
        The roof from which the candidates differ.
    weather
        A daily record of one site.
    targets
        For example ``{"retention": {"at_least": 0.5}, "drained_mass": {"at_most": 120}}``. Figures are those of
        `runoff.summarize`, and ``drained_mass`` (kg/m2), ``build_up_depth`` (mm), ``cost`` (per m2).
    choices
        Values per property, as in `runoff.sweep`: ``{"medium.depth_mm": [60, 80, 100]}``; named materials per layer:
        ``{"medium.material": ["brick and pumice mix", ...]}``.
    prices
        Your own prices, none are built in: per m2 of a layer (``{"board": 11}``), per unit of a property and m2
        (``{"medium.depth_mm": 0.4}``) or per m2 of a material (``{"medium.material": {"name": 35}}``).
    members
        Parameter sets drawn for the range of the chosen candidate (`runoff.uncertainty`); 0 leaves the range away.
    progress
        Whether a progress bar is shown; by default on long runs.
    rules, **words
        As in `runoff.sweep` (warm_up_years, et_method, limits, snow, comparison).

    Returns
    -------
    xarray.Dataset
        Every candidate along ``design`` with its figures, ``drained_mass``, ``build_up_depth``, ``cost`` when priced;
        ``margin`` and ``meets`` per target; ``meets_all``; ``non_dominated``; ``chosen`` (the lightest that meets all,
        -1 when none does), ``nearest`` (the candidate with the smallest worst shortfall). ``attrs["verdict"]``
        says it in words, ``attrs["how_sure"]`` what is expected of the chosen one, what four roofs of five exceed, and in
        what share of the draws each target is met.

    Raises
    ------
    SizingError
        For targets that are unknown, contradictory or beyond any roof, and prices that fit nothing.
    """
    rules = RunRules.of("size", rules, ("prices", "members", "progress"), **words)
    wanted = read_targets(targets)
    if any(target.figure == "cost" for target in wanted) and not prices:
        raise SizingError("targets: cost needs prices=, none are built in; for example prices={'medium.depth_mm': 0.4}")
    designs = designs_of(roof, choices)
    own = build_up_figures(designs, prices)  # first, so that a wrong price does not wait for the weather
    candidates = facts_of_designs(designs, weather, progress=progress, rules=rules).assign_coords(designs.coords())
    candidates = candidates.merge(own)
    judged = judge(candidates, wanted)
    judged["chosen"], judged["nearest"] = _chosen(judged), _nearest(judged, wanted)
    judged.attrs.update(title=titles.SIZING, verdict=verdict(judged, wanted))
    judged.attrs["how_sure"] = _how_sure(judged, designs, weather, targets, members, rules)
    return judged


def _how_sure(
    judged: xr.Dataset, designs: DesignGrid, weather: Any, targets: Targets, members: int, rules: RunRules
) -> str:
    """Say what is expected of the chosen candidate, and how often the draws meet each target."""
    chosen = int(judged["chosen"])
    if chosen < 0 or members == 0:
        return ""
    if float(judged["years"]) < LEAST_YEARS:
        return f"No range is told: it needs {LEAST_YEARS} years of weather or more."
    drawn = {figure: bounds for figure, bounds in targets.items() if figure != "cost"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RunoffWarning)  # the line says it
        ranges = uncertainty(designs.roof_of(chosen), weather, members=members, targets=drawn or None, rules=rules)
    told = first_line(ranges).words()
    if not drawn:
        return told
    met = (
        f"{target.words} in {100 * float(share):.0f} %"
        for target, share in zip(read_targets(drawn), ranges["probability"], strict=True)
    )
    return f"{told} Draws that meet the targets: {', '.join(met)}."


def _chosen(judged: xr.Dataset) -> int:
    """Return the lightest candidate that meets all targets; of equal ones the one that keeps more rain; else -1."""
    good = np.flatnonzero(judged["meets_all"].to_numpy())
    if good.size == 0:
        return -1
    mass, retention = judged["drained_mass"].to_numpy()[good], judged["retention"].to_numpy()[good]
    return int(good[np.lexsort((-retention, mass))[0]])


def _nearest(judged: xr.Dataset, targets: list[Target]) -> int:
    """Return the candidate whose worst shortfall, as a share of its target's value, is smallest."""
    scale = np.array([abs(target.value) or 1.0 for target in targets])
    shortfall = np.maximum(0.0, -judged["margin"].transpose("target", "design").to_numpy()) / scale[:, None]
    return int(np.lexsort((judged["drained_mass"].to_numpy(), shortfall.max(axis=0)))[0])


def verdict(judged: xr.Dataset, wanted: Sequence[Target], *, units: str = "si") -> str:
    """Say in words which candidate is chosen, or which target stands in the way.

    Parameters
    ----------
    judged
        What `size` returned.
    wanted
        Its targets, as `runoff.sizing.targets.read_targets` gives them.
    units
        ``"si"`` or ``"us"``.
    """
    count = judged.sizes["design"]
    chosen = int(judged["chosen"])
    if chosen >= 0:
        met = int(judged["meets_all"].sum())
        return f"{met} of {count} candidates meet every target; the lightest is {_named(judged, chosen, units)}."
    meets = judged["meets"].transpose("target", "design").to_numpy()
    labels = [target.words_in(units) for target in wanted]
    alone = meets.sum(axis=1)
    if (alone == 0).any():
        blocking = [label for label, met in zip(labels, alone, strict=True) if met == 0]
        reason = f"no candidate meets {' nor '.join(blocking)}"
    else:
        # met one by one but never together: name the targets whose removal lets a candidate pass
        without = [np.delete(meets, i, axis=0).all(axis=0).any() for i in range(len(labels))]
        blocking = [label for label, frees in zip(labels, without, strict=True) if frees] or labels
        reason = f"every target is met by some candidate, but never all together; in the way: {', '.join(blocking)}"
    nearest = int(judged["nearest"])
    missed = [
        target.missed_words(float(judged[target.figure][nearest]), units)
        for target, met in zip(wanted, meets[:, nearest], strict=True)
        if not met
    ]
    return f"None of {count} candidates meets every target: {reason}. Nearest: {_named(judged, nearest, units)}, with {' and '.join(missed)}."


def _named(judged: xr.Dataset, design: int, units: str) -> str:
    swept = [str(name) for name in judged.coords if name != "design" and judged[name].dims == ("design",)]
    values = ", ".join(property_words(name).with_value(judged[name].to_numpy()[design], units) for name in swept)
    return f"{values} ({say(float(judged['drained_mass'][design]), 'kg/m2', system=units)} drained)"
