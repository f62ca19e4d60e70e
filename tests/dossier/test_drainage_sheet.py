"""The drainage sheet: every printed number traced, by hand where the case is worked, the same again from what it carries."""

import json
import re
from pathlib import Path

import pytest

import runoff
from runoff.cli.entry import main
from runoff.dossier.drainage_sheet import drainage_of_record
from runoff.dossier.masking import masked
from runoff.dossier.verifying import Outcome
from tests.dossier.conftest import page_of
from tests.test_described_outlets import the_roof


def hour():
    rain = [0.8, 1.4, 3.1, 12.6, 4.2, 2.2, 1.2, 0.8, 0.6, 0.5, 0.4, 0.4]
    return runoff.storm_from_series(rain, step="5min", units="mm", source="station table of Ostrey (invented)")


@pytest.fixture(scope="module")
def sheet(tmp_path_factory) -> Path:
    return runoff.write_drainage_sheet(the_roof(), hour(), tmp_path_factory.mktemp("sheet") / "sheet.html")


def text_of(path: Path) -> str:
    body = path.read_text(encoding="utf-8").partition("<body>")[2].partition("<script")[0]
    return " ".join(re.sub(r"<[^>]+>", "", body).replace("\N{NO-BREAK SPACE}", " ").replace("&#39;", "'").split())


def test_the_case_stands_on_the_sheet_line_by_line(sheet) -> None:
    """The numbers are those worked by hand in `tests.test_described_outlets`."""
    text = text_of(sheet)
    for line in (
        "Q = C i (A + run-on) / 3600 = 1 × 151.2 × 260 / 3600 = 10.92 L/s (173.1 gpm)",  # 10.92 x 15.850 = 173.1
        "All open: 10.92 / 3 = 3.64 L/s each; h = (15000 Q / (ko D²))² with ko 0.5 and 100 mm, orifice = 119.2 mm (4.69 in)",
        "With the loss: 10.92 / 2 = 5.46 L/s each",
        "= 268.3 mm (10.56 in)",
        "weir up to 2 Ao / L = 204 mm: dh = (24000 Q / L)2/3 = 91.4 mm (3.60 in) of head over the sill",
        "ds + dh = 90.0 + 91.4 = 181.4 mm (7.14 in) over the deck",
        "0.0098 × 181.4 = 1.78 kN/m²",
        "5.2 × 7.14 in = 37.1 lb/ft²",
        "Code clause in force",
        "Checked by (engineer)",
        "does not hold",
        "station table of Ostrey (invented)",
        "is for a licensed structural engineer under the local code",
    ):
        assert line in text, line
    assert "can carry" not in text.replace("Whether the structure can carry", "")


def test_loads_are_summed_once(sheet) -> None:
    """Build-up and water of a state add up to its total; above the medium a millimetre is a kilogram."""
    found = page_of(sheet).record["figures"]
    for state in ("drained", "layer_full", "open", "lost", "blocked", "edge"):
        parts = [found[f"load_{state}_{part}"] for part in ("drained", "in_layer", "in_medium", "above")]
        assert found[f"load_{state}_total"] == pytest.approx(sum(parts), rel=1e-12)
    layers = [found[name] for name in found if name.startswith("layer_")]
    assert sum(layers) == pytest.approx(found["load_drained_total"], rel=1e-12)
    assert found["load_blocked_above"] == pytest.approx(181.385 - 105.0, abs=1e-3)  # board 25 + medium 80 mm lie below
    loads = runoff.roof_loads(the_roof(), head_mm=873.6 ** (2.0 / 3.0))
    assert found["load_blocked_total"] == pytest.approx(float(loads["total_mass"].sel(state="ponded")), rel=1e-9)
    assert found["load_edge_mean"] == pytest.approx(float(loads["mean_mass"].sel(state="edge")), rel=1e-9)


