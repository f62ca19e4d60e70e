"""How sure is a figure? Parameters drawn from their ranges, years drawn anew, and what it would help to measure.

Four doubts are kept apart and joined: the materials are known only within ranges (Latin hypercube), the years of record
are one sample of the climate (moving-block bootstrap), a gauge does not catch the true rain, and the model itself is off
(`runoff.sizing.measured_against`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
import xarray as xr

from runoff.draws import Even, EvenByLogarithm, Quantiles, Triangle, latin_hypercube, normal_quantile, student_quantile
from runoff.errors import RunoffWarning, SizingError, raise_faults
from runoff.findings.draining import DRAINAGE_FIGURES
from runoff.findings.summary import FACTS, MONTHLY, facts_from_totals, figures_of, labelled
from runoff.findings.yearly import coords_of_totals, resampled, years_of_record
from runoff.given_kinds import refuse_other_kinds
from runoff.roof.materials_table import LogRange
from runoff.saying import titles
from runoff.saying.properties import property_words
from runoff.simulation import Columns, DailyRecord, RuleWords, RunRules, columns_of, daily_forcing, rules_told
from runoff.sizing.drawn_roofs import DrawnRoofs
from runoff.sizing.evaporation_doubt import weathers_by_method
from runoff.sizing.masses_and_costs import build_up_figures
from runoff.sizing.measured_against import LEAST_ROOFS, model_error, with_model_error
from runoff.sizing.sweeping import columns_of_designs, totals_of_columns, totals_of_designs, totals_under
from runoff.sizing.targets import read_targets

if TYPE_CHECKING:
    from runoff.roof import Roof

#: Ranges carry no meaning on fewer years than this, and little below the second number.
LEAST_YEARS, FEW_YEARS = 5, 20
QUANTILES = (0.05, 0.2, 0.5, 0.95)
#: True rain over the rain of a gauge: gauges lose rain to wind and wetting, and one may stand in a wetter place.
CATCH = (0.98, 1.08)
SOURCES = ("together", "materials", "years", "catch", "model")
#: Figures that are told for a single year as well as for the mean of many.
OF_A_SINGLE_YEAR = ("annual_rain", "retention", "annual_capture_mm", "annual_capture_m3", "avoided_annual_m3")
_CATCH_LEVELS = 5
#: Drawn in few steps: roofs that share their unplanted surface are run together, eight times as fast.
_DRAWN_IN_STEPS, _STEPS = ("surface.daily_storage_mm",), 5

Ranges = Mapping[str, tuple[float, float] | tuple[float, float, float]]


def uncertainty(
    roof: Roof,
    weather: Any,
    *,
    ranges: Ranges | None = None,
    members: int = 200,
    resamples: int = 50,
    block_years: int = 3,
    seed: int = 1,
    targets: Mapping[str, Mapping[str, float]] | None = None,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Return every headline figure with its 5-95 % range.

    Parameters
    ----------
    roof, weather
        As in `runoff.sweep`.
    ranges
        ``(low, high)`` or ``(low, typical, high)`` per property, for example ``{"medium.field_capacity": (0.28, 0.38)}``;
        two numbers are drawn evenly, three as a triangle. Default: the ranges of the materials table.
    members
        Parameter sets drawn by Latin hypercube.
    resamples
        Records drawn from the years of the record, in blocks.
    block_years
        Length of a block, years: neighbouring years are not independent.
    seed
        Seed of both draws; the same seed gives the same numbers bit for bit.
    targets
        As in `runoff.size`; adds the probability that each is met.
    rules, **words
        As in `runoff.sweep`.

    Returns
    -------
    xarray.Dataset
        Per figure a variable on ``(source, quantile)``; ``source`` is ``materials`` (with the methods of reference
        evapotranspiration that the record allows, years as they were), ``years``
        (materials as described), ``catch`` (true rain 2 % less to 8 % more than the gauge's), ``model`` (ours minus
        measured; only for what follows from retention, missing elsewhere) or ``together`` (all four). Four roofs of five
        exceed quantile 0.2; `runoff.first_line` says it. ``single_year_retention`` and the like on ``quantile``: all four, with
        single years in place of the mean of many. ``attrs["model"]`` says how the model was held against measured
        roofs. With targets: ``probability`` on ``target``. The drawn values are kept as ``drawn`` on ``(property, member)``.

    Raises
    ------
    SizingError
        When the record has fewer than 5 years, or a range is upside down or outside what the property allows.

    Warns
    -----
    RunoffWarning
        When the record has fewer than 20 years: the range of rare figures is then itself uncertain.
    """
    refuse_other_kinds("uncertainty", roof=roof)
    known = ("ranges", "members", "resamples", "block_years", "seed", "targets")
    rules = RunRules.of("uncertainty", rules, known, **words)
    numbers = {"members": (members, 2), "resamples": (resamples, 2), "block_years": (block_years, 1)}
    faults = [
        f"{name} must be at least {least} (given {given})" for name, (given, least) in numbers.items() if given < least
    ]
    raise_faults("uncertainty", faults, SizingError)
    wanted = read_targets(targets) if targets else []
    if any(target.figure == "cost" for target in wanted):
        raise SizingError("uncertainty: the cost of a build-up is not uncertain here; leave that target to runoff.size")
    if of_storm := [target.figure for target in wanted if target.figure in DRAINAGE_FIGURES]:
        raise SizingError(
            f"uncertainty: {', '.join(of_storm)} belongs to one storm and is not drawn here; leave that target to runoff.size"
        )
    ranges = ranges if ranges is not None else ranges_of(roof)
    roofs, drawn = draw_roofs(roof, ranges, members=members, seed=seed)
    own = daily_forcing(weather, rules)
    as_described = totals_under([roof], own, rules)
    check_length(float(as_described["years"]))
    records = _records_by_method(weather, own, rules)
    columns, each = columns_of_designs(roofs), list(records.values())
    materials = [totals_of_columns(columns.some(few), one, rules) for few, one in _dealt(range(members), each)]
    picks = block_years_drawn(as_described.sizes["year"], resamples=resamples, block_years=block_years, seed=seed)
    error, described = model_error(), facts_from_totals(as_described)
    years = float(as_described["years"])
    joined, _ = _joined(columns, each, picks, years, seed=seed, rules=rules, single_years=True)
    samples: dict[str, Mapping[Any, Any]] = {
        "together": _some(joined, slice(resamples)),
        "materials": figures_of(_side_by_side(materials, years)),
        "years": figures_of(resampled(_values(as_described), picks)),
        "catch": _under_rain_catch(columns_of([roof]), each[0], described, rules, draws=members),
    }
    if error is not None:
        off = xr.Variable("draw", error.drawn((members,), seed))
        samples["model"] = with_model_error(described.variables, off, roof.planted_fraction)
    found: dict[str, Any] = {}
    names = [name for name in samples["together"] if name != "years" and name not in MONTHLY]
    by_source = {source: _quantiles(of_it, names) for source, of_it in samples.items()}
    nothing = np.full(len(QUANTILES), np.nan)
    for name in names:
        rows = [by_source.get(source, {}).get(name, nothing) for source in SOURCES]
        as_given = {"as_described": float(described[name].squeeze())}
        found[str(name)] = (("source", "quantile"), np.array(rows), described[name].attrs | as_given)
    single = _some(joined, slice(resamples, None))
    for name in OF_A_SINGLE_YEAR:
        attrs = {**described[name].attrs, "long_name": f"{described[name].attrs['long_name']}, in a single year"}
        found[f"single_year_{name}"] = ("quantile", np.nanquantile(single[name], QUANTILES), attrs)
    result = xr.Dataset(found, coords={"source": list(SOURCES), "quantile": list(QUANTILES)})
    if wanted:
        figures = {**samples["together"], **build_up_figures(roofs).variables}
        met = [float((target.margin(figures[target.figure]) >= 0).mean()) for target in wanted]
        result = result.assign_coords(target=[target.label for target in wanted])
        result["probability"] = ("target", met, {"units": "1", "long_name": "probability that the target is met"})
    result["drawn"] = (("property", "member"), drawn.to_numpy())
    result = result.assign_coords(property=drawn["property"])
    result.attrs.update(
        as_described.attrs,
        title=titles.RANGES,
        members=members,
        resamples=resamples,
        block_years=block_years,
        seed=seed,
        years=years,
        evaporation_methods=", ".join(records),
        model=model_words(),
        judged_roofs=error.roofs if error is not None else 0,
        judged_sites=error.sites if error is not None else 0,
        rot_risk_days=float(described["rot_risk_days"].squeeze()),
        blocked_fraction=float(roof.blocked_fraction),
    )
    return result


