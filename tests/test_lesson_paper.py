"""The lesson on paper: the six days by hand, the same numbers in sheets and exercise, and what is kept from pupils."""

import io
import itertools
import re
import subprocess
from pathlib import Path

import matplotlib.text
import pytest

import runoff
from runoff.cli import main
from runoff.teaching.day_sheets import kept_mm, six_days
from runoff.teaching.lesson_page import packed_year
from runoff.teaching.paper import PAPERS, frames, frames_in_order, worksheet, write_paper

# Worked by hand. Leaves hold 2 mm; the medium 28 after draining, 8 at least; cups 4; the air takes 4 mm a day.
# Drained. Day 1: 10 - 2 = 8 fall through, all of it leaves; leaves give 2, the medium (28 - 8)/20 = 1 of the other 2 -> 26.
# Day 2: the medium gives 4 x 18/20 = 3.6 -> 22.4; cups half of 0.4 -> 3.8. Day 3: 4 x 14.4/20 = 2.88 -> 19.52; cups half of
# 1.12 -> 3.24. Day 4: 4 fall through -> 23.52; leaves 2, medium 2 x 15.52/20 = 1.552 -> 21.968; cups half of 0.448 -> 3.016.
# Day 5: 18 fall through: 39.968, 11.968 sink, 0.984 fill the cups, 10.984 leave; leaves 2, medium 2 -> 26. Day 6 as day 2.
DRAINED = {
    "falls through": [8.0, 0.0, 0.0, 4.0, 18.0, 0.0],
    "overflow": [8.0, 0.0, 0.0, 0.0, 10.984, 0.0],
    "medium": [26.0, 22.4, 19.52, 21.968, 26.0, 22.4],
    "cups": [4.0, 3.8, 3.24, 3.016, 4.0, 3.8],
}
# Clogged, beginning with 10 mm in the board. Day 1: 8 sink -> 18 free; plants 2 + 2: medium 26, fills up by 2 -> 16 free, 6 above the
# board: 6 x 5 = 30 mm high, air 48 - 28 - 6 = 14. Day 2: the medium gives 4, takes 4 back -> 12 free, 10 mm, 18 %. Day 3: gives 4,
# takes the 2 above the board -> 26, 10 free, 22 %. Day 4: 4 fall in, 30: 2 sink -> 12; gives 2, takes 2 -> 28, 10 free, 20 %.
# Day 5: 18 sink -> 28; gives 2, takes 2 -> 26 free: 16 above, 80 mm, 4 %. Day 6: 22 free: 12 above, 60 mm, 8 %.
CLOGGED = {
    "falls through": [8.0, 0.0, 0.0, 4.0, 18.0, 0.0],
    "medium": [28.0, 28.0, 26.0, 28.0, 28.0, 28.0],
    "free water": [16.0, 12.0, 10.0, 10.0, 26.0, 22.0],
    "water in the medium": [30.0, 10.0, 0.0, 0.0, 80.0, 60.0],
    "air": [14.0, 18.0, 22.0, 20.0, 4.0, 8.0],
    "without air": [True, False, False, False, True, True],
}


@pytest.mark.parametrize(("clogged", "by_hand"), [(False, DRAINED), (True, CLOGGED)])
def test_six_days_by_hand(clogged: bool, by_hand: dict) -> None:
    table = six_days(clogged=clogged)
    for name, values in by_hand.items():
        # decimals on paper, so only rounding of floating point is left
        assert table[name].astype(float).tolist() == pytest.approx([float(one) for one in values], abs=1e-12), name
    assert kept_mm() == pytest.approx(36.0 - 18.984, abs=1e-12)


def texts(figure) -> str:
    return "\n".join(one.get_text() for one in figure.findobj(matplotlib.text.Text))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_pupils_sheet_gives_nothing_away_and_the_key_does(paper: str) -> None:
    pupils = "\n".join(texts(page) for page in worksheet(paper))
    key = "\n".join(texts(page) for page in worksheet(paper, filled=True))
    for words in ("18.984", "17.016", "10.984", "47 %", "On 3 days"):
        assert words in key and words not in pupils
    assert "Key for the teacher" in key and "Key" not in pupils
    for rain in ("10", "6", "20"):
        assert rain in pupils.split("\n")


def test_nothing_stands_outside_its_page_or_on_another_line() -> None:
    for paper in PAPERS:
        for figure in [*worksheet(paper), *worksheet(paper, filled=True)]:
            figure.savefig(io.BytesIO(), format="png", dpi=72)
            wide, high = figure.get_size_inches() * 72
            boxes = [t.get_window_extent() for t in figure.texts if t.get_text().strip()]
            for box in boxes:
                assert 0 <= box.x0 and box.x1 <= wide and 0 <= box.y0 and box.y1 <= high
            for i, one in enumerate(boxes):
                for other in boxes[i + 1 :]:
                    # a point of the line above may touch
                    across = min(one.x1, other.x1) - max(one.x0, other.x0)
                    down = min(one.y1, other.y1) - max(one.y0, other.y0)
                    assert across <= 1.0 or down <= 2.5, (one, other)


