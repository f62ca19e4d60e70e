"""What a moved control of the design desk costs, and where: ``python -m tests.benchmarks.bench_desk [moves]``.

Every move ends at a place where the controls have not stood, so the roof, its run over the whole record, the storm at its
outlets and the section are new each time. Wall time and processor time are both shown: on a machine that does other things
too, only the second is the desk's own. The range of retention follows in a pause and is timed apart.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable

import runoff
from runoff.desk import working_out, workplace
from tests.benchmarks.moves_timed import Clock, seconds

_SHARES = {
    "record: simulate": (working_out, "simulate"),
    "record: summarize": (working_out, "summarize"),
    "outlets in the storm": (working_out, "check_outlets"),
    "loads": (working_out, "roof_loads"),
    "section": (workplace, "build_up_section_figure"),
    "PNG": (workplace, "quick_png_bytes"),
}


def moves(desk: workplace.DesignDesk, count: int) -> list[Callable[[], None]]:
    """Return moves over the controls in turn, none of them back to where a control has stood."""
    found: list[Callable[[], None]] = []
    for turn in range(count):
        step = turn // 4
        found.append(
            [
                lambda step=step: setattr(desk.depth.slider, "value", 45.0 + 5.0 * step),
                lambda step=step: setattr(desk.cups.slider, "value", 0.5 * (1 + step)),
                lambda step=step: setattr(desk.diameter.slider, "value", 55.0 + 5.0 * step),
                lambda step=step: setattr(desk.mulch.slider, "value", float(20 + step)),
            ][turn % 4]
        )
    return found


def main(count: int = 40) -> None:
    """Print medians and the worst of at least 20 moves."""
    clock = Clock()
    for name, (owner, attribute) in _SHARES.items():
        clock.watch(name, owner, attribute)
    desk = workplace.design_desk(runoff.open_sample_roof("cups"), runoff.open_sample())
    desk.outlets.box.value = "round, with strainer"
    rows: dict[str, list[float]] = {}
    pictures: set[bytes] = set()
    for turn, move in enumerate(moves(desk, max(20, count) + 3), start=-3):  # the first three fill the caches
        before_move, started = (desk.figures.value, desk.verdict.value), seconds()
        clock.spent.clear()
        move()
        ended = seconds()
        assert (desk.figures.value, desk.verdict.value) != before_move  # something new was worked out
        pictures.add(desk.picture.value)
        if turn < 0:
            continue
        for name in _SHARES:
            rows.setdefault(name, []).append(clock.spent[name])
        rows.setdefault("whole move, wall", []).append(ended[0] - started[0])
        rows.setdefault("whole move, processor", []).append(ended[1] - started[1])
    years = desk.weather.sizes["time"] / 365.25
    print(f"{len(rows['PNG'])} moves, {years:.0f} years of days run again each time; ms")
    for name, values in rows.items():
        print(f"{name:24s} median {1000 * statistics.median(values):7.1f}   worst {1000 * max(values):7.1f}")
    started = seconds()
    desk.work_out_range()
    ended = seconds()
    print(
        f"range, in a pause: {1000 * (ended[0] - started[0]):.0f} wall, {1000 * (ended[1] - started[1]):.0f} processor"
    )


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:2]))