def joined_figures(
    roofs: Sequence[Roof],
    weather: Any,
    picks: np.ndarray,
    *,
    seed: int,
    rules: RunRules | None = None,
    single_years: bool = False,
) -> xr.Dataset:
    """Return the figures of drawn roofs in drawn years, under drawn rain catch, each off by a drawn error of the model.

    Parameters
    ----------
    roofs
        Drawn by `draw_roofs`; every one gets one of five catches of rain, and one of the methods of reference
        evapotranspiration that the record allows.
    weather
        A daily record of one site.
    picks
        Numbers of the years drawn, from `block_years_drawn`.
    seed
        Seed of the model's errors.
    rules
        The rules of the runs.
    single_years
        Appends every year of the record by itself to the drawn records.

    Returns
    -------
    xarray.Dataset
        The figures of `runoff.summarize` on ``design`` and ``resample``; ``member`` is the place of each design among `roofs`,
        since those under one catch stand together. Only what follows from retention carries the
        model's error; see `runoff.sizing.measured_against.with_model_error`.
    """
    rules = rules or RunRules()
    own = daily_forcing(weather, rules)
    records = list(_records_by_method(weather, own, rules).values())
    years = years_of_record(own["time"])
    figures, ordered = _joined(
        columns_of_designs(roofs), records, picks, years, seed=seed, rules=rules, single_years=single_years
    )
    coords = {**coords_of_totals(own, records[0].calendar), "member": ("design", ordered)}
    del coords["year"]
    return labelled(figures, coords, {**rules_told(rules, own), "warm_up_years": records[0].warm_up_years})


