"""Free water at the foot of the deck: one piece of the geometry, all openings weirs, nothing else limiting.

There volume and outflow are polynomials in u, the root of the level: ``V = u^2 (slope + bend u^2 / 4)``, ``q = weir u^3``, so
that two implicit stages are solved by Halley steps, and what stands without inflow empties in closed form: on a wedge u
falls evenly, on a level deck as 1/(1 + B t u). See `runoff.balance.minute_steps` for the stages.

A dry deck that begins to fill has an outflow that rises from nothing, which stages do not follow (they miss 5 % of it). With
x the share of u at which nothing would have left yet, outflow goes with the time to the power p, from p = 3/4 on a wedge
(3/2 on a level deck) while little has left to 0 when it is steady: ``V + t q / (1 + p(x)) = inflow``. With
``p = x^4 (1.2 - 0.45 x^4)`` on a wedge and ``p = x^2 (0.53 + 2.2 x - 1.23 x^2)`` on a level deck the outflow is within 0.5 % of
the exact one and the level within 0.6 %, for any inflow, time and weir (fitted to the solved equation), and never higher
than the steady one.

On a level deck that loses little of its water in the time, inflow and emptying are taken in turn: no search is needed.
"""

from __future__ import annotations

import math

from runoff.balance.loop_choice import joined_late

#: Of the two implicit stages: g = 1 - 1/sqrt 2, and 1 - g.
STAGE = 1.0 - math.sqrt(0.5)
REST = 1.0 - STAGE
FOOT_CLOSE = 1e-3  # Halley ends with a step shorter than this share of u: what is left is about its third power
SLOW = 0.03  # a level deck loses about twice this share of its water in a time in which it counts as slow
FILL_CLOSE = 1e-4  # Newton ends with a step shorter than this share of x: what is left is about its square


def ends_between(rate: float, early: float, late: float) -> bool:
    """Tell whether the stages of a substep lie on either side of the level at which outflow equals inflow.

    Parameters
    ----------
    rate, early, late
        Inflow, and outflow at the levels of both stages, mm/min.

    Returns
    -------
    bool
    """
    return (rate - early) * (rate - late) < -1e-12 * rate * rate


def foot_start(rhs: float, on_wedge: float, on_level: float) -> float:
    """Return the u at which all of `rhs` stands at the foot of the deck: its fourth root on a wedge, its root on a level.

    Parameters
    ----------
    rhs
        Free water, mm.
    on_wedge, on_level
        Factors of its fourth root, mm^0.25, and of its root, a number; the one that does not apply is 0.

    Returns
    -------
    float
        u, mm^0.5.
    """
    root = math.sqrt(max(0.0, rhs))
    return on_level * root if on_level > 0.0 else on_wedge * math.sqrt(root)


def foot_next(u: float, rhs: float, slope: float, bend: float, pull: float) -> float:
    """Do one Halley step for V(u^2) + pull u^3 = rhs at the foot of the deck: third order, and safe from either side.

    Parameters
    ----------
    u, rhs
        Where the search stands, mm^0.5, and what the left side comes to, mm.
    slope, bend
        Of the geometry at the foot: mm of water per mm of level, and 1/mm.
    pull
        Weir times the minutes it counts for, mm per mm^1.5.

    Returns
    -------
    float
        The next u, mm^0.5.
    """
    square = u * u
    curved, cubic = bend * square, pull * u
    excess = square * (slope + 0.25 * curved + cubic) - rhs
    steep = u * (2.0 * slope + curved + 3.0 * cubic)
    bow = 2.0 * slope + 3.0 * curved + 6.0 * cubic
    return u - 2.0 * excess * steep / (2.0 * steep * steep - excess * bow) if u > 0.0 else 0.0


def foot_water(u: float, slope: float, bend: float) -> float:
    """Return the free water at the foot of the deck, mm.

    Parameters
    ----------
    u, slope, bend
        As in `foot_next`.

    Returns
    -------
    float
        mm.
    """
    return u * u * (slope + 0.25 * bend * (u * u))


