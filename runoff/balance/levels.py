"""How high free water stands above the deck."""

from __future__ import annotations

import numpy as np

from runoff.balance.column import ROUNDING_MM


def water_depth(board_water, medium_water, pond_water, board_capacity, board_height, field_water, full_water, depth):
    """Return how far free water reaches above the deck, mm: through the board, then the medium, then the pond.

    Parameters
    ----------
    board_water, medium_water, pond_water
        Stores, mm.
    board_capacity, board_height
        Free water the board holds when full (mm) and its height (mm).
    field_water, full_water, depth
        Medium water at field capacity and at saturation (mm), and the depth of the medium (mm).

    Notes
    -----
    Water above field capacity counts as standing water only once the board below is full, ponded water only once
    the medium is full: before that it is on its way down.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        board_share = np.where(
            board_capacity > 0, np.clip(board_water / board_capacity, 0.0, 1.0), medium_water > field_water
        )
        medium_share = np.clip((medium_water - field_water) / (full_water - field_water), 0.0, 1.0)
    board_full = board_water >= board_capacity - ROUNDING_MM
    medium_full = board_full & (medium_water >= full_water - ROUNDING_MM)
    level = board_height * board_share + np.where(board_full, depth * medium_share, 0.0)
    return np.where(np.isnan(medium_water), np.nan, level + np.where(medium_full, pond_water, 0.0))
