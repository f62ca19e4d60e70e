"""The designer's inverse question: which build-up meets the targets here, and which is the lightest?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
import xarray as xr

from runoff.errors import SizingError, nearest, raise_faults
from runoff.saying import titles
from runoff.saying.properties import property_words
from runoff.saying.scales import say
from runoff.simulation import RuleWords, RunRules
from runoff.sizing.designs import Designs, per_design
from runoff.sizing.sweeping import designs_of, facts_of_designs
from runoff.sizing.targets import OF_THE_BUILD_UP, Target, judge, read_targets

if TYPE_CHECKING:
    from runoff.roof import Roof

Prices = Mapping[str, float | Mapping[str, float]]


def size(
    roof: Roof,
    weather: Any,
    targets: Mapping[str, Mapping[str, float]],
    choices: Mapping[str, Sequence[Any]],
    *,
    prices: Prices | None = None,
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
        says it in words.

    Raises
    ------
    SizingError
        For targets that are unknown, contradictory or beyond any roof, and prices that fit nothing.
    """
    rules = RunRules.of("size", rules, ("prices", "progress"), **words)
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
    return judged


def build_up_figures(roofs: Designs, prices: Prices | None = None) -> xr.Dataset:
    """Return mass, depth and cost of each roof along ``design``."""
    from runoff.roof import drained_mass_kg_per_m2

    figures = xr.Dataset(
        {
            "drained_mass": ("design", per_design(roofs, drained_mass_kg_per_m2)),
            "build_up_depth": ("design", per_design(roofs, lambda one: one.build_up.depth_mm)),
        }
    )
    if prices:
        _refuse_unknown_layers(prices)
        figures["cost"] = ("design", per_design(roofs, lambda one: _cost(one, prices)))
    for name in figures:
        units, words = OF_THE_BUILD_UP[str(name)]
        figures[name].attrs = {"units": units, "long_name": words}
    return figures


def _refuse_unknown_layers(prices: Prices) -> None:
    from runoff.roof.layers import LAYERS

    words = [key.partition(".")[0] for key in prices]
    faults = [
        f'"{word}" is no layer{nearest(word, LAYERS)}; layers are {", ".join(LAYERS)}'
        for word in words
        if word not in LAYERS
    ]
    raise_faults("prices", faults, SizingError)


def _cost(roof: Any, prices: Prices) -> Any:
    total: Any = 0.0
    for key, price in prices.items():
        word, _, field = key.partition(".")
        layer = roof.build_up.layer(word)
        if layer is None:
            continue  # a layer this candidate does without costs nothing
        if not field:
            total += float(price)  # type: ignore[arg-type]
            continue
        if not hasattr(layer, field):
            raise SizingError(
                f'prices: "{key}" is not a property of a layer; price a layer ("{word}") or one of its fields'
            )
        value = getattr(layer, field)
        if isinstance(price, Mapping):
            if value not in price:
                raise SizingError(f'prices: {key} has no price for "{value}"; priced are {", ".join(price)}')
            total += float(price[value])
        else:
            total += float(price) * value
    return total


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