def foot_end(
    supply: float, rate: float, minutes: float, first_u: float, u: float, early: float, late: float, rest: float,
    slope: float, bend: float,
) -> tuple[float, float]:  # fmt: skip
    """Return what is left at the foot of the deck after two stages, and its u.

    Parameters
    ----------
    supply
        Free water before the substep and its inflow, mm.
    rate, minutes
        Inflow, mm/min, and length of the substep, min.
    first_u, u, early, late
        Roots of the levels of both stages, mm^0.5, and outflow at them, mm/min.
    rest
        What the second stage starts from, mm.
    slope, bend
        As in `foot_next`.

    Returns
    -------
    left, u : float
        mm and mm^0.5.
    """
    left = max(0.0, rest - STAGE * minutes * late)
    between = ends_between(rate, early, late)
    u = first_u + (u - first_u) * ((rate - early) / (late - early)) if between else u
    return min(supply, foot_water(u, slope, bend)) if between else left, u


@joined_late
def foot_run_off(
    Q: float, inflow: float, minutes: float, slope: float, bend: float, weir: float, on_wedge: float, on_level: float,
    even_fall: float, slowing: float, trickle: float,
) -> tuple[float, float]:  # fmt: skip
    """Let free water at the foot of the deck run off.

    Parameters
    ----------
    Q, inflow, minutes
        Free water and what joins it, mm, evenly over the minutes.
    slope, bend, on_wedge, on_level
        As in `foot_next` and `foot_start`.
    weir
        Of all outlets together, mm/min per mm^1.5.
    even_fall, slowing
        Fall of u on a wedge, mm^0.5/min, and B of a level deck, 1/(mm^0.5 min); the one that does not apply is 0.
    trickle
        Inflow up to which the emptying is taken in closed form, mm/min.

    Returns
    -------
    Q, u : float
        mm and mm^0.5.
    """
    if inflow <= trickle * minutes:
        u = foot_start(Q + inflow, on_wedge, on_level)
        return empty_foot(Q + inflow, u, minutes, slope, bend, even_fall, slowing)
    if Q <= 0.0:
        full = foot_start(inflow, on_wedge, on_level)
        theta, x = fill_start(inflow, minutes, full, weir, on_wedge)
        u = full * no_higher_than_steady(_fill_root(x, theta, on_wedge), theta)
        return min(inflow, foot_water(u, slope, bend)), u
    if hardly_empties(Q + inflow, minutes, on_level, slowing):
        return slow_run_off(Q, inflow, minutes, slope, bend, on_wedge, on_level, even_fall, slowing)
    pull = STAGE * minutes * weir
    first = Q + STAGE * inflow
    first_u = foot_root(foot_start(first, on_wedge, on_level), first, slope, bend, pull)
    early = weir * first_u * first_u * first_u
    rest = Q + inflow - REST * minutes * early
    u = first_u if rest > 0.0 else 0.0
    u = foot_root(u, rest, slope, bend, pull)
    late = weir * u * u * u
    return foot_end(Q + inflow, inflow / minutes, minutes, first_u, u, early, late, rest, slope, bend)


def hardly_empties(supply: float, minutes: float, on_level: float, slowing: float) -> bool:
    """Tell whether a deck is level and its foot so slow that inflow and outflow may be taken in turn.

    Parameters
    ----------
    supply, minutes, on_level, slowing
        Free water and inflow, mm, and the time, min; the rest as in `foot_run_off`.

    Returns
    -------
    bool
    """
    share = slowing * minutes * on_level  # of the root of what stands
    return (on_level > 0.0) & (share * share * supply <= SLOW * SLOW)


def slow_run_off(
    Q: float, inflow: float, minutes: float, slope: float, bend: float, on_wedge: float, on_level: float,
    even_fall: float, slowing: float,
) -> tuple[float, float]:  # fmt: skip
    """Take half the inflow, the emptying in closed form, and the other half: second order, steady in the end.

    Parameters
    ----------
    Q, inflow, minutes, slope, bend, on_wedge, on_level, even_fall, slowing
        As in `foot_run_off`.

    Returns
    -------
    Q, u : float
        mm and mm^0.5.
    """
    half = 0.5 * inflow
    u = foot_start(Q + half, on_wedge, on_level)
    left, u = empty_foot(Q + half, u, minutes, slope, bend, even_fall, slowing)
    return left + half, foot_start(left + half, on_wedge, on_level)


