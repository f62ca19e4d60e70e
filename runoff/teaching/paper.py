"""The lesson on paper: a worksheet of two pages and a strip of twelve frames, from the numbers of the package.

Drawn with matplotlib alone and readable in grey. The same numbers give the same bytes.
"""

from __future__ import annotations

import datetime
import io
import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from runoff.errors import RunoffError
from runoff.findings.spells import WET_BANDS
from runoff.plots.label_spacing import wrap
from runoff.plots.style import INK, PALE, SOFT, figure_style
from runoff.saying.scales import both
from runoff.teaching.comparisons import COMPARISONS
from runoff.teaching.cuts import Day, draw_air, draw_cut
from runoff.teaching.day_sheets import RAIN, kept_mm, six_days
from runoff.teaching.lesson_page import key_of, packed_year
from runoff.teaching.pens import AxesPen
from runoff.teaching.shapes import Shape
from runoff.units import convert
from runoff.writing import write_whole

if TYPE_CHECKING:
    import xarray as xr

#: Sizes of paper, inches.
PAPERS = {"a4": (8.27, 11.69), "letter": (8.5, 11.0)}
_MARGIN_PT, _TEXT_PT, _LINE = 45.0, 10.0, 1.35
_FRAMES = 12
#: Names of the frames in the order of the page. They stand mixed there, fifth by fifth, so that neither place nor name tells the order.
_FRAME_NAMES = "MNOPQRSTUVWX"
_MIXED = tuple((5 * place + 3) % _FRAMES for place in range(_FRAMES))

_DRAINED_RULES = (
    "Leaves fill first: they hold 2 mm. The rest falls through to the medium.",
    "The medium keeps up to 28 mm. What is above sinks into the cups until they hold 4 mm; the rest runs off. That is the overflow.",
    "The air can take 4 mm a day. Wet leaves give their 2 mm first; they count for that much of the 4 mm.",
    "The medium gives a share of what is still missing of the 4 mm: (water in it - 8) / 20 of it, never more than all.",
    "The cups give half of what is missing then.",
)
_CLOGGED_RULES = (
    "Leaves fill first: 2 mm. The rest falls through to the medium.",
    "The medium keeps up to 28 mm. What is above sinks and stays: it is free water. The cups are full and stay so.",
    "The plants take 4 mm a day: from wet leaves first, the rest from the medium.",
    "Free water stands in the board first, which takes 10 mm. What is more stands in the medium. From it the medium fills up to 28 mm again.",
    "Of every 100 mm of medium 20 mm are pores that free water can fill, so 1 mm of free water above the board stands 5 mm high in the medium.",
    "Air left, in per cent: 48 less the water the medium holds, less the free water above the board.",
    "Roots lack air (are waterlogged) when water stands higher than 25 mm in the medium, or less than 10 % is air.",
)


