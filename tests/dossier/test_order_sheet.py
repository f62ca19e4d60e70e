"""The order sheet: both unit systems, blanks for prices, nothing that runs, and the same again from what it carries."""

import csv
import json
import re
from pathlib import Path

import pytest

import runoff
from runoff.cli.entry import main
from runoff.dossier import verify_dossier, write_order_sheet
from runoff.dossier.order_sheet import order_figures, order_of_record
from runoff.dossier.order_texts import CAUTIONS, DAYS
from runoff.roof import OrderRules, order_list
from runoff.sample_files import sample_folder
from tests.dossier.conftest import page_of

FT2_M2 = 0.3048**2


@pytest.fixture(scope="module")
def order():
    return order_list(runoff.open_sample_roof("cups"))


@pytest.fixture(scope="module")
def sheet(order, tmp_path_factory) -> Path:
    return write_order_sheet(order, tmp_path_factory.mktemp("order") / "order.html", invented=True)


def test_every_number_is_marked_and_every_figure_is_in_the_record(sheet, order) -> None:
    page = page_of(sheet)
    printed = {mark["data-figure"] for mark, _ in page.numbers}
    assert printed <= set(page.record["figures"])
    shown_in = {mark["data-shown"] for mark, _ in page.numbers}
    assert {"m2", "ft2", "m3", "ft3", "kg", "lb", "kg/m2", "lb/ft2"} <= shown_in
    figures = order_figures(order)
    assert float(figures["mass_kg"]) == order.mass_kg and figures["mass_kg"].attrs["units"] == "kg"
    assert page.record["figures"]["line_5_packs"] == 9.0  # sacks of medium: 9.85 m3 in sacks of 1.13


def test_us_units_stand_first_where_asked(order, sheet, tmp_path: Path) -> None:
    """The same numbers in the other order: the heads, the sums and each amount; the check makes it again so."""
    us = write_order_sheet(order, tmp_path / "us.html", units="us")
    assert verify_dossier(us).is_genuine
    shown = [[mark["data-shown"] for mark, _ in page_of(path).numbers] for path in (sheet, us)]
    assert sorted(shown[0]) == sorted(shown[1])
    firsts = [[one[0], next(unit for unit in one if unit in ("m3", "ft3"))] for one in shown]
    assert firsts == [["kg", "m3"], ["lb", "ft3"]]
    text = us.read_text(encoding="utf-8")
    assert text.index(">US</th>") < text.index(">SI</th>") and "1.9 a ft²</td><td" in text
    assert "3.94 in overlap on 6.6 ft width, 5 % waste (100 mm overlap on 2 m width, 5 % waste)" in text


def test_the_sheet_is_made_again_from_what_it_carries(sheet, order, tmp_path: Path) -> None:
    verdict = verify_dossier(sheet)
    assert verdict.is_genuine and verdict.figures > 100
    again, words = order_of_record(page_of(sheet).record)
    assert again.roof == order.roof and again.rules == order.rules and words.invented
    changed = tmp_path / "changed.html"
    for old, new in (("9 sacks", "8 sacks"), (">906<", ">806<"), ('"sack_m3": 1.1326', '"sack_m3": 1.2')):
        text = sheet.read_text(encoding="utf-8")
        if old == "9 sacks":
            text = re.sub(r">9</data> sacks", ">8</data> sacks", text)
        assert text.replace(old, new) != sheet.read_text(encoding="utf-8")
        changed.write_text(text.replace(old, new), encoding="utf-8")
        assert not verify_dossier(changed).is_genuine
    with pytest.raises(
        runoff.RunoffError, match=r"is an order sheet, which rests on no weather record; leave the weather out$"
    ):
        verify_dossier(sheet, weather=runoff.open_sample())


def test_the_same_order_gives_the_same_bytes(sheet, order, tmp_path: Path) -> None:
    again = write_order_sheet(order, tmp_path / "again.html", invented=True)
    assert again.read_bytes() == sheet.read_bytes()