def _records_by_method(weather: Any, own: xr.Dataset, rules: RunRules) -> dict[str, DailyRecord]:
    """Return the record under every method of reference evapotranspiration that its data allow; `own` is ready already."""
    first, *others = (weathers := weathers_by_method(weather, rules))
    ready = {first: own, **{name: daily_forcing(weathers[name], rules) for name in others}}
    return {name: DailyRecord.of(forcing, rules) for name, forcing in ready.items()}


def _joined(
    columns: Columns,
    records: Sequence[DailyRecord],
    picks: np.ndarray,
    years: float,
    *,
    seed: int,
    rules: RunRules,
    single_years: bool,
) -> tuple[dict[str, xr.Variable], list[int]]:
    """Do as `joined_figures` without labels; the second is ``member``."""
    alone = picks.shape[1] if single_years else 0
    weights = np.vstack([picks, alone * np.eye(picks.shape[1])[:alone]])
    ordered: list[int] = []
    under = []
    for some, factor in _dealt(range(columns.count), list(_catches())):
        for few, record in _dealt(some, records):
            under.append(totals_of_columns(columns.some(few), record.under_catch(factor), rules))
            ordered += few
    joined = figures_of(resampled(_side_by_side(under, years), weights))
    error = model_error()
    if error is None:
        return joined, ordered
    planted = xr.Variable("design", columns.rows["planted_fraction"][ordered])
    # drawn apart, so that the long-term range is the same whether single years are asked for or not
    drawn = [error.drawn((len(ordered), count), seed + i) for i, count in enumerate((len(picks), alone)) if count]
    off = xr.Variable(("design", "resample"), np.concatenate(drawn, axis=1))
    return joined | with_model_error(joined, off, planted), ordered


def _quantiles(figures: Mapping[Any, Any], names: Iterable[Any]) -> dict[Any, np.ndarray]:
    """Return the quantiles of drawn figures; those of as many values, none missing, together: single calls cost more than sorting."""
    drawn = {name: np.asarray(figures[name]).ravel() for name in names if name in figures}
    found = {name: np.nanquantile(values, QUANTILES) for name, values in drawn.items() if np.isnan(values).any()}
    for size in {values.size for name, values in drawn.items() if name not in found}:
        several = {name: values for name, values in drawn.items() if name not in found and values.size == size}
        rows = np.quantile(np.stack(list(several.values())), QUANTILES, axis=1)
        found |= dict(zip(several, rows.T, strict=True))
    return found


