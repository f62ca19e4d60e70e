"""Numbers of outlets and emergency overflow in words, SI or US customary units."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.saying.numbers import share
from runoff.saying.scales import Shown, in_order, shown

# what the units of an outlet's figures stand for, where it is not what they measure
_KINDS = {"mm": "level"}


def outlet_value(value: float, unit: str, units: str = "si") -> Shown:
    """Return a figure of outlets as shown to a person; depths of water on the deck are levels.

    Parameters
    ----------
    value
        In `unit`; NaN where missing.
    unit
        An SI unit, as figures of outlets are kept.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    Shown
        Number and unit as text.
    """
    return shown(value, unit, _KINDS.get(unit, ""), units)


def shown_text(value: float, unit: str, units: str = "si") -> str:
    """Return a number with its unit in the unit system asked for; a dash where it is missing.

    Parameters
    ----------
    value, unit, units
        As in `outlet_value`.

    Returns
    -------
    str
        Such as ``"25 mm"``.
    """
    return str(outlet_value(value, unit, units))


def opening_words(one: xr.Dataset, units: str = "si") -> str:
    """Return the size of one candidate's opening: ``100 mm``, ``300 x 100 mm``."""
    sides = [float(one[name]) for name in ("diameter_mm", "width_mm", "height_mm", "length_mm") if name in one]
    shown_sides = [shown(side, "mm", "layer depth", units) for side in sides if np.isfinite(side)]
    return f"{' x '.join(one.text for one in shown_sides)} {shown_sides[0].unit}"


#: Depths that differ by less than this with every candidate do not depend on the outlets, mm.
_SAME_DEPTH_MM = 1.0


#: Rain of one step longer than this hides heavier bursts, min.
LONGEST_STEP_MIN = 5.0


def verdict(table: xr.Dataset, *, units: str = "si") -> str:
    """Say which outlets were chosen, or why none, and what the emergency overflow alone means.

    Parameters
    ----------
    table
        What `runoff.sizing.outlets.size_outlets` returned.
    units
        ``"si"`` or ``"us"``.
    """
    chosen, lost = int(table["chosen"]), int(table.attrs["lost"])
    limit = shown_text(float(table.attrs["allowable_depth_mm"]), "mm", units)
    loss = "" if lost == 0 else f" even with {lost} of them lost"
    if chosen >= 0:
        first = _choice(table.isel(candidate=chosen), limit, loss, lost, units)
        if table.attrs["storage_credit"] == "yes":
            first = f"{first} {_without_credit(table, units)}"
    else:
        first = f"No candidate keeps the water below {limit}{loss}: {_why_none(table, units)}."
    return " ".join(part for part in (first, long_step_words(table), _blocked_words(table, units)) if part)


def described_verdict(table: xr.Dataset, *, units: str = "si") -> str:
    """Say whether the outlets described hold, and how high water stands with every one of them blocked.

    Parameters
    ----------
    table
        What `runoff.sizing.described_outlets.check_outlets` returned.
    units
        ``"si"`` or ``"us"``.
    """
    lost, by_edge = int(table.attrs["lost"]), table.attrs["edge_alone"] == "yes"
    limit = shown_text(float(table.attrs["allowable_depth_mm"]), "mm", units)
    half = f"with {_edge_left(table)}"
    assumed = table.attrs.get("outlets_assumed") == "yes"  # that is one outlet
    of_them = "it" if assumed else f"{lost} of them"
    loss = "" if lost == 0 else f" even {half}" if by_edge else f" even with {of_them} lost"
    then = half if by_edge else f"with {lost} lost"

    def depths(name: str) -> str:
        opened, after = (shown_text(float(table[name].sel(state=one)), "mm", units) for one in ("open", "lost"))
        return opened if lost == 0 else f"{opened} open, {after} {then}"

    if not table.sizes["outlet"]:
        return f"The roof has no outlets: everything must leave over the emergency overflow. {_blocked_words(table, units)}"
    holds = bool(table["meets_with_loss"])
    one = "The outlet assumed" if assumed else "The edge described" if by_edge else "The outlets described"
    single = assumed or by_edge
    verb = ("keeps" if single else "keep") if holds else ("does not keep" if single else "do not keep")
    first = (
        f"{one} ({described_words(table, units)}) {verb} the water below {limit}{loss}. Design peak, no credit for storage: "
        f"{depths('head')}. Routed storm: {depths('depth')}."
    )
    if table.attrs["storage_credit"] == "yes" and bool(
        (table["head"].sel(state=["open", "lost"]) > limit_of(table)).any()
    ):
        first += " This counts on storage: without that credit they would not hold."
    told = (
        first,
        long_step_words(table),
        _unreal_heads(table, units),
        _blocked_share_words(table),
        gutter_words(table, units),
        _blocked_words(table, units),
    )
    return " ".join(part for part in told if part)