def test_days_cautions_and_blanks(sheet) -> None:
    text = re.sub(r"<[^>]+>", "", sheet.read_text(encoding="utf-8"))
    for day in DAYS.values():
        assert day.title in text and all(line in text for line in (*day.before, *day.after))
    plain = text.replace("&#39;", "'")
    assert all(caution in plain for caution in CAUTIONS)
    for words in ("pallets", "wind", "Water at hand", "secured", "licensed structural engineer", "local"):
        assert words in plain
    assert "Unit price" in text and not re.search(r"[€$£]", text)
    assert "can carry either is not said here" in text and "INVENTED SAMPLE" in text


def test_nothing_in_it_is_fetched_or_run(order, tmp_path: Path) -> None:
    hostile = order.roof.model_copy(update={"name": "<script>alert(1)</script>", "site": '"><img src=x>'})
    path = write_order_sheet(
        order_list(hostile), tmp_path / "order.html", ordered_by="<b>me</b>", address="<b>there</b>", date="<b>then</b>"
    )
    text = path.read_text(encoding="utf-8")
    assert "<script>alert" not in text and "<img src=x" not in text and not re.search("<b>(me|there|then)", text)
    assert "default-src 'none'" in text and not re.search(r'(src|href)="(?!data:|#)', text)
    assert json.loads(re.search(r'id="provenance">(.*)</script>', text)[1])["format"] == "runoff order sheet 1"


def test_the_table_holds_no_formula(order, tmp_path: Path) -> None:
    roof = order.roof.replace({"medium.name": "=cmd|' /C calc'!A0"})
    rows = list(
        csv.reader(write_order_sheet(order_list(roof), tmp_path / "o.csv").read_text(encoding="utf-8").splitlines())
    )
    assert len(rows) == 1 + len(order.lines) and all(len(row) == len(rows[0]) for row in rows)
    assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    table = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    medium = next(row for row in table if row["item"] == "growing medium")
    # 102 m2 x 80 mm x 1.15 x 1.05, four digits; and the same in cubic feet
    assert (medium["to order"], medium["to order, US"], medium["unit, US"]) == ("9.853", "348.0", "ft3")
    assert {row["price"] for row in table} == {row["unit price"] for row in table} == {""}


def test_what_a_sheet_cannot_be(order, tmp_path: Path) -> None:
    for path, words, message in (
        ("order.txt", {}, 'order sheet: the file must end in .html, .pdf, .csv (given "order.txt")'),
        ("order.html", {"adress": "x"}, 'order sheet: "adress" is not known (did you mean "address"?); known: ordered_by, address, date, paper, units, invented'),
        ("order.html", {"units": "imperial"}, 'order sheet: units "imperial" is not known; known: si, us'),
        ("order.html", {"paper": "a5"}, 'order sheet: paper "a5" is not known; known: a4, letter'),
        ("none/order.html", {}, f"cannot write {tmp_path / 'none/order.html'}: No such file or directory; choose a folder that exists and that you may write to"),
    ):  # fmt: skip
        with pytest.raises(runoff.RunoffError) as refused:
            write_order_sheet(order, tmp_path / path, **words)
        assert str(refused.value) == message


def test_a_pdf_is_written_where_pango_is(order, tmp_path: Path) -> None:
    try:
        path = write_order_sheet(order, tmp_path / "order.pdf", paper="letter")
    except runoff.RunoffError as error:
        pytest.skip(str(error))
    assert path.read_bytes().startswith(b"%PDF-")


# --- as it is typed --------------------------------------------------------------------------------------------


def test_the_sample_on_the_screen(capsys, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["order"]) == 0
    said = capsys.readouterr().out
    assert "120 m2, 85 % planted - INVENTED, for demonstration only" in said
    for words in (
        "growing medium",
        "9 sacks of 1.13 m3",
        "mulch: compost",
        "gravel",
        "30 trays of 72",
        "Day 4: Planting",
        "[ ]",
    ):
        assert words in said
    assert not list(tmp_path.iterdir())