def test_the_sheet_is_worked_out_again_from_what_it_carries(sheet, tmp_path: Path) -> None:
    verdict = runoff.verify_dossier(sheet)
    assert verdict.is_genuine and verdict.figures > 100
    again = drainage_of_record(page_of(sheet).record)
    assert again.roof == the_roof()
    other = runoff.write_drainage_sheet(the_roof(), hour(), tmp_path / "again.html")
    assert other.read_bytes() == sheet.read_bytes()
    text = sheet.read_text(encoding="utf-8")
    for old, new in ((">10.92<", ">9.92<"), ("does not hold", "holds"), ("12.6, 4.2", "11.6, 4.2")):
        assert old in text
        changed = tmp_path / "changed.html"
        changed.write_text(text.replace(old, new), encoding="utf-8")
        assert not runoff.verify_dossier(changed).is_genuine
    with pytest.raises(
        runoff.RunoffError, match=r"is a drainage sheet, which rests on no weather record; leave the weather out$"
    ):
        runoff.verify_dossier(sheet, weather=runoff.open_sample())


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"emergency_width_mm": None, "emergency_height_mm": None},
         "The opening of the emergency overflow is not described: give its width and height. Nothing is assumed: the water is "
         "followed to the edge, 400.0 mm"),
        ({"emergency_overflow_mm": None, "emergency_width_mm": None, "emergency_height_mm": None},
         "No emergency overflow is described. Nothing is assumed: the water is followed to the edge, 400.0 mm"),
        ({"emergency_height_mm": 40.0}, "119.2 mm (4.69 in) of head over the sill, more than the opening is high: it runs drowned"),
        ({"outlets": (runoff.Outlet(kind="edge", length_mm=9000.0),)}, "over 50 % of the length of the edge"),
        ({"outlets": (runoff.Outlet(kind="round", diameter_mm=100.0), runoff.Outlet(kind="rectangular", width_mm=300.0, height_mm=100.0))},
         "One common head for all kinds"),
        ({"run_on_area_m2": 40.0}, "1 × 151.2 × 300 / 3600 = 12.60 L/s"),
    ],
)  # fmt: skip
def test_other_roofs(changes, words: str, tmp_path: Path) -> None:
    path = runoff.write_drainage_sheet(the_roof(**changes), hour(), tmp_path / "other.html", paper="letter")
    assert words in text_of(path)
    assert runoff.verify_dossier(path).is_genuine


#: How much of the metric unit one US unit is: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 US gallon = 3.785411784 L, 1 lb = 0.45359237 kg
#: by definition; a kN is that of 9.80665 m/s2.
OF_A_US_UNIT = {
    "in": ("mm", 25.4),
    "in/h": ("mm/h", 25.4),
    "ft": ("m", 0.3048),
    "ft2": ("m2", 0.3048**2),
    "gpm": ("L/s", 3.785411784 / 60.0),
    "lb/ft2": ("kg/m2", 0.45359237 / 0.3048**2),
}


def test_us_units_stand_first(tmp_path: Path) -> None:
    """The forms are metric and worked out so; everywhere else the same number stands in US units just before a metric one."""
    path = runoff.write_drainage_sheet(the_roof(), hour(), tmp_path / "us.html", units="us")
    assert runoff.verify_dossier(path).is_genuine
    text = text_of(path)
    for line in (
        "The outlets described (3 round outlets of 3.94 in) do not keep the water below 2.36 in even with 1 of them lost",
        "Overflow opening, L x H11.81 x 4.02 in (300 x 102 mm)",
        "10.92 L/s (173.1 gpm)",
        "rain load 37.1 lb/ft² (1.78 kN/m²)",  # 0.0098 x 181.385 = 1.7776 kN/m2; 1 kN/m2 is 20.885 lb/ft2
        "lb/ft² at the outlets, where water stands deepest",
        "Total, lb/ft²kN/m²kg/m²Roof mean, lb/ft²",
    ):
        assert line in text, line
    html = path.read_text(encoding="utf-8")
    marks = masked(re.sub(r'<p class="work">.*?</p>', "", html, flags=re.DOTALL), str(path)).marks
    metric, counted = {unit for unit, _ in OF_A_US_UNIT.values()} | {"kN/m2"}, 0
    for at, mark in enumerate(marks):
        if mark.unit in metric:
            just_before = [one for one in marks[max(0, at - 2) : at] if one.figure == mark.figure]
            assert just_before and just_before[0].unit in OF_A_US_UNIT, mark
        elif mark.unit in OF_A_US_UNIT and mark.figure != "rain_load":
            size = OF_A_US_UNIT[mark.unit][1]
            assert float(mark.text.replace(",", "")) == pytest.approx(
                float(mark.value) / size, abs=0.51 * 10.0**-mark.digits
            ), mark
            counted += 1
    assert counted > 60


def test_nothing_in_it_is_fetched_or_run(tmp_path: Path) -> None:
    hostile = the_roof(name="<script>alert(1)</script>", site='"><img src=x>')
    fields = ("prepared_by", "address", "date", "code_clause", "checked_by")
    path = runoff.write_drainage_sheet(
        hostile, hour(), tmp_path / "x.html", **{name: f"<b>{name}</b>" for name in fields}
    )
    text = path.read_text(encoding="utf-8")
    assert "<script>alert" not in text and "<img src=x" not in text and "<b>" not in text.partition("<body")[2]
    assert all(f"&lt;b&gt;{name}&lt;/b&gt;" in text for name in fields)
    assert "default-src 'none'" in text
    assert json.loads(re.search(r'id="provenance">(.*)</script>', text)[1])["format"] == "runoff drainage sheet 1"


