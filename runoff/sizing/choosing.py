"""The designer's inverse question: which build-up meets the targets here, and which is the lightest?"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
import xarray as xr

from runoff.errors import RunoffWarning, SizingError
from runoff.findings.draining import DRAINAGE_FIGURES, OF_A_STORM
from runoff.given_kinds import refuse_other_kinds
from runoff.saying import titles
from runoff.saying.properties import property_words
from runoff.saying.scales import say
from runoff.simulation import RuleWords, RunRules
from runoff.sizing.chances import FIXED, with_chances
from runoff.sizing.claiming import first_line
from runoff.sizing.likely_ranges import LEAST_YEARS, check_length, uncertainty
from runoff.sizing.masses_and_costs import Prices, build_up_figures
from runoff.sizing.sweeping import caution_where_outlets_vary, designs_of, facts_of_designs, with_drainage
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
    storm: xr.DataArray | None = None,
    drainage: Mapping[str, Any] | None = None,
    ranges: bool = False,
    members: int = 200,
    seed: int = 1,
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
        `runoff.summarize` and `runoff.drainage_figures` (``{"peak_release": {"at_most": 10}}``), and ``drained_mass`` (kg/m2),
        ``build_up_depth`` (mm), ``cost`` (per m2).
    choices
        Values per property, as in `runoff.sweep`: ``{"medium.depth_mm": [60, 80, 100]}``; named materials per layer:
        ``{"medium.material": ["brick and pumice mix", ...]}``.
    prices
        Your own prices, none are built in: per m2 of a layer (``{"board": 11}``), per unit of a property and m2
        (``{"medium.depth_mm": 0.4}``) or per m2 of a material (``{"medium.material": {"name": 35}}``).
    storm, drainage
        As in `runoff.sweep`; targets on a storm need it.
    ranges
        Draws materials, years, rain catch and the model's error for every candidate: adds the probability that each target
        holds, and the choice at 50 and at 90 %. Needs 5 years of weather.
    members
        Parameter sets drawn for the range of the chosen candidate (`runoff.uncertainty`), with `ranges` for each; 0 leaves the
        range away.
    seed
        Seed of the draws.
    progress
        Whether a progress bar is shown; by default on long runs.
    rules, **words
        As in `runoff.sweep` (warm_up_years, et_method, limits, snow, comparison).

    Returns
    -------
    xarray.Dataset
        Every candidate along ``design`` with its figures, ``drained_mass``, ``build_up_depth``, ``cost`` when priced;
        ``margin`` and ``meets`` per target; ``meets_all``; ``non_dominated``; ``chosen`` (the lightest that meets all,
        -1 when none does), ``nearest`` (the candidate with the smallest worst shortfall). With `ranges` also ``probability``,
        ``probability_all`` and ``chosen_likely``; see `runoff.sizing.chances.with_chances`. ``attrs["verdict"]``
        says it in words, ``attrs["how_sure"]`` what is expected of the chosen one, what four roofs of five exceed, and in
        what share of the draws each target is met.

    Raises
    ------
    SizingError
        For targets that are unknown, contradictory or beyond any roof, and prices that fit nothing.
    """
    refuse_other_kinds("size", roof=roof, targets=targets, choices=choices)
    rules = RunRules.of(
        "size", rules, ("prices", "storm", "drainage", "ranges", "members", "seed", "progress"), **words
    )
    wanted = read_targets(targets)
    if any(target.figure == "cost" for target in wanted) and not prices:
        raise SizingError("targets: cost needs prices=, none are built in; for example prices={'medium.depth_mm': 0.4}")
    _refuse_no_storm(wanted, storm)
    designs = designs_of(roof, choices)
    own = build_up_figures(designs, prices)  # first, so that a wrong price does not wait for the weather
    candidates = facts_of_designs(designs, weather, progress=progress, rules=rules)
    candidates = candidates.merge(own)
    if storm is not None or any(target.figure in DRAINAGE_FIGURES for target in wanted):
        candidates = with_drainage(candidates, designs, weather, storm, drainage)
    judged = judge(candidates, wanted)
    judged["chosen"], judged["nearest"] = _chosen(judged), _nearest(judged, wanted)
    judged.attrs.update(title=titles.SIZING, verdict=verdict(judged, wanted), **caution_where_outlets_vary(choices))
    judged.attrs["how_sure"] = _how_sure(judged, designs, weather, targets, members, seed, rules)
    if not ranges:
        return judged
    check_length(float(judged["years"]))
    likely = with_chances(judged, designs, weather, wanted, members=max(members, 2), seed=seed, rules=rules)
    likely.attrs["verdict"] = f"{likely.attrs['verdict']} {chance_words(likely, wanted)}"
    return likely


