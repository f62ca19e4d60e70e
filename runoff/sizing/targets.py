"""Targets of a sizing run: what must hold, by how much it does, and what stands in the way."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import SizingError, nearest, raise_faults
from runoff.findings.draining import DRAINAGE_FIGURES, FOLLOWED_DAYS
from runoff.findings.summary import FACTS
from runoff.findings.tables import shown
from runoff.saying.numbers import fixed, rounded
from runoff.saying.scales import unit_words

#: Figures of a candidate that do not come from the water balance: units and words.
OF_THE_BUILD_UP: dict[str, tuple[str, str]] = {
    "drained_mass": ("kg/m2", "drained mass, with the water that stays after drainage"),
    "build_up_depth": ("mm", "depth of the build-up"),
    "cost": ("1", "cost per m2, in the currency of the prices given"),
}
#: Every figure a target can be set on.
TARGET_FIGURES: dict[str, tuple[str, str]] = {**FACTS, **OF_THE_BUILD_UP, **DRAINAGE_FIGURES}
#: Whether more of a figure is better (1) or worse (-1), for the comparison of candidates.
BETTER: dict[str, int] = {
    "retention": 1,
    "annual_capture_mm": 1,
    "annual_capture_m3": 1,
    "events_held": 1,
    "annual_evapotranspiration": 1,
    "storage": 1,
    "storage_recovered": 1,
}
_ROUNDING = 1e-9
_AT_ONCE = 500  # candidates held against each other at once
_SHARES = ("retention", "events_held", "storage_recovered", "guideline_coefficient")


@dataclasses.dataclass(frozen=True)
class Target:
    """One condition: a figure, at least or at most a value.

    Parameters
    ----------
    figure
        A figure of `runoff.summarize` or of `runoff.drainage_figures`, or ``drained_mass`` (kg/m2), ``build_up_depth`` (mm),
        ``cost`` (per m2).
    bound
        ``"at_least"`` or ``"at_most"``.
    value
        The limit, in the unit of the figure.
    """

    figure: str
    bound: str
    value: float

    @property
    def label(self) -> str:
        """The name of the target in a table of results, for example ``retention at least 0.5``."""
        return f"{self.figure} {self.bound.replace('_', ' ')} {self.value:g}"

    @property
    def words(self) -> str:
        """The target as a person reads it, for example ``retention at least 50 %``."""
        return self.words_in("si")

    def words_in(self, system: str) -> str:
        """Return the target in words, in a unit system."""
        return f"{self._figure_words} {self._limit_words(system)}"

    def missed_words(self, value: float, system: str = "si") -> str:
        """Say what came out where the target is missed, with as many digits as tell it from the limit."""
        if np.isinf(value):
            return f"{self._figure_words} not within {FOLLOWED_DAYS:g} days instead of {self._limit_words(system)}"
        came, limit = (shown(self.figure, one, self._units, system) for one in (value, self.value))
        digits = came.digits
        while digits < 9 and rounded(came.value, digits) == rounded(limit.value, digits):
            digits += 1
        came_words = f"{fixed(came.value, digits)} {unit_words(came.unit)}".strip()
        return f"{self._figure_words} {came_words} instead of {self._limit_words(system)}"

    @property
    def _figure_words(self) -> str:
        return self.figure.removesuffix("_mm").removesuffix("_m3").replace("_", " ")

    def _limit_words(self, system: str) -> str:
        limit = shown(self.figure, self.value, self._units, system)
        return f"{self.bound.replace('_', ' ')} {rounded(limit.value, 6):.6g} {unit_words(limit.unit)}".strip()

    @property
    def _units(self) -> str:
        return TARGET_FIGURES[self.figure][0]

    def margin(self, values: xr.DataArray) -> xr.DataArray:
        """Return by how much the target is met, in the unit of the figure; negative where it is missed."""
        return values - self.value if self.bound == "at_least" else self.value - values


def read_targets(targets: Mapping[str, Mapping[str, float]]) -> list[Target]:
    """Check targets written as ``{"retention": {"at_least": 0.5}, "rot_risk_days": {"at_most": 3}}``.

    Raises
    ------
    SizingError
        Naming every target that is unknown, cannot be met by anything, or contradicts another.
    """
    known = list(TARGET_FIGURES)
    faults: list[str] = []
    found: list[Target] = []
    if not targets:
        faults.append('none given; name at least one, for example {"retention": {"at_least": 0.5}}')
    for figure, bounds in targets.items():
        if figure not in known:
            faults.append(f'"{figure}" is not a known figure{nearest(figure, known)}; known: {", ".join(known)}')
            continue
        if not isinstance(bounds, Mapping) or not bounds or set(bounds) - {"at_least", "at_most"}:
            faults.append(f'{figure} needs {{"at_least": value}} or {{"at_most": value}} (you wrote {bounds!r})')
            continue
        impossible = _impossible(figure, bounds)
        faults.extend(impossible)
        if impossible:
            continue
        found.extend(Target(figure, bound, float(value)) for bound, value in bounds.items())
    raise_faults("targets", faults, SizingError)
    return found


def _impossible(figure: str, bounds: Mapping[str, Any]) -> list[str]:
    """Say why no roof whatever could meet these bounds."""
    faults = []
    least, most = bounds.get("at_least", -np.inf), bounds.get("at_most", np.inf)
    if not all(isinstance(value, int | float) and np.isfinite(value) for value in bounds.values()):
        return [f"{figure} needs a plain number (you wrote {dict(bounds)!r})"]
    if least > most:
        faults.append(f"{figure} cannot be at least {least:g} and at most {most:g}; the two contradict each other")
    if figure in _SHARES and least > 1.0:
        faults.append(f"{figure} is a share of 0-1 and can never reach {least:g}; did you mean {least / 100:g}?")
    if most < 0.0 and figure not in _SHARES:
        faults.append(f"{figure} can never be {most:g} or less")
    return faults


def judge(candidates: xr.Dataset, targets: list[Target]) -> xr.Dataset:
    """Add to the candidates which targets they meet, by what margin, and which candidates none outdoes.

    Parameters
    ----------
    candidates
        Figures along ``design``.
    targets
        What `read_targets` returned.

    Returns
    -------
    xarray.Dataset
        With ``margin`` and ``meets`` on ``(target, design)``, ``meets_all`` and ``non_dominated`` on ``design``.
    """
    labels = [target.label for target in targets]
    margin = xr.concat([target.margin(candidates[target.figure]) for target in targets], "target", coords="minimal")
    judged = candidates.assign_coords(target=labels)
    judged["margin"] = margin.drop_vars("target", errors="ignore").assign_coords(target=labels)
    judged["margin"].attrs = {"units": "1", "long_name": "margin to the target, in the unit of its figure"}
    # a figure that equals its limit on paper meets it: rounding must not decide
    slack = xr.DataArray([_ROUNDING * max(1.0, abs(target.value)) for target in targets], dims="target")
    judged["meets"] = (judged["margin"] >= -slack).assign_attrs(units="1", long_name="whether the target is met")
    judged["meets_all"] = judged["meets"].all("target")
    figures = list(dict.fromkeys([*(target.figure for target in targets), "drained_mass"]))
    signs = [
        next((1 if t.bound == "at_least" else -1 for t in targets if t.figure == f), BETTER.get(f, -1)) for f in figures
    ]
    gains = np.array([sign * candidates[f].to_numpy() for f, sign in zip(figures, signs, strict=True)])
    judged["non_dominated"] = ("design", non_dominated(gains))
    judged["non_dominated"].attrs = {
        "units": "1",
        "long_name": f"no other candidate is as good in {', '.join(figures)} and better in one of them",
    }
    return judged


def non_dominated(gains: np.ndarray) -> np.ndarray:
    """Tell which columns no other column outdoes.

    Parameters
    ----------
    gains
        Shape ``(figure, candidate)``; more is better in every row.

    Returns
    -------
    numpy.ndarray
        True for each candidate for which no other is at least as good in every figure and better in one. Equal
        candidates stand side by side.
    """
    order = np.lexsort(-gains[::-1])  # best first: a candidate can only be outdone by one before it
    front = np.empty(0, dtype=int)
    for some in np.split(order, range(_AT_ONCE, order.size, _AT_ONCE)):
        some = some[~_outdo(gains[:, front], gains[:, some]).any(axis=0)]
        # what outdoes a candidate and is itself outdone has something before it that outdoes both
        among = np.triu(_outdo(gains[:, some], gains[:, some]), 1)
        front = np.append(front, some[~among.any(axis=0)])
    result = np.zeros(gains.shape[1], dtype=bool)
    result[front] = True
    return result


def _outdo(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Tell which columns of `a` are at least as good as which of `b` in every figure, and better in one."""
    no_worse, better = np.ones((a.shape[1], b.shape[1]), dtype=bool), np.zeros((a.shape[1], b.shape[1]), dtype=bool)
    for ours, theirs in zip(a, b, strict=True):
        no_worse &= ours[:, None] >= theirs
        better |= ours[:, None] > theirs
    return no_worse & better