def _side_by_side(parts: Sequence[Mapping[str, xr.Variable]], years: float) -> dict[str, xr.Variable]:
    """Return the totals of several runs along ``design``, those of the record repeated for each of its designs."""
    counts = [part["area_m2"].size for part in parts]
    joined = {"years": xr.Variable("design", np.full(sum(counts), years))}
    for name, first in parts[0].items():
        dims = first.dims if "design" in first.dims else ("design", *first.dims)
        values = [
            part[name].to_numpy() if dims == first.dims else np.broadcast_to(part[name], (count, *first.shape))
            for part, count in zip(parts, counts, strict=True)
        ]
        joined[name] = xr.Variable(dims, np.concatenate(values, axis=dims.index("design")))
    return joined


def _values(labelled: xr.Dataset) -> dict[str, xr.Variable]:
    return {str(name): labelled.variables[name] for name in labelled.data_vars}


def _some(figures: Mapping[str, xr.Variable], resamples: slice) -> dict[str, xr.Variable]:
    """Return the figures of some of the drawn records."""
    return {name: values.isel(resample=resamples, missing_dims="ignore") for name, values in figures.items()}


def _dealt(members: Sequence[Any], hands: Sequence[Any]) -> list[tuple[list[Any], Any]]:
    """Deal drawn roofs out in turn: every hand gets as good as the same number; hands that get none are left away."""
    return [(list(members[i :: len(hands)]), hand) for i, hand in enumerate(hands) if i < len(members)]


def _catches() -> np.ndarray:
    """Return the middles of equal slices of the range of rain catch."""
    low, high = CATCH
    return low + (np.arange(_CATCH_LEVELS) + 0.5) / _CATCH_LEVELS * (high - low)


def _under_rain_catch(
    roof: Columns, record: DailyRecord, described: xr.Dataset, rules: RunRules, *, draws: int
) -> dict[str, np.ndarray]:
    """Return the figures of the roof as described for each draw, between runs at both ends of the range and the gauge's own."""
    years = described.variables["years"]
    ends = [
        figures_of({**totals_of_columns(roof, record.under_catch(factor), rules), "years": years}) for factor in CATCH
    ]
    drawn = CATCH[0] + (np.arange(draws) + 0.5) / draws * (CATCH[1] - CATCH[0])
    found = {}
    for name in ends[0]:
        if name not in MONTHLY:
            values = [float(one[name].squeeze()) for one in (ends[0], described.variables, ends[1])]
            found[name] = np.interp(drawn, (CATCH[0], 1.0, CATCH[1]), values)
    return found


def model_words() -> str:
    """Say what is known of the error of the model itself, and which figures carry it."""
    error = model_error()
    if error is None:
        return (
            f"Fewer than {LEAST_ROOFS} measured roofs can be judged like for like: no error of the model is formed, and the "
            "ranges are too narrow by it."
        )
    return (
        f"Error of the model: {error.words()}. Retention, capture and overflow of a year carry it; the other figures have "
        "none formed, and their ranges are too narrow by it."
    )


def ranges_of(roof: Roof) -> dict[str, tuple[float, float, float]]:
    """Return low, typical and high of each uncertain property: from the materials table, centred on the roof's own values."""
    from runoff.roof import material_ranges

    return material_ranges(roof)


def check_length(years: float) -> None:
    """Refuse ranges on a record of under 5 years, warn under 20."""
    if years < LEAST_YEARS:
        raise SizingError(
            f"ranges need at least {LEAST_YEARS} years of weather, {years:.1f} are given; with so few the spread between "
            "years cannot be told; give a longer record"
        )
    if years < FEW_YEARS:
        import warnings

        warnings.warn(
            f"{years:.0f} years of weather: under {FEW_YEARS} the range of rare figures (peaks, longest spells) is "
            "itself uncertain; take it as too narrow",
            RunoffWarning,
            stacklevel=3,
        )


