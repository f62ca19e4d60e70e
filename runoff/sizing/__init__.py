"""Which build-up and which outlets meet the targets."""

from runoff.sizing.sweeping import sweep as sweep
