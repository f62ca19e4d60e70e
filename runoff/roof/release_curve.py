"""Water a layer of medium holds after free drainage, by its depth: a release curve read from the foot up.

A drained layer comes to rest with no suction at its foot and one millimetre of it for every millimetre of height (air
below, as over a drainage board). So a shallow layer stays wetter than a deep one of the same material. The release curve is
that of van Genuchten (1980, Soil Science Society of America Journal 44, 892, equation 3 with m = 1 - 1/n):

    share(x) = (1 + (alpha x)^n)^-(1 - 1/n)      x suction, mm of water; share of the pores between residual and full
"""

from __future__ import annotations

from typing import Any

import numpy as np

#: So near 2, but not at it, the hypergeometric function loses up to eight digits: terms of nearly the same size cancel.
_NEAR_TWO = 1e-3


def share_held(suction_mm: Any, alpha_per_mm: float, n: float) -> Any:
    """Return the share of the releasable water that is still held at a suction, 0-1.

    Parameters
    ----------
    suction_mm
        Suction, mm of water, a number or an array.
    alpha_per_mm, n
        Shape of the release curve: alpha, 1/mm, and n, a number above 1.

    Returns
    -------
    float or numpy.ndarray
        Share, 0-1, in the shape of the suction.
    """
    return (1.0 + (alpha_per_mm * np.asarray(suction_mm, dtype=float)) ** n) ** -(1.0 - 1.0 / n)


def mean_share_held(depth_mm: Any, alpha_per_mm: Any, n: Any) -> Any:
    """Return the mean of `share_held` over a drained layer, from its foot to its top, 0-1.

    The integral of (1 + (alpha x)^n)^-(1 - 1/n) over x from 0 to z, over z, is the hypergeometric function
    2F1(1 - 1/n, 1/n; 1 + 1/n; -(alpha z)^n).

    Parameters
    ----------
    depth_mm
        Depth z of the layer, mm, a number or an array.
    alpha_per_mm, n
        Shape of the release curve: alpha, 1/mm, and n, a number above 1; or arrays along the last axis of the depths.

    Returns
    -------
    float or numpy.ndarray
        Mean share, 0-1, in the shape of the depth.
    """
    from scipy.special import hyp2f1

    if np.ndim(n):  # each by itself, as any may lie near 2
        size = np.broadcast_shapes(np.shape(depth_mm)[-1:], np.shape(alpha_per_mm), np.shape(n))
        depths = np.broadcast_to(depth_mm, (*np.shape(depth_mm)[:-1], *size))
        shapes = zip(np.broadcast_to(alpha_per_mm, size), np.broadcast_to(n, size), strict=True)
        return np.stack([mean_share_held(depths[..., i], *shape) for i, shape in enumerate(shapes)], axis=-1)
    if 0.0 < abs(n - 2.0) < _NEAR_TWO:
        from scipy.integrate import quad_vec

        depth = np.asarray(depth_mm, dtype=float)
        return quad_vec(lambda part: share_held(part * depth, alpha_per_mm, n), 0.0, 1.0, epsabs=1e-14, limit=1000)[0]
    base = np.asarray(alpha_per_mm * np.asarray(depth_mm, dtype=float))
    # one by one: the vector units of a processor round powers of several numbers in another way than that of one
    reach = np.array([one**n for one in base.ravel()]).reshape(base.shape)
    return hyp2f1(1.0 - 1.0 / n, 1.0 / n, 1.0 + 1.0 / n, -reach)