def draw_roofs(roof: Roof, ranges: Ranges, *, members: int, seed: int) -> tuple[DrawnRoofs, xr.DataArray]:
    """Draw parameter sets by Latin hypercube and return the roofs, and the values on ``(property, member)``.

    A set that no roof can have (field capacity above porosity, say) is drawn again, so ranges may overlap.

    Parameters
    ----------
    roof, ranges
        The roof, and for each property to replace its range, in the property's unit.
    members, seed
        Number of sets, and the seed of the draws.

    Returns
    -------
    DrawnRoofs
        As many as `members`.
    xarray.DataArray
        What was drawn, each in the unit of its property, shape ``(property, member)``.

    Raises
    ------
    SizingError
        When twenty rounds of draws do not give enough roofs that can be.
    """
    names = list(ranges)
    distributions = distributions_of(ranges)
    kept = np.empty((len(names), 0))
    for attempt in range(20):
        unit = latin_hypercube(members, len(names), seed + 7919 * attempt)
        drawn = np.array([one.ppf(unit[:, i]) for i, one in enumerate(distributions)])
        possible = ~DrawnRoofs(roof, dict(zip(names, drawn, strict=True))).impossible
        kept = np.concatenate([kept, drawn[:, possible]], axis=1)[:, :members]
        if kept.shape[1] == members:
            break
    else:
        raise SizingError(
            f"ranges: only {kept.shape[1]} of {members} sets make a roof; the ranges of {', '.join(names)} contradict each other"
        )
    roofs = DrawnRoofs(roof, dict(zip(names, kept, strict=True)))
    return roofs, xr.DataArray(kept, dims=("property", "member"), coords={"property": names})