def foot_root(u: float, rhs: float, slope: float, bend: float, pull: float) -> float:
    """Return the root of `foot_next` that is found from u.

    Parameters
    ----------
    u, rhs, slope, bend, pull
        As in `foot_next`.

    Returns
    -------
    float
        u, mm^0.5.
    """
    change = math.inf
    while abs(change) > FOOT_CLOSE * u:
        then = foot_next(u, rhs, slope, bend, pull)
        change = then - u
        u = then
    return u


def empty_foot(
    Q: float, u: float, minutes: float, slope: float, bend: float, even_fall: float, slowing: float
) -> tuple[float, float]:
    """Empty the foot of the deck for a time without inflow, in closed form.

    Parameters
    ----------
    Q, u, minutes
        Free water, mm, the root of its level, mm^0.5, and the time, min.
    slope, bend, even_fall, slowing
        As in `foot_run_off`.

    Returns
    -------
    Q, u : float
        mm and mm^0.5.
    """
    u = max(0.0, u - even_fall * minutes) / (1.0 + slowing * minutes * u)
    return min(Q, foot_water(u, slope, bend)), u


def fill_start(inflow: float, minutes: float, full: float, weir: float, on_wedge: float) -> tuple[float, float]:
    """Find where the search for the level of a deck that fills from dry begins.

    Parameters
    ----------
    inflow, minutes
        What arrives, mm, evenly over the minutes.
    full, weir, on_wedge
        u with all of the inflow standing, mm^0.5; the rest as in `foot_run_off`.

    Returns
    -------
    theta, x : float
        What the weir would take at that level as a share of the inflow, and the first x, a share of `full`.
    """
    theta = weir * full * full * full * minutes / inflow
    return theta, max(0.2, 1.0 / (1.0 + theta * (1.0 / 7.0 if on_wedge > 0.0 else 0.2)))


def fill_next(x: float, theta: float, on_wedge: float) -> float:
    """Do one Newton step for ``(V / inflow - 1)(1 + p) + theta x^3 = 0`` on a deck that fills from dry.

    Parameters
    ----------
    x, theta, on_wedge
        As `fill_start` returns them, shares; on a wedge `on_wedge` is above 0.

    Returns
    -------
    float
        The next x, a share.
    """
    square = x * x
    stands = square * square if on_wedge > 0.0 else square
    stands_slope = 4.0 * square * x if on_wedge > 0.0 else 2.0 * x
    p = stands * (1.2 - 0.45 * stands) if on_wedge > 0.0 else square * (0.53 + x * (2.2 - 1.23 * x))
    p_slope = stands_slope * (1.2 - 0.9 * stands) if on_wedge > 0.0 else x * (1.06 + x * (6.6 - 4.92 * x))
    excess = (stands - 1.0) * (1.0 + p) + theta * square * x
    return x - excess / (stands_slope * (1.0 + p) + (stands - 1.0) * p_slope + 3.0 * theta * square)


def _fill_root(x: float, theta: float, on_wedge: float) -> float:
    """Return the root of `fill_next` that is found from x."""
    change = math.inf
    while abs(change) > FILL_CLOSE * x:
        then = fill_next(x, theta, on_wedge)
        change = then - x
        x = then
    return x


def no_higher_than_steady(x: float, theta: float) -> float:
    """Return x, or where it stands a little higher than outflow that equals the inflow, that of the steady level."""
    x = _towards_steady(x, theta)
    return _towards_steady(x, theta)


def _towards_steady(x: float, theta: float) -> float:
    excess = theta * x * x * x - 1.0
    return x - excess / (3.0 * theta * x * x) if excess > 0.0 else x  # Newton, which stays above from above