def test_what_a_sheet_cannot_be(tmp_path: Path) -> None:
    for path, words, message in (
        ("s.txt", {}, 'drainage sheet: the file must end in .html or .pdf (given "s.txt")'),
        ("s.html", {"code_claus": "x"}, 'drainage sheet: "code_claus" is not known (did you mean "code_clause"?)'),
        ("s.html", {"units": "uk"}, 'drainage sheet: units "uk" is not known; known: si, us'),
        ("s.html", {"paper": "a5"}, 'drainage sheet: paper "a5" is not known; known: a4, letter'),
        ("none/s.html", {}, f"cannot write {tmp_path / 'none/s.html'}: No such file or directory"),
        ("s.html", {"allowable_depth_mm": -1.0}, "check_outlets: allowable_depth_mm must be above 0"),
        ("s.html", {"pipe_edition": "IPC 2014"}, 'drainage sheet: edition "IPC 2014" is not known (did you mean "IPC 2015"?)'),
    ):  # fmt: skip
        with pytest.raises(runoff.RunoffError) as refused:
            runoff.write_drainage_sheet(the_roof(), hour(), tmp_path / path, **words)
        assert str(refused.value).startswith(message)


def test_a_pdf_of_two_pages(tmp_path: Path) -> None:
    for paper in ("a4", "letter"):
        try:
            path = runoff.write_drainage_sheet(the_roof(), hour(), tmp_path / "sheet.pdf", paper=paper)
        except runoff.RunoffError as error:
            pytest.skip(str(error))
        assert path.read_bytes().startswith(b"%PDF-")
        assert len(re.findall(rb"/Type\s*/Page\b", path.read_bytes())) in (0, 2)  # 0: the pages stand in packed objects
    # worked out and printed again, it is the same file to the last byte
    verdict = runoff.verify_dossier(path)
    assert verdict.outcome is Outcome.REPRODUCES and not any("not compared" in note for note in verdict.notes)


# --- as it is typed --------------------------------------------------------------------------------------------


def test_typed(tmp_path: Path, capsys) -> None:
    out, sheet = str(tmp_path / "out"), tmp_path / "sheet.html"
    typed = ["outlets", "--duration", "1h", "--most-outlets", "2", "--no-figures", "--out", out]
    assert main([*typed, "--sheet", str(sheet), "--code-clause", "clause 7"]) == 0
    said = capsys.readouterr().out
    assert "outlets as described" in said and said.index("outlets as described") < said.index("Alternatives")
    assert "Start    field-capacity" in said and "as described" in said
    assert "INVENTED SAMPLE" in text_of(sheet) and "clause 7" in text_of(sheet)
    for command in ("outlets", "dossier"):
        assert main([command, "--verify", str(sheet)]) == 0
        assert "Everything reproduces" in capsys.readouterr().out
    assert main([*typed, "--return-period", "10", "100", "--sheet", str(sheet)]) == 1
    assert "--sheet: a drainage sheet holds one storm, and 2 are asked for" in capsys.readouterr().err
    assert main([*typed, "--start-moisture", "dry"]) == 1
    assert "outlets are sized for a wet roof" in capsys.readouterr().err
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o555)
    assert main([*typed, "--sheet", str(folder / "sheet.html")]) in (0, 1)  # the superuser may write anywhere


def test_the_deeper_of_the_two_checks_stands_large(tmp_path: Path) -> None:
    """A mat alone on a gentle fall holds the water back: an edge of 6 m passes the design peak at 2.6 mm, the routed storm does not."""
    roof = runoff.open_sample_roof("thin")
    fields = {name: getattr(roof, name) for name in type(roof).model_fields}
    shed = type(roof)(**{**fields, "outlets": (runoff.Outlet(kind="edge", length_mm=6000.0, gutter_l_per_s=1.2),)})
    path = runoff.write_drainage_sheet(shed, hour(), tmp_path / "shed.html", allowable_depth_mm=40.0)
    check = runoff.check_outlets(shed, runoff.followed_by_dry(hour(), 6.0), allowable_depth_mm=40.0)
    head, depth = (float(check[name].sel(state="lost")) for name in ("head", "depth"))
    assert depth > head
    text = text_of(path)
    assert f"Edge partly blocked: does not hold{depth:.0f} mm" in text
    assert f"in the routed storm, 40 mm allowed; {head:.0f} mm for the design peak" in text
    assert "Gutter takes1.20 L/s" in text
    assert "–\N{NO-BREAK SPACE}(–)" not in text and "– (–)" not in text
    assert runoff.verify_dossier(path).is_genuine


@pytest.mark.parametrize(
    ("changes", "words", "absent"),
    [
        ({"outlets": ()}, ["No outlets: does not hold", "No outlets are described: everything must leave over"], "1 outlet lost"),
        ({"blocked_fraction": 0.5}, ["Open drainage50 %, of layer and outlets", "10.92 / 3 / 50 % open = 7.28 L/s each"], "– ("),
        ({"blocked_fraction": 1.0}, ["Open drainage0 %"], "0 % open ="),
    ],
    ids=["none", "half blocked", "all blocked"],
)  # fmt: skip
def test_what_is_not_there_or_blocked_is_said(tmp_path: Path, changes, words, absent) -> None:
    path = runoff.write_drainage_sheet(the_roof(**changes), hour(), tmp_path / "sheet.html")
    text = text_of(path)
    for one in words:
        assert one in text, one
    assert absent not in text
    assert runoff.verify_dossier(path).is_genuine
