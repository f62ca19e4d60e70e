"""What a moved control of the lesson costs, and where: ``python -m tests.benchmarks.bench_lesson [repeats]``.

Every repeat moves a control to another place, so both roofs, their year and the picture are new each time. Wall time and processor time are both shown: on a machine that does other things too, only the second is the
lesson's own. The medians of the shares need not add up to the median of the whole.
"""

from __future__ import annotations

import statistics
import sys

import runoff
from runoff.teaching import controls, scenes, watching, years
from runoff.teaching.controls import DEPTHS_MM, OVERFLOWS_MM, TwoRoofs
from tests.benchmarks.moves_timed import Clock, seconds

_SHARES = {
    "open outlets": (watching, "simulate"),
    "clogged": (years, "simulate"),
    "damage": (watching, "damage_along_the_fall"),
    "picture": (controls, "as_svg"),
}


def main(repeats: int = 40) -> None:
    """Print medians of at least 20 moves."""
    clock = Clock()
    for name, (owner, attribute) in _SHARES.items():
        clock.watch(name, owner, attribute)
    weather = runoff.open_sample()
    lesson = TwoRoofs(weather, year=2013)
    boards = list(scenes.BOARDS)
    rows: dict[str, list[float]] = {}
    for turn in range(-3, max(20, repeats)):  # the first three fill the caches that a class fills in a moment too
        clock.spent.clear()
        before = seconds()
        if turn % 3 == 0:  # every move ends at a place where the controls have not stood
            lesson.overflow.value = OVERFLOWS_MM[turn // 3 % len(OVERFLOWS_MM)]
        elif turn % 3 == 1:
            lesson.depth.value = DEPTHS_MM[(turn // 3 + 1) % len(DEPTHS_MM)]
        else:
            lesson.day.value = 1 + (7 * turn) % 365
            before, _ = seconds(), clock.spent.clear()
            lesson.board.value = boards[(boards.index(lesson.board.value) + 1) % len(boards)]
        after = seconds()
        # a move may leave the day's picture as it was (an overflow above dry weather), but it always draws
        assert clock.spent["picture"] > 0.0
        if turn < 0:
            continue
        whole = after[0] - before[0]
        for name in _SHARES:
            rows.setdefault(name, []).append(clock.spent[name])
        rows.setdefault("whole move, wall", []).append(whole)
        rows.setdefault("whole move, processor", []).append(after[1] - before[1])
    print(f"{len(rows['picture'])} moves of a control, one year of two roofs run again each time; medians, ms")
    total = statistics.median(rows["whole move, wall"])
    for name, values in rows.items():
        median = statistics.median(values)
        print(f"{name:24s} {1000 * median:7.1f}   {median / total:6.0%}   quickest {1000 * min(values):7.1f}")


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:2]))