def test_trade_facts_come_out(capsys, tmp_path: Path) -> None:
    """Common practice, no source: 40 ft3 cover 200 ft2 at 61 mm, so 800 ft2 take four sacks; 72 plugs fill a tray."""
    depth = 1000 * 0.3048 * 40 / 200
    roof = runoff.Roof(
        name="eight hundred", area_m2=800 * FT2_M2, other_surface=runoff.BareSurface(),
        build_up=runoff.BuildUp(layers=[runoff.Planting(), runoff.Mulch(), runoff.GrowingMedium(depth_mm=depth), runoff.DrainageBoard()]),
    )  # fmt: skip
    path = tmp_path / "roof.toml"
    path.write_text(roof.to_toml(), encoding="utf-8")
    bare = [f"--allow={name}_waste=0" for name in ("medium", "mulch", "plug")]
    assert (
        main(["order", str(path), "--allow", "settlement=0", *bare, "--allow", "plugs_per_m2=19.375", "--units", "us"])
        == 0
    )
    said = capsys.readouterr().out
    # 800 ft2 x 0.2 ft are 160 ft3; 72 plugs for each 40 ft2 make 1,440, twenty trays
    assert re.search(r"growing medium +160\.0 ft3 +160\.0 ft3 +4 sacks of 40\.0 ft3", said)
    assert re.search(r"plugs +1,440 pieces +1,440 pieces +20 trays of 72", said)
    assert said.count("1 of 2 parts by volume") == 2
    assert main(["order", str(path), "--allow", "settlement=25%", *bare, "--allow=sack=1yd3", "--units", "us"]) == 0
    assert re.search(
        r"growing medium +160\.0 ft3 +200\.0 ft3 +8 sacks of 27\.0 ft3", capsys.readouterr().out
    )  # 200/27 = 7.4


def test_files_and_folders(capsys, tmp_path: Path) -> None:
    roof = str(sample_folder() / "roof_deep.toml")
    assert main(["order", roof, "--out", str(tmp_path / "here"), "--ordered-by", "Ostrey allotments"]) == 0
    assert sorted(path.name for path in (tmp_path / "here").iterdir()) == ["order.csv", "order.html"]
    assert "Ostrey allotments" in (tmp_path / "here" / "order.html").read_text(encoding="utf-8")
    assert main(["order", roof, "--out", str(tmp_path / "list.csv")]) == 0
    assert (tmp_path / "list.csv").read_text(encoding="utf-8").startswith("day,layer,item,")
    capsys.readouterr()
    assert main(["dossier", "--verify", str(tmp_path / "here" / "order.html")]) == 0
    assert "Everything reproduces" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["sack=0m3"], "--allow: sack_m3 must be more than 0 (you wrote 0)\n"),
        (["sak=3", "carry=20"], '--allow: "sak" is no allowance (did you mean "stack_m"?)\n--allow: carry needs a unit, for example 10kg or 22lb (given "20")\n'),
        (["settlement"], '--allow takes NAME=VALUE, for example --allow settlement=20% (given "settlement")\n'),
        (["lift_limit=500kg"], "order: a sack of growing medium weighs 906 kg as delivered, more than lift_limit_kg (500); order smaller packs or a stronger hoist\norder: a sack of gravel weighs 800 kg as delivered, more than lift_limit_kg (500); order smaller packs or a stronger hoist\n"),
        (["plugs_per_tray=0"], "--allow: plugs_per_tray must be at least 1 (you wrote 0)\n"),
    ],
    ids=["a pack of zero", "unknown, and no unit", "no value", "too heavy to lift", "a tray of zero"],
)  # fmt: skip
def test_refused_with_these_words(capsys, words, message) -> None:
    assert main(["order", *(f"--allow={word}" for word in words)]) == 1
    assert capsys.readouterr().err == message


def test_an_area_of_zero_is_refused(capsys, tmp_path: Path) -> None:
    path = tmp_path / "roof.toml"
    path.write_text(
        runoff.open_sample_roof("cups").to_toml().replace("area_m2 = 120.0", "area_m2 = 0.0"), encoding="utf-8"
    )
    assert main(["order", str(path)]) == 1
    assert "roof.toml: [roof], area_m2 must be more than 0 (you wrote 0" in capsys.readouterr().err


def test_rules_of_an_order_are_in_the_sheet(order, tmp_path: Path) -> None:
    rules = OrderRules(settlement=0.3, lift_limit_kg=1200.0)
    text = write_order_sheet(order_list(order.roof, rules), tmp_path / "o.html").read_text(encoding="utf-8")
    assert "30 %" in text and "1,200 kg" in text and "2,646 lb" in text  # 1200 / 0.45359237 = 2645.5