def write_paper(
    weather: xr.Dataset, folder: str | Path, *, year: int | None = None, teacher: bool = False
) -> list[Path]:
    """Write the worksheet and the strip of frames as PDF, in A4 and in Letter.

    Parameters
    ----------
    weather
        A daily record of one place, for the frames.
    folder
        Where to; it must exist.
    year
        As in `runoff.write_lesson`.
    teacher
        Adds the key: the worksheet filled in, and the order of the frames.

    Returns
    -------
    list of pathlib.Path
        The files.

    Raises
    ------
    RunoffError
        When the folder cannot be written to, or the record lacks the year.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise RunoffError(f"write_paper: there is no folder {folder}; make it first")
    packed = packed_year(weather, year=year)
    written = []
    for paper in PAPERS:
        sheets = {"worksheet": list(worksheet(paper)), "frames": [frames(packed, paper)]}
        if teacher:
            sheets["key_for_the_teacher"] = [*worksheet(paper, filled=True), frames_in_order(packed, paper)]
        for name, figures in sheets.items():
            written.append(write_whole(folder / f"lesson_{name}_{paper}.pdf", _pdf(figures)))
    return written


def _pdf(figures: list[Figure]) -> bytes:
    out = io.BytesIO()
    with figure_style(), mpl.rc_context({"pdf.fonttype": 42}), PdfPages(out, metadata={"CreationDate": None}) as pages:
        for figure in figures:
            pages.savefig(figure)
    return out.getvalue()


class _Page:
    """A page that is written from the top down; all lengths in points."""

    def __init__(self, paper: str, title: str, *, foot: str) -> None:
        wide, high = PAPERS[paper]
        self.figure = Figure(figsize=(wide, high), dpi=72)
        self.wide, self.high = 72.0 * wide, 72.0 * high
        self.left, self.right, self.y = _MARGIN_PT, self.wide - _MARGIN_PT, self.high - _MARGIN_PT
        self.say(title, size=15.0, bold=True, gap=3.0)
        lines = wrap(foot, self.right - self.left, 7.5)
        self._put(self.left, _MARGIN_PT - 12.0, "\n".join(lines), 7.5, color=SOFT, va="top")

    def _put(self, x: float, y: float, words: str, size: float, **style: Any) -> None:
        self.figure.text(x / self.wide, y / self.high, words, size=size, **{"va": "bottom", "color": INK, **style})

    def say(
        self,
        words: str,
        *,
        size: float = _TEXT_PT,
        bold: bool = False,
        indent: float = 0.0,
        gap: float = 4.0,
        mark: str = "",
    ) -> None:
        """Write a paragraph."""
        weight = "bold" if bold else "normal"
        for number, line in enumerate(wrap(words, (self.right - self.left - indent) * (0.9 if bold else 1.0), size)):
            self.y -= size * _LINE
            if mark and number == 0:
                self._put(self.left, self.y, mark, size, weight="bold")
            self._put(self.left + indent, self.y, line, size, weight=weight)
        self.y -= gap

    def rules(self, rules: tuple[str, ...]) -> None:
        """Write numbered steps."""
        for number, rule in enumerate(rules, start=1):
            self.say(rule, indent=18.0, gap=1.5, mark=f"{number}")
        self.y -= 4.0

    def blank(self, words: str, *, lines: int = 1, filled: str = "") -> None:
        """Write a question and room for its answer; `filled` is written in its place."""
        self.say(words, gap=2.0)
        if filled:
            self.say(filled, bold=True, indent=18.0)
            return
        for _ in range(lines):
            self.y -= 21.0
            self._line(self.left + 18.0, self.right)
        self.y -= 6.0

    def _line(self, left: float, right: float) -> None:
        ends = [left / self.wide, right / self.wide], [self.y / self.high] * 2
        self.figure.add_artist(mpl.lines.Line2D(*ends, color=SOFT, lw=0.6))

    def table(self, head: list[str], rows: list[list[str]], *, row_pt: float = 23.0) -> None:
        """Write a table with room to write in; empty cells stay empty."""
        widths = np.array([0.62, *np.ones(len(head) - 1)])
        edges = self.left + np.concatenate([[0.0], np.cumsum(widths / widths.sum())]) * (self.right - self.left)
        for number, row in enumerate([head, *rows]):
            high = 31.0 if number == 0 else row_pt
            self.y -= high
            for left, right, words in zip(edges[:-1], edges[1:], row, strict=True):
                self.figure.add_artist(
                    Rectangle(
                        (left / self.wide, self.y / self.high), (right - left) / self.wide, high / self.high, facecolor=PALE if number == 0 else "white",
                        edgecolor=INK, lw=0.7, transform=self.figure.transFigure,
                    )
                )  # fmt: skip
                lines = wrap(words, right - left - 6.0, 9.0 if number == 0 else _TEXT_PT)
                self._put(
                    (left + right) / 2,
                    self.y + high / 2,
                    "\n".join(lines),
                    9.0 if number == 0 else _TEXT_PT,
                    ha="center",
                    va="center",
                    linespacing=1.1,
                )
        self.y -= 10.0

    def picture(self, high: float, share: tuple[float, float] = (0.0, 1.0)) -> Any:
        """Return axes that take the next `high` points, between two shares of the width; `y` stays where it is."""
        left = self.left + share[0] * (self.right - self.left)
        wide = (share[1] - share[0]) * (self.right - self.left)
        return self.figure.add_axes((left / self.wide, (self.y - high) / self.high, wide / self.wide, high / self.high))


def worksheet(paper: str = "a4", *, filled: bool = False) -> Iterator[Figure]:
    """Yield the two pages of the worksheet: the roof that drains, and the one whose outlets are clogged.

    Parameters
    ----------
    paper
        ``a4`` or ``letter``.
    filled
        Whether the numbers stand in the tables: the key for the teacher.
    """
    if paper not in PAPERS:
        raise RunoffError(f'worksheet: paper is one of {", ".join(PAPERS)} (given "{paper}")')
    with figure_style():
        yield _drained_page(paper, filled).figure
        yield _clogged_page(paper, filled).figure


def _foot(page: int, filled: bool) -> str:
    key = "Key for the teacher. " if filled else ""
    return f"{key}Why excess water has to drain, page {page} of 2. Roof and rain are invented. 1 mm of water is 1 litre, or 1 kg, on each m² (25.4 mm = 1 in)."


def _cells(table: Any, columns: dict[str, int], given: tuple[str, ...], *, filled: bool) -> list[list[str]]:
    """Return the cells of a sheet: what is given stands there, the rest only in the key."""
    rows = []
    for day, row in table.iterrows():
        cells = [str(day)]
        for name, digits in columns.items():
            shown = name in given or filled
            value = row[name]
            words = (
                ("yes" if value else "no")
                if name == "without air"
                else f"{float(value):.{digits}f}".rstrip("0").rstrip(".")
                if digits
                else f"{float(value):.0f}"
            )
            cells.append(words if shown else "")
        rows.append(cells)
    return rows


def _drained_page(paper: str, filled: bool) -> _Page:
    page = _Page(paper, "Six days on a planted roof: it drains", foot=_foot(1, filled))
    if not filled:
        page.say(
            "Name: ..............................................     Class: ....................     Date: ...................."
        )
        page.blank("Before you begin: where do you think the rain of a wet week on a planted roof goes?")
    table = six_days()
    shape = Shape(below=25, medium=100, mulch=0, drop=0, length=5, edge=275, cups=4, field=28, wilting=8)
    axes = page.picture(118.0, (0.0, 0.62))
    draw_cut(AxesPen(axes), shape, Day(0.0, 28.0, 4.0, (0,) * 6, 0.0, 8.0, 0.0, 10.0), tallest=240)
    for height, words in (
        (200, "rain 10 mm on the first day"),
        (165, "leaves: hold 2 mm"),
        (70, "medium: 8 mm cannot be\ntaken by plants, 28 mm\nstay after draining,\n48 mm when full"),
        (5, "cups: 4 mm; outlet: open"),
        (-38, "overflow: runs off the roof"),
    ):
        axes.text(1.02, height, words, size=9.0, va="center")
    page.y -= 126.0
    page.say("Every day, in this order:", bold=True)
    page.rules(_DRAINED_RULES)
    columns = {"rain": 0, "falls through": 3, "overflow": 3, "medium": 3, "cups": 3}
    head = [
        "day",
        "rain, mm",
        "falls through, mm",
        "overflow, mm",
        "medium in the evening, mm",
        "cups in the evening, mm",
    ]
    page.table(head, [["start", "", "", "", "28", "4"], *_cells(table, columns, ("rain",), filled=filled)])
    total, out = sum(RAIN), float(table["overflow"].sum())
    share = 100.0 * kept_mm() / total
    page.blank(
        f"Add up: of {total:.0f} mm of rain ............ mm ran off, so ............ mm or ............ % was kept.",
        lines=0, filled=f"{out:.3f} mm ran off, {kept_mm():.3f} mm or {share:.0f} % was kept." if filled else "",
    )  # fmt: skip
    cups = [str(day) for day in table.index[table["cups"].diff().fillna(0.0) < 0.0]]
    page.blank("On which days did plants drink from the cups?", filled=f"On days {', '.join(cups)}." if filled else "")
    page.blank(
        "Where is the water that was kept?", lines=2,
        filled="In the air: plants and leaves gave it back. The stores end a little lower than they began." if filled else "",
    )  # fmt: skip
    return page


def _clogged_page(paper: str, filled: bool) -> _Page:
    page = _Page(paper, "The same six days: the outlet is clogged", foot=_foot(2, filled))
    page.say(
        "A week ago leaves covered the outlet. The board is full: 10 mm of free water. The same rain falls. Nothing runs off."
    )
    page.say("Every day, in this order:", bold=True)
    page.rules(_CLOGGED_RULES)
    columns = {
        "rain": 0,
        "falls through": 0,
        "medium": 0,
        "free water": 0,
        "water in the medium": 0,
        "air": 0,
        "without air": 0,
    }
    head = [
        "day",
        "rain, mm",
        "falls through, mm",
        "medium in the evening, mm",
        "free water, mm",
        "stands in the medium, mm high",
        "air left, %",
        "roots without air?",
    ]
    table = six_days(clogged=True)
    page.table(
        head, [["start", "", "", "28", "10", "0", "20", "no"], *_cells(table, columns, ("rain",), filled=filled)]
    )
    wet = int(table["without air"].sum())
    page.blank(
        "On how many of the six days do the roots lack air? Which roof kept more of the rain?",
        filled=f"On {wet} days. The clogged roof kept all of it." if filled else "",
    )
    page.blank(
        "Is it a good thing to keep all the rain in this way? Give two reasons.", lines=2,
        filled="No: roots suffocate, and every mm weighs 1 kg on each m². What it keeps today it cannot take up tomorrow." if filled else "",
    )  # fmt: skip
    page.blank(
        "The outlet is cleared on the morning of day 7. The water is gone by evening. Are the roots well again? Explain.", lines=2,
        filled="No. Roots that died back take weeks to grow again, if the plant lives. That is why outlets are inspected before plants droop." if filled else "",
    )  # fmt: skip
    page.blank(
        "Somebody puts 20 mm of gravel under garden soil \"so that it drains\". Will the soil have more air?", lines=2,
        filled="No. Fine pores hold water against gravity above a coarse layer as they do above a plate: the foot of the soil stays wet." if filled else "",
    )  # fmt: skip
    page.say(
        "Whether a roof can carry standing water is for a licensed engineer to say. Nobody goes onto a roof to look without protection from falls.",
        size=9.0,
    )  # fmt: skip
    return page


def frames(packed: dict[str, Any], paper: str = "a4") -> Figure:
    """Return one page of twelve frames, mixed: the open roof above the one whose outlets clogged in autumn.

    Parameters
    ----------
    packed
        A year of `runoff.teaching.lesson_page.packed_year`.
    paper
        ``a4`` or ``letter``.
    """
    first, second, fate = _two_roofs(packed)
    shape = Shape(**packed["built"][key_of(COMPARISONS[0].first).rpartition("|")[0]])
    days = _telling_days(second["level"], fate["clogs"])
    with figure_style():
        page = _Page(paper, "Two roofs, one year, the same rain", foot=_frames_foot(packed))
        page.say(
            f"A: outlet open. B: outlet {fate['words']}. The year begins on {_day_words(packed['days'][0])}; the frames are mixed. Cut them out and put "
            "them in order; then say what happens between two of them. Bars: air left, the dashed mark is what roots need. Kept: share of the rain so far."
        )
        top, high = page.y, (page.y - _MARGIN_PT) / 4.0
        for place, (name, one) in enumerate(zip(_FRAME_NAMES, _MIXED, strict=True)):
            row, column = divmod(place, 3)
            page.y = top - row * high
            _frame(
                page, column, high, packed, shape, name, days[one], (first, second), (0.0, _blocked(fate, days[one]))
            )
        return page.figure


def frames_in_order(packed: dict[str, Any], paper: str = "a4") -> Figure:
    """Return the page of the key that says in which order the frames of `frames` belong, with their dates.

    Parameters
    ----------
    packed
        A year of `runoff.teaching.lesson_page.packed_year`.
    paper
        ``a4`` or ``letter``.
    """
    _, second, fate = _two_roofs(packed)
    days = _telling_days(second["level"], fate["clogs"])
    rows = [
        [
            f"{place + 1}", _FRAME_NAMES[_MIXED.index(place)], packed["days"][day], f"{sum(packed['rain'][: day + 1]):.0f}",
            f"{second['level'][day]:.0f}", f"{second['air'][day]:.0f}", _kept_words(packed, second, day),
        ]
        for place, day in enumerate(days)
    ]  # fmt: skip
    with figure_style():
        page = _Page(paper, "The frames in order", foot=f"Key for the teacher. {_frames_foot(packed)}")
        page.say(
            f"Roof A, its outlet open, never stands in water. Roof B is {fate['words']}. The order can be told from the water, which rises through "
            "autumn and sinks in summer, from the plants, which do not come back, from the share kept, which falls once water runs over the edge and "
            "rises again in summer, and from the temperature. Two frames that a pupil puts the other way round with a good reason are right."
        )
        head = ["place", "frame", "date", "rain so far, mm", "water on B, mm", "air left in B, %", "kept by B"]
        page.table(head, rows, row_pt=26.0)
        return page.figure


def _two_roofs(packed: dict[str, Any]) -> tuple[Any, Any, Any]:
    """Return the runs of the open and of the clogged roof, and what happens to the outlets of the second."""
    first, second = (packed["runs"][key_of(one)] for one in (COMPARISONS[0].first, COMPARISONS[0].second))
    return first, second, next(one for one in packed["outlets"] if one["key"] == COMPARISONS[0].second.outlet)


def _frames_foot(packed: dict[str, Any]) -> str:
    invented = " (invented weather)" if packed["invented"] else ""
    return (
        f"{packed['place']}{invented}, {packed['days'][0]} to {packed['days'][-1]}. Damage is a reading aid, no forecast. "
        "Weights are for an engineer to judge."
    )


def _day_words(date: str) -> str:
    day = datetime.date.fromisoformat(date)
    return f"{day.day} {day:%B}"


def _kept_words(packed: dict[str, Any], run: Any, day: int) -> str:
    rain = sum(packed["rain"][: day + 1])
    return f"{100.0 * (1.0 - sum(run['left'][: day + 1]) / rain):.0f} %" if rain else "no rain yet"


def _worst_words(worst: int) -> str:
    return WET_BANDS[worst].words if worst else "unharmed"


def _frame(
    page: _Page,
    column: int,
    high: float,
    packed: dict[str, Any],
    shape: Shape,
    name: str,
    day: int,
    runs: tuple[Any, Any],
    blocked: tuple[float, float],
) -> None:
    """Draw one frame: its name, the two roofs, what they read; nothing that tells the date."""
    left, right = column / 3 + 0.008, (column + 1) / 3 - 0.008
    box = page.picture(high - 6.0, (left - 0.004, right + 0.004))
    box.set(xticks=[], yticks=[], xlim=(0, 1), ylim=(0, 1))
    box.grid(visible=False)
    for side in box.spines.values():
        side.set(visible=True, color=INK, linewidth=0.8)
    celsius = packed["tmean"][day]
    box.text(
        0.03,
        0.965,
        f"{name}    {celsius:.0f} °C ({convert(celsius, 'degC', 'degF'):.0f} °F)    rain {packed['rain'][day]:.0f} mm",
        size=8.0,
        weight="bold",
        va="top",
    )
    page.y -= 15.0
    half = (high - 22.0) / 2.0
    for letter, run, share in zip("AB", runs, blocked, strict=True):
        hurt = [int(one[day]) for one in run["hurt"]]
        axes = page.picture(half - 31.0, (left, right))
        seen = Day(
            run["level"][day],
            run["held"][day],
            run["cups"][day],
            hurt,
            share,
            run["left"][day],
            run["over_edge"][day],
            packed["rain"][day],
        )
        draw_cut(AxesPen(axes), shape, seen, tallest=380.0, line=0.6)
        axes.text(
            0.02,
            20.0,
            letter,
            size=10.0,
            weight="bold",
            bbox={"facecolor": "white", "edgecolor": INK, "pad": 1.5, "lw": 0.6},
        )
        page.y -= half - 30.0
        draw_air(AxesPen(page.picture(5.0, (left, left + 0.05))), run["air"][day] / 100.0)
        edge, wide = page.left + left * (page.right - page.left), (right - left) * (page.right - page.left)
        read = f"air {run['air'][day]:.0f} %, water {both(run['level'][day], 'mm', 'level')}"
        page._put(edge + 30.0, page.y - 6.5, read, 7.0)
        page._put(
            edge,
            page.y - 9.0,
            "\n".join(
                wrap(f"kept {_kept_words(packed, run, day)}; worst plants: {_worst_words(max(hurt))}", wide, 7.0)
            ),
            7.0,
            va="top",
        )
        page.y -= 27.0


def _telling_days(level: list[float], clogs: int) -> list[int]:
    """Return the days of the frames: before and on the day of clogging, as the water rises, and on through the rest of the year."""
    most = max(level)
    chosen = {clogs // 2, clogs, len(level) - 1}
    chosen |= {next(i for i, one in enumerate(level) if one >= share * most) for share in (0.2, 0.4, 0.6, 0.8, 1.0)}
    while len(chosen) < _FRAMES:  # halve the longest time without a frame
        days = sorted(chosen)
        first, second = max(itertools.pairwise(days), key=lambda pair: pair[1] - pair[0])
        chosen.add((first + second) // 2)
    return sorted(chosen)


def _blocked(fate: dict[str, Any], day: int) -> float:
    clogged = day >= fate["clogs"] and (fate["clears"] is None or day < fate["clears"])
    return float(fate["blocked"]) if clogged else 0.0
