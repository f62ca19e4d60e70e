"""One geometry of free water: what stands or runs between the deck and the sky, and how high it stands.

A deck is a plane of length ``L`` and fall ``s``; ``d = 1000 s L`` (mm) is its drop from the ridge to the outlets, and a
drop under 0.01 mm counts as none. Heights and levels are mm above the deck at the outlets; the level is the same all
over the roof. From the deck up a column takes ``a1`` mm of free water per mm through the board, to its top ``h_b``;
``a2`` through the medium, which is ``z`` deep; and 1 above. With

    A(x) = clip(x/d, 0, 1)                    share of the roof that lies lower than x (d = 0: 1 if x > 0, else 0)
    R(x) = A(x) (max(0, x) - d A(x)/2)        mean height of water over the roof

the water is ``V(h) = a1 (R(h) - R(h - h_b)) + a2 (R(h - h_b) - R(h - h_b - z)) + R(h - h_b - z)``: parts in the board, in
the medium and in the pond above it. V is linear or quadratic between the ends ``H_i`` (0, h_b, h_b + z, each also + d,
sorted), so that the level follows from the water without iteration. With ``V_i = V(H_i)``, ``v_i`` the slope of V to the
right of H_i, ``k_i = 2 V''`` and the last i with ``Q >= V_i``:

    h(Q) = H_i + 2 D / (v_i + sqrt(v_i^2 + k_i D)),   D = Q - V_i

A bare deck is a column of 1 per mm throughout; gravel takes its share of pores up to its depth and 1 above.

The functions take floats and give floats, so that the loops of days and of minutes, compiled or not, can write them into
their steps. `Deck` holds the constants of one deck, and `decks` works them out for any number of roofs.

Examples
--------
>>> deck = decks(fall=0.02, flow_length_m=5.0, board_height=25.0, board_water=20.0, medium_depth=80.0, medium_water=24.0)
>>> round(volume(60.0, deck), 3)  # by hand: 0.8 (18 - 6.125) + 0.3 x 6.125
11.338
>>> round(level(volume(60.0, deck), deck), 9)
60.0
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from runoff.balance.loop_choice import joined_late, pick, reader_of
from runoff.errors import RunoffError

#: A drop below this counts as none, mm.
LEAST_DROP_MM = 0.01
#: The least and the largest share of a board's height that free water can take.
LEAST_SHARE, LARGEST_SHARE = 0.01, 1.0
_ROUNDING_MM = 1e-9
_NO_WATER = 1e-300
_DECK_STEPS = 4  # working out one deck in plain Python takes about as long as this many days of a column


class Deck(NamedTuple):
    """The constants of one deck (or of many, each field then an array), as `decks` makes them.

    Parameters
    ----------
    drop
        d, mm.
    board_height, medium_depth
        h_b and z, mm; 0 on a bare deck.
    board_share, medium_share
        a1 and a2, mm of free water per mm of height.
    end_1, ..., end_5
        H_i, mm, rising; H_0 is 0.
    water_1, ..., water_5
        V_i, mm; V_0 is 0.
    slope_0, ..., slope_5
        v_i, mm of water per mm of level.
    bend_0, ..., bend_5
        k_i, 1/mm.
    per_drop
        1/d, 1/mm; 0 on a level deck.
    """

    drop: float
    board_height: float
    medium_depth: float
    board_share: float
    medium_share: float
    end_1: float
    end_2: float
    end_3: float
    end_4: float
    end_5: float
    water_1: float
    water_2: float
    water_3: float
    water_4: float
    water_5: float
    slope_0: float
    slope_1: float
    slope_2: float
    slope_3: float
    slope_4: float
    slope_5: float
    bend_0: float
    bend_1: float
    bend_2: float
    bend_3: float
    bend_4: float
    bend_5: float
    per_drop: float


def share_lower(x: float, drop: float) -> float:
    """Return the share of the roof that lies lower than x: A(x)."""
    return 0.0 if x <= 0.0 else (x / drop if x < drop else 1.0)


def share_above(level_mm: float, height: float, drop: float) -> float:
    """Return the share of the roof where water stands higher than `height`: a(h, y).

    Parameters
    ----------
    level_mm, height, drop
        Level and height above the deck at the outlets, and the drop of the deck, mm.

    Returns
    -------
    float
        Share, 0-1.
    """
    return share_lower(level_mm - height - _ROUNDING_MM, drop)


def mean_depth(x: float, drop: float, per_drop: float) -> float:
    """Return the mean depth over the roof of water that reaches x above the deck at the outlets, mm: R(x).

    Parameters
    ----------
    x, drop, per_drop
        mm, mm and 1/mm; `per_drop` is 0 on a level deck.

    Returns
    -------
    float
        mm.
    """
    return 0.0 if x <= 0.0 else (0.5 * x * (x * per_drop) if x < drop else x - 0.5 * drop)


def _layer_mean(x: float, y: float, thickness: float, drop: float, per_drop: float) -> float:
    """Return R(x) - R(y), where x and y = x - thickness are the level above the foot and above the top of a layer.

    Written so that nothing large is taken from anything large: the layer may be thin on a tall drop, or thick on a small.
    """
    partly = thickness * thickness if x < drop else (drop - y) * (thickness + (x - drop))
    part = mean_depth(x, drop, per_drop) if y <= 0.0 else thickness
    return (thickness * y + 0.5 * partly) * per_drop if (y > 0.0) & (y < drop) else part


def _layer_slope(x: float, y: float, thickness: float, drop: float) -> float:
    """Return the slope of `_layer_mean` in x; where it jumps, on the side of rising water."""
    if y < 0.0:
        return 0.0 if x < 0.0 else (x / drop if x < drop else 1.0)
    return 0.0 if y >= drop else (thickness if x < drop else drop - y) / drop


def board_part(level_mm: float, deck: Deck) -> float:
    """Return the free water in the board at a level, mm over the roof."""
    x = level_mm - deck.board_height
    return deck.board_share * _layer_mean(level_mm, x, deck.board_height, deck.drop, deck.per_drop)


def medium_part(level_mm: float, deck: Deck) -> float:
    """Return the free water in the medium at a level, mm over the roof."""
    x = level_mm - deck.board_height
    return deck.medium_share * _layer_mean(x, x - deck.medium_depth, deck.medium_depth, deck.drop, deck.per_drop)


def pond_part(level_mm: float, deck: Deck) -> float:
    """Return the free water above the medium at a level, mm over the roof."""
    return mean_depth(level_mm - deck.board_height - deck.medium_depth, deck.drop, deck.per_drop)


def volume(level_mm: float, deck: Deck) -> float:
    """Return the free water at a level, mm over the roof: V(h)."""
    return board_part(level_mm, deck) + medium_part(level_mm, deck) + pond_part(level_mm, deck)


def surface_share(level_mm: float, deck: Deck) -> float:
    """Return the slope of `volume`, mm of water per mm of level (at a kink, on the side of rising water)."""
    x = level_mm - deck.board_height
    y = x - deck.medium_depth
    pond = 0.0 if y < 0.0 else (y / deck.drop if y < deck.drop else 1.0)
    board = deck.board_share * _layer_slope(level_mm, x, deck.board_height, deck.drop)
    return board + deck.medium_share * _layer_slope(x, y, deck.medium_depth, deck.drop) + pond


def level(water: float, deck: Deck) -> float:
    """Return the level at which `water` (mm over the roof) stands, mm above the deck at the outlets: h(Q)."""
    end, beyond, slope, squared = piece_of(water, deck)
    h = level_on(end, beyond, slope, squared)
    return 0.0 if water <= _NO_WATER else h


def piece_of(water: float, deck: Deck) -> tuple[float, float, float, float]:
    """Return the piece of h(Q) on which `water` (mm over the roof) lies.

    Returns
    -------
    end, beyond, slope, squared : float
        Level at which the piece begins, mm; water beyond that, mm (1 where there is none, which stands at 0); dV/dh there, mm
        of water per mm of level, and its square where the water stands.
    """
    end, start, slope, bend = 0.0, 0.0, deck.slope_0, deck.bend_0
    reached = water >= deck.water_1
    end = deck.end_1 if reached else end
    start = deck.water_1 if reached else start
    slope = deck.slope_1 if reached else slope
    bend = deck.bend_1 if reached else bend
    reached = water >= deck.water_2
    end = deck.end_2 if reached else end
    start = deck.water_2 if reached else start
    slope = deck.slope_2 if reached else slope
    bend = deck.bend_2 if reached else bend
    reached = water >= deck.water_3
    end = deck.end_3 if reached else end
    start = deck.water_3 if reached else start
    slope = deck.slope_3 if reached else slope
    bend = deck.bend_3 if reached else bend
    reached = water >= deck.water_4
    end = deck.end_4 if reached else end
    start = deck.water_4 if reached else start
    slope = deck.slope_4 if reached else slope
    bend = deck.bend_4 if reached else bend
    reached = water >= deck.water_5
    end = deck.end_5 if reached else end
    start = deck.water_5 if reached else start
    slope = deck.slope_5 if reached else slope
    bend = deck.bend_5 if reached else bend
    beyond = 1.0 if water <= _NO_WATER else water - start
    return end, beyond, slope, slope * slope + bend * beyond


def level_on(end: float, beyond: float, slope: float, squared: float) -> float:
    """Return the level on a piece of h(Q), from `piece_of`.

    Parameters
    ----------
    end, beyond, slope, squared
        As `piece_of` returns them, mm and mm of water per mm of level.

    Returns
    -------
    float
        mm above the deck at the outlets.
    """
    return end + 2.0 * beyond / (slope + math.sqrt(squared))


def in_plane_rate(level_mm: float, tested: float, tested_slope: float, least_level: float, linear: float) -> float:
    """Return what the drainage layer carries to the outlets at a level, before any blockage.

    The tested in-plane flow (EN ISO 12958) goes with the gradient in mats (``linear`` 1) and with its root in boards (0).
    The gradient is that of the deck or of the water itself, whichever is more: max(s, h_b/(1000 L), h/(1000 L)), which is
    the larger of ``least_level`` = max(1000 s L, h_b) and h over 1000 L; ``tested_slope`` is 1/(1000 L x tested gradient).

    Parameters
    ----------
    level_mm
        Level of free water, mm.
    tested
        Flow at the tested gradient, mm of the roof in a time: an hour, a minute or a day.
    tested_slope, least_level
        1/mm and mm, as above.
    linear
        The number 1 for a mat, 0 for a board.

    Returns
    -------
    float
        In the unit of `tested`.
    """
    steepness = max(least_level, level_mm) * tested_slope
    return tested * (steepness if linear > 0.0 else math.sqrt(steepness))


#: ``deck_at(rows, at, stride)``: the deck whose constants stand in a flat array.
deck_at = reader_of(Deck)


def fill_volumes(levels: Any, rows: Any, out: Any, designs: int) -> None:
    """Write `volume` for many designs.

    Parameters
    ----------
    levels, out
        Levels, and receives free water, mm, flat: those of all designs, one or more times.
    rows
        Constants, Deck field by Deck field, flat.
    designs
        How many.
    """
    for i in range(designs):
        deck = deck_at(rows, i, designs)
        for at in range(i, len(levels), designs):
            out[at] = volume(levels[at], deck)


@joined_late
def _fill_deck(
    drop: float, board_height: float, medium_depth: float, board_share: float, medium_share: float, piece: Any,
    out: Any, at: int, stride: int,
) -> None:  # fmt: skip
    """Write the constants of one deck into flat `out`, from place `at` on, `stride` apart; `piece` is room for 18 numbers.

    The ends are told by the foot they belong to and whether the drop is added, never as ``(h_b + d) - h_b``: on a small
    drop that difference would be off by more than the slope can bear.
    """
    per_drop = 1.0 / drop if drop > 0.0 else 0.0
    for foot in range(3):
        for ridge in range(2):
            above = drop if ridge == 1 else 0.0
            # level above the deck, above the board, above the medium
            if foot == 0:
                x, y, w = above, above - board_height, above - (board_height + medium_depth)
            elif foot == 1:
                x, y, w = board_height + above, above, above - medium_depth
            else:
                x, y, w = (board_height + medium_depth) + above, medium_depth + above, above
            water = board_share * _layer_mean(x, y, board_height, drop, per_drop)
            water += medium_share * _layer_mean(y, w, medium_depth, drop, per_drop)
            water += mean_depth(w, drop, per_drop)
            slope = board_share * _layer_slope(x, y, board_height, drop)
            slope += medium_share * _layer_slope(y, w, medium_depth, drop)
            slope += 0.0 if w < 0.0 else (w / drop if w < drop else 1.0)
            # sorted in as it comes; equal ends stay in this order
            i = 2 * foot + ridge
            while i > 0 and piece[i - 1] > x:
                piece[i], piece[6 + i], piece[12 + i] = piece[i - 1], piece[5 + i], piece[11 + i]
                i -= 1
            piece[i], piece[6 + i], piece[12 + i] = x, water, slope
    out[at], out[at + stride], out[at + 2 * stride] = drop, board_height, medium_depth
    out[at + 3 * stride], out[at + 4 * stride] = board_share, medium_share
    for i in range(6):
        if i > 0:
            out[at + (4 + i) * stride], out[at + (9 + i) * stride] = piece[i], piece[6 + i]
        out[at + (15 + i) * stride] = piece[12 + i]
        # the bend is constant within a piece: read it in the middle
        x = 0.5 * (piece[i] + piece[i + 1]) if i < 5 else 2.0 * piece[5] + 1.0
        y = x - board_height
        w = y - medium_depth
        bend = 0.0
        if (x > 0.0) & (x < drop):
            bend += board_share / drop
        if (y > 0.0) & (y < drop):
            bend += (medium_share - board_share) / drop
        if (w > 0.0) & (w < drop):
            bend += (1.0 - medium_share) / drop
        out[at + (21 + i) * stride] = 2.0 * bend
    out[at + 27 * stride] = per_drop


def fill_decks(given: Any, out: Any, designs: int) -> None:
    """Write the constants of many decks.

    Parameters
    ----------
    given
        The first five fields of `Deck`, field by field, flat.
    out
        Receives all fields, field by field, flat.
    designs
        How many.
    """
    piece = [0.0] * 18
    for i in range(designs):
        drop, height, depth = given[i], given[designs + i], given[2 * designs + i]
        _fill_deck(drop, height, depth, given[3 * designs + i], given[4 * designs + i], piece, out, i, designs)


def decks(
    *,
    fall: Any,
    flow_length_m: Any,
    board_height: Any,
    board_water: Any,
    medium_depth: Any,
    medium_water: Any,
) -> Deck:
    """Return the constants of planted decks.

    Parameters
    ----------
    fall
        Fall of the deck, m per m.
    flow_length_m
        Length from the ridge to the line of outlets, m.
    board_height, board_water
        Height of the drainage board and the free water it holds when full, mm (without a board: those of the mat).
    medium_depth, medium_water
        Depth of the medium and the free water it takes between field capacity and saturation, mm.

    Returns
    -------
    Deck
        Of floats if all that is given are single numbers, else of arrays of shape ``(design,)``.

    Raises
    ------
    RunoffError
        When the board's free water is not between 0.01 and 1 times its height.
    """
    share = np.asarray(board_water, dtype=float) / np.asarray(board_height, dtype=float)
    wrong = ~((share >= LEAST_SHARE) & (share <= LARGEST_SHARE))
    if np.any(wrong):
        height, water = np.broadcast_arrays(board_height, board_water)
        first = np.flatnonzero(wrong)[0]
        tall, held = float(np.ravel(height)[first]), float(np.ravel(water)[first])
        raise RunoffError(
            f"free water in the drainage layer: {held:g} mm given for a layer {tall:g} mm high; it must lie between "
            f"{LEAST_SHARE * tall:g} and {tall:g} mm, so correct the free (void) storage or the height"
        )
    pores = np.asarray(medium_water, dtype=float) / np.asarray(medium_depth, dtype=float)
    return _made(fall, flow_length_m, board_height, medium_depth, share, pores)


def bare_decks(*, fall: Any, flow_length_m: Any, gravel_depth: Any = 0.0, gravel_pores: Any = 1.0) -> Deck:
    """Return the constants of decks without planting: bare, or under gravel.

    Parameters
    ----------
    fall, flow_length_m
        As in `decks`.
    gravel_depth, gravel_pores
        Depth of the gravel (mm; 0 on a bare deck) and its share of pores.

    Returns
    -------
    Deck
        Of floats if all that is given are single numbers, else of arrays of shape ``(design,)``.

    Raises
    ------
    RunoffError
        When the share of pores is not between 0.01 and 1.
    """
    pores = np.asarray(gravel_pores, dtype=float)
    wrong = ~((pores >= LEAST_SHARE) & (pores <= LARGEST_SHARE))
    if np.any(wrong):
        raise RunoffError(
            f"gravel: a share of pores of {float(np.ravel(pores)[np.flatnonzero(wrong)[0]]):g} was given; it must lie "
            f"between {LEAST_SHARE:g} and {LARGEST_SHARE:g} (0.4 is common)"
        )
    return _made(fall, flow_length_m, gravel_depth, 0.0, gravel_pores, 1.0)


def volumes(levels: np.ndarray, many: Deck) -> np.ndarray:
    """Return `volume` for many designs: of levels (mm), shape ``(..., design)``, on decks whose fields have shape ``(design,)``."""
    levels = np.asarray(levels, dtype=float)
    rows, designs = levels.size // levels.shape[-1], levels.shape[-1]
    return _filled(fill_volumes, rows, designs, np.ravel(levels), np.ravel(many)).reshape(levels.shape)


def drop_mm(fall: Any, flow_length_m: Any) -> Any:
    """Return the drop of a deck from the ridge to the outlets, mm; what is under 0.01 mm counts as none."""
    drop = 1000.0 * np.asarray(fall, dtype=float) * np.asarray(flow_length_m, dtype=float)
    return np.where(drop < LEAST_DROP_MM, 0.0, drop)


def _made(fall: Any, length: Any, height: Any, depth: Any, share: Any, pores: Any) -> Deck:
    rows = np.broadcast_arrays(drop_mm(fall, length), height, depth, share, pores)
    given = np.array([np.ravel(row) for row in rows], dtype=float)
    out = _filled(fill_decks, len(Deck._fields), given.shape[1], given.ravel())
    return Deck(*out[:, 0].tolist()) if rows[0].ndim == 0 else Deck(*out)


def _filled(fill: Any, rows: int, designs: int, *given: np.ndarray) -> np.ndarray:
    """Return what a loop over designs fills, shape ``(rows, design)``."""
    loop = pick(fill, _DECK_STEPS * designs)
    if loop is fill:
        listed = [0.0] * (rows * designs)
        fill(*(each.tolist() for each in given), listed, designs)  # lists are what plain Python is quick with
        return np.array(listed).reshape(rows, designs)
    out = np.empty(rows * designs)
    loop(*(np.ascontiguousarray(each, dtype=float) for each in given), out, designs)
    return out.reshape(rows, designs)
