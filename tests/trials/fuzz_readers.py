"""Minutes of mutation fuzzing of the weather readers, by hand: ``python -m tests.trials.fuzz_readers [READER] [--minutes 10]``.

Prints how many cases were read, refused, crashed or were silently wrong, and the first case of each kind of fault; with
``--case N`` the bytes of one case and what comes of it.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.weather.fuzzing import TARGETS, case_of, run, tried


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("reader", nargs="?", choices=list(TARGETS), help="one reader; default: all")
    parser.add_argument("--minutes", type=float, default=10.0, help="for each reader")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--case", type=int, help="one case alone")
    options = parser.parse_args()
    for name in [options.reader] if options.reader else list(TARGETS):
        target = TARGETS[name]
        if options.case is not None:
            raw = case_of(target, options.seed, options.case)
            with tempfile.TemporaryDirectory() as folder:
                print(raw[:3000])
                print(tried(target, raw, Path(folder)))
            continue
        count, found = run(target, seed=options.seed, seconds=60.0 * options.minutes)
        print(f"{name}: {sum(count.values())} cases, {dict(count)}")
        for words, number in found.items():
            print(f"    case {number}: {words}")


if __name__ == "__main__":
    main()