def long_step_words(table: xr.Dataset) -> str:
    """Say of a storm in long steps that its heaviest rain is no rain of minutes; nothing of one in minutes."""
    minutes = float(table.attrs.get("step_minutes", 0.0))
    if minutes <= LONGEST_STEP_MIN + 1e-9:
        return ""
    return (
        f"The heaviest rain is a mean over {minutes:g} min: bursts of minutes are heavier. Codes differ (ASCE 7-16, section 8.2: 60 min "
        "for primary and 15 min for secondary drainage; 2 to 5 min in Europe, from memory): take the step of the code in force."
    )


def _unreal_heads(table: xr.Dataset, units: str) -> str:
    """Say of heads above the water with all blocked that they are never reached; nothing where there are none."""
    states = ["open", "lost", "share_blocked"] if int(table.attrs["lost"]) else ["open", "share_blocked"]
    most = float(table["overflow_depth"])
    if not bool((table["head"].sel(state=states) > most + _SAME_DEPTH_MM).any()):
        return ""
    to_edge = str(table.attrs["ponded"]).startswith("ponded to the edge") or not np.isfinite(
        float(table["overflow_head"])
    )
    takes = "the edge" if to_edge else "the emergency overflow"
    return (
        f"A head above {shown_text(most, 'mm', units)} is what the outlets alone would need: {takes} takes water before it is "
        "reached."
    )


def _blocked_share_words(table: xr.Dataset) -> str:
    """Say that the roof file counts part of the drainage as blocked; nothing where it counts none."""
    blocked = float(table.attrs.get("blocked_fraction", 0.0))
    if blocked <= 0.0:
        return ""
    return (
        f"The roof file counts {share(blocked)} of layer and outlets as blocked (blocked_fraction), in every state: outlets "
        "are sized with 0."
    )


def caution_words(table: xr.Dataset, units: str = "si") -> str:
    """Return the cautions of outlets and emergency overflow, their amounts in the unit system asked for first."""
    return in_order(str(table.attrs.get("caution", "")), units)


def gutter_words(table: xr.Dataset, units: str = "si") -> str:
    """Say whether the gutter along an edge takes the design peak; nothing where the roof has no edge."""
    if table.attrs["has_edge"] == "no":
        return ""
    takes, peak = float(table["gutter"]), float(table["design_peak"])
    asked = f"the design peak is {shown_text(peak, 'L/s', units)}"
    if not np.isfinite(takes):
        return f"The gutter along the edge is not described: {asked}, give what it takes as gutter_l_per_s."
    verb = "takes the design peak" if takes >= peak else "does not take the design peak and runs over"
    return f"The gutter along the edge {verb}: it takes {shown_text(takes, 'L/s', units)}, {asked}."


def described_words(table: xr.Dataset, units: str = "si") -> str:
    """Return the outlets described in words: ``3 round outlets of 100 mm``."""
    return " and ".join(each_described(table, units)) or "none"


def each_described(table: xr.Dataset, units: str = "si") -> list[str]:
    """Return every kind of outlet described in words, as `described_words` joins them."""
    return [_candidate_words(table.isel(outlet=at), units) for at in range(table.sizes["outlet"])]


def limit_of(table: xr.Dataset) -> float:
    """Return the depth allowed, mm."""
    return float(table.attrs["allowable_depth_mm"])


def _edge_left(table: xr.Dataset) -> str:
    return f"{100.0 * float(table.attrs['edge_left']):.0f} % of the edge's length left"


