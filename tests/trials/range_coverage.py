"""How often the range of the years holds the truth, through the whole of `runoff.uncertainty`. Run by hand.

``python -m tests.trials.range_coverage [records]``: invented records of thirty years with a known mean annual capture (200 by
default, about a minute and a half); the 5-95 % range should hold it in about 90 % of them.
"""

import sys

import numpy as np

import runoff
from tests.test_uncertainty import TRUTH_MM, known_weather, twenty_mm


def main(repeats: int) -> None:
    """Print how many ranges hold the truth, and what chance allows."""
    rng, roof, inside = np.random.default_rng(2024), twenty_mm(), 0
    for _ in range(repeats):
        found = runoff.uncertainty(
            roof, known_weather(rng, 30), ranges={"medium.detention_k": (0.01, 0.05)}, members=2, resamples=200
        )
        low, high = found["annual_capture_mm"].sel(source="years", quantile=[0.05, 0.95]).to_numpy()
        inside += low <= TRUTH_MM <= high
    allowed = 3.0 * (0.9 * 0.1 / repeats) ** 0.5  # three standard deviations of a binomial share
    print(f"{inside} of {repeats} ranges hold the truth: {inside / repeats:.3f}, expected 0.90 within {allowed:.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