@pytest.fixture(scope="module")
def packed() -> dict:
    return packed_year(runoff.open_sample())


def test_frames_show_the_numbers_of_the_page_and_tell_no_date(packed: dict) -> None:
    shown, key = texts(frames(packed)), texts(frames_in_order(packed))
    names = re.findall(r"^([M-X])    -?\d+ °C", shown, re.MULTILINE)
    dates = re.findall(r"^\d{4}-\d\d-\d\d$", key, re.MULTILINE)
    in_order = re.findall(r"^[M-X]$", key, re.MULTILINE)
    assert len(names) == 12 and sorted(in_order) == names and dates == sorted(set(dates))
    assert not set(dates) & set(re.findall(r"\d{4}-\d\d-\d\d", shown.split("Damage is")[0].rpartition("\n")[0]))
    places = [in_order.index(name) for name in names]
    # neither the order of the page nor its turn: no two neighbours follow each other
    assert all(abs(one - other) > 1 for one, other in itertools.pairwise(places))
    second = packed["runs"]["cups up|mineral mix|0.02|autumn"]
    for name, date in zip(in_order, dates, strict=True):
        day = packed["days"].index(date)
        celsius = packed["tmean"][day]
        # 1.8 and 32: the definition of the scale
        assert f"{name}    {celsius:.0f} °C ({1.8 * celsius + 32:.0f} °F)    rain {packed['rain'][day]:.0f} mm" in shown
        assert f"air {second['air'][day]:.0f} %, water {second['level'][day]:.0f} mm (" in shown
        rain = sum(packed["rain"][: day + 1])
        kept = f"{100 * (1 - sum(second['left'][: day + 1]) / rain):.0f} %" if rain else "no rain yet"
        assert kept in key.split("\n") and f"kept {kept};" in shown


def test_the_command_writes_both_papers_and_the_key_only_for_the_teacher(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, packed: dict
) -> None:
    # the year is run once: the same numbers from the same run is what tests of the lesson's page hold
    monkeypatch.setattr("runoff.teaching.paper.packed_year", lambda *_, **__: packed)
    assert main(["notebooks", "--paper", "--to", str(tmp_path / "class")]) == 0
    names = {path.name for path in (tmp_path / "class").iterdir()}
    assert names == {f"lesson_{what}_{paper}.pdf" for what in ("worksheet", "frames") for paper in ("a4", "letter")}
    pages = {"worksheet": 2, "frames": 1}
    for name in names:
        content = (tmp_path / "class" / name).read_bytes()
        assert content.startswith(b"%PDF") and len(re.findall(rb"/Type /Page\b", content)) == pages[name.split("_")[1]]
        size = b"[ 0 0 595.44 841.68 ]" if "a4" in name else b"[ 0 0 612 792 ]"
        assert size in content
    first = {path.name: path.read_bytes() for path in (tmp_path / "class").iterdir()}
    assert main(["notebooks", "--paper", "--to", str(tmp_path / "class")]) == 0
    assert "Kept, since they are there already" in capsys.readouterr().out
    # the key is the worksheet filled in, which another test looks at on both papers
    monkeypatch.setattr("runoff.teaching.paper.PAPERS", {"letter": PAPERS["letter"]})
    assert main(["notebooks", "--paper", "--for", "teacher", "--overwrite", "--to", str(tmp_path / "class")]) == 0
    again = {path.name: path.read_bytes() for path in (tmp_path / "class").iterdir()}
    assert set(again) - names == {"lesson_key_for_the_teacher_letter.pdf"}
    assert {name: again[name] for name in names} == first  # the same numbers, the same bytes, written anew in letter


def test_bad_input_is_named(tmp_path: Path) -> None:
    with pytest.raises(runoff.RunoffError, match="there is no folder"):
        write_paper(runoff.open_sample(), tmp_path / "nowhere")
    with pytest.raises(runoff.RunoffError, match=r'paper is one of a4, letter \(given "a3"\)'):
        list(worksheet("a3"))


def test_the_sheets_need_no_browser_and_no_page_maker(tmp_path: Path) -> None:
    code = (
        "import sys, runoff\nfrom runoff.teaching.paper import worksheet\nlist(worksheet())\n"
        "assert not {'weasyprint', 'playwright', 'ipywidgets'} & set(sys.modules), sys.modules"
    )
    import sys

    subprocess.run([sys.executable, "-c", code], check=True)
