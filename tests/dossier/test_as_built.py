"""As built: the pages are those of the roof as measured, and the difference to what was promised is worked out."""

from __future__ import annotations

import pytest

import runoff
from runoff.cli.entry import main
from runoff.dossier import verify_dossier
from runoff.dossier.as_built import Measured, depth_doubt, read_as_built
from runoff.dossier.verifying import Outcome
from tests.dossier.conftest import write, years
from tests.dossier.tampering import in_record
from tests.dossier.test_page import Reader

pytestmark = pytest.mark.usefixtures("remade_once")

FOUND = """
[as_built]
measured_on = 2026-10-01
measured_by = "A. Roofer"
cover = 0.72
depths_mm = [60, 65, 72, 63]
photographs = ["outlet north, open", "depth at a ruler"]
"""


@pytest.fixture(scope="module")
def built_file(tmp_path_factory):
    roof = runoff.open_sample_roof("cups").replace({"medium.depth_mm": 65.0, "mulch.depth_mm": 10.0})
    path = tmp_path_factory.mktemp("built") / "built.toml"
    path.write_text(roof.to_toml() + FOUND, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def built(built_file, tmp_path_factory):
    return write(tmp_path_factory.mktemp("page") / "built.html", members=20, as_built=built_file)


def test_the_figures_are_those_of_the_roof_as_built(built):
    found = built.figures
    assert float(found["promised_medium_depth_mm"]) == 80.0 and float(found["found_medium_depth_mm"]) == 65.0
    # 15 mm less of a medium that holds 0.33 - 0.08 = 0.25: 3.75 mm; 5 mm less mulch at 0.13: 0.65 mm
    assert float(found["change_capacity_mm"]) == pytest.approx(-(15 * 0.25 + 5 * 0.13), abs=1e-9)
    assert float(found["capacity_mm"]) == pytest.approx(
        float(found["promised_capacity_mm"]) + float(found["change_capacity_mm"])
    )
    promised = runoff.summarize(runoff.simulate(runoff.open_sample_roof("cups"), years(8)))
    assert float(found["promised_retention"]) == pytest.approx(float(promised["retention"]), rel=1e-12)


def test_the_page_says_what_was_promised_and_found(built):
    text = " ".join(Reader(built.text).visible.replace("\N{NO-BREAK SPACE}", " ").split())
    assert "Stormwater capture of a planted roof, as built" in text
    assert "Measured on the roof on 2026-10-01 by A. Roofer." in text
    assert "Growing medium: depth80 mm (3.15 in)65 mm (2.56 in)−15 mm" in text.replace(" −", "−")
    assert "Plant cover as built: 72 % of the medium." in text and "outlet north, open" in text
    assert "Depths measured: 60, 65, 72, 63 mm." in text


def test_it_is_checked_with_both_roofs(built, tmp_path):
    assert verify_dossier(built.path).outcome is Outcome.REPRODUCES

    def promise_less(record):
        record["promised"] = record["promised"].replace("depth_mm = 80.0", "depth_mm = 65.0")

    path = tmp_path / "changed.html"
    path.write_text(in_record(promise_less)(built.text), encoding="utf-8")
    verdict = verify_dossier(path)
    assert verdict.outcome is Outcome.DIFFERS
    assert "the checksum of the promised does not match what the file carries" in verdict.faults


def test_typed(built_file, tmp_path, capsys):
    out = tmp_path / "d.html"
    typed = ["dossier", "--as-built", str(built_file), "--out", str(out), "--members", "20", "--start", "2013"]
    assert main(typed) == 0
    assert "Promised          " in capsys.readouterr().out
    assert "As built against what was promised" in out.read_text(encoding="utf-8")


def test_readings_that_do_not_bear_out_the_depth_are_told():
    roof = runoff.open_sample_roof("cups")
    assert depth_doubt(Measured(depths_mm=(78.0, 82.0)), roof) == ""
    assert depth_doubt(Measured(depths_mm=(60.0, 62.0)), roof).startswith(
        "The mean of the 2 readings of depth is 61 mm (2.40 in). The roof file says 80 mm (3.15 in), "
    )


def test_all_faults_of_the_table_in_one_message(tmp_path):
    path = tmp_path / "b.toml"
    table = '[as_built]\nmeasured_on = 2999-10-01\ncover = 72\ndepths_mm = "60"\nphotograph = ["x"]\n'
    path.write_text(runoff.open_sample_roof("cups").to_toml() + table, encoding="utf-8")
    with pytest.raises(runoff.RunoffError) as error:
        read_as_built(path)
    assert str(error.value).splitlines() == [
        'b.toml: [as_built] "photograph" is not known (did you mean "photographs"?)',
        "b.toml: [as_built] measured_on lies in the future (you wrote 2999-10-01); give the day of the visit",
        "b.toml: [as_built] cover is a share between 0 and 1 (you wrote 72)",
        "b.toml: [as_built] depths_mm is a list of depths in mm (you wrote '60')",
    ]


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(runoff.RunoffError, match=r"no\.toml"):
        read_as_built(tmp_path / "no.toml")
