"""What a dossier was asked to be; all of it is part of its provenance, so that it can be made again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from runoff.dossier.records import MOST_MEMBERS
from runoff.errors import RunoffError, nearest, raise_faults
from runoff.saying.given import on_one_line, read_quantity

PAPERS = {"a4": "A4", "letter": "letter"}
UNITS = ("si", "us")
LEAST_MEMBERS = 20
_LEAST_EVENT_MM, _MOST_EVENT_MM = 1.0, 500.0
_LEAST_SHARE, _MOST_SHARE = 50.0, 99.9


@dataclass(frozen=True, kw_only=True)
class Options:
    """What a dossier was asked to be.

    Parameters
    ----------
    applicant, qualification, address, date
        Printed as given; the date of the day is never put in by itself, so that repeated runs give the same file.
    station, station_owner, station_distance, station_elevation
        The weather station in words: name, owner, distance from the roof, height above the sea.
    drains_to
        Where the roof drains: a combined sewer, a storm sewer, the ground.
    maintenance_by, budget, term
        Who looks after the roof, with what money a year, for how long.
    paper
        ``"a4"`` or ``"letter"``.
    units
        ``"si"`` or ``"us"``: which of the two stands first.
    members, seed
        Parameter sets drawn for the ranges, and the seed.
    et_method
        Forces a method of reference evapotranspiration.
    pattern
        Pattern of the design storms made from the depth-duration table.
    event
        The storm that the office asks for: a depth (``"1in"``, ``"25mm"``) or a percentile of wet days (``"p90"``).
    rules
        Names of rules of places whose credit is worked out by their own formula; see `runoff.dossier.office_rules`.
    existing_stated
        Whether the applicant said what the existing roof is; until then both a bare membrane and gravel are shown.
    """

    applicant: str | None = None
    qualification: str | None = None
    address: str | None = None
    date: str | None = None
    station: str | None = None
    station_owner: str | None = None
    station_distance: str | None = None
    station_elevation: str | None = None
    drains_to: str | None = None
    maintenance_by: str | None = None
    budget: str | None = None
    term: str | None = None
    paper: str = "a4"
    units: str = "si"
    members: int = 200
    seed: int = 1
    et_method: str | None = None
    pattern: str = "alternating-block"
    event: str = "1in"
    rules: tuple[str, ...] = ()
    existing_stated: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot be followed."""
        from runoff.dossier.office_rules import RULES

        keep_on_one_line(self)
        refuse_unknown_paper("dossier", self.paper)
        refuse_unknown_units("dossier", self.units)
        if not LEAST_MEMBERS <= self.members <= MOST_MEMBERS:
            few = self.members < LEAST_MEMBERS
            raise RunoffError(
                f"dossier: {self.members:,} members are too {'few' if few else 'many'} for a 5 to 95 % range; give "
                f"{LEAST_MEMBERS} to {MOST_MEMBERS:,} (200 is usual)"
            )
        object.__setattr__(self, "rules", tuple(self.rules))
        raise_faults(
            "dossier",
            [
                f'rule "{one}" is not known{nearest(one, RULES)}; known: {", ".join(RULES)}'
                for one in self.rules
                if one not in RULES
            ],
        )
        event_asked(self.event)

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Options:
        """Return the options from words.

        Raises
        ------
        RunoffError
            For a word that is not known.
        """
        known = [one.name for one in fields(cls) if one.name != "existing_stated"]
        for name in given:
            if name not in known:
                raise RunoffError(
                    f'dossier: option "{name}" is not known{nearest(name, known)}; known: {", ".join(known)}'
                )
        return cls(**given)


def keep_on_one_line(words: Any) -> None:
    """Take the texts of a frozen dataclass without signs that are no words: they are printed as given."""
    for one in fields(words):
        given = getattr(words, one.name)
        if isinstance(given, str):
            object.__setattr__(words, one.name, on_one_line(given))


def refuse_unknown_units(what: str, units: str) -> None:
    """Refuse a unit system that is not one of `UNITS`; `what` is the paper that is written."""
    if units not in UNITS:
        raise RunoffError(
            f'{what}: units "{units}" is not known{nearest(str(units), UNITS)}; known: {", ".join(UNITS)}'
        )


def refuse_unknown_paper(what: str, paper: str) -> None:
    """Raise for a paper that no sheet is made for."""
    if paper not in PAPERS:
        raise RunoffError(
            f'{what}: paper "{paper}" is not known{nearest(str(paper), PAPERS)}; known: {", ".join(PAPERS)}'
        )


def event_asked(text: str) -> tuple[str, float]:
    """Return the storm an office asks for: ``("depth", mm)`` or ``("percentile", percent)``.

    Examples
    --------
    >>> event_asked("1in"), event_asked("p90"), event_asked("95%")
    (('depth', 25.4), ('percentile', 90.0), ('percentile', 95.0))
    """
    word = text.strip().lower()
    if word.startswith("p") or word.endswith("%"):
        try:
            share = float(word.strip("p% "))
        except ValueError:
            share = -1.0
        if not _LEAST_SHARE <= share <= _MOST_SHARE:
            raise RunoffError(
                f'dossier: event is a percentile of wet days from {_LEAST_SHARE:g} to {_MOST_SHARE:g}, for example p90 (given "{text}")'
            )
        return "percentile", share
    try:
        depth = read_quantity(text, "mm")
    except RunoffError as error:
        raise RunoffError(f"dossier: event {error}; a percentile of wet days is written p90") from None
    if not _LEAST_EVENT_MM <= depth <= _MOST_EVENT_MM:
        raise RunoffError(
            f'dossier: event lies between {_LEAST_EVENT_MM:g} and {_MOST_EVENT_MM:g} mm of rain (given "{text}")'
        )
    return "depth", depth