def _blocked_words(table: xr.Dataset, units: str) -> str:
    """Say how high water stands with every primary outlet blocked."""
    sill, head, depth = (
        shown_text(float(table[name]), "mm", units) for name in ("overflow_sill", "overflow_head", "overflow_depth")
    )
    ponded = str(table.attrs["ponded"])
    said = f"With every primary outlet blocked, water stands {depth} over the deck"
    if table.attrs.get("edge_alone") == "yes":
        said = f"With {_edge_left(table)}, water stands {depth} over the deck"
    if not np.isfinite(float(table["overflow_sill"])):
        why = "the roof has no emergency overflow"
        return (
            f"{said}, {ponded}; {why}." if ponded.startswith(("over", "in the")) else f"{said}, up to the edge: {why}."
        )
    if not np.isfinite(float(table["overflow_head"])):
        return f"{said}, up to the edge: the opening of the emergency overflow is not described, give its width and height."
    if ponded.startswith("ponded to the edge"):
        return f"{said}, up to the edge: the head over the emergency overflow reaches it.{_drowned_words(table)}"
    return f"{said}: {sill} to the sill of the emergency overflow and {head} of head over it.{_drowned_words(table)}"


def _drowned_words(table: xr.Dataset) -> str:
    """Say that the emergency overflow is lower than the head over it; nothing where it is not."""
    return " That is more than the opening is high: it runs drowned." if table.attrs.get("drowned") == "yes" else ""


def _choice(one: xr.Dataset, limit: str, loss: str, lost: int, units: str) -> str:
    number, words = int(one["number"]), _candidate_words(one, units)
    opened, then = (shown_text(float(one[name]), "mm", units) for name in ("depth", "depth_some_lost"))
    depths = f"{opened} open, {then} then" if lost else opened
    said = f"{words} {'keep' if number > 1 else 'keeps'} the water at the outlets below {limit}{loss} ({depths})."
    hand = "rational_head_some_lost" if lost else "rational_head"
    head = float(one[hand])
    if not np.isfinite(head):
        return said
    by_hand = f"by the rational method, C = 1, with no credit for storage or planting, the head is {shown_text(head, 'mm', units)}"
    if one.attrs.get("storage_credit") == "yes":
        return f"{said} This counts on storage; {by_hand}."
    return f"{said} Checked {by_hand}{' with that loss' if lost else ''}."


def _candidate_words(one: xr.Dataset, units: str) -> str:
    number = int(one["number"])
    return f"{number} {one['kind'].item()} outlet{'s' if number > 1 else ''} of {opening_words(one, units)}"


def _without_credit(table: xr.Dataset, units: str) -> str:
    """Say what would be chosen without credit for storage."""
    without = int(table["chosen_without_credit"])
    if without == int(table["chosen"]):
        return "Without that credit the choice is the same."
    if without < 0:
        return "Without that credit no candidate holds."
    return f"Without that credit it would need {_candidate_words(table.isel(candidate=without), units)}."


def _why_none(table: xr.Dataset, units: str) -> str:
    depths = table["depth"]
    if bool(table["spills"].all()) or float(depths.max() - depths.min()) < _SAME_DEPTH_MM:
        if float(table.attrs.get("blocked_fraction", 0.0)) > 0.0:
            part = share(float(table.attrs["blocked_fraction"]))
            return (
                f"the water stands {shown_text(float(depths.min()), 'mm', units)} deep or more with every one of them, and the roof "
                f"file counts {part} of layer and outlets as blocked: clear them, and describe the roof with blocked_fraction 0"
            )
        if float(table["rational_head"].min()) <= float(
            table.attrs["allowable_depth_mm"]
        ):  # the outlets pass it all in time
            return (
                f"the water stands {shown_text(float(depths.min()), 'mm', units)} deep or more with every one of them, so the drainage "
                "layer, not the outlets, holds the water back; shorten the way to the outlets or choose a board with more in-plane flow"
            )
    if bool(table["meets"].any()):
        return "some do with all outlets open; add outlets, or accept fewer lost"
    lowest = shown_text(float(table["depth"].min()), "mm", units)
    return f"the lowest depth reached is {lowest}; try larger outlets or more of them"
