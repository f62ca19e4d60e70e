"""The daily column on many random roofs: ``python -m tests.trials.column_trials [roofs] [seed]``.

Random roofs against the second reading of the page, to 1e-9 mm on every flux and store (200 by default); then twice as many
against the rules that no roof may break: a lower sill and less blocking never raise retention (0.01 points aside), more
bypass never on roofs that drain over 2 mm/h. Roofs that drain less and keep more with more bypass are counted and shown.
"""

import sys
import time

import numpy as np

from runoff.balance import column
from runoff.balance.day_steps import DayColumn, drain_limit_at
from runoff.balance.loop_choice import compiled
from tests.balance.invented_roofs import random_roof, weather
from tests.balance.page_reading import read_days
from tests.balance.test_column import apart, retention, traced

ALLOWED = 1e-4  # of retention: the 0.01 points of the design
DAYS = 1461


def against_the_reading(roofs: int, seed: int) -> None:
    """Print the largest difference of every output over random roofs and years."""
    largest: dict[str, float] = {}
    for case in range(roofs):
        rng = np.random.default_rng([seed, case])
        roof = random_roof(rng)
        rain, e0, temperature = weather(case, DAYS, wet=rng.choice([1.0, 2.0, 4.0]))
        run_on = rng.choice([0.0, 0.5]) * np.roll(rain, 1)
        known = temperature if rng.random() < 0.8 else None
        ours = traced(roof, rain, e0, known, run_on=run_on, loop=compiled(column.trace_loop))
        theirs = read_days(roof, rain, e0, known, run_on=run_on)
        for name, far in apart(ours, theirs, roof).items():
            largest[name] = max(largest.get(name, 0.0), far)
            if far > 1e-9:
                print(f"  roof {case}: {name} {far:.3g} apart\n    {roof}")
        largest["balance of the reading"] = max(
            largest.get("balance of the reading", 0.0), float(np.abs(theirs["balance"]).max())
        )
    print(f"{roofs} random roofs x {DAYS} days against the second reading, largest difference:")
    for name, far in largest.items():
        print(f"  {name:28s} {far:.2e}")


def against_the_rules(roofs: int, seed: int) -> None:
    """Print how many random roofs break a rule."""
    broken = {"lower sill": 0, "less blocking": 0, "more bypass, drains freely": 0}
    held_back, most = 0, 0.0
    for case in range(roofs):
        roof = random_roof(np.random.default_rng([seed, case, 1]))
        rain, e0, _ = weather(case, DAYS)
        kept = retention(roof, rain, e0)
        sill = min(roof["sill_level"], roof["edge_level"])
        for share in (0.9, 0.5, 0.2):
            lower = retention(roof | {"sill_level": share * sill}, rain, e0) - kept
            less = retention(roof | {"blocked_fraction": share * roof["blocked_fraction"]}, rain, e0) - kept
            for name, gain in (("lower sill", lower), ("less blocking", less)):
                if gain > ALLOWED:
                    broken[name] += 1
                    print(f"  roof {case}: {name} keeps {100 * gain:.3f} points more\n    {roof}")
        par = dict(zip(column.PARAMETERS, column.parameter_array([roof])[:, 0], strict=True))
        rate = drain_limit_at(0.0, DayColumn(*(par[name] for name in DayColumn._fields))) / 24.0
        more = retention(roof | {"bypass_fraction": min(1.0, roof["bypass_fraction"] + 0.3)}, rain, e0) - kept
        if more > ALLOWED and min(rate, roof["fleece_rate"]) > 2.0:
            broken["more bypass, drains freely"] += 1
            print(f"  roof {case}: more bypass keeps {100 * more:.3f} points more\n    {roof}")
        elif more > ALLOWED:
            held_back, most = held_back + 1, max(most, more)
    print(f"{roofs} random roofs x {DAYS} days, rules broken: {broken}")
    print(f"held-back roofs that keep more with more bypass: {held_back}, at most {100 * most:.2f} points")


if __name__ == "__main__":
    count, start = int(sys.argv[1]) if len(sys.argv) > 1 else 200, int(sys.argv[2]) if len(sys.argv) > 2 else 1
    began = time.perf_counter()
    against_the_reading(count, start)
    against_the_rules(2 * count, start)
    print(f"{time.perf_counter() - began:.0f} s")
