"""The rules of a run: how evapotranspiration, snow, roots, watering and the comparison roof are taken.

One frozen object goes through every room that runs the balance. Whoever takes single rules as keywords hands them to
`RunRules.of`, which tells a misspelt one.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any, ClassVar, Self, TypedDict

import xarray as xr
from pydantic import Field, field_validator

from runoff.errors import RunoffError, nearest, raise_faults
from runoff.roof.description import BareSurface
from runoff.roof.frozen_model import Described
from runoff.weather.record.hemisphere import is_southern, months_in_hemisphere

_Share = Annotated[float, Field(gt=0, le=1)]
#: Months of the growing season north of the equator.
_GROWING_SEASON = (4, 5, 6, 7, 8, 9)
_Degrees = Annotated[float, Field(ge=-60, le=60)]


class Rule(Described):
    """Base of the rules: frozen, keyword-only, nothing unknown, nothing infinite; faults in sentences."""

    error: ClassVar[type[RunoffError]] = RunoffError


class RootLimits(Rule):
    """When roots count as too wet or too dry: a reading aid, since no published day limit exists for roofs.

    Parameters
    ----------
    air_threshold
        Air-filled porosity (fraction) below which the medium counts as waterlogged. Nursery practice asks for
        at least 10 % air by volume after drainage (University of California extension, container media).
    tolerance_days
        Waterlogged days a spell may last before its days count as rot risk (own proposal, from the rule that a
        roof should drain within 48 h).
    warm_c
        Rot needs a mean day temperature of at least this, degC (own proposal: oxygen demand falls with cold).
    dry_share
        A day is dry when what roots can use is below this share of the medium's plant-available capacity (own proposal).
    standing_share
        A place counts as waterlogged, too, where water stands in more than this share of the medium's depth (own proposal).
    wet_area_share, wet_strip_m
        A day counts as waterlogged where this share of the planted area is, or a strip this wide (m) along the low edge,
        whichever is less (own proposal).
    drought_days
        Dry days a spell may last before its days count as drought risk. Default 28, and 14 for a medium of up to 40 mm (own
        proposal; sedum outlived 88 dry days in a published test).
    """

    air_threshold: Annotated[float, Field(ge=0, lt=1)] = 0.10
    tolerance_days: Annotated[float, Field(ge=0, le=366)] = 2.0
    warm_c: _Degrees = 5.0
    dry_share: Annotated[float, Field(ge=0, le=1)] = 0.10
    standing_share: Annotated[float, Field(gt=0, le=1)] = 0.25
    wet_area_share: Annotated[float, Field(gt=0, le=1)] = 0.10
    wet_strip_m: Annotated[float, Field(gt=0, le=1000)] = 0.5
    drought_days: Annotated[float, Field(ge=0, le=3660)] | None = None


class SnowRule(Rule):
    """When precipitation is kept as snow, and how fast it melts (degree-day method, values common practice).

    Parameters
    ----------
    snow_below_c
        At or below this mean temperature (degC) precipitation stays on the roof as snow.
    melt_mm_per_c_day
        Melt per degree above 0 degC and day, mm. Common values are 1 to 8; 0 never melts, more than 50 is refused.
    """

    snow_below_c: _Degrees = 1.0
    melt_mm_per_c_day: Annotated[float, Field(ge=0, le=50)] = 3.0


class IrrigationRule(Rule):
    """When a roof is watered: a rule a timer or a person can follow.

    Parameters
    ----------
    below
        Share of the medium's plant-available water below which a day begins with watering, more than 0 and at most 1.
    dose_mm
        Water given on such a day, mm; more than 200 is refused.
    months
        Months in which watering is allowed, 1-12. Default: the growing season, April to September, and October to March
        where the weather's latitude lies south of the equator.
    """

    below: _Share = 0.2
    dose_mm: Annotated[float, Field(gt=0, le=200)] = 5.0
    months: tuple[int, ...] | None = None

    @field_validator("months", mode="before")
    @classmethod
    def _any_listing(cls, months: Any) -> Any:
        return tuple(months) if isinstance(months, list | range | set) else months

    @field_validator("months")
    @classmethod
    def _of_the_year(cls, months: tuple[int, ...] | None) -> tuple[int, ...] | None:
        if months is None:
            return None
        if not months or set(months) - set(range(1, 13)):
            raise ValueError(f"months are numbers 1-12, at least one (you wrote {months})")
        return months

    def months_in(self, weather: xr.Dataset) -> tuple[int, ...]:
        """Return the months in which watering is allowed where the weather comes from.

        Raises
        ------
        RunoffError
            When no months are given and the weather lies on both sides of the equator.
        """
        if self.months is not None:
            return self.months
        if "lat" in weather.variables and is_southern(weather) is None:
            raise RunoffError(
                "irrigation: the weather lies on both sides of the equator, where growing seasons differ; give "
                "IrrigationRule(months=...), or run each side by itself"
            )
        return months_in_hemisphere(_GROWING_SEASON, weather)

    def told_for(self, weather: xr.Dataset) -> str:
        """Say the rule in words, with the months it holds for."""
        months = ", ".join(map(str, self.months_in(weather)))
        unknown = (
            "" if self.months is not None or "lat" in weather.variables else " (no latitude given: taken as northern)"
        )
        share = f"{100 * self.below:g} % of its plant-available water"
        return f"{self.dose_mm:g} mm when the medium holds under {share}, in months {months}{unknown}"


class RunRules(Rule):
    """How a run is done, the same for a single run, a sweep, ranges, a fit and a streamed grid.

    Parameters
    ----------
    et_method
        Forces a method of reference evapotranspiration; by default the method follows the data.
    limits
        When roots count as too wet or too dry.
    snow
        When rain is snow, and how fast it melts; used only when temperature is known.
    comparison
        The roof as it is, to compare with; default a bare membrane.
    irrigation
        Waters the roof by a rule, in single daily runs.
    warm_up_years
        The first years are run once before the record starts, and left out of every figure. Default: one year, none when
        a start is given or the record is shorter than a year.
    """

    et_method: str | None = None
    limits: RootLimits = RootLimits()
    snow: SnowRule = SnowRule()
    comparison: BareSurface = BareSurface(kind="membrane")
    irrigation: IrrigationRule | None = None
    warm_up_years: Annotated[int, Field(ge=0, le=10_000)] | None = None

    @classmethod
    def of(cls, where: str, rules: RunRules | None = None, also: Iterable[str] = (), **words: Any) -> Self:
        """Return the rules of a call: those of `rules`, with single ones in words before them.

        Parameters
        ----------
        where
            The call, for messages.
        rules
            Rules given as a whole.
        also
            Other keywords the call knows, for messages.
        **words
            Single rules; None leaves a rule as it is.

        Returns
        -------
        RunRules
            The rules of the call.

        Raises
        ------
        RunoffError
            For a word that is no rule, and for values a rule cannot have: all in one message.
        """
        if rules is not None and not isinstance(rules, RunRules):
            raise RunoffError(f"{where}: rules must be a runoff.RunRules(...) (given {type(rules).__name__})")
        known = list(cls.model_fields)
        faults = [
            f"{name} is not known{nearest(name, [*also, *known])}; known: {', '.join([*also, *known])}"
            for name in words
            if name not in known
        ]
        given = {name: value for name, value in words.items() if name in known and value is not None}
        made, wrong = cls.checked({**(rules.fields() if rules is not None else {}), **given})
        raise_faults(where, faults + wrong)
        assert made is not None
        return made

    def told(self) -> dict[str, str]:
        """Return the rules that are not the default ones, in words that name them fully."""
        return {name: repr(value) for name, value in self.fields().items() if value != type(self)().fields()[name]}


class RuleWords(TypedDict, total=False):
    """The rules of a run as keywords, for signatures that take them one by one."""

    et_method: str | None
    limits: RootLimits | None
    snow: SnowRule | None
    comparison: BareSurface | None
    irrigation: IrrigationRule | None
    warm_up_years: int | None
