"""What stands beside the controls, as words and numbers in a unit system. No widget."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from runoff.desk.working_out import MEMBERS, Reckoning
from runoff.findings.tables import shown
from runoff.roof import Roof
from runoff.saying.scales import say
from runoff.sizing.claiming import FirstLine, refusal
from runoff.sizing.outlet_words import described_verdict
from runoff.sizing.targets import Target


class Reading(NamedTuple):
    """One line beside the controls: what it is, what came out, and how it stands to its target."""

    words: str
    value: str
    target: str = ""


def readings(found: Reckoning, targets: Mapping[str, Target], units: str) -> list[Reading]:
    """Return the figures of a roof, each with its target where one is set.

    Parameters
    ----------
    found
        What came out.
    targets
        By figure.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    list of Reading
        In the order they are shown, in the unit system asked for.
    """

    def fact(name: str) -> str:
        return str(shown(name, float(found.facts[name]), str(found.facts[name].attrs["units"]), units))

    def of(figure: str) -> str:
        return _held_against(found, targets[figure], units) if figure in targets else ""

    def mass(kg_per_m2: float) -> str:
        return say(kg_per_m2, "kg/m2", "load", units)

    unclaimed = refusal(rot_risk_days=float(found.facts["rot_risk_days"]), blocked_fraction=found.roof.blocked_fraction)
    mark = " (not to be claimed: water that cannot leave counts as kept)" if unclaimed else ""
    spell = say(float(found.facts["longest_dry_spell"]), "day", "days", units)
    return [
        Reading("Retention, whole record", f"{fact('retention')}{mark}", of("retention")),
        Reading("Captured a year, whole roof", f"{fact('annual_capture_m3')}{mark}"),
        Reading("Dry days", f"{fact('dry_days')}, longest {spell}", of("dry_days")),
        Reading("Drought risk", fact("drought_risk_days")),
        Reading("Waterlogged days", _wet_words(found, units), of("waterlogged_days")),
        Reading("Root rot risk", fact("rot_risk_days")),
        Reading("Mass drained", mass(found.drained), of("drained_mass")),
        Reading("Mass soaked, drainage layer full", mass(found.soaked)),
        Reading("Mass ponded at the outlets, all blocked", mass(found.ponded)),
    ]


def _held_against(found: Reckoning, target: Target, units: str) -> str:
    if found.meets(target):
        return f"meets: {target.words_in(units)}"
    return f"MISSES: {target.missed_words(found.figure(target.figure), units)}"


def _wet_words(found: Reckoning, units: str) -> str:
    """Tell waterlogged days together with how much of the roof they concern: a count alone misleads."""
    facts = found.facts
    days = float(facts["waterlogged_days"])
    if days == 0.0:
        return "none (any open board gives that)" if found.roof.blocked_fraction == 0.0 else "none"
    spell = say(float(facts["longest_waterlogged_spell"]), "day", "days", units)
    width, length = found.wet_width_m, found.roof.flow_length_m
    wet = "the whole planting" if width > 0.99 * length else f"the lowest {say(width, 'm', 'length', units)} on average"
    area_days = float(facts["waterlogged_area_days"])
    return (
        f"{say(days, 'day/year', system=units)} of {wet}, longest {spell}; whole-roof days: "
        f"{say(area_days, 'day/year', system=units)}"
    )


def outlet_words(found: Reckoning, units: str) -> str:
    """Return the verdict on the outlets, or what it needs."""
    if found.outlets is None:
        return "No storm is known for this place, so the outlets are not judged: name a depth-duration table below."
    return described_verdict(found.outlets, units=units)


def outlets_hold(found: Reckoning) -> bool | None:
    """Tell whether the outlets hold with one lost; None where they are not judged."""
    return None if found.outlets is None else bool(found.outlets["meets_with_loss"])


def sure_words(line: FirstLine, warned: str, units: str) -> str:
    """Return the range of retention as a sentence, with the size of the sample it rests on.

    Parameters
    ----------
    line
        The first line on retention.
    warned
        What was warned of when it was worked out; empty for nothing.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    str
        Two or three sentences.
    """
    sample = f"From {MEMBERS} parameter sets, for orientation: what is handed in should draw 200 (runoff dossier)."
    return " ".join(one for one in (line.words(units), sample, warned) if one)


def changed_name(roof: Roof, base: Roof) -> str:
    """Return the name of a roof as it goes into a file: one that was changed here says so."""
    same = roof.build_up == base.build_up and roof.outlets == base.outlets
    mark = " (changed at the desk)"
    return base.name if same or base.name.endswith(mark) else f"{base.name or 'Roof'}{mark}"