def distributions_of(ranges: Ranges) -> list[Quantiles]:
    """Return distributions for the ranges; refuses ranges that are upside down, all in one message."""
    faults: list[str] = []
    found: list[Quantiles] = []
    if not ranges:
        faults.append('none given; name at least one property, for example {"medium.field_capacity": (0.28, 0.38)}')
    for name, bounds in ranges.items():
        values = [float(value) for value in bounds]
        if len(values) not in (2, 3) or not np.isfinite(values).all():
            faults.append(f"{name} needs (low, high) or (low, typical, high) (you wrote {tuple(bounds)!r})")
        elif sorted(values) != values or values[0] == values[-1]:
            faults.append(f"{name} must rise from low to high (you wrote {tuple(bounds)!r})")
        else:
            low, typical, high = values[0], values[len(values) // 2], values[-1]
            one: Quantiles = Triangle(low, typical, high)
            if isinstance(bounds, LogRange):
                one = EvenByLogarithm(low, high)
            elif len(values) == 2:
                one = Even(low, high)
            found.append(_InSteps(one) if name in _DRAWN_IN_STEPS else one)
    raise_faults("ranges", faults, SizingError)
    return found


class _InSteps:
    """A distribution drawn at the middles of five equal slices."""

    def __init__(self, smooth: Quantiles) -> None:
        self.smooth = smooth

    def ppf(self, share: Any) -> Any:
        """Return the value at the middle of the slice that a share of 0-1 lies in."""
        return self.smooth.ppf((np.minimum(np.floor(np.asarray(share) * _STEPS), _STEPS - 1) + 0.5) / _STEPS)


def block_years_drawn(years: int, *, resamples: int, block_years: int, seed: int) -> np.ndarray:
    """Draw records from the years of a record, in moving blocks.

    Parameters
    ----------
    years
        Years of the record.
    resamples
        Records to draw.
    block_years
        Length of a block; blocks may start at any year and wrap around the end, so every year is drawn alike
        (circular block bootstrap, Politis and Romano 1992).
    seed
        Seed of the draw.

    Returns
    -------
    numpy.ndarray
        Weight of each year in each record, shape ``(resample, year)``; rows sum to `years`.

    Notes
    -----
    Means of blocks scatter about the mean of the record, not about the truth, so their variance is too small by the
    factor ``1 - block_years / years``; and a spread told from few blocks is itself unsure, as Student's t allows for.
    Both are made up for by drawing fewer years than the record has, weighted up to its whole length. Overlapping
    blocks count as ``1.5 years / block_years`` independent ones (their variance is 2/3 of that of blocks side by side,
    Kuensch 1989).

    Measured in the tests on thirty independent years with a known mean: the 5-95 % range holds the truth in 88-90 %.
    Where dry and wet years follow each other (autocorrelation 0.3) it is about 84 %: take the range as a little narrow.
    """
    length = max(1, min(block_years, years))
    unsure = (normal_quantile(QUANTILES[-1]) / student_quantile(QUANTILES[-1], 1.5 * years / length)) ** 2
    drawn_years = max(length, round((years - length) * unsure))
    rng = np.random.default_rng(seed)
    starts = rng.integers(0, years, size=(resamples, -(-drawn_years // length)))
    drawn = (starts[:, :, None] + np.arange(length)) % years
    drawn = drawn.reshape(resamples, -1)[:, :drawn_years]
    of_each = np.arange(resamples)[:, None] * years + drawn  # a place for every year of every record
    counts = np.bincount(of_each.ravel(), minlength=resamples * years).reshape(resamples, years)
    return counts * (years / drawn_years)


def what_to_measure(
    roof: Roof,
    weather: Any,
    *,
    figure: str = "retention",
    ranges: Ranges | None = None,
    samples: int = 256,
    seed: int = 1,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> xr.Dataset:
    """Say which property, once measured, would narrow a figure most (Sobol indices).

    Parameters
    ----------
    roof, weather
        As in `runoff.sweep`.
    figure
        A headline figure.
    ranges
        As in `uncertainty`.
    samples
        Base sample, a power of two; ``samples x (properties + 2)`` designs are run.
    seed
        Seed of the draw.
    rules, **words
        As in `runoff.sweep`.

    Returns
    -------
    xarray.Dataset
        ``first_order`` and ``total`` on ``property``, falling by ``total``. ``attrs["advice"]`` says it in words.

    Raises
    ------
    SizingError
        For a figure that is no headline figure, ranges that cannot be drawn from, or a rule that is not known.

    Notes
    -----
    First order: share of the variance the property explains alone; total: with its interactions (Sobol 1993;
    estimators of `scipy.stats.sobol_indices`).
    """
    refuse_other_kinds("what_to_measure", roof=roof)
    rules = RunRules.of("what_to_measure", rules, ("figure", "ranges", "samples", "seed"), **words)
    ranges = ranges if ranges is not None else ranges_of(roof)
    if figure not in FACTS:
        raise SizingError(f'what_to_measure: "{figure}" is not a headline figure; known: {", ".join(FACTS)}')
    names = list(ranges)

    def figures(values: np.ndarray) -> np.ndarray:
        roofs = DrawnRoofs(roof, dict(zip(names, values, strict=True)))
        roofs.refuse_impossible()
        return facts_from_totals(totals_of_designs(roofs, weather, rules=rules))[figure].to_numpy()

    first, total = sobol(figures, distributions_of(ranges), samples=samples, seed=seed)
    order = np.argsort(-total)
    result = xr.Dataset(
        {"first_order": ("property", first[order]), "total": ("property", total[order])},
        coords={"property": [names[i] for i in order]},
    )
    result.attrs.update(
        title=titles.MEASURES, figure=figure, samples=samples, seed=seed, advice=_advice(result, figure)
    )
    return result


def sobol(
    function: Any, distributions: Sequence[Quantiles], *, samples: int, seed: int
) -> tuple[np.ndarray, np.ndarray]:
    """Return first-order and total Sobol indices of a function of ``(dimension, n)`` values.

    Parameters
    ----------
    function
        From values in the units of the distributions, shape ``(dimension, n)``, to one number each, shape ``(n,)``.
    distributions
        One for each dimension.
    samples
        Base samples, a power of two; the function is asked for ``samples (dimension + 2)`` values.
    seed
        Seed of the sequence.

    Returns
    -------
    tuple of numpy.ndarray
        First-order and total indices, shares of the variance, each of shape ``(dimension,)``.

    Raises
    ------
    SizingError
        When `samples` is no power of two.
    """
    from scipy import stats

    if samples < 2 or samples & (samples - 1):
        raise SizingError(f"samples must be a power of two (given {samples}); for example 256")
    found = stats.sobol_indices(func=function, n=samples, dists=list(distributions), rng=np.random.default_rng(seed))
    return np.asarray(found.first_order).ravel(), np.asarray(found.total_order).ravel()


def _advice(indices: xr.Dataset, figure: str) -> str:
    names = [str(name) for name in indices["property"].to_numpy()]
    shares = indices["total"].to_numpy()
    words = []
    for name, share in zip(names[:2], shares[:2], strict=False):
        part, quantity, _ = property_words(name)
        words.append((f"the {quantity} of the {part}", share))
    text = f"To narrow the {FACTS[figure][1]}, measure {words[0][0]} first: it carries {100 * words[0][1]:.0f} % of the spread"
    if len(words) > 1 and words[1][1] >= 0.05:
        text += f"; then {words[1][0]} ({100 * words[1][1]:.0f} %)"
    return text + "."