def _refuse_no_storm(wanted: Sequence[Target], storm: Any) -> None:
    lacking = [target.figure for target in wanted if target.figure in OF_A_STORM]
    if storm is None and lacking:
        raise SizingError(
            f"targets: {', '.join(dict.fromkeys(lacking))} needs a storm; give storm=, for example "
            'runoff.design_storm(depth_mm=40, duration="1h", step="5min", pattern="uniform")'
        )


def _how_sure(
    judged: xr.Dataset, designs: DesignGrid, weather: Any, targets: Targets, members: int, seed: int, rules: RunRules
) -> str:
    """Say what is expected of the chosen candidate, and how often the draws meet each target."""
    chosen = int(judged["chosen"])
    if chosen < 0 or members == 0:
        return ""
    if float(judged["years"]) < LEAST_YEARS:
        return f"No range is told: it needs {LEAST_YEARS} years of weather or more."
    drawn = {figure: bounds for figure, bounds in targets.items() if figure not in FIXED}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RunoffWarning)  # the line says it
        ranges = uncertainty(
            designs.roof_of(chosen), weather, members=members, seed=seed, targets=drawn or None, rules=rules
        )
    told = first_line(ranges).words()
    if not drawn:
        return told
    met = (
        f"{target.words} in {100 * float(share):.0f} %"
        for target, share in zip(read_targets(drawn), ranges["probability"], strict=True)
    )
    return f"{told} Draws that meet the targets: {', '.join(met)}."


def how_sure_words(judged: xr.Dataset, wanted: Sequence[Target], *, units: str = "si") -> str:
    """Return ``attrs["how_sure"]`` with the targets in a unit system.

    Parameters
    ----------
    judged
        What `size` returned.
    wanted
        Its targets.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    str
        The sentences; empty where nothing is told.
    """
    said = str(judged.attrs.get("how_sure", ""))
    for target in wanted:
        said = said.replace(target.words, target.words_in(units))
    return said


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

    Returns
    -------
    str
        One or two sentences.
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


def chance_words(likely: xr.Dataset, wanted: Sequence[Target], *, units: str = "si") -> str:
    """Say how probable it is that the choice meets each target, and what would be chosen at 50 and at 90 %.

    Parameters
    ----------
    likely
        What `size` returned with ``ranges=True``.
    wanted
        Its targets.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    str
        One sentence on the choice, or on the nearest where none meets all, and one for each level.
    """
    first = int(likely["chosen"]) if int(likely["chosen"]) >= 0 else int(likely["nearest"])
    which = "The choice" if int(likely["chosen"]) >= 0 else "The nearest"
    one = likely.isel(design=first)
    each = [
        f"{target.words_in(units)} in {_percent(one['probability'].sel(target=target.label))}"
        + (" (not drawn)" if target.figure in FIXED else "")
        for target in wanted
    ]
    said = [f"{which} meets {', '.join(each)} of the draws, all at once in {_percent(one['probability_all'])}."]
    for level, pick in zip(likely["level"].to_numpy(), likely["chosen_likely"].to_numpy(), strict=True):
        if pick >= 0:
            held = _percent(likely["probability_all"][int(pick)])
            said.append(f"At {level} %: {_named(likely, int(pick), units)}, which holds in {held}.")
        else:
            best = int(likely["probability_all"].argmax("design"))
            most = _percent(likely["probability_all"][best])
            surest = f"; the surest is {_named(likely, best, units)}, with {most}" if most != "0 %" else ""
            said.append(f"At {level} %: none{surest}.")
    return " ".join(said)


def _percent(share: xr.DataArray) -> str:
    return f"{100.0 * float(share):.0f} %"


def _named(judged: xr.Dataset, design: int, units: str) -> str:
    swept = [str(name) for name in judged.coords if name != "design" and judged[name].dims == ("design",)]
    values = ", ".join(property_words(name).with_value(judged[name].to_numpy()[design], units) for name in swept)
    return f"{values} ({say(float(judged['drained_mass'][design]), 'kg/m2', system=units)} drained)"
