"""How often the ranges of a fit hold the hidden values of the monitored roof. Run by hand.

``python -m tests.trials.fit_coverage [records]``: fits as many records (100 by default, about three minutes) that differ in the
noise of the gauge; 90 % of the ranges should hold.
"""

import sys

import runoff
from tests.calibration.test_monitored_roof import ranges_that_hold

if __name__ == "__main__":
    held = ranges_that_hold(
        runoff.open_sample_roof("cups"), runoff.open_sample(), int(sys.argv[1]) if len(sys.argv) > 1 else 100
    )
    allowed = 3.0 * (0.9 * 0.1 / len(held)) ** 0.5  # three standard deviations of a binomial share
    print(f"{sum(held)} of {len(held)} ranges hold: {sum(held) / len(held):.3f}, claimed 0.90, by chance {allowed:.3f}")
